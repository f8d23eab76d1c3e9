//! Advisories: life cycle, hysteresis, revisions, outcomes.

use skimwatch::advice::{Action, AlertState, Kind, Outcome, Priority};
use skimwatch::decode::{BaitState, Line, PlanAnswer};
use skimwatch::forecast::Trouble;

use crate::advice_day::{CALM, Day, GONE_S, LIFTS, Said, forecast};
use crate::forecast_scene::{at, tap};

#[test]
fn a_foreseen_lift_is_told_at_once_with_cause_and_action() {
    let mut day = Day::new();
    assert!(day.tick(0.0, CALM).is_empty());
    let told = day.tick(1.0, LIFTS);
    let [one] = told.as_slice() else {
        panic!("{told:?}")
    };
    assert_eq!(one.id, "bait-airborne-1");
    assert_eq!(one.revision, 1);
    assert_eq!(one.priority, Priority::Warning);
    assert_eq!(one.state, AlertState::ActiveUnacknowledged);
    assert_eq!(one.onset_at, Some(at(60.0)));
    assert!((one.countdown_s - 59.0).abs() < 1e-9);
    assert_eq!(one.cause, "turn of 45° to port lifts the bait (announced)");
    assert_eq!(one.turn_at, Some(at(50.0)));
    assert!(matches!(
        one.actions[0],
        Action::MoveLine { line: Line::Main, by_m, start_at, to_m: Some(to_m), .. }
            if (by_m - 30.0).abs() < 1e-9 && start_at == at(40.0) && (to_m - 170.0).abs() < 1e-9
    ));
    assert!(matches!(one.actions[1], Action::LimitTurn { rate_deg_s } if rate_deg_s == 1.5));
    assert!(matches!(&one.actions[2], Action::See { what } if what.contains("gloves")));
    assert_eq!(one.without_action, "bait out of the water");
    assert!((one.chance_with_plan.unwrap() - 0.085).abs() < 1e-9);
}

#[test]
fn nothing_new_makes_no_revision_and_its_countdown_runs() {
    let mut day = Day::new();
    day.tick(0.0, LIFTS);
    for s in 1..45 {
        let out = day.tick(f64::from(s), LIFTS);
        assert!(out.is_empty(), "at {s}: {out:?}");
    }
    // Onset 10 s later, chance 5 points up: only the onset is news.
    let out = day.tick(
        45.0,
        Said {
            onset_at_s: 70.0,
            chance: 0.9,
            ..LIFTS
        },
    );
    assert_eq!(out.len(), 1);
    assert_eq!(out[0].revision, 2);
    // Near onset it becomes an alarm, once.
    let later = Said {
        onset_at_s: 70.0,
        chance: 0.9,
        ..LIFTS
    };
    let alarms: Vec<_> = (46..63)
        .flat_map(|s| day.tick(f64::from(s), later))
        .collect();
    assert_eq!(alarms.len(), 1, "{alarms:?}");
    assert_eq!(alarms[0].priority, Priority::Alarm);
}

#[test]
fn an_onset_that_the_members_still_allow_for_is_not_put_off() {
    let mut day = Day::new();
    let mut told = Vec::new();
    for s in 0..72 {
        // After 56 s the median of those yet to come stays ahead, some have it at once.
        let now_s = f64::from(s);
        let mut forecast = forecast(
            now_s,
            Said {
                onset_at_s: f64::max(60.0, now_s + 4.0),
                ..LIFTS
            },
        );
        for onset in forecast
            .chances
            .iter_mut()
            .filter_map(|c| c.onset_s.as_mut())
        {
            onset.p10 = onset.p10.min((50.0 - now_s).max(0.0));
        }
        day.hear(now_s, &forecast);
        told.extend(day.board.living().first().map(|a| a.onset_at));
    }
    told.dedup();
    // Held for 10 s, then once put off.
    assert_eq!(told.first(), Some(&Some(at(60.0))));
    assert_eq!(told.len(), 2, "{told:?}");
}

#[test]
fn a_bait_seen_skipping_silences_a_model_that_says_it_flies() {
    let flies = Said {
        onset_at_s: 0.0,
        turn_at_s: None,
        ..LIFTS
    };
    let mut day = Day::new();
    for s in 0..20 {
        day.flies(f64::from(s), flies, 0.84);
    }
    let last = day.log.last().unwrap();
    assert_eq!(last.title, "Bait probably flying");
    day.deck.bait = Some(tap(BaitState::Skipping, at(20.0)));
    let out = day.flies(20.0, flies, 0.84);
    assert_eq!(out.len(), 1, "{out:?}");
    assert_eq!(out[0].outcome, Some(Outcome::Averted), "{:?}", out[0]);
    for s in 21..35 {
        let out = day.flies(f64::from(s), flies, 0.84);
        assert!(out.is_empty(), "at {s}: {out:?}");
    }
    // A bait seen flying is a fact.
    day.deck.bait = Some(tap(BaitState::Airborne, at(36.0)));
    let out = day.flies(36.0, flies, 0.84);
    assert_eq!(out.last().unwrap().title, "Bait is flying");
}

#[test]
fn a_bait_that_skips_now_may_still_fly_later() {
    let mut day = Day::new();
    day.deck.bait = Some(tap(BaitState::Skipping, at(0.0)));
    let out = day.flies(1.0, LIFTS, 0.1);
    assert_eq!(out.len(), 1, "{out:?}");
    assert_eq!(out[0].title, "Bait will fly");
    assert!(out[0].countdown_s > 30.0);
}

#[test]
fn flapping_chances_do_not_flap_the_advisory() {
    let mut day = Day::new();
    for s in 0..120 {
        let chance = if s % 4 < 2 { 0.78 } else { 0.13 };
        day.tick(
            f64::from(s),
            Said {
                chance,
                onset_at_s: 500.0,
                turn_at_s: None,
                ..LIFTS
            },
        );
    }
    let raised = day.log.iter().filter(|a| a.revision == 1).count();
    assert!(raised <= 1, "raised {raised} times");
    let ended = day.log.iter().filter(|a| a.outcome.is_some()).count();
    assert_eq!(ended, 0);
}

#[test]
fn outcomes_tell_averted_from_happened() {
    let mut averted = Day::new();
    averted.tick(0.0, LIFTS);
    for s in 1..1 + GONE_S {
        averted.tick(
            f64::from(s),
            Said {
                chance: 0.05,
                ..LIFTS
            },
        );
    }
    assert_eq!(averted.log.last().unwrap().outcome, Some(Outcome::Averted));

    let mut happened = Day::new();
    happened.tick(0.0, LIFTS);
    happened.deck.bait = Some(tap(BaitState::Airborne, at(62.0)));
    let seen = happened.tick(62.0, LIFTS);
    assert_eq!(seen.last().unwrap().title, "Bait is flying");
    assert_eq!(seen.last().unwrap().priority, Priority::Alarm);
    assert!(seen.last().unwrap().cause.starts_with("seen by the crew"));
    happened.deck.bait = Some(tap(BaitState::Skipping, at(80.0)));
    for s in 80..80 + GONE_S {
        happened.tick(
            f64::from(s),
            Said {
                chance: 0.05,
                ..LIFTS
            },
        );
    }
    assert_eq!(
        happened.log.last().unwrap().outcome,
        Some(Outcome::Happened)
    );
}

#[test]
fn acknowledged_goes_quietly_and_unacknowledged_stays_a_minute() {
    let mut day = Day::new();
    day.tick(0.0, LIFTS);
    let ack = day.board.acknowledge(at(1.0), "bait-airborne-1").unwrap();
    assert_eq!(ack.state, AlertState::ActiveAcknowledged);
    assert_eq!(ack.revision, 2);
    assert!(day.board.acknowledge(at(1.0), "bait-airborne-1").is_none());
    assert!(day.board.acknowledge(at(1.0), "no-such-9").is_none());
    for s in 2..2 + GONE_S {
        day.tick(f64::from(s), CALM);
    }
    assert_eq!(day.log.last().unwrap().state, AlertState::Normal);
    assert!(day.board.living().is_empty());

    let mut day = Day::new();
    day.tick(0.0, LIFTS);
    for s in 1..1 + GONE_S {
        day.tick(
            f64::from(s),
            Said {
                chance: 0.0,
                ..LIFTS
            },
        );
    }
    assert_eq!(
        day.board.living()[0].state,
        AlertState::RectifiedUnacknowledged
    );
    // It comes back: the same advisory, unacknowledged again, no outcome.
    let back = day.tick(f64::from(1 + GONE_S), LIFTS);
    assert_eq!(back[0].id, "bait-airborne-1");
    assert_eq!(back[0].state, AlertState::ActiveUnacknowledged);
    assert_eq!(back[0].outcome, None);
    for s in 2 + GONE_S..90 + GONE_S {
        day.tick(
            f64::from(s),
            Said {
                chance: 0.0,
                ..LIFTS
            },
        );
    }
    assert_eq!(day.log.last().unwrap().state, AlertState::Normal);
    assert!(day.board.living().is_empty());
    let revisions: Vec<u32> = day.log.iter().map(|a| a.revision).collect();
    assert!(
        revisions.windows(2).all(|w| w[1] == w[0] + 1),
        "{revisions:?}"
    );
}

#[test]
fn silence_ends_after_thirty_seconds_for_an_alarm_and_as_asked_for_a_warning() {
    // 30 s: IMO MSC.302(87) 7.3.5.
    let mut day = Day::new();
    day.tick(
        0.0,
        Said {
            onset_at_s: 200.0,
            turn_at_s: Some(190.0),
            ..LIFTS
        },
    );
    let far = Said {
        onset_at_s: 80.0,
        turn_at_s: Some(70.0),
        ..LIFTS
    };
    day.tick(1.0, far);
    assert_eq!(
        day.board.silence(at(2.0), 5.0)[0].state,
        AlertState::ActiveSilenced
    );
    for s in 3..60 {
        day.tick(f64::from(s), far);
        assert_eq!(
            day.board.living()[0].state,
            AlertState::ActiveSilenced,
            "at {s}"
        );
    }
    // It grows into an alarm: that sounds whatever was asked for, and can be silenced for 30 s.
    for s in 60..75 {
        day.tick(f64::from(s), far);
    }
    assert_eq!(day.board.living()[0].priority, Priority::Alarm);
    assert_eq!(
        day.board.living()[0].state,
        AlertState::ActiveUnacknowledged
    );
    day.board.silence(at(75.0), 5.0);
    let seen = Said {
        onset_at_s: 0.0,
        ..far
    };
    day.tick(104.0, seen);
    assert_eq!(day.board.living()[0].state, AlertState::ActiveSilenced);
    day.tick(105.5, seen);
    assert_eq!(
        day.board.living()[0].state,
        AlertState::ActiveUnacknowledged
    );
}

#[test]
fn a_sighting_taken_back_takes_its_alarm_with_it() {
    let unlikely = Said {
        chance: 0.3,
        turn_at_s: None,
        ..LIFTS
    };
    let mut day = Day::new();
    assert!(day.tick(0.0, unlikely).is_empty());
    day.deck.bait = Some(tap(BaitState::Airborne, at(1.0)));
    let out = day.tick(1.0, unlikely);
    assert_eq!(out[0].title, "Bait is flying");
    day.take_back_the_sighting();
    let out = day.tick(5.0, unlikely);
    assert_eq!(out.len(), 1, "{out:?}");
    assert_eq!(out[0].outcome, Some(Outcome::Withdrawn));
    // One that lived before the sighting lives on, with its old words.
    let mut day = Day::new();
    day.tick(0.0, LIFTS);
    day.deck.bait = Some(tap(BaitState::Airborne, at(1.0)));
    assert_eq!(day.tick(1.0, LIFTS)[0].title, "Bait is flying");
    day.take_back_the_sighting();
    let out = day.tick(5.0, LIFTS);
    assert_eq!(out.len(), 1, "{out:?}");
    assert_eq!(out[0].title, "Bait will fly");
    assert_eq!(out[0].outcome, None);
}

#[test]
fn no_card_asks_for_what_makes_its_trouble_worse() {
    let drags = Said {
        kind: Trouble::BaitDragging,
        ..LIFTS
    };
    let mut day = Day::new();
    let out = day.tick(0.0, drags);
    assert_eq!(out[0].kind, Kind::BaitDragging);
    let gives = |action: &Action| matches!(action, Action::MoveLine { .. });
    assert!(!out[0].actions.iter().any(gives), "{:?}", out[0].actions);
    assert!(day_lifts_gives(), "the plan is for the bait that flies");
}

fn day_lifts_gives() -> bool {
    Day::new().tick(0.0, LIFTS)[0]
        .actions
        .iter()
        .any(|action| matches!(action, Action::MoveLine { by_m, .. } if *by_m > 0.0))
}

#[test]
fn what_the_crew_has_answered_is_no_longer_asked() {
    let mut day = Day::new();
    let told = day.tick(1.0, LIFTS);
    let asked = told[0].asked().unwrap();
    assert_eq!((asked.revision, asked.line), (1, Line::Main));
    day.board.answered(at(1.5), Line::Kite, PlanAnswer::Done);
    assert!(
        day.tick(2.0, LIFTS).is_empty(),
        "it does not ask for that line"
    );
    // Half done and still foreseen: asked anew. Whoever answers has seen it.
    day.board.answered(at(2.5), Line::Main, PlanAnswer::Half);
    let [again] = day.tick(3.0, LIFTS).try_into().unwrap();
    assert_eq!(again.asked().unwrap().revision, 2);
    assert_eq!(again.state, AlertState::ActiveAcknowledged);
    assert!(day.tick(4.0, LIFTS).is_empty());
    // No longer foreseen: it stays for a while, and asks for nothing.
    day.board.answered(at(4.5), Line::Main, PlanAnswer::Done);
    let calm = Said {
        chance: 0.02,
        ..LIFTS
    };
    let [met] = day.tick(5.0, calm).try_into().unwrap();
    assert_eq!((met.revision, met.outcome), (3, None));
    assert_eq!(met.asked(), None);
    assert!(matches!(&met.actions[0], Action::See { what } if what == "done; watch the bait"));
}
