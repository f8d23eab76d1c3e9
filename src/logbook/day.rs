//! The rows of one day, as they come out of the file.

use super::in_force::Kite;
use super::marks::{LoggedMark, MarkRow};
use super::passes::PassRow;
use super::rows::{BiteResult, ChanceRun, Span, State};
use crate::advice::{Kind, Outcome};
use crate::decode::{BaitState, Line};
use crate::forecast::{LearntNow, LearntNumber};
use crate::score::Revision;
use crate::time::Millis;
use crate::vessel::Quantity;

/// A bite with what was known then.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BiteRow {
    /// When it was told.
    pub at: Millis,
    /// How it ended, and when.
    pub result: Option<(BiteResult, Millis)>,
    /// Boat and rig then: the boat in the last picture not later than the bite, the rig in the last
    /// forecast; its moment is that of the bite.
    pub state: State,
}

/// Hands moved a line.
#[derive(Debug, Clone, PartialEq)]
pub struct MoveRow {
    /// When it was told.
    pub at: Millis,
    /// Which.
    pub line: Line,
    /// + let out, - wound in.
    pub by_m: f64,
    /// The advisory that had asked for it.
    pub asked_by: Option<String>,
}

/// A turn that was announced.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnRow {
    /// When it was told.
    pub at: Millis,
    /// + to starboard.
    pub by_deg: f64,
    /// Until the helm goes over.
    pub in_s: f64,
}

/// An advisory from raised to ended.
#[derive(Debug, Clone, PartialEq)]
pub struct AdvisoryRow {
    /// Its id.
    pub id: String,
    /// What threatened.
    pub kind: Kind,
    /// First headline.
    pub title: String,
    /// When it was raised.
    pub raised_at: Millis,
    /// When it ended, and how.
    pub ended: Option<(Millis, Outcome)>,
    /// How many revisions it had.
    pub revisions: u32,
}

/// An instrument that was missing.
#[derive(Debug, Clone, PartialEq)]
pub struct TroubleRow {
    /// What was missing.
    pub quantity: Quantity,
    /// Since when.
    pub from: Millis,
    /// Until when; `None`: until the end of the session.
    pub to: Option<Millis>,
    /// Why, in words.
    pub why: String,
}

/// One number of what was learnt of a kite.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LearntRow {
    /// When it was so.
    pub at: Millis,
    /// By how many reports, the last of them when.
    pub learnt: LearntNow,
    /// The number.
    pub number: LearntNumber,
}

/// What one session holds of a day. Everything in order of time; what was taken back is left out,
/// but for the sentences.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SessionRows {
    /// First moment of it that belongs to the day.
    pub from: Millis,
    /// Every sentence of the crew.
    pub sentences: Vec<(Millis, String)>,
    /// Revisions of advisories.
    pub revisions: Vec<Revision>,
    /// Chances of the scored troubles.
    pub chances: Vec<ChanceRun>,
    /// Time by kind.
    pub spans: Vec<Span>,
    /// Boat and rig, thinned.
    pub states: Vec<State>,
    /// Bites.
    pub bites: Vec<BiteRow>,
    /// Moves of lines.
    pub moves: Vec<MoveRow>,
    /// What the crew said that the bait did.
    pub bait_told: Vec<(Millis, BaitState)>,
    /// Turns announced.
    pub turns: Vec<TurnRow>,
    /// Advisories raised.
    pub advisories: Vec<AdvisoryRow>,
    /// Instruments missing.
    pub troubles: Vec<TroubleRow>,
    /// Which kite flew from when on.
    pub kites: Vec<(Millis, Kite)>,
    /// What was learnt of it.
    pub learnt: Vec<LearntRow>,
    /// Marks that were there.
    pub marks: Vec<LoggedMark>,
    /// What happened to marks.
    pub mark_changes: Vec<MarkRow>,
    /// Passes over marks.
    pub passes: Vec<PassRow>,
}

/// One day.
#[derive(Debug, Clone, PartialEq)]
pub struct DayRows {
    /// Its date where the boat was.
    pub date: chrono::NaiveDate,
    /// Hours of that place's clock east of UTC.
    pub zone_hours: i32,
    /// The sessions of the day, in order of time.
    pub sessions: Vec<SessionRows>,
}
