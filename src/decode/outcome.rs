//! Outcomes of decoding a sentence.

use super::observation::Observation;
use super::talker::Talker;
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
