//! What one source has said lately, second by second.

use std::collections::VecDeque;

use super::suspicion::Instrument;
use crate::angles::{DEG, wrap_signed};
use crate::time::Millis;
use crate::units::KNOT_MPS;

/// Seconds kept.
const KEPT_S: i64 = 180;
/// A window with a longer gap than this is not covered.
const LONGEST_GAP_S: i64 = 3;

/// Sender of what repeats another instrument.
pub const REPEATS: u32 = 0;

/// Whole units in which an angle (degrees) or a speed (knots, km/h, m/s) may be given.
const WHOLE_ANGLE: [f64; 1] = [DEG];
const WHOLE_SPEED: [f64; 3] = [KNOT_MPS, 1.0 / 3.6, 1.0];
/// A step is whole within this share of a unit.
const WHOLE_WITHIN: f64 = 0.02;

/// A reading: an angle, a size, or both; radians, m/s and rad/s. A position is latitude and
/// longitude, a clock the seconds of the day as size.
pub type Said = (f64, f64);

/// One second.
#[derive(Debug, Clone, Copy)]
struct Bin {
    second: i64,
    /// Last of the second.
    angle: f64,
    /// Mean of the second; last of a position or a clock.
    size: f64,
    readings: u32,
    /// Readings far from the last, and near the last but one.
    flips: u32,
    /// The same with a lesser distance.
    swaps: u32,
    /// Steps of the value, and those of them by whole units.
    steps: u32,
    whole: u32,
    /// Sum of the intervals between readings, seconds, and of their squares.
    intervals: [f64; 2],
}

/// How a source has spoken in a while.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spoken {
    /// Readings a second: the median of tens of seconds.
    pub rate: f64,
    /// Standard deviation of the intervals, as a share of their mean.
    pub uneven: f64,
    /// Steps of the value, and those by whole units.
    pub steps: u32,
    pub whole: u32,
    /// Share of readings that go back and forth.
    pub swaps: f64,
}

/// One source.
#[derive(Debug, Clone)]
pub(super) struct Track {
    pub of: Instrument,
    pub id: u32,
    /// Who sends it: sources of one sender may repeat each other.
    pub sender: u32,
    bins: VecDeque<Bin>,
    last: Option<Said>,
    last_but_one: Option<Said>,
    last_at: Option<Millis>,
    /// Since when the angle has been exactly the same, and in how many readings.
    same_angle: (i64, u32),
    /// The same of angle and size together.
    same_both: (i64, u32),
    /// Whether it sounds as if two spoke under its name; whoever knows its habits says so.
    pub sounds_like_two: bool,
}

impl Track {
    pub fn new(of: Instrument, id: u32, sender: u32) -> Self {
        Self {
            of,
            id,
            sender,
            bins: VecDeque::new(),
            last: None,
            last_but_one: None,
            last_at: None,
            same_angle: (0, 0),
            same_both: (0, 0),
            sounds_like_two: false,
        }
    }

    pub fn hear(&mut self, at: Millis, said: Said) {
        let second = at.0.div_euclid(1000);
        let same = |count: &mut (i64, u32), same: bool| {
            *count = if same {
                (count.0, count.1.saturating_add(1))
            } else {
                (second, 1)
            };
        };
        same(
            &mut self.same_angle,
            self.last.is_some_and(|last| last.0 == said.0),
        );
        same(&mut self.same_both, self.last == Some(said));
        let far = |other: Option<Said>| other.is_some_and(|other| self.is_far(said, other));
        let near = |other: Option<Said>| other.is_some_and(|other| !self.is_far(said, other));
        let flips = u32::from(far(self.last) && near(self.last_but_one));
        let swaps = u32::from(self.swaps(said));
        let step = self.last.map_or(0.0, |last| self.step(last, said));
        let steps = u32::from(step > 0.0);
        let whole = u32::from(step > 0.0 && self.is_whole(step));
        let interval_s = self.last_at.map_or(0.0, |last| at.seconds_since(last));
        let intervals = [interval_s, interval_s * interval_s];
        self.last_at = Some(at);
        (self.last_but_one, self.last) = (self.last, Some(said));
        let last_counts = matches!(self.of, Instrument::Position | Instrument::Clock);
        match self.bins.back_mut() {
            Some(bin) if bin.second == second => {
                bin.readings += 1;
                bin.flips += flips;
                bin.swaps += swaps;
                bin.steps += steps;
                bin.whole += whole;
                for (sum, one) in bin.intervals.iter_mut().zip(intervals) {
                    *sum += one;
                }
                bin.angle = said.0;
                bin.size = if last_counts {
                    said.1
                } else {
                    bin.size + (said.1 - bin.size) / f64::from(bin.readings)
                };
            }
            _ => self.bins.push_back(Bin {
                second,
                angle: said.0,
                size: said.1,
                readings: 1,
                flips,
                swaps,
                steps,
                whole,
                intervals,
            }),
        }
        while self
            .bins
            .front()
            .is_some_and(|bin| bin.second < second - KEPT_S)
        {
            self.bins.pop_front();
        }
    }

    /// Whether one sensor cannot have said both in one breath.
    fn is_far(&self, a: Said, b: Said) -> bool {
        let angle = wrap_signed(a.0 - b.0).abs();
        let size = (a.1 - b.1).abs();
        match self.of {
            Instrument::Wind => {
                let (less, more) = (a.1.min(b.1), a.1.max(b.1));
                less > 1.0 && angle > 40f64.to_radians() || more > 4.0 && more > 2.0 * less
            }
            Instrument::Heading => angle > 20f64.to_radians(),
            Instrument::RateOfTurn => size > 20f64.to_radians(),
            Instrument::Log | Instrument::GroundSpeed => size > 2.0,
            Instrument::Course => angle > 40f64.to_radians(),
            // 190 m.
            Instrument::Position => (a.0 - b.0).abs().max(size) > 3e-5,
            Instrument::Clock => false,
            Instrument::Variation => angle > 5f64.to_radians(),
        }
    }

    /// What of a reading is looked at for habits: the angle of what has one, else the size.
    fn step(&self, a: Said, b: Said) -> f64 {
        match self.of {
            Instrument::Wind | Instrument::Heading | Instrument::Course | Instrument::Variation => {
                wrap_signed(a.0 - b.0).abs()
            }
            Instrument::RateOfTurn
            | Instrument::Log
            | Instrument::GroundSpeed
            | Instrument::Clock => (a.1 - b.1).abs(),
            Instrument::Position => (a.0 - b.0).abs().max((a.1 - b.1).abs()),
        }
    }

    fn is_whole(&self, step: f64) -> bool {
        let units: &[f64] = match self.of {
            Instrument::Wind | Instrument::Heading => &WHOLE_ANGLE,
            Instrument::Log | Instrument::GroundSpeed => &WHOLE_SPEED,
            _ => &[],
        };
        units.iter().any(|unit| {
            let times = step / unit;
            (times - times.round()).abs() < WHOLE_WITHIN && times > 0.5
        })
    }

    /// Whether it has gone to another value and is back at the one before: at more than a sensor says
    /// in one breath.
    fn swaps(&self, said: Said) -> bool {
        let (Some(last), Some(before)) = (self.last, self.last_but_one) else {
            return false;
        };
        let least = match self.of {
            Instrument::Wind | Instrument::Course => 10f64.to_radians(),
            Instrument::Heading => 4f64.to_radians(),
            Instrument::RateOfTurn => 4f64.to_radians(),
            Instrument::Log | Instrument::GroundSpeed => 0.5,
            // 30 m.
            Instrument::Position => 5e-6,
            Instrument::Variation => 2f64.to_radians(),
            Instrument::Clock => return false,
        };
        let away = self.step(said, last);
        away > least && self.step(said, before) < 0.4 * away
    }

    /// How it has spoken from `from` to `to`.
    pub fn spoken(&self, from: i64, to: i64) -> Spoken {
        const TEN_S: i64 = 10;
        let mut tens = vec![0_u32; usize::try_from((to - from + 1) / TEN_S).unwrap_or(1).max(1)];
        let (mut readings, mut swaps, mut steps, mut whole) = (0, 0, 0, 0);
        let mut intervals = [0.0; 2];
        for bin in self.between(from, to) {
            let ten = usize::try_from((bin.second - from) / TEN_S).unwrap_or(0);
            if let Some(ten) = tens.get_mut(ten) {
                *ten += bin.readings;
            }
            readings += bin.readings;
            swaps += bin.swaps;
            steps += bin.steps;
            whole += bin.whole;
            for (sum, one) in intervals.iter_mut().zip(bin.intervals) {
                *sum += one;
            }
        }
        tens.sort_unstable();
        let middle = tens.len() / 2;
        let median = 0.5 * f64::from(tens[middle] + tens[(tens.len() - 1) / 2]);
        let count = f64::from(readings.max(1));
        let mean_s = intervals[0] / count;
        let variance = (intervals[1] / count - mean_s * mean_s).max(0.0);
        Spoken {
            rate: median / TEN_S as f64,
            uneven: variance.sqrt() / mean_s.max(1e-3),
            steps,
            whole,
            swaps: f64::from(swaps) / count,
        }
    }

    /// How much the angle scatters from second to second, turns of the boat left out: the median of the
    /// second differences.
    pub fn scatter_angle(&self, from: i64, to: i64) -> Option<f64> {
        const LEAST: usize = 20;
        let angles: Vec<f64> = self.between(from, to).map(|bin| bin.angle).collect();
        let mut all: Vec<f64> = angles
            .windows(3)
            .map(|three| {
                let (first, then) = (three[1] - three[0], three[2] - three[1]);
                wrap_signed(wrap_signed(then) - wrap_signed(first)).abs()
            })
            .collect();
        if all.len() < LEAST {
            return None;
        }
        all.sort_unstable_by(f64::total_cmp);
        Some(all[all.len() / 2])
    }

    /// Second of the last reading.
    pub fn last_second(&self) -> i64 {
        self.bins.back().map_or(i64::MIN, |bin| bin.second)
    }

    /// The last reading.
    pub fn last(&self) -> Option<Said> {
        self.last
    }

    fn between(&self, from: i64, to: i64) -> impl DoubleEndedIterator<Item = &Bin> {
        self.bins
            .iter()
            .filter(move |bin| (from..=to).contains(&bin.second))
    }

    /// Whether it has spoken without a gap from `from` to `to`.
    pub fn covers(&self, from: i64, to: i64) -> bool {
        let mut before = from;
        for bin in self.between(from, to) {
            if bin.second - before > LONGEST_GAP_S {
                return false;
            }
            before = bin.second;
        }
        to - before <= LONGEST_GAP_S && before > from
    }

    /// How far the angle has gone round from `from` to `to`, all turns counted; `None` with a gap.
    pub fn turned(&self, from: i64, to: i64) -> Option<f64> {
        if !self.covers(from, to) {
            return None;
        }
        let mut bins = self.between(from, to);
        let mut before = bins.next()?.angle;
        Some(bins.fold(0.0, |turned, bin| {
            let step = wrap_signed(bin.angle - before);
            before = bin.angle;
            turned + step
        }))
    }

    /// Largest step of the angle from one second to the next.
    pub fn largest_step(&self, from: i64, to: i64) -> f64 {
        let mut bins = self.between(from, to);
        let Some(mut before) = bins.next().map(|bin| bin.angle) else {
            return 0.0;
        };
        bins.fold(0.0, |largest, bin| {
            let step = wrap_signed(bin.angle - before).abs();
            before = bin.angle;
            f64::max(largest, step)
        })
    }

    /// Integral of the size over the time from `from` to `to`; `None` with a gap.
    pub fn integral(&self, from: i64, to: i64) -> Option<f64> {
        if !self.covers(from, to) {
            return None;
        }
        let mut bins = self.between(from, to);
        let mut before = *bins.next()?;
        Some(bins.fold(0.0, |sum, bin| {
            let dt_s = (bin.second - before.second) as f64;
            let part = 0.5 * (bin.size + before.size) * dt_s;
            before = *bin;
            sum + part
        }))
    }

    /// Circular mean of the angle.
    pub fn mean_angle(&self, from: i64, to: i64) -> Option<f64> {
        let (mut s, mut c, mut any) = (0.0, 0.0, false);
        for bin in self.between(from, to) {
            s += bin.angle.sin();
            c += bin.angle.cos();
            any = true;
        }
        any.then(|| s.atan2(c))
    }

    /// Mean of the size.
    pub fn mean_size(&self, from: i64, to: i64) -> Option<f64> {
        let (sum, count) = self
            .between(from, to)
            .fold((0.0, 0), |(sum, n), bin| (sum + bin.size, n + 1));
        (count > 0).then(|| sum / f64::from(count))
    }

    /// Least and greatest size.
    pub fn sizes(&self, from: i64, to: i64) -> Option<(f64, f64)> {
        self.between(from, to).fold(None, |range, bin| {
            let (low, high) = range.unwrap_or((bin.size, bin.size));
            Some((low.min(bin.size), high.max(bin.size)))
        })
    }

    /// First and last reading.
    pub fn ends(&self, from: i64, to: i64) -> Option<(Said, Said)> {
        let mut bins = self.between(from, to);
        let first = bins.next()?;
        let last = bins.next_back()?;
        Some(((first.angle, first.size), (last.angle, last.size)))
    }

    /// Readings second by second.
    pub fn seconds(&self, from: i64, to: i64) -> impl Iterator<Item = (i64, Said)> {
        self.between(from, to)
            .map(|bin| (bin.second, (bin.angle, bin.size)))
    }

    /// Readings, and those that went back and forth.
    pub fn flips(&self, from: i64, to: i64) -> (u32, u32) {
        self.between(from, to).fold((0, 0), |(n, flips), bin| {
            (n + bin.readings, flips + bin.flips)
        })
    }

    /// For how many seconds, and in how many readings, the angle has been exactly the same.
    pub fn same_angle(&self) -> (i64, u32) {
        (self.last_second() - self.same_angle.0, self.same_angle.1)
    }

    /// The same of angle and size together.
    pub fn same_both(&self) -> (i64, u32) {
        (self.last_second() - self.same_both.0, self.same_both.1)
    }
}
