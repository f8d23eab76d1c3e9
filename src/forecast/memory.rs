//! What the crew's reports have taught: of this kite since the session began, of this kite before,
//! and of every other.

use std::sync::Arc;

use super::filter::Particles;
use super::learnt::{Learnt, LearntError, LearntNow, Memory};
use super::settings::Doubt;
use crate::rig::RigParameters;
use crate::time::Millis;

/// Counts what has changed in memory since the program began.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Changes {
    /// Reports weighed or taken back.
    pub taught: u64,
    /// Times that the crew had a kite forgotten.
    pub forgotten: u64,
}

/// The memory of one forecaster.
#[derive(Debug, Clone, Default)]
pub(super) struct KiteMemory {
    /// About every kite, without what was learnt since the present one was set.
    earlier: Arc<Memory>,
    /// The entry of this kite, from which the particles started.
    recalled: Option<Learnt>,
    /// What was learnt earlier could not be read.
    pub unread: bool,
    changes: Changes,
    /// Reports applied or taken back since.
    lessons: u64,
    taught_at: Option<Millis>,
}

impl KiteMemory {
    /// Starts from what is in memory about this rig.
    ///
    /// # Errors
    /// Why there is nothing about it.
    pub fn recall(
        &mut self,
        memory: Memory,
        rig: Option<&RigParameters>,
        doubt: &Doubt,
    ) -> Result<(), LearntError> {
        let found = match rig {
            Some(rig) => memory.of(rig, doubt).cloned(),
            None => Err(LearntError::OtherRig),
        };
        self.earlier = Arc::new(memory);
        self.recalled = found.clone().ok();
        found.map(drop)
    }

    /// Continues the counts of another.
    pub fn continuing(self, old: &Self) -> Self {
        Self {
            changes: old.changes,
            unread: old.unread,
            ..self
        }
    }

    /// Counts reports learnt (or, when negative, taken back).
    pub fn note(&mut self, at: Millis, lessons: i64) {
        if lessons != 0 {
            self.changes.taught = self.changes.taught.saturating_add(1);
            self.lessons = self.lessons.saturating_add_signed(lessons);
            self.taught_at = (self.lessons > 0).then_some(at);
        }
    }

    /// The entry of this kite, from which the particles started.
    pub fn recalled(&self) -> Option<&Learnt> {
        self.recalled.as_ref()
    }

    /// About every kite, as recalled.
    pub fn earlier(&self) -> &Memory {
        &self.earlier
    }

    /// Counts changes.
    pub fn changes(&self) -> Changes {
        self.changes
    }

    /// How much was learnt about this kite, and when last; `None` when nothing was.
    pub fn now(&self) -> Option<LearntNow> {
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
    pub fn whole(
        &self,
        rig: Option<&RigParameters>,
        doubt: &Doubt,
        particles: Option<&Particles>,
    ) -> Memory {
        let mut memory = self.earlier.as_ref().clone();
        if self.taught_at.is_some()
            && let (Some(rig), Some(particles), Some(now)) = (rig, particles, self.now())
        {
            memory.keep(Learnt::of(now, rig, *doubt, particles.kept()));
        }
        memory
    }

    /// Forgets what was learnt about this kite, today and earlier.
    pub fn forget(&mut self, rig: Option<&RigParameters>) {
        let mut memory = self.earlier.as_ref().clone();
        if let Some(rig) = rig {
            memory.forget(rig);
        }
        self.earlier = Arc::new(memory);
        self.changes.forgotten = self.changes.forgotten.saturating_add(1);
        self.recalled = None;
        self.lessons = 0;
        self.taught_at = None;
    }
}
