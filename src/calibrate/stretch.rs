//! Pieces of course: means of what was measured while the boat held a heading, and turns between
//! them.

use crate::angles::{wrap_positive, wrap_signed};
use crate::time::Millis;
use crate::vessel::{ApparentWind, MeasuredHeading};

/// Length of a piece. Shorter ones repeat one gust or wave, longer ones are seldom straight.
const PIECE_S: f64 = 10.0;
/// A longer pause between samples ends a piece.
const GAP_S: f64 = 3.0;
/// In a piece the heading stays within this of where it began, and changes no faster than this on the
/// whole: course and speed over ground lag behind in a turn.
const STEADY_RAD: f64 = 0.35;
const STEADY_RAD_S: f64 = 0.026;
/// A change of heading from one piece to a later one that counts as a turn, 30 degrees.
const TURN_RAD: f64 = 0.52;
/// Parts of the circle that headings are counted in.
const PARTS: usize = 8;

/// What was measured at one moment.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sample {
    pub at: Millis,
    pub heading: MeasuredHeading,
    pub wind: Option<ApparentWind>,
    pub log_mps: Option<f64>,
    pub ground_mps: Option<[f64; 2]>,
    pub rate_rad_s: Option<f64>,
}

/// Samples of one piece, in order of time.
#[derive(Debug, Clone, Default)]
pub(super) struct Piece {
    pub samples: Vec<Sample>,
}

impl Piece {
    /// Adds a sample; gives the piece when it is whole. The last sample also begins the next one.
    pub fn add(&mut self, sample: Sample) -> Option<Self> {
        let gap = self
            .samples
            .last()
            .is_some_and(|last| sample.at.seconds_since(last.at) > GAP_S);
        if gap {
            self.samples.clear();
        }
        self.samples.push(sample);
        if self.length_s() < PIECE_S {
            return None;
        }
        let next = Self {
            samples: vec![sample],
        };
        Some(std::mem::replace(self, next))
    }

    pub fn length_s(&self) -> f64 {
        let ends = self.samples.first().zip(self.samples.last());
        ends.map_or(0.0, |(first, last)| last.at.seconds_since(first.at))
    }

    /// Change of heading from beginning to end, as the compass sends it, turned through between.
    pub fn turned_rad(&self) -> f64 {
        let steps = self
            .samples
            .windows(2)
            .map(|pair| wrap_signed(pair[1].heading.shown_rad - pair[0].heading.shown_rad));
        steps.sum()
    }

    /// Whether the boat held her heading.
    pub fn is_steady(&self) -> bool {
        let Some(first) = self.samples.first() else {
            return false;
        };
        let strays = |sample: &Sample| {
            wrap_signed(sample.heading.true_rad - first.heading.true_rad).abs() > STEADY_RAD
        };
        self.turned_rad().abs() <= STEADY_RAD_S * self.length_s()
            && !self.samples.iter().any(strays)
    }

    /// Mean of what each sample gives; `None` when one of them lacks it.
    pub fn mean<const N: usize>(
        &self,
        each: impl Fn(&Sample) -> Option<[f64; N]>,
    ) -> Option<[f64; N]> {
        let mut sum = [0.0; N];
        for sample in &self.samples {
            for (sum, value) in sum.iter_mut().zip(each(sample)?) {
                *sum += value / self.samples.len() as f64;
            }
        }
        Some(sum)
    }
}

/// Turns between pieces, and which headings they had.
#[derive(Debug, Clone, Default)]
pub(super) struct Turns {
    last_at: Option<Millis>,
    last_rad: Option<f64>,
    /// How many.
    pub count: u32,
    visited: [u8; PARTS],
}

impl Turns {
    /// Takes in the heading of a piece; whether the boat had turned before it.
    pub fn note(&mut self, heading_rad: f64) -> bool {
        let part = (heading_rad / std::f64::consts::TAU * PARTS as f64) as usize % PARTS;
        self.visited[part] = self.visited[part].saturating_add(1);
        let off = wrap_signed(heading_rad - self.last_rad.unwrap_or(heading_rad));
        let turned = off.abs() >= TURN_RAD;
        self.count += u32::from(turned);
        let step = if turned { off } else { 0.2 * off };
        self.last_rad = Some(self.last_rad.map_or(heading_rad, |last| last + step));
        turned
    }

    /// Takes in a piece by its mean sine and cosine of the heading; whether the boat had turned before
    /// it, and seconds since the piece before.
    pub fn note_piece(&mut self, at: Millis, sin: f64, cos: f64) -> (bool, f64) {
        let since = |last| at.seconds_since(last).max(0.0);
        let dt_s = self.last_at.map_or(PIECE_S, since);
        self.last_at = Some(at);
        (self.note(wrap_positive(sin.atan2(cos))), dt_s)
    }

    /// Whether two of the headings were at least a right angle apart or so.
    pub fn well_apart(&self) -> bool {
        let seen = |part: usize| self.visited[part % PARTS] >= 2;
        (0..PARTS).any(|part| seen(part) && (2..=PARTS - 2).any(|on| seen(part + on)))
    }
}
