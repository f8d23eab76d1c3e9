//! A linear Kalman filter of a few numbers, whose noise is learnt from what it did not foresee.
//!
//! The equations are those of any textbook (R. E. Kalman, "A New Approach to Linear Filtering and
//! Prediction Problems", J. Basic Eng. 82, 1960, 35-45); each measurement is one number.

/// How quickly the noise is learnt: about the inverse of the number of measurements that it is a mean
/// over. Invented.
const LEARNS: f64 = 0.03;
/// The noise is never taken as less or more than this many times what was assumed (variance).
const LEAST_NOISE: f64 = 0.35;
const MOST_NOISE: f64 = 40.0;
/// A measurement this many deviations off weighs less, so that one wild value does little harm.
const WILD: f64 = 3.0;

/// Numbers with their covariance.
#[derive(Debug, Clone)]
pub(super) struct Filter<const N: usize> {
    mean: [f64; N],
    covariance: [[f64; N]; N],
    noise: f64,
}

impl<const N: usize> Filter<N> {
    /// Independent numbers with these means and standard deviations.
    pub fn new(mean: [f64; N], deviation: [f64; N]) -> Self {
        let mut covariance = [[0.0; N]; N];
        for (i, deviation) in deviation.iter().enumerate() {
            covariance[i][i] = deviation * deviation;
        }
        Self {
            mean,
            covariance,
            noise: 1.0,
        }
    }

    pub fn mean(&self) -> &[f64; N] {
        &self.mean
    }

    pub fn covariance(&self, i: usize, j: usize) -> f64 {
        self.covariance[i][j]
    }

    /// Number `i` may have changed by so much (variance).
    pub fn may_change(&mut self, i: usize, variance: f64) {
        self.covariance[i][i] += variance;
    }

    /// Number `i` may have changed by so much (variance), times the noise that was learnt.
    pub fn wanders(&mut self, i: usize, variance: f64) {
        self.may_change(i, variance * self.noise);
    }

    /// Number `i` has gone back to zero by this factor.
    pub fn fades(&mut self, i: usize, factor: f64) {
        self.mean[i] *= factor;
        for j in 0..N {
            self.covariance[i][j] *= factor;
            self.covariance[j][i] *= factor;
        }
    }

    /// Takes in that `row * numbers` was measured as `value` with this variance. `judges` says
    /// whether it also teaches how noisy measurements are.
    pub fn learn(&mut self, row: &[f64; N], value: f64, variance: f64, judges: bool) {
        let mut to_row = [0.0; N];
        for (to, line) in to_row.iter_mut().zip(&self.covariance) {
            *to = line.iter().zip(row).map(|(a, b)| a * b).sum();
        }
        let known: f64 = to_row.iter().zip(row).map(|(a, b)| a * b).sum();
        let foreseen: f64 = self.mean.iter().zip(row).map(|(a, b)| a * b).sum();
        let off = value - foreseen;
        let expected = known + variance * self.noise;
        if !(off.is_finite() && expected > 0.0) {
            return;
        }
        let square = off * off / expected;
        if judges {
            let step = LEARNS * (square.min(WILD * WILD) - 1.0);
            self.noise = (self.noise * step.exp()).clamp(LEAST_NOISE, MOST_NOISE);
        }
        let spread = expected * (square / (WILD * WILD)).max(1.0);
        for i in 0..N {
            self.mean[i] += to_row[i] / spread * off;
            for j in 0..N {
                self.covariance[i][j] -= to_row[i] * to_row[j] / spread;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mean_is_found_with_the_deviation_of_a_mean() {
        let mut filter = Filter::new([0.0], [100.0]);
        for i in 0..400 {
            let noise = if i % 2 == 0 { 1.0 } else { -1.0 };
            filter.learn(&[1.0], 5.0 + noise, 1.0, false);
        }
        assert!((filter.mean()[0] - 5.0).abs() < 0.01);
        // sigma / sqrt(n), from the definition.
        assert!((filter.covariance(0, 0).sqrt() - 1.0 / 20.0).abs() < 1e-3);
    }

    #[test]
    fn noise_that_was_underrated_is_learnt() {
        let mut filter = Filter::new([0.0], [100.0]);
        for i in 0..400 {
            let noise = if i % 2 == 0 { 3.0 } else { -3.0 };
            filter.learn(&[1.0], noise, 1.0, i > 5);
        }
        assert!((filter.noise.sqrt() - 3.0).abs() < 0.3, "{}", filter.noise);
        let wild = filter.mean()[0];
        filter.learn(&[1.0], 1e6, 1.0, true);
        assert!((filter.mean()[0] - wild).abs() < 0.1);
    }
}
