//! Why there are no settings.

use crate::key::Complaint;

/// Why there are no settings.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
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
