//! Advisories while nobody watches: without a sensor, without a forecast.

use skimwatch::advice::{Action, AlertState, Kind, Outcome, Priority};
use skimwatch::decode::{BaitState, Line};
use skimwatch::forecast::Lack;

use crate::advice_day::{CALM, Day, GONE_S, LIFTS, Said, vessel};
use crate::forecast_scene::{announce, at, tap};

#[test]
fn silent_wind_is_told_after_ten_seconds_and_the_rest_is_no_longer_watched() {
    let mut day = Day::new();
    day.deck.intended_turn = Some(announce(at(0.0), 50.0, -45.0, 3.0));
    for s in 0..20 {
        day.tick(f64::from(s), LIFTS);
    }
    let mut told = None;
    let mut unwatched = Vec::new();
    for s in 20..40 {
        for advisory in day.blind(f64::from(s), true, 19.0) {
            match advisory.kind {
                Kind::DataLost if advisory.revision == 1 => told = Some(s),
                Kind::BaitAirborne => unwatched.push(advisory),
                _ => {}
            }
        }
    }
    assert_eq!(told, Some(29));
    let [unwatched] = unwatched.try_into().unwrap();
    assert_eq!(unwatched.at, at(24.0));
    assert_eq!(unwatched.unwatched_since, Some(at(19.0)));
    assert_eq!(unwatched.state, AlertState::ActiveUnacknowledged);
    assert_eq!(
        (unwatched.outcome, unwatched.onset_at),
        (None, Some(at(60.0)))
    );
    assert_eq!(unwatched.title, "Bait will fly: not watched");
    assert!(
        unwatched
            .cause
            .contains("lifts the bait (announced); not watched any more: "),
        "{}",
        unwatched.cause
    );
    assert!(
        unwatched.cause.ends_with(": no wind"),
        "{}",
        unwatched.cause
    );
    assert!(
        unwatched.asked().is_some(),
        "what it asked for still stands"
    );

    // Eyes are back and see no trouble: judged anew, with the usual patience.
    let back = day.tick(40.0, CALM_TURN);
    assert_eq!(back.last().unwrap().outcome, Some(Outcome::Restored));
    for s in 41..40 + GONE_S {
        day.tick(f64::from(s), CALM_TURN);
    }
    let last = day.log.last().unwrap();
    assert_eq!(last.kind, Kind::BaitAirborne);
    assert_eq!(last.outcome, Some(Outcome::Averted));
    assert_eq!(
        (last.unwatched_since, &*last.title),
        (None, "Bait will fly")
    );
}

/// The turn is still to come and lifts nothing.
const CALM_TURN: Said = Said {
    chance: 0.02,
    ..LIFTS
};

/// A gust, not a turn, will lift the bait.
const GUST: Said = Said {
    turn_at_s: None,
    ..LIFTS
};

/// An alarm that lives, then so many seconds without eyes.
fn blinded(lacks: &[(Lack, &str)], seconds: i32) -> Day {
    let mut day = Day::new();
    for s in 0..20 {
        day.tick(f64::from(s), GUST);
    }
    for s in 20..20 + seconds {
        day.without(f64::from(s), &vessel(at(f64::from(s))), lacks);
    }
    day
}

const UNBALANCED: (Lack, &str) = (Lack::Balance, "no way it hangs");

#[test]
fn trouble_that_nobody_watches_never_counts_as_rectified() {
    for lack in [
        UNBALANCED,
        (Lack::Sensor, "no wind"),
        (Lack::LineOut, "main line out is not known"),
        (Lack::ShortLine, "too short"),
        (Lack::Rig, "no rig"),
        (Lack::Reading, "no wind yet"),
    ] {
        // Its onset is at 60 s: until three minutes after that it stands.
        let mut day = blinded(&[lack], 219);
        let lives = |day: &Day| {
            let living = day.board.living();
            living.into_iter().find(|a| a.kind == Kind::BaitAirborne)
        };
        let alarm = lives(&day).unwrap();
        assert_eq!(alarm.state, AlertState::ActiveUnacknowledged, "{lack:?}");
        assert_eq!((alarm.outcome, alarm.revision), (None, 2), "{lack:?}");
        for s in 239..242 {
            let s = f64::from(s);
            day.without(s, &vessel(at(s)), &[lack]);
        }
        assert_eq!(lives(&day), None, "{lack:?}");
        let last = day.log.iter().rfind(|a| a.kind == Kind::BaitAirborne);
        let last = last.unwrap();
        assert_eq!(last.at, at(240.0));
        assert_eq!(last.outcome, Some(Outcome::Lost), "nobody knows");
        assert_eq!(last.state, AlertState::Normal);
        assert!(
            day.log
                .iter()
                .all(|a| a.kind != Kind::BaitAirborne
                    || a.state != AlertState::RectifiedUnacknowledged),
            "{lack:?}"
        );
    }
}

#[test]
fn eyes_that_are_back_judge_anew() {
    let mut day = blinded(&[UNBALANCED], 30);
    let back = day.tick(50.0, GUST);
    let alarm = back.iter().find(|a| a.kind == Kind::BaitAirborne).unwrap();
    assert_eq!(alarm.id, "bait-airborne-1");
    assert_eq!((alarm.unwatched_since, alarm.outcome), (None, None));
    assert_eq!(alarm.title, "Bait will fly");
    assert!(!alarm.cause.contains("not watched"), "{}", alarm.cause);
    // A forecast that is missing for a moment is no news.
    let mut day = blinded(&[UNBALANCED], 4);
    assert!(day.tick(24.0, GUST).is_empty());
    assert_eq!(day.log.len(), 1, "{:?}", day.log);
}

#[test]
fn the_crew_ends_what_nobody_watches() {
    // Acknowledged as it stands: gone when its onset is past.
    let mut day = blinded(&[UNBALANCED], 30);
    let ack = day.board.acknowledge(at(50.0), "bait-airborne-1").unwrap();
    assert_eq!(ack.state, AlertState::ActiveAcknowledged);
    for s in 50..62 {
        let s = f64::from(s);
        day.without(s, &vessel(at(s)), &[UNBALANCED]);
    }
    let last = day.log.iter().rfind(|a| a.kind == Kind::BaitAirborne);
    let last = last.unwrap();
    assert_eq!((last.at, last.outcome), (at(60.0), Some(Outcome::Lost)));

    // One acknowledged before stands like any other.
    let mut day = Day::new();
    for s in 0..4 {
        day.tick(f64::from(s), GUST);
    }
    day.board.acknowledge(at(3.5), "bait-airborne-1").unwrap();
    for s in 4..100 {
        let s = f64::from(s);
        day.without(s, &vessel(at(s)), &[UNBALANCED]);
    }
    assert!(
        day.board
            .living()
            .iter()
            .any(|a| a.id == "bait-airborne-1" && a.state == AlertState::ActiveAcknowledged)
    );

    // The crew says what the bait does.
    let mut day = blinded(&[UNBALANCED], 30);
    day.deck.bait = Some(tap(BaitState::Skipping, at(50.0)));
    let out = day.without(50.0, &vessel(at(50.0)), &[UNBALANCED]);
    assert_eq!(out.len(), 1, "{out:?}");
    assert_eq!(out[0].outcome, Some(Outcome::Averted));
    let mut day = blinded(&[UNBALANCED], 30);
    day.deck.bait = Some(tap(BaitState::Airborne, at(50.0)));
    let out = day.without(50.0, &vessel(at(50.0)), &[UNBALANCED]);
    assert_eq!(out[0].title, "Bait is flying");
    assert_eq!(out[0].unwatched_since, None, "the crew's eyes are on it");

    // It stops fishing, has a bite, or launches: intended, no word of it.
    for lack in [
        (Lack::Stopped, "stopped"),
        (Lack::Bite, "bite"),
        (Lack::Launch, "launch"),
    ] {
        let day = blinded(&[lack, UNBALANCED], 30);
        assert!(day.board.living().is_empty(), "{:?}", day.board.living());
        let last = day.log.last().unwrap();
        assert_eq!((last.revision, last.outcome), (2, Some(Outcome::Lost)));
    }
}

#[test]
fn a_forecast_that_is_gone_leaves_word_why() {
    let told = |lacks: &[(Lack, &str)]| {
        let mut day = Day::new();
        for s in 0..40 {
            let s = f64::from(s);
            day.without(s, &vessel(at(s)), lacks);
        }
        day
    };
    for (lack, cure) in [
        (UNBALANCED, "wind sensor"),
        ((Lack::ShortLine, "kite line out is 5 m"), "count the line"),
        ((Lack::Rig, "the rig is not set"), "enter kite"),
        ((Lack::Reading, "no wind yet"), "check wind sensor"),
    ] {
        let mut day = told(&[lack]);
        let [one] = day.log.as_slice() else {
            panic!("{:?}", day.log)
        };
        assert_eq!(
            (one.kind, one.priority),
            (Kind::NoForecast, Priority::Caution)
        );
        assert_eq!((&*one.title, &*one.cause), ("No forecast", lack.1));
        assert_eq!(one.raised_at, at(15.0), "after the start");
        assert!(matches!(&one.actions[0], Action::See { what } if what.contains(cure)));
        let back = day.tick(40.0, CALM);
        assert_eq!(back[0].outcome, Some(Outcome::Restored));
    }
    // Told by others, or wanted.
    for lack in [
        (Lack::Sensor, "no wind"),
        (Lack::LineOut, "main line out is not known"),
        (Lack::Stopped, "stopped"),
        (Lack::Bite, "bite"),
        (Lack::Launch, "launch"),
    ] {
        assert!(told(&[lack]).log.is_empty(), "{lack:?}");
    }
    assert!(told(&[(Lack::Bite, "bite"), UNBALANCED]).log.is_empty());
    // With trouble living it is more than a caution.
    let day = blinded(&[UNBALANCED], 30);
    let one = day.log.iter().find(|a| a.kind == Kind::NoForecast).unwrap();
    assert_eq!(one.priority, Priority::Warning);
    assert_eq!(one.at, at(24.0));
}

#[test]
fn unknown_line_out_is_told_once_and_restored() {
    let mut day = Day::new();
    day.deck.lines.main_m = None;
    for s in 0..30 {
        day.blind(f64::from(s), false, 0.0);
    }
    assert_eq!(day.log.len(), 1, "{:?}", day.log);
    assert_eq!(day.log[0].kind, Kind::RigUnset);
    assert_eq!(day.log[0].raised_at, at(15.0));
    day.deck.lines.main_m = Some(120.0);
    let out = day.tick(30.0, CALM);
    assert_eq!(out[0].outcome, Some(Outcome::Restored));
    assert!(day.board.living().is_empty());
}

#[test]
fn without_a_forecast_the_crew_is_still_told_what_to_do() {
    let mut day = Day::new();
    day.deck.bait = Some(tap(BaitState::Dragging, at(1.0)));
    let out = day.blind(1.0, false, 0.0);
    assert_eq!(out[0].kind, Kind::BaitDragging);
    assert_eq!(out[0].priority, Priority::Alarm);
    assert!(matches!(
        &out[0].actions[0],
        Action::StepLine { line: Line::Main, least_m: -3.0, most_m: -5.0, until } if until.contains("skips")
    ));
}
