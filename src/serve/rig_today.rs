//! Which kite and tackle suit the day, and how to launch what flies: in the wind measured, or in one
//! that is asked.

use std::sync::Arc;

use axum::Json;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use axum::response::Response;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::launch_state::LaunchState;
use super::problem::Problem;
use super::ranges;
use super::read::fresh;
use super::room::{Last, Looked, Room};
use crate::engine::Snapshot;
use crate::launch::{Launch, launch};
use crate::locker::{
    Day, DayOrigin, GUST_MPS, KITE_LINE_OUT_M, Known, Locker, RigToday, SPEED_MPS, WIND_MPS,
    rig_today,
};

/// What is measured is looked at in steps of so much, m/s and degrees, so that a steady wind asks
/// for no new work.
const SPEED_STEP_MPS: f64 = 0.5;
const ANGLE_STEP_DEG: f64 = 5.0;
/// Boat's speed from which it is under way and not only adrift, m/s (own choice, 2 kn).
const UNDER_WAY_MPS: f64 = 1.0;

/// The day asked; what is left out is measured, set or assumed.
#[derive(Debug, Default, Deserialize, IntoParams)]
#[serde(default, deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct RigQuery {
    /// Mean true wind at 10 m.
    wind_mps: Option<f64>,
    /// Gusts at 10 m; not below the wind.
    gust_mps: Option<f64>,
    /// Boat through the water.
    speed_mps: Option<f64>,
    /// True wind off the bow, 0 ahead, 180 astern.
    off_bow_deg: Option<f64>,
    /// Kite line out, rod tip to kite.
    kite_line_out_m: Option<f64>,
}

impl RigQuery {
    fn known(&self) -> Result<Known, Problem> {
        let within = |range: ranges::Range, value: Option<f64>| {
            value.map(|value| range.check(value)).transpose()
        };
        let known = Known {
            wind_mps: within(ranges::RIG_WIND, self.wind_mps)?,
            gust_mps: within(ranges::RIG_GUST, self.gust_mps)?,
            speed_mps: within(ranges::RIG_SPEED, self.speed_mps)?,
            off_bow_deg: within(ranges::RIG_OFF_BOW, self.off_bow_deg)?,
            kite_line_out_m: within(ranges::RIG_KITE_LINE, self.kite_line_out_m)?,
        };
        match (known.wind_mps, known.gust_mps) {
            (Some(wind), Some(gust)) if gust < wind => Err(Problem::out_of_range(
                "gust_mps",
                gust,
                &format!("wind_mps ({wind}) or above"),
            )),
            _ => Ok(known),
        }
    }
}

/// Which kite and tackle suit the day: every kite of the settings with its loads, its range of wind
/// and the main line it needs, the best and why, and checks of the tackle. Each number names its
/// bound and where both come from. Settled states of the model: no jerks of the sea are in it.
#[utoipa::path(get, path = "/v1/rig", tag = "read",
    security((), ("phone" = ["look"])), params(RigQuery),
    responses((status = 200, description = "Today's rig", body = RigToday),
        (status = 422, description = "A number is out of range", body = Problem,
            content_type = "application/problem+json"),
        (status = 503, description = "The work was not finished", body = Problem,
            content_type = "application/problem+json")))]
pub(super) async fn rig(
    State(room): State<Arc<Room>>,
    query: Result<Query<RigQuery>, QueryRejection>,
) -> Result<Response, Problem> {
    let asked = asked(query)?;
    let (locker, revision) = aboard(&room);
    let (day, origin) = Day::of(&asked, &measured(&room.snapshot(), &locker), &locker);
    let made = made(
        &room,
        |looked| &mut looked.rig,
        revision,
        day,
        move || rig_today(&locker, &day, origin),
    );
    let today = made.await?;
    Ok(fresh(Json(RigToday {
        origin,
        ..(*today).clone()
    })))
}

/// How to launch, or why not.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(super) struct LaunchAnswer {
    /// The day it is made for.
    day: Day,
    /// Where its numbers come from.
    origin: DayOrigin,
    /// The launch; `null` when there is none.
    launch: Option<Launch>,
    /// Why there is none, with a cure where one is known; `null` when there is one.
    why: Option<String>,
}

/// How to launch the rig that flies in `[rig]`: steps from a launch that the model has flown, each
/// with its lines and what to expect; or why there is no launch. The first step holds the cautions.
/// Without a query, while a launch is followed, it is that launch.
#[utoipa::path(get, path = "/v1/launch", tag = "read",
    security((), ("phone" = ["look"])), params(RigQuery),
    responses((status = 200, description = "The launch, or why there is none", body = LaunchAnswer),
        (status = 422, description = "A number is out of range", body = Problem,
            content_type = "application/problem+json"),
        (status = 503, description = "The work was not finished", body = Problem,
            content_type = "application/problem+json")))]
pub(super) async fn launch_steps(
    State(room): State<Arc<Room>>,
    query: Result<Query<RigQuery>, QueryRejection>,
) -> Result<Response, Problem> {
    let asked = asked(query)?;
    let (locker, revision) = aboard(&room);
    let snapshot = room.snapshot();
    let (day, origin) = match snapshot.deck.launch.as_ref() {
        Some(followed) if asked == Known::default() => {
            (LaunchState::new(followed).day, DayOrigin::ASKED)
        }
        _ => {
            // What is out now is not what is to be out.
            let measured = Known {
                kite_line_out_m: None,
                ..measured(&snapshot, &locker)
            };
            Day::of(&asked, &measured, &locker)
        }
    };
    // As the crew's sentence carries it: asked again, the same launch is answered.
    let day = in_hundredths(day);
    let made = made(
        &room,
        |looked| &mut looked.launch,
        revision,
        day,
        move || launch(&locker, &day),
    );
    let (launch, why) = match made.await?.as_ref() {
        Ok(launch) => (Some(launch.clone()), None),
        Err(none) => (None, Some(none.why.clone())),
    };
    Ok(fresh(Json(LaunchAnswer {
        day,
        origin,
        launch,
        why,
    })))
}

fn in_hundredths(day: Day) -> Day {
    let rounded = |value: f64| (value * 100.0).round() / 100.0;
    Day {
        wind_mps: rounded(day.wind_mps),
        gust_mps: rounded(day.gust_mps),
        speed_mps: rounded(day.speed_mps),
        off_bow_deg: rounded(day.off_bow_deg),
        kite_line_out_m: rounded(day.kite_line_out_m),
    }
}

fn asked(query: Result<Query<RigQuery>, QueryRejection>) -> Result<Known, Problem> {
    let Query(query) = query.map_err(|why| Problem::unreadable_query(&why.body_text()))?;
    query.known()
}

/// The parts aboard, with the revision of the settings.
fn aboard(room: &Room) -> (Arc<Locker>, u64) {
    let set_up = room.sources.set_up.borrow();
    (Arc::clone(&set_up.locker), set_up.revision)
}

/// The answer, made anew unless it is the last one's.
async fn made<T: Send + Sync + 'static>(
    room: &Room,
    which: impl Fn(&mut Looked) -> &mut Last<T> + Send + 'static,
    revision: u64,
    day: Day,
    make: impl FnOnce() -> T + Send + 'static,
) -> Result<Arc<T>, Problem> {
    // Held by the work itself: a client that goes away lets no second one begin.
    let mut looked = Arc::clone(&room.rig_today).lock_owned().await;
    if let Some((of, its_day, answer)) = which(&mut looked)
        && (*of, *its_day) == (revision, day)
    {
        return Ok(Arc::clone(answer));
    }
    let work = tokio::task::spawn_blocking(move || {
        let answer = Arc::new(make());
        *which(&mut looked) = Some((revision, day, Arc::clone(&answer)));
        answer
    });
    work.await
        .map_err(|_| Problem::busy("the work was not finished"))
}

/// What instruments and crew tell of the day.
fn measured(snapshot: &Snapshot, locker: &Locker) -> Known {
    let vessel = &snapshot.vessel;
    let in_steps = |value: f64, step: f64, [least, most]: [f64; 2]| {
        ((value / step).round() * step).clamp(least, most)
    };
    let wind = |speed_mps, range| {
        let at_10m_mps = Day::at_10m_mps(speed_mps, locker.wind_sensor_height_m);
        in_steps(at_10m_mps, SPEED_STEP_MPS, range)
    };
    let speed_mps = vessel
        .speed_water_mps
        .as_ref()
        .map(|speed| speed.value)
        .filter(|speed| *speed >= UNDER_WAY_MPS);
    let off_bow = vessel
        .true_wind
        .as_ref()
        .zip(vessel.heading_true_rad.as_ref());
    let line_m = snapshot.deck.lines.kite_m;
    Known {
        wind_mps: vessel
            .wind_statistics
            .as_ref()
            .map(|wind_of| wind(wind_of.mean_mps, WIND_MPS)),
        gust_mps: vessel
            .wind_statistics
            .as_ref()
            .map(|wind_of| wind(wind_of.gust_mps, GUST_MPS)),
        speed_mps: speed_mps.map(|speed| in_steps(speed, SPEED_STEP_MPS, SPEED_MPS)),
        // At the quay the heading says nothing of the course to come.
        off_bow_deg: off_bow
            .filter(|_| speed_mps.is_some())
            .map(|(wind, heading)| {
                let off_deg = Day::off_bow_deg(wind.value.from_rad, heading.value);
                in_steps(off_deg, ANGLE_STEP_DEG, [0.0, 180.0])
            }),
        kite_line_out_m: line_m.filter(|m| (KITE_LINE_OUT_M[0]..=KITE_LINE_OUT_M[1]).contains(m)),
    }
}
