//! The wind triangle.
//!
//! Vectors after Smith, Bourassa and Sharp (1999), "Establishing more truth in true winds",
//! J. Atmos. Oceanic Technol. 16, 939-952: turn the vane angle to north with the heading, then
//! add the motion of the boat. With motion through the water the result is the wind over the
//! water; with motion over the ground it is the wind over the ground.

use std::f64::consts::TAU;

use super::now::{ApparentWind, TrueWind};
use crate::angles::wrap_positive;

/// How the boat moves, over water or over ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motion {
    /// Where it goes, clockwise from true north, 0..=2 pi.
    pub toward_rad: f64,
    /// How fast, never negative.
    pub speed_mps: f64,
}

impl Motion {
    /// From speeds along the keel (ahead positive) and across it (starboard positive).
    #[must_use]
    pub fn from_axes(heading_rad: f64, ahead_mps: f64, starboard_mps: f64) -> Self {
        Self {
            toward_rad: wrap_positive(heading_rad + starboard_mps.atan2(ahead_mps)),
            speed_mps: ahead_mps.hypot(starboard_mps),
        }
    }
}

/// Below this speed (each component) the air is calm and has no direction, as in the published
/// code of the paper above.
const CALM_MPS: f64 = 1e-5;

/// True wind from apparent wind. `None` when an angle lies outside 0..=2 pi, a speed is negative,
/// or anything is not finite. Calm air gives direction 0.
#[must_use]
pub fn true_wind(apparent: ApparentWind, heading_rad: f64, motion: Motion) -> Option<TrueWind> {
    let angles_good = [apparent.angle_rad, heading_rad, motion.toward_rad]
        .iter()
        .all(|angle| (0.0..=TAU).contains(angle));
    let speeds_good = [apparent.speed_mps, motion.speed_mps]
        .iter()
        .all(|speed| speed.is_finite() && *speed >= 0.0);
    if !(angles_good && speeds_good) {
        return None;
    }
    let from = heading_rad + apparent.angle_rad;
    let (east, north) = add(
        (
            -apparent.speed_mps * from.sin(),
            -apparent.speed_mps * from.cos(),
        ),
        motion,
        1.0,
    );
    let (from_rad, speed_mps) = direction_and_speed(east, north);
    Some(TrueWind {
        from_rad,
        speed_mps,
    })
}

/// Apparent wind that a boat with this heading and motion feels in this true wind: the inverse of
/// [`true_wind`]. Calm gives angle 0.
#[must_use]
pub fn apparent_wind(wind: TrueWind, heading_rad: f64, motion: Motion) -> ApparentWind {
    let (east, north) = add(
        (
            -wind.speed_mps * wind.from_rad.sin(),
            -wind.speed_mps * wind.from_rad.cos(),
        ),
        motion,
        -1.0,
    );
    let (from_rad, speed_mps) = direction_and_speed(east, north);
    ApparentWind {
        angle_rad: if speed_mps > 0.0 {
            wrap_positive(from_rad - heading_rad)
        } else {
            0.0
        },
        speed_mps,
    }
}

fn add(air: (f64, f64), motion: Motion, sign: f64) -> (f64, f64) {
    (
        air.0 + sign * motion.speed_mps * motion.toward_rad.sin(),
        air.1 + sign * motion.speed_mps * motion.toward_rad.cos(),
    )
}

fn direction_and_speed(east_mps: f64, north_mps: f64) -> (f64, f64) {
    if east_mps.abs() < CALM_MPS && north_mps.abs() < CALM_MPS {
        (0.0, 0.0)
    } else {
        (
            wrap_positive((-east_mps).atan2(-north_mps)),
            east_mps.hypot(north_mps),
        )
    }
}
