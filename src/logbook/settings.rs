//! Checked settings of the logbook.

use std::path::PathBuf;

use crate::key::{Fallback, Key, Section, default_of};

const MIB: u64 = 1024 * 1024;

/// `[logbook]`.
pub const LOGBOOK: Section = Section::new(
    "logbook",
    "The logbook",
    "`run` keeps a logbook of every day: what boat, kite and bait did, what was advised and what \
     came of it, what the crew said.",
    KEYS,
);

const KEYS: &[Key] = &[
    Key::form("file", "a file that the daemon may write")
        .or(Fallback::Nothing)
        .about(
            "file of the logbook (SQLite). Without this key it is logbook.sqlite in the directory \
             of [record], and without that section a file beside this one, with \".logbook\" after \
             its name",
            "the daemon must be allowed to write the file and its directory",
        )
        .example("\"/var/lib/skimwatch/logbook.sqlite\""),
    Key::whole("max_mib", "MiB", 16, 1024 * 1024)
        .default(512.0)
        .about(
            "when the logbook holds more than this, its oldest days are deleted, but never the \
             last 24 hours",
            "`df -h DIRECTORY` tells the free room; tests/bench/README.md says what a day takes",
        ),
];

/// Where the logbook is and how large it may grow.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LogbookSettings {
    /// Its file; `None` for a place that depends on the other settings.
    pub file: Option<PathBuf>,
    /// When it holds more, the oldest days go.
    pub max_mib: u64,
}

impl Default for LogbookSettings {
    fn default() -> Self {
        Self {
            file: None,
            max_mib: const { default_of(KEYS, "max_mib") as u64 },
        }
    }
}

impl LogbookSettings {
    /// The bound in bytes.
    #[must_use]
    pub fn max_bytes(&self) -> u64 {
        self.max_mib * MIB
    }
}
