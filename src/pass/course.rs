//! A course over the mark: at most two turns, a speed, and what the hands do with the main line.
//! In: the boat now. Out: heading, speed and place of the boat over time. Knows no rig.

use super::situation::{Boat, Flat};
use crate::turn::{HeadingProfile, LikelyTurn, TurnCommand};

/// Seconds between the points of a track.
pub(super) const TRACK_S: f64 = 1.0;
/// A change of speed takes effect with this time constant, s (invented).
const SPEED_S: f64 = 10.0;
/// What a turn costs comes back with this time constant, s; as in `forecast`.
const REGAIN_S: f64 = 20.0;

/// One turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leg {
    /// When the helm goes over, s from now.
    pub start_s: f64,
    /// Change of heading, + to starboard.
    pub by_rad: f64,
    /// Rate, positive.
    pub rate_rad_s: f64,
}

impl Leg {
    /// When the helm is back amidships.
    pub(super) fn end_s(&self) -> f64 {
        self.start_s + self.by_rad.abs() / self.rate_rad_s.max(1e-4)
    }
}

/// Main line to move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineOrder {
    /// + let out, - wind in, m.
    pub by_m: f64,
    /// When to begin, s from now.
    pub in_s: f64,
    /// How long it takes, s.
    pub over_s: f64,
}

impl LineOrder {
    pub(super) fn done_m(&self, t_s: f64) -> f64 {
        self.by_m * ((t_s - self.in_s) / self.over_s.max(0.1)).clamp(0.0, 1.0)
    }
}

/// A course over the mark.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// The turns, the first one first; none: straight on.
    pub legs: Vec<Leg>,
    /// Speed through the water to keep, m/s.
    pub speed_mps: f64,
    /// Main line.
    pub lines: Vec<LineOrder>,
}

impl Course {
    /// When the helm is amidships for good.
    pub(super) fn steady_from_s(&self) -> f64 {
        self.legs.last().map_or(0.0, Leg::end_s)
    }

    /// Heading after the turns.
    #[must_use]
    pub fn final_heading_rad(&self, boat: &Boat) -> f64 {
        let by: f64 = self.legs.iter().map(|leg| leg.by_rad).sum();
        crate::angles::wrap_positive(boat.heading_rad + by)
    }
}

/// The boat at one moment of a track.
#[derive(Debug, Clone, Copy)]
pub(super) struct Point {
    pub heading_rad: f64,
    pub rate_rad_s: f64,
    pub speed_mps: f64,
    /// Over the ground, from where the boat is now.
    pub at_m: Flat,
}

/// How one helm keeps the course.
#[derive(Debug, Clone, Copy)]
pub(super) struct Helm<'a> {
    /// Heading about the course and share of the speed, every `step_s` from `from_s` on.
    pub ways: &'a [(f64, f64)],
    pub step_s: f64,
    pub from_s: f64,
    /// How late each turn begins, and its rate as a share of the ordered one.
    pub late_s: f64,
    pub rate_share: f64,
    /// Logarithm of the speed that a turn costs for each radian.
    pub loss: f64,
}

impl Helm<'_> {
    /// Keeps it exactly.
    pub fn exact(loss: f64) -> Self {
        Self {
            ways: &[],
            step_s: 1.0,
            from_s: 0.0,
            late_s: 0.0,
            rate_share: 1.0,
            loss,
        }
    }

    fn way(&self, t_s: f64) -> (f64, f64) {
        let x = ((t_s - self.from_s) / self.step_s).max(0.0);
        let i = (x as usize).min(self.ways.len().saturating_sub(2));
        let (Some(a), Some(b)) = (self.ways.get(i), self.ways.get(i + 1)) else {
            return (0.0, 1.0);
        };
        let share = (x - i as f64).clamp(0.0, 1.0);
        (a.0 + share * (b.0 - a.0), a.1 + share * (b.1 - a.1))
    }
}

/// The boat along a course, every [`TRACK_S`].
pub(super) fn track(boat: &Boat, course: &Course, helm: &Helm<'_>, until_s: f64) -> Vec<Point> {
    let profile = HeadingProfile {
        heading_rad: boat.heading_rad,
        yaw_rate_rad_s: boat.yaw_rate_rad_s,
        yaw_time_constant_s: boat.yaw_time_constant_s.max(0.1),
        turns: course
            .legs
            .iter()
            .map(|leg| {
                LikelyTurn::sure(TurnCommand {
                    start_s: (leg.start_s + helm.late_s).max(0.0),
                    by_rad: leg.by_rad,
                    rate_rad_s: leg.rate_rad_s * helm.rate_share,
                })
            })
            .collect(),
    };
    let count = (until_s / TRACK_S).ceil().max(1.0) as usize + 2;
    let mut points: Vec<Point> = Vec::with_capacity(count);
    let (mut turned, mut before_rad) = (0.0, boat.heading_rad);
    let fade = (-TRACK_S / REGAIN_S).exp();
    for i in 0..count {
        let t_s = i as f64 * TRACK_S;
        let motion = profile.motion(t_s);
        let (off_rad, share) = helm.way(t_s);
        turned = turned * fade + (motion.heading_rad - before_rad).abs();
        before_rad = motion.heading_rad;
        let wanted =
            course.speed_mps + (boat.speed_mps - course.speed_mps) * (-t_s / SPEED_S).exp();
        let heading_rad = motion.heading_rad + off_rad;
        let speed_mps = wanted * share * (-helm.loss * turned).exp();
        let at_m = points.last().map_or([0.0; 2], |last| {
            let middle = last.heading_rad + 0.5 * (heading_rad - last.heading_rad);
            let gone = 0.5 * (last.speed_mps + speed_mps) * TRACK_S;
            [
                last.at_m[0] + gone * middle.sin() + boat.current_mps[0] * TRACK_S,
                last.at_m[1] + gone * middle.cos() + boat.current_mps[1] * TRACK_S,
            ]
        });
        let rate_rad_s = points
            .last()
            .map_or(motion.yaw_rate_rad_s, |last| heading_rad - last.heading_rad);
        points.push(Point {
            heading_rad,
            rate_rad_s: if off_rad == 0.0 {
                motion.yaw_rate_rad_s
            } else {
                rate_rad_s
            },
            speed_mps,
            at_m,
        });
    }
    points
}
