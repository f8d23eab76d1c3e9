//! What happened on a day, in order, for a page to draw. Pure.

use serde::Serialize;
use utoipa::ToSchema;

use super::day::{DayRows, SessionRows};
use super::marks::{LoggedMark, MarkRow};
use super::passes::PassRow;
use super::place::Place;
use super::rows::{Doing, Span, State};
use super::turns::turned;
use crate::advice::{Kind, Outcome};
use crate::decode::{BaitState, Line};
use crate::time::Millis;
use crate::vessel::Quantity;

/// Time in which crew and bait kept to one thing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Stretch {
    /// Begin.
    #[schema(value_type = String, format = DateTime)]
    pub from: Millis,
    /// End.
    #[schema(value_type = String, format = DateTime)]
    pub to: Millis,
    /// What the crew was about.
    pub doing: Doing,
    /// What the bait did, by the model; `null` without a forecast.
    pub bait: Option<BaitState>,
}

/// An advisory from raised to ended.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LoggedAdvisory {
    /// Its id, unique within a session.
    pub id: String,
    /// What threatened.
    pub kind: Kind,
    /// Its first headline.
    pub title: String,
    /// When it was raised.
    #[schema(value_type = String, format = DateTime)]
    pub raised_at: Millis,
    /// When it ended; `null`: not before the session.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub ended_at: Option<Millis>,
    /// How it ended.
    pub outcome: Option<Outcome>,
    /// How many revisions it had.
    pub revisions: u32,
}

/// A line that hands moved.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LoggedMove {
    /// When it was told.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
    /// Which line.
    pub line: Line,
    /// + let out, - wound in.
    pub by_m: f64,
    /// The advisory that had asked for it; `null` when none had.
    pub asked_by: Option<String>,
}

/// What the crew said that the bait did.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct LoggedTap {
    /// When.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
    /// What it did.
    pub bait: BaitState,
}

/// A turn that was announced.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct LoggedTurn {
    /// When it was told.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
    /// When the helm was to go over.
    #[schema(value_type = String, format = DateTime)]
    pub starts_at: Millis,
    /// + to starboard.
    pub by_deg: f64,
}

/// A turn that the boat made, announced or not.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct MadeTurn {
    /// Begin, to some seconds.
    #[schema(value_type = String, format = DateTime)]
    pub from: Millis,
    /// End, to some seconds.
    #[schema(value_type = String, format = DateTime)]
    pub to: Millis,
    /// + to starboard, to about 10 degrees.
    pub by_deg: f64,
}

/// An instrument that was missing.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LoggedTrouble {
    /// What was missing.
    pub quantity: Quantity,
    /// Since when.
    #[schema(value_type = String, format = DateTime)]
    pub from: Millis,
    /// Until when; `null`: to the end of the session.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub to: Option<Millis>,
    /// Why, in words.
    pub why: String,
}

/// A point of the track.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct TrackPoint {
    /// When.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
    /// Of the boat.
    pub latitude_deg: f64,
    /// Of the boat.
    pub longitude_deg: f64,
    /// Of the bait, by the model; `null` without a forecast.
    pub bait_latitude_deg: Option<f64>,
    /// Of the bait, by the model.
    pub bait_longitude_deg: Option<f64>,
    /// What the bait did, by the model.
    pub bait: Option<BaitState>,
}

/// A day in order of time.
#[derive(Debug, Clone, PartialEq, Default, Serialize, ToSchema)]
pub struct Timeline {
    /// What crew and bait did.
    pub stretches: Vec<Stretch>,
    /// Advisories raised.
    pub advisories: Vec<LoggedAdvisory>,
    /// Lines moved.
    pub moves: Vec<LoggedMove>,
    /// What the crew said of the bait.
    pub taps: Vec<LoggedTap>,
    /// Turns announced.
    pub turns: Vec<LoggedTurn>,
    /// Turns of 30 degrees or more that the boat made.
    pub made_turns: Vec<MadeTurn>,
    /// Instruments missing.
    pub troubles: Vec<LoggedTrouble>,
    /// Marks that were there.
    pub marks: Vec<LoggedMark>,
    /// What happened to marks.
    pub mark_changes: Vec<MarkRow>,
    /// Passes over marks.
    pub passes: Vec<PassRow>,
    /// Where boat and bait went, thinned.
    pub track: Vec<TrackPoint>,
}

/// Puts a day in order.
#[must_use]
pub fn timeline(day: &DayRows) -> Timeline {
    let mut timeline = Timeline::default();
    for session in &day.sessions {
        add(&mut timeline, session);
    }
    timeline
}

fn add(timeline: &mut Timeline, session: &SessionRows) {
    let begins = timeline.stretches.len();
    for span in &session.spans {
        match timeline.stretches[begins..].last_mut() {
            Some(last) if goes_on(last, span) => last.to = span.to,
            _ => timeline.stretches.push(Stretch {
                from: span.from,
                to: span.to,
                doing: span.doing,
                bait: span.bait,
            }),
        }
    }
    let advisories = session.advisories.iter().cloned();
    timeline
        .advisories
        .extend(advisories.map(|advisory| LoggedAdvisory {
            id: advisory.id,
            kind: advisory.kind,
            title: advisory.title,
            raised_at: advisory.raised_at,
            ended_at: advisory.ended.map(|(at, _)| at),
            outcome: advisory.ended.map(|(_, outcome)| outcome),
            revisions: advisory.revisions,
        }));
    let moves = session.moves.iter().cloned();
    timeline.moves.extend(moves.map(|moved| LoggedMove {
        at: moved.at,
        line: moved.line,
        by_m: moved.by_m,
        asked_by: moved.asked_by,
    }));
    let taps = session.bait_told.iter();
    timeline.taps.extend(taps.map(|(at, bait)| LoggedTap {
        at: *at,
        bait: *bait,
    }));
    timeline
        .turns
        .extend(session.turns.iter().map(|turn| LoggedTurn {
            at: turn.at,
            starts_at: turn.at.plus_seconds(turn.in_s),
            by_deg: turn.by_deg,
        }));
    let made = turned(&session.states).into_iter();
    timeline.made_turns.extend(made.map(|turn| MadeTurn {
        from: turn.from,
        to: turn.to,
        by_deg: turn.by_deg.round(),
    }));
    timeline.marks.extend(session.marks.iter().cloned());
    let changes = session.mark_changes.iter().cloned();
    timeline.mark_changes.extend(changes);
    timeline.passes.extend(&session.passes);
    let troubles = session.troubles.iter().cloned();
    timeline
        .troubles
        .extend(troubles.map(|trouble| LoggedTrouble {
            quantity: trouble.quantity,
            from: trouble.from,
            to: trouble.to,
            why: trouble.why,
        }));
    timeline
        .track
        .extend(session.states.iter().filter_map(track_point));
}

fn goes_on(last: &Stretch, span: &Span) -> bool {
    last.to == span.from && (last.doing, last.bait) == (span.doing, span.bait)
}

fn track_point(state: &State) -> Option<TrackPoint> {
    let boat = Place::of_boat(state)?.rounded();
    let bait = Place::of_bait(state).map(Place::rounded);
    Some(TrackPoint {
        at: state.at,
        latitude_deg: boat.latitude_deg,
        longitude_deg: boat.longitude_deg,
        bait_latitude_deg: bait.map(|place| place.latitude_deg),
        bait_longitude_deg: bait.map(|place| place.longitude_deg),
        bait: state.bait,
    })
}
