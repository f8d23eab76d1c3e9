//! What can be suspected, and the words for it.

use serde::Serialize;

use crate::time::Millis;

/// What a source measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Instrument {
    /// Apparent wind: vane and anemometer.
    Wind,
    /// True heading.
    Heading,
    /// Rate of turn.
    RateOfTurn,
    /// Speed through the water.
    Log,
    /// Speed over ground.
    GroundSpeed,
    /// Course over ground.
    Course,
    /// Position.
    Position,
    /// Time of day of a receiver.
    Clock,
    /// Magnetic variation.
    Variation,
}

/// In what way a source contradicts the others or itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Fault {
    /// A rate of turn that the heading does not show.
    RateAgainstHeading,
    /// A heading that does not turn as rate of turn and course do.
    HeadingAgainstRate,
    /// A heading that does not fit the course over ground.
    HeadingAgainstCourse,
    /// A course over ground that does not follow a turn.
    CourseAgainstHeading,
    /// Two compasses apart.
    CompassesApart,
    /// An apparent wind that does not change as a turn of the boat must change it.
    WindAgainstTurn,
    /// A vane that has gone round while the boat held its course.
    VaneJumped,
    /// A vane that never moves.
    VaneStill,
    /// A vane and cups that repeat angle and speed under way: the vessel room sees that.
    MastheadStill,
    /// Two wind sensors apart.
    WindsApart,
    /// A log that hardly turns while the boat makes way.
    LogLow,
    /// A log that shows way while the boat lies still.
    LogHigh,
    /// A current that would have set in within seconds.
    LogJumped,
    /// A speed over ground that changed within seconds when the log did not.
    GroundJumped,
    /// A log that repeats one value while the speed over ground varies.
    LogStill,
    /// A speed over ground that the position does not show.
    GroundAgainstPosition,
    /// A speed or course that repeats itself while the position stands.
    GroundStill,
    /// A position that stands still under way.
    PositionStill,
    /// A position that moves otherwise than the boat.
    PositionJumped,
    /// A clock that stands still or jumps.
    ClockOff,
    /// A value that no boat and no sea has.
    BeyondTheSea,
    /// Two senders under one name.
    TwoSenders,
    /// A variation that the magnetic model does not know there.
    VariationOff,
}

/// What one look at one source says.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Verdict {
    /// It contradicts.
    Lies(Found),
    /// It was put to the test and holds.
    Holds,
    /// Nothing to test it by.
    Untested,
}

impl Verdict {
    /// It holds where that is so; otherwise nothing is told.
    pub fn holds_if(holds: bool) -> Self {
        if holds { Self::Holds } else { Self::Untested }
    }
}

/// A contradiction in words.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Found {
    pub seen: String,
    pub expected: &'static str,
    pub look: &'static str,
    /// Whether it is clear that this source is the one in the wrong.
    pub at_fault: bool,
    /// True wind before it: where it comes from and its speed.
    pub wind_before: Option<(f64, f64)>,
}

impl Found {
    /// This source is in the wrong.
    pub fn of(seen: impl Into<String>, expected: &'static str, look: &'static str) -> Self {
        Self {
            seen: seen.into(),
            expected,
            look,
            at_fault: true,
            wind_before: None,
        }
    }
}

impl From<Found> for Verdict {
    fn from(found: Found) -> Self {
        Self::Lies(found)
    }
}

/// One source that is not trusted now.
#[derive(Debug, Clone, PartialEq)]
pub struct Suspicion {
    /// What it measures.
    pub instrument: Instrument,
    /// Number of the source, as it was given to [`super::Doubts::hear`].
    pub source: u32,
    /// In what way it is suspect.
    pub fault: Fault,
    /// Since when it has contradicted.
    pub since: Millis,
    /// What was seen, in words that follow the name of the source.
    pub seen: String,
    /// What was expected.
    pub expected: &'static str,
    /// What to look at.
    pub look: &'static str,
    /// Whether another source is to be used: false where it cannot be told which one is wrong.
    pub at_fault: bool,
    /// True wind before it began: where it comes from, true, and its speed, m/s.
    pub wind_before: Option<(f64, f64)>,
}

/// Degrees in words, to the next five.
pub(super) fn about_deg(angle_rad: f64) -> String {
    format!("{:.0}°", 5.0 * (angle_rad.to_degrees().abs() / 5.0).round())
}
