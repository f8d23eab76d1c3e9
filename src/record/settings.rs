//! Checked settings of the recorder.

use std::path::PathBuf;

use crate::key::{Complaint, Key, Section, default_of, row_of};

const MIB: u64 = 1024 * 1024;

/// `[record]`.
pub const RECORD: Section = Section::new(
    "record",
    "The raw stream on disk",
    "Without this section nothing is recorded.",
    KEYS,
);

const KEYS: &[Key] = &[
    Key::form("dir", "a directory that the daemon may write")
        .about(
            "directory of the recordings; the daemon must be allowed to write it",
            "any directory on a disk with room; under systemd below /var/lib/skimwatch",
        )
        .given("\"/var/lib/skimwatch/recordings\""),
    Key::whole("max_file_mib", "MiB", 1, 1024)
        .default(16.0)
        .about(
            "a file is closed at this size",
            "a busy network of 100 lines a second makes about 25 MiB an hour (estimated)",
        ),
    Key::whole("max_total_mib", "MiB", 2, 1024 * 1024)
        .default(1024.0)
        .about(
            "the oldest files are deleted so that all together stay within this; at least twice \
             max_file_mib",
            "`df -h DIRECTORY` tells the free room; leave half of it",
        ),
];

/// Where to record and how much to keep.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordSettings {
    dir: PathBuf,
    max_file_mib: u64,
    max_total_mib: u64,
}

impl RecordSettings {
    /// `max_file_mib` by default.
    pub const MAX_FILE_MIB: u64 = default_of(KEYS, "max_file_mib") as u64;
    /// `max_total_mib` by default.
    pub const MAX_TOTAL_MIB: u64 = default_of(KEYS, "max_total_mib") as u64;

    /// A file is closed at `max_file_mib`; the oldest files are deleted so that all together stay
    /// within `max_total_mib`.
    ///
    /// # Errors
    /// When a value is out of range.
    pub fn new(
        dir: PathBuf,
        max_file_mib: u64,
        max_total_mib: u64,
    ) -> Result<Self, Box<Complaint>> {
        const DIR: &Key = row_of(KEYS, "dir");
        const FILE: &Key = row_of(KEYS, "max_file_mib");
        const TOTAL: &Key = row_of(KEYS, "max_total_mib");
        if dir.as_os_str().is_empty() {
            return Err(Box::new(DIR.refuse("\"\"")));
        }
        if !FILE.allowed.holds(max_file_mib as f64) {
            return Err(Box::new(FILE.refuse(max_file_mib)));
        }
        if !TOTAL.allowed.holds(max_total_mib as f64) {
            return Err(Box::new(TOTAL.refuse(max_total_mib)));
        }
        if max_total_mib < 2 * max_file_mib {
            let problem = format!("must be at least twice max_file_mib = {max_file_mib}");
            return Err(Box::new(TOTAL.clash(max_total_mib, problem, TOTAL.cure())));
        }
        Ok(Self {
            dir,
            max_file_mib,
            max_total_mib,
        })
    }

    /// Where to.
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
        assert!(complaint(0, 10).starts_with("max_file_mib = 0: must be 1 to 1024; "));
        assert!(complaint(16, 31).starts_with("max_total_mib = 31: must be at least twice "));
        assert!(RecordSettings::new("".into(), 16, 32).is_err());
    }
}
