//! The line format of recordings.

use crate::feed::frame::UNCHECKED_MARK;
use crate::feed::tag::{format_block, format_tag};
use crate::feed::{Checksum, RawSentence};
use crate::time::Millis;

/// The line, with CRLF, of a feed or of one sender on it ([`Origin::label`](crate::feed::Origin::label)),
/// from which the sentence can be restored: its own TAG block, if it had one, follows ours, and a
/// sentence accepted without a checksum is marked (`t:unchecked`) so that the same line is accepted
/// again. Whether the line had a logger's prefix is not kept.
///
/// Two TAG blocks before one sentence are, from memory, allowed by the standard; a reader that
/// does not know them still finds the sentence behind.
#[must_use]
pub fn recorded_line(time: Millis, feed: &str, sentence: &RawSentence) -> String {
    let mark = (sentence.checksum == Checksum::Missing).then_some(UNCHECKED_MARK);
    let mut line = format_block(feed, time, mark);
    if let Some(tag) = &sentence.tag {
        line.push_str(&format_tag(tag));
    }
    line.push_str(&sentence.text);
    line.push_str("\r\n");
    line
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::feed::{FrameSettings, Framer};

    #[test]
    fn line_is_as_documented() {
        let mut framer = Framer::new(FrameSettings::default());
        let mut lines = Vec::new();
        framer.push(b"$WIMWV,214.8,R,0.1,K,A*28", &mut |frame| {
            if let crate::feed::Frame::Sentence(sentence) = frame {
                lines.push(recorded_line(Millis(1_700_000_000_123), "wind", &sentence));
            }
        });
        // Checksum of the block: own arithmetic, XOR of `s:wind,c:1700000000123`.
        assert_eq!(
            lines,
            ["\\s:wind,c:1700000000123*1E\\$WIMWV,214.8,R,0.1,K,A*28\r\n"]
        );
    }
}
