//! The settings that a page may change, as the API shows them, and a change on its way to their
//! keeper. What is allowed is not known here: the keeper checks, and complains key by key.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::{Deserialize, Serialize};
use tokio::sync::oneshot;
use utoipa::ToSchema;

use super::display::{CrewUnits, RigEntry};
use crate::forecast::BiteZone;

/// What is set, as pages show it.
#[derive(Debug, Clone, PartialEq)]
pub struct SetUp {
    /// Units the crew thinks in.
    pub units: CrewUnits,
    /// The rig as the model takes it, for people to check.
    pub rig: Vec<RigEntry>,
    /// Where bites come best.
    pub bite_zone: BiteZone,
    /// Where changes are kept.
    pub kept: Kept,
    /// What a page may change.
    pub entries: Vec<SettingEntry>,
    /// What stands on the boat, as far as a page may change it.
    pub structures: Vec<StructureEntry>,
    /// An empty one after the last, to be filled in; `None` when no more may be added.
    pub next_structure: Option<StructureEntry>,
    /// Counts the changes since the start of the program.
    pub revision: u64,
}

/// Where changes of settings are kept.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[serde(tag = "in", rename_all = "snake_case")]
pub enum Kept {
    /// In the settings file.
    File {
        /// Its path.
        path: String,
        /// Where the file before the last change is.
        previous: String,
    },
    /// Nowhere: a demo or replay forgets them when it ends.
    Memory,
}

/// The value of a setting.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(untagged)]
pub enum SettingValue {
    /// A number in the unit of its key.
    Number(f64),
    /// A word.
    Word(String),
}

/// Where a value comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SettingGrade {
    /// It was set for this boat.
    Own,
    /// A typical value, or one estimated from others, stands in.
    Assumed,
    /// There is none.
    Unset,
}

/// One setting that a page may change.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SettingEntry {
    /// Key in the file with its sections, its unit at the end: "rig.kite.area_m2".
    pub key: String,
    /// What it belongs to.
    pub group: &'static str,
    /// Its name in words.
    pub name: &'static str,
    /// What it is and where to measure it.
    pub explanation: &'static str,
    /// Its value; `null` when there is none.
    pub value: Option<SettingValue>,
    /// Where that comes from.
    pub grade: SettingGrade,
    /// Unit of a number: "m", "mm", "kg", "g/m", "N", ...; empty for a plain number or a word.
    pub unit: &'static str,
    /// Least and greatest number.
    pub range: Option<[f64; 2]>,
    /// The words allowed; empty for a number or free text.
    pub words: &'static [&'static str],
    /// Most characters of a free text; `null` for a number or a word.
    pub longest: Option<usize>,
    /// Whether it may be taken out (`null`), so that an estimate or nothing takes its place.
    pub optional: bool,
}

/// A part of the boat that a line must not touch.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct StructureEntry {
    /// What all its keys begin with; `null` for it takes the structure out: "boat.structure.1".
    pub key: String,
    /// Its settings.
    pub settings: Vec<SettingEntry>,
}

/// A change of settings on its way to the keeper.
#[derive(Debug)]
pub struct SettingsPost {
    /// New values by key; `None` takes a key out.
    pub changes: BTreeMap<String, Option<SettingValue>>,
    /// Answer: what is set now, or why nothing was changed.
    pub reply: oneshot::Sender<Result<Arc<SetUp>, SettingsRefusal>>,
}

/// One complaint about one key.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct KeyProblem {
    /// Key with its sections.
    pub key: String,
    /// What is wrong and what is allowed.
    pub problem: String,
    /// What to do about it.
    pub cure: String,
}

/// Why a change of settings was refused; nothing was changed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SettingsRefusal {
    /// Complaints about what the settings would be.
    Wrong(Vec<KeyProblem>),
    /// The file could not be written, or is not what was read.
    NotSaved {
        /// What happened.
        detail: String,
        /// What to do about it.
        cure: String,
    },
    /// The program takes no input any more.
    Ended,
}

/// The settings that a page may change, and where changes are kept.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SettingsAnswer {
    /// Where changes are kept.
    pub kept: Kept,
    /// Units the crew thinks in, for pages; values here are in the unit of their key.
    pub units: CrewUnits,
    /// The settings.
    pub settings: Vec<SettingEntry>,
    /// What stands on the boat and a line must not touch.
    pub structures: Vec<StructureEntry>,
    /// An empty one to be filled in: setting its keys adds it. `null` when no more may be added.
    pub next_structure: Option<StructureEntry>,
}

impl SettingsAnswer {
    pub(super) fn new(set_up: &SetUp) -> Self {
        Self {
            kept: set_up.kept.clone(),
            units: set_up.units,
            settings: set_up.entries.clone(),
            structures: set_up.structures.clone(),
            next_structure: set_up.next_structure.clone(),
        }
    }
}
