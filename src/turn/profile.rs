//! Heading over time for one turn, and how it may come out otherwise.
//!
//! Steering is Nomoto's first-order model T r' + r = K delta (K. Nomoto et al. 1957, references.md
//! section 7). With the helm over from `start_s` for as long as the turn needs at its commanded
//! rate R, and a rate r0 already on at t = 0,
//!
//!   r(t)   = r0 e^(-t/T) + box(t - start),
//!   psi(t) = psi0 + r0 T (1 - e^(-t/T)) + R (x - T (1 - e^(-x/T)))          while the helm is over,
//!   psi(t) = psi0 + r0 T (1 - e^(-t/T)) + R D - R T (e^(-(x-D)/T) - e^(-x/T))  after it,
//!
//! with x = t - start and D the time the helm is over, chosen so that the whole change is exactly
//! `by_rad`: R D + r0 T = by.

use super::wrap_rad;

/// Heading and rate at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct YawMotion {
    /// True heading; not wrapped, so that differences make sense.
    pub heading_rad: f64,
    /// + to starboard.
    pub yaw_rate_rad_s: f64,
}

/// Helm over at a moment, for a change of heading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnCommand {
    /// When the helm goes over, seconds from now, not negative.
    pub start_s: f64,
    /// Whole change of heading from now on, + to starboard.
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
    /// Nobody did: log-logistic size of the whole turn, given that it has come so far.
    Open {
        /// Turned already, positive.
        turned_rad: f64,
        /// Median of the whole turn.
        median_rad: f64,
        /// Scale of the logarithm.
        log_scale: f64,
    },
}

/// How sure a turn is.
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

/// The draws that make one member's turn; uniform ones in 0..1, normal ones N(0, 1).
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
    /// Normal: yaw time constant.
    pub time_constant_z: f64,
}

/// Heading from now on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeadingProfile {
    /// True heading now.
    pub heading_rad: f64,
    /// Rate now, + to starboard; 0 on a straight course, whatever the sea does to the bow.
    pub yaw_rate_rad_s: f64,
    /// Nomoto's T.
    pub yaw_time_constant_s: f64,
    /// The turn, if one is coming.
    pub turn: Option<TurnCommand>,
    /// How sure it is.
    pub doubt: Option<TurnDoubt>,
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
            turn: None,
            doubt: None,
        }
    }

    /// Signed commanded rate and the time the helm is over.
    fn helm(&self, turn: &TurnCommand) -> (f64, f64) {
        let left_rad = turn.by_rad - self.yaw_rate_rad_s * self.yaw_time_constant_s;
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
        if let Some(turn) = &self.turn {
            let x = t - turn.start_s;
            if x > 0.0 {
                let (rate, over_s) = self.helm(turn);
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
        }
        YawMotion {
            heading_rad,
            yaw_rate_rad_s,
        }
    }

    /// Heading when all is done, 0..2 pi.
    #[must_use]
    pub fn final_heading_rad(&self) -> f64 {
        let by = self
            .turn
            .map_or(self.yaw_rate_rad_s * self.yaw_time_constant_s, |turn| {
                turn.by_rad
            });
        (self.heading_rad + by).rem_euclid(std::f64::consts::TAU)
    }

    /// When the helm is back amidships, seconds from now; 0 without a turn.
    #[must_use]
    pub fn helm_done_s(&self) -> f64 {
        self.turn
            .map_or(0.0, |turn| turn.start_s + self.helm(&turn).1)
    }

    /// The same without the turn: the rate that is on dies away.
    #[must_use]
    pub fn without_turn(&self) -> Self {
        Self {
            turn: None,
            doubt: None,
            ..*self
        }
    }

    /// One way it may come out.
    #[must_use]
    pub fn drawn(&self, draw: &TurnDraw) -> Self {
        let (Some(turn), Some(doubt)) = (self.turn, self.doubt) else {
            return *self;
        };
        if draw.made_u >= doubt.chance {
            return self.without_turn();
        }
        let tau = self.yaw_time_constant_s * (0.2 * draw.time_constant_z).exp();
        let by_rad = match doubt.extent {
            Extent::Said { sd_rad } => turn.by_rad + sd_rad * normal_from_uniform(draw.extent_u),
            Extent::Open {
                turned_rad,
                median_rad,
                log_scale,
            } => {
                // What the rate already on will still bring cannot be undone.
                let sure = turned_rad + (self.yaw_rate_rad_s * tau).abs();
                let below = log_logistic_cdf(sure / median_rad, log_scale);
                let u = below + (1.0 - below) * draw.extent_u.clamp(1e-6, 1.0 - 1e-6);
                let whole = median_rad * log_logistic_quantile(u, log_scale);
                let left = (whole - turned_rad).clamp(0.0, std::f64::consts::PI);
                left.copysign(turn.by_rad)
            }
        };
        Self {
            yaw_time_constant_s: tau,
            turn: Some(TurnCommand {
                start_s: (turn.start_s + doubt.start_sd_s * draw.start_z).max(0.0),
                by_rad,
                rate_rad_s: turn.rate_rad_s * (doubt.rate_sd_share * draw.rate_z).exp(),
            }),
            ..*self
        }
    }

    /// Whether heading `t_s` from now differs from now by more than `by_rad`.
    #[must_use]
    pub fn turns_more_than(&self, by_rad: f64, t_s: f64) -> bool {
        wrap_rad(self.motion(t_s).heading_rad - self.heading_rad).abs() > by_rad
    }
}

/// Share of a log-logistic distribution with median 1 below `x`.
fn log_logistic_cdf(x: f64, log_scale: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    1.0 / (1.0 + (-x.ln() / log_scale).exp())
}

/// Its quantile.
pub(super) fn log_logistic_quantile(u: f64, log_scale: f64) -> f64 {
    (u / (1.0 - u)).powf(log_scale)
}

/// A logistic variate scaled to unit variance: near enough to a normal one for a spread whose
/// size is itself a guess, and in closed form.
fn normal_from_uniform(u: f64) -> f64 {
    let u = u.clamp(1e-6, 1.0 - 1e-6);
    (u / (1.0 - u)).ln() * 3f64.sqrt() / std::f64::consts::PI
}

#[cfg(test)]
mod tests {
    use super::*;

    fn turn(by_deg: f64, rate_deg_s: f64) -> HeadingProfile {
        HeadingProfile {
            heading_rad: 1.0,
            yaw_rate_rad_s: 0.0,
            yaw_time_constant_s: 2.0,
            turn: Some(TurnCommand {
                start_s: 0.0,
                by_rad: by_deg.to_radians(),
                rate_rad_s: rate_deg_s.to_radians(),
            }),
            doubt: Some(TurnDoubt {
                chance: 1.0,
                start_sd_s: 2.0,
                extent: Extent::Said { sd_rad: 0.1 },
                rate_sd_share: 0.2,
            }),
        }
    }

    #[test]
    fn step_response_matches_the_nomoto_vector() {
        // references.md section 7: K 0.5 1/s, T 2 s, delta 10 deg (so R = K delta = 5 deg/s),
        // t 1, 2, 4, 10 s; arithmetic from the closed form (status D).
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
        profile.turn.as_mut().unwrap().start_s = 3.0;
        let end = profile.motion(500.0).heading_rad - 1.0;
        assert!((end.to_degrees() + 70.0).abs() < 1e-9);
        for i in 1..400 {
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
        let draw = TurnDraw {
            made_u: 0.3,
            start_z: 0.5,
            extent_u: 0.5,
            rate_z: -0.4,
            time_constant_z: 0.2,
        };
        let (a, b) = (turn(50.0, 3.0).drawn(&draw), turn(-50.0, 3.0).drawn(&draw));
        for i in 0..60 {
            let t = f64::from(i);
            let sum = a.motion(t).heading_rad + b.motion(t).heading_rad - 2.0;
            assert!(sum.abs() < 1e-9);
        }
    }

    #[test]
    fn an_open_turn_never_ends_before_where_it_already_is() {
        let mut profile = turn(30.0, 3.0);
        profile.yaw_rate_rad_s = 3f64.to_radians();
        profile.doubt.as_mut().unwrap().extent = Extent::Open {
            turned_rad: 80f64.to_radians(),
            median_rad: 60f64.to_radians(),
            log_scale: 0.35,
        };
        let mut last = 0.0;
        for i in 0..20 {
            let drawn = profile.drawn(&TurnDraw {
                made_u: 0.0,
                start_z: 0.0,
                extent_u: (f64::from(i) + 0.5) / 20.0,
                rate_z: 0.0,
                time_constant_z: 0.0,
            });
            let by = drawn.turn.unwrap().by_rad;
            assert!(by >= profile.yaw_rate_rad_s * profile.yaw_time_constant_s - 1e-6);
            assert!(by >= last);
            last = by;
        }
        assert!(last > 45f64.to_radians());
    }

    #[test]
    fn a_turn_not_made_goes_straight_on() {
        let mut profile = turn(90.0, 3.0);
        profile.doubt.as_mut().unwrap().chance = 0.5;
        let drawn = profile.drawn(&TurnDraw {
            made_u: 0.7,
            start_z: 0.0,
            extent_u: 0.5,
            rate_z: 0.0,
            time_constant_z: 0.0,
        });
        assert!(!drawn.turns_more_than(1e-9, 100.0));
        assert!(profile.turns_more_than(1.0, 100.0));
    }
}
