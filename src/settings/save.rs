//! Writing the settings file so that a power cut leaves either the old or the new one.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::files::{beside, clear_up, replace};

/// Why the file was not written.
#[derive(Debug, thiserror::Error)]
pub enum SaveError {
    /// Somebody changed the file since it was read.
    #[error("{file} is not what it was when the program read it")]
    Changed {
        /// The file.
        file: String,
    },
    /// The system does not let us.
    #[error("{file} cannot be written ({why})")]
    Unwritable {
        /// The file.
        file: String,
        /// What the system says.
        why: io::Error,
    },
}

impl SaveError {
    /// What to do about it.
    #[must_use]
    pub fn cure(&self) -> String {
        match self {
            Self::Changed { .. } => {
                "start the program again, so that it reads the file as it is now, then change it here".to_owned()
            }
            Self::Unwritable { file, why } => match why.kind() {
                io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => format!(
                    "keep the settings where the program may write, file and directory: copy {file} to /var/lib/skimwatch/skimwatch.toml and name that in the service's --settings"
                ),
                io::ErrorKind::StorageFull => "make room on the disk".to_owned(),
                _ => "look whether the disk is well; the old file is untouched".to_owned(),
            },
        }
    }
}

/// The name under which the file before the last change is kept.
#[must_use]
pub fn previous(path: &Path) -> PathBuf {
    beside(path, ".previous")
}

/// Replaces `old` in the file by `new`; `old` is kept beside it.
///
/// # Errors
/// [`SaveError`]; the file is then as it was.
pub fn save(path: &Path, old: &str, new: &str) -> Result<(), SaveError> {
    let file = path.display().to_string();
    let unwritable = |why| SaveError::Unwritable {
        file: file.clone(),
        why,
    };
    // A link stays a link: what it points at is replaced.
    let real = fs::canonicalize(path).map_err(unwritable)?;
    if fs::read_to_string(&real).map_err(unwritable)? != old {
        return Err(SaveError::Changed { file });
    }
    let permissions = fs::metadata(&real).map_err(unwritable)?.permissions();
    let write = |name: &Path, text: &str| {
        replace(name, text.as_bytes(), |file| {
            file.set_permissions(permissions.clone())
        })
    };
    write(&previous(&real), old)
        .and_then(|()| write(&real, new))
        .map_err(unwritable)
}

/// Takes away what a [`save`] that was killed left beside the file.
pub fn clear_up_after_save(path: &Path) {
    let Ok(real) = fs::canonicalize(path) else {
        return;
    };
    for name in [previous(&real), real] {
        if let Err(error) = clear_up(&name) {
            tracing::debug!(file = %name.display(), %error, "a leftover of saving stays");
        }
    }
}

#[cfg(test)]
mod tests {
    use std::fs::File;

    use super::*;

    #[test]
    fn the_old_file_is_kept_and_nothing_else_is_left() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("boat.toml");
        fs::write(&path, "one").unwrap();
        let link = dir.path().join("link.toml");
        std::os::unix::fs::symlink(&path, &link).unwrap();
        save(&link, "one", "two").unwrap();
        save(&path, "two", "three").unwrap();
        assert_eq!(fs::read_to_string(&link).unwrap(), "three");
        assert!(link.is_symlink());
        assert_eq!(fs::read_to_string(previous(&path)).unwrap(), "two");
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 3);
    }

    #[test]
    fn a_file_changed_by_hand_is_not_overwritten() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("boat.toml");
        fs::write(&path, "by hand").unwrap();
        let error = save(&path, "as read", "new").unwrap_err();
        assert!(matches!(error, SaveError::Changed { .. }));
        assert_eq!(fs::read_to_string(&path).unwrap(), "by hand");
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
    }

    #[test]
    fn where_nothing_may_be_written_the_cure_says_where_to() {
        // Not even root may write below /proc.
        let error = SaveError::Unwritable {
            file: "/etc/skimwatch/skimwatch.toml".to_owned(),
            why: File::create("/proc/version.new").unwrap_err(),
        };
        assert!(!error.cure().is_empty());
        let error = SaveError::Unwritable {
            file: "/etc/skimwatch/skimwatch.toml".to_owned(),
            why: io::ErrorKind::ReadOnlyFilesystem.into(),
        };
        assert!(error.cure().contains("/var/lib/skimwatch"));
    }
}
