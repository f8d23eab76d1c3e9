//! The plan: the few best courses flown in the whole model, the best of them offered.
//! In: the moment. Out: a [`PassPlan`], or a [`Refusal`] with its cause and what would help.

use rayon::prelude::*;

use super::course::{Course, Leg};
use super::fly::{Flown, fly};
use super::search::{Candidate, LONGEST_S, candidates, line_order, rate_rad_s};
use super::settled::{Bar, Settled};
use super::situation::Situation;
use crate::angles::wrap_signed;

/// The bait is over the mark when it passes so near, m.
pub const NEAR_M: f64 = 15.0;
/// From this chance on a pass is called likely, and from the lower one on it is offered at all.
pub const LIKELY: f64 = 0.87;
/// See there.
pub const OFFERED: f64 = 0.5;
/// Rigs that judge in the end, and in the first round.
pub const JUDGES: usize = 24;
const FIRST_JUDGES: usize = 8;
/// Courses flown by the typical rig at most, by the first judges, and by all.
const FLOWN: usize = 24;
const FIRST_JUDGED: usize = 6;
const JUDGED: usize = 3;
/// What corrections leave beyond what the futures show, m, one standard deviation; of the futures in which
/// the bait flies or drags, the share that a crew mends who sees it; and of those in which it skips, the
/// share that does. Fitted to the flights of seed 17 of `tests/checks/pass.rs`.
const LEFT_M: f64 = 4.0;
const MENDED: f64 = 0.5;
const SKIPS_KEPT: f64 = 0.97;
/// A last leg is corrected by no more than this at once, radians.
const MOST_CORRECTED_RAD: f64 = 0.26;
/// A bait that skips with a lower chance is trimmed by so many metres for an immersion of 1, at most
/// by so many.
const WELL: f64 = 0.9;
const PER_IMMERSION_M: f64 = 10.0;
const MORE_M: f64 = 6.0;
/// A plan is kept while the bait passes so near, m, and no longer corrected so short before, s.
const KEPT_M: f64 = 3.0;
const TOO_LATE_S: f64 = 14.0;
/// A chance that is higher by less than this is not worth a minute.
const PER_MINUTE: f64 = 0.04;
/// What else is tried when the usual way gives no likely pass: shares of the speed and of the rate of
/// turn. And bounds of the speed, m/s (own choice: a trolling boat with a kite up).
const OTHERWISE: [(f64, f64); 3] = [(1.25, 1.0), (0.8, 1.0), (1.0, 0.5)];
const SPEED_BOUNDS_MPS: (f64, f64) = (1.0, 5.0);

/// A pass as planned.
#[derive(Debug, Clone, PartialEq)]
pub struct PassPlan {
    /// What to steer and what to move.
    pub course: Course,
    /// True heading to hold at last.
    pub hold_rad: f64,
    /// Whether the speed is to be changed.
    pub changes_speed: bool,
    /// How near the bait comes to the mark, m: the middle of the futures.
    pub closest_m: f64,
    /// When, s from now.
    pub at_s: f64,
    /// Chance that it passes within [`NEAR_M`] of the place that is marked, and skips.
    pub chance: f64,
    /// The same of what is marked, whose place is uncertain.
    pub chance_of_marked: f64,
    /// Chance that it skips, wherever it passes.
    pub skips: f64,
    /// Share of the futures in which the kite comes down on the way.
    pub comes_down: f64,
    /// Share of those in which a line comes too near to the boat.
    pub fouls: f64,
    /// Whether it turns to a side for which the turn limits give no rate.
    pub beyond_limits: bool,
}

impl PassPlan {
    /// Whether the pass is likely.
    #[must_use]
    pub fn likely(&self) -> bool {
        self.chance >= LIKELY
    }
}

/// Why no pass is offered.
#[derive(Debug, Clone, PartialEq)]
pub struct Refusal {
    /// The cause, in words.
    pub why: String,
    /// What would help.
    pub helps: String,
    /// The best chance that was found; `None` when no course leads there.
    pub best: Option<f64>,
}

/// How the rigs fly one course.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judged {
    /// Chance that the bait passes within [`NEAR_M`] of the place that is marked, and skips.
    pub chance: f64,
    /// The same of what is marked, whose place is uncertain.
    pub chance_of_marked: f64,
    /// Chance that it skips.
    pub skips: f64,
    /// Distance at which it passes, + where the mark lies to starboard of its way: the middle.
    pub cross_m: f64,
    /// Middle of the closest approaches.
    pub closest_m: f64,
    /// When, s from now.
    pub at_s: f64,
    /// How the bait hangs there: the mean of [`Flown::high`].
    pub high: f64,
    /// Share in which the kite comes down on the way.
    pub comes_down: f64,
    /// Share in which a line comes too near to the boat.
    pub fouls: f64,
}

/// Flies a course with so many of the rigs. `about_s` is when the bait should be there.
#[must_use]
pub fn judge(sit: &Situation<'_>, course: &Course, about_s: f64, count: usize) -> Judged {
    let all = &sit.rigs.all;
    let count = count.min(all.len()).max(1);
    let flown: Vec<Flown> = (0..count)
        .into_par_iter()
        .filter_map(|k| all.get((2 * k + 1) * all.len() / (2 * count)))
        .map(|likely| fly(sit, likely, course, about_s))
        .collect();
    let n = flown.len().max(1) as f64;
    let hit = |one: &Flown, sigma: f64| {
        let upto = |m: f64| normal_share((m - one.miss_m) / sigma);
        upto(NEAR_M) - upto(-NEAR_M)
    };
    // The crew sees a bait that flies or drags on the way, and trims it.
    let skips = |one: &Flown| {
        if one.skips() {
            1.0
        } else if one.ended || one.foul {
            0.0
        } else {
            MENDED
        }
    };
    let skipping: f64 = flown.iter().map(skips).sum();
    let near: f64 = flown.iter().map(|one| skips(one) * hit(one, LEFT_M)).sum();
    let hits: f64 = (flown.iter())
        .map(|one| skips(one) * hit(one, LEFT_M.hypot(sit.target.sigma_at_m(one.at_s))))
        .sum();
    Judged {
        // Of so few futures none and all are not never and always.
        chance: SKIPS_KEPT * (near + 0.25) / (n + 0.5),
        chance_of_marked: SKIPS_KEPT * hits / n,
        skips: SKIPS_KEPT * (skipping + 0.25) / (n + 0.5),
        cross_m: middle(flown.iter().map(|one| one.cross_m)),
        closest_m: middle(flown.iter().map(|one| one.miss_m)),
        at_s: middle(flown.iter().map(|one| one.at_s)),
        high: flown.iter().map(|one| one.high).sum::<f64>() / n,
        comes_down: flown.iter().filter(|one| one.ended).count() as f64 / n,
        fouls: flown.iter().filter(|one| one.foul).count() as f64 / n,
    }
}

fn middle(values: impl Iterator<Item = f64>) -> f64 {
    let mut values: Vec<f64> = values.filter(|value| value.is_finite()).collect();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

/// Share of a normal distribution below `z`: the logistic approximation of Bowling and others 2009
/// (from memory), within 0.00014.
fn normal_share(z: f64) -> f64 {
    1.0 / (1.0 + (-(0.07056 * z * z * z + 1.5976 * z)).exp())
}

/// Plans a pass.
///
/// # Errors
/// Why there is none, and what would help.
pub fn plan(sit: &Situation<'_>) -> Result<PassPlan, Refusal> {
    let now_mps = sit.boat.speed_mps;
    let usual = Settled::new(sit, now_mps);
    let mut best = (at_speed(sit, &usual, now_mps), usual.clone());
    for (speed, rate) in OTHERWISE {
        if best.0.as_ref().is_some_and(PassPlan::likely) {
            break;
        }
        let speed_mps = (speed * now_mps).clamp(SPEED_BOUNDS_MPS.0, SPEED_BOUNDS_MPS.1);
        if rate == 1.0 && (speed_mps - now_mps).abs() < 0.1 * now_mps {
            continue;
        }
        let mut bounds = sit.bounds;
        bounds.rate_rad_s = bounds
            .rate_rad_s
            .map(|limit| limit.map(|limit| rate * limit));
        // How the rig hangs depends on the speed, not on the rate.
        let settled = if speed_mps == now_mps {
            usual.clone()
        } else {
            Settled::new(sit, speed_mps)
        };
        let other = at_speed(&Situation { bounds, ..*sit }, &settled, speed_mps);
        if worth(other.as_ref()) > worth(best.0.as_ref()) + 0.1 {
            best = (other, settled);
        }
    }
    let (found, settled) = best;
    match found {
        Some(plan) if plan.chance >= OFFERED => Ok(plan),
        found => Err(refusal(sit, &settled, found)),
    }
}

fn worth(plan: Option<&PassPlan>) -> f64 {
    plan.map_or(f64::NEG_INFINITY, |plan| {
        plan.chance - PER_MINUTE * plan.at_s / 60.0
    })
}

/// The best plan at one speed, on which the rig hangs so.
fn at_speed(sit: &Situation<'_>, settled: &Settled, speed_mps: f64) -> Option<PassPlan> {
    let mut flown: Vec<Candidate> = Vec::new();
    for some in candidates(sit, settled, speed_mps, FLOWN).chunks(FIRST_JUDGED) {
        flown.par_extend(some.par_iter().filter_map(|one| aimed(sit, one.clone())));
        if flown.len() >= FIRST_JUDGED {
            break;
        }
    }
    flown.sort_by(|a, b| a.cost_s.total_cmp(&b.cost_s));
    flown.truncate(FIRST_JUDGED);
    let mut judged: Vec<(Candidate, Judged)> = flown
        .into_iter()
        .map(|one| {
            let found = judge(sit, &one.course, one.at_s, FIRST_JUDGES);
            (one, found)
        })
        .collect();
    judged.sort_by(|(a, x), (b, y)| {
        let worth = |one: &Candidate, found: &Judged| found.chance - PER_MINUTE * one.cost_s / 60.0;
        worth(b, y).total_cmp(&worth(a, x))
    });
    judged.truncate(JUDGED);
    judged
        .into_iter()
        .map(|(one, first)| finished(sit, one, &first))
        .reduce(|a, b| {
            if worth(Some(&b)) > worth(Some(&a)) {
                b
            } else {
                a
            }
        })
}

/// Corrects the last turn so that the typical rig's bait passes over the mark; `None` when that rig does
/// not get there.
fn aimed(sit: &Situation<'_>, mut one: Candidate) -> Option<Candidate> {
    for _ in 0..2 {
        let found = fly(sit, &sit.rigs.typical, &one.course, one.at_s);
        if found.ended || !found.miss_m.is_finite() {
            return None;
        }
        one.cost_s += found.at_s - one.at_s;
        one.at_s = found.at_s;
        if found.cross_m.abs() < 2.0 {
            break;
        }
        one.course = corrected(sit, &one.course, found.cross_m, found.at_s);
    }
    Some(one)
}

/// The course with its last leg turned so that the bait passes the mark on its other side by as
/// much as it now misses it. Without a leg the course stays.
fn corrected(sit: &Situation<'_>, course: &Course, cross_m: f64, at_s: f64) -> Course {
    let mut course = course.clone();
    let (from_s, v) = (course.steady_from_s(), course.speed_mps);
    if let Some(last) = course.legs.last_mut() {
        let way_m = (v * (at_s - from_s)).max(15.0);
        let by = (cross_m / way_m).clamp(-MOST_CORRECTED_RAD, MOST_CORRECTED_RAD);
        last.by_rad += by;
        last.rate_rad_s = rate_rad_s(sit, last.by_rad);
    }
    course
}

/// Carries a plan on from where boat and rig are now: what is left of its course, with the last leg
/// corrected where the bait would pass the mark too far off. It changes nothing for a small gain.
#[must_use]
pub fn amend(sit: &Situation<'_>, course: &Course, about_s: f64) -> PassPlan {
    let kept = judge(sit, course, about_s, JUDGES);
    let mut best = (kept, course.clone());
    if kept.cross_m.abs() > KEPT_M && kept.at_s > TOO_LATE_S {
        let mut from = course.clone();
        if from.legs.is_empty() {
            from.legs.push(Leg {
                start_s: sit.lead_s,
                by_rad: 0.0,
                rate_rad_s: 1f64.to_radians(),
            });
        }
        // The bait first swings the other way: what one correction leaves, a second one takes.
        let mut cross_m = kept.cross_m;
        for _ in 0..2 {
            let other = corrected(sit, &from, cross_m, kept.at_s);
            let judged = judge(sit, &other, kept.at_s, JUDGES);
            let nearer = best.0.cross_m.abs() - judged.cross_m.abs();
            let gained_m = kept.cross_m - judged.cross_m;
            if judged.chance < best.0.chance || nearer < 0.5 * KEPT_M {
                break;
            }
            best = (judged, other);
            if judged.cross_m.abs() < KEPT_M {
                break;
            }
            cross_m *= (kept.cross_m / gained_m).clamp(0.5, 3.0);
        }
    }
    if best.0.skips < WELL && best.0.at_s > TOO_LATE_S {
        best = trimmed(sit, best);
    }
    planned(sit, best)
}

/// Corrects a course for all the rigs, in line and in heading, and judges it with all of them.
fn finished(sit: &Situation<'_>, one: Candidate, first: &Judged) -> PassPlan {
    let course = corrected(sit, &one.course, first.cross_m, first.at_s);
    let mut best = (judge(sit, &course, first.at_s, JUDGES), course);
    if best.0.skips < WELL {
        best = trimmed(sit, best);
    }
    if best.0.cross_m.abs() > KEPT_M {
        let other = corrected(sit, &best.1, best.0.cross_m, best.0.at_s);
        let judged = judge(sit, &other, best.0.at_s, JUDGES);
        if judged.chance > best.0.chance {
            best = (judged, other);
        }
    }
    planned(sit, best)
}

/// Where some fly and some drag, a few metres of line make more of them skip.
fn trimmed(sit: &Situation<'_>, (judged, course): (Judged, Course)) -> (Judged, Course) {
    let more_m = (PER_IMMERSION_M * judged.high).clamp(-MORE_M, MORE_M);
    let mut other = course.clone();
    let before = other.lines.first().copied();
    let start_s = before.map_or(sit.lead_s, |order| order.in_s);
    let by_m = before.map_or(0.0, |order| order.by_m) + more_m;
    let turn_s = other.steady_from_s() - start_s;
    other.lines = line_order(sit, by_m, start_s, turn_s.max(0.0))
        .into_iter()
        .collect();
    let found = judge(sit, &other, judged.at_s, JUDGES);
    if found.chance > judged.chance {
        (found, other)
    } else {
        (judged, course)
    }
}

fn planned(sit: &Situation<'_>, (judged, course): (Judged, Course)) -> PassPlan {
    PassPlan {
        hold_rad: course.final_heading_rad(&sit.boat),
        changes_speed: (course.speed_mps - sit.boat.speed_mps).abs() > 0.05 * sit.boat.speed_mps,
        closest_m: judged.closest_m,
        at_s: judged.at_s,
        chance: judged.chance,
        chance_of_marked: judged.chance_of_marked,
        skips: judged.skips,
        comes_down: judged.comes_down,
        fouls: judged.fouls,
        beyond_limits: (course.legs.iter())
            .any(|leg| sit.bounds.rate_rad_s[usize::from(leg.by_rad > 0.0)].is_none()),
        course,
    }
}

fn refusal(sit: &Situation<'_>, settled: &Settled, best: Option<PassPlan>) -> Refusal {
    let [east, north] = sit.target.from_boat_m;
    let range_m = east.hypot(north);
    let chance = best.as_ref().map(|plan| plan.chance);
    let said = |why: &str, helps: &str| Refusal {
        why: why.to_owned(),
        helps: helps.to_owned(),
        best: chance,
    };
    if let Some(plan) = &best {
        if plan.comes_down > 0.5 {
            return said(
                "on the way there the kite would probably come down in a turn",
                "go to the other side of the mark first with small slow turns, or go faster",
            );
        }
        if plan.fouls > 0.5 {
            return said(
                "on the way there a line would probably come too near to the boat",
                "go to the other side of the mark first",
            );
        }
        if plan.skips < 0.6 {
            return said(
                "on every way there the bait probably flies or drags at the mark",
                "trim the bait until it skips and say so, or wait for a steadier wind",
            );
        }
        return said(
            "the bait would probably pass too far off",
            "wait until wind and course are steadier, or try from further away",
        );
    }
    if range_m > sit.boat.speed_mps * LONGEST_S {
        return said(
            "the mark is too far away at this speed",
            "go nearer, or faster",
        );
    }
    let bearing = wrap_signed(east.atan2(north));
    match settled.on(bearing).err().or_else(|| settled.usual_bar()) {
        Some(Bar::Light) => said(
            "on the way there the kite has too little wind",
            "go to the other side of the mark first, so that the way over it leads more into the wind, or go faster",
        ),
        Some(Bar::Line) => said(
            "on the way there the bait needs more line than can be used or moved in time",
            "go to the other side of the mark first, go slower, or use less kite line",
        ),
        Some(Bar::Kite) => said(
            "on the way there the kite would hang low or over the boat",
            "go to leeward of the mark first, or go faster",
        ),
        Some(Bar::Foul) => said(
            "on the way there a line comes too near to the boat",
            "go to the other side of the mark first",
        ),
        Some(Bar::Side) => said(
            "on the way there the kite would change sides",
            "allow that, or go to the other side of the mark first",
        ),
        Some(Bar::Sector) => said(
            "the way there leads through the sector that the captain has closed",
            "open it, or go to the other side of the mark first",
        ),
        None => said(
            "no way was found on which the bait has time to settle before the mark",
            "go further from the mark and try again",
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_of_the_normal_distribution() {
        // Printed table of the standard normal distribution (from memory): 0.8413 at 1, 0.9772 at 2.
        for (z, share) in [(0.0, 0.5), (1.0, 0.8413), (2.0, 0.9772), (-1.0, 0.1587)] {
            assert!((normal_share(z) - share).abs() < 3e-4, "{z}");
        }
    }
}
