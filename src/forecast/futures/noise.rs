//! Noise of one quantity in one future, and the path that it makes of it.
//!
//! Every part of the quantity (`scales.rs`) starts from a draw of what is known of it now and goes on
//! with noise of its own. The noise is fixed in absolute time, so that a forecast made a second
//! later sees the same path a second nearer.

use crate::forecast::draws::Draws;
use crate::forecast::scales::{Onward, PARTS, SCALES};

/// Step of the paths.
pub const STEP_S: f64 = 2.0;
/// Steps of noise kept; more than the longest horizon has.
const STEPS: usize = 256;

/// Noise of one quantity.
#[derive(Debug, Clone)]
pub struct Noise {
    /// For the present parts.
    start: [f64; PARTS],
    /// For each step.
    pub steps: Vec<[f64; PARTS]>,
}

impl Noise {
    /// Normal numbers times a factor.
    pub fn new(draws: &mut Draws, factor: f64) -> Self {
        let mut four = || std::array::from_fn(|_| factor * draws.normal());
        Self {
            start: four(),
            steps: (0..STEPS).map(|_| four()).collect(),
        }
    }

    /// None: the quantity relaxes to its level.
    pub fn none() -> Self {
        Self {
            start: [0.0; PARTS],
            steps: vec![[0.0; PARTS]],
        }
    }

    /// The quantity at each step from the absolute step `first` on.
    pub fn path<'a>(&'a self, onward: &Onward, first: i64) -> impl Iterator<Item = f64> + 'a {
        let mut parts = onward.parts;
        for (part, row) in parts.iter_mut().zip(&onward.root) {
            *part += row.iter().zip(&self.start).map(|(a, z)| a * z).sum::<f64>();
        }
        let mut keep = [1.0; PARTS];
        let mut fresh = [(onward.walk * STEP_S).sqrt(); PARTS];
        for i in 0..SCALES {
            keep[i] = (-STEP_S / onward.tau_s[i]).exp();
            fresh[i] = ((1.0 - keep[i] * keep[i]) * onward.variance[i]).sqrt();
        }
        (first + 1..).map(move |step| {
            let now = parts.iter().sum();
            let noise = &self.steps[step.rem_euclid(self.steps.len() as i64) as usize];
            for i in 0..PARTS {
                parts[i] = keep[i] * parts[i] + fresh[i] * noise[i];
            }
            now
        })
    }
}
