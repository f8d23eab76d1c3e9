//! What the HTTP room is given from outside.

use std::sync::Arc;

use serde::{Deserialize, Serialize};
use tokio::sync::{mpsc, oneshot, watch};
use utoipa::ToSchema;

use super::crew::Recorded;
use super::hub::AdvisoryHub;
use super::setup::{SetUp, SettingsPost};
use crate::decode::CrewInput;
use crate::engine::Snapshot;
use crate::record::RecordReport;
use crate::vessel::Grade;

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
    /// What is set.
    pub set_up: watch::Receiver<Arc<SetUp>>,
    /// Where changes of settings go to be checked, saved and recorded.
    pub settings: mpsc::Sender<SettingsPost>,
    /// How recording stands; `None` where nothing is recorded.
    pub recorder: Option<watch::Receiver<RecordReport>>,
    /// Why what was learnt or forgotten is not in its file, while that is so; `None` where there
    /// is no such file.
    pub learnt_trouble: Option<watch::Receiver<Option<String>>>,
}

/// A crew input on its way to the stamper.
#[derive(Debug)]
pub struct CrewPost {
    /// What was said.
    pub input: CrewInput,
    /// Where the answer goes.
    pub reply: CrewReply,
}

/// Answer to a post: which crew sentence it became and where that is kept, or why it was refused.
pub type CrewReply = oneshot::Sender<Result<Recorded, String>>;
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

/// Unit of lengths on the pages. The API itself always speaks metres.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub enum LengthUnit {
    /// Metres.
    #[default]
    #[serde(rename = "m")]
    Metres,
    /// Feet.
    #[serde(rename = "ft")]
    Feet,
}

/// Unit of speeds on the pages. The API itself always speaks metres a second.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub enum SpeedUnit {
    /// Knots.
    #[default]
    #[serde(rename = "kn")]
    Knots,
    /// Metres a second.
    #[serde(rename = "m/s")]
    MetresPerSecond,
}

/// Unit of weights on the pages. The API itself always speaks newtons.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub enum WeightUnit {
    /// Kilograms (of force).
    #[default]
    #[serde(rename = "kg")]
    Kilograms,
    /// Pounds (of force).
    #[serde(rename = "lb")]
    Pounds,
}

/// Units the crew thinks in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub struct CrewUnits {
    /// Lengths.
    pub length: LengthUnit,
    /// Speeds.
    pub speed: SpeedUnit,
    /// Weights.
    pub weight: WeightUnit,
}

/// One value of the rig as set.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RigEntry {
    /// Part of the rig: "kite", "main line".
    pub part: String,
    /// Key in the settings, with its unit: "area_m2".
    pub key: String,
    /// What it is, in words: "Kite area".
    pub name: String,
    /// Its value as text.
    pub value: String,
    /// Unit of the value: "m²"; empty for a plain number.
    pub unit: String,
    /// How far to trust it.
    pub grade: Grade,
}
