//! What is behind an advisory: a turn that is announced, under way or called off, a shift of the wind.

use skimwatch::advice::{Action, AdviceBoard, AdviceSettings, Advisory, AlertState, Kind, Outcome};
use skimwatch::decode::Line;
use skimwatch::forecast::{FanHeading, TurnSource};

use crate::advice_day::{CALM, Day, LIFTS, Said, forecast, vessel};
use crate::forecast_scene::{announce, at, deck};

#[test]
fn of_a_turn_under_way_what_is_far_off_waits_until_its_size_shows() {
    let raised = |chance: f64, onset_at_s: f64| {
        let mut day = Day::new();
        let mut forecast = forecast(
            0.0,
            Said {
                chance,
                onset_at_s,
                turn_at_s: Some(0.0),
                ..LIFTS
            },
        );
        forecast.turn.as_mut().unwrap().source = TurnSource::UnderWay;
        !day.hear(0.0, &forecast).is_empty()
    };
    assert!(raised(0.7, 10.0));
    assert!(!raised(0.7, 30.0));
    assert!(raised(0.85, 30.0));
    assert!(!raised(0.55, 10.0));
}

#[test]
fn a_called_off_turn_withdraws_at_once() {
    let mut day = Day::new();
    day.deck.intended_turn = Some(announce(at(0.0), 50.0, -45.0, 3.0));
    day.tick(1.0, LIFTS);
    day.deck.intended_turn = None;
    let out = day.tick(2.0, CALM);
    assert_eq!(out.len(), 1);
    assert_eq!(out[0].outcome, Some(Outcome::Withdrawn));
    assert_eq!(out[0].state, AlertState::RectifiedUnacknowledged);
    assert_eq!(out[0].revision, 2);
}

#[test]
fn a_called_off_turn_leaves_no_low_chance_standing() {
    let mut day = Day::new();
    day.deck.intended_turn = Some(announce(at(0.0), 50.0, -45.0, 3.0));
    day.tick(1.0, LIFTS);
    day.deck.intended_turn = None;
    // Enough to keep an advisory, not to raise one.
    let out = day.tick(
        2.0,
        Said {
            chance: 0.4,
            ..CALM
        },
    );
    assert_eq!(out.len(), 1, "{out:?}");
    assert_eq!(out[0].outcome, Some(Outcome::Withdrawn));
}

#[test]
fn a_turn_called_off_for_another_one_is_told_anew() {
    let mut day = Day::new();
    day.deck.intended_turn = Some(announce(at(0.0), 50.0, -45.0, 3.0));
    day.tick(1.0, LIFTS);
    day.deck.intended_turn = Some(announce(at(2.0), 50.0, 45.0, 3.0));
    let mut other = forecast(
        2.0,
        Said {
            chance: 0.3,
            ..LIFTS
        },
    );
    let turn = other.turn.as_mut().unwrap();
    turn.by_deg = 45.0;
    turn.to_heading_deg_true = 135.0;
    let out = day.hear(2.0, &other);
    assert_eq!(out.len(), 1, "{out:?}");
    assert_eq!(out[0].outcome, Some(Outcome::Withdrawn));
}

#[test]
fn what_comes_before_the_turn_is_not_its_doing() {
    let early = Said {
        onset_at_s: 20.0,
        turn_at_s: Some(100.0),
        ..LIFTS
    };
    let mut day = Day::new();
    for s in 0..6 {
        day.tick(f64::from(s), early);
    }
    let told = day.log.first().unwrap();
    assert_eq!(told.cause, "wind and gusts lift the bait; no turn");
    // Without a turn more is needed than with one.
    let mut unsure = Day::new();
    for s in 0..6 {
        unsure.tick(
            f64::from(s),
            Said {
                chance: 0.55,
                ..early
            },
        );
    }
    assert!(unsure.log.is_empty(), "{:?}", unsure.log);
    unsure.tick(
        6.0,
        Said {
            chance: 0.55,
            ..LIFTS
        },
    );
    assert_eq!(unsure.log.len(), 1);
}

#[test]
fn before_the_wind_is_known_only_what_is_so_already_is_told() {
    let lifts = Said {
        onset_at_s: 40.0,
        turn_at_s: None,
        ..LIFTS
    };
    let told = |watched_s: f64, said: Said, so_now: f64| {
        let mut board = AdviceBoard::new(AdviceSettings::default());
        (0..6).any(|s| {
            let now = at(f64::from(s));
            let mut vessel = vessel(now);
            if let Some(wind) = &mut vessel.wind_statistics {
                wind.window_s = watched_s + f64::from(s);
            }
            let mut forecast = forecast(f64::from(s), said);
            for chance in &mut forecast.chances {
                chance.so_now = so_now;
            }
            let deck = deck(100.0, 140.0);
            !board.update(now, &vessel, &deck, Ok(&forecast)).is_empty()
        })
    };
    assert!(!told(5.0, lifts, 0.0), "gusts that nobody has seen");
    assert!(told(5.0, lifts, 0.9), "it flies now");
    assert!(told(5.0, LIFTS, 0.0), "a turn that was announced");
    assert!(told(120.0, lifts, 0.0), "the wind is known");
}

/// The wind has gone round by 30 degrees; the settled rig wants 12 m more; a turn in so many
/// seconds.
fn shifted(day: &mut Day, s: f64, turn_in_s: Option<f64>) -> Vec<Advisory> {
    let mut now = vessel(at(s));
    now.wind_statistics.as_mut().unwrap().shift_rad = 30f64.to_radians();
    let mut forecast = forecast(
        s,
        Said {
            chance: 0.05,
            turn_at_s: turn_in_s.map(|in_s| s + in_s),
            ..LIFTS
        },
    );
    forecast.fan = vec![FanHeading {
        heading_deg_true: 90.0,
        turn_deg: 0.0,
        immersion: Some(0.1),
        kite_elevation_deg: Some(50.0),
        off_astern_deg: Some(10.0),
        main_line_change_m: Some(12.0),
        clear_by_m: None,
        in_bite_zone: true,
        unfishable: None,
    }];
    day.board.update(at(s), &now, &day.deck, Ok(&forecast))
}

#[test]
fn a_shift_of_the_wind_is_told_as_one_even_with_a_turn_far_off() {
    let told = |turn_in_s: Option<f64>| {
        let mut day = Day::new();
        (0..20)
            .flat_map(|s| shifted(&mut day, f64::from(s), turn_in_s))
            .collect::<Vec<_>>()
    };
    for turn_in_s in [None, Some(100.0)] {
        let told = told(turn_in_s);
        assert_eq!(told.len(), 1, "{turn_in_s:?}: {told:?}");
        assert_eq!(told[0].kind, Kind::WindShift);
        assert!(told[0].cause.contains("30° clockwise"), "{}", told[0].cause);
        let Action::MoveLine {
            by_m,
            line,
            portions,
            ..
        } = &told[0].actions[0]
        else {
            panic!("{:?}", told[0].actions)
        };
        assert_eq!((*line, *by_m, *portions), (Line::Main, 4.0, 3));
    }
    // A turn at hand has a plan of its own.
    assert!(told(Some(10.0)).is_empty());
}

#[test]
fn trouble_nearer_than_the_least_lead_does_not_wait() {
    let gust = |onset_at_s: f64| Said {
        onset_at_s,
        turn_at_s: None,
        ..LIFTS
    };
    assert_eq!(Day::new().tick(0.0, gust(9.0)).len(), 1);
    assert_eq!(Day::new().tick(0.0, gust(30.0)).len(), 0);
}

#[test]
fn a_shift_asks_for_line_at_the_pace_and_by_the_cranks_of_the_main_reel() {
    let mut day = Day::new();
    let mut told = Vec::new();
    for s in 0..10 {
        let s = f64::from(s);
        let mut now = vessel(at(s));
        now.wind_statistics.as_mut().unwrap().shift_rad = 0.6;
        let mut calm = forecast(s, CALM);
        calm.plan = None;
        calm.hands.take_m_per_crank = 0.5;
        calm.hands.cranks_per_s = 2.0;
        calm.fan = vec![FanHeading {
            heading_deg_true: 90.0,
            turn_deg: 0.0,
            immersion: Some(0.6),
            kite_elevation_deg: Some(45.0),
            off_astern_deg: Some(40.0),
            main_line_change_m: Some(-12.0),
            clear_by_m: None,
            in_bite_zone: true,
            unfishable: None,
        }];
        told.extend(day.board.update(at(s), &now, &day.deck, Ok(&calm)));
    }
    let shift = told.iter().find(|a| a.kind == Kind::WindShift).unwrap();
    // Own arithmetic: 12 m in three portions, at half a metre a turn, a metre a second.
    assert!(
        matches!(
            shift.actions[0],
            Action::MoveLine {
                line: Line::Main,
                by_m: -4.0,
                over_s: 4.0,
                pace_m_per_s: 1.0,
                cranks: Some(8.0),
                portions: 3,
                ..
            }
        ),
        "{:?}",
        shift.actions
    );
}
