//! Suspicions on logs of honest boats, and the true faults that these logs hold.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use skimwatch::vessel::{Fault, Instrument, Quantity};

use crate::beside::beside;
use crate::doubt_tape::{follow, read};

/// Faults that the logs do hold, found by looking at them: the log, the instrument, its sender.
const TRUE_FAULTS: [(&str, Instrument, &str); 1] = [
    // The time of day in its GLL is the same in the whole log, while the boat moves.
    ("workboat-apb.nmea", Instrument::Clock, "APGLL"),
];

/// What is told as missing rather than as in doubt, and for how many seconds at least: a log whose
/// instruments all fall silent for 20 s but for the wind.
const TOLD_AS_MISSING: [(&str, Quantity, Instrument, usize); 1] = [(
    "sail-race-2008.nmea",
    Quantity::Heading,
    Instrument::Heading,
    5,
)];

fn logs(folder: &str) -> Option<Vec<PathBuf>> {
    let mut paths: Vec<PathBuf> = std::fs::read_dir(beside(folder)?)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| {
            path.extension()
                .is_some_and(|e| e == "nmea" || e == "log" || e == "bin")
        })
        .collect();
    paths.sort();
    Some(paths)
}

fn name(path: &Path) -> String {
    path.file_name().unwrap().to_string_lossy().into_owned()
}

#[test]
fn honest_logs_raise_no_suspicion_in_ten_hours() {
    let (Some(mut paths), Some(days)) = (logs("nmea-logs"), logs("real-days")) else {
        return;
    };
    paths.extend(days);
    let (mut hours, mut wrong) = (0.0, Vec::new());
    let mut right = BTreeSet::new();
    let mut changed = Vec::new();
    for path in &paths {
        let log = name(path);
        for part in read(path) {
            let mut found: BTreeSet<(Instrument, Fault, String)> = BTreeSet::new();
            let mut habits = BTreeSet::new();
            let lasts_s = follow(&part, |now| {
                for doubt in &now.doubts {
                    let told = format!("{} {}", doubt.sources.join(" and "), doubt.seen);
                    found.insert((doubt.instrument, doubt.fault, told));
                }
                for source in &now.sources {
                    if let Some((words, since)) = source.habit {
                        habits.insert(format!("{} {words} since {since}", source.name));
                    }
                }
            });
            hours += lasts_s / 3600.0;
            println!(
                "{log}: {:.2} h, {} suspicions",
                lasts_s / 3600.0,
                found.len()
            );
            for habit in habits {
                println!("    habit: {habit}");
                changed.push(format!("{log}: {habit}"));
            }
            for (instrument, fault, told) in found {
                let is_true = TRUE_FAULTS.iter().find(|(of, what, sender)| {
                    *of == log && *what == instrument && told.contains(sender)
                });
                println!("    {fault:?}: {told}");
                match is_true {
                    Some(known) => {
                        right.insert(known.0);
                    }
                    None => wrong.push(format!("{log}: {told}")),
                }
            }
        }
    }
    println!(
        "{hours:.1} hours, {} false suspicions, {} changed habits",
        wrong.len(),
        changed.len()
    );
    assert!(hours > 7.0);
    let allowed = (hours / 10.0).floor() as usize;
    assert!(wrong.len() <= allowed, "{wrong:#?}");
    assert!(changed.len() <= allowed, "{changed:#?}");
    for (log, ..) in TRUE_FAULTS {
        assert!(right.contains(log), "{log}: its fault is not told");
    }
}

#[test]
fn what_a_log_lacks_is_told_as_missing_and_not_as_doubt() {
    let Some(dir) = beside("nmea-logs") else {
        return;
    };
    for (log, quantity, instrument, least_s) in TOLD_AS_MISSING {
        let part = read(&dir.join(log)).swap_remove(0);
        let (mut seconds, mut missing) = (0, 0);
        follow(&part, |now| {
            seconds += 1;
            missing += usize::from(now.missing.iter().any(|m| m.quantity == quantity));
            let twice = now
                .doubts
                .iter()
                .any(|doubt| doubt.instrument == instrument);
            assert!(!twice, "{log}: {:?} beside {:?}", now.doubts, now.missing);
        });
        println!("{log}: {quantity:?} missing in {missing} of {seconds} s");
        assert!(missing >= least_s, "{log}: {missing} of {seconds} s");
    }
}
