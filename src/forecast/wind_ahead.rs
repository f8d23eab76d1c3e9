//! The wind ahead by itself: as the futures draw it, but at the sensor and without any doubt about
//! it, so that it can be compared with what the sensor then shows.

use super::air::{AirMemory, SensorError};
use super::draws::Draws;
use super::futures::{Gusts, STEP_S};
use crate::time::Millis;
use crate::vessel::{TrueWind, VesselNow};

/// Follows the wind and draws how it may continue.
#[derive(Debug, Clone)]
pub struct WindAhead {
    air: AirMemory,
    gusts: Vec<Gusts>,
}

impl WindAhead {
    /// With so many futures.
    #[must_use]
    pub fn new(futures: usize, seed: u64) -> Self {
        let restless = Draws::new(seed, 0).stratified_normal(futures);
        Self {
            air: AirMemory::default(),
            gusts: restless
                .into_iter()
                .enumerate()
                .map(|(slot, z)| Gusts::new(seed, slot, z))
                .collect(),
        }
    }

    /// Takes in the present wind; call it about once a second.
    pub fn follow(&mut self, vessel: &VesselNow) {
        self.air.follow(vessel);
    }

    /// The wind of every future after each of these seconds; empty before any wind was seen.
    #[must_use]
    pub fn drawn(&self, at: Millis, ahead_s: &[f64]) -> Vec<Vec<TrueWind>> {
        let none = SensorError {
            angle_rad: 0.0,
            speed: 0.0,
            exponent: 0.0,
        };
        let (Some(air), Some(onward)) = (
            self.air.of_particle(&none, 0.0, 0.0, 10.0),
            self.air.onward(),
        ) else {
            return Vec::new();
        };
        let longest_s = ahead_s.iter().copied().fold(0.0, f64::max);
        self.gusts
            .iter()
            .map(|gusts| {
                let path = gusts.path(at, &air, onward, longest_s);
                let step = |t_s: &f64| path.get((t_s / STEP_S).round() as usize);
                ahead_s
                    .iter()
                    .filter_map(step)
                    .map(|wind| TrueWind {
                        from_rad: wind.from_rad,
                        speed_mps: wind.speed_10m_mps,
                    })
                    .collect()
            })
            .collect()
    }
}
