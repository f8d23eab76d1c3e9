//! One turn that somebody or something intends.

use serde::Serialize;
use utoipa::ToSchema;

use super::profile::TurnDoubt;

/// Where the knowledge of a coming turn comes from.
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
    /// Change still to come, + to starboard. For a turn seen only under way this is the middle
    /// of what is likely.
    pub by_rad: f64,
    /// Rate, positive.
    pub rate_rad_s: f64,
    /// How sure each of these is.
    pub doubt: TurnDoubt,
    /// Where it was read, in words: "the route turns at SOUTH".
    pub why: String,
}
