//! Noise of the scene.

use std::f64::consts::TAU;

use rand::RngExt as _;
use rand_chacha::ChaCha8Rng;

/// Standard normal variate (Box and Muller, 1958).
pub(super) fn normal(rng: &mut ChaCha8Rng) -> f64 {
    let u: f64 = 1.0 - rng.random::<f64>();
    let v: f64 = rng.random();
    (-2.0 * u.ln()).sqrt() * (TAU * v).cos()
}
