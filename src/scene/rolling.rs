//! What a sea does to a boat's instruments.
//! In: the boat's ride through the waves. Out: errors of masthead, compass and log. Knows no
//! sentence.
//!
//! The masthead moves with roll and pitch; the log lies in the orbital motion of the water under
//! the hull; the bow yaws about the course with the waves as they are met. That yaw is in the
//! instruments only: its size is invented.

use std::f64::consts::TAU;

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

use super::noise::normal;
use super::script::Script;
use crate::rig::{GRAVITY_MPS2, Hull, Ride};

/// Standard deviation of the yaw about the course.
const YAW_RAD: f64 = 1.5 * TAU / 360.0;
/// Sines that make it up, and how far their periods differ from that of the waves met.
const YAW_WAVES: usize = 7;
const YAW_SPREAD: f64 = 0.25;
/// Depth of the log under the hull, and its noise.
const LOG_DEPTH_M: f64 = 0.5;
const LOG_NOISE_MPS: f64 = 0.05;
/// Step of the rates of roll and pitch, s.
const RATE_S: f64 = 0.05;
/// Shortest frequency at which waves are met, radians a second: a following sea that runs with the
/// boat yaws it slowly, not never.
const LEAST_MET: f64 = 0.2;

/// The boat among the waves.
pub(super) struct Rolling<'a> {
    ride: &'a Ride,
    /// Frequency and phase of each sine of the yaw.
    yaw: [(f64, f64); YAW_WAVES],
}

/// Errors at one moment.
#[derive(Debug, Default, Clone, Copy)]
pub(super) struct Shaken {
    /// Velocity of the wind sensor beside the boat's own, east and north.
    pub(super) sensor_mps: (f64, f64),
    pub(super) log_mps: f64,
    pub(super) yaw_rad: f64,
    pub(super) yaw_rate_rad_s: f64,
}

impl<'a> Rolling<'a> {
    pub(super) fn new(script: &Script, ride: &'a Ride) -> Self {
        let highest = script
            .waves
            .iter()
            .max_by(|a, b| a.height_m.total_cmp(&b.height_m));
        let met = highest.map_or(LEAST_MET, |waves| {
            let omega = TAU / waves.period_s;
            let toward = waves.from_rad - script.heading_rad;
            let met = omega + omega * omega / GRAVITY_MPS2 * script.boat_speed_mps * toward.cos();
            met.abs().max(LEAST_MET)
        });
        // Draws of their own: a sea leaves those of wind and noise as they are.
        let mut rng = ChaCha8Rng::seed_from_u64(script.seed ^ 0x5EA);
        let yaw = std::array::from_fn(|i| {
            let off = YAW_SPREAD * (2.0 * i as f64 / (YAW_WAVES - 1) as f64 - 1.0);
            (met * (1.0 + off), TAU * rng.random::<f64>())
        });
        Self { ride, yaw }
    }

    pub(super) fn shaken(
        &self,
        t_s: f64,
        heading_rad: f64,
        sensor_height_m: f64,
        rng: &mut ChaCha8Rng,
    ) -> Shaken {
        let (before, after) = (self.ride.pose(t_s - RATE_S), self.ride.pose(t_s + RATE_S));
        let rate = |of: fn(&crate::rig::Pose) -> f64| (of(&after) - of(&before)) / (2.0 * RATE_S);
        let (forward, starboard) = (
            -sensor_height_m * rate(|pose| pose.pitch_rad),
            sensor_height_m * rate(|pose| pose.roll_rad),
        );
        let (s, c) = heading_rad.sin_cos();
        let ahead_m = Hull::default().middle_ahead_m;
        let under = self
            .ride
            .water([ahead_m * s, ahead_m * c, -LOG_DEPTH_M], t_s)
            .velocity;
        let amplitude = YAW_RAD * (2.0 / YAW_WAVES as f64).sqrt();
        let (mut yaw, mut yaw_rate) = (0.0, 0.0);
        for (omega, phase) in self.yaw {
            yaw += amplitude * (omega * t_s + phase).sin();
            yaw_rate += amplitude * omega * (omega * t_s + phase).cos();
        }
        Shaken {
            sensor_mps: (forward * s + starboard * c, forward * c - starboard * s),
            log_mps: LOG_NOISE_MPS * normal(rng) - (under[0] * s + under[1] * c),
            yaw_rad: yaw,
            yaw_rate_rad_s: yaw_rate,
        }
    }
}
