//! Scores of hand-made days whose right answers can be counted on fingers: truth, events,
//! advisories. All days invented.

use skimwatch::advice::{Advisory, Kind, Outcome, Priority};
use skimwatch::decode::{BaitState, CrewInput, Line, encode_crew};
use skimwatch::forecast::Trouble;
use skimwatch::score::{Cause, Class, Report, Rules, Tally, Truth};
use skimwatch::units::{degrees, degrees_per_second, metres};

use crate::forecast_scene::{START, at};
use crate::score_scene::{events, first_revision, hands, onsets, report, tell, told, truth, turn};

// ---- Truth ------------------------------------------------------------------------------------

const GOOD: &str = r#"{"turns": [{"start_s": 5, "by_deg": 40, "rate_deg_s": 4, "told_ahead_s": null,
 "tau": 3.0}], "mast_height_m": 7.5,
 "columns": ["t_s", "bait_height_m", "immersion", "kite_elevation_deg", "heading_deg_true", "main_line_out_m"],
 "series": [[0, 0.1, 0.25, 45, 90, 140], [0.5, 0.1, 0, 44, 91, 140]]}"#;

#[test]
fn a_truth_is_read_by_the_names_of_its_columns() {
    let truth = Truth::from_json(GOOD).unwrap();
    assert_eq!(truth.turns[0].told_ahead_s, None);
    assert_eq!(truth.rows[1].immersion, 0.0);
    assert_eq!(truth.rows[1].main_line_out_m, 140.0);
}

#[test]
fn a_wrong_truth_is_told_with_place_and_range() {
    for (from, to, said) in [
        (
            "\"immersion\"",
            "\"wet\"",
            "the truth has no column \"immersion\": name it in `columns` (found: t_s, bait_height_m, wet, kite_elevation_deg, heading_deg_true, main_line_out_m)",
        ),
        (
            "0.1, 0.25",
            "0.1, 1.25",
            "the truth is refused: series[0].immersion = 1.25: must be 0 to 1",
        ),
        (
            "[0.5, 0.1, 0,",
            "[0.0, 0.1, 0,",
            "the truth is refused: series[1].t_s = 0: must be later than the row before (0)",
        ),
        (
            "[0, 0.1, 0.25,",
            "[0, 0.25,",
            "the truth is refused: series[0] = 5 numbers: must be 6, one for each column",
        ),
        (
            "\"rate_deg_s\": 4",
            "\"rate_deg_s\": 0",
            "the truth is refused: turns[0].rate_deg_s = 0: must be 0.01 to 60",
        ),
        (
            "\"by_deg\": 40, ",
            "",
            "the truth cannot be read: missing field `by_deg` at line 2 column 12",
        ),
        (
            ", [0.5, 0.1, 0, 44, 91, 140]",
            "",
            "the truth is refused: series = 1: must be two rows at least",
        ),
    ] {
        assert!(GOOD.contains(from), "{from}");
        let error = Truth::from_json(&GOOD.replacen(from, to, 1)).unwrap_err();
        assert_eq!(error.to_string(), said);
    }
}

// ---- Events and causes ------------------------------------------------------------------------

#[test]
fn hops_are_no_events_and_near_events_are_one() {
    let day = truth(
        200.0,
        &[
            (0.0, 4.0, 0.0),      // on when the truth began
            (20.0, 22.5, 0.0),    // a hop
            (40.0, 43.0, 0.0),    // just long enough ...
            (47.5, 60.0, 0.0),    // ... and 4.5 s later: one event
            (65.0, 70.0, 0.0),    // 5 s later: another
            (100.0, 101.0, 0.9),  // a dip
            (110.0, 114.0, 0.7),  // dragging
            (150.0, 155.0, 0.69), // not yet
        ],
        &[],
    );
    assert_eq!(
        onsets(&day, Trouble::BaitAirborne),
        [(0.0, 4.0), (40.0, 60.0), (65.0, 70.0)]
    );
    assert_eq!(onsets(&day, Trouble::BaitDragging), [(110.0, 114.0)]);
    assert_eq!(events(&day)[0].cause, Cause::Before);
}

#[test]
fn a_low_kite_is_an_event() {
    let mut day = truth(60.0, &[], &[]);
    for row in &mut day.rows {
        row.kite_elevation_deg = if row.t_s >= 30.0 { 19.9 } else { 20.0 };
    }
    assert_eq!(onsets(&day, Trouble::KiteSinking), [(30.0, 60.0)]);
}

#[test]
fn causes_are_hands_then_turn_then_air() {
    // 45 degrees at 3 a second: a turn at 100 acts until 100 + 15 + 40.
    let mut day = truth(
        400.0,
        &[
            (110.0, 120.0, 0.0),
            (155.0, 160.0, 0.0),
            (170.0, 175.0, 0.0),
            (230.0, 240.0, 0.0),
            (310.0, 320.0, 0.8),
        ],
        &[turn(100.0, None)],
    );
    hands(&mut day, 200.0, 216.0, -20.0);
    hands(&mut day, 300.0, 305.0, -5.0);
    let causes: Vec<Cause> = events(&day).iter().map(|event| event.cause).collect();
    assert_eq!(
        causes,
        [
            Cause::Turn(0),
            Cause::Turn(0), // the last moment of the turn's time
            Cause::Air,
            Cause::Hands, // line taken until 14 s before
            Cause::Air,   // taking line does not make a bait drag
        ]
    );
}

#[test]
fn the_share_of_skipping_counts_the_time_of_turns() {
    // The turn acts for 55 s; 11 s of them in the air.
    let day = truth(200.0, &[(110.0, 121.0, 0.0)], &[turn(100.0, None)]);
    let report = report(Tally::new(), &day);
    let share = report.skipping_in_turns.unwrap();
    assert!((share - 44.5 / 55.5).abs() < 1e-9, "{share}");
}

#[test]
fn the_burden_is_what_stands_while_nothing_threatens() {
    // Free of trouble: 0 to 140 s and 220 to 400 s.
    let day = truth(400.0, &[(200.0, 220.0, 0.0)], &[]);
    let mut tally = Tally::new();
    let kind = Kind::BaitAirborne;
    let over = |s| Some((s, Outcome::Averted));
    tell(&mut tally, 1, kind, 20.0, 60.0, over(60.0));
    tell(&mut tally, 2, Kind::BaitDragging, 30.0, 60.0, over(50.0)); // at the same time
    tell(&mut tally, 3, kind, 130.0, 200.0, over(230.0)); // 10 s before and 10 s after
    let caution = first_revision(kind, 4, 300.0, 330.0);
    tally.revision(&Advisory {
        priority: Priority::Caution,
        ..caution.clone()
    });
    tally.revision(&Advisory {
        revision: 2,
        at: at(340.0),
        ..caution.clone()
    });
    tally.revision(&Advisory {
        revision: 3,
        at: at(350.0),
        outcome: Some(Outcome::Averted),
        ..caution
    });
    let report = report(tally, &day);
    let expected = (40.0 + 10.0 + 10.0 + 10.0) / 320.0;
    assert!((report.burden.unwrap() - expected).abs() < 1e-9);
}

// ---- Advisories -------------------------------------------------------------------------------

#[test]
fn detection_false_alarms_and_lead_of_a_known_day() {
    let day = truth(
        900.0,
        &[
            (110.0, 130.0, 0.0), // told turn at 100: foretold at 85, lead 25 s
            (310.0, 330.0, 0.0), // told turn at 300: missed
            (510.0, 530.0, 0.0), // untold turn at 500: raised at 490, known from 500, lead 10 s
            (700.0, 710.0, 0.0), // air: foretold at 696, lead 4 s
        ],
        &[
            turn(100.0, Some(20.0)),
            turn(300.0, Some(20.0)),
            turn(500.0, None),
            turn(800.0, None),
        ],
    );
    let mut tally = Tally::new();
    let kind = Kind::BaitAirborne;
    let happened = |s| Some((s, Outcome::Happened));
    let averted = |s| Some((s, Outcome::Averted));
    tell(&mut tally, 1, kind, 85.0, 112.0, happened(140.0));
    tell(
        &mut tally,
        2,
        Kind::BaitDragging,
        290.0,
        320.0,
        averted(340.0),
    ); // false
    tell(&mut tally, 3, kind, 315.0, 316.0, happened(340.0)); // late
    tell(&mut tally, 4, kind, 490.0, 600.0, happened(540.0));
    tell(&mut tally, 5, kind, 696.0, 699.0, happened(720.0));
    tell(&mut tally, 6, kind, 802.0, 810.0, averted(840.0)); // false, turn under way
    tell(&mut tally, 7, kind, 850.0, 950.0, None); // the day ended first
    tell(&mut tally, 8, Kind::DataLost, 860.0, 860.0, None); // not scored
    let report = report(tally, &day);

    let planned = told(&report, Class::Planned);
    assert_eq!((planned.events, planned.detected), (2, 1));
    assert_eq!(planned.detection, Some(0.5));
    assert_eq!(planned.lead_median_s, Some(25.0));
    assert_eq!((planned.true_alarms, planned.false_alarms), (1, 1));
    assert_eq!(planned.false_alarm_ratio, Some(0.5));
    assert_eq!(planned.late, 1);

    let under_way = told(&report, Class::UnderWay);
    assert_eq!((under_way.events, under_way.detected), (1, 1));
    assert_eq!(under_way.lead_median_s, Some(10.0));
    assert_eq!((under_way.true_alarms, under_way.false_alarms), (1, 1));
    assert_eq!(under_way.open, 1);

    let air = told(&report, Class::NoTurn);
    assert_eq!((air.events, air.detected), (1, 1));
    assert_eq!(air.lead_p10_s, Some(4.0));
    assert_eq!((report.planned_turns, report.under_way_turns), (2, 2));
}

#[test]
fn what_the_crew_itself_has_tapped_is_no_forecast() {
    let counts = |tapped_s: f64, state: BaitState| {
        let day = truth(300.0, &[], &[turn(100.0, Some(30.0))]);
        let mut tally = Tally::new();
        tally.crew(at(tapped_s), 1, &CrewInput::Bait(state));
        let over = Some((120.0, Outcome::Averted));
        tell(&mut tally, 1, Kind::BaitDragging, 90.0, 90.0, over);
        let report = report(tally, &day);
        let row = told(&report, Class::Planned);
        (row.told, row.false_alarms)
    };
    assert_eq!(counts(90.0, BaitState::Dragging), (1, 0));
    // Another state, or long before: the advisory was the forecast's own.
    assert_eq!(counts(90.0, BaitState::Airborne), (0, 1));
    assert_eq!(counts(80.0, BaitState::Dragging), (0, 1));
}

#[test]
fn hands_that_act_in_time_avert_and_are_no_false_alarm() {
    let fates = |from_s: f64, by_m: f64| {
        let mut day = truth(300.0, &[], &[turn(100.0, Some(30.0))]);
        hands(&mut day, from_s, from_s + 5.0, by_m);
        let mut tally = Tally::new();
        let over = Some((150.0, Outcome::Averted));
        tell(&mut tally, 1, Kind::BaitAirborne, 80.0, 110.0, over);
        let report = report(tally, &day);
        let row = told(&report, Class::Planned);
        (row.averted, row.false_alarms)
    };
    assert_eq!(fates(90.0, 8.0), (1, 0));
    assert_eq!(fates(114.0, 8.0), (1, 0), "just after the foreseen onset");
    assert_eq!(fates(125.0, 8.0), (0, 1), "long after it");
    assert_eq!(fates(90.0, -8.0), (0, 1), "the wrong way");
    assert_eq!(fates(70.0, 8.0), (0, 1), "before it was raised");
    assert_eq!(fates(90.0, 0.3), (0, 1), "next to nothing");
}

#[test]
fn called_off_and_lost_are_neither_true_nor_false() {
    let day = truth(300.0, &[], &[]);
    let mut tally = Tally::new();
    let kind = Kind::BaitDragging;
    tell(
        &mut tally,
        1,
        kind,
        20.0,
        60.0,
        Some((40.0, Outcome::Withdrawn)),
    );
    tell(
        &mut tally,
        2,
        kind,
        90.0,
        120.0,
        Some((100.0, Outcome::Lost)),
    );
    let report = report(tally, &day);
    let row = told(&report, Class::NoTurn);
    assert_eq!((row.withdrawn, row.lost), (1, 1));
    assert_eq!(row.false_alarm_ratio, None);
}

#[test]
fn what_nobody_watched_is_lost_whatever_comes_of_it() {
    let score = |day_events: &[(f64, f64, f64)], watched_again: Option<f64>| {
        let day = truth(300.0, day_events, &[]);
        let mut tally = Tally::new();
        let kind = Kind::BaitAirborne;
        tell(&mut tally, 1, kind, 20.0, 60.0, None);
        let revision = |at_s: f64, since_s: Option<f64>, outcome| Advisory {
            revision: 3,
            at: at(at_s),
            unwatched_since: since_s.map(at),
            outcome,
            ..first_revision(kind, 1, 20.0, 60.0)
        };
        tally.revision(&revision(40.0, Some(35.0), None));
        if let Some(at_s) = watched_again {
            tally.revision(&revision(at_s, None, None));
        }
        tally.revision(&revision(240.0, Some(35.0), Some(Outcome::Lost)));
        let report = report(tally, &day);
        let row = told(&report, Class::NoTurn);
        (row.true_alarms, row.false_alarms, row.lost)
    };
    assert_eq!(score(&[], None), (0, 0, 1));
    assert_eq!(score(&[(150.0, 160.0, 0.0)], None), (0, 0, 1));
    // Watched again before it came: foretold.
    assert_eq!(score(&[(150.0, 160.0, 0.0)], Some(100.0)), (1, 0, 1));
}

#[test]
fn an_advisory_that_comes_back_counts_from_its_return() {
    let day = truth(300.0, &[(150.0, 160.0, 0.0)], &[]);
    let mut tally = Tally::new();
    let kind = Kind::BaitAirborne;
    let over = Some((60.0, Outcome::Averted));
    tell(&mut tally, 1, kind, 20.0, 60.0, over);
    // The same advisory, active again at 141 s; `raised_at` stays what it was.
    let mut back = Tally::new();
    tell(&mut back, 1, kind, 20.0, 60.0, over);
    let again = Advisory {
        revision: 3,
        at: at(141.0),
        ..first_revision(kind, 1, 20.0, 150.0)
    };
    tally.revision(&again);
    let report = report(tally, &day);
    let row = told(&report, Class::NoTurn);
    assert_eq!((row.true_alarms, row.false_alarms), (1, 1));
    assert_eq!(row.lead_median_s, Some(9.0));
}

#[test]
fn taps_label_a_day_without_a_truth() {
    let mut tally = Tally::new();
    let says: [(f64, CrewInput); 6] = [
        (10.0, CrewInput::Bait(BaitState::Skipping)),
        (
            60.0,
            CrewInput::Turn {
                by: degrees(-40.0),
                rate: degrees_per_second(4.0),
                in_s: 20.0,
            },
        ),
        (95.0, CrewInput::Bait(BaitState::Airborne)),
        (120.0, CrewInput::Bait(BaitState::Dragging)), // a slip of the thumb ...
        (121.0, CrewInput::Undo { of: 4 }),            // ... taken back
        (
            130.0,
            CrewInput::Moved {
                line: Line::Main,
                by: metres(10.0),
            },
        ),
    ];
    tell(&mut tally, 1, Kind::BaitAirborne, 62.0, 90.0, None);
    for (seq, (t_s, input)) in (1..).zip(&says) {
        tally.sentence(at(*t_s), &encode_crew(input, seq));
    }
    let report = Report::new(&tally.end(START, None, &Rules::default()));
    let row = told(&report, Class::Planned);
    assert_eq!((row.events, row.detected, row.true_alarms), (1, 1, 1));
    assert_eq!(row.lead_median_s, Some(33.0));
    assert!(report.told.iter().all(|row| row.trouble != "bait-dragging"));
    assert_eq!(report.skipping_in_turns, None);
}
