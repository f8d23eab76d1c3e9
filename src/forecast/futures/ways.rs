//! How the boat keeps course and speed in one future: heading about its profile, and speed.

use super::noise::{Noise, STEP_S};
use crate::forecast::helm::{HelmOnward, REGAIN_S};
use crate::time::Millis;
use crate::turn::HeadingProfile;

/// Bounds of the logarithm of speed against now.
const LOG_BOUNDS: (f64, f64) = (-2.0, 0.7);

/// Heading and speed at one step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Way {
    /// Added to the heading of the profile.
    pub off_rad: f64,
    /// Speed as a share of the present one.
    pub speed_share: f64,
}

/// The helm of one future.
#[derive(Debug, Clone)]
pub struct Ways {
    pub heading: Noise,
    pub speed: Noise,
}

impl Ways {
    /// Heading and speed every [`STEP_S`] from now to `horizon_s` and one step beyond. They begin
    /// at the present ones: the profile already holds the present heading.
    pub fn path(
        &self,
        at: Millis,
        onward: &HelmOnward,
        profile: &HeadingProfile,
        horizon_s: f64,
    ) -> Vec<Way> {
        let first = at.0.div_euclid((STEP_S * 1000.0) as i64);
        let steps = (horizon_s / STEP_S).ceil() as usize + 2;
        let heading = self.heading.path(&onward.heading, first);
        let speed = self.speed.path(&onward.speed, first);
        let fade = (-STEP_S / REGAIN_S).exp();
        let mut turned_rad = onward.turned_rad;
        let mut heading_rad = profile.heading_rad;
        let mut start = None;
        heading
            .zip(speed)
            .take(steps)
            .enumerate()
            .map(|(step, (off_rad, log_speed))| {
                if step > 0 {
                    let next_rad = profile.motion(step as f64 * STEP_S).heading_rad;
                    turned_rad = turned_rad * fade + (next_rad - heading_rad).abs();
                    heading_rad = next_rad;
                }
                let log_speed = log_speed - onward.loss * turned_rad;
                let (off_start, log_start) = *start.get_or_insert((off_rad, log_speed));
                let by = (log_speed - log_start).clamp(LOG_BOUNDS.0, LOG_BOUNDS.1);
                Way {
                    off_rad: off_rad - off_start,
                    speed_share: by.exp(),
                }
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::forecast::draws::Draws;
    use crate::forecast::scales::{Onward, PARTS};
    use crate::turn::{LikelyTurn, TurnCommand};

    fn onward(variance: f64) -> Onward {
        Onward {
            tau_s: [3.0, 12.0, 60.0],
            parts: [0.0; PARTS],
            root: [[0.0; PARTS]; PARTS],
            variance: [variance; 3],
            walk: 0.0,
        }
    }

    fn helm(variance: f64, loss: f64) -> HelmOnward {
        HelmOnward {
            heading: onward(variance),
            speed: onward(variance),
            turned_rad: 0.0,
            loss,
        }
    }

    fn ways(slot: u64) -> Ways {
        let mut draws = Draws::new(7, slot);
        Ways {
            heading: Noise::new(&mut draws, 1.0),
            speed: Noise::new(&mut draws, 1.0),
        }
    }

    #[test]
    fn a_turn_costs_speed_that_comes_back() {
        let profile = HeadingProfile {
            turns: vec![LikelyTurn::sure(TurnCommand {
                start_s: 10.0,
                by_rad: -1.5,
                rate_rad_s: 0.1,
            })],
            ..HeadingProfile::steady(1.0)
        };
        let path = ways(0).path(Millis(0), &helm(0.0, 0.2), &profile, 120.0);
        let share = |t_s: f64| path[(t_s / STEP_S) as usize].speed_share;
        assert_eq!(share(8.0), 1.0);
        // 1.5 rad over 15 s of a fading of 20 s: 0.1 * 20 * (1 - exp(-15/20)) = 1.06 rad at its end.
        assert!(
            (share(26.0).ln() + 0.2 * 1.06).abs() < 0.03,
            "{}",
            share(26.0)
        );
        assert!(share(120.0) > 0.99);
    }

    #[test]
    fn wander_begins_here_and_spreads() {
        let profile = HeadingProfile::steady(1.0);
        let (mut square, count) = (0.0, 400);
        for slot in 0..count {
            let path = ways(slot).path(Millis(0), &helm(1e-3, 0.0), &profile, 120.0);
            assert_eq!((path[0].off_rad, path[0].speed_share), (0.0, 1.0));
            square += path[60].off_rad.powi(2);
        }
        // Three parts of variance 1e-3, the slowest to 98 % after two minutes.
        let found = square / f64::from(count as u32);
        assert!((found / 2.98e-3 - 1.0).abs() < 0.3, "{found}");
    }
}
