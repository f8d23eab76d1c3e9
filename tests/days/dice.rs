//! What the makers of invented days share: draws, the rig that is believed, the one that hangs.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use skimwatch::rig::RigParameters;

/// Settings of the crew.
pub const BELIEVED: &str = include_str!("../../config/demo.toml");

/// Draws that are the same on every machine.
#[derive(Debug, Clone)]
pub struct Dice(ChaCha8Rng);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    /// Normal (Box and Muller, 1958), cut at two standard deviations.
    pub fn about(&mut self, mean: f64, sd: f64) -> f64 {
        let u: f64 = 1.0 - self.0.random::<f64>();
        let v: f64 = self.0.random();
        let z = (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos();
        mean + sd * z.clamp(-2.0, 2.0)
    }

    pub fn one_of<T: Copy>(&mut self, list: &[T]) -> T {
        list[self.0.random_range(0..list.len())]
    }
}

/// What truly hangs there.
pub fn true_rig(believed: &RigParameters, dice: &mut Dice) -> RigParameters {
    let mut rig = believed.clone();
    rig.kite.cl *= dice.between(0.8, 1.2);
    rig.kite.cd *= dice.between(0.8, 1.2);
    rig.bait.wet_drag_area_m2 *= dice.between(0.7, 1.3);
    rig.main_line.diameter_m *= dice.between(0.9, 1.1);
    rig.kite_line.diameter_m *= dice.between(0.9, 1.1);
    rig.marker.diameter_m *= dice.between(0.9, 1.1);
    rig
}
