//! What the crew said before a restart, said again by the program: `BEFORE` sentences through the
//! chain.

use skimwatch::advice::{AdviceBoard, AdviceSettings, AlertState, Kind, Outcome, Priority};
use skimwatch::decode::{
    BaitState, CrewInput, Decoder, GeoPosition, MarkHow, MarkSaid, Observation, SessionMark,
    StrikeWord, encode_crew,
};
use skimwatch::engine::{Engine, EngineSettings, Event, Mode, Picture};
use skimwatch::forecast::NoForecast;
use skimwatch::time::Millis;
use skimwatch::units::{degrees, degrees_per_second, metres};
use skimwatch::vessel::{BaitSeen, LinesOut};

use crate::forecast_scene::{Boat, at, deck};
use crate::replay::turn_toward;

/// Second 30 of the fixture, an invented day at 08:00 UTC.
const RESTART: Millis = Millis(1_780_300_830_000);

fn settings() -> EngineSettings {
    let text = std::fs::read_to_string("config/demo.toml").unwrap();
    let text = format!("{text}\n[forecast]\nparticles = 64\nfutures = 48\n");
    let settings = skimwatch::settings::parse(&text, "config/demo.toml").unwrap();
    EngineSettings {
        lines_out: LinesOut {
            kite_m: Some(60.0),
            main_m: Some(75.0),
        },
        ..settings.engine().unwrap()
    }
}

fn before(age_s: f64, counts: bool, input: CrewInput) -> CrewInput {
    CrewInput::Before {
        age_s,
        counts,
        input: Box::new(input),
    }
}

fn out(kite_m: f64, main_m: f64) -> CrewInput {
    CrewInput::LinesOut {
        kite: Some(metres(kite_m)),
        main: Some(metres(main_m)),
    }
}

/// An engine that starts at [`RESTART`] and is told this; it hears the instruments of the fixture
/// from there on. Gives the pictures.
fn restarted(said: &[CrewInput], later: &[(f64, CrewInput)], seconds: f64) -> Vec<Picture> {
    let mut engine = Engine::new(settings(), Mode::Live);
    let mut pictures = Vec::new();
    let say = |engine: &mut Engine, at: Millis, sequence: u32, input: &CrewInput| {
        let text = encode_crew(input, sequence);
        engine.take(Event::Line {
            at,
            feed: "crew",
            text: &text,
        })
    };
    let start = CrewInput::Session(SessionMark::Start);
    for input in std::iter::once(&start).chain(said) {
        pictures.extend(say(&mut engine, RESTART, 0, input));
    }
    let mut second = RESTART;
    let mut later = later.iter().peekable();
    for (at, feed, text) in turn_toward() {
        if at < RESTART || text.starts_with("$PSKWT") {
            continue;
        }
        if at > RESTART.plus_seconds(seconds) {
            break;
        }
        while at >= second {
            while let Some((_, input)) =
                later.next_if(|(after_s, _)| RESTART.plus_seconds(*after_s) <= second)
            {
                pictures.extend(say(&mut engine, second, 7, input));
            }
            pictures.extend(engine.take(Event::Tick { at: second }));
            second = second.plus_seconds(1.0);
        }
        pictures.extend(engine.take(Event::Line {
            at,
            feed: &feed,
            text: &text,
        }));
    }
    pictures
}

#[test]
fn lines_of_before_a_restart_are_forecast_with_and_asked_to_be_checked() {
    let said = [before(600.0, true, out(90.0, 171.4))];
    let pictures = restarted(&said, &[(8.0, out(90.0, 171.4))], 12.0);
    let first = &pictures[1].snapshot.deck;
    assert_eq!(first.lines_at, Some(RESTART.plus_seconds(-600.0)));
    assert_eq!(first.lines.main_m, Some(171.4), "not those of the settings");
    let live = pictures
        .iter()
        .find(|p| p.snapshot.forecast.is_ok())
        .unwrap();
    assert!(
        live.snapshot.at <= RESTART.plus_seconds(5.0),
        "{}",
        live.snapshot.at
    );
    let note = &live.snapshot.forecast.as_ref().unwrap().crew.note;
    assert!(note.contains("as told before a restart"), "{note}");

    let told: Vec<_> = pictures
        .iter()
        .flat_map(|picture| &picture.revisions)
        .filter(|advisory| advisory.kind == Kind::LinesUnchecked)
        .collect();
    assert_eq!(told[0].at, RESTART, "at once");
    assert_eq!(told[0].priority, Priority::Caution);
    assert_eq!(
        told[0].cause,
        "kite line and main line as told before a restart"
    );
    // The same lines told anew confirm them.
    assert_eq!(told.len(), 2, "{told:?}");
    assert_eq!(told[1].outcome, Some(Outcome::Restored));
    assert_eq!(told[1].at, RESTART.plus_seconds(8.0));
    let last = &pictures.last().unwrap().snapshot;
    assert_eq!(last.deck.restored, None);
    let note = &last.forecast.as_ref().unwrap().crew.note;
    assert!(!note.contains("restart"), "{note}");

    let again = restarted(&said, &[(8.0, out(90.0, 171.4))], 12.0);
    assert_eq!(format!("{pictures:?}"), format!("{again:?}"));
}

#[test]
fn lines_that_no_longer_count_are_asked_for_with_what_was_out() {
    let said = [before(6.0 * 3600.0, false, out(110.0, 132.0))];
    let pictures = restarted(&said, &[], 6.0);
    let last = &pictures.last().unwrap().snapshot;
    assert_eq!(
        last.deck.lines.kite_m, None,
        "nor are those of the settings"
    );
    assert!(last.forecast.is_err());
    let advisory = &last.advisories[0];
    assert_eq!(advisory.kind, Kind::RigUnset);
    assert!(
        advisory.cause.ends_with("since a restart"),
        "{}",
        advisory.cause
    );
    let restored = last.deck.restored.unwrap();
    assert_eq!(restored.as_of, RESTART.plus_seconds(-6.0 * 3600.0));
}

#[test]
fn a_clock_that_is_behind_gives_the_time_that_was_written() {
    let said = [before(-90_000.0, false, out(110.0, 132.0))];
    let pictures = restarted(&said, &[], 1.0);
    let restored = pictures.last().unwrap().snapshot.deck.restored.unwrap();
    assert_eq!(restored.as_of.to_string(), "2026-06-02T09:00:30.000Z");
}

#[test]
fn silence_turn_marker_and_marks_come_back() {
    let mark = CrewInput::Mark(MarkSaid {
        name: Some("birds".to_owned()),
        position: Some(GeoPosition {
            latitude: degrees(12.5),
            longitude: degrees(-40.25),
        }),
        how: MarkHow::Typed,
        number: None,
    });
    let turn = CrewInput::Turn {
        by: degrees(-40.0),
        rate: degrees_per_second(2.0),
        in_s: 90.0,
    };
    let said = [
        before(100.0, true, out(90.0, 171.4)),
        before(100.0, true, CrewInput::MarkerInWater(true)),
        before(30.0, true, turn),
        before(9e5, true, mark),
        before(240.0, true, CrewInput::Silence { minutes: 10.0 }),
        before(900.0, true, CrewInput::Silence { minutes: 10.0 }),
    ];
    let here = CrewInput::Mark(MarkSaid {
        name: None,
        position: None,
        how: MarkHow::Here,
        number: None,
    });
    let pictures = restarted(&said, &[(5.0, here)], 6.0);
    let snapshot = &pictures.last().unwrap().snapshot;
    // The silence that is over ends none that is not.
    assert_eq!(snapshot.silenced_until, Some(RESTART.plus_seconds(360.0)));
    let deck = &snapshot.deck;
    assert_eq!(
        deck.intended_turn.unwrap().starts_at,
        RESTART.plus_seconds(60.0)
    );
    assert_eq!(
        deck.marker_in_water,
        Some((true, RESTART.plus_seconds(-100.0)))
    );
    assert_eq!(deck.marks[0].name.as_deref(), Some("birds"));
    assert_eq!(deck.marks[0].at, RESTART.plus_seconds(-9e5));
    assert!((deck.marks[0].position.unwrap().latitude_deg - 12.5).abs() < 1e-6);
    // Here and now: the fixture's boat is near 12 degrees north.
    let marked = deck.marks[1].position.unwrap();
    assert!((marked.latitude_deg - 12.0).abs() < 0.1, "{marked:?}");
    // It has taught before the restart.
    assert_eq!(snapshot.learnt, None);
}

/// Raises a bait that is seen dragging, with nothing to forecast from.
fn dragging(board: &mut AdviceBoard, at_s: f64) -> AlertState {
    let boat = Boat::with_wind_abeam(8.0);
    let mut deck = deck(100.0, 140.0);
    deck.bait = Some(BaitSeen {
        state: BaitState::Dragging,
        at: at(at_s),
    });
    let nothing = NoForecast::of(Vec::new());
    let raised = board.update(at(at_s), &boat.now(at(at_s)), &deck, Err(&nothing));
    let advisory = raised
        .iter()
        .find(|a| a.kind == Kind::BaitDragging)
        .unwrap();
    assert_eq!(advisory.priority, Priority::Alarm);
    advisory.state
}

#[test]
fn an_advisory_acknowledged_before_a_restart_is_born_acknowledged() {
    let seen = AlertState::ActiveAcknowledged;
    let unseen = AlertState::ActiveUnacknowledged;
    let alarm = Some(Priority::Alarm);
    for (id, age_s, priority, raised_s, state) in [
        ("bait-dragging-4", 300.0, alarm, 50.0, seen),
        ("bait-dragging-4", 300.0, alarm, 61.0, unseen),
        ("bait-dragging-4", 601.0, alarm, 50.0, unseen),
        ("bait-airborne-4", 300.0, alarm, 50.0, unseen),
        // It was less pressing then.
        (
            "bait-dragging-4",
            300.0,
            Some(Priority::Warning),
            50.0,
            unseen,
        ),
        ("bait-dragging-4", 300.0, None, 50.0, unseen),
    ] {
        let mut board = AdviceBoard::new(AdviceSettings::default());
        board.acknowledged_before(at(0.0), age_s, id, priority);
        assert_eq!(
            dragging(&mut board, raised_s),
            state,
            "{id} {age_s} {priority:?} {raised_s}"
        );
    }
}

#[test]
fn what_was_said_before_is_read_as_it_was_written() {
    for input in [
        out(110.0, 132.0),
        CrewInput::MarkerInWater(false),
        CrewInput::Bite,
        CrewInput::Strike(StrikeWord::KiteIn),
        CrewInput::Silence { minutes: 7.5 },
        CrewInput::Session(SessionMark::Stop),
        CrewInput::Acknowledge {
            advisory: "bait-airborne-3".to_owned(),
            priority: Some(Priority::Caution),
        },
        CrewInput::Mark(MarkSaid {
            name: Some("under the birds 1".to_owned()),
            position: None,
            how: MarkHow::Here,
            number: None,
        }),
    ] {
        for (age_s, counts) in [(12.345, true), (-86_400.0, false)] {
            let said = before(age_s, counts, input.clone());
            let text = encode_crew(&said, 0);
            let decoded = Decoder::new().decode(&text).unwrap();
            let read = Observation::Crew {
                seq: 0,
                input: said,
            };
            assert_eq!(decoded.observations, [read], "{text}");
        }
    }
}
