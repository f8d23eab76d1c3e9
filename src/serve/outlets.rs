//! What other devices are told (by `push`), in the shapes of the API.

use serde::Serialize;
use utoipa::openapi::path::{HttpMethod, OperationBuilder, PathItem, PathsBuilder};
use utoipa::openapi::request_body::RequestBodyBuilder;
use utoipa::openapi::{Content, OpenApi, Ref, Required, ResponseBuilder};
use utoipa::{PartialSchema, ToSchema};

use super::state::DeckAnswer;
use super::vessel_state::VesselAnswer;
use crate::advice::Advisory;
use crate::engine::{LATE_S, Snapshot};
use crate::forecast::Chance;
use crate::time::Millis;

/// The living advisories, as the webhook posts and MQTT publishes them. The last one told is all that
/// counts: what is not in it any more is over.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LivingTold {
    /// When this run of the program made its first picture; revisions count from there.
    #[schema(value_type = String, format = DateTime)]
    pub run_began_at: Millis,
    /// 1, 2, 3, ... One that is not greater than the last of the same run is old.
    pub revision: u64,
    /// Moment of this revision.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
    /// Seconds since then, when it was sent.
    pub age_s: f64,
    /// Whether pictures no longer come: then nobody knows what is so now.
    pub late: bool,
    /// Until when there is to be no sound.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub silenced_until: Option<Millis>,
    /// Living advisories, most pressing first.
    pub advisories: Vec<Advisory>,
}

/// The boat's numbers, as MQTT publishes them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NumbersTold {
    /// Moment of the picture.
    pub at: Millis,
    /// Seconds by which it is older than the clock, when it was sent.
    pub lag_s: f64,
    /// Whether that is more than 3 s.
    pub late: bool,
    /// The boat, as in the state.
    pub vessel: VesselAnswer,
    /// What the crew has told, as in the state.
    pub deck: DeckAnswer,
    /// The chance of each trouble within the horizon, as in the forecast; `None` when there is no
    /// forecast.
    pub chances: Option<Vec<Chance>>,
}

impl NumbersTold {
    /// Of a picture that is so old now.
    #[must_use]
    pub fn new(snapshot: &Snapshot, lag_s: f64) -> Self {
        Self {
            at: snapshot.at,
            lag_s,
            late: lag_s > LATE_S,
            vessel: VesselAnswer::new(&snapshot.vessel, snapshot.at),
            deck: DeckAnswer::new(&snapshot.deck, snapshot.at),
            chances: (snapshot.forecast.as_ref().ok()).map(|forecast| forecast.chances.clone()),
        }
    }
}

/// Adds what the webhook posts to the interface document.
pub(super) fn describe(api: &mut OpenApi) {
    let components = api.components.get_or_insert_default();
    let name = LivingTold::name().into_owned();
    components
        .schemas
        .insert(name.clone(), LivingTold::schema());
    let body = RequestBodyBuilder::new()
        .content(
            "application/json",
            Content::new(Some(Ref::from_schema_name(name))),
        )
        .required(Some(Required::True))
        .build();
    let taken = ResponseBuilder::new()
        .description(
            "Any 2xx within 5 s: it is taken. Anything else is tried again, with what is so then",
        )
        .build();
    let operation = OperationBuilder::new()
        .operation_id(Some("living_advisories"))
        .summary(Some("A change of the living advisories"))
        .description(Some(
            "Posted to `address` of `[webhook]`, with \"Authorization: Bearer SECRET\" where \
             `secret_file` is set. One post at a time; the first is sent at the start.",
        ))
        .request_body(Some(body))
        .response("2XX", taken)
        .build();
    let item = PathItem::new(HttpMethod::Post, operation);
    api.webhooks = Some(PathsBuilder::new().path("living-advisories", item).build());
}
