//! Rate of turn against the compass: what the gyro adds up to over a piece of course, straight or not,
//! less what the heading has changed.
//!
//! ```text
//! sum of rate - change of h = -b T + B (sin h2 - sin h1) + C (cos h2 - cos h1) + k (h2 - h1) + l (r2 - r1)
//! ```
//!
//! `b` is to be added to the rate. Nuisances: the compass's curve `B`, `C`, the gyro's scale `k`, the
//! time `l` by which the compass is late.

use super::filter::Filter;
use super::stretch::Piece;

/// Before anything is known: 1 degree a second; 5 degrees; 3 %; a second.
const DEVIATION: [f64; 5] = [0.017, 0.08, 0.08, 0.03, 1.0];
/// Deviation of the difference of two headings, 1.5 degrees: waves, rounding.
const NOISE_RAD: f64 = 0.026;
/// What does not change does so by this in a second (variance): 0.05 degrees a second in an hour.
const DRIFTS: f64 = 2e-10;
const FIRST_PIECES: u32 = 6;

/// Follows a rate-of-turn sensor.
#[derive(Debug, Clone)]
pub(super) struct Rate {
    filter: Filter<5>,
    pieces: u32,
}

impl Default for Rate {
    fn default() -> Self {
        Self {
            filter: Filter::new([0.0; 5], DEVIATION),
            pieces: 0,
        }
    }
}

impl Rate {
    /// Takes in a piece of course.
    pub fn learn(&mut self, piece: &Piece) {
        let (Some(first), Some(last)) = (piece.samples.first(), piece.samples.last()) else {
            return;
        };
        let mut sum_rad = 0.0;
        for pair in piece.samples.windows(2) {
            let (Some(before), Some(after)) = (pair[0].rate_rad_s, pair[1].rate_rad_s) else {
                return;
            };
            sum_rad += 0.5 * (before + after) * pair[1].at.seconds_since(pair[0].at);
        }
        let turned_rad = piece.turned_rad();
        let (sin1, cos1) = first.heading.shown_rad.sin_cos();
        let (sin2, cos2) = last.heading.shown_rad.sin_cos();
        let later = last
            .rate_rad_s
            .zip(first.rate_rad_s)
            .map_or(0.0, |(b, a)| b - a);
        let length_s = piece.length_s();
        self.filter.may_change(0, DRIFTS * length_s);
        self.pieces += 1;
        let row = [-length_s, sin2 - sin1, cos2 - cos1, turned_rad, later];
        let judges = self.pieces > FIRST_PIECES;
        let off_rad = sum_rad - turned_rad;
        self.filter
            .learn(&row, off_rad, NOISE_RAD * NOISE_RAD, judges);
    }

    /// What is to be added to the rate, and its deviation.
    pub fn bias(&self) -> (f64, f64) {
        (
            self.filter.mean()[0],
            self.filter.covariance(0, 0).max(0.0).sqrt(),
        )
    }
}
