//! Labels of a real day from the crew's reports, the only truth available at sea.
//! In: crew inputs with their seconds. Out: [`Labels`] and moves. Coarser than a simulator's truth:
//! an onset is the moment of the tap, so it is late by as long as nobody looked; a wrong tap is a
//! wrong event; unannounced turns are unknown.

use super::labels::{Cause, Event, Labels, LineMove, Rules, Turn, cause};
use super::truth::TruthTurn;
use crate::decode::{BaitState, CrewInput};
use crate::forecast::Trouble;
use crate::units::{in_degrees, in_degrees_per_second, in_metres};

/// Pace assumed for a reported move. Invented, typical.
const MOVE_PACE_MPS: f64 = 1.0;

/// One input with its moment.
pub(super) type Said = (f64, CrewInput);

/// Line moves as reported: each ends when it is reported.
pub(super) fn moves(said: &[Said], rules: &Rules) -> Vec<LineMove> {
    said.iter()
        .filter_map(|(t_s, input)| match input {
            CrewInput::Moved { line, by } => {
                let by_m = in_metres(*by);
                Some(LineMove {
                    line: *line,
                    by_m,
                    start_s: t_s - by_m.abs() / MOVE_PACE_MPS,
                    end_s: *t_s,
                })
            }
            _ => None,
        })
        .filter(|m| m.by_m.abs() >= rules.least_move_m)
        .collect()
}

/// Labels from the crew's words alone.
pub(super) fn labels(said: &[Said], ends_s: f64, rules: &Rules) -> Labels {
    let turns = turns(said, rules);
    let moves = moves(said, rules);
    let mut events = Vec::new();
    for (trouble, state) in [
        (Trouble::BaitAirborne, BaitState::Airborne),
        (Trouble::BaitDragging, BaitState::Dragging),
    ] {
        for (onset_s, end_s, before) in states(said, state, ends_s) {
            let cause = if before {
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
    Labels {
        turns,
        moves,
        events,
        ends_s,
        turn_time_s: None,
    }
}

/// From a tap of the state to the next tap of another; whether it is the first tap of all.
fn states(said: &[Said], state: BaitState, ends_s: f64) -> Vec<(f64, f64, bool)> {
    let mut found = Vec::new();
    let mut last: Option<BaitState> = None;
    let mut since: Option<(f64, bool)> = None;
    for (t_s, input) in said {
        let CrewInput::Bait(seen) = input else {
            continue;
        };
        match since {
            None if *seen == state => since = Some((*t_s, last.is_none())),
            Some((onset_s, before)) if *seen != state => {
                found.push((onset_s, *t_s, before));
                since = None;
            }
            _ => {}
        }
        last = Some(*seen);
    }
    if let Some((onset_s, before)) = since {
        found.push((onset_s, ends_s, before));
    }
    found
}

/// Announced turns that were not called off or replaced before they began.
fn turns(said: &[Said], rules: &Rules) -> Vec<Turn> {
    let mut turns: Vec<TruthTurn> = Vec::new();
    for (t_s, input) in said {
        if !matches!(input, CrewInput::Turn { .. } | CrewInput::CallOffTurn) {
            continue;
        }
        if turns.last().is_some_and(|turn| turn.start_s > *t_s) {
            turns.pop();
        }
        if let CrewInput::Turn { by, rate, in_s } = input {
            turns.push(TruthTurn {
                start_s: t_s + in_s,
                by_deg: in_degrees(*by),
                rate_deg_s: in_degrees_per_second(*rate),
                told_ahead_s: Some(*in_s),
            });
        }
    }
    turns.iter().map(|turn| Turn::new(turn, rules)).collect()
}
