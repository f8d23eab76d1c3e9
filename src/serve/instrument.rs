//! What the crew says of a source of the instruments.

use std::sync::Arc;

use axum::extract::State;
use serde::Deserialize;
use utoipa::ToSchema;

use super::body::Body;
use super::crew::{Answer, record};
use super::problem::Problem;
use super::room::Room;
use super::sources::Recorded;
use crate::decode::CrewInput;

/// Whether a source is used.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct InstrumentBody {
    /// Its name, from `sources` of `/v1/state`.
    #[schema(max_length = 44)]
    pub name: String,
    /// False: it is ignored until it is used again.
    pub used: bool,
}

/// Ignores a source of the instruments, or uses it again.
#[utoipa::path(post, path = "/v1/crew/instrument", tag = "crew",
    security(("phone" = ["crew"])), request_body = InstrumentBody,
    responses((status = 202, body = Recorded), (status = 404, body = Problem,
        description = "No such source", content_type = "application/problem+json")))]
pub(super) async fn instrument(
    State(room): State<Arc<Room>>,
    Body(body): Body<InstrumentBody>,
) -> Answer {
    let snapshot = room.snapshot();
    let sources = &snapshot.vessel.sources;
    if !sources.iter().any(|source| source.name == body.name) {
        return Err(Problem::no_such_source(&body.name));
    }
    let input = CrewInput::Source {
        name: body.name,
        used: body.used,
    };
    record(&room, input).await
}
