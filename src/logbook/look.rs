//! What the logbook takes of one picture.

use std::sync::Arc;

use super::in_force::LoggedSettings;
use super::rows::{ChanceRun, Doing, RevisionRow, State};
use crate::advice::Advisory;
use crate::decode::BaitState;
use crate::engine::{Picture, Snapshot};
use crate::forecast::{Band, Forecast, Taught, Trouble};
use crate::pass::PassNow;
use crate::score::{Revision, is_scored};
use crate::time::Millis;
use crate::vessel::{Mark, Quantity};

/// Share of the futures from which the model holds that something is so now.
const SO_NOW: f64 = 0.5;

/// One picture, as far as the logbook keeps it.
#[derive(Debug, Clone, PartialEq)]
pub struct Look {
    /// Its moment.
    pub at: Millis,
    /// Boat and rig.
    pub state: State,
    /// Revisions of advisories since the picture before.
    pub revisions: Vec<RevisionRow>,
    /// What the forecast lacks of the instruments, with why.
    pub missing: Vec<(Quantity, String)>,
    /// Chances of the troubles that are scored, each as a run of one.
    pub chances: Vec<ChanceRun>,
    /// What was learnt of the kite.
    pub taught: Option<Taught>,
    /// All marks.
    pub marks: Vec<Mark>,
    /// The pass that is planned or under way.
    pub pass: Option<PassNow>,
    /// Settings that are in force from here on, if they were changed.
    pub settings: Option<Arc<LoggedSettings>>,
}

impl Look {
    /// From a picture; `settings` are those that it says were changed.
    #[must_use]
    pub fn new(picture: &Picture, settings: Option<Arc<LoggedSettings>>) -> Self {
        let snapshot = &picture.snapshot;
        let missing = snapshot.vessel.missing.iter();
        Self {
            at: snapshot.at,
            state: state(snapshot),
            revisions: picture.revisions.iter().map(revision).collect(),
            missing: missing.map(|m| (m.quantity, m.why.clone())).collect(),
            chances: match &snapshot.forecast {
                Ok(forecast) => chances(forecast),
                Err(_) => Vec::new(),
            },
            taught: picture.taught.clone(),
            marks: snapshot.marks.clone(),
            pass: snapshot.pass.clone(),
            settings,
        }
    }
}

fn chances(forecast: &Forecast) -> Vec<ChanceRun> {
    let scored = forecast.chances.iter().filter(|c| is_scored(c.kind));
    let run = |chance: &crate::forecast::Chance| ChanceRun {
        trouble: chance.kind,
        made_at: forecast.made_at,
        forecasts: 1,
        horizon_s: forecast.horizon_s,
        chance: chance.chance,
        so_now: chance.so_now,
        onset_s: chance.onset_s,
    };
    scored.map(run).collect()
}

fn revision(advisory: &Advisory) -> RevisionRow {
    RevisionRow {
        scored: Revision::of(advisory),
        revision: advisory.revision,
        chance: advisory.chance,
        chance_with_plan: advisory.chance_with_plan,
        asks: advisory
            .actions
            .iter()
            .find_map(crate::advice::Action::asks),
        title: advisory.title.clone(),
        cause: advisory.cause.clone(),
    }
}

fn state(snapshot: &Snapshot) -> State {
    let (vessel, deck) = (&snapshot.vessel, &snapshot.deck);
    let degrees = |reading: &crate::vessel::Reading<f64>| reading.value.to_degrees();
    let position = vessel.position.as_ref().map(|p| p.value);
    let wind = vessel.true_wind.as_ref().map(|w| w.value);
    let forecast = snapshot.forecast.as_deref().ok();
    let first = |bands: &[Band]| bands.first().map(|band| band.p50);
    let bait_at = forecast.and_then(|forecast| forecast.rig_now.main_line.last());
    State {
        at: snapshot.at,
        latitude_deg: position.map(|p| p.latitude_deg),
        longitude_deg: position.map(|p| p.longitude_deg),
        heading_deg_true: vessel.heading_true_rad.as_ref().map(degrees),
        rate_of_turn_deg_s: vessel.rate_of_turn_rad_s.as_ref().map(degrees),
        speed_water_mps: vessel.speed_water_mps.as_ref().map(|v| v.value),
        speed_ground_mps: vessel.speed_ground_mps.as_ref().map(|v| v.value),
        course_deg_true: vessel.course_true_rad.as_ref().map(degrees),
        wind_at_sensor_mps: wind.map(|w| w.speed_mps),
        wind_from_deg_true: wind.map(|w| w.from_rad.to_degrees()),
        kite_line_m: deck.lines.kite_m,
        main_line_m: deck.lines.main_m,
        doing: if deck.launch.is_some() {
            Doing::Launch
        } else if deck.strike.is_some() {
            Doing::Strike
        } else if deck.fishing {
            Doing::Fishing
        } else {
            Doing::Stopped
        },
        bait: forecast.map(bait),
        bait_told: deck.bait.map(|seen| seen.state),
        kite_elevation_deg: forecast.and_then(|f| first(&f.kite_elevation_deg)),
        kite_off_astern_deg: forecast.and_then(|f| first(&f.kite_off_astern_deg)),
        immersion: forecast.and_then(|f| first(&f.immersion)),
        bait_astern_m: bait_at.map(|point| point.aft_m),
        bait_starboard_m: bait_at.map(|point| point.starboard_m),
    }
}

/// What the bait does in at least half of the futures.
fn bait(forecast: &Forecast) -> BaitState {
    let holds = |trouble: Trouble| {
        let mut chances = forecast.chances.iter();
        chances.any(|chance| chance.kind == trouble && chance.so_now >= SO_NOW)
    };
    if holds(Trouble::BaitAirborne) {
        BaitState::Airborne
    } else if holds(Trouble::BaitDragging) {
        BaitState::Dragging
    } else {
        BaitState::Skipping
    }
}
