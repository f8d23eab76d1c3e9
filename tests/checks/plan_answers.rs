//! What the crew answers to the correction shown moves the counted line.

use skimwatch::advice::{Action, first_asked};
use skimwatch::cause::Cause;
use skimwatch::decode::{Asked, CrewInput, Line, PlanAnswer, encode_crew};
use skimwatch::engine::{Engine, EngineSettings, Event, Mode, Picture};
use skimwatch::forecast::Forecaster;
use skimwatch::time::Millis;
use skimwatch::units::{in_metres, metres};

use crate::replay::turn_toward;

/// Few members: what is tested is the count, not the chances.
fn settings() -> EngineSettings {
    let text = std::fs::read_to_string("config/demo.toml").unwrap();
    let settings = skimwatch::settings::parse(&text, "config/demo.toml").unwrap();
    let mut forecast = settings.forecast;
    forecast.futures = 24;
    EngineSettings {
        forecaster: Forecaster::new(
            forecast,
            Some(settings.rig.parameters.clone()),
            settings.boat.wind_sensor_height_m,
        )
        .unwrap(),
        ..settings.engine().unwrap()
    }
}

struct Deck {
    engine: Engine,
    at: Millis,
    sequence: u32,
}

impl Deck {
    fn says(&mut self, input: &CrewInput) -> Picture {
        self.sequence += 1;
        self.at = self.at.plus_seconds(0.1);
        let text = encode_crew(input, self.sequence);
        self.engine
            .take(Event::Line {
                at: self.at,
                feed: "crew",
                text: &text,
            })
            .unwrap()
    }
}

/// Plays the invented turn toward the wind until a correction of a line is shown.
fn until_a_correction_is_shown() -> (Deck, Picture) {
    let mut deck = Deck {
        engine: Engine::new(settings(), Mode::Replay),
        at: Millis(0),
        sequence: 100,
    };
    let mut next = None;
    for (at, feed, text) in turn_toward() {
        let tick = *next.get_or_insert(at);
        if tick <= at {
            next = Some(tick.plus_seconds(1.0));
            let picture = deck.engine.take(Event::Tick { at: tick }).unwrap();
            if correction(&picture).is_some() {
                deck.at = tick;
                return (deck, picture);
            }
        }
        deck.engine.take(Event::Line {
            at,
            feed: &feed,
            text: &text,
        });
    }
    panic!("no correction was ever shown");
}

/// An answer as older recordings have it.
fn unnamed(answer: PlanAnswer) -> CrewInput {
    CrewInput::Plan {
        answer,
        asked: None,
    }
}

fn named(answer: PlanAnswer, asked: &Asked) -> CrewInput {
    CrewInput::Plan {
        answer,
        asked: Some(asked.clone()),
    }
}

/// The first correction of the most pressing advisory that has one.
fn correction(picture: &Picture) -> Option<(Line, f64)> {
    picture
        .snapshot
        .advisories
        .iter()
        .filter(|advisory| advisory.outcome.is_none())
        .flat_map(|advisory| &advisory.actions)
        .find_map(|action| match action {
            Action::MoveLine { line, by_m, .. } => Some((*line, *by_m)),
            _ => None,
        })
}

fn out_m(picture: &Picture, line: Line) -> f64 {
    let lines = picture.snapshot.deck.lines;
    match line {
        Line::Kite => lines.kite_m,
        Line::Main => lines.main_m,
    }
    .unwrap()
}

/// The sentence carries centimetres.
fn same(a: f64, b: f64) -> bool {
    (a - b).abs() < 0.011
}

#[test]
fn done_moves_the_counted_line_by_what_is_shown_and_undo_takes_it_back() {
    let (mut deck, shown) = until_a_correction_is_shown();
    let (line, by_m) = correction(&shown).unwrap();
    assert!(by_m.abs() >= 1.0, "{by_m}");
    let before_m = out_m(&shown, line);
    let other = if line == Line::Main {
        Line::Kite
    } else {
        Line::Main
    };
    let done = deck.says(&unnamed(PlanAnswer::Done));
    println!("{line:?} {by_m} m, {before_m} -> {}", out_m(&done, line));
    assert!(same(out_m(&done, line), before_m + by_m));
    assert!(same(out_m(&done, other), out_m(&shown, other)));
    let of = deck.sequence;
    let back = deck.says(&CrewInput::Undo { of });
    assert!(same(out_m(&back, line), before_m));
}

#[test]
fn half_by_half_moves_half_of_what_is_then_shown() {
    let (mut deck, shown) = until_a_correction_is_shown();
    let (line, by_m) = correction(&shown).unwrap();
    let before_m = out_m(&shown, line);
    let half = deck.says(&unnamed(PlanAnswer::Half));
    let first = deck.sequence;
    assert!(same(out_m(&half, line), before_m + 0.5 * by_m));
    let Some((then_line, then_m)) = correction(&half) else {
        // Half was enough: nothing is shown any more, and an answer to nothing moves nothing.
        let again = deck.says(&unnamed(PlanAnswer::Half));
        assert!(same(out_m(&again, line), out_m(&half, line)));
        return;
    };
    let second = deck.says(&unnamed(PlanAnswer::Half));
    assert!(same(
        out_m(&second, then_line),
        out_m(&half, then_line) + 0.5 * then_m
    ));
    // The first half is taken back; the second, moved meanwhile, stays.
    let back = deck.says(&CrewInput::Undo { of: first });
    let expected = if then_line == line {
        before_m + 0.5 * then_m
    } else {
        before_m
    };
    assert!(same(out_m(&back, line), expected));
}

#[test]
fn something_else_and_answers_to_nothing_move_nothing() {
    let (mut deck, shown) = until_a_correction_is_shown();
    let other = deck.says(&unnamed(PlanAnswer::Other));
    assert_eq!(other.snapshot.deck.lines, shown.snapshot.deck.lines);

    let mut fresh = Deck {
        engine: Engine::new(settings(), Mode::Replay),
        at: Millis(1_795_600_000_000),
        sequence: 0,
    };
    let lines = fresh.says(&unnamed(PlanAnswer::Other)).snapshot;
    let done = fresh.says(&unnamed(PlanAnswer::Done)).snapshot;
    assert_eq!(done.deck.lines, lines.deck.lines);
}

#[test]
fn a_second_phone_is_not_counted_and_an_undo_opens_the_question_again() {
    let (mut deck, shown) = until_a_correction_is_shown();
    let asked = first_asked(&shown.snapshot.advisories).unwrap();
    let before_m = out_m(&shown, asked.line);
    let done_m = before_m + in_metres(asked.by);
    let done = deck.says(&named(PlanAnswer::Done, &asked));
    let of = deck.sequence;
    assert!(same(out_m(&done, asked.line), done_m));

    // To the same revision, and to one that the answer itself brought about.
    let later = Asked {
        revision: asked.revision + 1,
        ..asked.clone()
    };
    for (answer, asked) in [
        (PlanAnswer::Done, &asked),
        (PlanAnswer::Half, &later),
        (PlanAnswer::Other, &later),
    ] {
        deck.at = deck.at.plus_seconds(0.6);
        let again = deck.says(&named(answer, asked));
        assert!(same(out_m(&again, asked.line), done_m), "{answer:?}");
    }
    deck.at = deck.at.plus_seconds(5.0);
    let again = deck.says(&named(PlanAnswer::Done, &asked));
    assert!(same(out_m(&again, asked.line), done_m));
    let refused = |picture: &Picture| {
        let feeds = &picture.snapshot.feeds;
        let crew = feeds.iter().find(|feed| feed.name == "crew").unwrap();
        crew.refused.get(&Cause::Answered).copied()
    };
    assert_eq!(refused(&again), Some(4));

    // Taken back, it can be answered otherwise.
    deck.says(&CrewInput::Undo { of });
    let half = deck.says(&named(PlanAnswer::Half, &asked));
    assert!(same(
        out_m(&half, asked.line),
        before_m + 0.5 * in_metres(asked.by)
    ));
    // What is asked later is another question.
    deck.at = deck.at.plus_seconds(5.0);
    let rest = deck.says(&named(PlanAnswer::Done, &later));
    assert!(same(
        out_m(&rest, asked.line),
        before_m + 1.5 * in_metres(asked.by)
    ));
    assert_eq!(refused(&rest), Some(4));
}

#[test]
fn each_line_of_one_revision_has_its_own_answer() {
    let (mut deck, shown) = until_a_correction_is_shown();
    let asked = first_asked(&shown.snapshot.advisories).unwrap();
    let kite = Asked {
        line: Line::Kite,
        by: metres(-8.0),
        ..asked.clone()
    };
    let main = Asked {
        line: Line::Main,
        by: metres(20.0),
        ..asked
    };
    deck.says(&named(PlanAnswer::Done, &kite));
    let both = deck.says(&named(PlanAnswer::Done, &main));
    assert!(same(
        out_m(&both, Line::Kite),
        out_m(&shown, Line::Kite) - 8.0
    ));
    assert!(same(
        out_m(&both, Line::Main),
        out_m(&shown, Line::Main) + 20.0
    ));
}

#[test]
fn what_is_still_asked_after_an_answer_is_another_revision() {
    let (mut deck, shown) = until_a_correction_is_shown();
    let asked = first_asked(&shown.snapshot.advisories).unwrap();
    // It moves nothing, so nothing else would be told anew.
    let other = deck.says(&named(PlanAnswer::Other, &asked));
    assert_eq!(other.snapshot.deck.lines, shown.snapshot.deck.lines);
    let told = other
        .revisions
        .iter()
        .find(|advisory| advisory.id == asked.advisory)
        .expect("told anew");
    assert_eq!(told.revision, asked.revision + 1);
    let now = told.asked().unwrap();
    let done = deck.says(&named(PlanAnswer::Done, &now));
    assert!(same(
        out_m(&done, now.line),
        out_m(&shown, now.line) + in_metres(now.by)
    ));
}
