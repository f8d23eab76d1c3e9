//! Real recorded input, when it lies beside the checkout: counts against an independent counter.
//! None of it is part of the project; only the numbers of sentences are.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

use skimwatch::cause::Cause;
use skimwatch::feed::{FeedCounters, Frame, FrameSettings};
use skimwatch::record::{LogItem, LogReader};

use crate::beside::{beside, skipped};

/// File; good `$`; good `!`; bad checksum; missing checksum; garbled. Expected from
/// `independent_count.py` (good) and from looking at the files (the rest): 142 lines of the dock
/// log have eight `$` each, which are seven cut pieces and one with a wrong checksum; the plotter
/// log begins with 10 lines of banner, the workboat log with one; that log has one sentence cut
/// by the next and one by its line end, and the logger log is cut at its end.
const EXPECTED: [(&str, u64, u64, u64, u64, u64); 16] = [
    ("dock-network-box.nmea", 4675, 1507, 142, 0, 994),
    ("gateway-2021.log", 754, 113, 0, 0, 0),
    ("gulf-no-heading-wind.nmea", 20_000, 0, 0, 0, 0),
    ("iec450-datagrams.bin", 8, 0, 0, 0, 0),
    ("motor-ais-route.nmea", 21_743, 3978, 0, 0, 0),
    ("pi-logger.log", 5248, 0, 0, 1, 0),
    ("plotter-2min.nmea", 4999, 0, 0, 0, 10),
    ("raw-console.log", 250, 14, 0, 0, 0),
    ("sail-coast-2014.nmea", 20_000, 0, 0, 0, 0),
    ("sail-compass-swing.nmea", 11_537, 0, 0, 0, 0),
    ("sail-lake-turns.nmea", 30_000, 0, 0, 0, 0),
    ("sail-race-2008.nmea", 30_000, 0, 0, 0, 0),
    ("ship-gnss.log", 5000, 0, 0, 0, 0),
    ("ship-gyro.log", 5000, 0, 0, 0, 0),
    ("ship-heading.log", 5000, 0, 0, 0, 0),
    ("workboat-apb.nmea", 2677, 0, 0, 1, 2),
];

fn items(path: &Path) -> impl Iterator<Item = LogItem> {
    LogReader::open(path, FrameSettings::default())
        .unwrap()
        .map(Result::unwrap)
}

#[test]
fn every_log_gives_the_expected_counts() {
    let Some(dir) = beside("nmea-logs") else {
        return;
    };
    for (name, good, encapsulated, bad_checksum, missing_checksum, garbled) in EXPECTED {
        let mut counters = FeedCounters::default();
        for item in items(&dir.join(name)) {
            counters.count(&item.frame);
        }
        let expected = FeedCounters {
            good,
            encapsulated,
            rejected: [
                (Cause::BadChecksum, bad_checksum),
                (Cause::MissingChecksum, missing_checksum),
                (Cause::Garbled, garbled),
            ]
            .into_iter()
            .filter(|(_, count)| *count > 0)
            .collect(),
            ..FeedCounters::default()
        };
        assert_eq!(counters, expected, "{name}");
    }
}

#[test]
fn an_independent_count_agrees() {
    let Some(dir) = beside("nmea-logs") else {
        return;
    };
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/independent_count.py");
    if Command::new("python3").arg("--version").output().is_err() {
        skipped("there is no python3");
        return;
    }
    for (name, ..) in EXPECTED {
        let path = dir.join(name);
        let output = Command::new("python3").args([&script, &path]).output();
        let output = output.unwrap();
        assert!(output.status.success(), "{output:?}");
        let independent: BTreeMap<String, u64> = String::from_utf8(output.stdout)
            .unwrap()
            .lines()
            .map(|line| {
                let (address, count) = line.split_once(' ').unwrap();
                (address.to_owned(), count.parse().unwrap())
            })
            .collect();
        let mut ours = BTreeMap::new();
        for item in items(&path) {
            if let Frame::Sentence(sentence) = item.frame {
                *ours.entry(sentence.address().to_owned()).or_default() += 1;
            }
        }
        assert_eq!(ours, independent, "{name}");
    }
}

#[test]
fn times_are_found_where_the_logs_have_them() {
    let Some(dir) = beside("nmea-logs") else {
        return;
    };
    for (name, timed) in [
        ("ship-gyro.log", true),
        ("ship-gnss.log", true),
        ("ship-heading.log", true),
        ("iec450-datagrams.bin", true),
        ("sail-lake-turns.nmea", false),
    ] {
        for item in items(&dir.join(name)) {
            assert_eq!(item.time.is_some(), timed, "{name}: {item:?}");
        }
    }
}
