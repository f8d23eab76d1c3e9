//! Any bytes through the framer (in two pieces and in one), through a recording and back, and
//! through the decoder; then line by line through the decoder with a checksum that holds, because
//! hardly any damaged line keeps one. Nothing may panic, and no number may leave its range.
//!
//! The first byte of the input chooses the checksum policy, the next two say where it is cut.
//! `run.sh` builds and runs it.
#![no_main]

use libfuzzer_sys::fuzz_target;
use skimwatch::decode::Decoder;
use skimwatch::feed::{
    ChecksumPolicy, FeedName, Frame, FrameSettings, Framer, RawSentence, StreamEnd,
};
use skimwatch::record::{LogReader, recorded_line};
use skimwatch::time::Millis;

#[allow(dead_code, reason = "only the ranges are used here")]
#[path = "../checks/decode_words.rs"]
mod decode_words;

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

fn decode(decoder: &mut Decoder, text: &str) {
    if let Ok(decoded) = decoder.decode(text) {
        for observation in &decoded.observations {
            assert_eq!(decode_words::outside(observation), None, "{text}");
        }
    }
}

/// The line from its `$` on, with a checksum that holds.
fn sealed(line: &[u8]) -> Option<String> {
    let line = std::str::from_utf8(line).ok()?;
    let body = line.split_once('$')?.1.split('*').next()?;
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    Some(format!("${body}*{sum:02X}\r\n"))
}

fuzz_target!(|input: &[u8]| {
    let [policy, low, high, bytes @ ..] = input else {
        return;
    };
    let settings = FrameSettings {
        checksum: if policy & 1 == 1 {
            ChecksumPolicy::Required
        } else {
            ChecksumPolicy::IfPresent
        },
        max_line_bytes: 200,
    };
    let whole = frames(settings, &[bytes]);
    let cut = usize::from(u16::from_le_bytes([*low, *high])).min(bytes.len());
    let (first, rest) = bytes.split_at(cut);
    assert_eq!(whole, frames(settings, &[first, rest]));
    let mut decoder = Decoder::new();
    for frame in whole {
        let Frame::Sentence(mut sentence) = frame else {
            continue;
        };
        assert!(sentence.text.bytes().all(|b| (0x20..0x7f).contains(&b)));
        decode(&mut decoder, &sentence.text);
        let back = replayed(settings, &sentence);
        // What a recording does not keep: the prefix, and a TAG block further out.
        sentence.prefix = None;
        sentence.outer_tag = None;
        assert_eq!(back, [Frame::Sentence(sentence)]);
    }
    for line in bytes.split(|byte| *byte == b'\n').filter_map(sealed) {
        for frame in frames(settings, &[line.as_bytes()]) {
            if let Frame::Sentence(sentence) = frame {
                decode(&mut decoder, &sentence.text);
            }
        }
    }
});
