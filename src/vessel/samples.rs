//! The last value of each source, as the channels hold them, and what makes one unfit.

use super::now::Position;
use super::source::Fitness;
use crate::decode::HeadingObservation;
use crate::time::Millis;

/// An anemometer whose speed has read exactly zero for this long says nothing: its cups are stuck,
/// or there is no wind that could fly a kite.
pub(super) const STUCK_AFTER_S: f64 = 10.0;

/// Apparent wind of one sensor.
#[derive(Debug, Clone, Copy)]
pub(super) struct WindSample {
    pub angle_rad: f64,
    pub speed_mps: f64,
    /// When the speed was last above zero.
    pub last_moved: Option<Millis>,
}

impl Fitness for WindSample {
    fn is_fit(&self, now: Millis) -> bool {
        self.last_moved
            .is_some_and(|moved| now.seconds_since(moved) <= STUCK_AFTER_S)
    }
}

/// Wind that an instrument has already worked out.
#[derive(Debug, Clone, Copy)]
pub(super) enum WorkedOutWind {
    /// Over the water, from the bow.
    Relative { angle_rad: f64, speed_mps: f64 },
    /// From true north.
    True { from_rad: f64, speed_mps: f64 },
    /// From magnetic north.
    Magnetic { from_rad: f64, speed_mps: f64 },
}

impl Fitness for WorkedOutWind {}

impl Fitness for HeadingObservation {}

/// Speed through the water.
#[derive(Debug, Clone, Copy)]
pub(super) struct LogSample {
    pub ahead_mps: f64,
    pub starboard_mps: Option<f64>,
    /// Since when the log has read exactly zero.
    pub zero_since: Option<Millis>,
}

impl Fitness for LogSample {}

/// Course over ground.
#[derive(Debug, Clone, Copy)]
pub(super) enum Course {
    True(f64),
    Magnetic(f64),
}

impl Fitness for Course {}

impl Fitness for f64 {}

impl Fitness for Position {}
