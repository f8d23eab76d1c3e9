//! Framing: a stream of bytes in, sentences and rejections out. Pure: no clock, no I/O.
//!
//! Framing rules: start characters, checksum and line end from E. S. Raymond, "NMEA Revealed"
//! (gpsd `www/NMEA.adoc`). What real networks add, and how it is met here:
//!
//! - A line ends at CR or LF, in any mixture. A sentence also ends right behind a checksum that
//!   holds, so joined lines come apart and no sentence waits for the next one.
//! - `$`, `!` and `\` are reserved characters and always start anew; what stood before is cut.
//! - NULs inside a line are dropped (they do not change the checksum); other control characters
//!   make the line garbled even when its checksum holds.
//! - 8-bit characters in a sentence whose checksum holds are written as the standard's `^hh`
//!   escape and its checksum is renewed, so `text` is printable ASCII and checks anywhere.
//! - A checksum of one digit is taken when it is the value itself (`*5` for 05); a `*` with
//!   nothing or nonsense behind it is a wrong checksum, not a missing one.
//! - A damaged TAG block is counted and dropped; the sentence behind it stands by its own
//!   checksum.
//! - The header `UdPbC` + NUL of IEC 61162-450 datagrams is skipped.
//! - Text before a start character at the beginning of a line, set off by a blank (as loggers
//!   write the time), is handed on as `prefix`. Any other text between sentences is garbled.

use std::collections::HashSet;

use super::frame::{
    Checksum, ChecksumPolicy, DATAGRAM_HEADER, Frame, FrameSettings, RawSentence, Rejection,
    SentenceKind, StreamEnd, UNCHECKED_MARK,
};
use super::tag::{Tag, hex_digit, hex_pair, xor};
use crate::cause::Cause;

/// Addresses the checksum habit remembers; beyond it every missing checksum is refused.
const HABIT_LIMIT: usize = 256;

/// A longer address is no standard sentence's: its habit is not worth remembering, so that it must
/// always come with a checksum.
const HABIT_ADDRESS_BYTES: usize = 16;

/// Bytes of a rejected line that are kept for the log.
const REJECT_TEXT_BYTES: usize = 120;

/// Bytes that do more in a sentence than to lengthen it.
const SPECIAL: [bool; 256] = {
    let mut special = [false; 256];
    let bytes = b"\0\r\n$!\\*";
    let mut i = 0;
    while i < bytes.len() {
        special[bytes[i] as usize] = true;
        i += 1;
    }
    special
};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    /// Between sentences; `buffer` holds whatever else comes.
    Between,
    /// Inside a TAG block.
    Tag,
    /// Behind a TAG block.
    AfterTag,
    /// Inside a sentence.
    Sentence,
    /// Behind something too long, up to the next line or start character.
    Skip,
}

/// How a sentence came to its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Ending {
    Line,
    Cut,
}

/// Cuts a byte stream into frames. Give it the bytes as they come, in pieces of any size; the
/// frames are the same however the stream is split.
#[derive(Debug)]
pub struct Framer {
    settings: FrameSettings,
    honours_mark: bool,
    habit: HashSet<Box<[u8]>>,
    state: State,
    buffer: Vec<u8>,
    /// Where the first `*` of the sentence stands.
    star: Option<usize>,
    /// A NUL was dropped from the sentence.
    holed: bool,
    /// Nothing but blanks and prefix since the line began.
    at_line_start: bool,
    prefix: Option<String>,
    tag: Option<Tag>,
    outer_tag: Option<Tag>,
}

impl Framer {
    /// A framer for one input.
    #[must_use]
    pub fn new(settings: FrameSettings) -> Self {
        Self {
            settings,
            honours_mark: false,
            habit: HashSet::new(),
            state: State::Between,
            buffer: Vec::new(),
            star: None,
            holed: false,
            at_line_start: true,
            prefix: None,
            tag: None,
            outer_tag: None,
        }
    }

    /// A framer for recordings: believes their mark of a line accepted without a checksum, and
    /// allows for a TAG block that has grown by being written anew (a time of few digits).
    pub(crate) fn for_log(mut settings: FrameSettings) -> Self {
        settings.max_line_bytes = settings.max_line_bytes.saturating_add(32);
        Self {
            honours_mark: true,
            ..Self::new(settings)
        }
    }

    /// Takes the next bytes of the stream and calls `out` for each frame they complete.
    pub fn push(&mut self, bytes: &[u8], out: &mut impl FnMut(Frame)) {
        let mut rest = bytes;
        while let Some((&byte, after)) = rest.split_first() {
            if let Some(sentence) = self.whole(rest) {
                rest = &rest[sentence.len()..];
                self.at_line_start = false;
                self.state = State::Between;
                self.hand_on(sentence, Checksum::Good, out);
                continue;
            }
            let (plain, others) = rest.split_at(self.plain(rest));
            if plain.is_empty() {
                self.step(byte, out);
                rest = after;
            } else {
                self.buffer.extend_from_slice(plain);
                rest = others;
            }
        }
    }

    /// The sentence that the next bytes begin with, where nothing is wrong with it and all of it is there:
    /// nearly always. All others are taken byte by byte, with the same outcome.
    fn whole(&self, bytes: &[u8]) -> Option<String> {
        let open = match self.state {
            State::Between => self.buffer.is_empty(),
            State::AfterTag => true,
            State::Tag | State::Sentence | State::Skip => false,
        };
        let (b'$' | b'!', true) = (*bytes.first()?, open) else {
            return None;
        };
        let within = &bytes[..bytes.len().min(self.settings.max_line_bytes)];
        let star = memchr::memchr(b'*', within)?;
        let inner = &within[1..star];
        let sum = hex_pair(within.get(star + 1..star + 3)?);
        // Without an early end, the compiler looks at many bytes at a time.
        let plain = |b: u8| is_printable(b) & !matches!(b, b'$' | b'!' | b'\\');
        let sound = inner.iter().fold(true, |all, b| all & plain(*b));
        if !sound || sum != Some(xor(inner)) || address(within).is_none() {
            return None;
        }
        String::from_utf8(within[..star + 3].to_vec()).ok()
    }

    /// How many of the next bytes only lengthen the sentence.
    fn plain(&self, bytes: &[u8]) -> usize {
        if self.state != State::Sentence || self.star.is_some() {
            return 0;
        }
        let room = self
            .settings
            .max_line_bytes
            .saturating_sub(self.buffer.len());
        let within = &bytes[..bytes.len().min(room)];
        let special = |b: &u8| SPECIAL[usize::from(*b)];
        within.iter().position(special).unwrap_or(within.len())
    }

    /// Ends the stream here, and readies the framer for another one of the same input. The
    /// checksum habit is kept.
    pub fn flush(&mut self, end: StreamEnd, out: &mut impl FnMut(Frame)) {
        match (self.state, end) {
            (State::Sentence, StreamEnd::Broken) => {
                self.end_sentence(Ending::Cut, out);
                self.state = State::Between;
            }
            _ => self.step(b'\n', out),
        }
        self.new_line();
    }

    fn step(&mut self, byte: u8, out: &mut impl FnMut(Frame)) {
        match byte {
            b'\r' | b'\n' => self.line_end(out),
            b'\\' if self.state == State::Tag => self.close_tag(out),
            b'$' | b'!' | b'\\' => self.start(byte, out),
            _ => self.inside(byte, out),
        }
    }

    fn line_end(&mut self, out: &mut impl FnMut(Frame)) {
        match self.state {
            State::Between => self.refuse_unless_blank(out),
            State::Tag => self.reject(Cause::BadTag, out),
            State::AfterTag => self.refuse_lone_tag(out),
            State::Sentence => self.end_sentence(Ending::Line, out),
            State::Skip => {}
        }
        self.new_line();
    }

    fn new_line(&mut self) {
        self.state = State::Between;
        self.at_line_start = true;
        self.clear();
    }

    fn clear(&mut self) {
        self.buffer.clear();
        self.star = None;
        self.holed = false;
        self.prefix = None;
        self.tag = None;
        self.outer_tag = None;
    }

    fn start(&mut self, byte: u8, out: &mut impl FnMut(Frame)) {
        match self.state {
            State::Between => self.end_between(out),
            State::Tag => self.reject(Cause::BadTag, out),
            State::Sentence => self.end_sentence(Ending::Cut, out),
            State::AfterTag | State::Skip => {}
        }
        self.at_line_start = false;
        self.buffer.clear();
        self.star = None;
        self.holed = false;
        self.state = if byte == b'\\' {
            State::Tag
        } else {
            self.buffer.push(byte);
            State::Sentence
        };
    }

    /// What stood before a start character: a datagram header, a logger's prefix, or noise.
    fn end_between(&mut self, out: &mut impl FnMut(Frame)) {
        if self.buffer == DATAGRAM_HEADER {
            self.buffer.clear();
            return;
        }
        let set_off = self.buffer.last().is_some_and(|&b| is_blank(b));
        let readable = self.buffer.iter().all(|&b| is_blank(b) || is_printable(b));
        if self.at_line_start && set_off && readable {
            let text = String::from_utf8_lossy(&self.buffer).trim().to_owned();
            self.prefix = Some(text).filter(|text| !text.is_empty());
        } else {
            self.refuse_unless_blank(out);
        }
    }

    fn refuse_unless_blank(&mut self, out: &mut impl FnMut(Frame)) {
        if !self.buffer.iter().all(|&b| is_blank(b)) {
            self.reject(Cause::Garbled, out);
        }
        self.buffer.clear();
    }

    fn refuse_lone_tag(&mut self, out: &mut impl FnMut(Frame)) {
        if self.tag.is_some() {
            self.buffer.clear();
            self.buffer.extend(b"TAG block without a sentence");
            self.reject(Cause::BadTag, out);
        }
    }

    fn close_tag(&mut self, out: &mut impl FnMut(Frame)) {
        match Tag::parse(&self.buffer) {
            Some(tag) => {
                let previous = self.tag.replace(tag);
                self.outer_tag = self.outer_tag.take().or(previous);
                self.buffer.clear();
            }
            // An earlier block, if any, was good and still stands.
            None => {
                let kept = (self.prefix.take(), self.tag.take(), self.outer_tag.take());
                self.reject(Cause::BadTag, out);
                (self.prefix, self.tag, self.outer_tag) = kept;
            }
        }
        self.state = State::AfterTag;
    }

    fn inside(&mut self, byte: u8, out: &mut impl FnMut(Frame)) {
        match self.state {
            State::Skip => return,
            State::AfterTag if is_blank(byte) || byte == 0 => return,
            State::AfterTag => {
                self.refuse_lone_tag(out);
                self.clear();
                self.state = State::Between;
            }
            State::Tag | State::Sentence if byte == 0 => {
                self.holed = true;
                return;
            }
            State::Sentence if byte == b'*' && self.star.is_none() => {
                self.star = Some(self.buffer.len());
            }
            State::Between | State::Tag | State::Sentence => {}
        }
        self.buffer.push(byte);
        if self.buffer.len() > self.settings.max_line_bytes {
            if self.state == State::Between {
                self.reject(Cause::Garbled, out);
            } else {
                self.reject(Cause::TooLong, out);
                self.state = State::Skip;
            }
        } else if let Some(star) = self.star
            && self.buffer.len() == star + 3
            && hex_pair(&self.buffer[star + 1..]) == Some(xor(&self.buffer[1..star]))
        {
            self.accept(Checksum::Good, out);
            self.state = State::Between;
        }
    }

    /// A sentence that ended without two digits that hold.
    fn end_sentence(&mut self, ending: Ending, out: &mut impl FnMut(Frame)) {
        let text_end = self
            .buffer
            .iter()
            .rposition(|&b| !is_blank(b))
            .map_or(0, |at| at + 1);
        self.buffer.truncate(text_end);
        if let Some(star) = self.star {
            match self.buffer.get(star + 1..) {
                Some(&[digit]) if hex_digit(digit) == Some(xor(&self.buffer[1..star])) => {
                    self.accept(Checksum::Good, out);
                }
                _ => self.reject(Cause::BadChecksum, out),
            }
        } else if ending == Ending::Cut
            || self.holed
            || !self.buffer.contains(&b',')
            || !self.buffer.iter().all(|&b| is_printable(b))
            || self.address().is_none()
        {
            self.reject(Cause::Garbled, out);
        } else if self.may_lack_checksum() {
            self.accept(Checksum::Missing, out);
        } else {
            self.reject(Cause::MissingChecksum, out);
        }
    }

    fn may_lack_checksum(&self) -> bool {
        let marked = self.honours_mark
            && [&self.outer_tag, &self.tag]
                .into_iter()
                .flatten()
                .any(|tag| tag.text.as_deref() == Some(UNCHECKED_MARK));
        let allowed = self.settings.checksum == ChecksumPolicy::IfPresent
            && self.habit.len() < HABIT_LIMIT
            && self
                .address()
                .filter(|address| address.len() <= HABIT_ADDRESS_BYTES)
                .is_some_and(|address| !self.habit.contains(address));
        marked || allowed
    }

    fn address(&self) -> Option<&[u8]> {
        address(&self.buffer)
    }

    fn accept(&mut self, checksum: Checksum, out: &mut impl FnMut(Frame)) {
        // Without an early end, the compiler looks at many bytes at a time.
        let control = (self.buffer.iter()).fold(false, |found, b| found | b.is_ascii_control());
        if control || self.address().is_none() {
            return self.reject(Cause::Garbled, out);
        }
        if !self.buffer.is_ascii() {
            self.escape();
            if self.buffer.len() > self.settings.max_line_bytes {
                return self.reject(Cause::TooLong, out);
            }
        }
        let Ok(text) = String::from_utf8(self.buffer.clone()) else {
            return self.reject(Cause::Garbled, out);
        };
        self.hand_on(text, checksum, out);
    }

    /// Hands on a sentence of printable ASCII with a sound address.
    fn hand_on(&mut self, text: String, checksum: Checksum, out: &mut impl FnMut(Frame)) {
        if checksum == Checksum::Good
            && self.settings.checksum == ChecksumPolicy::IfPresent
            && self.habit.len() < HABIT_LIMIT
            && let Some(address) = address(text.as_bytes())
            && address.len() <= HABIT_ADDRESS_BYTES
            && !self.habit.contains(address)
        {
            self.habit.insert(address.into());
        }
        let kind = if text.starts_with('!') {
            SentenceKind::Encapsulated
        } else {
            SentenceKind::Parametric
        };
        out(Frame::Sentence(RawSentence {
            text,
            tag: self.tag.take(),
            outer_tag: self.outer_tag.take(),
            checksum,
            kind,
            prefix: self.prefix.take(),
        }));
        self.clear();
    }

    /// Writes 8-bit characters as `^hh` and renews the checksum.
    fn escape(&mut self) {
        let end = self.star.unwrap_or(self.buffer.len());
        let mut text = Vec::with_capacity(self.buffer.len() + 8);
        for &byte in self.buffer.iter().take(end) {
            if byte.is_ascii() {
                text.push(byte);
            } else {
                text.extend(format!("^{byte:02X}").bytes());
            }
        }
        let sum = xor(text.get(1..).unwrap_or_default());
        text.extend(format!("*{sum:02X}").bytes());
        self.buffer = text;
    }

    fn reject(&mut self, cause: Cause, out: &mut impl FnMut(Frame)) {
        let shown = &self.buffer[..self.buffer.len().min(REJECT_TEXT_BYTES)];
        out(Frame::Rejected(Rejection {
            cause,
            text: shown.escape_ascii().to_string(),
        }));
        self.clear();
    }
}

/// The bytes between start character and first comma, if they can be an address.
fn address(sentence: &[u8]) -> Option<&[u8]> {
    let behind = sentence.get(1..)?;
    let ends = behind.iter().position(|b| !b.is_ascii_alphanumeric());
    let (address, behind) = behind.split_at(ends.unwrap_or(behind.len()));
    let sound = !address.is_empty() && matches!(behind.first(), None | Some(b',' | b'*'));
    sound.then_some(address)
}

fn is_blank(byte: u8) -> bool {
    byte == b' ' || byte == b'\t'
}

fn is_printable(byte: u8) -> bool {
    (0x20..0x7f).contains(&byte)
}
