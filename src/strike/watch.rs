//! Follows a strike: the boat at the bite, and the heading on which the kite comes in.
//! In: vessel and deck at moments, what is set. Out: the strike as it is now. Time is an argument.
//!
//! The heading is worked out once for each time that the fish is pointed out, and stands: an order
//! that moves with every gust cannot be steered.

use std::sync::Arc;

use super::recovery::{Recovery, recovery};
use super::situation::Situation;
use super::winder::Winder;
use crate::angles::wrap_positive;
use crate::rig::{Rig, RigParameters, Structure, Wind};
use crate::time::Millis;
use crate::vessel::{DeckNow, Position, Strike, StrikeCause, StrikeStep, TrueWind, VesselNow};

/// Wind law of height: a usual one over the sea (`locker` has the same).
const USUAL_EXPONENT: f64 = 0.11;
/// Gusts where nothing is measured yet, as a share of the wind (own choice).
const USUAL_GUST: f64 = 1.25;

/// The boat is stamped when the bite was told no longer ago.
const STAMPED_S: f64 = 5.0;

/// What is set.
#[derive(Debug, Clone, PartialEq)]
pub struct StrikeSettings {
    /// The rig; `None` when it is not set.
    pub rig: Option<RigParameters>,
    /// What lines must not touch.
    pub structures: Vec<Structure>,
    /// Wind sensor above the water, m.
    pub wind_sensor_height_m: f64,
    /// Who winds the kite in.
    pub winder: Winder,
    /// Drag of the main reel once hooked, N.
    pub hooked_drag_n: f64,
}

/// The boat at one moment; `None` where nothing live was known.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Then {
    /// Where.
    pub position: Option<Position>,
    /// True heading, 0..2 pi.
    pub heading_rad: Option<f64>,
    /// Through the water, else over ground.
    pub speed_mps: Option<f64>,
    /// Wind over the water at the sensor.
    pub true_wind: Option<TrueWind>,
}

impl Then {
    fn new(vessel: &VesselNow) -> Self {
        Self {
            position: vessel.position.as_ref().map(|here| here.value),
            heading_rad: vessel.heading_true_rad.as_ref().map(|h| h.value),
            speed_mps: speed_mps(vessel),
            true_wind: vessel.true_wind.as_ref().map(|wind| wind.value),
        }
    }
}

fn speed_mps(vessel: &VesselNow) -> Option<f64> {
    let speed = vessel.speed_water_mps.as_ref();
    speed.or(vessel.speed_ground_mps.as_ref()).map(|v| v.value)
}

/// The strike as it is now.
#[derive(Debug, Clone, PartialEq)]
pub struct StrikeNow {
    /// What the crew has told.
    pub strike: Strike,
    /// The boat when it began.
    pub then: Then,
    /// Bearing of the fish when it was pointed out, true, 0..2 pi.
    pub fish_bearing_rad: Option<f64>,
    /// Drag of the main reel once hooked, N.
    pub hooked_drag_n: f64,
    /// How the kite comes in; `None` before that is asked for, or why it is not known.
    pub kite_in: Option<Result<Recovery, String>>,
}

/// Follows strikes.
#[derive(Debug, Clone)]
pub struct StrikeWatch {
    settings: Arc<StrikeSettings>,
    began: Option<(Millis, Then)>,
    fish: Option<(Millis, Option<f64>)>,
    /// Worked out for what was asked at that moment.
    kite_in: Option<(Millis, Option<Recovery>)>,
}

impl StrikeWatch {
    /// Nothing is on.
    #[must_use]
    pub fn new(settings: Arc<StrikeSettings>) -> Self {
        Self {
            settings,
            began: None,
            fish: None,
            kite_in: None,
        }
    }

    /// The same with other settings; a heading that stands is kept.
    #[must_use]
    pub fn revised(&self, settings: Arc<StrikeSettings>) -> Self {
        Self {
            settings,
            ..self.clone()
        }
    }

    /// Notes what will not be known later: the boat as it is now, when the crew has just spoken.
    pub fn attend(&mut self, vessel: &VesselNow, deck: &DeckNow) {
        let Some(strike) = &deck.strike else {
            self.began = None;
            self.fish = None;
            self.kite_in = None;
            return;
        };
        if self.began.is_none_or(|(at, _)| at != strike.at) {
            // One of before a restart is told late: where the boat is now says nothing of it.
            let fresh = vessel.at.seconds_since(strike.at) <= STAMPED_S;
            let then = if fresh {
                Then::new(vessel)
            } else {
                Then::default()
            };
            self.began = Some((strike.at, then));
        }
        let Some((off_bow_rad, at)) = strike.fish_off_bow_rad else {
            self.fish = None;
            return;
        };
        if self.fish.is_none_or(|(told, _)| told != at) {
            let heading = vessel.heading_true_rad.as_ref();
            let bearing_rad = heading.map(|h| wrap_positive(h.value + off_bow_rad));
            self.fish = Some((at, bearing_rad));
        }
    }

    /// The strike now. Expensive when the way of the kite is asked for and not worked out yet.
    pub fn look(&mut self, vessel: &VesselNow, deck: &DeckNow) -> Option<StrikeNow> {
        self.attend(vessel, deck);
        let strike = deck.strike.clone()?;
        Some(StrikeNow {
            then: self.began.map(|(_, then)| then).unwrap_or_default(),
            fish_bearing_rad: self.fish.and_then(|(_, bearing_rad)| bearing_rad),
            hooked_drag_n: self.settings.hooked_drag_n,
            kite_in: self.kite_in(vessel, &strike),
            strike,
        })
    }

    fn kite_in(&mut self, vessel: &VesselNow, strike: &Strike) -> Option<Result<Recovery, String>> {
        let wanted =
            strike.ended.is_none() && matches!(strike.step, StrikeStep::Turn | StrikeStep::KiteIn);
        if !wanted {
            return None;
        }
        let asked_at = match strike.cause {
            StrikeCause::Bite => self.fish.map(|(at, _)| at),
            StrikeCause::Home => Some(strike.at),
        };
        let Some(asked_at) = asked_at else {
            return Some(Err("nobody has said where the fish is".to_owned()));
        };
        if self.kite_in.as_ref().is_none_or(|(at, _)| *at != asked_at) {
            match self.work_out(vessel, strike) {
                Ok(found) => self.kite_in = Some((asked_at, found)),
                Err(why) => return Some(Err(why.to_owned())),
            }
        }
        let (_, found) = self.kite_in.as_ref()?;
        Some(found.clone().ok_or_else(|| {
            "in this wind and at this speed the model finds no heading on which the kite stays up"
                .to_owned()
        }))
    }

    /// The way of the kite, or what is not known.
    fn work_out(
        &self,
        vessel: &VesselNow,
        strike: &Strike,
    ) -> Result<Option<Recovery>, &'static str> {
        let set = &self.settings;
        let parameters = set.rig.as_ref().ok_or("the rig is not set")?;
        let rig = Rig::new(parameters).map_err(|_| "a number of the rig is out of range")?;
        let heading = vessel.heading_true_rad.as_ref().ok_or("no heading")?;
        let boat_speed_mps = speed_mps(vessel).ok_or("no speed")?;
        let (from_rad, mean_mps, gust_mps) = wind(vessel).ok_or("no wind")?;
        let kite_line_out_m = strike
            .lines
            .kite_m
            .filter(|m| *m > parameters.kite_line.clip_to_kite_m)
            .ok_or("nobody has said how much kite line is out")?;
        let fish_bearing_rad = match strike.cause {
            StrikeCause::Home => None,
            StrikeCause::Bite => {
                let bearing_rad = self.fish.and_then(|(_, bearing_rad)| bearing_rad);
                Some(bearing_rad.ok_or("no heading when the fish was pointed out")?)
            }
        };
        let aloft = Wind {
            speed_10m_mps: 1.0,
            from_rad,
            shear_exponent: USUAL_EXPONENT,
        };
        let to_10m = 1.0 / aloft.speed_at_mps(set.wind_sensor_height_m).max(1e-3);
        Ok(recovery(&Situation {
            rig: &rig,
            structures: &set.structures,
            wind: Wind {
                speed_10m_mps: mean_mps * to_10m,
                ..aloft
            },
            gust_mps: gust_mps * to_10m,
            boat_speed_mps,
            heading_rad: heading.value,
            kite_line_out_m,
            fish_bearing_rad,
            winder: set.winder,
        }))
    }
}

/// Where the wind comes from, its mean and its gusts at the sensor.
fn wind(vessel: &VesselNow) -> Option<(f64, f64, f64)> {
    match (&vessel.wind_statistics, &vessel.true_wind) {
        (Some(w), _) => Some((w.mean_from_rad, w.mean_mps, w.gust_mps.max(w.mean_mps))),
        (None, Some(w)) => {
            let mps = w.value.speed_mps;
            Some((w.value.from_rad, mps, USUAL_GUST * mps))
        }
        (None, None) => None,
    }
}
