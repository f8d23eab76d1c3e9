//! Lines out over time while both run out, in a steady wind on a steady course.

use crate::rig::{BoatMotion, Conditions, Current, LineLengths, Timeline, Wind};

/// Lines out at moments in time; straight between them, steady before and after.
#[derive(Debug, Clone)]
pub struct Path {
    conditions: Conditions,
    points: Vec<(f64, LineLengths)>,
}

impl Path {
    /// Starts with these lines out at time 0.
    #[must_use]
    pub fn new(conditions: Conditions, lines: LineLengths) -> Self {
        Self {
            conditions,
            points: vec![(0.0, lines)],
        }
    }

    /// Time and lines of the last point.
    #[must_use]
    pub fn end(&self) -> (f64, LineLengths) {
        self.points[self.points.len() - 1]
    }

    /// Nothing moves for so long.
    pub fn rest(&mut self, for_s: f64) {
        let (t_s, lines) = self.end();
        self.points.push((t_s + for_s, lines));
    }

    /// Both lines go to these lengths within so long.
    pub fn go(&mut self, over_s: f64, lines: LineLengths) {
        let (t_s, _) = self.end();
        self.points.push((t_s + over_s.max(0.1), lines));
    }
}

impl Timeline for Path {
    fn boat(&self, _t_s: f64) -> BoatMotion {
        BoatMotion {
            heading_rad: self.conditions.heading_rad,
            yaw_rate_rad_s: 0.0,
            speed_mps: self.conditions.boat_speed_mps,
        }
    }

    fn wind(&self, _t_s: f64) -> Wind {
        self.conditions.wind
    }

    fn current(&self, _t_s: f64) -> Current {
        self.conditions.current
    }

    fn lines(&self, t_s: f64) -> LineLengths {
        let after = self.points.partition_point(|(at_s, _)| *at_s <= t_s);
        let Some((to_s, to)) = self.points.get(after) else {
            return self.end().1;
        };
        let Some((from_s, from)) = after.checked_sub(1).and_then(|i| self.points.get(i)) else {
            return *to;
        };
        let share = (t_s - from_s) / (to_s - from_s);
        let between = |a: f64, b: f64| a + share * (b - a);
        LineLengths {
            kite_m: between(from.kite_m, to.kite_m),
            main_m: between(from.main_m, to.main_m),
        }
    }
}
