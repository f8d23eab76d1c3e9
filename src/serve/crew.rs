//! Crew posts. Each body becomes a [`CrewInput`] that is stamped, takes effect as a crew sentence and
//! is recorded as one. The answer holds the sentence's sequence number and whether the sentence is on
//! the disk; it waits until that is known.

use std::sync::Arc;

use axum::Json;
use axum::extract::rejection::PathRejection;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use serde::Deserialize;
use tokio::sync::oneshot;
use utoipa::ToSchema;

use super::body::{Body, optional_object};
use super::problem::Problem;
use super::ranges;
use super::room::Room;
use super::sources::{CrewPost, Recorded};
use super::who;
use crate::advice::first_asked;
use crate::decode::{Asked, BaitState, CrewInput, Line, PlanAnswer, SessionMark};
use crate::units;
use crate::vessel::AGAIN_S;

/// An answer so soon after another that does not say to what is not counted as a second one.
const UNNAMED_AGAIN_S: f64 = 10.0;

/// Line out now, as read from marks or counter; at least one of the two.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LinesOutBody {
    /// Kite line, rod tip to kite.
    #[serde(default)]
    pub kite_line_out_m: Option<f64>,
    /// Main line, rod tip through the ring to the bait.
    #[serde(default)]
    pub main_line_out_m: Option<f64>,
}

/// Line given or taken.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MovedBody {
    /// Which line.
    pub line: Line,
    /// + given, - taken; not 0.
    pub by_m: f64,
}

/// What the bait is seen to do.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BaitBody {
    /// What it does.
    pub state: BaitState,
}

/// Takes an earlier input back.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct UndoBody {
    /// Its sequence number, as answered when it was posted.
    #[schema(format = Int64, maximum = 4_294_967_295_u32)]
    pub sequence: u32,
}

/// Kite elevation seen.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ElevationBody {
    /// Angle of the kite line above the horizon at the kite rod.
    pub elevation_deg: f64,
}

/// Kite bearing seen.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BearingBody {
    /// Off dead astern, + to starboard.
    pub off_astern_deg: f64,
}

/// Where the marker lies.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MarkerBody {
    /// Whether it lies in the water.
    pub in_water: bool,
}

/// A turn that is intended.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TurnBody {
    /// Change of heading, + to starboard; not 0.
    pub by_deg: f64,
    /// Rate, without sign.
    pub rate_deg_s: f64,
    /// Seconds until the helm goes over.
    pub in_s: f64,
}

/// What became of the line that an advisory asked for.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanBody {
    /// The answer. Done and half move the counted line by so much of what was asked; what else
    /// was done is then told as line moved.
    pub answer: PlanAnswer,
    /// To what, as it was read. Left out: to what the most pressing advisory asks for first now.
    #[serde(default, deserialize_with = "optional_object")]
    pub asked: Option<AskedBody>,
}

/// The line that an advisory asked for.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AskedBody {
    /// Id of the advisory.
    pub advisory: String,
    /// Its revision.
    #[schema(format = Int64, maximum = 4_294_967_295_u32)]
    pub revision: u32,
    /// Which line.
    pub line: Line,
    /// + give, - take; not 0.
    pub by_m: f64,
}

/// Start or stop of fishing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Fishing {
    /// The rig goes out.
    Start,
    /// The rig is in.
    Stop,
}

/// Start or stop of fishing.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SessionBody {
    /// Which.
    pub fishing: Fishing,
}

/// No sound for a while.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SilenceBody {
    /// How long; 0 ends a silence.
    pub minutes: f64,
}

pub(super) type Answer = Result<(StatusCode, Json<Recorded>), Problem>;

/// Hands an input to the stamper and waits until it is kept.
pub(super) async fn record(room: &Room, input: CrewInput) -> Answer {
    let (reply, answer) = oneshot::channel();
    let at = room.snapshot().at;
    let post = CrewPost {
        input: input.clone(),
        by: who::by(),
        reply,
    };
    let outcome = match room.sources.crew.send(post).await {
        Err(_) => Err(Problem::not_taking_input("nothing takes crew inputs now")),
        Ok(()) => match answer.await {
            Err(_) => Err(Problem::not_taking_input("the input was dropped")),
            Ok(Err(why)) => Err(Problem::refused(why)),
            Ok(Ok(recorded)) => {
                room.said.note(at, recorded.sequence, &input);
                Ok((StatusCode::ACCEPTED, Json(recorded)))
            }
        },
    };
    room.counters.crew_input(outcome.is_ok());
    outcome
}

/// Sets the line that is out.
#[utoipa::path(post, path = "/v1/crew/lines-out", tag = "crew",
    security(("phone" = ["crew"])), request_body = LinesOutBody,
    responses((status = 202, body = Recorded)))]
pub(super) async fn lines_out(
    State(room): State<Arc<Room>>,
    Body(body): Body<LinesOutBody>,
) -> Answer {
    let length = |range: ranges::Range, value: Option<f64>| {
        value.map(|m| range.check(m).map(units::metres)).transpose()
    };
    let kite = length(ranges::KITE_LINE_OUT, body.kite_line_out_m)?;
    let main = length(ranges::MAIN_LINE_OUT, body.main_line_out_m)?;
    if kite.is_none() && main.is_none() {
        return Err(Problem::incomplete(
            "kite_line_out_m",
            "neither line is given",
            "send kite_line_out_m, main_line_out_m or both",
        ));
    }
    record(&room, CrewInput::LinesOut { kite, main }).await
}

/// Line was given or taken.
#[utoipa::path(post, path = "/v1/crew/moved", tag = "crew",
    security(("phone" = ["crew"])), request_body = MovedBody,
    responses((status = 202, body = Recorded)))]
pub(super) async fn moved(State(room): State<Arc<Room>>, Body(body): Body<MovedBody>) -> Answer {
    let by_m = ranges::MOVED_BY.check(body.by_m)?;
    let input = CrewInput::Moved {
        line: body.line,
        by: units::metres(by_m),
    };
    record(&room, input).await
}

/// What the bait does now.
#[utoipa::path(post, path = "/v1/crew/bait", tag = "crew",
    security(("phone" = ["crew"])), request_body = BaitBody,
    responses((status = 202, body = Recorded)))]
pub(super) async fn bait(State(room): State<Arc<Room>>, Body(body): Body<BaitBody>) -> Answer {
    record(&room, CrewInput::Bait(body.state)).await
}

/// Takes an earlier input back.
#[utoipa::path(post, path = "/v1/crew/undo", tag = "crew",
    security(("phone" = ["crew"])), request_body = UndoBody,
    responses((status = 202, body = Recorded), (status = 404, body = Problem,
        description = "Never said, said too long ago, or taken back already",
        content_type = "application/problem+json")))]
pub(super) async fn undo(State(room): State<Arc<Room>>, Body(body): Body<UndoBody>) -> Answer {
    if !room.said.can_take_back(room.snapshot().at, body.sequence) {
        return Err(Problem::nothing_to_undo(body.sequence));
    }
    record(&room, CrewInput::Undo { of: body.sequence }).await
}

/// Kite elevation seen.
#[utoipa::path(post, path = "/v1/crew/elevation", tag = "crew",
    security(("phone" = ["crew"])), request_body = ElevationBody,
    responses((status = 202, body = Recorded)))]
pub(super) async fn elevation(
    State(room): State<Arc<Room>>,
    Body(body): Body<ElevationBody>,
) -> Answer {
    let deg = ranges::ELEVATION.check(body.elevation_deg)?;
    record(&room, CrewInput::Elevation(units::degrees(deg))).await
}

/// Kite bearing seen.
#[utoipa::path(post, path = "/v1/crew/bearing", tag = "crew",
    security(("phone" = ["crew"])), request_body = BearingBody,
    responses((status = 202, body = Recorded)))]
pub(super) async fn bearing(
    State(room): State<Arc<Room>>,
    Body(body): Body<BearingBody>,
) -> Answer {
    let deg = ranges::OFF_ASTERN.check(body.off_astern_deg)?;
    record(&room, CrewInput::Bearing(units::degrees(deg))).await
}

/// Whether the marker lies in the water.
#[utoipa::path(post, path = "/v1/crew/marker", tag = "crew",
    security(("phone" = ["crew"])), request_body = MarkerBody,
    responses((status = 202, body = Recorded)))]
pub(super) async fn marker(State(room): State<Arc<Room>>, Body(body): Body<MarkerBody>) -> Answer {
    record(&room, CrewInput::MarkerInWater(body.in_water)).await
}

/// Announces a turn.
#[utoipa::path(post, path = "/v1/crew/turn", tag = "crew",
    security(("phone" = ["crew"])), request_body = TurnBody,
    responses((status = 202, body = Recorded)))]
pub(super) async fn turn(State(room): State<Arc<Room>>, Body(body): Body<TurnBody>) -> Answer {
    let by_deg = ranges::TURN_BY.check(body.by_deg)?;
    let rate_deg_s = ranges::TURN_RATE.check(body.rate_deg_s)?;
    let in_s = ranges::TURN_IN.check(body.in_s)?;
    let input = CrewInput::Turn {
        by: units::degrees(by_deg),
        rate: units::degrees_per_second(rate_deg_s),
        in_s,
    };
    record(&room, input).await
}

/// Calls the announced turn off.
#[utoipa::path(post, path = "/v1/crew/turn/call-off", tag = "crew",
    security(("phone" = ["crew"])),
    responses((status = 202, body = Recorded)))]
pub(super) async fn call_off_turn(State(room): State<Arc<Room>>) -> Answer {
    record(&room, CrewInput::CallOffTurn).await
}

/// What became of the line that an advisory asked for, one line of one revision at a time.
#[utoipa::path(post, path = "/v1/crew/plan", tag = "crew",
    security(("phone" = ["crew"])), request_body = PlanBody,
    responses((status = 202, body = Recorded), (status = 404, body = Problem,
        description = "No such advisory lives", content_type = "application/problem+json"),
        (status = 409, body = Problem, description = "Answered already, or nothing is asked",
        content_type = "application/problem+json")))]
pub(super) async fn plan(State(room): State<Arc<Room>>, Body(body): Body<PlanBody>) -> Answer {
    let _turn = room.answering.lock().await;
    let snapshot = room.snapshot();
    let again_s = if body.asked.is_some() {
        AGAIN_S
    } else {
        UNNAMED_AGAIN_S
    };
    let asked = match body.asked {
        Some(asked) => {
            if !snapshot.advisories.iter().any(|a| a.id == asked.advisory) {
                return Err(Problem::no_such_advisory(&asked.advisory));
            }
            let by_m = ranges::ASKED_BY.check(asked.by_m)?;
            Asked {
                advisory: asked.advisory,
                revision: asked.revision,
                line: asked.line,
                by: units::metres(by_m),
            }
        }
        None => first_asked(&snapshot.advisories).ok_or_else(Problem::nothing_asked)?,
    };
    let at = snapshot.at;
    let shown = snapshot.deck.answers.earlier(at, &asked, again_s).cloned();
    if let Some(earlier) = shown.or_else(|| room.said.answered(at, &asked, again_s)) {
        return Err(Problem::answered(&earlier, at));
    }
    let input = CrewInput::Plan {
        answer: body.answer,
        asked: Some(asked),
    };
    record(&room, input).await
}

/// A fish has taken the bait.
#[utoipa::path(post, path = "/v1/crew/bite", tag = "crew",
    security(("phone" = ["crew"])),
    responses((status = 202, body = Recorded)))]
pub(super) async fn bite(State(room): State<Arc<Room>>) -> Answer {
    record(&room, CrewInput::Bite).await
}

/// Fishing starts or stops.
#[utoipa::path(post, path = "/v1/crew/session", tag = "crew",
    security(("phone" = ["crew"])), request_body = SessionBody,
    responses((status = 202, body = Recorded)))]
pub(super) async fn session(
    State(room): State<Arc<Room>>,
    Body(body): Body<SessionBody>,
) -> Answer {
    let mark = match body.fishing {
        Fishing::Start => SessionMark::Start,
        Fishing::Stop => SessionMark::Stop,
    };
    record(&room, CrewInput::Session(mark)).await
}

/// What the crew's reports have taught of the kite in use is forgotten, here and in the file of
/// `forecast.learnt_file`. It cannot be taken back. What was learnt of other kites stays.
#[utoipa::path(post, path = "/v1/crew/forget", tag = "crew",
    security(("phone" = ["keeper"])),
    responses((status = 202, body = Recorded)))]
pub(super) async fn forget(State(room): State<Arc<Room>>) -> Answer {
    record(&room, CrewInput::Forget).await
}

/// Somebody has seen the advisory. It stays until the trouble is over; only sound and
/// flashing stop.
#[utoipa::path(post, path = "/v1/advisories/{id}/acknowledge", tag = "crew",
    security(("phone" = ["crew"])),
    params(("id" = String, Path, description = "Id of a living advisory")),
    responses((status = 202, body = Recorded), (status = 404, body = Problem,
        description = "No such advisory lives", content_type = "application/problem+json")))]
pub(super) async fn acknowledge(
    State(room): State<Arc<Room>>,
    id: Result<Path<String>, PathRejection>,
) -> Answer {
    let Path(id) = id.map_err(|rejection| Problem::unreadable_path(&rejection.body_text()))?;
    let snapshot = room.snapshot();
    let Some(shown) = snapshot.advisories.iter().find(|a| a.id == id) else {
        return Err(Problem::no_such_advisory(&id));
    };
    let input = CrewInput::Acknowledge {
        priority: Some(shown.priority),
        advisory: id,
    };
    record(&room, input).await
}

/// No sound for a while. Not the same as acknowledging: everything stays in sight.
#[utoipa::path(post, path = "/v1/silence", tag = "crew",
    security(("phone" = ["crew"])), request_body = SilenceBody,
    responses((status = 202, body = Recorded)))]
pub(super) async fn silence(
    State(room): State<Arc<Room>>,
    Body(body): Body<SilenceBody>,
) -> Answer {
    let minutes = ranges::SILENCE.check(body.minutes)?;
    record(&room, CrewInput::Silence { minutes }).await
}
