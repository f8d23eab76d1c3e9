//! A pass of the bait over a mark: what the helm says of it.

use std::sync::Arc;

use axum::extract::State;
use serde::Deserialize;
use utoipa::ToSchema;

use super::body::Body;
use super::crew::{Answer, record};
use super::problem::Problem;
use super::room::Room;
use super::sources::Recorded;
use crate::decode::{CrewInput, PassWord};
use crate::pass::PassState;

/// What is said of a pass over a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PassBody {
    /// What.
    pub said: PassWord,
    /// Number of the mark, from `/v1/marks`.
    #[schema(minimum = 1, maximum = 9999)]
    pub mark: u32,
}

/// Asks for the plan of a pass over a mark, accepts or declines the one that is offered, or ends the
/// one that was accepted. The turns of an accepted pass count as announced. What is planned is in
/// `pass` of `/v1/state`; it knows no traffic, depth or land.
#[utoipa::path(post, path = "/v1/crew/pass", tag = "crew",
    security(("phone" = ["crew"])), request_body = PassBody,
    responses((status = 202, body = Recorded), (status = 404, body = Problem,
        description = "No such mark", content_type = "application/problem+json"),
        (status = 409, body = Problem,
        description = "No plan over this mark is offered, or none was accepted",
        content_type = "application/problem+json")))]
pub(super) async fn pass(State(room): State<Arc<Room>>, Body(body): Body<PassBody>) -> Answer {
    let snapshot = room.snapshot();
    if !snapshot.marks.iter().any(|mark| mark.number == body.mark) {
        return Err(Problem::no_such_mark(body.mark));
    }
    let now = snapshot.pass.as_ref().filter(|now| now.mark == body.mark);
    let fits = match (body.said, now) {
        (PassWord::Ask | PassWord::Decline, _) => true,
        (PassWord::Accept, Some(now)) => now.state == PassState::Offered && now.chance.is_some(),
        (PassWord::End, Some(now)) => {
            matches!(now.state, PassState::Accepted | PassState::UnderWay)
        }
        (PassWord::Accept | PassWord::End, None) => false,
    };
    if !fits {
        return Err(Problem::not_that_pass());
    }
    let input = CrewInput::Pass {
        mark: body.mark,
        said: body.said,
    };
    record(&room, input).await
}
