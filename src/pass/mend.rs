//! Mends a course: its heading where the bait would pass the mark too far off, its line where the bait
//! would fly or drag.
//! In: the moment, a course, how it was judged. Out: a better one with its judgement, as a plan.

use super::course::{Course, Leg};
use super::fly::fly;
use super::judge::{Judged, LIKELY, Panel, judge};
use super::search::{Candidate, limit_rad_s, line_order, rate_rad_s};
use super::situation::Situation;

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

/// A pass as planned.
#[derive(Debug, Clone, PartialEq)]
pub struct PassPlan {
    /// What to steer and what to move.
    pub course: Course,
    /// How the rigs fly it.
    pub judged: Judged,
    /// True heading to hold at last.
    pub hold_rad: f64,
    /// Whether the speed is to be changed.
    pub changes_speed: bool,
    /// Whether it turns faster than the turn limits allow, or to a side for which they give no rate.
    pub beyond_limits: bool,
    /// Whether it is reckoned on flat water, because no sea is known.
    pub on_flat_water: bool,
}

impl PassPlan {
    fn new(sit: &Situation<'_>, (judged, course): (Judged, Course)) -> Self {
        Self {
            judged,
            hold_rad: course.final_heading_rad(&sit.boat),
            changes_speed: (course.speed_mps - sit.boat.speed_mps).abs()
                > 0.05 * sit.boat.speed_mps,
            beyond_limits: (course.legs.iter())
                .any(|leg| leg.rate_rad_s > limit_rad_s(sit, leg.by_rad).unwrap_or(0.0)),
            on_flat_water: sit.skips.is_flat(),
            course,
        }
    }

    /// With the chance that rigs tell which had no part in the choice.
    pub(super) fn told(self, sit: &Situation<'_>) -> Self {
        Self {
            judged: judge(sit, &self.course, self.judged.at_s, Panel::Tellers),
            ..self
        }
    }

    /// Whether the pass is likely.
    #[must_use]
    pub fn likely(&self) -> bool {
        self.judged.chance >= LIKELY
    }
}

/// Corrects the last turn so that the typical rig's bait passes over the mark; `None` when that rig does
/// not get there.
pub(super) fn aimed(sit: &Situation<'_>, mut one: Candidate) -> Option<Candidate> {
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
    let kept = judge(sit, course, about_s, Panel::Choosers);
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
            let judged = judge(sit, &other, kept.at_s, Panel::Choosers);
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
    PassPlan::new(sit, best)
}

/// Corrects a course for the choosers, in line and in heading, and judges it with them.
pub(super) fn finished(sit: &Situation<'_>, one: Candidate, first: &Judged) -> PassPlan {
    let course = corrected(sit, &one.course, first.cross_m, first.at_s);
    let mut best = (judge(sit, &course, first.at_s, Panel::Choosers), course);
    if best.0.skips < WELL {
        best = trimmed(sit, best);
    }
    if best.0.cross_m.abs() > KEPT_M {
        let other = corrected(sit, &best.1, best.0.cross_m, best.0.at_s);
        let judged = judge(sit, &other, best.0.at_s, Panel::Choosers);
        if judged.chance > best.0.chance {
            best = (judged, other);
        }
    }
    PassPlan::new(sit, best)
}

/// When the last turn begins and how long it takes; straight on, none: line is moved after the lead.
fn last_turn(course: &Course, lead_s: f64) -> (f64, f64) {
    let last = course.legs.last();
    last.map_or((lead_s, 0.0), |leg| {
        (leg.start_s, leg.end_s() - leg.start_s)
    })
}

/// Where some fly and some drag, a few metres of line make more of them skip. They are moved with the
/// last turn, not all the way to it: while a line moves, nothing is corrected.
fn trimmed(sit: &Situation<'_>, (judged, course): (Judged, Course)) -> (Judged, Course) {
    let more_m = (PER_IMMERSION_M * judged.high).clamp(-MORE_M, MORE_M);
    let mut other = course.clone();
    let before = other.lines.first().copied();
    let (turn_starts_s, turn_s) = last_turn(&course, sit.lead_s);
    let start_s = before.map_or(turn_starts_s, |order| order.in_s);
    let by_m = before.map_or(0.0, |order| order.by_m) + more_m;
    other.lines = line_order(sit, by_m, start_s, turn_s).into_iter().collect();
    let found = judge(sit, &other, judged.at_s, Panel::Choosers);
    if found.chance > judged.chance {
        (found, other)
    } else {
        (judged, course)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn line_is_moved_with_the_last_turn_and_not_all_the_way_to_it() {
        let leg = |start_s, by_rad| Leg {
            start_s,
            by_rad,
            rate_rad_s: 0.05,
        };
        let course = |legs| Course {
            legs,
            speed_mps: 3.0,
            lines: Vec::new(),
        };
        let two = course(vec![leg(14.0, -1.0), leg(97.0, 0.6)]);
        let (start_s, turn_s) = last_turn(&two, 6.0);
        assert_eq!(start_s, 97.0);
        assert!((turn_s - 12.0).abs() < 1e-9, "{turn_s}");
        assert_eq!(last_turn(&course(Vec::new()), 6.0), (6.0, 0.0));
    }
}
