//! The rows of the logbook, before and after they are in its file. Times are moments of the boat's
//! stamps; names carry units.

use std::sync::Arc;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::in_force::LoggedSettings;
use super::marks::MarkRow;
use super::passes::PassRow;
use super::sail::{PointOfSail, Tack};
use crate::decode::{BaitState, Line, PlanAnswer};
use crate::forecast::{Band, Taught, Trouble};
use crate::geodesy::Position;
use crate::score::Revision;
use crate::time::Millis;
use crate::vessel::Quantity;

/// What crew and rig are about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Doing {
    /// The bait is out, or nobody has said otherwise.
    Fishing,
    /// A launch is followed step by step.
    Launch,
    /// A fish is on, or the kite is on its way home.
    Strike,
    /// The crew has said that fishing stopped.
    Stopped,
}

/// How a bite ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BiteResult {
    /// Nothing was on.
    Missed,
    /// The fish got off the hook.
    FishOff,
    /// The line was cut or parted.
    CutOff,
    /// The fish was landed.
    Landed,
    /// The fish was let go.
    Released,
}

/// Boat and rig at one moment; `None` where nothing live was known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// The moment.
    pub at: Millis,
    /// North positive.
    pub latitude_deg: Option<f64>,
    /// East positive.
    pub longitude_deg: Option<f64>,
    /// True heading.
    pub heading_deg_true: Option<f64>,
    /// + to starboard.
    pub rate_of_turn_deg_s: Option<f64>,
    /// Through the water, or what stands in for it.
    pub speed_water_mps: Option<f64>,
    /// Over ground.
    pub speed_ground_mps: Option<f64>,
    /// Course over ground.
    pub course_deg_true: Option<f64>,
    /// True wind over the water at the sensor.
    pub wind_at_sensor_mps: Option<f64>,
    /// Where it comes from.
    pub wind_from_deg_true: Option<f64>,
    /// Kite line out, by the crew's count.
    pub kite_line_m: Option<f64>,
    /// Main line out, by the crew's count.
    pub main_line_m: Option<f64>,
    /// What they are about.
    pub doing: Doing,
    /// What the model holds that the bait does: what at least half of its futures begin with.
    /// `None` without a forecast.
    pub bait: Option<BaitState>,
    /// What the crew last said that it does.
    pub bait_told: Option<BaitState>,
    /// Kite line above the horizon, median of the model.
    pub kite_elevation_deg: Option<f64>,
    /// Kite off dead astern, + to starboard, median of the model.
    pub kite_off_astern_deg: Option<f64>,
    /// Immersion of the bait, 0 to 1, median of the model.
    pub immersion: Option<f64>,
    /// The bait astern of the transom, by the model.
    pub bait_astern_m: Option<f64>,
    /// The bait to starboard of the keel line, by the model.
    pub bait_starboard_m: Option<f64>,
}

impl State {
    /// The angle that the true wind comes from off the bow, -180 to 180, + to starboard.
    #[must_use]
    pub fn wind_off_bow_deg(&self) -> Option<f64> {
        let (from, heading) = (self.wind_from_deg_true?, self.heading_deg_true?);
        Some(crate::angles::wrap_signed_deg(from - heading))
    }
}

/// Time in which bait and boat kept to one kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Begin.
    pub from: Millis,
    /// End.
    pub to: Millis,
    /// What they were about.
    pub doing: Doing,
    /// What the bait did, by the model.
    pub bait: Option<BaitState>,
    /// How far off the bow the wind came.
    pub point_of_sail: Option<PointOfSail>,
    /// From which side.
    pub tack: Option<Tack>,
}

/// Forecasts a second apart that gave one trouble the same chance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChanceRun {
    /// Which trouble.
    pub trouble: Trouble,
    /// When the first was made.
    pub made_at: Millis,
    /// How many.
    pub forecasts: u32,
    /// How far they reach.
    pub horizon_s: f64,
    /// The chance, 0 to 1.
    pub chance: f64,
    /// The part of it for trouble that is on already.
    pub so_now: f64,
    /// Onset after it was made.
    pub onset_s: Option<Band>,
}

/// What a sentence of the crew says, where it has a table of its own.
#[derive(Debug, Clone, PartialEq)]
pub enum Told {
    /// Hands moved a line.
    Moved {
        /// Which.
        line: Line,
        /// + let out, - wound in.
        by_m: f64,
        /// The advisory and revision that had asked for it.
        asked: Option<(String, u32)>,
    },
    /// Lines counted.
    Lines {
        /// Kite line.
        kite_m: Option<f64>,
        /// Main line.
        main_m: Option<f64>,
    },
    /// What the bait does.
    Bait(BaitState),
    /// Kite elevation seen.
    Elevation {
        /// Above the horizon.
        deg: f64,
    },
    /// Kite bearing seen.
    OffAstern {
        /// Off dead astern, + to starboard.
        deg: f64,
    },
    /// Whether the marker lies in the water.
    Marker {
        /// It does.
        in_water: bool,
    },
    /// A turn announced.
    Turn {
        /// + to starboard.
        by_deg: f64,
        /// Positive.
        rate_deg_s: f64,
        /// Until the helm goes over.
        in_s: f64,
    },
    /// It was called off.
    CallOffTurn,
    /// An answer to a line that was asked for and not moved as asked.
    Answer {
        /// What was answered.
        answer: PlanAnswer,
        /// The advisory and revision.
        asked: Option<(String, u32)>,
    },
    /// A fish took the bait.
    Bite,
}

/// One sentence of the crew.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// When.
    pub at: Millis,
    /// By which feed.
    pub feed: String,
    /// Its number.
    pub sequence: u32,
    /// Its word: "BITE".
    pub word: String,
    /// All of it.
    pub sentence: String,
    /// Whether it fitted what was so then.
    pub counted: bool,
    /// What it says.
    pub told: Option<Told>,
}

/// One thing to write. All belong to the session begun last.
#[derive(Debug, Clone, PartialEq)]
pub enum Row {
    /// A session begins.
    Session {
        /// First moment.
        begun_at: Millis,
    },
    /// It was ended in order.
    Ended {
        /// Last moment.
        at: Millis,
    },
    /// The clock of the place where it began: whole hours east of UTC.
    Zone {
        /// Hours.
        hours: i32,
    },
    /// Settings from a moment on.
    Settings {
        /// The moment.
        from: Millis,
        /// What they are.
        in_force: Arc<LoggedSettings>,
    },
    /// The crew spoke.
    Entry(Box<Entry>),
    /// The crew took something back.
    TakenBack {
        /// When it had been said.
        said_at: Millis,
        /// Its number.
        sequence: u32,
        /// When it was taken back.
        at: Millis,
    },
    /// What was known of boat and rig at a bite.
    BiteSeen {
        /// The bite.
        bite_at: Millis,
        /// The boat in the last picture not later than it.
        boat: Option<Box<State>>,
        /// The rig in the last forecast not later than it.
        rig: Option<Box<State>>,
    },
    /// How a bite ended; `None` when that was taken back.
    BiteEnded {
        /// The bite.
        bite_at: Millis,
        /// How, and when.
        result: Option<(BiteResult, Millis)>,
    },
    /// A mark has changed.
    Mark(Box<MarkRow>),
    /// Where a mark was, of which its rows do not say so.
    MarkPlaced {
        /// Its number.
        number: u32,
        /// When it was there.
        as_of: Millis,
        /// Where.
        place: Position,
    },
    /// A pass has come further.
    Pass(Box<PassRow>),
    /// Boat and rig.
    State(Box<State>),
    /// Time in one state.
    Span(Span),
    /// A revision of an advisory.
    Revision(Box<RevisionRow>),
    /// Chances of one trouble.
    Chances(ChanceRun),
    /// What was learnt of the kite.
    Learnt {
        /// Up to when.
        at: Millis,
        /// What.
        taught: Box<Taught>,
    },
    /// An instrument is missing from a moment on.
    TroubleBegins {
        /// What is missing.
        quantity: Quantity,
        /// The moment.
        from: Millis,
        /// Why, in words.
        why: String,
    },
    /// It is back.
    TroubleEnds {
        /// What was missing.
        quantity: Quantity,
        /// Since when it had been missing.
        from: Millis,
        /// When it was back.
        to: Millis,
    },
}

impl Row {
    /// Whether it must not be dropped while nothing can be written: what the crew said.
    #[must_use]
    pub fn must_stay(&self) -> bool {
        matches!(
            self,
            Self::Session { .. }
                | Self::Entry(_)
                | Self::TakenBack { .. }
                | Self::BiteSeen { .. }
                | Self::BiteEnded { .. }
                | Self::Mark(_)
                | Self::MarkPlaced { .. }
        )
    }
}

/// A revision of an advisory, as it is kept.
#[derive(Debug, Clone, PartialEq)]
pub struct RevisionRow {
    /// What scoring needs of it.
    pub scored: Revision,
    /// 1, 2, 3, ...
    pub revision: u32,
    /// Chance, 0 to 1.
    pub chance: Option<f64>,
    /// The same with the line orders carried out.
    pub chance_with_plan: Option<f64>,
    /// The first line that it asks for: + let out, - wind in.
    pub asks: Option<(Line, f64)>,
    /// Headline.
    pub title: String,
    /// Why, in words.
    pub cause: String,
}
