//! How often recorded wind stays in the bands of the wind ahead.
//!
//! A log goes through decoder and vessel as on board. Every ten seconds the wind is drawn ahead, and
//! its central bands of 50 and 90 % are compared with the smoothed wind of the log so many seconds
//! later. Persistence, for comparison, is the mean of the last three readings. Counted is where the
//! log has all three quantities and the boat makes way, over the minute before and up to the moment
//! foretold.

use std::fmt::Write as _;

use skimwatch::angles::wrap_signed;
use skimwatch::decode::Decoder;
use skimwatch::forecast::WindAhead;
use skimwatch::time::Millis;
use skimwatch::vessel::{Sender, TrueWind, Vessel, VesselSettings};

use super::log::{HZ, Log, Moment};

/// Horizons, seconds.
pub const AHEAD_S: [f64; 4] = [10.0, 30.0, 60.0, 120.0];
const EVERY_S: usize = 10;
const BEFORE_S: f64 = 60.0;
const FUTURES: usize = 128;
/// Slower boats lie still, in lighter wind the sensor turns about.
const LEAST_WAY_MPS: f64 = 0.7;
const LEAST_WIND_MPS: f64 = 1.5;

/// Counts of one quantity at one horizon.
#[derive(Debug, Clone, Copy, Default)]
pub struct Count {
    pub samples: f64,
    pub in_50: f64,
    pub in_90: f64,
    /// Sums of absolute errors: of the median, and of persistence.
    pub error: f64,
    pub persistence: f64,
}

/// Log speed, then direction in radians; one count for each horizon.
pub type Coverage = [[Count; AHEAD_S.len()]; 2];

/// Adds the counts of another log.
pub fn add(sum: &mut Coverage, other: &Coverage) {
    for (sum, other) in sum.iter_mut().flatten().zip(other.iter().flatten()) {
        sum.samples += other.samples;
        sum.in_50 += other.in_50;
        sum.in_90 += other.in_90;
        sum.error += other.error;
        sum.persistence += other.persistence;
    }
}

/// One look ahead: for each quantity what persistence says, and for each horizon the sorted futures.
struct Look {
    t_s: f64,
    still: [f64; 2],
    drawn: [[Vec<f64>; AHEAD_S.len()]; 2],
}

/// Counts of one log.
pub fn coverage(log: &Log) -> Coverage {
    let start = Millis(1_700_000_000_000);
    let mut vessel = Vessel::new(VesselSettings::default());
    let mut decoder = Decoder::new();
    let mut ahead = WindAhead::new(FUTURES, 7);
    let mut sentences = log.sentences.iter().peekable();
    let mut looks = Vec::new();
    let mut last: Vec<TrueWind> = Vec::new();
    // The log's own north may differ from the vessel's.
    let (mut north, mut many) = ((0.0, 0.0), 0.0);
    for second in 0..(log.moments.len() as f64 / HZ) as usize {
        let t_s = second as f64;
        while let Some((at_s, sentence)) = sentences.next_if(|(at_s, _)| *at_s < t_s) {
            if let Ok(decoded) = decoder.decode(&sentence.text) {
                let at = start.plus_seconds(*at_s);
                for seen in &decoded.observations {
                    vessel.observe(
                        at,
                        Sender::on_line("log", decoded.talker.as_str(), decoded.kind),
                        seen,
                    );
                }
            }
        }
        let at = start.plus_seconds(t_s);
        let now = vessel.now(at);
        ahead.follow(&now);
        let Some(wind) = now.true_wind.map(|wind| wind.value) else {
            last.clear();
            continue;
        };
        let moment = &log.moments[(t_s * HZ) as usize];
        let (s, c) = (wind.from_rad - moment.wind_from_rad()).sin_cos();
        north = (north.0 + s, north.1 + c);
        many += 1.0;
        last.push(wind);
        if last.len() > 3 {
            last.remove(0);
        }
        if second % EVERY_S != 0 || !steady(log, t_s - BEFORE_S, t_s) {
            continue;
        }
        looks.push(look(t_s, &last, &ahead.drawn(at, &AHEAD_S)));
    }
    let north = if many > 0.0 {
        north.0.atan2(north.1)
    } else {
        0.0
    };
    let mut counts = Coverage::default();
    for look in looks {
        for (h, ahead_s) in AHEAD_S.into_iter().enumerate() {
            let then_s = look.t_s + ahead_s;
            if !steady(log, look.t_s, then_s) {
                continue;
            }
            let then = &log.moments[(then_s * HZ) as usize];
            let from = then.wind_from_rad() + north;
            for (quantity, counts) in counts.iter_mut().enumerate() {
                let truth = match quantity {
                    0 => then.wind_mps().ln(),
                    _ => look.still[1] + wrap_signed(from - look.still[1]),
                };
                note(
                    &mut counts[h],
                    &look.drawn[quantity][h],
                    look.still[quantity],
                    truth,
                );
            }
        }
    }
    counts
}

fn look(t_s: f64, last: &[TrueWind], drawn: &[Vec<TrueWind>]) -> Look {
    let n = last.len().max(1) as f64;
    let sum = last.iter().fold((0.0, 0.0), |(e, n), w| {
        (
            e + w.speed_mps * w.from_rad.sin(),
            n + w.speed_mps * w.from_rad.cos(),
        )
    });
    let still = [(sum.0.hypot(sum.1) / n).max(0.1).ln(), sum.0.atan2(sum.1)];
    let sorted = |h: usize, of: &dyn Fn(&TrueWind) -> f64| {
        let mut values: Vec<f64> = drawn.iter().filter_map(|f| f.get(h)).map(of).collect();
        values.sort_by(f64::total_cmp);
        values
    };
    Look {
        t_s,
        still,
        drawn: [
            std::array::from_fn(|h| sorted(h, &|w| w.speed_mps.max(0.05).ln())),
            std::array::from_fn(|h| sorted(h, &|w| still[1] + wrap_signed(w.from_rad - still[1]))),
        ],
    }
}

fn note(count: &mut Count, sorted: &[f64], still: f64, truth: f64) {
    let at = |q: f64| sorted.get(((sorted.len() as f64) * q) as usize).copied();
    let within = |low: f64, high: f64| {
        let band = at(low).zip(at(high));
        f64::from(u8::from(band.is_some_and(|(a, b)| (a..b).contains(&truth))))
    };
    count.samples += 1.0;
    count.in_50 += within(0.25, 0.75);
    count.in_90 += within(0.05, 0.95);
    count.error += at(0.5).map_or(0.0, |median| (median - truth).abs());
    count.persistence += (still - truth).abs();
}

/// Whether the boat was heard, and made way in enough wind, all the time.
fn steady(log: &Log, from_s: f64, to_s: f64) -> bool {
    let good = |m: &Moment| m.heard && m.speed_mps > LEAST_WAY_MPS && m.wind_mps() > LEAST_WIND_MPS;
    from_s >= 0.0
        && log
            .moments
            .get((from_s * HZ) as usize..=(to_s * HZ) as usize)
            .is_some_and(|part| part.iter().all(good))
}

/// A table of the counts.
pub fn table(name: &str, counts: &Coverage) -> String {
    let mut text = String::new();
    for (quantity, counts) in ["speed", "direction"].into_iter().zip(counts) {
        let _ = write!(text, "{name:<24} {quantity:<9} {:>5.0}", counts[0].samples);
        for count in counts {
            let n = count.samples.max(1.0);
            let unit = if quantity == "speed" {
                100.0
            } else {
                180.0 / std::f64::consts::PI
            };
            let _ = write!(
                text,
                " | {:>3.0} {:>3.0} {:>5.1} {:>5.1}",
                100.0 * count.in_50 / n,
                100.0 * count.in_90 / n,
                unit * count.error / n,
                unit * count.persistence / n,
            );
        }
        text.push('\n');
    }
    text
}
