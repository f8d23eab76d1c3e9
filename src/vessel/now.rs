//! The shapes that the rest of the program reads: one believed value a quantity.

use serde::Serialize;

use super::answers::Answers;
use super::corrections::Corrections;
use super::hull_motion::HullMotion;
use super::mark::{LAST_OF_CREW, Mark};
use super::strike::{Strike, StrikeCause};
use super::told::{BaitSeen, LinesOut, PassTold};
use crate::decode::{MarkChange, StrikeWord};
use crate::doubt::{Fault, Instrument};
use crate::geodesy::Position;
use crate::time::Millis;

/// How far a value can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Grade {
    /// From a source that contradicts the others or itself.
    Doubted,
    /// A setting or a default that nobody has confirmed.
    Assumed,
    /// Confirmed by the crew lately.
    Calibrated,
    /// Read from an instrument.
    Measured,
}

/// A believed value. `at` is the oldest moment among the inputs it was made from, never "now".
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reading<T> {
    /// The value, SI.
    pub value: T,
    /// When its oldest input arrived.
    pub at: Millis,
    /// Where it came from, in words fit for the page: feed, talker and sentence, and any
    /// stand-in that was used ("speed over ground instead of a log").
    pub source: String,
    /// How far to trust it.
    pub grade: Grade,
}

impl<T> Reading<T> {
    /// Age at `now`, seconds.
    #[must_use]
    pub fn age_s(&self, now: Millis) -> f64 {
        now.seconds_since(self.at)
    }
}

/// Apparent wind at the masthead sensor.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ApparentWind {
    /// Direction the wind comes from, clockwise from the bow, 0..2 pi.
    pub angle_rad: f64,
    /// Speed at the sensor.
    pub speed_mps: f64,
}

/// Wind over the water at sensor height.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TrueWind {
    /// Direction it comes from, true, 0..2 pi.
    pub from_rad: f64,
    /// Speed at sensor height.
    pub speed_mps: f64,
}

/// The last minutes of true wind.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct WindStatistics {
    /// Length of the record these come from, at most the window of the settings.
    pub window_s: f64,
    /// Mean speed at sensor height.
    pub mean_mps: f64,
    /// Circular mean direction it comes from.
    pub mean_from_rad: f64,
    /// Standard deviation of speed.
    pub speed_sd_mps: f64,
    /// Circular standard deviation of direction.
    pub direction_sd_rad: f64,
    /// Highest 3 s mean in the window.
    pub gust_mps: f64,
    /// Mean direction of the last minute less that of the whole window, -pi..pi, + clockwise.
    pub shift_rad: f64,
    /// Time after which speed departures have decayed to 1/e.
    pub gust_time_s: f64,
}

/// What can be missing.
#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Hash,
    Serialize,
    serde::Deserialize,
    utoipa::ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Quantity {
    /// Apparent wind at the masthead (or a wind from which it follows).
    Wind,
    /// Heading, or a course to stand in for it.
    Heading,
    /// Speed through the water, or over ground to stand in for it.
    Speed,
}

/// A quantity that the forecast cannot do without and that has no live source.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Missing {
    /// Which.
    pub quantity: Quantity,
    /// When a value that could be used last came; `None` when never. A sensor that is stuck is
    /// not heard.
    pub last_heard: Option<Millis>,
    /// In words: "no wind (last from masthead WIMWV)".
    pub why: String,
}

/// Sources of one instrument that are suspect in one way.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Doubted {
    /// What they measure.
    pub instrument: Instrument,
    /// In what way they are suspect.
    pub fault: Fault,
    /// Their names.
    pub sources: Vec<String>,
    /// Since when.
    pub since: Millis,
    /// What was seen, in words that follow the names.
    pub seen: String,
    /// What was expected, in words.
    pub expected: String,
    /// What to look at, in words.
    pub look: String,
    /// Whether they are set aside. Otherwise they or others are wrong, and all stay in use.
    pub set_aside: bool,
}

impl Doubted {
    /// Whether a quantity is missing because of it. It is told as in doubt then, not as missing.
    #[must_use]
    pub fn explains(&self, missing: &Missing) -> bool {
        self.fault == Fault::MastheadStill && missing.quantity == Quantity::Wind
    }
}

/// One source as the pages show it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SourceNow {
    /// What it measures.
    pub instrument: Instrument,
    /// Its number among the sources of this instrument.
    #[serde(skip)]
    pub id: u32,
    /// Feed, talker and kind of sentence.
    pub name: String,
    /// When it was last heard.
    pub at: Millis,
    /// Whether it is the one that is believed.
    pub used: bool,
    /// Whether the crew ignores it.
    pub ignored: bool,
    /// What is suspected of it, in words that follow its name.
    pub seen: Option<String>,
    /// Which habit it has changed, in words that follow its name, and since when. That is no lie.
    pub habit: Option<(&'static str, Millis)>,
}

/// The boat at one moment. `None` where nothing live is known.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VesselNow {
    /// The moment it describes.
    pub at: Millis,
    /// True heading, 0..2 pi.
    pub heading_true_rad: Option<Reading<f64>>,
    /// Rate of turn, + to starboard.
    pub rate_of_turn_rad_s: Option<Reading<f64>>,
    /// Speed through the water along the keel (speed over ground when no log, and `source` says so).
    pub speed_water_mps: Option<Reading<f64>>,
    /// Speed over ground.
    pub speed_ground_mps: Option<Reading<f64>>,
    /// Course over ground, true, 0..2 pi.
    pub course_true_rad: Option<Reading<f64>>,
    /// Position.
    pub position: Option<Reading<Position>>,
    /// Rudder, + turns to starboard.
    pub rudder_rad: Option<Reading<f64>>,
    /// Apparent wind at the sensor.
    pub apparent_wind: Option<Reading<ApparentWind>>,
    /// True wind over water at the sensor.
    pub true_wind: Option<Reading<TrueWind>>,
    /// The last minutes of it.
    pub wind_statistics: Option<WindStatistics>,
    /// How the hull has moved in the waves lately; `None` without such a sensor.
    pub hull_motion: Option<HullMotion>,
    /// Magnetic variation used, + east.
    pub variation_rad: Option<Reading<f64>>,
    /// What the forecast lacks; empty when all is there.
    pub missing: Vec<Missing>,
    /// Instruments that contradict each other or themselves.
    pub doubts: Vec<Doubted>,
    /// Every source that is heard, or that the crew ignores.
    pub sources: Vec<SourceNow>,
}

/// Line out as told before the program was started anew, and not confirmed since.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Restored {
    /// When it was told or last moved.
    pub as_of: Millis,
    /// Whether it is taken as out; else nobody knows what is out, and it is only asked for.
    pub used: bool,
    /// The lines that are not confirmed.
    pub lines: LinesOut,
}

/// A turn the crew has announced and not called off.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct IntendedTurn {
    /// When it was announced.
    pub told_at: Millis,
    /// When the helm goes over.
    pub starts_at: Millis,
    /// Signed change of heading, + to starboard.
    pub by_rad: f64,
    /// Rate, positive.
    pub rate_rad_s: f64,
}

/// A launch that the crew follows step by step.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LaunchNow {
    /// When it began.
    pub begun_at: Millis,
    /// When it was last spoken of.
    pub at: Millis,
    /// How many of its steps are answered.
    pub answered: u32,
    /// Mean true wind at 10 m for which its steps are made.
    pub wind_mps: f64,
    /// Gusts at 10 m.
    pub gust_mps: f64,
    /// Boat through the water.
    pub speed_mps: f64,
    /// True wind off the bow, 0..pi.
    pub off_bow_rad: f64,
    /// Kite line that is to be out at last.
    pub kite_line_m: f64,
}

/// What the crew has told.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DeckNow {
    /// Line out and since when that count holds.
    pub lines: LinesOut,
    /// When the line count was last set or moved.
    pub lines_at: Option<Millis>,
    /// What of it is from before a restart and not confirmed since.
    pub restored: Option<Restored>,
    /// Bait state last seen.
    pub bait: Option<BaitSeen>,
    /// Kite elevation last seen, and when.
    pub elevation_rad: Option<(f64, Millis)>,
    /// Kite bearing off the corner last seen (from dead astern, + to starboard), and when.
    pub bearing_rad: Option<(f64, Millis)>,
    /// Whether the marker was last seen on the water or clear of it, and when.
    pub marker_in_water: Option<(bool, Millis)>,
    /// The announced turn.
    pub intended_turn: Option<IntendedTurn>,
    /// False after the crew has said that fishing stops, until it says that it starts.
    pub fishing: bool,
    /// The launch that is under way; a bite, the end of fishing or a long silence ends it.
    pub launch: Option<LaunchNow>,
    /// A fish on, or the kite on its way home, until the bait is out again: until lines are set
    /// anew, or the bait is reported with no hands on fish or kite.
    pub strike: Option<Strike>,
    /// What was last said of a pass over a mark.
    pub pass: Option<PassTold>,
    /// Places marked, oldest first.
    pub marks: Vec<Mark>,
    /// Numbers of the network's marks that the crew does not want.
    pub unwanted: Vec<u32>,
    /// Sources that the crew does not want to be used, and since when.
    pub ignored: Vec<(String, Millis)>,
    /// Corrections of instruments that are in force.
    #[serde(skip)]
    pub corrections: Corrections,
    /// Answers to the requests of the plan.
    #[serde(skip)]
    pub answers: Answers,
}

impl DeckNow {
    /// The bite of a fish that is on.
    #[must_use]
    pub fn bite_at(&self) -> Option<Millis> {
        self.strike
            .as_ref()
            .filter(|strike| strike.cause == StrikeCause::Bite && strike.ended.is_none())
            .map(|strike| strike.at)
    }

    /// All marks: those of the crew, and with them what the network tells of and the crew has not
    /// removed.
    #[must_use]
    pub fn marks_with(&self, heard: Vec<Mark>) -> Vec<Mark> {
        let mut all = self.marks.clone();
        let wanted = |mark: &Mark| !self.unwanted.contains(&mark.number);
        all.extend(heard.into_iter().filter(wanted));
        all
    }

    /// Number for the crew's next mark: one more than the greatest, or the least that is free.
    #[must_use]
    pub fn next_mark(&self) -> u32 {
        let greatest = self.marks.iter().map(|mark| mark.number).max();
        let next = greatest.unwrap_or_default() + 1;
        if next <= LAST_OF_CREW {
            return next;
        }
        let taken = |number: &u32| self.marks.iter().any(|mark| mark.number == *number);
        (1..=LAST_OF_CREW)
            .find(|n| !taken(n))
            .unwrap_or(LAST_OF_CREW)
    }

    /// Whether something can be said of the mark of this number. Marks of the network can only be
    /// removed; whether there is one, the crew's log does not know.
    #[must_use]
    pub fn takes_of_mark(&self, number: u32, change: &MarkChange) -> bool {
        match number {
            ..=LAST_OF_CREW => self.marks.iter().any(|mark| mark.number == number),
            _ => *change == MarkChange::Removed,
        }
    }

    /// Whether a word of the strike fits what is so now.
    #[must_use]
    pub fn takes(&self, word: StrikeWord) -> bool {
        match &self.strike {
            Some(strike) => strike.takes(word),
            None => word == StrikeWord::Home && self.fishing,
        }
    }
}
