//! Checked settings of the recorder.

use std::path::PathBuf;

const MIB: u64 = 1024 * 1024;

/// Where to record and how much to keep.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordSettings {
    dir: PathBuf,
    max_file_mib: u64,
    max_total_mib: u64,
}

impl RecordSettings {
    /// A file is closed at `max_file_mib` (1 to 1024); the oldest files are deleted so that all
    /// together stay within `max_total_mib` (at least twice that, at most 1048576). A busy
    /// network of 100 lines a second makes about 25 MiB an hour (estimated from 75 bytes a line).
    ///
    /// # Errors
    /// When a value is out of range.
    pub fn new(
        dir: PathBuf,
        max_file_mib: u64,
        max_total_mib: u64,
    ) -> Result<Self, RecordSettingsError> {
        if dir.as_os_str().is_empty() {
            return Err(RecordSettingsError::Dir);
        }
        if !(1..=1024).contains(&max_file_mib) {
            return Err(RecordSettingsError::MaxFile(max_file_mib));
        }
        if !(2 * max_file_mib..=1024 * 1024).contains(&max_total_mib) {
            return Err(RecordSettingsError::MaxTotal {
                got: max_total_mib,
                least: 2 * max_file_mib,
            });
        }
        Ok(Self {
            dir,
            max_file_mib,
            max_total_mib,
        })
    }

    /// The directory.
    #[must_use]
    pub fn dir(&self) -> &std::path::Path {
        &self.dir
    }

    pub(super) fn max_file_bytes(&self) -> u64 {
        self.max_file_mib * MIB
    }

    pub(super) fn max_total_bytes(&self) -> u64 {
        self.max_total_mib * MIB
    }
}

/// A setting that is not allowed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RecordSettingsError {
    /// No directory.
    #[error("dir is an empty path; allowed: a directory the daemon may write")]
    Dir,
    /// File cap out of range.
    #[error("max_file_mib is {0}; allowed: 1 to 1024")]
    MaxFile(u64),
    /// Total cap out of range.
    #[error("max_total_mib is {got}; allowed: {least} (twice max_file_mib) to 1048576")]
    MaxTotal {
        /// What it was set to.
        got: u64,
        /// The least allowed with this `max_file_mib`.
        least: u64,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn caps_are_checked() {
        assert!(RecordSettings::new("rec".into(), 16, 32).is_ok());
        let complaint = |file, total| {
            RecordSettings::new("rec".into(), file, total)
                .unwrap_err()
                .to_string()
        };
        assert_eq!(complaint(0, 10), "max_file_mib is 0; allowed: 1 to 1024");
        assert!(complaint(16, 31).starts_with("max_total_mib is 31; allowed: 32 "));
        assert!(RecordSettings::new("".into(), 16, 32).is_err());
    }
}
