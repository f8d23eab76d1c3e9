//! The settings as the API answers them, and changes on their way to whoever keeps them.
//! What is allowed is not known here; the keeper checks, and its complaints come back key by key.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::Serialize;
use tokio::sync::oneshot;
use utoipa::ToSchema;

use crate::key::{self, Complaint};
use crate::settings::{CrewUnits, Kept, SetUp, SettingEntry, SettingValue, StructureEntry};

/// A change of settings on its way to the keeper.
#[derive(Debug)]
pub struct SettingsPost {
    /// New values by key; `None` takes a key out.
    pub changes: BTreeMap<String, Option<SettingValue>>,
    /// Whose phone asks for it; `None` where nothing is locked.
    pub by: Option<Arc<str>>,
    /// Answer: what is set now, or why nothing was changed.
    pub reply: oneshot::Sender<Result<Arc<SetUp>, SettingsRefusal>>,
}

/// One complaint about one key.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct KeyProblem {
    /// Key with its sections.
    pub key: String,
    /// What is wrong and what is allowed.
    pub problem: String,
    /// What to do about it.
    pub cure: String,
    /// Least and greatest number, when the value is outside.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub range: Option<[f64; 2]>,
}

impl From<Complaint> for KeyProblem {
    fn from(complaint: Complaint) -> Self {
        Self {
            range: match &complaint.problem {
                key::Problem::NotAllowed(allowed) => allowed.range(),
                key::Problem::Missing | key::Problem::Other(_) => None,
            },
            key: complaint.key,
            problem: complaint.problem.to_string(),
            cure: complaint.cure,
        }
    }
}

/// Why a change of settings was refused; nothing was changed.
#[derive(Debug, Clone, PartialEq)]
pub enum SettingsRefusal {
    /// Complaints about what the settings would be.
    Wrong(Vec<Complaint>),
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
