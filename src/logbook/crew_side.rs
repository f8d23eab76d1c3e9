//! The crew's side of the logbook: what each sentence says, whether it counted, what it took back.
//!
//! Whether a report counts and what a retraction takes back is the deck's to say (`vessel`), so a
//! deck follows along here. It stands apart from the engine's, because an entry must be on the disk
//! before its poster is answered, and the engine may be at work on a forecast.

use super::marks;
use super::rows::{BiteResult, Entry, Row, Told};
use crate::decode::{CrewInput, Decoder, Observation, SessionMark, StrikeWord};
use crate::feed::CREW_FEED;
use crate::time::Millis;
use crate::units::{in_degrees, in_degrees_per_second, in_metres};
use crate::vessel::{CrewEvent, Deck, LinesOut, StrikeCause, moved_by};

/// How much line is out is not judged here.
const UNKNOWN: LinesOut = LinesOut {
    kite_m: None,
    main_m: None,
};

/// Follows what the crew says.
#[derive(Debug)]
pub(super) struct CrewSide {
    deck: Deck,
}

impl CrewSide {
    pub fn new() -> Self {
        Self {
            deck: Deck::new(UNKNOWN),
        }
    }

    /// The rows of one sentence; none for what is no crew sentence. Says of a new bite when it was.
    pub fn take(
        &mut self,
        at: Millis,
        feed: &str,
        text: &str,
        rows: &mut Vec<Row>,
    ) -> Option<Millis> {
        let decoded = Decoder::new().decode(text).ok()?;
        let mut bite = None;
        for observation in &decoded.observations {
            if let Observation::Crew { seq, input } = observation {
                let entry = Entry {
                    at,
                    feed: feed.to_owned(),
                    sequence: *seq,
                    word: word_of(text),
                    sentence: text.to_owned(),
                    counted: true,
                    told: None,
                };
                bite = self.input(entry, input, rows);
            }
        }
        bite
    }

    fn input(
        &mut self,
        mut entry: Entry,
        input: &CrewInput,
        rows: &mut Vec<Row>,
    ) -> Option<Millis> {
        let at = entry.at;
        let before = self.bite(at);
        let marked = marks::is_of_mark(input).then(|| self.deck.now(at).marks);
        let event = match input {
            CrewInput::Acknowledge { .. }
            | CrewInput::Silence { .. }
            | CrewInput::Forget
            | CrewInput::Setting { .. } => None,
            CrewInput::Session(SessionMark::Start) => {
                self.deck = self.deck.next_session(at, UNKNOWN);
                None
            }
            _ => {
                let event = self.deck.observe(at, entry.sequence, input);
                entry.counted = event.is_some();
                event
            }
        };
        let is_own = entry.feed == CREW_FEED && entry.sequence == 0;
        let is_new = match input {
            // Two thumbs report one fish.
            CrewInput::Bite => before.is_none(),
            _ => true,
        };
        entry.told = told(input).filter(|_| entry.counted && is_new);
        let new_bite = matches!(entry.told, Some(Told::Bite));
        rows.push(Row::Entry(Box::new(entry)));
        match &event {
            Some(CrewEvent::Reported(_)) => {
                if let (Some(bite_at), Some(result)) = (before, result_of(input)) {
                    let result = Some((result, at));
                    rows.push(Row::BiteEnded { bite_at, result });
                }
            }
            Some(CrewEvent::Retracted { report, .. }) => {
                rows.push(Row::TakenBack {
                    said_at: report.at,
                    sequence: report.sequence,
                    at,
                });
                if let (Some(bite_at), Some(_)) = (self.bite(at), result_of(&report.input)) {
                    let result = None;
                    rows.push(Row::BiteEnded { bite_at, result });
                }
            }
            None => {}
        }
        if let (Some(marked), Some(_)) = (marked, &event) {
            let changed = marks::changes(at, input, &marked, &self.deck.now(at).marks);
            rows.extend(changed.into_iter().map(|mark| Row::Mark(Box::new(mark))));
        }
        if is_own && *input == CrewInput::Session(SessionMark::Stop) {
            rows.push(Row::Ended { at });
        }
        new_bite.then_some(at)
    }

    /// The bite that hands are on, or that ended last.
    fn bite(&self, at: Millis) -> Option<Millis> {
        let strike = self.deck.now(at).strike?;
        (strike.cause == StrikeCause::Bite).then_some(strike.at)
    }
}

/// The word of a crew sentence: `$PSKWT,<seq>,<word>...`.
fn word_of(text: &str) -> String {
    let body = text.split('*').next().unwrap_or_default();
    body.split(',').nth(2).unwrap_or_default().to_owned()
}

fn result_of(input: &CrewInput) -> Option<BiteResult> {
    let CrewInput::Strike(word) = input else {
        return None;
    };
    match word {
        StrikeWord::Missed => Some(BiteResult::Missed),
        StrikeWord::FishOff => Some(BiteResult::FishOff),
        StrikeWord::CutOff => Some(BiteResult::CutOff),
        StrikeWord::Landed => Some(BiteResult::Landed),
        StrikeWord::Released => Some(BiteResult::Released),
        StrikeWord::Home
        | StrikeWord::BaitIn
        | StrikeWord::MarkerDown
        | StrikeWord::Tight
        | StrikeWord::DragSet
        | StrikeWord::Fish { .. }
        | StrikeWord::Turned
        | StrikeWord::KiteIn
        | StrikeWord::AnglerOn
        | StrikeWord::StaysOut => None,
    }
}

/// What has a table of its own.
fn told(input: &CrewInput) -> Option<Told> {
    Some(match input {
        CrewInput::Moved { line, by } => Told::Moved {
            line: *line,
            by_m: in_metres(*by),
            asked: None,
        },
        CrewInput::Plan { answer, asked } => {
            let named = asked.as_ref().map(|a| (a.advisory.clone(), a.revision));
            match asked.as_ref().and_then(|asked| moved_by(*answer, asked)) {
                Some(CrewInput::Moved { line, by }) => Told::Moved {
                    line,
                    by_m: in_metres(by),
                    asked: named,
                },
                _ => Told::Answer {
                    answer: *answer,
                    asked: named,
                },
            }
        }
        CrewInput::LinesOut { .. } | CrewInput::Launch(_) => {
            let (kite, main) = input.counted()?;
            Told::Lines {
                kite_m: kite.map(in_metres),
                main_m: main.map(in_metres),
            }
        }
        CrewInput::Bait(state) => Told::Bait(*state),
        CrewInput::Elevation(angle) => Told::Elevation {
            deg: in_degrees(*angle),
        },
        CrewInput::Bearing(angle) => Told::OffAstern {
            deg: in_degrees(*angle),
        },
        CrewInput::MarkerInWater(in_water) => Told::Marker {
            in_water: *in_water,
        },
        CrewInput::Turn { by, rate, in_s } => Told::Turn {
            by_deg: in_degrees(*by),
            rate_deg_s: in_degrees_per_second(*rate),
            in_s: *in_s,
        },
        CrewInput::CallOffTurn => Told::CallOffTurn,
        CrewInput::Bite => Told::Bite,
        CrewInput::Undo { .. }
        | CrewInput::Strike(_)
        | CrewInput::Mark(_)
        | CrewInput::OfMark { .. }
        | CrewInput::Pass { .. }
        | CrewInput::Source { .. }
        | CrewInput::Acknowledge { .. }
        | CrewInput::Silence { .. }
        | CrewInput::Session(_)
        | CrewInput::Correct(_)
        | CrewInput::Uncorrect(_)
        | CrewInput::Forget
        | CrewInput::Setting { .. }
        | CrewInput::Before { .. } => return None,
    })
}
