//! Reading the settings that a page may change, and handing changes to their keeper.

use std::collections::BTreeMap;
use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::response::Response;
use serde::Deserialize;
use tokio::sync::oneshot;
use utoipa::openapi::{ObjectBuilder, OneOfBuilder, Ref, RefOr, Schema, Type};
use utoipa::{PartialSchema, ToSchema};

use super::body::Body;
use super::problem::Problem;
use super::read::fresh;
use super::room::Room;
use super::setup::{SettingsAnswer, SettingsPost, SettingsRefusal};
use super::who;
use crate::settings::SettingValue;

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

/// The settings that can be changed, with value, unit, range and explanation.
#[utoipa::path(get, path = "/v1/settings", tag = "set-up",
    security((), ("phone" = ["look"])),
    responses((status = 200, description = "The settings", body = SettingsAnswer)))]
pub(super) async fn read(State(room): State<Arc<Room>>) -> Response {
    fresh(Json(SettingsAnswer::new(&room.sources.set_up.borrow())))
}

/// Changes settings: an object of keys and new values, `null` to take one out (of
/// "boat.structure.2" the whole structure, and those after it move up). All are taken or none. Saved, recorded as crew sentences and in effect when answered.
#[utoipa::path(put, path = "/v1/settings", tag = "set-up",
    security(("phone" = ["keeper"])),
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
    let post = SettingsPost {
        changes,
        by: who::by(),
        reply,
    };
    if room.sources.settings.send(post).await.is_err() {
        return Err(Problem::settings(SettingsRefusal::Ended));
    }
    match answer.await {
        Ok(Ok(set_up)) => Ok(fresh(Json(SettingsAnswer::new(&set_up)))),
        Ok(Err(refusal)) => Err(Problem::settings(refusal)),
        Err(_) => Err(Problem::settings(SettingsRefusal::Ended)),
    }
}
