//! How this boat is steered and how it keeps its speed: what heading and speed have shown lately.
//!
//! **Heading** on a straight course is the course plus wander on several time scales
//! (`scales.rs`); its quick parts and its noise take in the yaw that waves make. In a turn nothing is
//! learnt of it: the heading starts anew when the turn is over, with all of the wander unknown, so
//! that a boat settles about the new course as it keeps to any course.
//!
//! **Speed** drifts on several time scales too, and a turn costs some: its logarithm falls by
//! [`HelmOnward::loss`] for each radian turned and comes back within [`REGAIN_S`]. The loss is
//! learnt by regression of changes over [`LAG`] seconds.
//!
//! The priors come from recorded sailing boats: 0.08 to 0.24 a radian turned, heading on a straight
//! course changed by 4 degrees after 10 s and by 5 to 7 after 60 s (root mean square).

use super::scales::{DEG2, Law, Onward, Scales};
use crate::angles::wrap_signed;
use crate::time::Millis;
use crate::turn::Outlook;
use crate::vessel::VesselNow;

/// A loss of speed fades with this time constant. In the logs, losses correlate as well with 10 and
/// 40 s.
pub const REGAIN_S: f64 = 20.0;
/// Logarithm of the speed lost for each radian turned.
const USUAL_LOSS: f64 = 0.15;
const LOSS_BOUNDS: (f64, f64) = (0.0, 0.6);
/// Seconds over which changes of speed are compared with what was turned.
const LAG: usize = 20;
/// Weight of the prior loss, radians squared: the sum of squared changes that one turn of 90
/// degrees brings (own arithmetic).
const LOSS_WEIGHT: f64 = 40.0;
/// Slower boats stand.
const LEAST_MPS: f64 = 0.3;
/// Gaps longer than this start the regression anew.
const GAP_S: f64 = 5.0;

/// Heading, radians.
static HEADING: Law = Law {
    tau_s: [3.0, 12.0, 60.0],
    noise: 0.2 * DEG2,
    variance: [3.0 * DEG2, 6.0 * DEG2, 4.0 * DEG2],
    walk_share: 1.0 / 600.0,
    walk_least: 0.0,
};

/// Logarithm of the speed without what turns cost.
static SPEED: Law = Law {
    tau_s: [6.0, 30.0, 150.0],
    noise: 1e-4,
    variance: [4e-4, 25e-4, 36e-4],
    walk_share: 1.0 / 150.0,
    walk_least: 0.0,
};

/// What heading and speed have shown.
#[derive(Debug, Clone, Default)]
pub struct HelmMemory {
    seen: Option<Seen>,
}

#[derive(Debug, Clone)]
struct Seen {
    at: Millis,
    /// When the newest speed was measured.
    speed_at: Millis,
    heading_rad: f64,
    heading: Scales,
    speed: Scales,
    /// Radians turned lately, fading with [`REGAIN_S`].
    turned_rad: f64,
    /// That and the logarithm of the speed, one entry each second.
    before: [(f64, f64); LAG],
    heard: usize,
    second: i64,
    /// Sums of squares and of products of their changes.
    square: f64,
    product: f64,
}

/// How heading and speed may continue.
#[derive(Debug, Clone, Copy)]
pub struct HelmOnward {
    /// Heading, not wrapped.
    pub heading: Onward,
    /// Logarithm of the speed without what turns cost.
    pub speed: Onward,
    /// Radians turned lately, fading with [`REGAIN_S`].
    pub turned_rad: f64,
    /// Logarithm of the speed lost for each of them.
    pub loss: f64,
}

impl HelmMemory {
    /// Updates with the present heading and speed; without them the last values stay.
    pub fn follow(&mut self, vessel: &VesselNow, outlook: &Outlook) {
        let speed = vessel
            .speed_water_mps
            .as_ref()
            .or(vessel.speed_ground_mps.as_ref());
        let (Some(profile), Some(speed)) = (&outlook.profile, speed) else {
            return;
        };
        let at = vessel.at;
        let log_speed = speed.value.max(LEAST_MPS).ln();
        let Some(seen) = &mut self.seen else {
            self.seen = Some(Seen::new(at, speed.at, profile.heading_rad, log_speed));
            return;
        };
        let dt = at.seconds_since(seen.at);
        if dt == 0.0 {
            return;
        }
        if !(0.0..GAP_S).contains(&dt) {
            seen.turned_rad = 0.0;
            seen.heard = 0;
        }
        seen.at = at;
        let dt = dt.clamp(0.0, GAP_S);
        seen.turned_rad =
            seen.turned_rad * (-dt / REGAIN_S).exp() + profile.yaw_rate_rad_s.abs() * dt;
        seen.heading_rad += wrap_signed(profile.heading_rad - seen.heading_rad);
        if outlook.turning {
            seen.heading.restart(at, seen.heading_rad);
        } else {
            seen.heading.follow(at, seen.heading_rad);
        }
        if speed.at != seen.speed_at {
            seen.speed_at = speed.at;
            seen.learn_loss(at, log_speed);
            let kept = log_speed + seen.loss() * seen.turned_rad;
            seen.speed.follow(at, kept);
        }
    }

    /// How they may continue; `None` before anything was seen.
    pub fn onward(&self) -> Option<HelmOnward> {
        self.seen.as_ref().map(|seen| HelmOnward {
            heading: seen.heading.onward(),
            speed: seen.speed.onward(),
            turned_rad: seen.turned_rad,
            loss: seen.loss(),
        })
    }
}

impl Seen {
    fn new(at: Millis, speed_at: Millis, heading_rad: f64, log_speed: f64) -> Self {
        Self {
            at,
            speed_at,
            heading_rad,
            heading: Scales::new(&HEADING, at, heading_rad),
            speed: Scales::new(&SPEED, at, log_speed),
            turned_rad: 0.0,
            before: [(0.0, 0.0); LAG],
            heard: 0,
            second: i64::MIN,
            square: 0.0,
            product: 0.0,
        }
    }

    fn loss(&self) -> f64 {
        let wanted = LOSS_WEIGHT * USUAL_LOSS - self.product;
        (wanted / (LOSS_WEIGHT + self.square)).clamp(LOSS_BOUNDS.0, LOSS_BOUNDS.1)
    }

    /// Compares the change of speed over the last seconds with what was turned in them.
    fn learn_loss(&mut self, at: Millis, log_speed: f64) {
        let second = at.0.div_euclid(1000);
        if second <= self.second {
            return;
        }
        self.second = second;
        let place = self.heard % LAG;
        if self.heard >= LAG && log_speed > LEAST_MPS.ln() {
            let (turned, speed) = self.before[place];
            let turned = self.turned_rad - turned;
            self.square += turned * turned;
            self.product += turned * (log_speed - speed);
        }
        self.before[place] = (self.turned_rad, log_speed);
        self.heard += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::turn::HeadingProfile;
    use crate::vessel::{Grade, Reading, Vessel, VesselSettings};

    /// A boat that turns by 90 degrees in 15 s once in three minutes and loses so much for each
    /// radian; speed and turns invented.
    fn sailed(loss: f64) -> HelmOnward {
        let mut memory = HelmMemory::default();
        let (mut heading_rad, mut turned): (f64, f64) = (1.0, 0.0);
        for second in 0..1800 {
            let at = Millis(1_000_000_000_000 + 1000 * second);
            let turning = second % 180 >= 165;
            let rate = if turning { 6f64.to_radians() } else { 0.0 };
            heading_rad += rate;
            turned = turned * (-1.0 / REGAIN_S).exp() + rate;
            let mut vessel = Vessel::new(VesselSettings::default()).now(at);
            vessel.speed_water_mps = Some(Reading {
                value: 4.0 * (-loss * turned).exp(),
                at,
                source: String::new(),
                grade: Grade::Measured,
            });
            let outlook = Outlook {
                profile: Some(HeadingProfile {
                    yaw_rate_rad_s: rate,
                    ..HeadingProfile::steady(heading_rad)
                }),
                turns: Vec::new(),
                turning,
            };
            memory.follow(&vessel, &outlook);
        }
        memory.onward().unwrap()
    }

    #[test]
    fn the_loss_in_turns_is_learnt_from_this_boat() {
        for loss in [0.0, 0.3] {
            let learnt = sailed(loss).loss;
            assert!((learnt - loss).abs() < 0.06, "{loss}: {learnt}");
        }
    }

    #[test]
    fn turns_are_no_wander() {
        let onward = sailed(0.1);
        let sd_deg = onward
            .heading
            .variance
            .iter()
            .sum::<f64>()
            .sqrt()
            .to_degrees();
        assert!(sd_deg < 2.5, "{sd_deg}");
        let course = 1.0 + 10.0 * std::f64::consts::FRAC_PI_2;
        assert!((onward.heading.parts.iter().sum::<f64>() - course).abs() < 0.01);
    }
}
