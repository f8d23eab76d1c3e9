//! The plan that stands, and the refusal that stands, from one look to the next.
//! In: plans and refusals with their moments. Out: what remains of a course. Time is an argument.

use super::course::{Course, Leg, LineOrder};
use super::judge::NEAR_M;
use super::mend::PassPlan;
use super::now::PassState;
use super::refusal::Refusal;
use super::situation::{Boat, Situation};
use crate::angles::wrap_positive;
use crate::time::Millis;

/// A plan that is only offered is searched for anew so often; the cause of a refusal stands as long.
pub(super) const ANEW_S: f64 = 30.0;

/// A bait that was last foreseen to come no nearer has not been over the mark, m (own choice: three times
/// the distance that counts).
const OVER_M: f64 = 3.0 * NEAR_M;
/// The pass is over so long after the bait should have been at the mark, s.
const OVER_S: f64 = 3.0;

/// A turn that is ordered.
#[derive(Debug, Clone, Copy)]
pub(super) struct Order {
    pub at: Millis,
    pub leg: Leg,
    pub to_rad: f64,
}

/// The plan that stands.
#[derive(Debug, Clone)]
pub(super) struct Standing {
    pub ordered_at: Millis,
    pub looked_at: Millis,
    pub searched_at: Millis,
    pub legs: Vec<Order>,
    pub lines: Vec<(Millis, LineOrder)>,
    pub plan: PassPlan,
    pub passes_at: Millis,
    /// Heading to hold now: that after the turns made.
    pub held_rad: f64,
}

/// What is refused: looked at last, and since when it is said.
#[derive(Debug, Clone)]
pub(super) struct Refused {
    pub looked_at: Millis,
    pub since: Millis,
    pub refusal: Refusal,
}

impl Refused {
    /// The cause is read before it changes: of several that change places the first stands a while.
    pub fn next(said: Option<Self>, at: Millis, refusal: Refusal) -> Self {
        match said.filter(|said| at.seconds_since(said.since) < ANEW_S) {
            Some(said) => Self {
                looked_at: at,
                ..said
            },
            None => Self {
                looked_at: at,
                since: at,
                refusal,
            },
        }
    }

    pub fn said(&self) -> (String, String) {
        (self.refusal.why.clone(), self.refusal.helps.clone())
    }
}

impl Standing {
    pub fn new(at: Millis, searched_at: Millis, boat: &Boat, plan: PassPlan) -> Self {
        let mut heading_rad = boat.heading_rad;
        let legs = plan.course.legs.iter().map(|leg| {
            heading_rad = wrap_positive(heading_rad + leg.by_rad);
            Order {
                at: at.plus_seconds(leg.start_s),
                leg: *leg,
                to_rad: heading_rad,
            }
        });
        Self {
            ordered_at: at,
            looked_at: at,
            searched_at,
            legs: legs.collect(),
            lines: (plan.course.lines.iter())
                .map(|order| (at.plus_seconds(order.in_s), *order))
                .collect(),
            passes_at: at.plus_seconds(plan.judged.at_s),
            held_rad: wrap_positive(boat.heading_rad),
            plan,
        }
    }

    /// How it has come out, once its time is over: where the boat has not followed it, the bait has been
    /// nowhere near.
    pub fn over(&self, at: Millis) -> Option<PassState> {
        (at.seconds_since(self.passes_at) > OVER_S).then_some(
            if self.plan.judged.closest_m <= OVER_M {
                PassState::Passed
            } else {
                PassState::Ended
            },
        )
    }

    /// What remains of its course, and when the bait should be at the mark. An offer waits: its
    /// course begins with the lead. A turn that has no time left does, too.
    pub fn remains(&self, at: Millis, sit: &Situation<'_>, accepted: bool) -> (Course, f64) {
        let first_s = self.legs.first().map(|order| order.at.seconds_since(at));
        let first_line_s = self.lines.first().map(|(from, _)| from.seconds_since(at));
        let wait_s = match first_s.or(first_line_s.filter(|_| !accepted)) {
            Some(in_s) => (sit.lead_s - in_s).max(0.0),
            None => 0.0,
        };
        let course = Course {
            legs: (self.legs.iter())
                .map(|order| Leg {
                    start_s: order.at.seconds_since(at) + wait_s,
                    ..order.leg
                })
                .collect(),
            speed_mps: self.plan.course.speed_mps,
            lines: (self.lines.iter())
                .map(|(from, order)| LineOrder {
                    in_s: from.seconds_since(at) + wait_s,
                    ..*order
                })
                .filter(|order| order.in_s > 0.0)
                .collect(),
        };
        (course, self.passes_at.seconds_since(at).max(0.0) + wait_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pass::judge::Judged;

    /// A pass straight on, whose bait comes so near 100 s after the beginning.
    fn standing(closest_m: f64) -> Standing {
        let boat = Boat {
            heading_rad: 1.0,
            yaw_rate_rad_s: 0.0,
            yaw_time_constant_s: 1.5,
            speed_mps: 3.0,
            current_mps: [0.0; 2],
        };
        let plan = PassPlan {
            course: Course {
                legs: Vec::new(),
                speed_mps: 3.0,
                lines: Vec::new(),
            },
            judged: Judged {
                chance: 0.8,
                chance_of_marked: 0.7,
                skips: 0.9,
                cross_m: closest_m,
                closest_m,
                at_s: 100.0,
                high: 0.0,
                comes_down: 0.0,
                fouls: 0.0,
            },
            hold_rad: 1.0,
            changes_speed: false,
            beyond_limits: false,
            on_flat_water: true,
        };
        Standing::new(Millis(0), Millis(0), &boat, plan)
    }

    #[test]
    fn a_pass_whose_bait_came_nowhere_near_has_ended_and_not_passed() {
        let at = |s: f64| Millis(0).plus_seconds(s);
        for (closest_m, state) in [
            (5.0, PassState::Passed),
            (OVER_M, PassState::Passed),
            (OVER_M + 1.0, PassState::Ended),
        ] {
            let standing = standing(closest_m);
            assert_eq!(standing.over(at(99.0)), None);
            assert_eq!(standing.over(at(102.9)), None);
            assert_eq!(standing.over(at(103.1)), Some(state), "{closest_m}");
        }
    }
}
