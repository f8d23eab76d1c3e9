//! Advisories: life cycle, hysteresis, revisions, outcomes.

use skimwatch::advice::{
    Action, AdviceBoard, AdviceSettings, Advisory, AlertState, Kind, Outcome, Priority,
};
use skimwatch::decode::{BaitState, CrewInput, Line, PlanAnswer};
use skimwatch::forecast::{
    Band, Chance, Crew, FanHeading, Forecast, Hands, Lack, LinePlan, NoForecast, PlanStep, Trouble,
    TurnAhead, TurnLimit, TurnSource,
};
use skimwatch::time::Millis;
use skimwatch::vessel::{DeckNow, Missing, Quantity, Report, VesselNow};

use crate::forecast_scene::{Boat, announce, at, deck, nothing_in_view, tap};

/// Whole seconds after which what is gone has been taken back: `clear_dwell_s` and a little more.
const GONE_S: i32 = 17;

fn vessel(now: Millis) -> VesselNow {
    Boat::with_wind_abeam(8.0).now(now)
}

/// An invented forecast: one chance with its onset, a turn to port, a plan to give line.
#[derive(Clone, Copy)]
pub struct Said {
    pub kind: Trouble,
    pub chance: f64,
    pub onset_at_s: f64,
    pub turn_at_s: Option<f64>,
}

pub fn forecast(now_s: f64, said: Said) -> Forecast {
    let view = nothing_in_view();
    let onset_s = (said.onset_at_s - now_s).max(0.0);
    Forecast {
        made_at: at(now_s),
        horizon_s: 120.0,
        futures: 100,
        basis: "invented members.".to_owned(),
        hands: Hands::default(),
        t_s: vec![0.0, 60.0],
        bait_height_m: vec![
            Band {
                p10: 0.0,
                p50: 0.0,
                p90: 0.0,
            },
            Band {
                p10: 1.0,
                p50: 4.0,
                p90: 9.0,
            },
        ],
        immersion: Vec::new(),
        kite_elevation_deg: Vec::new(),
        kite_off_astern_deg: Vec::new(),
        bait_height_with_plan_m: Vec::new(),
        chances: vec![Chance {
            kind: said.kind,
            chance: said.chance,
            so_now: 0.0,
            later_s: None,
            onset_s: Some(Band {
                p10: 0.8 * onset_s,
                p50: onset_s,
                p90: 1.2 * onset_s,
            }),
            chance_with_plan: Some(0.1 * said.chance),
        }],
        loads: Vec::new(),
        clearances: Vec::new(),
        turns_after: Vec::new(),
        turn: said.turn_at_s.map(|turn_at_s| TurnAhead {
            source: TurnSource::Crew,
            starts_in_s: turn_at_s - now_s,
            by_deg: -45.0,
            rate_deg_s: 3.0,
            to_heading_deg_true: 45.0,
            chance: 0.97,
        }),
        plan: Some(LinePlan {
            steps: vec![PlanStep {
                line: Line::Main,
                by_m: 30.0,
                start_in_s: (said.onset_at_s - 20.0 - now_s).max(0.0),
                over_s: 30.0,
                pace_m_per_s: 1.0,
                cranks: None,
            }],
            skipping_without: 0.4,
            skipping_with: 0.9,
            shortfall: None,
        }),
        turn_limit: Some(TurnLimit {
            port_deg_s: Some(1.5),
            starboard_deg_s: Some(6.0),
            for_deg: 45.0,
            port_without_hands_deg_s: None,
            starboard_without_hands_deg_s: Some(1.0),
            tried_to_deg_s: 8.0,
            allowed_chance: 0.25,
            skips: true,
            why: "invented".to_owned(),
        }),
        fan: Vec::new(),
        rig_now: view.clone(),
        rig_then: view,
        bait_track: Vec::new(),
        sea: None,
        crew: Crew {
            anchored: true,
            age_s: Some(60.0),
            learnt_age_s: None,
            note: "anchored 1 min ago".to_owned(),
        },
    }
}

pub struct Day {
    pub board: AdviceBoard,
    pub deck: DeckNow,
    pub log: Vec<Advisory>,
}

impl Day {
    /// The crew takes back what it said last of the bait.
    fn take_back_the_sighting(&mut self) {
        let seen = self.deck.bait.take().expect("nothing was said");
        self.board.retracted(&Report {
            number: 1,
            at: seen.at,
            sequence: 1,
            input: CrewInput::Bait(seen.state),
        });
    }

    pub fn new() -> Self {
        Self {
            board: AdviceBoard::new(AdviceSettings::default()),
            deck: deck(100.0, 140.0),
            log: Vec::new(),
        }
    }

    pub fn tick(&mut self, s: f64, said: Said) -> Vec<Advisory> {
        self.hear(s, &forecast(s, said))
    }

    pub fn hear(&mut self, s: f64, forecast: &Forecast) -> Vec<Advisory> {
        let out = self
            .board
            .update(at(s), &vessel(at(s)), &self.deck, Ok(forecast));
        self.log.extend(out.clone());
        out
    }

    /// A tick with so much of the chance for a bait that flies already.
    fn flies(&mut self, s: f64, said: Said, so_now: f64) -> Vec<Advisory> {
        let mut forecast = forecast(s, said);
        for chance in &mut forecast.chances {
            chance.so_now = so_now;
            chance.later_s = chance.onset_s.filter(|onset| onset.p50 > 0.0);
        }
        self.hear(s, &forecast)
    }

    fn blind(&mut self, s: f64, missing: bool, since_s: f64) -> Vec<Advisory> {
        let mut now = vessel(at(s));
        if missing {
            now.missing.push(Missing {
                quantity: Quantity::Wind,
                last_heard: Some(at(since_s)),
                why: "no wind".to_owned(),
            });
        }
        let lack = if missing { Lack::Sensor } else { Lack::LineOut };
        self.without(s, &now, &[(lack, "no wind")])
    }

    /// A tick without a forecast.
    fn without(&mut self, s: f64, now: &VesselNow, lacks: &[(Lack, &str)]) -> Vec<Advisory> {
        let none = lacks
            .iter()
            .map(|(lack, words)| (*lack, (*words).to_owned()));
        let none = NoForecast::of(none.collect());
        let out = self.board.update(at(s), now, &self.deck, Err(&none));
        self.log.extend(out.clone());
        out
    }
}

pub const LIFTS: Said = Said {
    kind: Trouble::BaitAirborne,
    chance: 0.85,
    onset_at_s: 60.0,
    turn_at_s: Some(50.0),
};
pub const CALM: Said = Said {
    chance: 0.02,
    turn_at_s: None,
    ..LIFTS
};

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
        let Action::MoveLine { by_m, line, .. } = &told[0].actions[0] else {
            panic!("{:?}", told[0].actions)
        };
        assert_eq!((*line, *by_m), (Line::Main, 12.0));
    }
    // A turn at hand has a plan of its own.
    assert!(told(Some(10.0)).is_empty());
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
    // Own arithmetic: 12 m at half a metre a turn, a metre a second.
    assert!(
        matches!(
            shift.actions[0],
            Action::MoveLine {
                line: Line::Main,
                by_m: -12.0,
                over_s: 12.0,
                pace_m_per_s: 1.0,
                cranks: Some(24.0),
                ..
            }
        ),
        "{:?}",
        shift.actions
    );
}
