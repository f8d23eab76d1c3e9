//! From the truth to events, moves and turns with their causes.
//! In: truth rows and turns. Out: [`Labels`]. Knows no advisory and no chance.

use std::ops::RangeInclusive;

use serde::Serialize;

use super::truth::{Truth, TruthRow, TruthTurn};
use crate::decode::{BaitState, Line};
use crate::forecast::Trouble;
use crate::rig::DRAGGING_IMMERSION;

/// Whether a row of the truth shows a trouble.
type Sign = fn(&TruthRow, &Rules) -> bool;

/// How the truth shows this trouble; `None` where it does not, so that the trouble is not scored.
fn sign(trouble: Trouble) -> Option<Sign> {
    match trouble {
        Trouble::BaitAirborne => Some(|row, _| match row.at_sea {
            Some(state) => state == BaitState::Airborne,
            None => row.immersion <= 0.0,
        }),
        Trouble::BaitDragging => Some(|row, rules| match row.at_sea {
            Some(state) => state == BaitState::Dragging,
            None => row.immersion >= rules.dragging_immersion,
        }),
        Trouble::KiteSinking => Some(|row, rules| row.kite_elevation_deg < rules.kite_sinking_deg),
        Trouble::OffCorner
        | Trouble::LineInWater
        | Trouble::LineOverload
        | Trouble::FalseRelease
        | Trouble::LineFoul => None,
    }
}

/// Whether the truth shows this trouble, so that it is scored.
#[must_use]
pub fn is_scored(trouble: Trouble) -> bool {
    sign(trouble).is_some()
}

/// All scored troubles, in the order of the report.
pub(super) fn scored() -> impl Iterator<Item = Trouble> {
    Trouble::ALL
        .into_iter()
        .filter(|trouble| is_scored(*trouble))
}

/// Whether this row of the truth shows the trouble.
fn is_on(trouble: Trouble, row: &TruthRow, rules: &Rules) -> bool {
    sign(trouble).is_some_and(|shows| shows(row, rules))
}

/// Limits used in scoring; the defaults are those in the module head of `score`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Rules {
    /// Shortest event.
    pub least_s: f64,
    /// Events of one kind closer than this are one.
    pub join_s: f64,
    /// Immersion from which the bait drags.
    pub dragging_immersion: f64,
    /// Elevation below which the kite sinks.
    pub kite_sinking_deg: f64,
    /// How long a turn has an effect after its angle has been steered.
    pub turn_tail_s: f64,
    /// How long a line move has an effect.
    pub hands_tail_s: f64,
    /// Shortest move of a line.
    pub least_move_m: f64,
    /// How late hands may begin and still have averted it.
    pub averted_grace_s: f64,
    /// Shortest window of a chance sample.
    pub least_window_s: f64,
    /// The time before an onset that is no longer free of trouble.
    pub trouble_near_s: f64,
}

impl Default for Rules {
    fn default() -> Self {
        Self {
            least_s: 3.0,
            join_s: 5.0,
            dragging_immersion: DRAGGING_IMMERSION,
            kite_sinking_deg: 20.0,
            turn_tail_s: 40.0,
            hands_tail_s: 15.0,
            least_move_m: 0.5,
            averted_grace_s: 5.0,
            least_window_s: 5.0,
            trouble_near_s: 60.0,
        }
    }
}

/// A turn and the span in which it has an effect.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    /// When it was announced; `None` when it was not.
    pub told_s: Option<f64>,
    /// Helm over.
    pub start_s: f64,
    /// End of its effect.
    pub end_s: f64,
}

impl Turn {
    pub(super) fn new(turn: &TruthTurn, rules: &Rules) -> Self {
        Self {
            told_s: turn
                .told_ahead_s
                .map(|ahead| (turn.start_s - ahead).max(0.0)),
            start_s: turn.start_s,
            end_s: turn.start_s + (turn.by_deg / turn.rate_deg_s).abs() + rules.turn_tail_s,
        }
    }

    /// From when it could be known.
    #[must_use]
    pub fn known_s(&self) -> f64 {
        self.told_s.unwrap_or(self.start_s).min(self.start_s)
    }

    fn acts(&self) -> RangeInclusive<f64> {
        self.start_s..=self.end_s
    }
}

/// A line given or taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineMove {
    /// Which.
    pub line: Line,
    /// + given, - taken.
    pub by_m: f64,
    /// Begin.
    pub start_s: f64,
    /// End.
    pub end_s: f64,
}

impl LineMove {
    /// Whether it can bring this trouble.
    pub(super) fn brings(&self, trouble: Trouble) -> bool {
        self.acts_on(trouble, 1.0)
    }

    /// Whether it works against this trouble.
    pub(super) fn meets(&self, trouble: Trouble) -> bool {
        self.acts_on(trouble, -1.0)
    }

    /// The kite line acts either way; the main line in its own way, where the trouble has one.
    fn acts_on(&self, trouble: Trouble, way: f64) -> bool {
        match self.line {
            Line::Kite => true,
            Line::Main => trouble
                .main_line_way()
                .is_none_or(|brings| way * brings * self.by_m > 0.0),
        }
    }
}

/// Cause of an event.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    /// The turn with this index.
    Turn(usize),
    /// A line moved.
    Hands,
    /// Gust, shift or an earlier mistrim.
    Air,
    /// It was already on when the truth began.
    Before,
}

/// One trouble from onset to end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Event {
    /// What.
    pub trouble: Trouble,
    /// Onset.
    pub onset_s: f64,
    /// End: it is over at this moment.
    pub end_s: f64,
    /// Its cause.
    pub cause: Cause,
}

/// Everything that scoring needs from the truth of one recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Labels {
    /// Turns, in order of time.
    pub turns: Vec<Turn>,
    /// Moves of lines.
    pub moves: Vec<LineMove>,
    /// Events, in order of kind and time.
    pub events: Vec<Event>,
    /// Until when the truth is known.
    pub ends_s: f64,
    /// Seconds in the spans of turns, and the part of them in which the bait skips; `None` where
    /// the truth has no rows.
    pub turn_time_s: Option<(f64, f64)>,
}

impl Labels {
    /// Finds events, moves and causes; `kite_moves` come from the crew's words, because the truth
    /// does not contain them.
    #[must_use]
    pub fn from_truth(truth: &Truth, kite_moves: &[LineMove], rules: &Rules) -> Self {
        let turns: Vec<Turn> = truth.turns.iter().map(|t| Turn::new(t, rules)).collect();
        let mut moves = main_line_moves(&truth.rows, rules);
        moves.extend(kite_moves.iter().filter(|m| m.line == Line::Kite));
        let mut events = Vec::new();
        for trouble in scored() {
            for (onset_s, end_s) in stretches(&truth.rows, |row| is_on(trouble, row, rules), rules)
            {
                let begun = truth.rows.first().is_some_and(|row| onset_s <= row.t_s);
                let cause = if begun {
                    Cause::Before
                } else {
                    cause(trouble, onset_s, &turns, &moves, rules)
                };
                events.push(Event {
                    trouble,
                    onset_s,
                    end_s,
                    cause,
                });
            }
        }
        Self {
            turn_time_s: Some(turn_time(&truth.rows, &turns, rules)),
            ends_s: truth.rows.last().map_or(0.0, |row| row.t_s),
            turns,
            moves,
            events,
        }
    }

    /// The event of this kind that is on, if any.
    pub(super) fn on_at(&self, trouble: Trouble, t_s: f64) -> Option<&Event> {
        self.events
            .iter()
            .find(|e| e.trouble == trouble && e.onset_s <= t_s && t_s < e.end_s)
    }

    /// The latest turn whose span contains the moment, from when it could be known to the end of
    /// its effect.
    pub(super) fn turn_at(&self, t_s: f64) -> Option<usize> {
        self.turns
            .iter()
            .rposition(|turn| (turn.known_s()..=turn.end_s).contains(&t_s))
    }
}

/// Cause of an event with this onset.
pub(super) fn cause(
    trouble: Trouble,
    onset_s: f64,
    turns: &[Turn],
    moves: &[LineMove],
    rules: &Rules,
) -> Cause {
    let by_hands = moves.iter().any(|m| {
        m.brings(trouble) && (m.start_s..=m.end_s + rules.hands_tail_s).contains(&onset_s)
    });
    if by_hands {
        return Cause::Hands;
    }
    turns
        .iter()
        .rposition(|turn| turn.acts().contains(&onset_s))
        .map_or(Cause::Air, Cause::Turn)
}

/// Stretches in which `holds`: short ones are dropped, then those close together are joined.
fn stretches(
    rows: &[TruthRow],
    holds: impl Fn(&TruthRow) -> bool,
    rules: &Rules,
) -> Vec<(f64, f64)> {
    let mut found: Vec<(f64, f64)> = Vec::new();
    let mut since: Option<f64> = None;
    let ends_s = rows.last().map_or(0.0, |row| row.t_s);
    let mut close = |onset_s: f64, end_s: f64| {
        if end_s - onset_s < rules.least_s {
            return;
        }
        match found.last_mut() {
            Some(last) if onset_s - last.1 < rules.join_s => last.1 = end_s,
            _ => found.push((onset_s, end_s)),
        }
    };
    for row in rows {
        match (since, holds(row)) {
            (None, true) => since = Some(row.t_s),
            (Some(onset_s), false) => {
                close(onset_s, row.t_s);
                since = None;
            }
            _ => {}
        }
    }
    if let Some(onset_s) = since {
        close(onset_s, ends_s);
    }
    found
}

/// Shorter pauses do not split a move.
const PAUSE_S: f64 = 3.0;
/// The truth has a resolution of a centimetre.
const STILL_M: f64 = 0.005;

fn main_line_moves(rows: &[TruthRow], rules: &Rules) -> Vec<LineMove> {
    let mut moves: Vec<LineMove> = Vec::new();
    for (a, b) in rows.iter().zip(rows.iter().skip(1)) {
        let by_m = b.main_line_out_m - a.main_line_out_m;
        if by_m.abs() < STILL_M {
            continue;
        }
        match moves.last_mut() {
            Some(last) if a.t_s - last.end_s < PAUSE_S && last.by_m * by_m > 0.0 => {
                last.by_m += by_m;
                last.end_s = b.t_s;
            }
            _ => moves.push(LineMove {
                line: Line::Main,
                by_m,
                start_s: a.t_s,
                end_s: b.t_s,
            }),
        }
    }
    moves.retain(|m| m.by_m.abs() >= rules.least_move_m);
    moves
}

/// Seconds in the spans of turns, and those in which the bait skips.
fn turn_time(rows: &[TruthRow], turns: &[Turn], rules: &Rules) -> (f64, f64) {
    let (mut all_s, mut skipping_s) = (0.0, 0.0);
    for (a, b) in rows.iter().zip(rows.iter().skip(1)) {
        if !turns.iter().any(|turn| turn.acts().contains(&a.t_s)) {
            continue;
        }
        all_s += b.t_s - a.t_s;
        let skips =
            !is_on(Trouble::BaitAirborne, a, rules) && !is_on(Trouble::BaitDragging, a, rules);
        if skips {
            skipping_s += b.t_s - a.t_s;
        }
    }
    (all_s, skipping_s)
}
