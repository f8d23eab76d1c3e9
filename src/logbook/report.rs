//! How the logbook stands, for people and programs.

use serde::Serialize;
use utoipa::ToSchema;

/// Whether the logbook is written.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LogbookState {
    /// There is none: a demo or a replay.
    #[default]
    Off,
    /// It is being opened and looked through.
    Opening,
    /// It is.
    Keeping,
    /// It is not, though it should be; tried again every few seconds. Advice goes on.
    Failing,
}

/// How the logbook stands.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, ToSchema)]
pub struct LogbookNow {
    /// Whether it is written.
    pub state: LogbookState,
    /// Its file.
    pub file: Option<String>,
    /// Why nothing is written, with the cure where one is known.
    pub cause: Option<String>,
    /// What waits in memory until writing succeeds again; a restart loses it.
    pub waiting_rows: u64,
    /// What was lost since the start because too much waited.
    pub lost_rows: u64,
    /// Where a damaged file, or one of a newer version, was moved since the start.
    pub set_aside: Option<String>,
    /// Where the file was copied before it was brought to the present version.
    pub copy: Option<String>,
    /// Days deleted since the start to stay within `max_mib`.
    pub deleted_days: u64,
}
