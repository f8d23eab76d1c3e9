//! Orders for the lines: a countdown that reaches NOW and stays there, one amount, what DONE does,
//! whose order comes first.

use skimwatch::advice::{Action, Advisory, AlertState, Kind, Priority};
use skimwatch::decode::{BaitState, Line, PlanAnswer};
use skimwatch::forecast::{Band, Chance, ClearanceAhead, Forecast, Trouble};
use skimwatch::time::Millis;

use crate::advice_day::{Day, LIFTS, Said, forecast};
use crate::forecast_scene::{at, tap};

/// A forecast of the lift whose plan begins in `start_in_s` with `by_m`.
fn planned(s: f64, start_in_s: f64, by_m: f64) -> Forecast {
    let mut forecast = forecast(s, LIFTS);
    let step = &mut forecast.plan.as_mut().unwrap().steps[0];
    step.start_in_s = start_in_s;
    step.by_m = by_m;
    step.over_s = by_m.abs();
    forecast
}

/// An order: start, metres, metres before and why they changed.
type Shown = (Millis, f64, Option<(f64, String)>);

/// The first order on the card.
fn shown(day: &Day) -> Option<Shown> {
    let living = day.board.living();
    living
        .first()?
        .actions
        .iter()
        .find_map(|action| match action {
            Action::MoveLine {
                by_m,
                start_at,
                changed,
                ..
            } => {
                let before = changed
                    .as_ref()
                    .map(|changed| (changed.from_m, changed.why.clone()));
                Some((*start_at, *by_m, before))
            }
            _ => None,
        })
}

fn words(advisory: &Advisory) -> Vec<&str> {
    advisory
        .actions
        .iter()
        .filter_map(|action| match action {
            Action::See { what } => Some(what.as_str()),
            _ => None,
        })
        .collect()
}

#[test]
fn the_countdown_reaches_now_and_stays_there_with_one_amount() {
    let mut day = Day::new();
    // Every plan begins no sooner than the reaction time: from 14 s on, each puts it off.
    for s in 0..=12 {
        let s = f64::from(s);
        day.hear(s, &planned(s, (16.0 - s).max(4.0), 20.0 + 0.2 * s));
    }
    assert_eq!(shown(&day).unwrap().0, at(16.0));
    for s in 13..=40 {
        let s = f64::from(s);
        // Amounts that wobble about what is asked.
        let by_m = if s as i32 % 2 == 0 { 18.0 } else { 23.0 };
        day.hear(s, &planned(s, 4.0, by_m));
        let (start_at, by_m, changed) = shown(&day).unwrap();
        assert_eq!((start_at, by_m, changed), (at(16.0), 20.0, None), "{s}");
    }
}

#[test]
fn another_amount_is_a_revision_with_a_reason_and_comes_twice_at_most() {
    let mut day = Day::new();
    day.hear(0.0, &planned(0.0, 0.0, 40.0));
    day.deck.bait = Some(tap(BaitState::Skipping, at(1.0)));
    let mut amounts = vec![40.0];
    for s in 1..60 {
        let now_s = f64::from(s);
        // Another amount every ten seconds: 40, 20, 10, 40, 20, 10.
        let by_m = [40.0, 20.0, 10.0][(s / 10 % 3) as usize];
        let told = day.hear(now_s, &planned(now_s, 4.0, by_m));
        let (start_at, by_m, changed) = shown(&day).unwrap();
        assert_eq!(start_at, at(0.0), "NOW stays");
        if amounts.last() != Some(&by_m) {
            assert_eq!(told.len(), 1, "a revision");
            let (from_m, why) = changed.unwrap();
            assert_eq!(Some(&from_m), amounts.last());
            let first = amounts.len() == 1;
            assert_eq!(why.contains("your report"), first, "{why}");
            amounts.push(by_m);
        }
    }
    assert_eq!(amounts, [40.0, 20.0, 10.0]);
}

#[test]
fn a_plan_that_is_gone_takes_its_order_along_and_line_that_was_moved_begins_anew() {
    let mut day = Day::new();
    day.hear(0.0, &planned(0.0, 0.0, 20.0));
    let mut none = forecast(1.0, LIFTS);
    none.plan.as_mut().unwrap().steps.clear();
    for s in 1..=3 {
        none.made_at = at(f64::from(s));
        day.hear(f64::from(s), &none);
        assert!(shown(&day).is_some(), "the next search may bring it back");
    }
    none.made_at = at(5.0);
    day.hear(5.0, &none);
    assert!(shown(&day).is_none());
    assert_eq!(
        words(&day.board.living()[0])[0],
        "watch the bait and say what it does"
    );
    // Back soon: still NOW.
    day.hear(7.0, &planned(7.0, 4.0, 20.0));
    assert!(shown(&day).unwrap().0 <= at(7.0));
    // The crew has moved line: a new order with a countdown of its own.
    day.deck.lines_at = Some(at(8.0));
    day.hear(8.0, &planned(8.0, 4.0, 9.0));
    let (start_at, by_m, changed) = shown(&day).unwrap();
    assert_eq!((start_at, by_m, changed), (at(12.0), 9.0, None));
}

#[test]
fn after_done_nothing_more_of_the_same_is_asked_until_it_can_show() {
    let mut day = Day::new();
    day.hear(0.0, &planned(0.0, 0.0, 20.0));
    day.board.answered(at(1.0), Line::Main, PlanAnswer::Done);
    // 20 m take 20 s (own arithmetic), 10 s to show.
    for s in 1..30 {
        let s = f64::from(s);
        day.hear(s, &planned(s, 4.0, 12.0).with_start_before(31.0 - s));
        let living = day.board.living();
        assert_eq!(
            words(&living[0])[0],
            "done; watch the bait",
            "{s}: {:?}",
            living[0].actions
        );
        assert_eq!(living[0].state, AlertState::ActiveAcknowledged, "{s}");
        assert_eq!(living[0].chance_with_plan, None, "{s}");
    }
    day.hear(32.0, &planned(32.0, 4.0, 12.0));
    assert!(shown(&day).is_some(), "still foreseen");
    // The crew sees it fly before that: asked at once.
    let mut day = Day::new();
    day.hear(0.0, &planned(0.0, 0.0, 20.0));
    day.board.answered(at(1.0), Line::Main, PlanAnswer::Done);
    day.hear(1.0, &planned(1.0, 4.0, 12.0));
    assert!(shown(&day).is_none());
    day.deck.bait = Some(tap(BaitState::Airborne, at(5.0)));
    day.hear(5.0, &planned(5.0, 4.0, 12.0));
    assert!(shown(&day).is_some());
}

trait Before {
    fn with_start_before(self, most_s: f64) -> Self;
}

impl Before for Forecast {
    fn with_start_before(mut self, most_s: f64) -> Self {
        let step = &mut self.plan.as_mut().unwrap().steps[0];
        step.start_in_s = step.start_in_s.min((most_s - 1.0).max(0.0));
        self
    }
}

#[test]
fn without_a_plan_the_rule_of_thumb_is_for_what_the_crew_saw() {
    let bare = |s: f64| {
        let mut bare = forecast(s, LIFTS);
        bare.plan = None;
        bare
    };
    let steps = |day: &Day| {
        let living = day.board.living();
        living[0]
            .actions
            .iter()
            .any(|action| matches!(action, Action::StepLine { .. }))
    };
    let mut day = Day::new();
    day.hear(0.0, &bare(0.0));
    assert!(!steps(&day), "nobody saw it fly");
    assert_eq!(
        words(&day.board.living()[0])[0],
        "watch the bait and say what it does"
    );
    day.deck.bait = Some(tap(BaitState::Airborne, at(1.0)));
    day.hear(1.0, &bare(1.0));
    assert!(steps(&day));
}

#[test]
fn below_the_chance_that_raises_it_a_trouble_may_come() {
    let mut day = Day::new();
    day.tick(0.0, LIFTS);
    assert_eq!(day.board.living()[0].title, "Bait will fly");
    let less = |chance: f64| Said { chance, ..LIFTS };
    day.tick(1.0, less(0.27));
    assert_eq!(day.board.living()[0].title, "Bait may fly");
    day.tick(2.0, less(0.8));
    assert_eq!(day.board.living()[0].title, "Bait will fly");
}

#[test]
fn at_equal_priority_people_come_before_the_bait() {
    let mut day = Day::new();
    let mut both = forecast(
        0.0,
        Said {
            onset_at_s: 5.0,
            ..LIFTS
        },
    );
    both.chances.push(Chance {
        kind: Trouble::LineFoul,
        chance: 0.6,
        so_now: 0.0,
        later_s: None,
        onset_s: Some(Band {
            p10: 5.0,
            p50: 7.0,
            p90: 9.0,
        }),
        chance_with_plan: None,
    });
    both.clearances.push(ClearanceAhead {
        structure: "tower".to_owned(),
        line: Line::Kite,
        clearance_m: 1.0,
        least_m: Band {
            p10: 0.2,
            p50: 0.5,
            p90: 1.0,
        },
    });
    both.turn = None;
    day.hear(0.0, &both);
    let living = day.board.living();
    assert_eq!(living.len(), 2, "{living:?}");
    assert!(
        living.iter().all(|a| a.priority == Priority::Alarm),
        "{living:?}"
    );
    assert_eq!(living[0].kind, Kind::LineFoul, "though it comes later");
    assert!(living.iter().all(|a| !a.actions.is_empty()));
}
