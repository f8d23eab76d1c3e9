//! The wind at the rig: what the masthead sensor has shown lately, and its possible
//! errors.

use crate::angles::wrap_signed;
use crate::rig::Wind;
use crate::time::Millis;
use crate::vessel::VesselNow;

/// East and north.
type Flat = [f64; 2];

/// Time constant of the mean, of the present, and of their spread.
const MEAN_S: f64 = 60.0;
const NOW_S: f64 = 2.5;
const SPREAD_S: f64 = 150.0;
/// Smoothing over [`NOW_S`] and subtracting the mean of [`MEAN_S`] reduce the variance of
/// first-order gusts by the factor tau / (tau + now) (1 - tau / (tau + mean)): two thirds for tau
/// of 8 to 20 s. The observed spread is too small by this factor.
const SPREAD_LOST: f64 = 1.22;
/// Spread assumed before any was observed, and its bounds (a masthead in a seaway shows more, which
/// is not wind): speed (share), direction.
const USUAL_SPEED: f64 = 0.06;
const USUAL_RAD: f64 = 0.06;
const SPEED_BOUNDS: (f64, f64) = (0.03, 0.15);
const RAD_BOUNDS: (f64, f64) = (0.03, 0.12);

/// What the masthead has shown.
#[derive(Debug, Clone, Default)]
pub struct AirMemory {
    seen: Option<Seen>,
}

#[derive(Debug, Clone, Copy)]
struct Seen {
    at: Millis,
    began: Millis,
    /// Velocity of the air at the sensor.
    now: Flat,
    mean: Flat,
    speed_variance: f64,
    direction_variance: f64,
}

/// The wind according to one particle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ParticleAir {
    /// Now, at 10 m.
    pub now: Wind,
    /// Mean of the last minute, at 10 m.
    pub mean: Wind,
}

/// Errors of the masthead sensor according to one particle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SensorError {
    /// Added to the angle.
    pub angle_rad: f64,
    /// Share added to the speed.
    pub speed: f64,
    /// Exponent of the wind profile.
    pub exponent: f64,
}

fn flat(speed_mps: f64, from_rad: f64) -> Flat {
    let (s, c) = from_rad.sin_cos();
    [-speed_mps * s, -speed_mps * c]
}

fn towards_from(v: Flat) -> (f64, f64) {
    (v[0].hypot(v[1]), (-v[0]).atan2(-v[1]))
}

impl AirMemory {
    /// Updates with the present wind; without one the last values stay.
    pub fn follow(&mut self, vessel: &VesselNow) {
        let Some(wind) = &vessel.true_wind else {
            return;
        };
        let at = vessel.at;
        let v = flat(wind.value.speed_mps, wind.value.from_rad);
        let Some(seen) = self.seen.as_mut().filter(|s| at.seconds_since(s.at) < 60.0) else {
            self.seen = Some(Seen {
                at,
                began: at,
                now: v,
                mean: v,
                speed_variance: USUAL_SPEED * USUAL_SPEED,
                direction_variance: USUAL_RAD * USUAL_RAD,
            });
            return;
        };
        let dt = at.seconds_since(seen.at);
        if dt <= 0.0 {
            return;
        }
        seen.at = at;
        // Until a minute has passed the mean is a plain average, so that the first seconds do not
        // dominate it.
        let age = at.seconds_since(seen.began);
        let share = |tau: f64| 1.0 - (-dt / tau.min(age.max(dt))).exp();
        for (held, tau) in [(&mut seen.now, NOW_S), (&mut seen.mean, MEAN_S)] {
            for (held, new) in held.iter_mut().zip(v) {
                *held += share(tau) * (new - *held);
            }
        }
        let ((u, from), (mean, mean_from)) = (towards_from(seen.now), towards_from(seen.mean));
        if mean > 0.5 && u > 0.1 {
            let spread = 1.0 - (-dt / SPREAD_S).exp();
            seen.speed_variance += spread * ((u / mean).ln().powi(2) - seen.speed_variance);
            seen.direction_variance +=
                spread * (wrap_signed(from - mean_from).powi(2) - seen.direction_variance);
        }
    }

    /// Whether any wind has been seen.
    pub fn known(&self) -> bool {
        self.seen.is_some()
    }

    /// The wind of one particle. The sensor is on a moving boat, so its error is corrected in the
    /// apparent wind; boat motion and sensor height are removed afterwards.
    pub fn of_particle(
        &self,
        error: &SensorError,
        heading_rad: f64,
        speed_mps: f64,
        sensor_height_m: f64,
    ) -> Option<ParticleAir> {
        let seen = self.seen?;
        let (s, c) = heading_rad.sin_cos();
        let way = [speed_mps * s, speed_mps * c];
        let undo = |v: Flat| -> Wind {
            let apparent = [v[0] - way[0], v[1] - way[1]];
            let (es, ec) = error.angle_rad.sin_cos();
            let share = 1.0 / (1.0 + error.speed).max(0.2);
            let v = [
                share * (apparent[0] * ec - apparent[1] * es) + way[0],
                share * (apparent[0] * es + apparent[1] * ec) + way[1],
            ];
            let (speed, from) = towards_from(v);
            let growth = (sensor_height_m.max(0.5) / 10.0).powf(error.exponent);
            Wind {
                speed_10m_mps: speed / growth,
                from_rad: from,
                shear_exponent: error.exponent,
            }
        };
        Some(ParticleAir {
            now: undo(seen.now),
            mean: undo(seen.mean),
        })
    }

    /// Spread of speed (share) and direction (radians) about the mean.
    pub fn spread(&self) -> (f64, f64) {
        self.seen.map_or((USUAL_SPEED, USUAL_RAD), |seen| {
            (
                (SPREAD_LOST * seen.speed_variance.sqrt()).clamp(SPEED_BOUNDS.0, SPEED_BOUNDS.1),
                (SPREAD_LOST * seen.direction_variance.sqrt()).clamp(RAD_BOUNDS.0, RAD_BOUNDS.1),
            )
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn undoing_the_sensor_error_gives_the_wind_back() {
        // Boat north at 3 m/s, wind 8 m/s from the east at the sensor 10 m up; the sensor reads
        // 5 degrees too far clockwise and 4 % too much.
        let way = [0.0, 3.0];
        let truth = flat(8.0, std::f64::consts::FRAC_PI_2);
        let apparent = [truth[0] - way[0], truth[1] - way[1]];
        let (speed, from) = towards_from(apparent);
        let read = flat(speed * 1.04, from + 5f64.to_radians());
        let seen = [read[0] + way[0], read[1] + way[1]];
        let memory = AirMemory {
            seen: Some(Seen {
                at: Millis(0),
                began: Millis(0),
                now: seen,
                mean: seen,
                speed_variance: 0.0,
                direction_variance: 0.0,
            }),
        };
        let error = SensorError {
            angle_rad: 5f64.to_radians(),
            speed: 0.04,
            exponent: 0.11,
        };
        let air = memory.of_particle(&error, 0.0, 3.0, 10.0).unwrap();
        assert!((air.now.speed_10m_mps - 8.0).abs() < 1e-9);
        assert!(wrap_signed(air.now.from_rad - std::f64::consts::FRAC_PI_2).abs() < 1e-9);
    }
}
