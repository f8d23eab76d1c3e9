//! The settings that a page may change: reading them, and handing changes to whoever keeps them.
//! What is allowed is not known here; the keeper checks, and its complaints come back key by key.

use std::collections::BTreeMap;
use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::response::Response;
use serde::{Deserialize, Serialize};
use tokio::sync::oneshot;
use utoipa::openapi::{ObjectBuilder, OneOfBuilder, Ref, RefOr, Schema, Type};
use utoipa::{PartialSchema, ToSchema};

use super::body::Body;
use super::problem::Problem;
use super::read::fresh;
use super::room::Room;
use crate::key::{self, Complaint};
use crate::settings::{CrewUnits, Kept, SetUp, SettingEntry, SettingValue, StructureEntry};

/// Most keys in one change.
const CHANGES_MAX: usize = 60;

/// New values by key; `null` takes a key out.
#[derive(Debug, Deserialize)]
#[serde(transparent)]
pub(super) struct Changes(BTreeMap<String, Option<SettingValue>>);

impl PartialSchema for Changes {
    fn schema() -> RefOr<Schema> {
        let value = OneOfBuilder::new()
            .item(Ref::from_schema_name(SettingValue::name()))
            .item(ObjectBuilder::new().schema_type(Type::Null));
        ObjectBuilder::new()
            .min_properties(Some(1))
            .max_properties(Some(CHANGES_MAX))
            .additional_properties(Some(Schema::from(value)))
            .into()
    }
}

impl ToSchema for Changes {}

/// A change of settings on its way to the keeper.
#[derive(Debug)]
pub struct SettingsPost {
    /// New values by key; `None` takes a key out.
    pub changes: BTreeMap<String, Option<SettingValue>>,
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
    fn new(set_up: &SetUp) -> Self {
        Self {
            kept: set_up.kept.clone(),
            units: set_up.units,
            settings: set_up.entries.clone(),
            structures: set_up.structures.clone(),
            next_structure: set_up.next_structure.clone(),
        }
    }
}

/// The settings that can be changed, with value, unit, range and explanation.
#[utoipa::path(get, path = "/v1/settings", tag = "set-up",
    responses((status = 200, description = "The settings", body = SettingsAnswer)))]
pub(super) async fn read(State(room): State<Arc<Room>>) -> Response {
    fresh(Json(SettingsAnswer::new(&room.sources.set_up.borrow())))
}

/// Changes settings: an object of keys and new values, `null` to take one out (of
/// "boat.structure.2" the whole structure, and those after it move up). All are taken or none. Saved, recorded as crew sentences and in effect when answered.
#[utoipa::path(put, path = "/v1/settings", tag = "set-up",
    request_body(content = inline(Changes), description = "New values by key"),
    responses((status = 200, description = "What is set now", body = SettingsAnswer),
        (status = 422, description = "Complaints by key", body = Problem,
            content_type = "application/problem+json"),
        (status = 409, description = "Not saved", body = Problem,
            content_type = "application/problem+json")))]
pub(super) async fn change(
    State(room): State<Arc<Room>>,
    Body(Changes(changes)): Body<Changes>,
) -> Result<Response, Problem> {
    if changes.is_empty() || changes.len() > CHANGES_MAX {
        return Err(Problem::number_of_keys(changes.len(), CHANGES_MAX));
    }
    let (reply, answer) = oneshot::channel();
    let post = SettingsPost { changes, reply };
    if room.sources.settings.send(post).await.is_err() {
        return Err(Problem::settings(SettingsRefusal::Ended));
    }
    match answer.await {
        Ok(Ok(set_up)) => Ok(fresh(Json(SettingsAnswer::new(&set_up)))),
        Ok(Err(refusal)) => Err(Problem::settings(refusal)),
        Err(_) => Err(Problem::settings(SettingsRefusal::Ended)),
    }
}
