//! What the reports that can still be taken back did to the particles, so that one of them can be
//! left out afterwards.

use super::belief::Belief;
use super::particle::Particle;
use crate::time::Millis;

/// How long updates are kept: a little longer than the crew may take a report back.
pub const UNDO_S: f64 = crate::vessel::UNDO_WINDOW_S + 1.0;

/// One update of the particles, with their state before it.
#[derive(Debug, Clone)]
pub struct Update {
    /// The report that it comes from.
    pub number: Option<u64>,
    pub at: Millis,
    /// Log-likelihood for each particle; empty for line moved, which changes no weight.
    pub log_likelihoods: Vec<f64>,
    /// Belief and log weight of each particle before it.
    pub before: Vec<(Belief, f64)>,
    /// Particles whose rig it replaced, by index, as they were before.
    pub replaced: Vec<(usize, Particle)>,
}

/// The particles as they would be without one report.
#[derive(Debug)]
pub struct Past {
    /// Belief and log weight of each.
    pub beliefs: Vec<(Belief, f64)>,
    /// Whole particles, by index.
    pub replaced: Vec<(usize, Particle)>,
}

/// Updates of the last seconds, oldest first.
#[derive(Debug, Clone, Default)]
pub struct Updates(Vec<Update>);

impl Updates {
    pub fn push(&mut self, update: Update) {
        self.0.push(update);
    }

    /// The latest update replaces these.
    pub fn latest_replaces(&mut self, particles: Vec<(usize, Particle)>) {
        if let Some(last) = self.0.last_mut() {
            last.replaced = particles;
        }
    }

    /// Removes all updates that come from a report, and returns what was before the first of them
    /// with the likelihoods of everything since. `None` when nothing of it is kept any more.
    pub fn take_back(&mut self, number: u64) -> Option<Past> {
        let is = |update: &Update| update.number == Some(number);
        let first = self.0.iter().position(is)?;
        let (mut beliefs, mut replaced) = (None, Vec::new());
        while let Some(next) = self.0.iter().position(is) {
            let update = self.0.remove(next);
            replaced.extend(update.replaced);
            beliefs.get_or_insert(update.before);
        }
        let later = &self.0[first..];
        let mut beliefs = beliefs.unwrap_or_default();
        for (i, (_, log_weight)) in beliefs.iter_mut().enumerate() {
            *log_weight += later
                .iter()
                .filter_map(|update| update.log_likelihoods.get(i))
                .sum::<f64>();
        }
        Some(Past { beliefs, replaced })
    }

    /// Forgets what is older than `keep_s`.
    pub fn expire(&mut self, at: Millis, keep_s: f64) {
        self.0
            .retain(|update| at.seconds_since(update.at) <= keep_s);
    }

    /// Whether one of them changed weights.
    pub fn hold_weights(&self) -> bool {
        self.0
            .iter()
            .any(|update| !update.log_likelihoods.is_empty())
    }
}
