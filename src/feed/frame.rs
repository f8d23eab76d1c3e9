//! What framing gives: accepted sentences and rejections; and its settings.

use chrono::{DateTime, NaiveDateTime};

use super::tag::Tag;
use crate::cause::Cause;
use crate::time::Millis;

/// The TAG text by which a recording marks a line that was accepted without a checksum.
pub(crate) const UNCHECKED_MARK: &str = "unchecked";

/// First bytes of an IEC 61162-450 sentence datagram.
pub const DATAGRAM_HEADER: &[u8; 6] = b"UdPbC\0";

/// What to do with a sentence that has no checksum. A wrong one is never accepted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ChecksumPolicy {
    /// Refuse it.
    #[default]
    Required,
    /// Accept it until the same address (talker and sentence, like `IIMWV`) has once come with a
    /// checksum on this input; from then on a missing one means a truncated line. Tracked per
    /// address, not per input, because one line often carries several devices.
    IfPresent,
}

/// How an input is framed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FrameSettings {
    /// What to do with a missing checksum.
    pub checksum: ChecksumPolicy,
    /// Longest sentence or TAG block, in bytes without line end; see [`FrameSettings::LINE_BYTES`].
    pub max_line_bytes: usize,
}

impl ChecksumPolicy {
    /// The words for it in the settings.
    pub const WORDS: [(&str, Self); 2] = [
        ("required", Self::Required),
        ("if-present", Self::IfPresent),
    ];
}

impl FrameSettings {
    /// `max_line_bytes` by default: AIS, XDR and proprietary lines run past the standard's 82 (130
    /// in recordings we have seen, several hundred for XDR with many transducers), while noise at
    /// 4800 baud still shows up within about two seconds.
    pub const USUAL_LINE_BYTES: usize = 1024;
    /// Allowed `max_line_bytes`. The least is the standard's own 82; the most bounds memory.
    pub const LINE_BYTES: std::ops::RangeInclusive<usize> = 82..=65_535;
}

impl Default for FrameSettings {
    fn default() -> Self {
        Self {
            checksum: ChecksumPolicy::Required,
            max_line_bytes: Self::USUAL_LINE_BYTES,
        }
    }
}

/// One thing found in the stream.
#[derive(Debug, Clone, PartialEq, Eq)]
#[expect(
    clippy::large_enum_variant,
    reason = "nearly all frames are sentences, so a smaller rejection saves nothing"
)]
pub enum Frame {
    /// A sentence that may be decoded.
    Sentence(RawSentence),
    /// Something that may not, for the counters and the log.
    Rejected(Rejection),
}

/// Bytes that were refused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rejection {
    /// Why.
    pub cause: Cause,
    /// The beginning of it, printable, for the log.
    pub text: String,
}

/// An accepted sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RawSentence {
    /// From the start character to the checksum, as received, printable ASCII.
    pub text: String,
    /// The TAG block before it; of several, the one next to the sentence.
    pub tag: Option<Tag>,
    /// The first TAG block where there were several: the stamp of whoever passed the line on.
    pub outer_tag: Option<Tag>,
    /// Whether a checksum vouches for it.
    pub checksum: Checksum,
    /// `$` or `!`.
    pub kind: SentenceKind,
    /// Text a logger wrote before the sentence, usually a time.
    pub prefix: Option<String>,
}

impl RawSentence {
    /// A sentence of our own, with its checksum, that no feed brought.
    #[must_use]
    pub fn own(text: String) -> Self {
        Self {
            text,
            tag: None,
            outer_tag: None,
            checksum: Checksum::Good,
            kind: SentenceKind::Parametric,
            prefix: None,
        }
    }

    /// Talker and sentence id, such as `IIMWV`.
    #[must_use]
    pub fn address(&self) -> &str {
        self.body().split(',').next().unwrap_or_default()
    }

    /// The text between start character and checksum.
    #[must_use]
    pub fn body(&self) -> &str {
        let body = self.text.get(1..).unwrap_or_default();
        body.split('*').next().unwrap_or_default()
    }

    /// Arrival time according to whoever logged or forwarded the line: the time of the outermost TAG
    /// block, else a prefix that is an ISO 8601 date and time (UTC where it names no zone).
    #[must_use]
    pub fn logged_time(&self) -> Option<Millis> {
        let stamp = self.outer_tag.as_ref().or(self.tag.as_ref());
        stamp
            .and_then(|tag| tag.time)
            .or_else(|| parse_iso(self.prefix.as_deref()?))
    }
}

/// Whether a sentence came with a checksum that holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Checksum {
    /// It did.
    Good,
    /// It had none, and the input allows that.
    Missing,
}

/// The two families of sentences.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SentenceKind {
    /// `$`: comma-separated fields.
    Parametric,
    /// `!`: encapsulated data such as AIS; counted apart, not decoded.
    Encapsulated,
}

/// What the end of the bytes means for a line that is still open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StreamEnd {
    /// A datagram or file ends here: the line is complete.
    Whole,
    /// The connection broke: the line is cut.
    Broken,
}

fn parse_iso(text: &str) -> Option<Millis> {
    let zoned = DateTime::parse_from_rfc3339(text).map(|time| time.timestamp_millis());
    let plain = || {
        let time = text.parse::<NaiveDateTime>()?;
        Ok::<_, chrono::ParseError>(time.and_utc().timestamp_millis())
    };
    zoned.or_else(|_| plain()).ok().map(Millis)
}
