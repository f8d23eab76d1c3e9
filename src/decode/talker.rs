//! Who sends a sentence.

use std::fmt;

/// The two characters before the kind; `P` alone for proprietary sentences.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct Talker([u8; 2]);

impl Talker {
    /// The talker of proprietary sentences.
    pub const PROPRIETARY: Self = Self([b'P', 0]);

    /// From two ASCII letters or digits.
    #[must_use]
    pub fn new(text: &str) -> Option<Self> {
        match *text.as_bytes() {
            [a, b] if a.is_ascii_alphanumeric() && b.is_ascii_alphanumeric() => Some(Self([a, b])),
            _ => None,
        }
    }

    /// Its text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        let length = if self.0[1] == 0 { 1 } else { 2 };
        std::str::from_utf8(&self.0[..length]).unwrap_or_default()
    }
}

impl fmt::Display for Talker {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

impl fmt::Debug for Talker {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Talker({:?})", self.as_str())
    }
}
