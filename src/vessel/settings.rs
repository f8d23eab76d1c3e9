//! Settings of the vessel room. Their ranges are checked where the file is read.

use super::now::Position;
use super::source::SourcePattern;

/// Settings of [`crate::vessel::Vessel`].
#[derive(Debug, Clone, PartialEq)]
pub struct VesselSettings {
    /// Which sources to believe, best first.
    pub order: SourceOrder,
    /// When each quantity is stale.
    pub stale: StaleTimes,
    /// A held value older than this (and than its stale time) is no longer believed, seconds.
    pub lost_s: f64,
    /// How long a better source must live before it takes over, seconds.
    pub settle_s: f64,
    /// Length of the wind record, seconds.
    pub wind_window_s: f64,
    /// A wind sensor whose angle and speed have both been exactly the same for so long while the
    /// boat moves is frozen, seconds.
    pub wind_frozen_s: f64,
    /// Speed over ground from which the course may stand in for the heading.
    pub way_on_mps: f64,
    /// Where the boat is while the network gives no position (for the variation).
    pub position: Option<Position>,
    /// Variation while neither network nor model gives one, positive east.
    pub variation_rad: Option<f64>,
}

/// Sources of each quantity, best first. Sources that no pattern names come last.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct SourceOrder {
    /// Apparent and worked-out wind.
    pub wind: Vec<SourcePattern>,
    /// Heading.
    pub heading: Vec<SourcePattern>,
    /// Speed through the water.
    pub speed_water: Vec<SourcePattern>,
    /// Speed and course over ground.
    pub speed_ground: Vec<SourcePattern>,
    /// Position.
    pub position: Vec<SourcePattern>,
    /// Rate of turn.
    pub rate_of_turn: Vec<SourcePattern>,
    /// Rudder.
    pub rudder: Vec<SourcePattern>,
    /// Magnetic variation.
    pub variation: Vec<SourcePattern>,
}

/// Ages, in seconds, beyond which a value is stale and another source is used.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StaleTimes {
    /// Wind.
    pub wind_s: f64,
    /// Heading.
    pub heading_s: f64,
    /// Speeds and course.
    pub speed_s: f64,
    /// Position.
    pub position_s: f64,
    /// Rate of turn.
    pub rate_of_turn_s: f64,
    /// Rudder.
    pub rudder_s: f64,
    /// Variation, which changes with the place only.
    pub variation_s: f64,
}

impl Default for StaleTimes {
    fn default() -> Self {
        Self {
            wind_s: 5.0,
            heading_s: 3.0,
            speed_s: 10.0,
            position_s: 30.0,
            rate_of_turn_s: 3.0,
            rudder_s: 3.0,
            variation_s: 600.0,
        }
    }
}

impl Default for VesselSettings {
    fn default() -> Self {
        Self {
            order: SourceOrder::default(),
            stale: StaleTimes::default(),
            lost_s: 10.0,
            settle_s: 5.0,
            wind_window_s: 600.0,
            wind_frozen_s: 60.0,
            way_on_mps: 1.0,
            position: None,
            variation_rad: None,
        }
    }
}
