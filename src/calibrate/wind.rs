//! Vane and cups against the boat's own way: the true wind does not know that the boat has turned.
//!
//! With `V` the boat's way, `T` the true wind over the same (water or ground), `w` and `a` what the
//! speed must be multiplied by and the angle turned by, the measured apparent wind (the way it comes
//! from, in compass axes) is
//!
//! ```text
//! measured = R(-a) (V - T) / w = (p V_e - q V_n, p V_n + q V_e) + T',   p = cos a / w,  q = sin a / w
//! ```
//!
//! It is linear in `p`, `q` and `T'`, the true wind as this instrument shows it. Gusts are in `T'`: a
//! part that dies away within a minute, and one that wanders for the whole day. So only what changes
//! when `V` does tells of `p` and `q`; the faster the boat, the wider and the more the turns, the more.
//!
//! `V` in the water (log along the heading) gives `a` whatever the log's factor and the compass's
//! offset; `V` over the ground gives `w` whatever the log and the current, and `a` plus the compass's
//! offset. Leeway is left out: it is about the same on both sides and then mostly shortens `p`.
//!
//! An offset here is whatever turns the wind by the same angle on every heading: the vane's seat, a
//! twisted mast, upwash of mast, tower or sails, heel. They cannot be told apart.

use super::filter::Filter;
use super::stretch::{Piece, Turns};
use crate::time::Millis;

/// Before anything is known: factor, and offset in radians. Invented.
const FACTOR: f64 = 0.25;
const OFFSET_RAD: f64 = 0.2;
const WIND_MPS: f64 = 20.0;
/// Gusts as a part of the wind, and after how long they have died away to 1/e. Common practice, no
/// source: 10 % over the sea.
const GUSTS: f64 = 0.10;
const GUST_S: f64 = 40.0;
/// How far the wind wanders in a second as a part of itself (variance): 15 % in ten minutes. Invented.
const WANDERS: f64 = 0.15 * 0.15 / 600.0;
/// What does not change does so by this in a second (variance): 1 degree, or 2 %, in six hours.
const DRIFTS: f64 = 1.4e-8;
/// Deviation of the mean of one piece: how the masthead moves, rounding.
const NOISE_MPS: f64 = 0.15;
/// A light wind wanders as this one does.
const LEAST_WIND_MPS: f64 = 2.0;
/// Pieces that do not judge the noise yet: the wind is still being found.
const FIRST_PIECES: u32 = 6;
/// A boat that slow does not change the wind.
const LEAST_SPEED_MPS: f64 = 0.7;

/// Deviation of the compass's curve before anything is known of it, 5 degrees.
const CURVE_RAD: f64 = 0.08;

/// What the boat's way is measured against.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Over {
    /// Log along the heading.
    Water,
    /// Satellites.
    Ground,
}

/// Follows the wind instrument against one kind of way.
#[derive(Debug, Clone)]
pub(super) struct Wind {
    over: Over,
    filter: Filter<8>,
    pub turns: Turns,
    pieces: u32,
    /// What has been taken over of the compass's sine and cosine: information, and value times it.
    taken: [[f64; 2]; 2],
}

/// Angle that is to be added, factor that is to multiply, each with its deviation.
#[derive(Debug, Clone, Copy)]
pub(super) struct WindErrors {
    pub angle_rad: f64,
    pub angle_sigma_rad: f64,
    pub factor: f64,
    pub factor_sigma: f64,
}

impl Wind {
    /// Nothing known.
    pub fn new(over: Over) -> Self {
        let first = 1.0 / (CURVE_RAD * CURVE_RAD);
        Self {
            over,
            filter: Filter::new(
                [1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0],
                [
                    FACTOR, OFFSET_RAD, WIND_MPS, WIND_MPS, 0.0, 0.0, CURVE_RAD, CURVE_RAD,
                ],
            ),
            turns: Turns::default(),
            pieces: 0,
            taken: [[first, 0.0]; 2],
        }
    }

    /// Takes over what log and satellites have told of the compass's curve since the last time: value
    /// and variance of its sine and of its cosine.
    fn hear_of_compass(&mut self, compass: [[f64; 2]; 2]) {
        for (i, ([value, variance], taken)) in compass.iter().zip(&mut self.taken).enumerate() {
            let now = [1.0 / variance, value / variance];
            let more = now[0] - taken[0];
            if more > 0.1 * taken[0] {
                let mut row = [0.0; 8];
                row[6 + i] = 1.0;
                let value = (now[1] - taken[1]) / more;
                self.filter.learn(&row, value, 1.0 / more, false);
                *taken = now;
            }
        }
    }

    /// Takes in a steady piece, and what is known of the compass's curve.
    pub fn learn(&mut self, at: Millis, piece: &Piece, compass: [[f64; 2]; 2]) {
        let over = self.over;
        let means = piece.mean(|sample| {
            let wind = sample.wind?;
            let from = (sample.heading.true_rad + wind.angle_rad).sin_cos();
            let (sin, cos) = sample.heading.true_rad.sin_cos();
            let [east, north] = match over {
                Over::Water => [sample.log_mps? * sin, sample.log_mps? * cos],
                Over::Ground => sample.ground_mps?,
            };
            let shown = sample.heading.shown_rad.sin_cos();
            let speed = wind.speed_mps;
            Some([
                speed * from.0,
                speed * from.1,
                east,
                north,
                sin,
                cos,
                shown.0,
                shown.1,
            ])
        });
        let Some([wind_e, wind_n, way_e, way_n, sin, cos, sin_shown, cos_shown]) = means else {
            return;
        };
        if way_e.hypot(way_n) < LEAST_SPEED_MPS {
            return;
        }
        let (turned, dt_s) = self.turns.note_piece(at, sin, cos);
        let [_, _, true_e, true_n, ..] = *self.filter.mean();
        let wind_mps = if self.pieces == 0 {
            wind_e.hypot(wind_n)
        } else {
            true_e.hypot(true_n)
        };
        let wind_mps = wind_mps.max(LEAST_WIND_MPS);
        let square = wind_mps * wind_mps;
        let left = (-dt_s / GUST_S).exp();
        for i in 0..2 {
            self.filter.may_change(i, DRIFTS * dt_s);
            self.filter.wanders(2 + i, WANDERS * square * dt_s);
            self.filter.fades(4 + i, left);
            let fresh = GUSTS * GUSTS * square * (1.0 - left * left);
            self.filter.wanders(4 + i, fresh);
        }
        self.pieces += 1;
        self.hear_of_compass(compass);
        let judges = self.pieces > FIRST_PIECES && !turned;
        let variance = NOISE_MPS * NOISE_MPS;
        // By how much a turn of the compass axes moves the measured wind, and the way by log with it.
        let [turned_e, turned_n] = match over {
            Over::Water => [way_n - wind_n, wind_e - way_e],
            Over::Ground => [-wind_n, wind_e],
        };
        let (b_e, c_e) = (sin_shown * turned_e, cos_shown * turned_e);
        let row = [way_e, -way_n, 1.0, 0.0, 1.0, 0.0, b_e, c_e];
        self.filter.learn(&row, wind_e, variance, judges);
        let (b_n, c_n) = (sin_shown * turned_n, cos_shown * turned_n);
        let row = [way_n, way_e, 0.0, 1.0, 0.0, 1.0, b_n, c_n];
        self.filter.learn(&row, wind_n, variance, judges);
    }

    /// What the instrument lacks.
    pub fn errors(&self) -> WindErrors {
        let [p, q, ..] = *self.filter.mean();
        let r2 = p * p + q * q;
        let c = |i, j| self.filter.covariance(i, j);
        let along = (p * p * c(0, 0) + 2.0 * p * q * c(0, 1) + q * q * c(1, 1)) / r2;
        let across = (q * q * c(0, 0) - 2.0 * p * q * c(0, 1) + p * p * c(1, 1)) / r2;
        let factor = 1.0 / r2.sqrt();
        WindErrors {
            angle_rad: q.atan2(p),
            angle_sigma_rad: (across.max(0.0) / r2).sqrt(),
            factor,
            factor_sigma: factor * factor * along.max(0.0).sqrt(),
        }
    }
}
