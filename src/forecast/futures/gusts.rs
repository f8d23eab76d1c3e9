//! How the wind may continue: one realisation of the gusts for each future.
//!
//! Gusts are a first-order autoregressive (Ornstein-Uhlenbeck) process in log speed and direction,
//! which relaxes from the present deviation to the mean of the last minute. Each future has its own
//! noise, fixed in absolute time, so that a forecast made a second later sees the same gusts a
//! second nearer. A slow drift of its own is added to each.

use crate::angles::wrap_signed;
use crate::forecast::air::ParticleAir;
use crate::forecast::draws::Draws;
use crate::rig::Wind;
use crate::time::Millis;
use crate::vessel::WindStatistics;

/// Step of the gusts.
pub const STEP_S: f64 = 2.0;
/// Noise kept for each future.
const NOISE: usize = 256;
/// Slow drift over 100 s, one standard deviation: speed (share) and direction. Own judgement.
const DRIFT_SPEED: f64 = 0.03;
const DRIFT_RAD: f64 = 0.06;
/// How much the wind varies.
#[derive(Debug, Clone, Copy)]
pub struct Variation<'a> {
    /// Spread of speed (share) and direction (radians) about the mean.
    pub spread: (f64, f64),
    /// What the sensor has shown over the last minutes; gives the time scale.
    pub statistics: Option<&'a WindStatistics>,
}

/// Gusts of one future.
#[derive(Debug, Clone)]
pub struct Gusts {
    speed: Vec<f64>,
    direction: Vec<f64>,
    drift_speed: f64,
    drift_rad: f64,
}

impl Gusts {
    /// Fixed by seed and slot.
    pub fn new(seed: u64, slot: usize, drift_speed_z: f64, drift_direction_z: f64) -> Self {
        let mut draws = Draws::new(seed, 1000 + slot as u64);
        let mut noise = || (0..NOISE).map(|_| draws.normal()).collect();
        Self {
            speed: noise(),
            direction: noise(),
            drift_speed: DRIFT_SPEED * drift_speed_z,
            drift_rad: DRIFT_RAD * drift_direction_z,
        }
    }

    /// No gusts, no drift: the wind relaxes to its mean.
    pub fn none() -> Self {
        Self {
            speed: vec![0.0],
            direction: vec![0.0],
            drift_speed: 0.0,
            drift_rad: 0.0,
        }
    }

    /// Wind every [`STEP_S`] from now to `horizon_s` and one step beyond.
    pub fn path(
        &self,
        at: Millis,
        air: &ParticleAir,
        variation: Variation<'_>,
        horizon_s: f64,
    ) -> Vec<Wind> {
        let gust_s = variation
            .statistics
            .map_or(8.0, |s| s.gust_time_s)
            .clamp(4.0, 30.0);
        let keep = |tau: f64| (-STEP_S / tau).exp();
        let (keep_speed, keep_direction) = (keep(gust_s), keep(2.5 * gust_s));
        let (sd_speed, sd_direction) = variation.spread;
        let mean_speed = air.mean.speed_10m_mps.max(0.1);
        let mut speed = (air.now.speed_10m_mps.max(0.05) / mean_speed).ln();
        let mut direction = wrap_signed(air.now.from_rad - air.mean.from_rad);
        let first = at.0.div_euclid((STEP_S * 1000.0) as i64);
        let steps = (horizon_s / STEP_S).ceil() as i64 + 1;
        (0..=steps)
            .map(|j| {
                let drift = j as f64 * STEP_S / 100.0;
                let wind = Wind {
                    speed_10m_mps: mean_speed * (speed + self.drift_speed * drift).exp(),
                    from_rad: air.mean.from_rad + direction + self.drift_rad * drift,
                    shear_exponent: air.mean.shear_exponent,
                };
                let i = (first + j + 1).rem_euclid(self.speed.len() as i64) as usize;
                let fresh = |keep: f64| (1.0 - keep * keep).sqrt();
                speed = keep_speed * speed + fresh(keep_speed) * sd_speed * self.speed[i];
                direction = keep_direction * direction
                    + fresh(keep_direction) * sd_direction * self.direction[i];
                wind
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const VARIATION: Variation<'static> = Variation {
        spread: (0.08, 0.06),
        statistics: None,
    };

    const CALM: ParticleAir = ParticleAir {
        now: Wind {
            speed_10m_mps: 8.0,
            from_rad: 1.0,
            shear_exponent: 0.11,
        },
        mean: Wind {
            speed_10m_mps: 8.0,
            from_rad: 1.0,
            shear_exponent: 0.11,
        },
    };

    #[test]
    fn gusts_have_the_spread_that_was_asked_for() {
        let (mut n, mut sum, mut square) = (0.0, 0.0, 0.0);
        for slot in 0..200 {
            let path = Gusts::new(7, slot, 0.0, 0.0).path(Millis(0), &CALM, VARIATION, 120.0);
            for wind in &path[30..] {
                let x = (wind.speed_10m_mps / 8.0).ln();
                n += 1.0;
                sum += x;
                square += x * x;
            }
        }
        let sd = (square / n - (sum / n).powi(2)).sqrt();
        assert!((sd - 0.08).abs() < 0.006, "{sd}");
        assert!((sum / n).abs() < 0.006);
    }

    #[test]
    fn a_forecast_made_later_sees_the_same_gusts_nearer() {
        let gusts = Gusts::new(7, 5, 0.0, 0.0);
        let early = gusts.path(Millis(0), &CALM, VARIATION, 120.0);
        let at_10 = ParticleAir {
            now: early[5],
            mean: CALM.mean,
        };
        let late = gusts.path(Millis(10_000), &at_10, VARIATION, 60.0);
        for (a, b) in early[5..].iter().zip(&late) {
            assert!((a.speed_10m_mps - b.speed_10m_mps).abs() < 1e-9);
        }
    }
}
