//! Keeps what the crew's reports have taught across sessions, kites and days.

use std::sync::Arc;

use super::Forecaster;
use crate::forecast::ensemble::Ensemble;
use crate::forecast::learnt::{Learnt, LearntError, LearntNow, Memory};

/// Counts what has changed in memory since the program began.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Changes {
    /// Reports weighed or taken back.
    pub taught: u64,
    /// Times that the crew had a kite forgotten.
    pub forgotten: u64,
}

impl Forecaster {
    /// Starts from what is in memory about this kite. The other entries are kept for their kites.
    ///
    /// # Errors
    /// Why there is nothing about this kite.
    pub fn remember(&mut self, memory: Memory) -> Result<(), LearntError> {
        let found = match &self.base {
            Some(rig) => memory.of(rig, &self.settings.doubt).cloned(),
            None => Err(LearntError::OtherRig),
        };
        self.memory = Arc::new(memory);
        self.ensemble = None;
        self.recalled = found.clone().ok();
        found.map(drop)
    }

    /// What was learnt earlier could not be read; every forecast says so.
    pub fn could_not_read(&mut self) {
        self.unread = true;
    }

    /// Takes over what another forecaster has learnt, as the rig is set out again.
    #[must_use]
    pub fn succeeding(mut self, old: &Self) -> Self {
        self.changes = old.changes;
        self.unread = old.unread;
        // Nothing of this kite in it is no fault.
        let _ = self.remember(old.memory());
        self
    }

    /// Replaces another forecaster while the rig is out. If the motion of the rig and its prior are
    /// unchanged, the ensemble continues. Otherwise what was learnt is taken over, and earlier
    /// reports about the rig as it was set before do not teach this one.
    #[must_use]
    pub fn replacing(self, old: &Self) -> Self {
        if !self.hangs_as(old) {
            let heard = old.heard.unanchored();
            return Self {
                heard,
                ..self.succeeding(old)
            };
        }
        let mut on = Self {
            settings: self.settings,
            base: self.base,
            structures: self.structures,
            made: None,
            settled: None,
            ..old.clone()
        };
        if let Some(ensemble) = &mut on.ensemble {
            ensemble.rig_anew();
        }
        on
    }

    /// Whether the members of another forecaster are valid for this one: strengths, structures,
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
        self.changes
    }

    /// How much was learnt about this kite, and when last; `None` when nothing was.
    #[must_use]
    pub fn learnt_now(&self) -> Option<LearntNow> {
        let before = self.recalled.as_ref().map(Learnt::told);
        match self.taught_at {
            Some(at) => Some(LearntNow {
                reports: before
                    .map_or(0, |told| told.reports)
                    .saturating_add(self.lessons),
                at,
            }),
            None => before,
        }
    }

    /// Everything learnt, with this kite up to now.
    #[must_use]
    pub fn memory(&self) -> Memory {
        let mut memory = self.memory.as_ref().clone();
        if self.taught_at.is_some()
            && let (Some(rig), Some(ensemble), Some(now)) =
                (&self.base, &self.ensemble, self.learnt_now())
        {
            memory.keep(Learnt::of(now, rig, self.settings.doubt, ensemble));
        }
        memory
    }

    /// Forgets what was learnt about this kite, today and earlier. Reports made before do not teach
    /// it again.
    pub fn forget(&mut self) {
        let mut memory = self.memory.as_ref().clone();
        if let Some(rig) = &self.base {
            memory.forget(rig);
        }
        self.memory = Arc::new(memory);
        self.changes.forgotten = self.changes.forgotten.saturating_add(1);
        self.ensemble = None;
        self.recalled = None;
        self.lessons = 0;
        self.taught_at = None;
        self.counted = None;
        self.count_before = None;
        self.heard = self.heard.unanchored();
        self.made = None;
        self.settled = None;
        self.plan = None;
    }

    pub(super) fn first_members(&self) -> Ensemble {
        let fresh = Ensemble::new(&self.settings);
        match &self.recalled {
            Some(learnt) => fresh.taught(learnt.beliefs()),
            None => fresh,
        }
    }
}
