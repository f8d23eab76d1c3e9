//! Reproducible draws, the same on every machine and in every run: stratified sampling with a fixed
//! seed, so that a small ensemble covers a distribution evenly.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A seeded stream of uniform and normal numbers.
#[derive(Debug, Clone)]
pub(super) struct Draws {
    rng: ChaCha8Rng,
}

impl Draws {
    /// One stream of one seed.
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(stream);
        Self { rng }
    }

    /// Uniform in 0..1, never at the ends.
    pub fn uniform(&mut self) -> f64 {
        ((self.rng.next_u64() >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    /// Normal, mean 0, variance 1.
    pub fn normal(&mut self) -> f64 {
        normal_quantile(self.uniform())
    }

    /// One uniform number in each of `n` equal parts of 0..1, in shuffled order.
    pub fn stratified(&mut self, n: usize) -> Vec<f64> {
        let mut values: Vec<f64> = (0..n)
            .map(|i| (i as f64 + self.uniform()) / n as f64)
            .collect();
        for i in (1..n).rev() {
            let j = ((i + 1) as f64 * self.uniform()) as usize;
            values.swap(i, j.min(i));
        }
        values
    }

    /// The same as normal numbers.
    pub fn stratified_normal(&mut self, n: usize) -> Vec<f64> {
        self.stratified(n)
            .into_iter()
            .map(normal_quantile)
            .collect()
    }
}

/// Systematic resampling: indices drawn in proportion to weights with a single uniform number.
pub(super) fn systematic(weights: &[f64], count: usize, u: f64) -> Vec<usize> {
    let total: f64 = weights.iter().sum();
    let mut picked = Vec::with_capacity(count);
    let (mut i, mut reached) = (0, weights.first().copied().unwrap_or(0.0));
    for k in 0..count {
        let wanted = (k as f64 + u) / count as f64 * total;
        while reached < wanted && i + 1 < weights.len() {
            i += 1;
            reached += weights[i];
        }
        picked.push(i);
    }
    picked
}

/// Quantile of the normal distribution: P. J. Acklam's rational approximation, relative error
/// below 1.2e-9 (coefficients from memory; checked against printed quantiles below).
#[expect(
    clippy::excessive_precision,
    reason = "coefficients as they are published"
)]
pub(super) fn normal_quantile(p: f64) -> f64 {
    const A: [f64; 6] = [
        -3.969683028665376e1,
        2.209460984245205e2,
        -2.759285104469687e2,
        1.383577518672690e2,
        -3.066479806614716e1,
        2.506628277459239,
    ];
    const B: [f64; 5] = [
        -5.447609879822406e1,
        1.615858368580409e2,
        -1.556989798598866e2,
        6.680131188771972e1,
        -1.328068155288572e1,
    ];
    const C: [f64; 6] = [
        -7.784894002430293e-3,
        -3.223964580411365e-1,
        -2.400758277161838,
        -2.549732539343734,
        4.374664141464968,
        2.938163982698783,
    ];
    const D: [f64; 4] = [
        7.784695709041462e-3,
        3.224671290700398e-1,
        2.445134137142996,
        3.754408661907416,
    ];
    let horner = |c: &[f64], x: f64| c.iter().fold(0.0, |sum, k| sum * x + k);
    let p = p.clamp(1e-12, 1.0 - 1e-12);
    let low = 0.02425;
    if p < low {
        let q = (-2.0 * p.ln()).sqrt();
        horner(&C, q) / (horner(&D, q) * q + 1.0)
    } else if p > 1.0 - low {
        let q = (-2.0 * (1.0 - p).ln()).sqrt();
        -horner(&C, q) / (horner(&D, q) * q + 1.0)
    } else {
        let q = p - 0.5;
        let r = q * q;
        horner(&A, r) * q / (horner(&B, r) * r + 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn normal_quantiles_match_printed_tables() {
        // NIST/SEMATECH e-Handbook 1.3.6.7.1, standard normal table (from memory): 0.8413 at 1,
        // 0.975 at 1.959964, 0.995 at 2.575829, 0.999 at 3.090232.
        for (p, z) in [
            (0.5, 0.0),
            (0.841_344_746, 1.0),
            (0.975, 1.959_964),
            (0.995, 2.575_829),
            (0.999, 3.090_232),
            (0.001, -3.090_232),
        ] {
            assert!((normal_quantile(p) - z).abs() < 1e-6, "{p}");
        }
    }

    #[test]
    fn strata_hold_one_draw_each_and_repeat() {
        let mut a = Draws::new(7, 3).stratified(50);
        assert_eq!(a, Draws::new(7, 3).stratified(50));
        assert_ne!(a, Draws::new(7, 4).stratified(50));
        a.sort_by(f64::total_cmp);
        for (i, u) in a.iter().enumerate() {
            assert_eq!((u * 50.0) as usize, i);
        }
    }

    #[test]
    fn systematic_picks_follow_the_weights() {
        let picked = systematic(&[0.1, 0.0, 0.7, 0.2], 10, 0.5);
        let count = |i| picked.iter().filter(|p| **p == i).count();
        assert_eq!((count(0), count(1), count(2), count(3)), (1, 0, 7, 2));
    }
}
