//! Any bytes through the framer, in two pieces and in one, and through a recording and back.
//!
//! Run from this folder: `cargo +nightly fuzz run --fuzz-dir . framing`
#![no_main]

use libfuzzer_sys::fuzz_target;
use skimwatch::feed::{
    ChecksumPolicy, FeedName, Frame, FrameSettings, Framer, RawSentence, StreamEnd,
};
use skimwatch::record::{LogReader, recorded_line};
use skimwatch::time::Millis;

fn frames(settings: FrameSettings, pieces: &[&[u8]]) -> Vec<Frame> {
    let mut framer = Framer::new(settings);
    let mut frames = Vec::new();
    for piece in pieces {
        framer.push(piece, &mut |frame| frames.push(frame));
    }
    framer.flush(StreamEnd::Whole, &mut |frame| frames.push(frame));
    frames
}

fn replayed(settings: FrameSettings, sentence: &RawSentence) -> Vec<Frame> {
    let feed = FeedName::new("fuzz").expect("allowed name");
    let line = recorded_line(Millis(1_700_000_000_000), &feed, sentence);
    LogReader::new(line.as_bytes(), settings)
        .map(|item| item.expect("memory does not fail").frame)
        .collect()
}

fuzz_target!(|input: (bool, u16, &[u8])| {
    let (required, cut, bytes) = input;
    let settings = FrameSettings {
        checksum: if required {
            ChecksumPolicy::Required
        } else {
            ChecksumPolicy::IfPresent
        },
        max_line_bytes: 200,
    };
    let whole = frames(settings, &[bytes]);
    let (first, rest) = bytes.split_at(usize::from(cut).min(bytes.len()));
    assert_eq!(whole, frames(settings, &[first, rest]));
    for frame in whole {
        let Frame::Sentence(mut sentence) = frame else {
            continue;
        };
        assert!(sentence.text.bytes().all(|b| (0x20..0x7f).contains(&b)));
        let back = replayed(settings, &sentence);
        // What a recording does not keep: the prefix, and a TAG block further out.
        sentence.prefix = None;
        sentence.outer_tag = None;
        assert_eq!(back, [Frame::Sentence(sentence)]);
    }
});
