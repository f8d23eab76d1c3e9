//! Keeps the particle filter up to date and makes the forecasts: owns filter, draws of the futures,
//! planner and memory, and hands each what it needs.

use std::sync::Arc;

use super::air::AirMemory;
use super::draws::Draws;
use super::effort::Effort;
use super::filter::{Belief, Counted, Filter, Now, Particles};
use super::futures::Slot;
use super::helm::HelmMemory;
use super::lack::{Lack, NoForecast};
use super::learnt::{LearntError, LearntNow, Memory};
use super::likely::{self, LikelyRigs};
use super::make::Parts;
use super::memory::{Changes, KiteMemory};
use super::plan::Planner;
use super::ready::{Ready, ready};
use super::settings::ForecastSettings;
use super::shape::Forecast;
use super::standing::Made;
use super::taught::Taught;
use crate::rig::{Rig, RigError, RigParameters, Structure};
use crate::time::Millis;
use crate::turn::Outlook;
use crate::vessel::{CrewEvent, DeckNow, VesselNow};

/// Follows boat and crew, and makes forecasts.
#[derive(Debug, Clone)]
pub struct Forecaster {
    settings: ForecastSettings,
    base: Option<RigParameters>,
    sensor_height_m: f64,
    structures: Arc<[Structure]>,
    memory: KiteMemory,
    air: AirMemory,
    helm: HelmMemory,
    filter: Filter,
    /// Draws of the futures; empty until the first update.
    slots: Arc<[Slot]>,
    planner: Planner,
    made: Option<Made>,
    /// Something was heard that no forecast knows of yet.
    news: bool,
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
            memory: KiteMemory::default(),
            air: AirMemory::default(),
            helm: HelmMemory::default(),
            filter: Filter::default(),
            slots: Arc::default(),
            planner: Planner::default(),
            made: None,
            news: false,
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

    /// Starts from what is in memory about this kite. The other entries are kept for their kites.
    ///
    /// # Errors
    /// Why there is nothing about this kite.
    pub fn remember(&mut self, memory: Memory) -> Result<(), LearntError> {
        self.filter.redraw();
        self.memory
            .recall(memory, self.base.as_ref(), &self.settings.doubt)
    }

    /// What was learnt earlier could not be read; every forecast says so.
    pub fn could_not_read(&mut self) {
        self.memory.unread = true;
    }

    /// Takes over what another forecaster has learnt, as the rig is set out again.
    #[must_use]
    pub fn succeeding(mut self, old: &Self) -> Self {
        self.memory = self.memory.continuing(&old.memory);
        // Nothing of this kite in it is no fault.
        let _ = self.remember(old.memory());
        self
    }

    /// Replaces another forecaster while the rig is out. If the motion of the rig and its prior are
    /// unchanged, the filter continues. Otherwise what was learnt is taken over, and earlier
    /// reports about the rig as it was set before do not teach this one.
    #[must_use]
    pub fn replacing(self, old: &Self) -> Self {
        if !self.hangs_as(old) {
            return self.succeeding(old);
        }
        let mut on = Self {
            settings: self.settings,
            base: self.base,
            structures: self.structures,
            planner: Planner::default(),
            made: None,
            ..old.clone()
        };
        on.filter.rig_anew();
        on
    }

    /// Whether the particles of another forecaster are valid for this one: strengths, structures,
    /// hands and thresholds do not affect motion.
    fn hangs_as(&self, old: &Self) -> bool {
        let drawn = |of: &Self| {
            let settings = &of.settings;
            (settings.particles, settings.futures, settings.seed)
        };
        let rig = |of: &Self| {
            of.base.clone().map(|mut rig| {
                rig.band_strength_n = None;
                rig.rod_holder_strength_n = None;
                rig.kite_line.strength_n = None;
                rig.main_line.strength_n = None;
                rig
            })
        };
        drawn(self) == drawn(old)
            && self.settings.doubt == old.settings.doubt
            && self.sensor_height_m == old.sensor_height_m
            && rig(self) == rig(old)
    }

    /// Counts changes of the memory: when the value differs from before, there is something to
    /// save.
    #[must_use]
    pub fn changes(&self) -> Changes {
        self.memory.changes()
    }

    /// How much was learnt about this kite, and when last; `None` when nothing was.
    #[must_use]
    pub fn learnt_now(&self) -> Option<LearntNow> {
        self.memory.now()
    }

    /// What was learnt about this kite in numbers; `None` when nothing was, or nothing is followed yet.
    #[must_use]
    pub fn taught(&self) -> Option<Taught> {
        let (learnt, particles) = (self.memory.now()?, self.filter.particles()?);
        Some(Taught::of(learnt, &self.settings.doubt, particles.kept()))
    }

    /// Everything learnt, with this kite up to now.
    #[must_use]
    pub fn memory(&self) -> Memory {
        let doubt = &self.settings.doubt;
        self.memory
            .whole(self.base.as_ref(), doubt, self.filter.particles())
    }

    /// Forgets what was learnt about this kite, today and earlier. Reports made before do not teach
    /// it again.
    pub fn forget(&mut self) {
        self.memory.forget(self.base.as_ref());
        self.filter.forget();
        self.planner = Planner::default();
        self.made = None;
    }

    /// Takes in an event of the deck's log.
    pub fn observe(&mut self, event: &CrewEvent) {
        self.filter.observe(event);
    }

    /// Weighs what the crew has just reported, so that no report is lost when several come before
    /// the next forecast; cheap beside a forecast.
    pub fn attend(&mut self, at: Millis, vessel: &VesselNow, deck: &DeckNow, outlook: &Outlook) {
        self.air.follow(vessel);
        self.helm.follow(vessel, outlook);
        if let Ok(ready) = self.ready(vessel, deck, outlook, Effort::FULL) {
            self.update(at, deck, &ready);
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
        let _span = tracing::trace_span!("forecast").entered();
        self.air.follow(vessel);
        self.helm.follow(vessel, outlook);
        match self.ready(vessel, deck, outlook, effort) {
            Ok(ready) => {
                let rests = !self.news && self.filter.rests(at);
                if rests && let Some(standing) = self.standing(at, outlook, &ready) {
                    return Ok(standing);
                }
                self.update(at, deck, &ready);
                let news = std::mem::take(&mut self.news);
                match self.standing(at, outlook, &ready).filter(|_| !news) {
                    Some(standing) => Ok(standing),
                    None => self.make(at, deck, outlook, &ready, news),
                }
            }
            Err(reasons) => {
                self.no_forecast();
                Err(NoForecast::of(reasons))
            }
        }
    }

    /// A few rigs drawn from the beliefs as of the last update, with wind and helm for so many
    /// seconds; `None` while there is no forecast to draw them from.
    #[must_use]
    pub fn likely(&self, at: Millis, count: usize, over_s: f64) -> Option<LikelyRigs> {
        let particles = self.filter.particles()?;
        likely::draw(
            at,
            particles,
            &self.slots,
            (self.air.onward()?, &self.helm.onward()?),
            count,
            over_s,
            &self.settings,
        )
    }

    /// The settings.
    #[must_use]
    pub fn settings(&self) -> &ForecastSettings {
        &self.settings
    }

    /// What a line of the boat must not touch.
    #[must_use]
    pub fn structures(&self) -> Arc<[Structure]> {
        Arc::clone(&self.structures)
    }

    /// The last forecast, if it is still valid.
    fn standing(&self, at: Millis, outlook: &Outlook, ready: &Ready) -> Option<Arc<Forecast>> {
        let particles = self.filter.particles();
        let made = self.made.as_ref()?;
        made.stands(at, outlook, ready, particles, &self.settings)
    }

    fn make(
        &mut self,
        at: Millis,
        deck: &DeckNow,
        outlook: &Outlook,
        ready: &Ready,
        news: bool,
    ) -> Result<Arc<Forecast>, NoForecast> {
        let parts = Parts {
            settings: &self.settings,
            rig: self.base.as_ref(),
            structures: &self.structures,
            air: &self.air,
            helm: &self.helm,
            filter: &self.filter,
            slots: &self.slots,
            memory: &self.memory,
            planner: &mut self.planner,
        };
        match parts.make(at, deck, outlook, ready, news) {
            Ok(made) => Ok(self.made.insert(made).forecast()),
            Err(none) => {
                self.no_forecast();
                Err(none)
            }
        }
    }

    fn no_forecast(&mut self) {
        self.made = None;
        self.planner.interrupted();
    }

    fn ready(
        &self,
        vessel: &VesselNow,
        deck: &DeckNow,
        outlook: &Outlook,
        effort: Effort,
    ) -> Result<Ready, Vec<(Lack, String)>> {
        let within = (self.settings.horizon_s, effort);
        let (rig, has_air) = (self.base.as_ref(), self.air.known());
        ready(vessel, deck, outlook, rig, has_air, within)
    }

    /// Brings the filter to the present.
    fn update(&mut self, at: Millis, deck: &DeckNow, ready: &Ready) {
        let _span = tracing::trace_span!("filter").entered();
        let Some(base) = &self.base else {
            return;
        };
        if !self.filter.has_begun() {
            // One stream: beliefs first, then the futures, then everything later.
            let mut draws = Draws::new(self.settings.seed, 0);
            let prior = Belief::prior(self.settings.particles, &mut draws);
            self.slots = Slot::draw(&self.settings, &mut draws).into();
            let fresh = Particles::new(prior, draws);
            self.filter.begin(match self.memory.recalled() {
                Some(learnt) => fresh.taught(learnt.beliefs()),
                None => fresh,
            });
        }
        let now = Now {
            base,
            settings: &self.settings,
            air: &self.air,
            heading_rad: ready.profile.heading_rad,
            speed_mps: ready.speed_mps,
            sensor_height_m: self.sensor_height_m,
            counted: Counted::read(ready.kite_m, ready.main_m),
            asked: self.planner.asks(),
        };
        let updated = self.filter.update(at, deck, now);
        self.memory.note(at, updated.lessons);
        self.news |= updated.news;
    }
}
