//! Track: where the bait has been and where it will pass, over the ground.
//!
//! In: the boat at each picture and the forecast made then. Out: [`Track`], in metres east and north
//! of the boat as it is now. It must not know the rig model nor who looks.
//!
//! # Decisions
//!
//! - **The past is an estimate**: the boat's position, and from there the bait as the typical rig of
//!   the forecast hangs. Nobody has seen the bait there. The receiver's aerial is taken as being at
//!   the transom, so it is off by up to a boat's length.
//! - **The future** is that of the forecast, over the water, carried along by the current: the boat's
//!   way over the ground less its way through the water, averaged over [`CURRENT_S`] while the boat
//!   goes straight. Without a log there is no current, and none is reckoned with.
//! - **Bounded**: a point of the past for every [`STEP_M`], for [`PAST_S`], at most [`MOST_PAST`].

use std::collections::VecDeque;

use serde::Serialize;
use utoipa::ToSchema;

use crate::forecast::{BaitAhead, Forecast};
use crate::geodesy::{Offset, Position};
use crate::time::Millis;
use crate::vessel::VesselNow;

/// Least distance between two points of the past.
const STEP_M: f64 = 6.0;
/// How long the past is kept.
const PAST_S: f64 = 600.0;
/// Most points of the past.
const MOST_PAST: usize = 100;
/// Averaging time of the current.
const CURRENT_S: f64 = 90.0;
/// A boat that turns faster tells nothing of the current: course and log lag behind.
const STRAIGHT_RAD_S: f64 = 0.01;
/// More is no current but a log that is fouled.
const MOST_CURRENT_MPS: f64 = 3.0;

/// A point of the past.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct PastPoint {
    /// How long ago.
    pub age_s: f64,
    /// East of the boat as it is now.
    pub east_m: f64,
    /// North of it.
    pub north_m: f64,
}

/// A point to come.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct PointAhead {
    /// In how many seconds.
    pub in_s: f64,
    /// East of the boat as it is now: half of the futures pass further east.
    pub east_m: f64,
    /// North of it, likewise.
    pub north_m: f64,
    /// Direction in which the bait goes there through the water, true.
    pub way_deg_true: f64,
    /// One future in ten passes so far or further to the left of it; negative.
    pub left_m: f64,
    /// One in ten so far or further to the right of it.
    pub right_m: f64,
    /// One in ten is so far or further behind; negative.
    pub behind_m: f64,
    /// One in ten so far or further in front.
    pub before_m: f64,
}

/// The bait's way over the ground.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Track {
    /// Where it has been, oldest first, as estimated.
    pub past: Vec<PastPoint>,
    /// Where it will pass; empty without a forecast.
    pub ahead: Vec<PointAhead>,
    /// Where the current that it reckons with sets, true; `null` when none is known.
    pub current_set_deg_true: Option<f64>,
    /// How fast that is.
    pub current_mps: Option<f64>,
}

/// Follows boat and bait.
#[derive(Debug, Clone, Default)]
pub struct BaitTrack {
    past: VecDeque<(Millis, Position)>,
    /// The boat when the forecast was made that stands.
    made: Option<(Millis, Position)>,
    current: Option<Current>,
}

#[derive(Debug, Clone, Copy)]
struct Current {
    at: Millis,
    mps: Offset,
    over_s: f64,
}

impl BaitTrack {
    /// Takes in the boat, and the forecast as it stands.
    pub fn note(&mut self, at: Millis, vessel: &VesselNow, forecast: Option<&Forecast>) {
        self.note_current(at, vessel);
        let gone = |(then, _): &(Millis, Position)| at.seconds_since(*then) > PAST_S;
        while self.past.front().is_some_and(gone) {
            self.past.pop_front();
        }
        let (Some(forecast), Some(boat)) = (forecast, position(vessel)) else {
            return;
        };
        // One that was made earlier says where the bait was then.
        if forecast.made_at != at {
            return;
        }
        self.made = Some((at, boat));
        let bait = forecast.bait_track.first();
        let Some(Ok(bait)) = bait.map(|bait| boat.moved(over_water(bait))) else {
            return;
        };
        let near = |(_, last): &(Millis, Position)| {
            last.way_to(bait).is_ok_and(|way| way.range_m() < STEP_M)
        };
        if !self.past.back().is_some_and(near) {
            if self.past.len() >= MOST_PAST {
                self.past.pop_front();
            }
            self.past.push_back((at, bait));
        }
    }

    fn note_current(&mut self, at: Millis, vessel: &VesselNow) {
        let turns = vessel.rate_of_turn_rad_s.as_ref();
        if turns.is_some_and(|rate| rate.value.abs() > STRAIGHT_RAD_S) {
            return;
        }
        let Some(now) = current(vessel) else {
            return;
        };
        self.current = Some(match self.current {
            None => Current {
                at,
                mps: now,
                over_s: 0.0,
            },
            Some(was) => {
                let dt_s = at.seconds_since(was.at).clamp(0.0, CURRENT_S);
                let over_s = (was.over_s + dt_s).min(CURRENT_S);
                let share = if over_s > 0.0 { dt_s / over_s } else { 1.0 };
                Current {
                    at,
                    mps: was.mps.times(1.0 - share).plus(now.times(share)),
                    over_s,
                }
            }
        });
    }

    /// The current over the ground, metres a second east and north; `None` when none is known.
    #[must_use]
    pub fn current_mps(&self) -> Option<Offset> {
        self.current.map(|current| current.mps)
    }

    /// As seen from the boat now. `None` when its position is not known, or nothing else is.
    #[must_use]
    pub fn now(
        &self,
        at: Millis,
        vessel: &VesselNow,
        forecast: Option<&Forecast>,
    ) -> Option<Track> {
        let boat = position(vessel)?;
        let past: Vec<PastPoint> = (self.past.iter())
            .filter_map(|(then, place)| {
                let way = boat.way_to(*place).ok()?;
                Some(PastPoint {
                    age_s: tenths(at.seconds_since(*then)),
                    east_m: tenths(way.east_m),
                    north_m: tenths(way.north_m),
                })
            })
            .collect();
        let ahead = self.ahead(at, boat, forecast);
        let current = self.current_mps();
        (!past.is_empty() || !ahead.is_empty()).then(|| Track {
            past,
            ahead,
            current_set_deg_true: current.map(|c| tenths(c.bearing_rad().to_degrees())),
            current_mps: current.map(|c| (c.range_m() * 100.0).round() / 100.0),
        })
    }

    fn ahead(&self, at: Millis, boat: Position, forecast: Option<&Forecast>) -> Vec<PointAhead> {
        let Some((forecast, (_, then))) = forecast
            .zip(self.made)
            .filter(|(f, (made, _))| f.made_at == *made)
        else {
            return Vec::new();
        };
        let Ok(since) = boat.way_to(then) else {
            return Vec::new();
        };
        let age_s = at.seconds_since(forecast.made_at);
        let current = self.current_mps().unwrap_or(Offset::ZERO);
        (forecast.bait_track.iter())
            .filter(|bait| bait.in_s >= age_s)
            .map(|bait| {
                let place = since.plus(over_water(bait)).plus(current.times(bait.in_s));
                PointAhead {
                    in_s: tenths(bait.in_s - age_s),
                    east_m: tenths(place.east_m),
                    north_m: tenths(place.north_m),
                    way_deg_true: tenths(bait.way_deg_true),
                    left_m: tenths(bait.across_m.p10),
                    right_m: tenths(bait.across_m.p90),
                    behind_m: tenths(bait.along_m.p10),
                    before_m: tenths(bait.along_m.p90),
                }
            })
            .collect()
    }
}

fn position(vessel: &VesselNow) -> Option<Position> {
    let here = vessel.position.as_ref()?;
    here.value.usable().ok()
}

fn over_water(bait: &BaitAhead) -> Offset {
    Offset {
        east_m: bait.east_m,
        north_m: bait.north_m,
    }
}

/// The boat's way over the ground less its way through the water, metres a second.
fn current(vessel: &VesselNow) -> Option<Offset> {
    let ground = Offset::polar(
        vessel.course_true_rad.as_ref()?.value,
        vessel.speed_ground_mps.as_ref()?.value,
    );
    let (heading, log) = (
        vessel.heading_true_rad.as_ref()?,
        vessel.speed_water_mps.as_ref()?,
    );
    if heading.is_stand_in() || log.is_stand_in() {
        return None;
    }
    let water = Offset::polar(heading.value, log.value);
    let current = ground.plus(water.times(-1.0));
    (current.range_m() <= MOST_CURRENT_MPS).then_some(current)
}

/// To a decimetre or a tenth of a second: nobody draws it finer.
fn tenths(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}
