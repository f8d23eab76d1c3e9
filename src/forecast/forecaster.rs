//! Keeps the ensemble up to date and makes the forecasts.

mod follow;
mod make;
mod ready;
mod said;
mod taught;

use std::sync::Arc;

use super::air::AirMemory;
use super::effort::Effort;
use super::ensemble::Ensemble;
use super::future::Move;
use super::learnt::{Learnt, Memory};
use super::member::Counted;
use super::settings::ForecastSettings;
use super::shape::{FanHeading, Forecast, NoForecast, TurnLimit};
use crate::decode::CrewInput;
use crate::rig::{Rig, RigError, RigParameters, Structure};
use crate::time::Millis;
use crate::turn::{Outlook, TurnSource};
use crate::units::in_metres;
use crate::vessel::{DeckNow, VesselNow};
pub use taught::Changes;

/// A new count that differs by more than this share means that the rig was set out again.
const NEW_RIG_SHARE: f64 = 0.35;

/// Follows boat and crew, and makes forecasts.
#[derive(Debug, Clone)]
pub struct Forecaster {
    settings: ForecastSettings,
    base: Option<RigParameters>,
    sensor_height_m: f64,
    structures: Arc<[Structure]>,
    /// What was learnt about every kite, without what was learnt since the present one was set.
    memory: Arc<Memory>,
    /// The entry of this kite, from which the members started.
    recalled: Option<Learnt>,
    unread: bool,
    changes: Changes,
    /// Reports applied or taken back since.
    lessons: u64,
    taught_at: Option<Millis>,
    air: AirMemory,
    ensemble: Option<Ensemble>,
    counted: Option<Counted>,
    count_told: bool,
    /// The latest count is that of a rig set out again.
    out_afresh: bool,
    /// The count before the one reported at this time, which may still be taken back.
    count_before: Option<(Millis, Counted)>,
    last: Option<Tick>,
    heard: HeardSoFar,
    made: Option<Made>,
    settled: Option<Settled>,
    plan: Option<(Millis, Millis, Vec<Move>)>,
    /// Something was heard that no forecast knows of yet.
    unmade_news: bool,
}

#[derive(Debug, Clone, Copy)]
struct Tick {
    at: Millis,
    heading_rad: f64,
    speed_mps: f64,
}

/// What the crew has said so far.
#[derive(Debug, Clone, Copy, Default)]
struct HeardSoFar {
    lines_at: Option<Millis>,
    bait_at: Option<Millis>,
    elevation_at: Option<Millis>,
    bearing_at: Option<Millis>,
    marker_at: Option<Millis>,
    anchored_at: Option<Millis>,
    contradicted_at: Option<Millis>,
}

impl HeardSoFar {
    /// Heard, but the members do not depend on it.
    fn unanchored(self) -> Self {
        Self {
            anchored_at: None,
            contradicted_at: None,
            ..self
        }
    }
}

#[derive(Debug, Clone)]
struct Made {
    forecast: Arc<Forecast>,
    /// What it was made for: source, start and heading after it of each turn.
    turns: Vec<(TurnSource, Millis, f64)>,
}

#[derive(Debug, Clone)]
struct Settled {
    at: Millis,
    for_deg: Option<f64>,
    heading_rad: f64,
    fan: Vec<FanHeading>,
    limit: TurnLimit,
}

impl Forecaster {
    /// Knows the rig (or not yet) and where the wind sensor sits.
    ///
    /// # Errors
    /// Every complaint about the rig.
    pub fn new(
        settings: ForecastSettings,
        rig: Option<RigParameters>,
        wind_sensor_height_m: f64,
    ) -> Result<Self, Vec<RigError>> {
        if let Some(parameters) = &rig {
            Rig::new(parameters)?;
        }
        Ok(Self {
            settings,
            base: rig,
            sensor_height_m: wind_sensor_height_m,
            structures: Arc::default(),
            memory: Arc::default(),
            recalled: None,
            unread: false,
            changes: Changes::default(),
            lessons: 0,
            taught_at: None,
            air: AirMemory::default(),
            ensemble: None,
            counted: None,
            count_told: false,
            out_afresh: false,
            count_before: None,
            last: None,
            heard: HeardSoFar::default(),
            made: None,
            settled: None,
            plan: None,
            unmade_news: false,
        })
    }

    /// The same, with structures of the boat that a line must not touch.
    #[must_use]
    pub fn with_structures(self, structures: Vec<Structure>) -> Self {
        Self {
            structures: structures.into(),
            ..self
        }
    }

    /// Takes in crew input. Only what the deck does not show afterwards is kept: that a line was
    /// counted again rather than moved, and that a report is from before a restart and has taught
    /// already. Everything else is read from the deck.
    pub fn observe(&mut self, at: Millis, input: &CrewInput) {
        if let CrewInput::Before { age_s, input, .. } = input
            && let CrewInput::MarkerInWater(_) = **input
        {
            self.heard.marker_at = Some(at.plus_seconds(-age_s));
        }
        if let CrewInput::LinesOut { kite, main } = input {
            let differs = |new: Option<f64>, old: Option<f64>| match (new, old) {
                (Some(new), Some(old)) => (new - old).abs() > NEW_RIG_SHARE * old,
                _ => false,
            };
            let old = self.counted;
            if differs(kite.map(in_metres), old.map(|c| c.kite_m))
                || differs(main.map(in_metres), old.map(|c| c.main_m))
            {
                self.out_afresh = true;
            }
            self.count_told = true;
        }
    }

    /// Weighs what the crew has just reported, so that no report is lost when several come before
    /// the next forecast; cheap beside a forecast.
    pub fn attend(&mut self, at: Millis, vessel: &VesselNow, deck: &DeckNow, outlook: &Outlook) {
        self.air.follow(vessel);
        if let Ok(ready) = self.ready(at, vessel, deck, outlook, Effort::FULL) {
            self.unmade_news |= self.follow(at, deck, &ready);
        }
    }

    /// The forecast as of `at`. Call it about once a second, in order of time: it also follows
    /// boat, wind and crew. With nothing new it returns the last forecast. `effort` is what there
    /// is time for; the forecast's basis says when that is less than the settings ask.
    ///
    /// # Errors
    /// What is missing, each with its cure.
    pub fn forecast(
        &mut self,
        at: Millis,
        vessel: &VesselNow,
        deck: &DeckNow,
        outlook: &Outlook,
        effort: Effort,
    ) -> Result<Arc<Forecast>, NoForecast> {
        self.air.follow(vessel);
        match self.ready(at, vessel, deck, outlook, effort) {
            Ok(ready) => {
                let news = self.follow(at, deck, &ready) | self.unmade_news;
                self.unmade_news = false;
                self.make(at, vessel, deck, outlook, &ready, news)
            }
            Err(reasons) => {
                self.made = None;
                Err(NoForecast::of(reasons))
            }
        }
    }
}
