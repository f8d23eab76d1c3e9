//! How the wind may continue: one realisation of the gusts for each future.
//!
//! Log speed and direction each go on with noise of their own (`noise.rs`). A future has restless
//! or quiet air, by a factor on all its noise: changes of wind have longer tails than a normal
//! distribution.

use super::noise::{Noise, STEP_S};
use crate::forecast::air::{ParticleAir, WindOnward};
use crate::forecast::draws::Draws;
use crate::forecast::scales::settled;
use crate::rig::Wind;
use crate::time::Millis;

/// Standard deviation of the logarithm of the factor on the noise. With it the kurtosis is 6, as
/// that of the changes of recorded wind over 10 to 60 s (3 to 8).
const RESTLESS: f64 = 0.416;
/// Bounds of the logarithm of wind speed against the present one without gusts.
const LOG_BOUNDS: (f64, f64) = (-2.0, 1.0);

/// Gusts of one future.
#[derive(Debug, Clone)]
pub struct Gusts {
    speed: Noise,
    direction: Noise,
}

impl Gusts {
    /// Fixed by seed and slot; `restless_z` says how restless its air is.
    pub fn new(seed: u64, slot: usize, restless_z: f64) -> Self {
        let mut draws = Draws::new(seed, 1000 + slot as u64);
        // Its mean is 1, so that the variance grows by exp(RESTLESS^2): the variances are learnt
        // with jumps cut.
        let factor = (RESTLESS * restless_z - 0.5 * RESTLESS * RESTLESS).exp();
        Self {
            speed: Noise::new(&mut draws, factor),
            direction: Noise::new(&mut draws, factor),
        }
    }

    /// No gusts, no drift: the wind relaxes to its mean.
    pub fn none() -> Self {
        Self {
            speed: Noise::none(),
            direction: Noise::none(),
        }
    }

    /// Wind every [`STEP_S`] from now to `horizon_s` and one step beyond.
    pub fn path(
        &self,
        at: Millis,
        air: &ParticleAir,
        onward: WindOnward,
        horizon_s: f64,
    ) -> Vec<Wind> {
        let first = at.0.div_euclid((STEP_S * 1000.0) as i64);
        let steps = (horizon_s / STEP_S).ceil() as usize + 2;
        let (speed_base, direction_base) = (
            settled(&onward.speed.parts),
            settled(&onward.direction.parts),
        );
        let speed = self.speed.path(&onward.speed, first);
        let direction = self.direction.path(&onward.direction, first);
        speed
            .zip(direction)
            .take(steps)
            .map(|(speed, direction)| Wind {
                speed_10m_mps: air.mean.speed_10m_mps
                    * (speed - speed_base).clamp(LOG_BOUNDS.0, LOG_BOUNDS.1).exp(),
                from_rad: air.mean.from_rad + direction - direction_base,
                shear_exponent: air.mean.shear_exponent,
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::forecast::scales::{Onward, PARTS};

    const WIND: Wind = Wind {
        speed_10m_mps: 8.0,
        from_rad: 1.0,
        shear_exponent: 0.11,
    };

    const CALM: ParticleAir = ParticleAir {
        now: WIND,
        mean: WIND,
    };

    /// A quantity whose present parts are known.
    fn onward(parts: [f64; PARTS]) -> Onward {
        Onward {
            tau_s: [6.0, 30.0, 150.0],
            parts,
            root: [[0.0; PARTS]; PARTS],
            variance: [0.06 * 0.06, 0.04 * 0.04, 0.05 * 0.05],
            walk: 1e-5,
        }
    }

    fn both(parts: [f64; PARTS]) -> WindOnward {
        WindOnward {
            speed: onward(parts),
            direction: onward(parts),
        }
    }

    #[test]
    fn gusts_spread_as_their_variances_say() {
        for t_s in [10.0, 60.0, 120.0] {
            let count = 4000;
            let log = |slot| {
                let z = Draws::new(9, slot as u64).normal();
                let path = Gusts::new(7, slot, z).path(Millis(0), &CALM, both([0.0; 4]), 120.0);
                (path[(t_s / STEP_S) as usize].speed_10m_mps / 8.0).ln()
            };
            let square = (0..count).map(|slot| f64::powi(log(slot), 2)).sum::<f64>();
            let found = square / count as f64;
            let of = onward([0.0; 4]);
            let parts = of.variance.iter().zip(of.tau_s);
            let normal = of.walk * t_s
                + parts
                    .map(|(v, tau)| v * (1.0 - f64::exp(-2.0 * t_s / tau)))
                    .sum::<f64>();
            let expected = f64::exp(RESTLESS * RESTLESS) * normal;
            // Four standard errors at a kurtosis of 6.
            let allowed = 4.0 * (5.0 / count as f64).sqrt();
            assert!(
                (found / expected - 1.0).abs() < allowed,
                "{t_s} s: {found} {expected}"
            );
        }
    }

    #[test]
    fn a_forecast_made_later_sees_the_same_gusts_nearer() {
        let gusts = Gusts::new(7, 5, 0.4);
        let of = onward([0.1, -0.05, 0.02, 0.0]);
        // Ten seconds later, with the parts that this future has then.
        let mut later = of;
        for step in 1..=5 {
            for i in 0..PARTS {
                let noise = gusts.speed.steps[step][i];
                later.parts[i] = match of.tau_s.get(i) {
                    Some(tau) => {
                        let keep = f64::exp(-STEP_S / tau);
                        let fresh = ((1.0 - keep * keep) * of.variance[i]).sqrt();
                        keep * later.parts[i] + fresh * noise
                    }
                    None => later.parts[i] + (of.walk * STEP_S).sqrt() * noise,
                };
            }
        }
        let early: Vec<f64> = gusts.speed.path(&of, 0).take(60).collect();
        let late: Vec<f64> = gusts.speed.path(&later, 5).take(55).collect();
        for (a, b) in early[5..].iter().zip(&late) {
            assert!((a - b).abs() < 1e-9);
        }
    }

    #[test]
    fn without_gusts_the_wind_relaxes_to_its_mean() {
        let path = Gusts::none().path(Millis(0), &CALM, both([0.2, 0.0, 0.1, 3.0]), 120.0);
        assert!((path[0].speed_10m_mps / 8.0).ln() - 0.2 < 1e-9);
        let log = |i: usize| (path[i].speed_10m_mps / 8.0).ln();
        // The slowest part counts as the mean and fades in its own time.
        assert!((log(60) - 0.1 * (f64::exp(-120.0 / 150.0) - 1.0)).abs() < 1e-6);
    }
}
