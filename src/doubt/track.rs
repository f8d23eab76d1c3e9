//! What one source has said lately, second by second.

use std::collections::VecDeque;

use super::suspicion::Instrument;
use crate::angles::wrap_signed;
use crate::time::Millis;

/// Seconds kept.
const KEPT_S: i64 = 180;
/// A window with a longer gap than this is not covered.
const LONGEST_GAP_S: i64 = 3;

/// Sender of what repeats another instrument.
pub const REPEATS: u32 = 0;

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
    /// Since when the angle has been exactly the same, and in how many readings.
    same_angle: (i64, u32),
    /// The same of angle and size together.
    same_both: (i64, u32),
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
            same_angle: (0, 0),
            same_both: (0, 0),
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
        (self.last_but_one, self.last) = (self.last, Some(said));
        let last_counts = matches!(self.of, Instrument::Position | Instrument::Clock);
        match self.bins.back_mut() {
            Some(bin) if bin.second == second => {
                bin.readings += 1;
                bin.flips += flips;
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
