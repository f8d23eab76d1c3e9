//! Log and compass against the satellites: heading and log say how the boat goes through the water,
//! the receiver how she goes over the ground; between them is the current.
//!
//! With `h` the true heading that the compass gives, `s` the log, `W` and `a` the apparent wind, the
//! way over the ground along the bow and to starboard is
//!
//! ```text
//! along  = f s cos A                            + E sin h + N cos h
//! across = f s (sin A + B sin h' + C cos h') - m W sin a + E cos h - N sin h
//! ```
//!
//! `f` is the log's factor, `A`, `B`, `C` the compass's curve over the heading `h'` as it is sent, `E`
//! and `N` the current, `m` the leeway for each unit of wind across. It is linear in `f cos A`,
//! `f sin A`, `f B`, `f C`, `m`, `E` and `N`, which one Kalman filter follows.
//!
//! Assumed: the curve is flat (products of `A` with `B` and `C` are left out); the current changes
//! slowly; the log reads alike on all headings; leeway grows with the wind across. One heading tells
//! nothing: the current explains everything. Wind always from the same side leaves leeway and `A`
//! alike, and their uncertainty says so.

use super::filter::Filter;
use super::stretch::{Piece, Turns};
use crate::time::Millis;
use crate::vessel::CompassCurve;

/// A slower boat tells nothing.
const LEAST_SPEED_MPS: f64 = 0.7;
/// Before anything is known: factors of logs, offsets and curves of compasses. Invented.
const FACTOR: f64 = 0.25;
const OFFSET_RAD: f64 = 0.2;
const CURVE_RAD: f64 = 0.08;
/// Leeway: m/s across for each m/s of wind across. Common practice, no source: 0 to 0.05.
const LEEWAY: (f64, f64) = (0.015, 0.02);
const CURRENT_MPS: f64 = 1.0;
/// How far the current wanders in a second (variance): 0.15 m/s in ten minutes. Invented.
const CURRENT_WANDERS: f64 = 0.15 * 0.15 / 600.0;
/// What does not change does so by this in a second (variance): 1 degree, or 2 %, in six hours.
const DRIFTS: f64 = 1.4e-8;
/// Deviation of the mean of one piece: waves, and what receiver and log are off for seconds.
const NOISE_MPS: f64 = 0.12;
/// Pieces that do not judge the noise yet: the current is still being found.
const FIRST_PIECES: u32 = 6;

/// Follows log and compass.
#[derive(Debug, Clone)]
pub(super) struct Ground {
    filter: Filter<7>,
    pub turns: Turns,
    pieces: u32,
}

/// Factor of the log and its deviation.
#[derive(Debug, Clone, Copy)]
pub(super) struct LogFactor {
    pub factor: f64,
    pub sigma: f64,
}

/// Curve of the compass, and the covariance of its three numbers.
#[derive(Debug, Clone, Copy)]
pub(super) struct Deviation {
    pub curve: CompassCurve,
    pub covariance: [[f64; 3]; 3],
}

impl Default for Ground {
    fn default() -> Self {
        Self {
            filter: Filter::new(
                [1.0, 0.0, 0.0, 0.0, LEEWAY.0, 0.0, 0.0],
                [
                    FACTOR,
                    OFFSET_RAD,
                    CURVE_RAD,
                    CURVE_RAD,
                    LEEWAY.1,
                    CURRENT_MPS,
                    CURRENT_MPS,
                ],
            ),
            turns: Turns::default(),
            pieces: 0,
        }
    }
}

impl Ground {
    /// Takes in a steady piece of course.
    pub fn learn(&mut self, at: Millis, piece: &Piece) {
        let means = piece.mean(|sample| {
            let s = sample.log_mps?;
            let [east, north] = sample.ground_mps?;
            let (sin, cos) = sample.heading.true_rad.sin_cos();
            let (sin_shown, cos_shown) = sample.heading.shown_rad.sin_cos();
            let to_leeward = sample
                .wind
                .map_or(0.0, |wind| -wind.speed_mps * wind.angle_rad.sin());
            Some([
                east * sin + north * cos,
                east * cos - north * sin,
                s,
                s * sin_shown,
                s * cos_shown,
                to_leeward,
                sin,
                cos,
            ])
        });
        let Some([along, across, s, s_sin, s_cos, to_leeward, sin, cos]) = means else {
            return;
        };
        if s < LEAST_SPEED_MPS {
            return;
        }
        let (turned, dt_s) = self.turns.note_piece(at, sin, cos);
        for i in 0..5 {
            self.filter.may_change(i, DRIFTS * dt_s);
        }
        for i in 5..7 {
            self.filter.wanders(i, CURRENT_WANDERS * dt_s);
        }
        self.pieces += 1;
        let judges = self.pieces > FIRST_PIECES && !turned;
        let variance = NOISE_MPS * NOISE_MPS;
        let row = [s, 0.0, 0.0, 0.0, 0.0, sin, cos];
        self.filter.learn(&row, along, variance, judges);
        let row = [0.0, s, s_sin, s_cos, to_leeward, cos, -sin];
        self.filter.learn(&row, across, variance, judges);
    }

    /// Factor by which the log is to be multiplied.
    pub fn log(&self) -> LogFactor {
        let [c, d, ..] = *self.filter.mean();
        let factor = c.hypot(d);
        let p = |i, j| self.filter.covariance(i, j);
        let variance =
            (c * c * p(0, 0) + 2.0 * c * d * p(0, 1) + d * d * p(1, 1)) / (factor * factor);
        LogFactor {
            factor,
            sigma: variance.max(0.0).sqrt(),
        }
    }

    /// Value and variance of the curve's parts with the sine and with the cosine.
    pub fn curve(&self) -> [[f64; 2]; 2] {
        let found = self.compass();
        [
            [found.curve.sine_rad, found.covariance[1][1]],
            [found.curve.cosine_rad, found.covariance[2][2]],
        ]
    }

    /// Curve that is to be added to the compass.
    pub fn compass(&self) -> Deviation {
        let [c, d, b, k, ..] = *self.filter.mean();
        let r2 = c * c + d * d;
        // Each number of the curve by the first four of the filter.
        let by = [
            [-d / r2, c / r2, 0.0, 0.0],
            [-b / (c * c), 0.0, 1.0 / c, 0.0],
            [-k / (c * c), 0.0, 0.0, 1.0 / c],
        ];
        let mut covariance = [[0.0; 3]; 3];
        for (i, line) in covariance.iter_mut().enumerate() {
            for (j, value) in line.iter_mut().enumerate() {
                for (m, by_m) in by[i].iter().enumerate() {
                    for (n, by_n) in by[j].iter().enumerate() {
                        *value += by_m * by_n * self.filter.covariance(m, n);
                    }
                }
            }
        }
        Deviation {
            curve: CompassCurve {
                offset_rad: d.atan2(c),
                sine_rad: b / c,
                cosine_rad: k / c,
            },
            covariance,
        }
    }
}
