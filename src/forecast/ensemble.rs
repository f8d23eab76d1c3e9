//! The members together: drawn, followed, weighed by what the crew sees, drawn anew.
//!
//! A particle filter. Beliefs are drawn once, evenly (a Latin hypercube). A report multiplies each
//! weight by the chance of that report from that member, in which a share of wrong reports is
//! allowed for, so that no member is ever ruled out by one tap. When few members carry the weight,
//! systematic resampling draws them anew, each moved a little toward the weighted mean and spread
//! by as much as that shrinks them (Liu and West 2001, from memory), so that copies differ and
//! the spread is kept. When the reports contradict nearly every member, some of them are given the
//! line that would make the report true, and together the weight that Bayes' rule leaves for "no
//! member hangs as the rig does": told as "contradicted", and wider, never narrower.
//!
//! Many members are followed, since that costs a second of motion each; a forecast draws its
//! fewer futures from them by weight, each with gusts and a turn of its own ([`Slot`]).

use super::draws::{Draws, systematic};
use super::learnt::KeptBelief;
use super::member::{Belief, Counted, KITE_AND_AIR, Member, Now, PROFILE, Slot, Stretch, TRAITS};
use super::report::{About, Report, allow_untrimmed, chance_of};
use super::settings::{Doubt, ForecastSettings};
use crate::time::Millis;

/// Share of the mean in a resampled belief is 1 less this.
const KEEP: f64 = 0.96;
/// Resample when the effective number of members falls below this share.
const FEW: f64 = 0.4;
/// The crew may take a report back for so long; nothing is resampled before.
pub(super) const UNDO_S: f64 = 16.0;
/// A report with less chance than this from all members together contradicts them.
const CONTRADICTED: f64 = 0.12;
/// ... and so does one that leaves the weight on less than this share of them.
const COLLAPSED: f64 = 0.1;
/// Chance that no member hangs as the rig truly does: before and after the first resampling.
/// Own judgement.
const ASTRAY: (f64, f64) = (0.04, 0.015);

/// Sightings that contradict widen what is believed of kite and air by this, up to the second
/// number, in spreads of the first draw. Own judgement.
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
    /// The weighted mean belief: what is drawn and what the settled pictures are made from.
    pub typical: Member,
    draws: Draws,
    /// What may still be taken back, newest last.
    fresh: Vec<Taken>,
    anchored_before: bool,
}

/// Something the members were told, and what they were before.
#[derive(Debug, Clone)]
struct Taken {
    at: Millis,
    about: About,
    /// What it weighed; empty for line moved, which weighs nothing.
    logs: Vec<f64>,
    before: Vec<(Belief, f64)>,
    /// Members that it hung anew, by index, as they hung before.
    hung: Vec<(usize, Member)>,
}

impl Ensemble {
    pub fn new(settings: &ForecastSettings) -> Self {
        let n = settings.beliefs;
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

    /// Takes in what was learnt earlier. The wind profile is today's own, and so is the line.
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

    /// Numbers of the rig that move no line have changed.
    pub fn rig_anew(&mut self) {
        for member in self.members.iter_mut().chain([&mut self.typical]) {
            member.rig = None;
        }
    }

    /// All members go on to the moment.
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

    /// The main line was counted afresh: what is out stays out, the count it is measured by
    /// changes, and the reading weighs like any other report.
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

    /// The rig went out afresh: nothing hangs yet, errors of the old count are gone.
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

    /// Keeps members as they hang, for taking back what is to be weighed last.
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

    /// The same to be kept: where none hangs just now, as the reports have left them.
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

    /// Weighs every member by a report.
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

    /// Gives a share of the members, the least likely ones, the line that makes the report true.
    /// One tap may be wrong: the others keep the rest of the weight, and the next report decides.
    /// No line makes a kite stand elsewhere: such a sighting widens what is believed of it.
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

    /// Spreads what the members believe of kite and air.
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

    /// The crew takes back what it told at this time. Everybody believes again what was believed
    /// before, and what was told since weighs as it did. False when it is too late.
    pub fn take_back(&mut self, told_at: Millis, about: About, now: &Now<'_>) -> bool {
        // A count is remembered before it moves the lines and again before it weighs, and with a
        // rig out afresh comes what is usual of it.
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

    /// Draws the members anew when few carry the weight and no report may be taken back.
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

    /// A copy moved toward the mean and spread by what that takes away.
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
