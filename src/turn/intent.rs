//! One turn that the crew, an instrument or the boat's motion indicates.

use serde::Serialize;
use utoipa::ToSchema;

use super::profile::TurnDoubt;

/// Source of the knowledge about a turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TurnSource {
    /// Announced by the crew.
    Crew,
    /// Heading or track control.
    Autopilot,
    /// The route's next leg.
    Route,
    /// Seen under way from rudder, rate of turn or heading.
    UnderWay,
}

/// A turn that is coming or under way.
#[derive(Debug, Clone, PartialEq)]
pub struct Intent {
    /// Where it is known from.
    pub source: TurnSource,
    /// Seconds until the helm goes over; negative when under way.
    pub starts_in_s: f64,
    /// Change still to come, + to starboard. For a turn seen only under way this is the median.
    pub by_rad: f64,
    /// Rate, positive.
    pub rate_rad_s: f64,
    /// Uncertainty of these values.
    pub doubt: TurnDoubt,
    /// The evidence, in words: "the route turns at SOUTH".
    pub why: String,
}
