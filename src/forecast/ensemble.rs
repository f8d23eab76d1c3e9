//! The ensemble of beliefs: drawn, propagated, weighted by the crew's reports, resampled.
//!
//! A particle filter. The prior is sampled once, as a Latin hypercube. A report multiplies each
//! weight by its likelihood under that member. The likelihood includes a probability of wrong
//! reports, so that one tap never rules out a member. When the effective sample size is low,
//! systematic resampling with shrinkage toward the weighted mean and a matching kernel (Liu and
//! West 2001, from memory) keeps copies distinct and preserves the spread. When the reports
//! contradict nearly every member, some members are given the line out that makes the report true.
//! Together they get the weight that Bayes' rule assigns to "the true rig is outside the ensemble".
//! The crew is told that its report contradicts the forecast, and the distribution becomes wider,
//! never narrower.
//!
//! A forecast resamples its smaller number of futures from the members, each with the gusts and
//! turns of its [`Slot`].

use super::draws::{Draws, systematic};
use super::learnt::KeptBelief;
use super::member::{Belief, Counted, KITE_AND_AIR, Member, Now, PROFILE, Slot, Stretch, TRAITS};
use super::report::{About, Report, allow_untrimmed, chance_of};
use super::settings::{Doubt, ForecastSettings};
use crate::time::Millis;

/// Shrinkage of the kernel: a resampled belief is this share of itself plus the rest of the mean.
const KEEP: f64 = 0.96;
/// Resample when the effective sample size falls below this share of the members.
const FEW: f64 = 0.4;
/// How long the crew may take a report back; no resampling happens before.
pub(super) const UNDO_S: f64 = 16.0;
/// A report whose likelihood under the whole ensemble is lower contradicts it.
const CONTRADICTED: f64 = 0.12;
/// So does one that reduces the effective sample size below this share of the members.
const COLLAPSED: f64 = 0.1;
/// Prior probability that the true rig is outside the ensemble: before and after the first
/// resampling. Own judgement.
const ASTRAY: (f64, f64) = (0.04, 0.015);

/// A contradicting sighting widens the beliefs about kite and air by the first factor, up to the
/// second number in prior standard deviations. Own judgement.
const WIDER: (f64, f64) = (1.5, 2.0);

/// What a report did.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Heard {
    /// Most members agree.
    Agrees,
    /// It moved the weights.
    Moved,
    /// It contradicted nearly every member.
    Contradicts {
        /// Chance of it from all members together.
        expected: f64,
    },
}

/// The members.
#[derive(Debug, Clone)]
pub(super) struct Ensemble {
    pub members: Vec<Member>,
    pub slots: Vec<Slot>,
    /// The weighted mean belief: for the drawing of the rig and for settled states.
    pub typical: Member,
    draws: Draws,
    /// What may still be taken back, newest last.
    fresh: Vec<Taken>,
    anchored_before: bool,
}

/// An update of the ensemble, with its state before it.
#[derive(Debug, Clone)]
struct Taken {
    at: Millis,
    about: About,
    /// Log-likelihood per member; empty for line moved, which changes no weight.
    logs: Vec<f64>,
    before: Vec<(Belief, f64)>,
    /// Members whose rig it replaced, by index, as they were before.
    hung: Vec<(usize, Member)>,
}

impl Ensemble {
    pub fn new(settings: &ForecastSettings) -> Self {
        let n = settings.particles;
        let mut draws = Draws::new(settings.seed, 0);
        let traits: Vec<Vec<f64>> = (0..TRAITS).map(|_| draws.stratified_normal(n)).collect();
        let members = (0..n)
            .map(|i| {
                Member::new(Belief {
                    z: std::array::from_fn(|t| traits[t][i]),
                    main_extra_m: 0.0,
                })
            })
            .collect();
        let slots = Slot::draw(settings, &mut draws);
        Self {
            members,
            slots,
            typical: Member::new(Belief {
                z: [0.0; TRAITS],
                main_extra_m: 0.0,
            }),
            draws,
            fresh: Vec::new(),
            anchored_before: false,
        }
    }

    /// Starts from what was learnt earlier. Wind profile and line out are drawn fresh: they belong
    /// to the day.
    pub fn taught(mut self, learnt: &[KeptBelief]) -> Self {
        let weights: Vec<f64> = learnt.iter().map(|belief| belief.weight).collect();
        let n = self.members.len();
        for (member, i) in
            self.members
                .iter_mut()
                .zip(systematic(&weights, n, self.draws.uniform()))
        {
            if let Some(kept) = learnt.get(i) {
                let profile = member.belief.z[PROFILE];
                member.belief.z = kept.traits;
                member.belief.z[PROFILE] = profile;
            }
        }
        let moments = Moments::of(&self.members, &vec![1.0 / n.max(1) as f64; n]);
        for member in &mut self.members {
            let belief = moments.spread(&member.belief, &mut self.draws);
            member.believe(Belief {
                main_extra_m: 0.0,
                ..belief
            });
        }
        self.typical.believe(moments.mean);
        self
    }

    /// Rig numbers that do not affect motion have changed.
    pub fn rig_anew(&mut self) {
        for member in self.members.iter_mut().chain([&mut self.typical]) {
            member.rig = None;
        }
    }

    /// Propagates all members to the present.
    pub fn follow(&mut self, now: &Now<'_>, stretch: Option<Stretch>) {
        for member in &mut self.members {
            member.follow(now, stretch);
        }
        self.typical.follow(now, stretch);
    }

    /// Line given or taken by the crew's count: every member has its own error of it.
    pub fn corrected(&mut self, at: Millis, by_m: f64, doubt: &Doubt) {
        self.remember(at, About::Lines, Vec::new());
        let errors = self.draws.stratified_normal(self.members.len());
        for (member, z) in self.members.iter_mut().zip(errors) {
            member.belief.main_extra_m += by_m * doubt.correction * z;
        }
    }

    /// The crew has read the main line count again: the line out of each member stays, the
    /// reference count changes, and the reading is weighted like any other report.
    pub fn recounted(&mut self, at: Millis, old: Counted, new: Counted, now: &Now<'_>) {
        self.remember(at, About::Lines, Vec::new());
        for member in self.members.iter_mut().chain([&mut self.typical]) {
            let was = member.belief.lines(old, now.doubt, now.base).main_m;
            let is = member.belief.lines(new, now.doubt, now.base).main_m;
            member.belief.main_extra_m += was - is;
        }
        let result = self.weigh(at, Report::MainCount(new.main_m), now);
        if let Heard::Contradicts { expected } = result {
            self.rescue(Report::MainCount(new.main_m), expected, now);
        }
    }

    /// The rig was set out again: no member has a state yet, and errors of the old count are
    /// dropped.
    pub fn out_afresh(&mut self, at: Millis) {
        self.remember(at, About::Lines, Vec::new());
        self.keep_hanging(0..self.members.len());
        for member in self.members.iter_mut().chain([&mut self.typical]) {
            member.state = None;
            member.belief.main_extra_m = 0.0;
        }
    }

    fn remember(&mut self, at: Millis, about: About, logs: Vec<f64>) {
        let before = self
            .members
            .iter()
            .map(|member| (member.belief.clone(), member.log_weight))
            .collect();
        self.fresh.push(Taken {
            at,
            about,
            logs,
            before,
            hung: Vec::new(),
        });
    }

    /// Saves the state of members, so that the latest report can be taken back.
    fn keep_hanging(&mut self, which: impl Iterator<Item = usize>) {
        let kept: Vec<_> = which
            .filter_map(|i| Some((i, self.members.get(i)?.clone())))
            .collect();
        if let Some(last) = self.fresh.last_mut() {
            last.hung = kept;
        }
    }

    /// Normalised weights; members that could not be followed have none.
    pub fn weights(&self) -> Vec<f64> {
        self.weights_of(|member| member.state.is_some())
    }

    /// Weights to be stored: those of all members while none has a state.
    pub fn kept_weights(&self) -> Vec<f64> {
        if self.members.iter().any(|member| member.state.is_some()) {
            self.weights()
        } else {
            self.weights_of(|_| true)
        }
    }

    fn weights_of(&self, counts: impl Fn(&Member) -> bool) -> Vec<f64> {
        let top = self
            .members
            .iter()
            .filter(|m| counts(m))
            .map(|m| m.log_weight)
            .fold(f64::NEG_INFINITY, f64::max);
        let raw: Vec<f64> = self
            .members
            .iter()
            .map(|m| {
                if counts(m) && top.is_finite() {
                    (m.log_weight - top).exp()
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
    pub fn weigh(&mut self, at: Millis, report: Report, now: &Now<'_>) -> Heard {
        let weights = self.weights();
        let mut chances: Vec<f64> = self
            .members
            .iter()
            .map(|member| chance_of(member, report, now))
            .collect();
        if report == Report::Trimmed {
            allow_untrimmed(&mut chances, &weights);
        }
        let expected: f64 = weights.iter().zip(&chances).map(|(w, c)| w * c).sum();
        let logs: Vec<f64> = chances.iter().map(|c| c.max(1e-6).ln()).collect();
        self.remember(at, report.about(), logs.clone());
        for (member, log) in self.members.iter_mut().zip(&logs) {
            member.log_weight += log;
        }
        let square: f64 = self.weights().iter().map(|w| w * w).sum();
        let few = square * COLLAPSED * self.members.len() as f64 > 1.0;
        let collapsed = few && matches!(report, Report::Bait(_));
        if collapsed || expected < CONTRADICTED && report != Report::Trimmed {
            Heard::Contradicts { expected }
        } else if expected < 0.6 {
            Heard::Moved
        } else {
            Heard::Agrees
        }
    }

    /// Gives the least likely members the line out that makes the report true. The tap may be
    /// wrong: the others keep the rest of the weight, and the next report decides. No line length
    /// explains a kite seen elsewhere: such a sighting widens the beliefs about kite and air.
    pub fn rescue(&mut self, report: Report, expected: f64, now: &Now<'_>) {
        if matches!(report, Report::Elevation(_) | Report::Bearing(_)) {
            self.widen(now);
            return;
        }
        let astray = if self.anchored_before {
            ASTRAY.1
        } else {
            ASTRAY.0
        };
        let share = astray / (astray + expected);
        let count = (0.4 * self.members.len() as f64) as usize;
        let weights = self.weights();
        let mut order: Vec<usize> = (0..self.members.len()).collect();
        order.sort_by(|a, b| weights[*a].total_cmp(&weights[*b]));
        let strata = self.draws.stratified(count);
        order.truncate(count);
        self.keep_hanging(order.iter().copied());
        let mut rescued = Vec::new();
        for (i, u) in order.into_iter().zip(strata) {
            if self.members[i].agree(report, u, now) {
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
        for (i, member) in self.members.iter_mut().enumerate() {
            let weight = if rescued.contains(&i) {
                share / rescued.len() as f64
            } else {
                (1.0 - share) * weights[i] / kept
            };
            member.log_weight = weight.max(1e-12).ln();
        }
    }

    /// Widens the beliefs about kite and air.
    fn widen(&mut self, now: &Now<'_>) {
        let moments = Moments::of(&self.members, &self.weights());
        for member in &mut self.members {
            let mut belief = member.belief.clone();
            for t in KITE_AND_AIR {
                let sd = moments.sd[t].max(0.1);
                let by = WIDER.0.min(WIDER.1 / sd).max(1.0);
                belief.z[t] = moments.mean.z[t] + by * (belief.z[t] - moments.mean.z[t]);
            }
            member.believe(belief);
            member.rig(now);
        }
    }

    /// Takes back the report of this time: restores the earlier beliefs and weights, then reapplies
    /// later reports. False when it is too late.
    pub fn take_back(&mut self, told_at: Millis, about: About, now: &Now<'_>) -> bool {
        // A count leaves two entries, one for the lines and one for the weights; a rig set out
        // again also leaves the one for its trimmed prior.
        let is = |taken: &Taken| {
            taken.at == told_at
                && (taken.about == about || (taken.about, about) == (About::Rig, About::Lines))
        };
        let Some(first) = self.fresh.iter().position(is) else {
            return false;
        };
        let taken = self.fresh.remove(first);
        let mut hung = taken.hung;
        while let Some(next) = self.fresh.iter().position(is) {
            hung.extend(self.fresh.remove(next).hung);
        }
        for (i, member) in hung {
            if let Some(now) = self.members.get_mut(i) {
                *now = member;
            }
        }
        let later = &self.fresh[first..];
        for (i, (member, (belief, log_weight))) in
            self.members.iter_mut().zip(taken.before).enumerate()
        {
            let since: f64 = later.iter().filter_map(|taken| taken.logs.get(i)).sum();
            member.log_weight = log_weight + since;
            if member.belief != belief {
                member.believe(belief);
            }
            member.run_to(now);
        }
        true
    }

    /// Resamples when the effective sample size is low and no report can be taken back any more.
    pub fn renew(&mut self, at: Millis, now: &Now<'_>) {
        self.fresh
            .retain(|taken| at.seconds_since(taken.at) <= UNDO_S);
        let weights = self.weights();
        let square: f64 = weights.iter().map(|w| w * w).sum();
        let n = self.members.len();
        let weighed = self.fresh.iter().any(|taken| !taken.logs.is_empty());
        if square <= 0.0 || weighed || 1.0 / square > FEW * n as f64 {
            return;
        }
        self.fresh.clear();
        self.anchored_before = true;
        let moments = Moments::of(&self.members, &weights);
        let picked = systematic(&weights, n, self.draws.uniform());
        let old = std::mem::take(&mut self.members);
        self.members = picked
            .iter()
            .map(|i| {
                let mut member = old[*i].clone();
                member.log_weight = 0.0;
                let belief = moments.spread(&member.belief, &mut self.draws);
                member.believe(belief);
                member.rig(now);
                member
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
        let mean = Moments::of(&self.members, &weights).mean;
        let state = self.typical.state.take();
        self.typical.believe(mean);
        self.typical.state = state;
        self.typical.follow(now, None);
    }
}

/// Weighted mean and spread of the beliefs.
struct Moments {
    mean: Belief,
    sd: [f64; TRAITS],
    sd_extra_m: f64,
}

impl Moments {
    fn of(members: &[Member], weights: &[f64]) -> Self {
        let weighted = |of: &dyn Fn(&Belief) -> f64| {
            let mean: f64 = members
                .iter()
                .zip(weights)
                .map(|(m, w)| w * of(&m.belief))
                .sum();
            let variance: f64 = members
                .iter()
                .zip(weights)
                .map(|(m, w)| w * (of(&m.belief) - mean).powi(2))
                .sum();
            (mean, variance.sqrt())
        };
        let mut mean = Belief {
            z: [0.0; TRAITS],
            main_extra_m: 0.0,
        };
        let mut sd = [0.0; TRAITS];
        for (t, (mean, sd)) in mean.z.iter_mut().zip(&mut sd).enumerate() {
            (*mean, *sd) = weighted(&|b| b.z[t]);
        }
        let (extra, sd_extra_m) = weighted(&|b| b.main_extra_m);
        mean.main_extra_m = extra;
        Self {
            mean,
            sd,
            sd_extra_m,
        }
    }

    /// A copy shrunk toward the mean, with kernel noise that restores the variance.
    fn spread(&self, belief: &Belief, draws: &mut Draws) -> Belief {
        let widen = (1.0 - KEEP * KEEP).sqrt();
        let mut moved = |value: f64, mean: f64, sd: f64| {
            KEEP * value + (1.0 - KEEP) * mean + widen * sd * draws.normal()
        };
        Belief {
            z: std::array::from_fn(|t| moved(belief.z[t], self.mean.z[t], self.sd[t].max(0.1))),
            main_extra_m: moved(
                belief.main_extra_m,
                self.mean.main_extra_m,
                self.sd_extra_m.max(0.5),
            ),
        }
    }
}
