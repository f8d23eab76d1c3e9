//! How recording stands, for people and programs.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};
use tokio::sync::watch;
use utoipa::ToSchema;

use crate::time::Millis;

/// How recording stands.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct RecordReport {
    /// Whether lines reach a file.
    pub state: RecordState,
    /// Lines written.
    pub lines: u64,
    /// Lines that could not be written, or that found the queue full.
    pub lost: u64,
    /// Lines of the crew that wait in memory until writing succeeds again.
    pub waiting: u64,
    /// Old files deleted to stay within the total.
    pub deleted_files: u64,
}

/// Whether lines reach a file.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum RecordState {
    /// Nothing has come yet.
    #[default]
    Idle,
    /// They do.
    Recording {
        /// This one.
        file: PathBuf,
        /// Arrival of its first line.
        since: Millis,
    },
    /// They do not; tried again after a pause.
    Failing {
        /// Why, and the cure where one is known.
        cause: String,
        /// Arrival of the line with which it began.
        since: Millis,
    },
}

/// Where a line is when its sender is answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum KeptIn {
    /// On the disk, in the recording and in what comes back after a restart, as far as the settings
    /// want either: it outlives a crash and a power cut.
    Disk,
    /// In memory: it was taken and counts, but nothing keeps it, or the disk did not confirm it
    /// within 2 s. A restart may lose it.
    Memory,
}

/// Sets the report to failing, with the cause and since when.
pub(super) fn fail(report: &watch::Sender<RecordReport>, time: Millis, cause: &str) {
    report.send_if_modified(|report| {
        let since = match &report.state {
            RecordState::Failing { cause: known, .. } if known == cause => return false,
            RecordState::Failing { since, .. } => *since,
            _ => time,
        };
        tracing::warn!("not recording, advice goes on: {cause}");
        report.state = RecordState::Failing {
            cause: cause.to_owned(),
            since,
        };
        true
    });
}
