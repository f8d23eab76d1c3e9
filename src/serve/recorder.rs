//! How recording stands, as the API shows it.

use serde::Serialize;
use utoipa::ToSchema;

use super::sources::Sources;
use crate::record::RecordState;
use crate::time::Millis;

/// Whether what is heard reaches a recording.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum RecorderState {
    /// Nothing is recorded: a demo, a replay, or settings without `[record]`.
    #[default]
    Off,
    /// Nothing has come yet.
    Idle,
    /// It does.
    Recording,
    /// It does not, and is tried again every few seconds. Advice goes on.
    Failing,
}

/// How recording stands.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, ToSchema)]
pub struct RecorderAnswer {
    /// Whether what is heard reaches a recording.
    pub state: RecorderState,
    /// The file that is written.
    pub file: Option<String>,
    /// Why nothing is written, with the cure where one is known.
    pub cause: Option<String>,
    /// Since when it is recording to this file, or failing.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub since: Option<Millis>,
    /// Lines written since the start.
    pub lines: u64,
    /// Lines lost since the start.
    pub lost_lines: u64,
    /// Lines of the crew that wait in memory until writing succeeds again; a restart loses them.
    pub waiting_lines: u64,
    /// Old recordings deleted since the start to stay within `max_total_mib`.
    pub deleted_files: u64,
}

impl RecorderState {
    /// Each with its name in the API.
    pub(super) const NAMES: [(Self, &str); 4] = [
        (Self::Off, "off"),
        (Self::Idle, "idle"),
        (Self::Recording, "recording"),
        (Self::Failing, "failing"),
    ];
}

impl RecorderAnswer {
    pub(super) fn new(sources: &Sources) -> Self {
        let Some(report) = &sources.recorder else {
            return Self::default();
        };
        let report = report.borrow();
        let counts = Self {
            state: RecorderState::Idle,
            lines: report.lines,
            lost_lines: report.lost,
            waiting_lines: report.waiting,
            deleted_files: report.deleted_files,
            ..Self::default()
        };
        match &report.state {
            RecordState::Idle => counts,
            RecordState::Recording { file, since } => Self {
                state: RecorderState::Recording,
                file: Some(file.display().to_string()),
                since: Some(*since),
                ..counts
            },
            RecordState::Failing { cause, since } => Self {
                state: RecorderState::Failing,
                cause: Some(cause.clone()),
                since: Some(*since),
                ..counts
            },
        }
    }
}
