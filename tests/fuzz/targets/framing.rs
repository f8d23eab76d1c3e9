//! Any bytes through the framer, in two pieces and in one, and each sentence through a recording and
//! back: the same comes out. The first byte of the input chooses the checksum policy, the next two say
//! where it is cut.
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
    let line = recorded_line(Millis(1_700_000_000_000), feed.as_str(), sentence);
    LogReader::new(line.as_bytes(), settings)
        .map(|item| item.expect("memory does not fail").frame)
        .collect()
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
