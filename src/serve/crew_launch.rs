//! Crew posts of a launch: it begins, its steps are answered one at a time, it ends.

use std::sync::Arc;

use axum::extract::State;
use serde::Deserialize;
use utoipa::ToSchema;

use super::body::Body;
use super::crew::{Answer, record};
use super::problem::Problem;
use super::ranges;
use super::room::Room;
use super::sources::Recorded;
use crate::decode::crew_sentence::MAX_STEPS;
use crate::decode::{CrewInput, LaunchDay, LaunchSaid};
use crate::units;

/// The day for which the steps are made, as `/v1/launch` answers it.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LaunchBody {
    /// Mean true wind at 10 m.
    pub wind_mps: f64,
    /// Gusts at 10 m; not below the wind.
    pub gust_mps: f64,
    /// Boat through the water.
    pub speed_mps: f64,
    /// True wind off the bow, 0 ahead, 180 astern.
    pub off_bow_deg: f64,
    /// Kite line that is to be out at last.
    pub kite_line_out_m: f64,
}

/// How far a launch has come.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LaunchStepBody {
    /// Steps that are answered, counted from the first; one fewer than before is a step back.
    #[schema(maximum = 99)]
    pub answered: u32,
    /// Kite line out by then, rod tip to kite; left out: as before.
    #[serde(default)]
    pub kite_line_out_m: Option<f64>,
    /// Main line out by then, rod tip through the ring to the bait; left out: as before.
    #[serde(default)]
    pub main_line_out_m: Option<f64>,
}

/// A launch begins, kite and bait in. What was told of lines, bait and kite is forgotten; fishing
/// has started.
#[utoipa::path(post, path = "/v1/crew/launch", tag = "crew",
    security(("phone" = ["crew"])), request_body = LaunchBody,
    responses((status = 202, body = Recorded)))]
pub(super) async fn launch_begins(
    State(room): State<Arc<Room>>,
    Body(body): Body<LaunchBody>,
) -> Answer {
    let wind_mps = ranges::LAUNCH_WIND.check(body.wind_mps)?;
    let gust_mps = ranges::LAUNCH_GUST.check(body.gust_mps)?;
    if gust_mps < wind_mps {
        let allowed = format!("wind_mps ({wind_mps}) or above");
        return Err(Problem::out_of_range("gust_mps", gust_mps, &allowed));
    }
    let day = LaunchDay {
        wind: units::metres_per_second(wind_mps),
        gust: units::metres_per_second(gust_mps),
        speed: units::metres_per_second(ranges::LAUNCH_SPEED.check(body.speed_mps)?),
        off_bow: units::degrees(ranges::LAUNCH_OFF_BOW.check(body.off_bow_deg)?),
        kite_line: units::metres(ranges::LAUNCH_KITE_LINE.check(body.kite_line_out_m)?),
    };
    record(&room, CrewInput::Launch(LaunchSaid::Begun(day))).await
}

/// So many steps of the launch are answered, and so much line is out. Without a launch under way
/// only the lines count.
#[utoipa::path(post, path = "/v1/crew/launch/step", tag = "crew",
    security(("phone" = ["crew"])), request_body = LaunchStepBody,
    responses((status = 202, body = Recorded)))]
pub(super) async fn launch_step(
    State(room): State<Arc<Room>>,
    Body(body): Body<LaunchStepBody>,
) -> Answer {
    if body.answered > MAX_STEPS {
        let allowed = format!("0 to {MAX_STEPS}");
        return Err(Problem::out_of_range(
            "answered",
            f64::from(body.answered),
            &allowed,
        ));
    }
    let length = |range: ranges::Range, value: Option<f64>| {
        value.map(|m| range.check(m).map(units::metres)).transpose()
    };
    let said = LaunchSaid::Answered {
        steps: body.answered,
        kite: length(ranges::STEP_KITE_LINE, body.kite_line_out_m)?,
        main: length(ranges::STEP_MAIN_LINE, body.main_line_out_m)?,
    };
    record(&room, CrewInput::Launch(said)).await
}

/// The launch is over: the bait is trimmed, or it was given up. The lines stay as they were told.
#[utoipa::path(post, path = "/v1/crew/launch/end", tag = "crew",
    security(("phone" = ["crew"])),
    responses((status = 202, body = Recorded)))]
pub(super) async fn launch_ends(State(room): State<Arc<Room>>) -> Answer {
    record(&room, CrewInput::Launch(LaunchSaid::Ended)).await
}
