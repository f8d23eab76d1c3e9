//! The wind at the rig: what the masthead sensor has shown lately, and its possible
//! errors.
//!
//! Log speed and direction vary on several time scales each (`scales.rs`). Their laws are fitted to
//! recorded logs of sailing boats on a lake and along a coast: the boats that were tuned on stand in
//! `tests/days/README.md`. Speed and direction are taken as independent: over 10 s their changes
//! are correlated between -0.22 and 0.19 from log to log, with either sign. Changes of log speed
//! have a skewness between -0.7 and 0.4, either sign too, so they are drawn symmetric.

use super::scales::{DEG2, Law, Onward, Scales};
use crate::angles::wrap_signed;
use crate::rig::Wind;
use crate::time::Millis;
use crate::vessel::{Grade, VesselNow};

/// East and north.
type Flat = [f64; 2];

/// Lighter wind counts as this in the logarithm.
const LEAST_MPS: f64 = 0.3;

/// Correlation times of both.
const TAU_S: [f64; 3] = [6.0, 30.0, 150.0];

/// Logarithm of the wind speed.
static SPEED: Law = Law {
    tau_s: TAU_S,
    noise: 4e-4,
    variance: [64e-4, 36e-4, 64e-4],
    walk_share: 1.0 / 150.0,
    walk_least: 0.0,
};

/// Direction, radians.
static DIRECTION: Law = Law {
    tau_s: TAU_S,
    noise: 0.7 * DEG2,
    variance: [12.0 * DEG2, 9.0 * DEG2, 25.0 * DEG2],
    walk_share: 1.0 / 60.0,
    walk_least: 0.3 * DEG2,
};

/// Standard deviation of what an instrument in doubt adds: of the logarithm of the speed, and of the
/// direction (invented: about what 20 minutes do to the wind of a lake).
const DOUBTED_LOG_SPEED: f64 = 0.25;
const DOUBTED_DIRECTION_RAD: f64 = 20.0 * std::f64::consts::PI / 180.0;

/// What the masthead has shown.
#[derive(Debug, Clone, Default)]
pub struct AirMemory {
    seen: Option<Seen>,
}

#[derive(Debug, Clone)]
struct Seen {
    /// When the newest wind was measured.
    at: Millis,
    speed: Scales,
    direction: Scales,
    /// Last direction taken in, not wrapped.
    from_rad: f64,
    /// Whether the wind rests on an instrument in doubt.
    doubted: bool,
}

/// How the wind at the sensor may continue.
#[derive(Debug, Clone, Copy)]
pub struct WindOnward {
    /// Logarithm of the speed.
    pub speed: Onward,
    /// Where it comes from, not wrapped.
    pub direction: Onward,
}

/// The wind according to one particle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ParticleAir {
    /// Now, at 10 m.
    pub now: Wind,
    /// Without the parts that pass within a minute, at 10 m.
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
        let log_speed = wind.value.speed_mps.max(LEAST_MPS).ln();
        let Some(seen) = &mut self.seen else {
            self.seen = Some(Seen {
                at: wind.at,
                speed: Scales::new(&SPEED, vessel.at, log_speed),
                direction: Scales::new(&DIRECTION, vessel.at, wind.value.from_rad),
                from_rad: wind.value.from_rad,
                doubted: wind.grade <= Grade::Doubted,
            });
            return;
        };
        // The same reading again tells nothing.
        if wind.at == seen.at {
            return;
        }
        seen.at = wind.at;
        seen.from_rad += wrap_signed(wind.value.from_rad - seen.from_rad);
        seen.doubted = wind.grade <= Grade::Doubted;
        if seen.doubted {
            // Nothing is learnt from it of how the wind varies.
            seen.speed.restart(vessel.at, log_speed);
            seen.direction.restart(vessel.at, seen.from_rad);
            return;
        }
        seen.speed.follow(vessel.at, log_speed);
        seen.direction.follow(vessel.at, seen.from_rad);
    }

    /// How it may continue; `None` before any wind was seen. From an instrument in doubt every future
    /// gets a level of its own.
    pub fn onward(&self) -> Option<WindOnward> {
        let seen = self.seen.as_ref()?;
        let (speed_sd, direction_sd) = if seen.doubted {
            (DOUBTED_LOG_SPEED, DOUBTED_DIRECTION_RAD)
        } else {
            (0.0, 0.0)
        };
        Some(WindOnward {
            speed: seen.speed.onward().widened(speed_sd),
            direction: seen.direction.onward().widened(direction_sd),
        })
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
        let Seen {
            speed, direction, ..
        } = self.seen.as_ref()?;
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
            let (speed_mps, from_rad) = towards_from(v);
            let growth = (sensor_height_m.max(0.5) / 10.0).powf(error.exponent);
            Wind {
                speed_10m_mps: speed_mps / growth,
                from_rad,
                shear_exponent: error.exponent,
            }
        };
        Some(ParticleAir {
            now: undo(flat(speed.now().exp(), direction.now())),
            mean: undo(flat(speed.settled().exp(), direction.settled())),
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
        let (speed, from) = towards_from([read[0] + way[0], read[1] + way[1]]);
        let memory = AirMemory {
            seen: Some(Seen {
                at: Millis(0),
                speed: Scales::new(&SPEED, Millis(0), speed.ln()),
                direction: Scales::new(&DIRECTION, Millis(0), from),
                from_rad: from,
                doubted: false,
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

    /// The level of a wind in doubt is less well known, by what the constants say.
    #[test]
    fn a_wind_in_doubt_spreads_the_futures() {
        let level_sd = |doubted| {
            let memory = AirMemory {
                seen: Some(Seen {
                    at: Millis(0),
                    speed: Scales::new(&SPEED, Millis(0), 2.0),
                    direction: Scales::new(&DIRECTION, Millis(0), 1.0),
                    from_rad: 1.0,
                    doubted,
                }),
            };
            let onward = memory.onward().unwrap();
            [onward.speed, onward.direction].map(|of| of.root[3][3])
        };
        let (sound, doubted) = (level_sd(false), level_sd(true));
        for (i, more) in [DOUBTED_LOG_SPEED, DOUBTED_DIRECTION_RAD]
            .into_iter()
            .enumerate()
        {
            assert!((doubted[i] - sound[i].hypot(more)).abs() < 1e-12);
            assert!(doubted[i] > 1.2 * sound[i]);
        }
    }
}
