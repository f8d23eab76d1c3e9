//! The plan that stands, and the refusal that stands, from one look to the next.
//! In: plans and refusals with their moments. Out: what remains of a course. Time is an argument.

use super::course::{Course, Leg, LineOrder};
use super::plan::{PassPlan, Refusal};
use super::situation::{Boat, Situation};
use crate::angles::wrap_positive;
use crate::time::Millis;

/// A plan that is only offered is searched for anew so often; the cause of a refusal stands as long.
pub(super) const ANEW_S: f64 = 30.0;

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
            passes_at: at.plus_seconds(plan.at_s),
            held_rad: wrap_positive(boat.heading_rad),
            plan,
        }
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
