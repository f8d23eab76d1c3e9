//! What the true wind did over the last minutes.
//!
//! The record is kept in bins of one second, so that gaps, bursts and sensors of any rate weigh
//! alike. Directions use circular statistics (K. V. Mardia and P. E. Jupp, Directional Statistics,
//! 2000; formulas from memory): mean = direction of the mean unit vector of length R, standard
//! deviation = sqrt(-2 ln R). The gust is the highest 3 s mean, as the World Meteorological
//! Organization counts it (WMO/TD-No. 1555 gives factors for that length). The gust time is the
//! decay time of the autocorrelation of speed, read from the slope of its logarithm so that sensor
//! noise, which only lowers all lags alike, does not shorten it.

use std::collections::VecDeque;

use super::now::{TrueWind, WindStatistics};
use crate::angles::{wrap_positive, wrap_signed};
use crate::time::Millis;

const GUST_S: i64 = 3;
const SHIFT_S: i64 = 60;
const LEAST_BINS: usize = 10;
const LEAST_SPAN_S: i64 = 30;
/// A record whose newest bin is older than this says nothing of the present wind.
const OLDEST_END_S: i64 = 60;
/// Autocorrelations below this are noise.
const LEAST_CORRELATION: f64 = 0.2;
/// Bounds of the gust time: the width of a bin, and this share of the record.
const LEAST_GUST_TIME_S: f64 = 1.0;
const LONGEST_GUST_SHARE: f64 = 0.25;

#[derive(Debug, Clone, Copy)]
struct Bin {
    second: i64,
    count: f64,
    speed_sum: f64,
    east_sum: f64,
    north_sum: f64,
}

impl Bin {
    fn speed(&self) -> f64 {
        self.speed_sum / self.count
    }
}

/// The last minutes of true wind.
#[derive(Debug, Clone)]
pub(super) struct WindRecord {
    window_s: i64,
    bins: VecDeque<Bin>,
}

impl WindRecord {
    pub fn new(window_s: f64) -> Self {
        Self {
            window_s: window_s.round() as i64,
            bins: VecDeque::new(),
        }
    }

    /// Takes a wind in.
    pub fn push(&mut self, at: Millis, wind: TrueWind) {
        let second = at.0.div_euclid(1000);
        let (east, north) = wind.from_rad.sin_cos();
        match self.bins.back_mut() {
            Some(bin) if bin.second == second => {
                bin.count += 1.0;
                bin.speed_sum += wind.speed_mps;
                bin.east_sum += east;
                bin.north_sum += north;
            }
            _ => self.bins.push_back(Bin {
                second,
                count: 1.0,
                speed_sum: wind.speed_mps,
                east_sum: east,
                north_sum: north,
            }),
        }
        while self
            .bins
            .front()
            .is_some_and(|b| b.second <= second - self.window_s)
        {
            self.bins.pop_front();
        }
    }

    /// Statistics of what lies within the window before `now`; `None` when that is too little.
    pub fn statistics(&self, now: Millis) -> Option<WindStatistics> {
        let second = now.0.div_euclid(1000);
        let bins: Vec<Bin> = self
            .bins
            .iter()
            .filter(|b| b.second > second - self.window_s)
            .copied()
            .collect();
        let (first, last) = (bins.first()?.second, bins.last()?.second);
        let span = last - first + 1;
        if bins.len() < LEAST_BINS || span < LEAST_SPAN_S || second - last > OLDEST_END_S {
            return None;
        }
        let n = bins.len() as f64;
        let mean_mps = bins.iter().map(Bin::speed).sum::<f64>() / n;
        let variance = bins
            .iter()
            .map(|b| (b.speed() - mean_mps).powi(2))
            .sum::<f64>()
            / (n - 1.0);
        let (mean_from_rad, resultant) = mean_direction(&bins);
        let (lately_from_rad, _) = mean_direction(
            &bins[bins
                .iter()
                .position(|b| b.second > last - SHIFT_S)
                .unwrap_or(0)..],
        );
        let window_s = span as f64;
        Some(WindStatistics {
            window_s,
            mean_mps,
            mean_from_rad,
            speed_sd_mps: variance.sqrt(),
            // Never infinite: a wind from everywhere has R of rounding size.
            direction_sd_rad: (-2.0 * resultant.clamp(1e-9, 1.0).ln()).sqrt(),
            gust_mps: gust(&bins),
            shift_rad: wrap_signed(lately_from_rad - mean_from_rad),
            gust_time_s: gust_time(&bins, mean_mps).clamp(
                LEAST_GUST_TIME_S,
                (window_s * LONGEST_GUST_SHARE).max(LEAST_GUST_TIME_S),
            ),
        })
    }
}

/// Direction and length of the mean unit vector.
fn mean_direction(bins: &[Bin]) -> (f64, f64) {
    let (east, north) = bins.iter().fold((0.0, 0.0), |(e, n), b| {
        (e + b.east_sum / b.count, n + b.north_sum / b.count)
    });
    (
        wrap_positive(east.atan2(north)),
        east.hypot(north) / bins.len() as f64,
    )
}

/// Highest mean over three seconds of which at least two were heard; the highest bin when the
/// sensor is too slow for that.
fn gust(bins: &[Bin]) -> f64 {
    let windowed = (0..bins.len())
        .filter_map(|start| {
            let until = bins[start].second + GUST_S;
            let (sum, count) = bins[start..]
                .iter()
                .take_while(|b| b.second < until)
                .fold((0.0, 0), |(sum, count), b| (sum + b.speed(), count + 1));
            (count >= 2).then(|| sum / f64::from(count))
        })
        .fold(f64::NEG_INFINITY, f64::max);
    if windowed.is_finite() {
        windowed
    } else {
        bins.iter().map(Bin::speed).fold(0.0, f64::max)
    }
}

/// Decay time of the autocorrelation, seconds; 0 when there is none to read.
fn gust_time(bins: &[Bin], mean_mps: f64) -> f64 {
    let (Some(first), Some(last)) = (bins.first(), bins.last()) else {
        return 0.0;
    };
    let span = (last.second - first.second + 1) as usize;
    let mut departures = vec![f64::NAN; span];
    for bin in bins {
        departures[(bin.second - first.second) as usize] = bin.speed() - mean_mps;
    }
    let covariance = |lag: usize| {
        let (sum, pairs) = departures
            .iter()
            .zip(&departures[lag..])
            .map(|(a, b)| a * b)
            .filter(|product| product.is_finite())
            .fold((0.0, 0usize), |(sum, n), product| (sum + product, n + 1));
        (pairs >= LEAST_BINS).then(|| sum / pairs as f64)
    };
    let Some(variance) = covariance(0).filter(|v| *v > 1e-9) else {
        return 0.0;
    };
    // Lags that no pair of bins has (a sensor slower than 1 Hz) are passed over.
    let lags: Vec<(f64, f64)> = (1..span / 3)
        .filter_map(|lag| Some((lag as f64, covariance(lag)? / variance)))
        .take_while(|(_, r)| *r > LEAST_CORRELATION)
        .map(|(lag, r)| (lag, r.ln()))
        .collect();
    match lags.as_slice() {
        [] => 0.0,
        [(lag, ln_r)] => -lag / ln_r.min(-1e-9),
        _ => {
            let n = lags.len() as f64;
            let mean_x = lags.iter().map(|l| l.0).sum::<f64>() / n;
            let mean_y = lags.iter().map(|l| l.1).sum::<f64>() / n;
            let (xy, xx) = lags.iter().fold((0.0, 0.0), |(xy, xx), (x, y)| {
                (xy + (x - mean_x) * (y - mean_y), xx + (x - mean_x).powi(2))
            });
            // Correlation that does not fall: longer than the record can tell.
            if xy < 0.0 { -xx / xy } else { f64::MAX }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    fn wind(from_deg: f64, speed_mps: f64) -> TrueWind {
        TrueWind {
            from_rad: from_deg.rem_euclid(360.0).to_radians(),
            speed_mps,
        }
    }

    fn at(t_s: f64) -> Millis {
        Millis(1_000_000_000_000).plus_seconds(t_s)
    }

    /// Normal numbers by the sum of twelve uniform ones (variance 1).
    fn normal(rng: &mut ChaCha8Rng) -> f64 {
        (0..12).map(|_| rng.random::<f64>()).sum::<f64>() - 6.0
    }

    #[test]
    fn mean_and_spread_go_round_north() {
        let mut record = WindRecord::new(600.0);
        for i in 0..100 {
            let from = if i % 2 == 0 { 350.0 } else { 10.0 };
            record.push(at(f64::from(i)), wind(from, 8.0));
        }
        let s = record.statistics(at(99.5)).unwrap();
        assert!(wrap_signed(s.mean_from_rad).abs() < 1e-9);
        // Two directions +-a: R = cos a, so sd = sqrt(-2 ln cos 10 deg) (definition above).
        let expected = (-2.0 * 10f64.to_radians().cos().ln()).sqrt();
        assert!((s.direction_sd_rad - expected).abs() < 1e-9);
        assert!((s.mean_mps - 8.0).abs() < 1e-9 && s.speed_sd_mps < 1e-9);
        assert!((s.window_s - 100.0).abs() < 1e-9);
    }

    #[test]
    fn gust_is_the_highest_three_second_mean() {
        let mut record = WindRecord::new(600.0);
        for i in 0..60 {
            let speed = match i {
                30 => 16.0,
                31 => 13.0,
                32 => 10.0,
                _ => 8.0,
            };
            record.push(at(f64::from(i)), wind(90.0, speed));
        }
        assert!((record.statistics(at(60.0)).unwrap().gust_mps - 13.0).abs() < 1e-9);
    }

    #[test]
    fn shift_is_the_last_minute_against_the_whole() {
        let mut record = WindRecord::new(600.0);
        for i in 0..300 {
            record.push(
                at(f64::from(i)),
                wind(if i < 240 { 355.0 } else { 20.0 }, 8.0),
            );
        }
        // Mean direction of 240 x 355 deg and 60 x 20 deg.
        let (e, n) = [(355.0f64, 240.0), (20.0, 60.0)]
            .iter()
            .fold((0.0, 0.0), |(e, n), (d, w)| {
                (e + w * d.to_radians().sin(), n + w * d.to_radians().cos())
            });
        let expected = wrap_signed(20f64.to_radians() - e.atan2(n));
        let got = record.statistics(at(300.0)).unwrap().shift_rad;
        assert!((got - expected).abs() < 1e-9 && got > 0.3);
    }

    /// An autoregressive gust of 8 s (invented), with and without sensor noise and gaps.
    #[test]
    fn gust_time_survives_noise_and_gaps() {
        let mut rng = ChaCha8Rng::seed_from_u64(7);
        let mut got = Vec::new();
        for _ in 0..40 {
            let mut record = WindRecord::new(600.0);
            let (mut x, a) = (0.0, (-1.0f64 / 8.0).exp());
            for i in 0..600 {
                x = a * x + (1.0 - a * a).sqrt() * normal(&mut rng);
                let noise = 0.5 * normal(&mut rng);
                if i % 37 > 4 {
                    record.push(at(f64::from(i)), wind(0.0, 10.0 + x + noise));
                }
            }
            got.push(record.statistics(at(600.0)).unwrap().gust_time_s);
        }
        got.sort_by(f64::total_cmp);
        let median = got[got.len() / 2];
        assert!((5.0..11.0).contains(&median), "{median}");
    }

    #[test]
    fn too_little_or_too_old_a_record_says_nothing() {
        let mut record = WindRecord::new(600.0);
        for i in 0..20 {
            record.push(at(f64::from(i)), wind(0.0, 5.0));
        }
        assert!(record.statistics(at(20.0)).is_none());
        for i in 20..40 {
            record.push(at(f64::from(i)), wind(0.0, 5.0));
        }
        let s = record.statistics(at(40.0)).unwrap();
        assert!(s.gust_time_s >= LEAST_GUST_TIME_S && s.shift_rad.abs() < 1e-12);
        assert!(record.statistics(at(101.0)).is_none());
    }

    #[test]
    fn a_slow_sensor_still_gives_a_gust_and_a_gust_time() {
        let mut record = WindRecord::new(600.0);
        for i in 0..200 {
            let t = f64::from(i) * 3.0;
            record.push(at(t), wind(0.0, 8.0 + (t / 20.0).sin()));
        }
        let s = record.statistics(at(600.0)).unwrap();
        assert!((s.gust_mps - 9.0).abs() < 0.01);
        assert!(s.gust_time_s > 5.0, "{}", s.gust_time_s);
    }
}
