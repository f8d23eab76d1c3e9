//! Follows the moment and makes the forecast of it.

mod follow;
mod make;
mod ready;
mod said;

use std::sync::Arc;

use super::air::AirMemory;
use super::ensemble::Ensemble;
use super::future::Move;
use super::learnt::{Learnt, LearntError};
use super::member::Counted;
use super::settings::ForecastSettings;
use super::shape::{FanHeading, Forecast, NoForecast, TurnLimit};
use crate::decode::CrewInput;
use crate::rig::{Rig, RigError, RigParameters, Structure};
use crate::time::Millis;
use crate::turn::{Outlook, TurnSource};
use crate::units::in_metres;
use crate::vessel::{DeckNow, VesselNow};

/// A count read anew that differs by more than this share means the rig went out afresh.
const NEW_RIG_SHARE: f64 = 0.35;

/// Follows the boat and the crew, and foresees.
#[derive(Debug, Clone)]
pub struct Forecaster {
    settings: ForecastSettings,
    base: Option<RigParameters>,
    sensor_height_m: f64,
    structures: Arc<[Structure]>,
    recalled: Option<Arc<Learnt>>,
    discarded: Option<String>,
    /// Reports weighed or taken back so far.
    lessons: u64,
    taught_at: Option<Millis>,
    air: AirMemory,
    ensemble: Option<Ensemble>,
    counted: Option<Counted>,
    count_told: bool,
    last: Option<Tick>,
    heard: HeardSoFar,
    made: Option<Made>,
    settled: Option<Settled>,
    plan: Option<(Millis, Millis, Vec<Move>)>,
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
    bait_at: Option<Millis>,
    elevation_at: Option<Millis>,
    bearing_at: Option<Millis>,
    anchored_at: Option<Millis>,
    contradicted_at: Option<Millis>,
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
            recalled: None,
            discarded: None,
            lessons: 0,
            taught_at: None,
            air: AirMemory::default(),
            ensemble: None,
            counted: None,
            count_told: false,
            last: None,
            heard: HeardSoFar::default(),
            made: None,
            settled: None,
            plan: None,
        })
    }

    /// The same, minding what stands on the boat.
    #[must_use]
    pub fn with_structures(self, structures: Vec<Structure>) -> Self {
        Self {
            structures: structures.into(),
            ..self
        }
    }

    /// Starts from what was learnt of this rig earlier.
    ///
    /// # Errors
    /// Why it is of no use; it is then left aside.
    pub fn recall(&mut self, learnt: Learnt) -> Result<(), LearntError> {
        let rig = self.base.as_ref().ok_or(LearntError::OtherRig)?;
        learnt.fits(rig, &self.settings.doubt)?;
        self.recalled = Some(Arc::new(learnt));
        self.ensemble = None;
        Ok(())
    }

    /// What was learnt earlier cannot be used: `why` is told with every forecast.
    pub fn discard(&mut self, why: &str) {
        self.recalled = None;
        self.discarded = Some(why.to_owned());
    }

    /// Takes over what another has learnt, where that was of the same rig.
    #[must_use]
    pub fn succeeding(mut self, old: &Self) -> Self {
        let learnt = old.learnt().or_else(|| old.recalled.as_deref().cloned());
        if let Some(learnt) = learnt
            && let Err(why) = self.recall(learnt)
        {
            self.discard(&why.to_string());
        }
        self
    }

    /// How often reports have changed what is believed, and when last: with another answer there
    /// is more to keep.
    #[must_use]
    pub fn lessons(&self) -> Option<(u64, Millis)> {
        self.taught_at.map(|at| (self.lessons, at))
    }

    /// What is believed of the rig now; `None` before the crew has reported anything, and while
    /// the model finds no way the rig hangs.
    #[must_use]
    pub fn learnt(&self) -> Option<Learnt> {
        let (rig, ensemble) = (self.base.as_ref()?, self.ensemble.as_ref()?);
        if ensemble.weights().iter().sum::<f64>() <= 0.0 {
            return None;
        }
        let before = self.recalled.as_ref().map_or(0, |learnt| learnt.reports());
        Some(Learnt::of(
            self.taught_at?,
            before.saturating_add(self.lessons),
            rig,
            self.settings.doubt,
            ensemble,
        ))
    }

    fn first_members(&self) -> Ensemble {
        let fresh = Ensemble::new(&self.settings);
        match &self.recalled {
            Some(learnt) => fresh.taught(learnt.beliefs()),
            None => fresh,
        }
    }

    /// Takes in what the crew said. Only what the deck cannot tell afterwards is kept from it:
    /// that a line was counted afresh rather than moved. Everything else is read from the deck.
    pub fn observe(&mut self, _at: Millis, input: &CrewInput) {
        if let CrewInput::LinesOut { kite, main } = input {
            let differs = |new: Option<f64>, old: Option<f64>| match (new, old) {
                (Some(new), Some(old)) => (new - old).abs() > NEW_RIG_SHARE * old,
                _ => false,
            };
            let old = self.counted;
            if differs(kite.map(in_metres), old.map(|c| c.kite_m))
                || differs(main.map(in_metres), old.map(|c| c.main_m))
            {
                self.counted = None;
            }
            self.count_told = true;
        }
    }

    /// Forgets what the members have learnt, as after a change of kite or bait.
    pub fn forget(&mut self) {
        self.ensemble = None;
        self.recalled = None;
        self.taught_at = None;
        self.counted = None;
        self.heard = HeardSoFar::default();
        self.made = None;
        self.settled = None;
        self.plan = None;
    }

    /// The forecast as of `at`. To be called about once a second, in order of time: it also
    /// follows boat, air and crew. With nothing new it gives the last forecast again.
    ///
    /// # Errors
    /// What is missing, each with its cure.
    pub fn forecast(
        &mut self,
        at: Millis,
        vessel: &VesselNow,
        deck: &DeckNow,
        outlook: &Outlook,
    ) -> Result<Arc<Forecast>, NoForecast> {
        self.air.follow(vessel);
        match self.ready(at, vessel, deck, outlook) {
            Ok(ready) => {
                let news = self.follow(at, deck, &ready);
                self.make(at, vessel, deck, outlook, &ready, news)
            }
            Err(reasons) => {
                self.made = None;
                Err(NoForecast { reasons })
            }
        }
    }
}
