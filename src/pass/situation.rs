//! The moment that a pass is planned in.
//! In and out: the mark beside the boat, the boat, the rigs that may be the true one, the bounds.

use crate::forecast::{Hands, LikelyRigs, SkipBand};
use crate::rig::Structure;

/// East and north, m or m/s.
pub type Flat = [f64; 2];

/// The mark as the plan sees it: relative to the boat now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Target {
    /// Where it is now, from the boat.
    pub from_boat_m: Flat,
    /// Its own way over the ground.
    pub drift_mps: Flat,
    /// One standard deviation of where it is now, in each direction.
    pub sigma_m: f64,
    /// By how much that grows.
    pub sigma_grows_mps: f64,
}

impl Target {
    /// A mark that keeps its place, so well known.
    #[must_use]
    pub fn still(from_boat_m: Flat, sigma_m: f64) -> Self {
        Self {
            from_boat_m,
            drift_mps: [0.0; 2],
            sigma_m,
            sigma_grows_mps: 0.0,
        }
    }

    /// Where it is then, from where the boat is now.
    #[must_use]
    pub fn at_m(&self, t_s: f64) -> Flat {
        [
            self.from_boat_m[0] + self.drift_mps[0] * t_s,
            self.from_boat_m[1] + self.drift_mps[1] * t_s,
        ]
    }

    /// How well its place is known then.
    #[must_use]
    pub fn sigma_at_m(&self, t_s: f64) -> f64 {
        (self.sigma_m + self.sigma_grows_mps * t_s).max(0.1)
    }
}

/// The boat now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Boat {
    /// True heading.
    pub heading_rad: f64,
    /// Rate of turn, + to starboard; 0 on a straight course.
    pub yaw_rate_rad_s: f64,
    /// Nomoto's time constant.
    pub yaw_time_constant_s: f64,
    /// Through the water.
    pub speed_mps: f64,
    /// Of the water over the ground.
    pub current_mps: Flat,
}

/// Headings that the boat is not to hold, from one clockwise to the other, radians true.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sector {
    /// Its beginning.
    pub from_rad: f64,
    /// Its end.
    pub to_rad: f64,
}

impl Sector {
    /// Whether a heading lies in it.
    #[must_use]
    pub fn holds(&self, heading_rad: f64) -> bool {
        use crate::angles::wrap_positive;
        wrap_positive(heading_rad - self.from_rad) <= wrap_positive(self.to_rad - self.from_rad)
    }
}

/// What the plan must keep to.
#[derive(Debug, Clone, Copy)]
pub struct Bounds<'a> {
    /// Greatest rate of turn to port and to starboard, rad/s; where there is none the boat turns slowly.
    pub rate_rad_s: [Option<f64>; 2],
    /// What the lines must not touch.
    pub structures: &'a [Structure],
    /// The kite must stay on the side of the boat on which it is.
    pub keeps_side: bool,
    /// Headings not to hold.
    pub no_go: Option<Sector>,
    /// Other marks, from the boat now, of which the boat keeps clear.
    pub others: &'a [Target],
    /// By so much.
    pub keep_off_m: f64,
}

impl Bounds<'_> {
    /// None but a usual rate of turn to both sides.
    #[must_use]
    pub fn usual() -> Self {
        let rate = Some(2f64.to_radians());
        Self {
            rate_rad_s: [rate, rate],
            structures: &[],
            keeps_side: false,
            no_go: None,
            others: &[],
            keep_off_m: 0.0,
        }
    }
}

/// Everything a plan depends on.
#[derive(Debug, Clone, Copy)]
pub struct Situation<'a> {
    /// The mark.
    pub target: Target,
    /// The boat.
    pub boat: Boat,
    /// The rigs.
    pub rigs: &'a LikelyRigs,
    /// What to keep to.
    pub bounds: Bounds<'a>,
    /// The pace of hands.
    pub hands: Hands,
    /// Where the bait skips.
    pub skips: SkipBand,
    /// No turn begins sooner than this: people read, and take hold.
    pub lead_s: f64,
}
