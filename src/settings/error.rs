//! What can be wrong with a settings file.

use std::fmt;

/// One thing that is wrong, with its place and its cure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Complaint {
    /// Name of the file.
    pub file: String,
    /// Line, counted from 1; `None` when nothing in the file is the place.
    pub line: Option<usize>,
    /// Key with its sections, as `rig.kite.area_m2`; empty for the whole file.
    pub key: String,
    /// The value as written; `None` when there is none.
    pub value: Option<String>,
    /// What is wrong and what is allowed.
    pub problem: String,
    /// What to do about it.
    pub cure: String,
}

impl fmt::Display for Complaint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        f.write_str(": ")?;
        if !self.key.is_empty() {
            write!(f, "{}", self.key)?;
            if let Some(value) = &self.value {
                write!(f, " = {value}")?;
            }
            f.write_str(": ")?;
        }
        f.write_str(&self.problem)?;
        if !self.cure.is_empty() {
            write!(f, "; {}", self.cure)?;
        }
        Ok(())
    }
}

/// Why there are no settings.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SettingsError {
    /// The file cannot be read at all.
    #[error("{file}: cannot read the settings ({why}); give the path of a readable file")]
    Unreadable {
        /// Its name.
        file: String,
        /// As the system says it.
        why: String,
    },
    /// The file was read and is wrong: every complaint, in the order of the lines.
    #[error("{}", .complaints.iter().map(Complaint::to_string).collect::<Vec<_>>().join("\n"))]
    Wrong {
        /// Never empty.
        complaints: Vec<Complaint>,
    },
}
