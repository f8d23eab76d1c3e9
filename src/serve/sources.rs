//! What the HTTP room is given from outside.

use std::sync::Arc;

use serde::Serialize;
use tokio::sync::{mpsc, oneshot, watch};
use utoipa::ToSchema;

use super::hub::AdvisoryHub;
use super::setup::SettingsPost;
use crate::access::Access;
use crate::decode::CrewInput;
use crate::engine::Snapshot;
use crate::logbook::LogbookNow;
use crate::record::{KeptIn, RecordReport};
use crate::settings::SetUp;
use crate::time::Millis;
use crate::tls::Encryption;

/// Everything the HTTP room reads from and writes to.
#[derive(Debug, Clone)]
pub struct Sources {
    /// The picture of the last tick.
    pub snapshot: watch::Receiver<Arc<Snapshot>>,
    /// Revisions of advisories.
    pub revisions: AdvisoryHub,
    /// Where crew inputs go to be stamped and recorded.
    pub crew: mpsc::Sender<CrewPost>,
    /// How what the crew says is kept over a restart.
    pub journal: watch::Receiver<JournalNow>,
    /// How the logbook stands, and in which file it is.
    pub logbook: watch::Receiver<LogbookNow>,
    /// What is set.
    pub set_up: watch::Receiver<Arc<SetUp>>,
    /// Where changes of settings go to be checked, saved and recorded.
    pub settings: mpsc::Sender<SettingsPost>,
    /// How recording stands; `None` where nothing is recorded.
    pub recorder: Option<watch::Receiver<RecordReport>>,
    /// Why what was learnt or forgotten is not in its file, while that is so; `None` where there
    /// is no such file.
    pub learnt_trouble: Option<watch::Receiver<Option<String>>>,
    /// How telling other devices goes; empty where none is told.
    pub outlets: Vec<watch::Receiver<OutletNow>>,
    /// Whose phone may do what.
    pub access: Access,
    /// With what connections are encrypted; `None` for nothing.
    pub encryption: Option<Encryption>,
}

impl Sources {
    pub(super) fn outlets_now(&self) -> Vec<OutletNow> {
        let now = |outlet: &watch::Receiver<OutletNow>| outlet.borrow().clone();
        self.outlets.iter().map(now).collect()
    }
}

/// A crew input on its way to the stamper.
#[derive(Debug)]
pub struct CrewPost {
    /// What was said.
    pub input: CrewInput,
    /// Whose phone said it; `None` where nothing is locked, and for what the program says itself.
    pub by: Option<Arc<str>>,
    /// Where the answer goes.
    pub reply: CrewReply,
}

/// Answer to a post: which crew sentence it became and where that is kept, or why it was refused.
pub type CrewReply = oneshot::Sender<Result<Recorded, String>>;

/// The input was stamped and counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct Recorded {
    /// Sequence number of the crew sentence; `/v1/crew/undo` takes it.
    #[schema(format = Int64)]
    pub sequence: u32,
    /// Where it is kept.
    pub kept: KeptIn,
}

/// Whether what the crew says is kept over a restart.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum JournalState {
    /// Nothing is kept: a demo or a replay.
    #[default]
    Off,
    /// It is.
    Keeping,
    /// It is not, though it should be; tried again and again.
    Failing,
}

/// How what the crew says is kept over a restart.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, ToSchema)]
pub struct JournalNow {
    /// Whether it is.
    pub state: JournalState,
    /// In which file.
    pub file: Option<String>,
    /// Why not, with the cure where one is known.
    pub cause: Option<String>,
    /// Lines that could not be read when the program started: one cut short is usual after a crash.
    pub skipped_lines: u64,
    /// Where a damaged file was moved when the program started.
    pub set_aside: Option<String>,
}

/// A way to tell other devices.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum OutletKind {
    /// Posts to a device.
    Webhook,
    /// Messages to a broker.
    Mqtt,
}

/// Whether what is told arrives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum OutletState {
    /// Nothing was tried yet.
    Beginning,
    /// It does.
    Working,
    /// It does not, and is tried again and again. Advice goes on.
    Failing,
}

impl OutletState {
    /// Each with its name in the API.
    pub(super) const NAMES: [(Self, &str); 3] = [
        (Self::Beginning, "beginning"),
        (Self::Working, "working"),
        (Self::Failing, "failing"),
    ];
}

/// How telling other devices goes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct OutletNow {
    /// Which way.
    pub kind: OutletKind,
    /// To whom: host and port.
    pub to: String,
    /// Whether what is told arrives.
    pub state: OutletState,
    /// Why not, with the cure where one is known. It holds no secret.
    pub cause: Option<String>,
    /// Since when it does not: the picture that was the last then.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub failing_since: Option<Millis>,
    /// Revisions that have arrived since the start.
    pub sent: u64,
    /// Tries that failed since the start.
    pub failed: u64,
    /// Revisions that were never sent because a later one had come.
    pub skipped: u64,
}

impl OutletNow {
    /// Before anything was tried.
    #[must_use]
    pub fn new(kind: OutletKind, to: String) -> Self {
        Self {
            kind,
            to,
            state: OutletState::Beginning,
            cause: None,
            failing_since: None,
            sent: 0,
            failed: 0,
            skipped: 0,
        }
    }
}
