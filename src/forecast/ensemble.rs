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
use super::member::{Belief, Counted, Glimpse, Member, Now, PROFILE, Slot, Stretch, TRAITS};
use super::settings::{Doubt, ForecastSettings};
use crate::decode::BaitState;
use crate::rig::{Conditions, Current, MainLine, Rig, settled_state};
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
/// Chance that a rig of which only the line out is known is not trimmed. Own judgement.
const UNTRIMMED: f64 = 0.1;
/// Immersion that hands trim to, and its spread from crew to crew. Own judgement.
const TRIMMED: (f64, f64) = (0.25, 0.07);
/// Where fewer members than this share hang trimmed, it is what is believed that is in doubt, and
/// they get no more than their share calls for.
const LEAST_TRIMMED: f64 = 0.25;
/// Chance that no member hangs as the rig truly does: before and after the first resampling.
/// Own judgement.
const ASTRAY: (f64, f64) = (0.04, 0.015);

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
    /// Log-likelihoods of the reports that may still be taken back, newest last.
    fresh: Vec<(Millis, Report, Vec<f64>)>,
    anchored_before: bool,
}

/// One thing seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Report {
    Bait(BaitState),
    Elevation(f64),
    Bearing(f64),
    /// Main line counted afresh.
    MainCount(f64),
    /// A rig is out and nobody has said more: most crews have trimmed it.
    Trimmed,
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

    /// All members go on to the moment.
    pub fn follow(&mut self, now: &Now<'_>, stretch: Option<Stretch>) {
        for member in &mut self.members {
            member.follow(now, stretch);
        }
        self.typical.follow(now, stretch);
    }

    /// Line given or taken by the crew's count: every member has its own error of it.
    pub fn corrected(&mut self, by_m: f64, doubt: &Doubt) {
        let errors = self.draws.stratified_normal(self.members.len());
        for (member, z) in self.members.iter_mut().zip(errors) {
            member.belief.main_extra_m += by_m * doubt.correction * z;
        }
    }

    /// The main line was counted afresh: what is out stays out, the count it is measured by
    /// changes, and the reading weighs like any other report.
    pub fn recounted(&mut self, at: Millis, old: Counted, new: Counted, now: &Now<'_>) {
        for member in self.members.iter_mut().chain([&mut self.typical]) {
            let was = member.belief.lines(old, now.doubt, now.base).main_m;
            let is = member.belief.lines(new, now.doubt, now.base).main_m;
            member.belief.main_extra_m += was - is;
        }
        self.weigh(at, Report::MainCount(new.main_m), now);
    }

    /// Normalised weights; members that could not be followed have none.
    pub fn weights(&self) -> Vec<f64> {
        let top = self
            .members
            .iter()
            .filter(|m| m.state.is_some())
            .map(|m| m.log_weight)
            .fold(f64::NEG_INFINITY, f64::max);
        let raw: Vec<f64> = self
            .members
            .iter()
            .map(|m| {
                if m.state.is_some() && top.is_finite() {
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
        for (member, log) in self.members.iter_mut().zip(&logs) {
            member.log_weight += log;
        }
        self.fresh.push((at, report, logs));
        let square: f64 = self.weights().iter().map(|w| w * w).sum();
        let few = square * COLLAPSED * self.members.len() as f64 > 1.0;
        if (expected < CONTRADICTED || few) && matches!(report, Report::Bait(_)) {
            Heard::Contradicts { expected }
        } else if expected < 0.6 {
            Heard::Moved
        } else {
            Heard::Agrees
        }
    }

    /// Gives a share of the members, the least likely ones, the line that makes the report true.
    /// One tap may be wrong: the others keep the rest of the weight, and the next report decides.
    pub fn rescue(&mut self, state: BaitState, expected: f64, now: &Now<'_>) {
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
        let mut rescued = Vec::new();
        for (i, u) in order.into_iter().take(count).zip(strata) {
            if self.members[i].hang(state, u, now) {
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
        // What was weighed into the old weights can no longer be taken back.
        self.fresh.clear();
    }

    /// Takes the newest report of this kind back, if that is still possible.
    pub fn take_back(&mut self, at: Millis) -> bool {
        let Some(newest) = self.fresh.iter().rposition(|(when, report, _)| {
            matches!(report, Report::Bait(_)) && at.seconds_since(*when) <= 3.0 * UNDO_S
        }) else {
            return false;
        };
        let (_, _, logs) = self.fresh.remove(newest);
        for (member, log) in self.members.iter_mut().zip(logs) {
            member.log_weight -= log;
        }
        true
    }

    /// Draws the members anew when few carry the weight and no report may be taken back.
    pub fn renew(&mut self, at: Millis, now: &Now<'_>) {
        self.fresh
            .retain(|(when, ..)| at.seconds_since(*when) <= UNDO_S);
        let weights = self.weights();
        let square: f64 = weights.iter().map(|w| w * w).sum();
        let n = self.members.len();
        if square <= 0.0 || !self.fresh.is_empty() || 1.0 / square > FEW * n as f64 {
            return;
        }
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

/// Leaves the members together the weight of a rig that is not trimmed, wherever it hangs: a
/// constant beside each one's chance would leave the more, the less sure they are.
fn allow_untrimmed(chances: &mut [f64], weights: &[f64]) {
    let trimmed: f64 = chances.iter().zip(weights).map(|(c, w)| c * w).sum();
    for chance in chances {
        *chance = (1.0 - UNTRIMMED) * *chance / trimmed.max(LEAST_TRIMMED) + UNTRIMMED;
    }
}

/// Chance of a report from one member.
fn chance_of(member: &Member, report: Report, now: &Now<'_>) -> f64 {
    let doubt = now.doubt;
    let eye = |seen: f64, is: f64| {
        let sd = doubt.eye_deg.to_radians();
        let off = crate::turn::wrap_rad(seen - is) / sd;
        // A misreading of any size keeps a little chance.
        0.95 * (-0.5 * off * off).exp() + 0.05
    };
    let Some(last) = member.recent.last() else {
        return 0.5;
    };
    match report {
        Report::Bait(state) => {
            let share = member
                .recent
                .iter()
                .map(|glimpse| looks_like(glimpse, state))
                .sum::<f64>()
                / member.recent.len() as f64;
            let wrong = doubt.wrong_report;
            (1.0 - wrong) * share + 0.5 * wrong
        }
        Report::Trimmed => {
            let off = (last.immersion - TRIMMED.0) / TRIMMED.1;
            if last.immersion > 0.0 {
                (-0.5 * off * off).exp()
            } else {
                0.0
            }
        }
        Report::Elevation(seen) => eye(seen, last.elevation_rad),
        Report::Bearing(seen) => eye(seen, last.off_astern_rad),
        Report::MainCount(count) => {
            let sd = (doubt.main_line_out * count).max(0.5);
            let is = member.lines.map_or(count, |lines| lines.main_m);
            let off = (count - is) / sd;
            0.95 * (-0.5 * off * off).exp() + 0.05
        }
    }
}

/// How much a glimpse looks like a bait state, 0..1; the borders are soft, since neither the
/// model's immersion nor the eye is exact.
fn looks_like(glimpse: &Glimpse, state: BaitState) -> f64 {
    let s = glimpse.immersion;
    let airborne = if s <= 0.0 {
        (0.55 + 0.9 * (glimpse.bait_height_m - 0.035).max(0.0)).min(0.98)
    } else {
        0.5 * (1.0 - s / 0.08).max(0.0)
    };
    let dragging = 1.0 / (1.0 + (-(s - 0.7) / 0.06).exp());
    match state {
        BaitState::Airborne => airborne,
        BaitState::Dragging => dragging,
        BaitState::Skipping => (1.0 - airborne - dragging).max(0.0),
    }
}

impl Member {
    /// Takes the line that makes a bait state true in the wind of the last minute; `u` in 0..1
    /// spreads members over the state's band. False when there is no such line.
    fn hang(&mut self, state: BaitState, u: f64, now: &Now<'_>) -> bool {
        let (Some(air), Some(lines)) = (self.air, self.lines) else {
            return false;
        };
        let Ok(rig) = Rig::new(&self.belief.rig(now.base, now.doubt)) else {
            return false;
        };
        let (immersion, less_m) = match state {
            BaitState::Airborne => (0.02, 2.0 + 15.0 * u),
            BaitState::Skipping => (0.03 + 0.45 * u, 0.0),
            BaitState::Dragging => (0.72 + 0.2 * u, 0.0),
        };
        let conditions = Conditions {
            wind: air.mean,
            current: Current::default(),
            boat_speed_mps: now.speed_mps.max(0.0),
            heading_rad: now.heading_rad,
            kite_line_out_m: lines.kite_m,
        };
        let Ok(trim) = settled_state(&rig, &conditions, MainLine::Immersion(immersion), None)
        else {
            return false;
        };
        let wanted = trim.main_line_m - less_m;
        let has = self.belief.lines(now.counted, now.doubt, now.base).main_m;
        // Nobody miscounts by half.
        if (wanted - has).abs() > 0.35 * now.counted.main_m || wanted < 10.0 {
            return false;
        }
        self.belief.main_extra_m += wanted - has;
        self.rig = Some(rig);
        self.state = None;
        self.follow(now, None);
        self.state.is_some()
    }
}
