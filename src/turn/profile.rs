//! Heading over time through the coming turns, and its random realisations.
//!
//! Steering is Nomoto's first-order model T r' + r = K delta (K. Nomoto et al. 1957, *On the
//! steering qualities of ships*). With the helm over from `start_s` for as long as the turn needs
//! at its commanded rate R, and an initial rate r0 at t = 0,
//!
//!   r(t)   = r0 e^(-t/T) + box(t - start),
//!   psi(t) = psi0 + r0 T (1 - e^(-t/T)) + R (x - T (1 - e^(-x/T)))    while the helm is over,
//!   psi(t) = psi0 + r0 T (1 - e^(-t/T)) + R D - R T (e^(-(x-D)/T) - e^(-x/T))    after it,
//!
//! with x = t - start, and D the time the helm is over, chosen so that the whole change is exactly
//! `by_rad`: R D + r0 T = by. The model is linear: further turns add their boxes, and the initial
//! rate belongs to the first.

use super::sizes::Quantiles;
use crate::angles::{wrap_positive, wrap_signed};

/// Heading and rate at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct YawMotion {
    /// True heading; not wrapped, so that differences can be taken.
    pub heading_rad: f64,
    /// + to starboard.
    pub yaw_rate_rad_s: f64,
}

/// Helm over at a moment, for a change of heading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnCommand {
    /// When the helm goes over, seconds from now, not negative.
    pub start_s: f64,
    /// Whole change of heading, + to starboard; of the first turn from now on.
    pub by_rad: f64,
    /// Commanded rate, positive.
    pub rate_rad_s: f64,
}

/// How far a turn goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Extent {
    /// Somebody said so.
    Said {
        /// Standard deviation of the change of heading.
        sd_rad: f64,
    },
    /// Nobody did: what is left of it is this at equally spaced quantiles, from the least to the
    /// most, positive.
    Open(Quantiles),
}

/// Uncertainty of a turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnDoubt {
    /// Chance that it is made at all, 0..1.
    pub chance: f64,
    /// Standard deviation of its start.
    pub start_sd_s: f64,
    /// How far it goes.
    pub extent: Extent,
    /// Standard deviation of its rate, as a share of it.
    pub rate_sd_share: f64,
}

/// A likely turn with its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LikelyTurn {
    /// What is most likely.
    pub command: TurnCommand,
    /// Its uncertainty.
    pub doubt: TurnDoubt,
}

/// Most turns in a profile: one per source.
pub const MOST_TURNS: usize = 4;

/// The draws that make one member's heading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct YawDraw {
    /// Normal: yaw time constant.
    pub time_constant_z: f64,
    /// One for each turn, in order.
    pub turns: [TurnDraw; MOST_TURNS],
}

/// The draws that make one turn; uniform ones in 0..1, normal ones N(0, 1).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnDraw {
    /// Uniform: made when below the chance.
    pub made_u: f64,
    /// Normal: start.
    pub start_z: f64,
    /// Uniform: extent.
    pub extent_u: f64,
    /// Normal: rate.
    pub rate_z: f64,
}

/// Heading from now on.
#[derive(Debug, Clone, PartialEq)]
pub struct HeadingProfile {
    /// True heading now.
    pub heading_rad: f64,
    /// Rate now, + to starboard; 0 on a straight course, where yaw from waves is ignored.
    pub yaw_rate_rad_s: f64,
    /// Nomoto's T.
    pub yaw_time_constant_s: f64,
    /// The turns, the one that begins first at the front; none on a straight course.
    pub turns: Vec<LikelyTurn>,
}

const LEAST_RATE_RAD_S: f64 = 1e-3;

impl HeadingProfile {
    /// Straight on.
    #[must_use]
    pub fn steady(heading_rad: f64) -> Self {
        Self {
            heading_rad,
            yaw_rate_rad_s: 0.0,
            yaw_time_constant_s: 1.0,
            turns: Vec::new(),
        }
    }

    /// Signed commanded rate of one turn and the time its helm is over.
    fn helm(&self, number: usize, turn: &TurnCommand) -> (f64, f64) {
        let mut left_rad = turn.by_rad;
        if number == 0 {
            left_rad -= self.yaw_rate_rad_s * self.yaw_time_constant_s;
        }
        let rate = turn.rate_rad_s.max(LEAST_RATE_RAD_S);
        (rate.copysign(left_rad), left_rad.abs() / rate)
    }

    /// Heading and rate `t_s` from now.
    #[must_use]
    pub fn motion(&self, t_s: f64) -> YawMotion {
        let tau = self.yaw_time_constant_s;
        let t = t_s.max(0.0);
        let decay = (-t / tau).exp();
        let mut heading_rad = self.heading_rad + self.yaw_rate_rad_s * tau * (1.0 - decay);
        let mut yaw_rate_rad_s = self.yaw_rate_rad_s * decay;
        for (number, turn) in self.turns.iter().enumerate() {
            let x = t - turn.command.start_s;
            if x <= 0.0 {
                continue;
            }
            let (rate, over_s) = self.helm(number, &turn.command);
            let since_start = (-x / tau).exp();
            if x < over_s {
                heading_rad += rate * (x - tau * (1.0 - since_start));
                yaw_rate_rad_s += rate * (1.0 - since_start);
            } else {
                let tail = (-(x - over_s) / tau).exp() - since_start;
                heading_rad += rate * over_s - rate * tau * tail;
                yaw_rate_rad_s += rate * tail;
            }
        }
        YawMotion {
            heading_rad,
            yaw_rate_rad_s,
        }
    }

    /// Heading after exactly the first `turns` turns, 0..2 pi.
    #[must_use]
    pub fn heading_after_rad(&self, turns: usize) -> f64 {
        let by: f64 = if self.turns.is_empty() {
            self.yaw_rate_rad_s * self.yaw_time_constant_s
        } else {
            let made = self.turns.iter().take(turns);
            made.map(|turn| turn.command.by_rad).sum()
        };
        wrap_positive(self.heading_rad + by)
    }

    /// Heading after all turns, 0..2 pi.
    #[must_use]
    pub fn final_heading_rad(&self) -> f64 {
        self.heading_after_rad(self.turns.len())
    }

    /// When the helm of one turn is back amidships, seconds from now; 0 without that turn.
    #[must_use]
    pub fn helm_done_s(&self, number: usize) -> f64 {
        self.turns.get(number).map_or(0.0, |turn| {
            turn.command.start_s + self.helm(number, &turn.command).1
        })
    }

    /// The same with only the turns that begin within `horizon_s`.
    #[must_use]
    pub fn within(mut self, horizon_s: f64) -> Self {
        self.turns.retain(|turn| turn.command.start_s < horizon_s);
        self
    }

    /// One realisation: each turn is made or not, and drawn independently.
    #[must_use]
    pub fn drawn(&self, draw: &YawDraw) -> Self {
        if self.turns.is_empty() {
            return self.clone();
        }
        let tau = self.yaw_time_constant_s * (0.2 * draw.time_constant_z).exp();
        let turns = self.turns.iter().zip(&draw.turns);
        Self {
            yaw_time_constant_s: tau,
            turns: turns
                .filter(|(turn, draw)| draw.made_u < turn.doubt.chance)
                .map(|(turn, draw)| turn.drawn(draw))
                .collect(),
            ..*self
        }
    }

    /// Whether heading `t_s` from now differs from now by more than `by_rad`.
    #[must_use]
    pub fn turns_more_than(&self, by_rad: f64, t_s: f64) -> bool {
        wrap_signed(self.motion(t_s).heading_rad - self.heading_rad).abs() > by_rad
    }
}

impl LikelyTurn {
    /// A turn without uncertainty.
    #[must_use]
    pub fn sure(command: TurnCommand) -> Self {
        Self {
            command,
            doubt: TurnDoubt {
                chance: 1.0,
                start_sd_s: 0.0,
                extent: Extent::Said { sd_rad: 0.0 },
                rate_sd_share: 0.0,
            },
        }
    }

    /// One realisation.
    fn drawn(&self, draw: &TurnDraw) -> Self {
        let Self { command, doubt } = *self;
        let by_rad = match doubt.extent {
            Extent::Said { sd_rad } => command.by_rad + sd_rad * normal_from_uniform(draw.extent_u),
            Extent::Open(left) => quantile(&left, draw.extent_u).copysign(command.by_rad),
        };
        Self {
            command: TurnCommand {
                start_s: (command.start_s + doubt.start_sd_s * draw.start_z).max(0.0),
                by_rad,
                rate_rad_s: command.rate_rad_s * (doubt.rate_sd_share * draw.rate_z).exp(),
            },
            doubt,
        }
    }
}

/// Between quantiles in proportion.
fn quantile(left: &Quantiles, u: f64) -> f64 {
    let last = left.len() - 1;
    let x = u.clamp(0.0, 1.0) * last as f64;
    let below = (x as usize).min(last - 1);
    left[below] + (x - below as f64) * (left[below + 1] - left[below])
}

/// A logistic variate scaled to unit variance: closed form, and close enough to a normal one for a
/// spread that is itself an estimate.
fn normal_from_uniform(u: f64) -> f64 {
    let u = u.clamp(1e-6, 1.0 - 1e-6);
    (u / (1.0 - u)).ln() * 3f64.sqrt() / std::f64::consts::PI
}

#[cfg(test)]
mod tests {
    use super::*;

    fn likely(start_s: f64, by_deg: f64, rate_deg_s: f64) -> LikelyTurn {
        LikelyTurn {
            command: TurnCommand {
                start_s,
                by_rad: by_deg.to_radians(),
                rate_rad_s: rate_deg_s.to_radians(),
            },
            doubt: TurnDoubt {
                chance: 1.0,
                start_sd_s: 2.0,
                extent: Extent::Said { sd_rad: 0.1 },
                rate_sd_share: 0.2,
            },
        }
    }

    fn turn(by_deg: f64, rate_deg_s: f64) -> HeadingProfile {
        HeadingProfile {
            heading_rad: 1.0,
            yaw_rate_rad_s: 0.0,
            yaw_time_constant_s: 2.0,
            turns: vec![likely(0.0, by_deg, rate_deg_s)],
        }
    }

    /// All middle ones, and every turn is made.
    fn middle() -> TurnDraw {
        TurnDraw {
            made_u: 0.0,
            start_z: 0.0,
            extent_u: 0.5,
            rate_z: 0.0,
        }
    }

    fn draws(turns: [TurnDraw; 2]) -> YawDraw {
        YawDraw {
            time_constant_z: 0.0,
            turns: std::array::from_fn(|i| turns[i.min(1)]),
        }
    }

    #[test]
    fn step_response_matches_the_nomoto_vector() {
        // K 0.5 1/s, T 2 s, delta 10 deg (so R = K delta = 5 deg/s),
        // t 1, 2, 4, 10 s: own arithmetic from the closed form.
        let profile = turn(360.0, 5.0);
        for (t, rate, psi) in [
            (1.0, 1.967347, 1.065307),
            (2.0, 3.160603, 3.678794),
            (4.0, 4.323324, 11.353353),
            (10.0, 4.966310, 40.067379),
        ] {
            let m = profile.motion(t);
            assert!((m.yaw_rate_rad_s.to_degrees() - rate).abs() < 1e-6);
            assert!(((m.heading_rad - 1.0).to_degrees() - psi).abs() < 1e-6);
        }
    }

    #[test]
    fn total_is_exact_and_rate_is_the_derivative() {
        let mut profile = turn(-70.0, 4.0);
        profile.yaw_rate_rad_s = -0.03;
        profile.turns[0].command.start_s = 3.0;
        profile.turns.push(likely(40.0, 25.0, 2.0));
        // Own arithmetic: the first turn is over by second 40, both by second 500.
        let after_first = profile.motion(40.0).heading_rad - 1.0;
        assert!((after_first.to_degrees() + 70.0).abs() < 1e-3);
        let end = profile.motion(500.0).heading_rad - 1.0;
        assert!((end.to_degrees() + 45.0).abs() < 1e-9);
        assert!((profile.final_heading_rad() - (1.0 + end)).abs() < 1e-9);
        for i in 1..700 {
            let t = f64::from(i) * 0.1 + 0.03;
            let d = 1e-5;
            let slope =
                (profile.motion(t + d).heading_rad - profile.motion(t - d).heading_rad) / (2.0 * d);
            assert!(
                (slope - profile.motion(t).yaw_rate_rad_s).abs() < 1e-6,
                "{t}"
            );
        }
    }

    #[test]
    fn port_is_the_mirror_of_starboard() {
        let mut draw = draws(
            [TurnDraw {
                made_u: 0.3,
                start_z: 0.5,
                extent_u: 0.5,
                rate_z: -0.4,
            }; 2],
        );
        draw.time_constant_z = 0.2;
        let (a, b) = (turn(50.0, 3.0).drawn(&draw), turn(-50.0, 3.0).drawn(&draw));
        for i in 0..60 {
            let t = f64::from(i);
            let sum = a.motion(t).heading_rad + b.motion(t).heading_rad - 2.0;
            assert!(sum.abs() < 1e-9);
        }
    }

    #[test]
    fn an_open_turn_goes_as_far_as_its_quantiles_say() {
        let mut profile = turn(-30.0, 3.0);
        profile.yaw_rate_rad_s = -3f64.to_radians();
        // Own arithmetic: 0 to 40 degrees, so 2 degrees from each quantile to the next.
        let left = std::array::from_fn(|i| (2.0 * i as f64).to_radians());
        profile.turns[0].doubt.extent = Extent::Open(left);
        for (extent_u, by_deg) in [(0.0, 0.0), (0.25, -10.0), (0.51, -20.4), (1.0, -40.0)] {
            let drawn = profile.drawn(&draws(
                [TurnDraw {
                    extent_u,
                    ..middle()
                }; 2],
            ));
            let by = drawn.turns[0].command.by_rad.to_degrees();
            assert!((by - by_deg).abs() < 1e-9, "{extent_u}: {by}");
        }
    }

    #[test]
    fn a_turn_not_made_goes_straight_on_and_leaves_the_other() {
        let mut profile = turn(90.0, 3.0);
        profile.turns[0].doubt.chance = 0.5;
        let unmade = TurnDraw {
            made_u: 0.7,
            ..middle()
        };
        let drawn = profile.drawn(&draws([unmade; 2]));
        assert!(!drawn.turns_more_than(1e-9, 100.0));
        assert!(profile.turns_more_than(1.0, 100.0));
        profile.turns.push(likely(60.0, -40.0, 3.0));
        let drawn = profile.drawn(&draws([unmade, middle()]));
        assert!(!drawn.turns_more_than(1e-9, 60.0));
        // Own arithmetic: 40 degrees to port and nothing else.
        let end = drawn.motion(300.0).heading_rad - 1.0;
        assert!((end.to_degrees() + 40.0).abs() < 1e-6);
    }
}
