//! What has been found of each instrument, as the rest of the program reads it.

use crate::decode::{Correctable, Talker};

/// Turns that an estimate needs before it is told.
pub const LEAST_TURNS: u32 = 3;
/// Deviations that separate an error from none.
pub const SIGNIFICANT: f64 = 3.0;

/// What has been found of all instruments, in the order of [`Correctable::ALL`].
#[derive(Debug, Clone, Default, PartialEq)]
pub struct CalibrationNow {
    /// One each.
    pub estimates: Vec<Estimate>,
}

impl CalibrationNow {
    /// What has been found of this.
    #[must_use]
    pub fn of(&self, what: Correctable) -> Option<&Estimate> {
        self.estimates.iter().find(|estimate| estimate.what == what)
    }
}

/// What has been found of one.
#[derive(Debug, Clone, PartialEq)]
pub struct Estimate {
    /// Of what.
    pub what: Correctable,
    /// Who sends it; `None` while nothing is heard of it.
    pub talker: Option<Talker>,
    /// Turns behind it.
    pub turns: u32,
    /// What is to be done to the value, or why that is not known.
    pub found: Result<Found, String>,
    /// What cannot be told apart from it.
    pub caution: &'static str,
}

impl Estimate {
    /// Whether a correction should be offered.
    #[must_use]
    pub fn is_significant(&self) -> bool {
        self.found.as_ref().is_ok_and(|found| found.is_significant)
    }
}

/// A correction as it should be.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// One number; of the compass three: whatever the heading, with its sine, with its cosine.
    pub terms: Vec<Term>,
    /// Whether it differs from what is in force by more than chance, and by more than is idle.
    pub is_significant: bool,
}

/// One number of a correction: radians, radians a second, or a factor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Term {
    /// In all, on what the instrument sends.
    pub total: f64,
    /// What is left of it beyond the correction in force.
    pub left: f64,
    /// Standard deviation of both.
    pub sigma: f64,
}
