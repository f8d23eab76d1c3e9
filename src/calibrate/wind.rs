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
use super::stretch::{PIECE_S, Piece, Turns};
use crate::time::Millis;

/// Before anything is known: factor, and offset in radians. Invented.
const FACTOR: f64 = 0.25;
const OFFSET_RAD: f64 = 0.2;
const WIND_MPS: f64 = 20.0;
/// Gusts as a part of the wind, and after how long they have died away to 1/e. Common practice, no
/// source: 10 % over the sea.
const GUSTS: f64 = 0.10;
const GUST_S: f64 = 40.0;
/// How far the wind wanders in a second as a part of itself (variance): 8 % in ten minutes. Invented.
const WANDERS: f64 = 0.08 * 0.08 / 600.0;
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

/// Follows the wind instrument against one kind of way.
#[derive(Debug, Clone)]
pub(super) struct Wind {
    filter: Filter<6>,
    pub turns: Turns,
    pieces: u32,
    last: Option<Millis>,
}

/// Angle that is to be added, factor that is to multiply, each with its deviation.
#[derive(Debug, Clone, Copy)]
pub(super) struct WindErrors {
    pub angle_rad: f64,
    pub angle_sigma_rad: f64,
    pub factor: f64,
    pub factor_sigma: f64,
}

impl Default for Wind {
    fn default() -> Self {
        Self {
            filter: Filter::new(
                [1.0, 0.0, 0.0, 0.0, 0.0, 0.0],
                [FACTOR, OFFSET_RAD, WIND_MPS, WIND_MPS, 0.0, 0.0],
            ),
            turns: Turns::default(),
            pieces: 0,
            last: None,
        }
    }
}

impl Wind {
    /// Takes in a steady piece: where the wind came from, measured (east, north), the boat's way
    /// (east, north), and the heading.
    pub fn learn(
        &mut self,
        at: Millis,
        piece: &Piece,
        way: impl Fn(&super::stretch::Sample) -> Option<[f64; 2]>,
    ) {
        let means = piece.mean(|sample| {
            let wind = sample.wind?;
            let [east, north] = way(sample)?;
            let from = (sample.heading.true_rad + wind.angle_rad).sin_cos();
            let (sin, cos) = sample.heading.true_rad.sin_cos();
            let speed = wind.speed_mps;
            Some([speed * from.0, speed * from.1, east, north, sin, cos])
        });
        let Some([wind_e, wind_n, way_e, way_n, sin, cos]) = means else {
            return;
        };
        if way_e.hypot(way_n) < LEAST_SPEED_MPS {
            return;
        }
        let turned = self.turns.note(sin.atan2(cos).rem_euclid(std::f64::consts::TAU));
        let dt_s = self
            .last
            .map_or(PIECE_S, |last| at.seconds_since(last).max(0.0));
        self.last = Some(at);
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
        let judges = self.pieces > FIRST_PIECES && !turned;
        let variance = NOISE_MPS * NOISE_MPS;
        let row = [way_e, -way_n, 1.0, 0.0, 1.0, 0.0];
        self.filter.learn(&row, wind_e, variance, judges);
        let row = [way_n, way_e, 0.0, 1.0, 0.0, 1.0];
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
