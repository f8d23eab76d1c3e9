//! The plan: the few best courses flown in the whole model, the best of them offered.
//! In: the moment. Out: a [`PassPlan`], or a [`Refusal`] with its cause and what would help.

use rayon::prelude::*;

use super::judge::{Judged, LIKELY, OFFERED, Panel, judge};
use super::mend::{PassPlan, aimed, finished};
use super::refusal::{Refusal, refusal};
use super::search::{Candidate, Grid, candidates};
use super::settled::Settled;
use super::situation::Situation;

/// Courses finished in a round.
const FINISHED: usize = 2;
/// What else is tried when the usual way gives no likely pass: shares of the speed and of the rate of
/// turn. And bounds of the speed, m/s (own choice: a trolling boat with a kite up).
const OTHERWISE: [(f64, f64); 3] = [(1.25, 1.0), (0.8, 1.0), (1.0, 0.5)];
const SPEED_BOUNDS_MPS: (f64, f64) = (1.0, 5.0);
/// A chance that is higher by less may be so by luck of the choosers.
const NOT_CLEARLY: f64 = 0.1;
/// The usual course has to be left for a gain in chance of so much.
const OTHERWISE_GAIN: f64 = 0.1;

/// What is looked at in a round: the courses of one way that the typical rig flies at most, those of them
/// that the first judges fly, and the grid on which they are found.
struct Round {
    aimed: usize,
    judged: usize,
    grid: Grid,
}

const USUAL: Round = Round {
    aimed: 24,
    judged: 6,
    grid: Grid::COARSE,
};
const OTHER: Round = Round {
    aimed: 6,
    judged: 3,
    grid: Grid::COARSE,
};
/// Before a pass is refused.
const LAST: Round = Round {
    aimed: 8,
    judged: 6,
    grid: Grid::FINE,
};

/// A speed and a rate of turn.
struct Way<'a> {
    sit: Situation<'a>,
    settled: Settled,
    speed_mps: f64,
}

impl<'a> Way<'a> {
    fn usual(sit: &Situation<'a>) -> Self {
        Self {
            sit: *sit,
            settled: Settled::new(sit, sit.boat.speed_mps),
            speed_mps: sit.boat.speed_mps,
        }
    }

    /// `None` where it is hardly another.
    fn other(&self, speed: f64, rate: f64) -> Option<Self> {
        let now_mps = self.speed_mps;
        let speed_mps = (speed * now_mps).clamp(SPEED_BOUNDS_MPS.0, SPEED_BOUNDS_MPS.1);
        if rate == 1.0 && (speed_mps - now_mps).abs() < 0.1 * now_mps {
            return None;
        }
        let mut sit = self.sit;
        sit.bounds.rate_rad_s =
            (sit.bounds.rate_rad_s).map(|limit| limit.map(|limit| rate * limit));
        // How the rig hangs depends on the speed, not on the rate.
        let settled = if speed_mps == now_mps {
            self.settled.clone()
        } else {
            Settled::new(&sit, speed_mps)
        };
        Some(Self {
            sit,
            settled,
            speed_mps,
        })
    }

    /// The courses of a round, as the first judges see them.
    fn screened(&self, round: &Round) -> Vec<Screened<'_, 'a>> {
        let found = candidates(
            &self.sit,
            &self.settled,
            self.speed_mps,
            round.aimed,
            round.grid,
        );
        let mut flown: Vec<Candidate> = Vec::new();
        for some in found.chunks(round.judged) {
            flown.par_extend(
                some.par_iter()
                    .filter_map(|one| aimed(&self.sit, one.clone())),
            );
            if flown.len() >= round.judged {
                break;
            }
        }
        flown.sort_by(|a, b| a.cost_s.total_cmp(&b.cost_s));
        flown.truncate(round.judged);
        let judged = flown.into_iter().map(|one| Screened {
            way: self,
            judged: judge(&self.sit, &one.course, one.at_s, Panel::First),
            one,
        });
        judged.collect()
    }
}

/// A course as the first judges see it.
struct Screened<'w, 'a> {
    way: &'w Way<'a>,
    one: Candidate,
    judged: Judged,
}

impl Screened<'_, '_> {
    fn worth(&self) -> f64 {
        self.judged.worth(self.one.cost_s)
    }
}

fn worth(plan: &PassPlan) -> f64 {
    plan.judged.worth(plan.judged.at_s)
}

/// The best of them, finished.
fn best_of(mut screened: Vec<Screened<'_, '_>>) -> Option<PassPlan> {
    screened.sort_by(|a, b| b.worth().total_cmp(&a.worth()));
    screened
        .into_iter()
        .take(FINISHED)
        .map(|one| finished(&one.way.sit, one.one, &one.judged))
        .reduce(|a, b| if worth(&b) > worth(&a) { b } else { a })
}

/// Plans a pass.
///
/// # Errors
/// Why there is none, and what would help.
pub fn plan(sit: &Situation<'_>) -> Result<PassPlan, Refusal> {
    let usual = Way::usual(sit);
    match chosen(&usual).map(|plan| plan.told(sit)) {
        Some(plan) if plan.judged.is_to_offer() => Ok(plan),
        best => Err(refusal(sit, &usual.settled, best.as_ref())),
    }
}

/// The best plan that is found. Each round begins only when those before have found nothing good.
fn chosen(usual: &Way<'_>) -> Option<PassPlan> {
    let reaches = |plan: &Option<PassPlan>, chance| {
        let judged = plan.as_ref().map(|plan| plan.judged);
        judged.is_some_and(|judged| judged.is_to_offer() && judged.chance >= chance)
    };
    let first = best_of(usual.screened(&USUAL));
    if reaches(&first, LIKELY) {
        return first;
    }
    let others: Vec<Way<'_>> = OTHERWISE
        .into_iter()
        .filter_map(|(speed, rate)| usual.other(speed, rate))
        .collect();
    let second = best_of(others.iter().flat_map(|way| way.screened(&OTHER)).collect());
    let best = better(first, second, OTHERWISE_GAIN);
    if reaches(&best, OFFERED + NOT_CLEARLY) {
        return best;
    }
    let ways = std::iter::once(usual).chain(&others);
    let last = best_of(ways.flat_map(|way| way.screened(&LAST)).collect());
    better(best, last, 0.0)
}

/// The second one where it gains so much.
fn better(first: Option<PassPlan>, second: Option<PassPlan>, gain: f64) -> Option<PassPlan> {
    match (first, second) {
        (Some(a), Some(b)) => Some(if worth(&b) > worth(&a) + gain { b } else { a }),
        (a, b) => a.or(b),
    }
}
