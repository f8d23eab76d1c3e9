//! Why the logbook cannot be written or read, with the cure.

use std::io;
use std::path::Path;

use rusqlite::ErrorCode;

/// Why the logbook cannot be written or read.
#[derive(Debug, thiserror::Error)]
pub enum LogbookError {
    /// A file or directory.
    #[error("{path}: {why}; {}", cure(why))]
    File {
        /// Which.
        path: String,
        /// What the system says.
        why: io::Error,
    },
    /// What SQLite says.
    #[error("{path}: {why}; {}", sqlite_cure(why))]
    Sqlite {
        /// The file.
        path: String,
        /// The words.
        why: rusqlite::Error,
    },
    /// Something else is in the file.
    #[error("{path} is an SQLite file but no logbook; name another with file in [logbook]")]
    Foreign {
        /// The file.
        path: String,
    },
    /// There is none.
    #[error("there is no logbook {path}: `skimwatch run` begins one")]
    Absent {
        /// The file.
        path: String,
    },
    /// It is of another version of the program.
    #[error("{path} has schema {found}, this program reads {known}: use the program that wrote it")]
    Version {
        /// The file.
        path: String,
        /// Its version.
        found: usize,
        /// Ours.
        known: usize,
    },
}

fn cure(why: &io::Error) -> &'static str {
    match why.kind() {
        io::ErrorKind::StorageFull => "the disk is full: make room",
        _ => "let the daemon write there, or set file in [logbook]",
    }
}

fn sqlite_cure(why: &rusqlite::Error) -> &'static str {
    match why.sqlite_error_code() {
        Some(ErrorCode::DiskFull) => "the disk is full: make room",
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            "another program holds it: close that one"
        }
        _ => {
            "check that the disk is well and that file and directory can be written, or set file in [logbook]"
        }
    }
}

impl LogbookError {
    pub(super) fn file(path: &Path, why: io::Error) -> Self {
        let path = path.display().to_string();
        Self::File { path, why }
    }

    pub(super) fn sqlite(path: &Path, why: rusqlite::Error) -> Self {
        let path = path.display().to_string();
        Self::Sqlite { path, why }
    }

    /// The same, said of another file.
    pub(super) fn of(self, path: &Path) -> Self {
        match self {
            Self::Sqlite { why, .. } => Self::sqlite(path, why),
            other => other,
        }
    }

    /// Whether the file does not hold what SQLite wrote.
    pub(super) fn is_damage(&self) -> bool {
        let Self::Sqlite { why, .. } = self else {
            return false;
        };
        matches!(
            why.sqlite_error_code(),
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase)
        )
    }
}
