//! What is set, as the pages show it.

use std::sync::Arc;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::crew::CrewUnits;
use super::rig_keys::kite_winds_mps;
use crate::forecast::BiteZone;
use crate::key::{Allowed, Fallback, Key};
use crate::locker::Locker;
use crate::vessel::Grade;

/// What is set, as pages show it.
#[derive(Debug, Clone, PartialEq)]
pub struct SetUp {
    /// Units the crew thinks in.
    pub units: CrewUnits,
    /// The rig as the model takes it, for people to check.
    pub rig: Vec<RigEntry>,
    /// All parts aboard, for the check of today's rig.
    pub locker: Arc<Locker>,
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
    pub explanation: String,
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
    /// The wind that each of the words stands for, least and most, in their order; empty where they
    /// stand for none.
    pub words_wind_mps: Vec<[f64; 2]>,
    /// Most characters of a free text; `null` for a number or a word.
    pub longest: Option<usize>,
    /// Whether it may be taken out (`null`), so that an estimate or nothing takes its place.
    pub optional: bool,
    /// Whether an estimate or a usual value then takes its place.
    pub estimated: bool,
}

/// A part of the boat that a line must not touch.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct StructureEntry {
    /// What all its keys begin with; `null` for it takes the structure out: "boat.structure.1".
    pub key: String,
    /// Its settings.
    pub settings: Vec<SettingEntry>,
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

impl SettingEntry {
    /// The setting under its whole key: the value `written` in the file, else the `estimate`, else
    /// the default.
    pub(super) fn new(
        row: &Key,
        key: &str,
        written: Option<SettingValue>,
        estimate: Option<f64>,
    ) -> Option<Self> {
        let page = row.page?;
        let stand_in = match row.fallback {
            Fallback::Number(number) => Some(SettingValue::Number(number)),
            Fallback::Word(word) => Some(SettingValue::Word(word.to_owned())),
            Fallback::Estimate => estimate
                .map(|value| SettingValue::Number(format!("{value:.3e}").parse().unwrap_or(value))),
            Fallback::Needed | Fallback::Nothing | Fallback::Flag(_) => None,
        };
        let grade = match (&written, &stand_in) {
            (Some(_), _) => SettingGrade::Own,
            (None, Some(_)) => SettingGrade::Assumed,
            (None, None) => SettingGrade::Unset,
        };
        Some(Self {
            key: key.to_owned(),
            group: page.group.title(),
            name: page.name,
            explanation: row.explanation(),
            value: written.or(stand_in),
            grade,
            unit: row.unit,
            range: row.allowed.range(),
            words: match row.allowed {
                Allowed::Words(words) => words,
                _ => &[],
            },
            words_wind_mps: match row.allowed {
                Allowed::Words(words) => kite_winds_mps(words),
                _ => Vec::new(),
            },
            longest: match row.allowed {
                Allowed::Text(longest) => Some(longest),
                _ => None,
            },
            optional: row.fallback != Fallback::Needed,
            estimated: matches!(
                row.fallback,
                Fallback::Number(_) | Fallback::Word(_) | Fallback::Estimate
            ),
        })
    }
}
