//! Recorded logs of real networks, where the folder with them is at hand, through framer and
//! decoder: nothing panics, no number is out of range, every sentence whose checksum holds is
//! understood, and the counts equal those of a plain line count that shares no code with either.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use skimwatch::decode::{DecodeReject, Decoder};
use skimwatch::feed::{Frame, FrameSettings, Framer, SentenceKind, StreamEnd};

use crate::beside::beside;
use crate::decode_words::outside;

const KINDS: &[&str] = &[
    "APB", "BOD", "BWC", "DBT", "DPT", "GGA", "GLL", "GNS", "HDG", "HDM", "HDT", "HSC", "HTC",
    "HTD", "MOB", "MTW", "MWD", "MWV", "RMB", "RMC", "ROT", "RSA", "RTE", "THS", "TLL", "TTM",
    "VBW", "VHW", "VTG", "VWR", "VWT", "WPL", "XDR", "XTE", "ZDA",
];

type Counts = BTreeMap<String, usize>;

/// Lines that end in `$ttKKK,...*hh` with a checksum that holds, by kind.
fn plain_count(bytes: &[u8]) -> Counts {
    let mut counts = Counts::new();
    for line in bytes.split(|b| matches!(b, b'\r' | b'\n')) {
        let line = String::from_utf8_lossy(line);
        let Some((_, sentence)) = line.rsplit_once('$') else {
            continue;
        };
        let Some((body, digits)) = sentence.split_once('*') else {
            continue;
        };
        let Ok(wanted) = u8::from_str_radix(digits.trim_end(), 16) else {
            continue;
        };
        let kind = body.get(2..5).unwrap_or_default();
        if body.bytes().fold(0, |sum, b| sum ^ b) == wanted
            && body.get(5..6) == Some(",")
            && !body.starts_with('P')
            && KINDS.contains(&kind)
        {
            *counts.entry(kind.to_owned()).or_default() += 1;
        }
    }
    counts
}

/// What framer and decoder make of it: counts by kind, and every refusal.
fn decoded_count(path: &Path, bytes: &[u8]) -> (Counts, Vec<String>) {
    let mut framer = Framer::new(FrameSettings::default());
    let mut decoder = Decoder::new();
    let mut counts = Counts::new();
    let mut refused = Vec::new();
    let mut take = |frame| {
        let Frame::Sentence(sentence) = frame else {
            return;
        };
        if sentence.kind != SentenceKind::Parametric {
            return;
        }
        match decoder.decode(&sentence.text) {
            Ok(decoded) => {
                for observation in &decoded.observations {
                    assert_eq!(outside(observation), None, "{}", sentence.text);
                }
                *counts.entry(decoded.kind.to_owned()).or_default() += 1;
            }
            Err(DecodeReject::Unsupported { .. }) => {}
            Err(reject) => refused.push(format!("{} {reject}: {}", path.display(), sentence.text)),
        }
    };
    framer.push(bytes, &mut take);
    framer.flush(StreamEnd::Whole, &mut take);
    (counts, refused)
}

fn logs() -> Option<Vec<PathBuf>> {
    let mut paths: Vec<PathBuf> = std::fs::read_dir(beside("nmea-logs")?)
        .unwrap()
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.extension().is_some_and(|e| e != "md"))
        .collect();
    paths.sort();
    Some(paths)
}

#[test]
fn recorded_logs_are_understood() {
    let Some(paths) = logs() else { return };
    assert!(!paths.is_empty());
    let mut sentences = 0;
    for path in paths {
        let bytes = std::fs::read(&path).unwrap();
        let (decoded, refused) = decoded_count(&path, &bytes);
        assert_eq!(refused, Vec::<String>::new());
        assert_eq!(decoded, plain_count(&bytes), "{}", path.display());
        sentences += decoded.values().sum::<usize>();
    }
    eprintln!("{sentences} sentences of recorded logs decoded");
}
