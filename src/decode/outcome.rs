//! Outcomes of decoding a sentence.

use std::fmt;

use super::observation::Observation;
use crate::cause::Cause;

/// A sentence that was understood.
#[derive(Debug, Clone, PartialEq)]
pub struct Decoded {
    /// Who sent it.
    pub talker: Talker,
    /// What kind it is: the three letters of the sentence, as `"MWV"`; our own is `"SKWT"`.
    pub kind: &'static str,
    /// What it says. Empty when it is [`void`](Self::is_void).
    pub observations: Vec<Observation>,
    /// An earlier or later part of the same message is still missing (RTE only).
    pub partial: bool,
}

impl Decoded {
    /// A good sentence that says nothing: its status is "not valid" or its fields are empty.
    /// Counted separately: it is what a live instrument without data sends.
    #[must_use]
    pub fn is_void(&self) -> bool {
        self.observations.is_empty() && !self.partial
    }

    /// Whether it speaks for the crew. Only a caller who knows where it came from can decide
    /// whether to believe it.
    #[must_use]
    pub fn is_crew(&self) -> bool {
        self.observations
            .iter()
            .any(|observation| matches!(observation, Observation::Crew { .. }))
    }
}

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

/// Why a sentence was refused. Nothing of a refused sentence is used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DecodeReject {
    /// A well-formed address that we do not decode (AIS companions, proprietary and so on).
    #[error("{address}: kind of sentence not decoded")]
    Unsupported {
        /// Talker and kind as sent.
        address: String,
    },
    /// Not a sentence at all: no `$`, no address, or characters that no sentence may hold.
    #[error("not a sentence: {why}")]
    Garbled {
        /// What is wrong with it.
        why: &'static str,
    },
    /// A field whose text does not have the form that the kind of sentence requires.
    #[error("{kind}: field {field} is not of the right form: {found:?}")]
    Malformed {
        /// Kind of sentence.
        kind: &'static str,
        /// Which field.
        field: &'static str,
        /// Its text, or that of the whole sentence.
        found: String,
    },
    /// A number outside what its field may hold.
    #[error("{kind}: field {field} is {found:?}, allowed is {allowed}")]
    OutOfRange {
        /// Kind of sentence.
        kind: &'static str,
        /// Which field.
        field: &'static str,
        /// Its text.
        found: String,
        /// What would have been allowed.
        allowed: &'static str,
    },
    /// Two fields of one sentence that contradict each other.
    #[error("{kind}: {fields} contradict each other")]
    Inconsistent {
        /// Kind of sentence.
        kind: &'static str,
        /// Which fields.
        fields: &'static str,
    },
}

impl DecodeReject {
    /// The cause under which it is counted.
    #[must_use]
    pub fn cause(&self) -> Cause {
        match self {
            Self::Unsupported { .. } => Cause::Unsupported,
            Self::Garbled { .. } => Cause::Garbled,
            Self::Malformed { .. } => Cause::Malformed,
            Self::OutOfRange { .. } => Cause::OutOfRange,
            Self::Inconsistent { .. } => Cause::Inconsistent,
        }
    }
}
