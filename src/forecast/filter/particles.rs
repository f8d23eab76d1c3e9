//! The particles with their weights: propagated, weighted by the crew's reports, resampled.
//!
//! A report multiplies each weight by its likelihood under that particle. The likelihood includes a
//! probability of wrong reports, so that one tap never rules out a particle. When the effective
//! sample size is low, systematic resampling with shrinkage toward the weighted mean and a matching
//! kernel (Liu and West 2001, from memory) keeps copies distinct and preserves the spread. When the
//! reports contradict nearly every particle, some particles are given the line out that makes the
//! report true. Together they get the weight that Bayes' rule assigns to "the true rig is outside
//! the ensemble". The crew is told that its report contradicts the forecast, and the distribution
//! becomes wider, never narrower.

use rayon::prelude::*;

use super::belief::{Belief, Counted, KeptBelief, Moments, Traits};
use super::likelihood::{Sighting, allow_untrimmed, chance_of};
use super::particle::{Now, Particle, Stretch};
use super::updates::{UNDO_S, Update, Updates};
use crate::forecast::draws::{Draws, systematic};
use crate::forecast::settings::Doubt;
use crate::time::Millis;

/// Particles followed by one thread at a stretch: one alone takes less time than handing it on.
const TOGETHER: usize = 16;
/// Resample when the effective sample size falls below this share of the particles.
const FEW: f64 = 0.4;
/// A report whose likelihood under all particles together is lower contradicts them.
const CONTRADICTED: f64 = 0.12;
/// So does one that reduces the effective sample size below this share of the particles.
const COLLAPSED: f64 = 0.1;
/// Prior probability that the true rig is outside the ensemble: before and after the first
/// resampling. Own judgement.
const ASTRAY: (f64, f64) = (0.04, 0.015);

/// A contradicting sighting widens the beliefs about kite and air by the first factor, up to the
/// second number in prior standard deviations. Own judgement.
const WIDER: (f64, f64) = (1.5, 2.0);

/// Which report an update comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Source {
    /// Number of the report; `None` for what no report can take back.
    pub number: Option<u64>,
    pub at: Millis,
}

/// What a report did.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Heard {
    /// Most particles agree.
    Agrees,
    /// It moved the weights.
    Moved,
    /// It contradicted nearly every particle.
    Contradicts {
        /// Chance of it from all particles together.
        expected: f64,
    },
}

/// The particles.
#[derive(Debug, Clone)]
pub struct Particles {
    all: Vec<Particle>,
    /// The weighted mean belief: for the drawing of the rig and for settled states.
    typical: Particle,
    draws: Draws,
    updates: Updates,
    resampled: bool,
}

impl Particles {
    /// Starts from beliefs of equal weight; `draws` are those of everything later.
    pub fn new(prior: Vec<Belief>, draws: Draws) -> Self {
        Self {
            all: prior.into_iter().map(Particle::new).collect(),
            typical: Particle::to_draw(),
            draws,
            updates: Updates::default(),
            resampled: false,
        }
    }

    /// Starts from what was learnt earlier. Wind profile and line out are drawn fresh: they belong
    /// to the day.
    #[must_use]
    pub fn taught(mut self, learnt: &[KeptBelief]) -> Self {
        let weights: Vec<f64> = learnt.iter().map(|belief| belief.weight).collect();
        let n = self.all.len();
        for (particle, i) in self
            .all
            .iter_mut()
            .zip(systematic(&weights, n, self.draws.uniform()))
        {
            if let Some(kept) = learnt.get(i) {
                particle.belief.traits = Traits {
                    wind_exponent: particle.belief.traits.wind_exponent,
                    ..Traits::from_array(kept.traits)
                };
            }
        }
        let moments = Moments::of(&self.beliefs(), &vec![1.0 / n.max(1) as f64; n]);
        for particle in &mut self.all {
            let belief = moments.jitter(&particle.belief, &mut self.draws);
            particle.believe(Belief {
                main_extra_m: 0.0,
                ..belief
            });
        }
        self.typical.believe(moments.mean);
        self
    }

    /// All of them.
    pub fn all(&self) -> &[Particle] {
        &self.all
    }

    /// The particle of the weighted mean belief; where that hangs in no way, the nearest that hangs.
    pub fn typical(&self) -> &Particle {
        let mean = &self.typical;
        if mean.state.is_some() {
            return mean;
        }
        let far = |particle: &&Particle| particle.belief.traits.distance(mean.belief.traits);
        (self.all.iter())
            .filter(|particle| particle.state.is_some())
            .min_by(|a, b| far(a).total_cmp(&far(b)))
            .unwrap_or(mean)
    }

    /// Weighted share of those whose kite has come down, among them and those that hang.
    pub fn fallen(&self) -> f64 {
        let weights = self.weights_of(|particle| particle.state.is_some() || particle.fell);
        (self.all.iter().zip(weights))
            .filter(|(particle, _)| particle.state.is_none())
            .fold(0.0, |sum, (_, weight)| sum + weight)
    }

    /// The beliefs with their weights, to be kept.
    pub fn kept(&self) -> impl Iterator<Item = (Belief, f64)> {
        // The weights of all particles while none has a state.
        let weights = if self.all.iter().any(|particle| particle.state.is_some()) {
            self.weights()
        } else {
            self.weights_of(|_| true)
        };
        self.beliefs().into_iter().zip(weights)
    }

    fn beliefs(&self) -> Vec<Belief> {
        self.all.iter().map(|particle| particle.belief).collect()
    }

    /// Rig numbers that do not affect motion have changed.
    pub fn rig_anew(&mut self) {
        for particle in self.all.iter_mut().chain([&mut self.typical]) {
            particle.rig = None;
        }
    }

    /// Propagates all particles to the present.
    pub fn follow(&mut self, now: &Now<'_>, stretch: Option<Stretch>) {
        self.all
            .par_iter_mut()
            .with_min_len(TOGETHER)
            .for_each(|particle| particle.follow(now, stretch));
        self.typical.follow(now, stretch);
    }

    /// Line given or taken by the crew's count: every particle has its own error of it.
    pub fn corrected(&mut self, source: Source, by_m: f64, doubt: &Doubt) {
        self.remember(source, Vec::new());
        let errors = self.draws.stratified_normal(self.all.len());
        for (particle, z) in self.all.iter_mut().zip(errors) {
            particle.belief.main_extra_m += by_m * doubt.correction * z;
        }
    }

    /// The crew has read the main line count again: the line out of each particle stays, the
    /// reference count changes, and the reading is weighted like any other report.
    pub fn recounted(&mut self, source: Source, old: Counted, new: Counted, now: &Now<'_>) {
        self.remember(source, Vec::new());
        for particle in self.all.iter_mut().chain([&mut self.typical]) {
            let was = particle.belief.lines(old, now.doubt(), now.base).main_m;
            let is = particle.belief.lines(new, now.doubt(), now.base).main_m;
            particle.belief.main_extra_m += was - is;
        }
        let reading = Sighting::MainCount(new.main_m);
        let result = self.weigh(source, reading, now);
        if let Heard::Contradicts { expected } = result {
            self.rescue(reading, expected, now);
        }
    }

    /// The rig was set out again: no particle has a state yet, and errors of the old count are
    /// dropped.
    pub fn out_afresh(&mut self, source: Source) {
        self.remember(source, Vec::new());
        self.keep_replaced(0..self.all.len());
        for particle in self.all.iter_mut().chain([&mut self.typical]) {
            particle.state = None;
            particle.fell = false;
            particle.belief.main_extra_m = 0.0;
        }
    }

    fn remember(&mut self, source: Source, log_likelihoods: Vec<f64>) {
        let before = self
            .all
            .iter()
            .map(|particle| (particle.belief, particle.log_weight))
            .collect();
        self.updates.push(Update {
            number: source.number,
            at: source.at,
            log_likelihoods,
            before,
            replaced: Vec::new(),
        });
    }

    /// Saves particles whose rig the latest report is about to replace.
    fn keep_replaced(&mut self, which: impl Iterator<Item = usize>) {
        let kept = which
            .filter_map(|i| Some((i, self.all.get(i)?.clone())))
            .collect();
        self.updates.latest_replaces(kept);
    }

    /// Normalised weights; particles that could not be followed have none.
    pub fn weights(&self) -> Vec<f64> {
        self.weights_of(|particle| particle.state.is_some())
    }

    fn weights_of(&self, counts: impl Fn(&Particle) -> bool) -> Vec<f64> {
        let top = self
            .all
            .iter()
            .filter(|particle| counts(particle))
            .map(|particle| particle.log_weight)
            .fold(f64::NEG_INFINITY, f64::max);
        let raw: Vec<f64> = self
            .all
            .iter()
            .map(|particle| {
                if counts(particle) && top.is_finite() {
                    (particle.log_weight - top).exp()
                } else {
                    0.0
                }
            })
            .collect();
        let total: f64 = raw.iter().sum();
        if total > 0.0 {
            raw.into_iter().map(|w| w / total).collect()
        } else {
            vec![0.0; raw.len()]
        }
    }

    /// Multiplies every weight by the likelihood of a report.
    pub fn weigh(&mut self, source: Source, seen: Sighting, now: &Now<'_>) -> Heard {
        let weights = self.weights();
        let mut chances: Vec<f64> = self
            .all
            .iter()
            .map(|particle| chance_of(particle, seen, now))
            .collect();
        if seen == Sighting::Trimmed {
            allow_untrimmed(&mut chances, &weights);
        }
        let expected: f64 = weights.iter().zip(&chances).map(|(w, c)| w * c).sum();
        let logs: Vec<f64> = chances.iter().map(|c| c.max(1e-6).ln()).collect();
        self.remember(source, logs.clone());
        for (particle, log) in self.all.iter_mut().zip(&logs) {
            particle.log_weight += log;
        }
        let square: f64 = self.weights().iter().map(|w| w * w).sum();
        let few = square * COLLAPSED * self.all.len() as f64 > 1.0;
        let collapsed = few && matches!(seen, Sighting::Bait(_));
        if collapsed || expected < CONTRADICTED && seen != Sighting::Trimmed {
            Heard::Contradicts { expected }
        } else if expected < 0.6 {
            Heard::Moved
        } else {
            Heard::Agrees
        }
    }

    /// Gives the least likely particles the line out that makes the report true. The tap may be
    /// wrong: the others keep the rest of the weight, and the next report decides. No line length
    /// explains a kite seen elsewhere: such a sighting widens the beliefs about kite and air.
    pub fn rescue(&mut self, seen: Sighting, expected: f64, now: &Now<'_>) {
        if matches!(seen, Sighting::Elevation(_) | Sighting::Bearing(_)) {
            self.widen(now);
            return;
        }
        let astray = if self.resampled { ASTRAY.1 } else { ASTRAY.0 };
        let share = astray / (astray + expected);
        let count = (0.4 * self.all.len() as f64) as usize;
        let weights = self.weights();
        let mut order: Vec<usize> = (0..self.all.len()).collect();
        order.sort_by(|a, b| weights[*a].total_cmp(&weights[*b]));
        let strata = self.draws.stratified(count);
        order.truncate(count);
        self.keep_replaced(order.iter().copied());
        let mut rescued = Vec::new();
        for (i, u) in order.into_iter().zip(strata) {
            if self.all[i].agree(seen, u, now) {
                rescued.push(i);
            }
        }
        if rescued.is_empty() {
            return;
        }
        let weights = self.weights();
        let kept: f64 = (0..weights.len())
            .filter(|i| !rescued.contains(i))
            .map(|i| weights[i])
            .sum();
        if kept <= 0.0 {
            return;
        }
        for (i, particle) in self.all.iter_mut().enumerate() {
            let weight = if rescued.contains(&i) {
                share / rescued.len() as f64
            } else {
                (1.0 - share) * weights[i] / kept
            };
            particle.log_weight = weight.max(1e-12).ln();
        }
    }

    /// Widens the beliefs about kite and air: what determines where the kite stands.
    fn widen(&mut self, now: &Now<'_>) {
        let Moments { mean, sd } = Moments::of(&self.beliefs(), &self.weights());
        let (mean, sd) = (mean.traits, sd.traits);
        let wider = |is: f64, mean: f64, sd: f64| {
            let by = WIDER.0.min(WIDER.1 / sd.max(0.1)).max(1.0);
            mean + by * (is - mean)
        };
        for particle in &mut self.all {
            let own = particle.belief.traits;
            let traits = Traits {
                kite_lift: wider(own.kite_lift, mean.kite_lift, sd.kite_lift),
                kite_drag: wider(own.kite_drag, mean.kite_drag, sd.kite_drag),
                wind_exponent: wider(own.wind_exponent, mean.wind_exponent, sd.wind_exponent),
                wind_angle: wider(own.wind_angle, mean.wind_angle, sd.wind_angle),
                ..own
            };
            particle.believe(Belief {
                traits,
                ..particle.belief
            });
            particle.rig(now);
        }
    }

    /// Takes a report back: restores the earlier beliefs and weights, then reapplies later reports.
    /// False when it is too late.
    pub fn take_back(&mut self, number: u64, now: &Now<'_>) -> bool {
        let Some(past) = self.updates.take_back(number) else {
            return false;
        };
        for (i, particle) in past.replaced {
            if let Some(now) = self.all.get_mut(i) {
                *now = particle;
            }
        }
        for (particle, (belief, log_weight)) in self.all.iter_mut().zip(past.beliefs) {
            particle.log_weight = log_weight;
            if particle.belief != belief {
                particle.believe(belief);
            }
            particle.rig(now);
        }
        true
    }

    /// Resamples when the effective sample size is low and no report can be taken back any more.
    pub fn renew(&mut self, at: Millis, now: &Now<'_>) {
        self.updates.expire(at, UNDO_S);
        let weights = self.weights();
        let square: f64 = weights.iter().map(|w| w * w).sum();
        let n = self.all.len();
        if square <= 0.0 || self.updates.hold_weights() || 1.0 / square > FEW * n as f64 {
            return;
        }
        self.updates = Updates::default();
        self.resampled = true;
        let moments = Moments::of(&self.beliefs(), &weights);
        let picked = systematic(&weights, n, self.draws.uniform());
        let old = std::mem::take(&mut self.all);
        self.all = picked
            .iter()
            .map(|i| {
                let mut particle = old[*i].clone();
                particle.log_weight = 0.0;
                let belief = moments.jitter(&particle.belief, &mut self.draws);
                particle.believe(belief);
                particle.rig(now);
                particle
            })
            .collect();
        self.find_typical(now);
    }

    /// The weighted mean belief.
    pub fn find_typical(&mut self, now: &Now<'_>) {
        let weights = self.weights();
        if weights.iter().sum::<f64>() <= 0.0 {
            return;
        }
        let mean = Moments::of(&self.beliefs(), &weights).mean;
        let state = self.typical.state.take();
        self.typical.believe(mean);
        self.typical.state = state;
        self.typical.follow(now, None);
    }
}
