//! What is said of a wrong value.

use std::fmt;

use super::allowed::Allowed;

/// One thing that is wrong, with its place and its cure.
#[derive(Debug, Clone, PartialEq)]
pub struct Complaint {
    /// Where it stands; `None` while only the room that checks has seen it.
    pub place: Option<Place>,
    /// Key with its sections, as `rig.kite.area_m2` (below its section from a room's own check);
    /// empty for the whole file.
    pub key: String,
    /// The value as written; `None` when there is none.
    pub value: Option<String>,
    /// What is wrong.
    pub problem: Problem,
    /// What to do about it.
    pub cure: String,
}

/// A place in a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// Name of the file.
    pub file: String,
    /// Line, counted from 1; `None` when nothing in the file is the place.
    pub line: Option<usize>,
}

/// What is wrong with a value.
#[derive(Debug, Clone, PartialEq)]
pub enum Problem {
    /// It is not what the key allows.
    NotAllowed(Allowed),
    /// There is none, and there must be.
    Missing,
    /// Anything else, in words: "is used twice".
    Other(String),
}

impl Complaint {
    /// Line of its place.
    #[must_use]
    pub fn line(&self) -> Option<usize> {
        self.place.as_ref()?.line
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotAllowed(allowed) => write!(f, "must be {allowed}"),
            Self::Missing => f.write_str("is missing"),
            Self::Other(words) => f.write_str(words),
        }
    }
}

impl fmt::Display for Complaint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(Place { file, line }) = &self.place {
            f.write_str(file)?;
            if let Some(line) = line {
                write!(f, ", line {line}")?;
            }
            f.write_str(": ")?;
        }
        if !self.key.is_empty() {
            f.write_str(&self.key)?;
            if let Some(value) = &self.value {
                write!(f, " = {value}")?;
            }
            f.write_str(": ")?;
        }
        write!(f, "{}", self.problem)?;
        if !self.cure.is_empty() {
            write!(f, "; {}", self.cure)?;
        }
        Ok(())
    }
}

impl std::error::Error for Complaint {}
