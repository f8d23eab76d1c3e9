//! What each report of the crew does to the state of the deck.

use super::answers::{Answered, Answers, moved_by};
use super::corrections::Corrections;
use super::crew_log::Report;
use super::mark::{LAST_OF_CREW, Mark, known_how, shown_name};
use super::now::{DeckNow, IntendedTurn, LaunchNow, Restored};
use super::strike::{Strike, StrikeCause};
use super::told::{BaitSeen, LinesOut, PassTold};
use crate::decode::{
    CrewInput, LaunchSaid, Line, MarkChange, MarkSaid, PassWord, SessionMark, StrikeWord,
};
use crate::geodesy::Position;
use crate::time::Millis;
use crate::units::{
    LINE_OUT_MAX_M, Length, in_metres, in_metres_per_second, in_radians, in_radians_per_second,
};

/// Marks kept; the oldest makes room for another.
pub const MOST_MARKS: usize = 64;

/// Sources that can be ignored: more than any boat has.
const MOST_IGNORED: usize = 64;

pub(super) const UNKNOWN: LinesOut = LinesOut {
    kite_m: None,
    main_m: None,
};

/// The helm follows one thing, the last that was said: a turn that is announced or called off ends an
/// accepted pass, and accepting a pass withdraws an announced turn.
fn end_pass(deck: &mut DeckNow, at: Millis) {
    deck.pass = deck.pass.map(|told| match told.said {
        PassWord::Accept => PassTold {
            said: PassWord::End,
            at,
            ..told
        },
        PassWord::Ask | PassWord::Decline | PassWord::End => told,
    });
}

/// What is left of an announced turn that nobody has watched, taken as begun on time and made at
/// its rate: the bow no longer tells where it began.
fn left_of(turn: IntendedTurn, at: Millis) -> Option<IntendedTurn> {
    let under_way_s = at.seconds_since(turn.starts_at);
    if under_way_s <= 0.0 {
        return Some(turn);
    }
    let left_rad = turn.by_rad.abs() - turn.rate_rad_s * under_way_s;
    (left_rad > 0.0).then(|| IntendedTurn {
        starts_at: at,
        by_rad: left_rad.copysign(turn.by_rad),
        ..turn
    })
}

/// The deck of a session in which nothing was told yet.
pub(super) fn nothing_told(lines: LinesOut) -> DeckNow {
    DeckNow {
        lines,
        lines_at: None,
        restored: None,
        bait: None,
        elevation_rad: None,
        bearing_rad: None,
        marker_in_water: None,
        intended_turn: None,
        fishing: true,
        launch: None,
        pass: None,
        strike: None,
        marks: Vec::new(),
        unwanted: Vec::new(),
        ignored: Vec::new(),
        corrections: Corrections::default(),
        answers: Answers::default(),
    }
}

fn count_of(lines: &mut LinesOut, line: Line) -> &mut Option<f64> {
    match line {
        Line::Kite => &mut lines.kite_m,
        Line::Main => &mut lines.main_m,
    }
}

/// Applies one report.
pub(super) fn apply(deck: &mut DeckNow, report: &Report, initial: LinesOut) {
    if let CrewInput::Plan {
        answer,
        asked: Some(asked),
    } = &report.input
    {
        deck.answers.note(Answered {
            at: report.at,
            sequence: report.sequence,
            answer: *answer,
            asked: asked.clone(),
        });
        if let Some(moved) = moved_by(*answer, asked) {
            tell(deck, report.at, &moved, initial);
        }
    } else {
        tell(deck, report.at, &report.input, initial);
    }
}

/// A line that can be out; `None` for a number that is none.
fn line_m(m: f64) -> Option<f64> {
    m.is_finite().then(|| m.clamp(0.0, LINE_OUT_MAX_M))
}

fn tell(deck: &mut DeckNow, at: Millis, input: &CrewInput, initial: LinesOut) {
    match input {
        CrewInput::LinesOut { kite, main } => {
            let count_m = |line: Option<Length>| line.and_then(|line| line_m(in_metres(line)));
            if count(deck, at, count_m(*kite), count_m(*main)) {
                deck.strike = None;
            }
        }
        CrewInput::Moved { line, by } => move_line(deck, at, *line, in_metres(*by)),
        CrewInput::Bait(state) => {
            deck.bait = Some(BaitSeen { state: *state, at });
            deck.strike = deck.strike.take().filter(Strike::under_way);
        }
        CrewInput::Elevation(angle) => deck.elevation_rad = Some((in_radians(*angle), at)),
        CrewInput::Bearing(angle) => deck.bearing_rad = Some((in_radians(*angle), at)),
        CrewInput::MarkerInWater(yes) => deck.marker_in_water = Some((*yes, at)),
        CrewInput::Turn { by, rate, in_s } => {
            let (by_rad, rate_rad_s) = (in_radians(*by), in_radians_per_second(*rate));
            if by_rad.is_finite() && rate_rad_s.is_finite() && rate_rad_s > 0.0 && in_s.is_finite()
            {
                deck.intended_turn = Some(IntendedTurn {
                    told_at: at,
                    starts_at: at.plus_seconds(*in_s),
                    by_rad,
                    rate_rad_s,
                });
                end_pass(deck, at);
            }
        }
        CrewInput::CallOffTurn => {
            deck.intended_turn = None;
            end_pass(deck, at);
        }
        CrewInput::Bite => {
            // Two thumbs report one fish.
            if deck.bite_at().is_none() {
                strike(deck, at, StrikeCause::Bite);
            }
        }
        CrewInput::Strike(word) => strike_word(deck, at, *word),
        CrewInput::Launch(said) => launch(deck, at, said),
        // A new session knows nothing of the last but its marks and corrections; its lines are those of the settings.
        CrewInput::Session(SessionMark::Start) => {
            *deck = DeckNow {
                marks: std::mem::take(&mut deck.marks),
                unwanted: std::mem::take(&mut deck.unwanted),
                ignored: std::mem::take(&mut deck.ignored),
                corrections: deck.corrections,
                ..nothing_told(initial)
            };
        }
        // The rig is in.
        CrewInput::Session(SessionMark::Stop) => {
            *deck = DeckNow {
                fishing: false,
                marks: std::mem::take(&mut deck.marks),
                unwanted: std::mem::take(&mut deck.unwanted),
                ignored: std::mem::take(&mut deck.ignored),
                corrections: deck.corrections,
                ..nothing_told(UNKNOWN)
            };
        }
        CrewInput::Mark(said) => mark(deck, at, said),
        CrewInput::OfMark { number, change } => of_mark(deck, at, *number, change),
        CrewInput::Source { name, used } => {
            deck.ignored.retain(|(ignored, _)| ignored != name);
            if !used && deck.ignored.len() < MOST_IGNORED {
                deck.ignored.push((name.clone(), at));
            }
        }
        CrewInput::Correct(correction) => deck.corrections.put_on(at, *correction),
        CrewInput::Uncorrect(what) => deck.corrections.take_off(*what),
        CrewInput::Pass { mark, said } => {
            if *said == PassWord::Accept {
                deck.intended_turn = None;
            }
            deck.pass = Some(PassTold {
                mark: *mark,
                said: *said,
                at,
            });
        }
        CrewInput::Before {
            age_s,
            counts,
            input,
        } => {
            let then = at.plus_seconds(-age_s);
            tell_of_before(deck, at, then, *counts, input, initial);
        }
        CrewInput::Undo { .. }
        | CrewInput::Plan { .. }
        | CrewInput::Acknowledge { .. }
        | CrewInput::Silence { .. }
        | CrewInput::Forget
        | CrewInput::Setting { .. } => {}
    }
}

/// A place to fish.
fn mark(deck: &mut DeckNow, at: Millis, said: &MarkSaid) {
    let number = said.number.unwrap_or_else(|| deck.next_mark());
    deck.marks.retain(|mark| mark.number != number);
    if deck.marks.len() >= MOST_MARKS {
        deck.marks.remove(0);
    }
    let (source, sigma0_m) = known_how(said.how, said.name.as_deref());
    deck.marks.push(Mark {
        number,
        name: said.name.as_deref().and_then(shown_name),
        source,
        at,
        as_of: at,
        position: said.position.map(Position::from),
        drift: None,
        sigma0_m,
    });
}

/// What is said of a mark. Of one that is gone it does nothing.
fn of_mark(deck: &mut DeckNow, at: Millis, number: u32, change: &MarkChange) {
    if number > LAST_OF_CREW {
        if *change == MarkChange::Removed {
            deck.unwanted.retain(|unwanted| *unwanted != number);
            if deck.unwanted.len() >= MOST_MARKS {
                deck.unwanted.remove(0);
            }
            deck.unwanted.push(number);
        }
        return;
    }
    let Some(i) = deck.marks.iter().position(|mark| mark.number == number) else {
        return;
    };
    match change {
        MarkChange::Removed => {
            deck.marks.remove(i);
        }
        MarkChange::Named(name) => deck.marks[i].name = name.as_deref().and_then(shown_name),
        MarkChange::Drifts(way) => deck.marks[i].drifts(at, *way),
    }
}

/// What is said of a launch.
fn launch(deck: &mut DeckNow, at: Millis, said: &LaunchSaid) {
    match said {
        // Kite and bait are in: nothing that was counted or seen before holds.
        LaunchSaid::Begun(day) => {
            *deck = DeckNow {
                launch: Some(LaunchNow {
                    begun_at: at,
                    at,
                    answered: 0,
                    wind_mps: in_metres_per_second(day.wind),
                    gust_mps: in_metres_per_second(day.gust),
                    speed_mps: in_metres_per_second(day.speed),
                    off_bow_rad: in_radians(day.off_bow),
                    kite_line_m: in_metres(day.kite_line),
                }),
                intended_turn: deck.intended_turn,
                marks: std::mem::take(&mut deck.marks),
                unwanted: std::mem::take(&mut deck.unwanted),
                ignored: std::mem::take(&mut deck.ignored),
                corrections: deck.corrections,
                answers: std::mem::take(&mut deck.answers),
                ..nothing_told(UNKNOWN)
            };
        }
        LaunchSaid::Answered { steps, kite, main } => {
            if let Some(launch) = &mut deck.launch {
                launch.answered = *steps;
                launch.at = at;
            }
            let count_m = |line: Option<Length>| line.and_then(|line| line_m(in_metres(line)));
            count(deck, at, count_m(*kite), count_m(*main));
        }
        LaunchSaid::Ended => deck.launch = None,
    }
}

/// A strike begins, or the kite is called home.
fn strike(deck: &mut DeckNow, at: Millis, cause: StrikeCause) {
    deck.strike = Some(Strike::new(at, cause, deck.lines, deck.bait));
    deck.launch = None;
}

/// A word of the strike. One that does not fit does nothing.
fn strike_word(deck: &mut DeckNow, at: Millis, word: StrikeWord) {
    if !deck.takes(word) {
        return;
    }
    if word == StrikeWord::Home {
        strike(deck, at, StrikeCause::Home);
        return;
    }
    let Some(now) = &mut deck.strike else {
        return;
    };
    let kite_was_in = now.kite_in;
    if !now.say(at, word) {
        deck.strike = None;
        return;
    }
    let kite_comes_in = now.kite_in && !kite_was_in;
    let ended = now.ended.is_some();
    if kite_comes_in {
        count(deck, at, Some(0.0), None);
    }
    if word == StrikeWord::BaitIn {
        count(deck, at, None, Some(0.0));
    }
    if ended && deck.lines.main_m != Some(0.0) {
        // Somebody winds the rest in, and nobody counts.
        deck.lines.main_m = None;
    }
}

/// The crew has counted one line or both. False when it has counted none.
fn count(deck: &mut DeckNow, at: Millis, kite_m: Option<f64>, main_m: Option<f64>) -> bool {
    if kite_m.is_none() && main_m.is_none() {
        return false;
    }
    deck.lines.kite_m = kite_m.or(deck.lines.kite_m);
    deck.lines.main_m = main_m.or(deck.lines.main_m);
    deck.lines_at = Some(at);
    deck.restored = deck.restored.and_then(|restored| {
        let lines = LinesOut {
            kite_m: restored.lines.kite_m.filter(|_| kite_m.is_none()),
            main_m: restored.lines.main_m.filter(|_| main_m.is_none()),
        };
        (lines.kite_m.is_some() || lines.main_m.is_some()).then_some(Restored { lines, ..restored })
    });
    true
}

/// The crew has given or taken line.
fn move_line(deck: &mut DeckNow, at: Millis, line: Line, by_m: f64) {
    let count_m = count_of(&mut deck.lines, line);
    let Some(moved) = count_m.and_then(|m| line_m(m + by_m)) else {
        return;
    };
    *count_m = Some(moved);
    deck.lines_at = Some(at);
    // Moved from a count that nobody has confirmed.
    if let Some(unconfirmed_m) = deck
        .restored
        .as_mut()
        .and_then(|restored| count_of(&mut restored.lines, line).as_mut())
    {
        *unconfirmed_m = moved;
    }
}

/// What was told before the program was started anew. Lines that do not count any more are only
/// shown.
fn tell_of_before(
    deck: &mut DeckNow,
    at: Millis,
    then: Millis,
    counts: bool,
    input: &CrewInput,
    initial: LinesOut,
) {
    match (input, counts) {
        (CrewInput::LinesOut { kite, main }, counts) => {
            tell(deck, then, input, initial);
            let unconfirmed = LinesOut {
                kite_m: deck.lines.kite_m.filter(|_| kite.is_some()),
                main_m: deck.lines.main_m.filter(|_| main.is_some()),
            };
            deck.restored = Some(Restored {
                as_of: then,
                used: counts,
                lines: unconfirmed,
            });
            if !counts {
                deck.lines = UNKNOWN;
                deck.lines_at = None;
            }
        }
        (CrewInput::Turn { .. }, true) => {
            tell(deck, then, input, initial);
            deck.intended_turn = deck.intended_turn.and_then(|turn| left_of(turn, at));
        }
        (CrewInput::Mark(_) | CrewInput::OfMark { .. } | CrewInput::Correct(_), _) | (_, true) => {
            tell(deck, then, input, initial);
        }
        (_, false) => {}
    }
}
