//! Scores of hand-made days whose right answers can be counted on fingers. All days invented.

use proptest::prelude::*;
use skimwatch::advice::{Advisory, AlertState, Kind, Outcome, Priority};
use skimwatch::decode::{BaitState, CrewInput, Line};
use skimwatch::forecast::{Band, Chance, ChanceKind, Crew, Forecast, RigView, ViewPoint};
use skimwatch::score::{
    Cause, ChanceSet, Class, Event, Labels, Marks, Reliability, Report, Rules, Tally, Told,
    Trouble, Truth, TruthRow, TruthTurn, reliability_svg,
};
use skimwatch::units::{degrees, degrees_per_second, metres};

use crate::forecast_scene::{START, at};

/// A day of `length_s` in which the bait skips, but for stretches [from, to) of an immersion.
fn truth(length_s: f64, stretches: &[(f64, f64, f64)], turns: &[TruthTurn]) -> Truth {
    let rows = (0..=(2.0 * length_s) as u32)
        .map(|half_seconds| {
            let t_s = 0.5 * f64::from(half_seconds);
            let immersion = stretches
                .iter()
                .find(|(from_s, to_s, _)| (*from_s..*to_s).contains(&t_s))
                .map_or(0.25, |(_, _, immersion)| *immersion);
            TruthRow {
                t_s,
                immersion,
                kite_elevation_deg: 45.0,
                main_line_out_m: 140.0,
            }
        })
        .collect();
    Truth {
        turns: turns.to_vec(),
        rows,
    }
}

/// Hands move the main line evenly.
fn hands(truth: &mut Truth, from_s: f64, to_s: f64, by_m: f64) {
    for row in &mut truth.rows {
        row.main_line_out_m += by_m * ((row.t_s - from_s) / (to_s - from_s)).clamp(0.0, 1.0);
    }
}

fn turn(start_s: f64, told_ahead_s: Option<f64>) -> TruthTurn {
    TruthTurn {
        start_s,
        by_deg: -45.0,
        rate_deg_s: 3.0,
        told_ahead_s,
    }
}

fn events(truth: &Truth) -> Vec<Event> {
    Labels::from_truth(truth, &[], &Rules::default()).events
}

fn onsets(truth: &Truth, trouble: Trouble) -> Vec<(f64, f64)> {
    events(truth)
        .iter()
        .filter(|event| event.trouble == trouble)
        .map(|event| (event.onset_s, event.end_s))
        .collect()
}

/// Raises an advisory and, if told so, ends it.
fn tell(
    tally: &mut Tally,
    number: u32,
    kind: Kind,
    raised_s: f64,
    onset_s: f64,
    over: Option<(f64, Outcome)>,
) {
    let first = Advisory {
        id: format!("{kind:?}-{number}"),
        revision: 1,
        at: at(raised_s),
        kind,
        priority: Priority::Warning,
        state: AlertState::ActiveUnacknowledged,
        raised_at: at(raised_s),
        onset_at: Some(at(onset_s)),
        countdown_s: onset_s - raised_s,
        chance: Some(0.8),
        chance_basis: "invented".to_owned(),
        title: String::new(),
        cause: String::new(),
        actions: Vec::new(),
        without_action: String::new(),
        outcome: None,
    };
    tally.revision(&first);
    if let Some((over_s, outcome)) = over {
        tally.revision(&Advisory {
            revision: 2,
            at: at(over_s),
            state: AlertState::RectifiedUnacknowledged,
            outcome: Some(outcome),
            ..first
        });
    }
}

fn forecast(now_s: f64, kind: ChanceKind, chance: f64, onset_s: f64) -> Forecast {
    let point = ViewPoint {
        aft_m: 0.0,
        starboard_m: 0.0,
        up_m: 0.0,
    };
    let view = RigView {
        in_s: 0.0,
        heading_deg_true: 90.0,
        wind_from_bow_deg: -70.0,
        kite_line: Vec::new(),
        main_line: Vec::new(),
        clip: point,
        marker: point,
        immersion: 0.25,
    };
    Forecast {
        made_at: at(now_s),
        horizon_s: 60.0,
        members: 100,
        basis: "invented members".to_owned(),
        t_s: Vec::new(),
        bait_height_m: Vec::new(),
        immersion: Vec::new(),
        kite_elevation_deg: Vec::new(),
        kite_off_astern_deg: Vec::new(),
        bait_height_with_plan_m: Vec::new(),
        chances: vec![Chance {
            kind,
            chance,
            onset_s: Some(Band {
                p10: onset_s,
                p50: onset_s + 10.0,
                p90: onset_s + 20.0,
            }),
            chance_with_plan: None,
        }],
        turn: None,
        plan: None,
        turn_limit: None,
        fan: Vec::new(),
        rig_now: view.clone(),
        rig_then: view,
        crew: Crew {
            anchored: false,
            age_s: None,
            note: String::new(),
        },
    }
}

fn report(tally: Tally, truth: &Truth) -> Report {
    Report::new(&tally.end(START, Some(truth), &Rules::default()))
}

fn told(report: &Report, class: Class) -> &Told {
    report
        .told
        .iter()
        .find(|row| row.trouble == "all" && row.class == class)
        .unwrap()
}

fn all(report: &Report) -> &skimwatch::score::Chances {
    report.chances.iter().find(|c| c.trouble == "all").unwrap()
}

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
            "the truth cannot be read: missing field `by_deg` at line 2 column 13",
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
        at: at(141.0),
        ..revision_of(kind, 20.0, 150.0)
    };
    tally.revision(&again);
    let report = report(tally, &day);
    let row = told(&report, Class::NoTurn);
    assert_eq!((row.true_alarms, row.false_alarms), (1, 1));
    assert_eq!(row.lead_median_s, Some(9.0));
}

fn revision_of(kind: Kind, raised_s: f64, onset_s: f64) -> Advisory {
    Advisory {
        id: format!("{kind:?}-1"),
        revision: 3,
        at: at(raised_s),
        kind,
        priority: Priority::Warning,
        state: AlertState::ActiveUnacknowledged,
        raised_at: at(raised_s),
        onset_at: Some(at(onset_s)),
        countdown_s: 0.0,
        chance: Some(0.8),
        chance_basis: "invented".to_owned(),
        title: String::new(),
        cause: String::new(),
        actions: Vec::new(),
        without_action: String::new(),
        outcome: None,
    }
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
        tally.crew(at(*t_s), seq, input);
    }
    let report = Report::new(&tally.end(START, None, &Rules::default()));
    let row = told(&report, Class::Planned);
    assert_eq!((row.events, row.detected, row.true_alarms), (1, 1, 1));
    assert_eq!(row.lead_median_s, Some(33.0));
    assert!(report.told.iter().all(|row| row.trouble != "bait-dragging"));
    assert_eq!(report.skipping_in_turns, None);
}

// ---- Chances ----------------------------------------------------------------------------------

#[test]
fn a_chance_meets_what_comes_within_its_horizon() {
    let day = truth(300.0, &[(150.0, 160.0, 0.0)], &[]);
    let mut tally = Tally::new();
    for (now_s, chance) in [
        (80.0, 0.2),  // 70 s before: beyond the horizon of 60 s
        (100.0, 0.8), // comes
        (155.0, 0.9), // on already: left out
        (200.0, 0.4), // does not come
        (250.0, 0.4), // past the end: left out
    ] {
        let made = forecast(now_s, ChanceKind::BaitAirborne, chance, 10.0);
        tally.forecast(&made);
        tally.forecast(&made); // shown again
    }
    let report = report(tally, &day);
    let chances = all(&report);
    assert_eq!(
        (chances.left_out_on_already, chances.left_out_past_end),
        (1, 1)
    );
    // (0.2^2 + 0.2^2 + 0.4^2) / 3 against a base rate of 1/3.
    let brier = chances.whole.brier.unwrap();
    assert!((brier - 0.08).abs() < 1e-12, "{brier}");
    let skill = chances.whole.skill.unwrap();
    assert!(
        (skill - (1.0 - 0.08 / (2.0 / 9.0))).abs() < 1e-12,
        "{skill}"
    );
    assert_eq!(chances.whole, chances.censored);
    assert_eq!(chances.whole, chances.shortened);
}

#[test]
fn interventions_censor_or_shorten() {
    let sets = |now_s: f64, event_s: Option<f64>, turns: &[TruthTurn], hands_s: Option<f64>| {
        let stretch: Vec<_> = event_s.map(|s| (s, s + 10.0, 0.0)).into_iter().collect();
        let mut day = truth(300.0, &stretch, turns);
        if let Some(from_s) = hands_s {
            hands(&mut day, from_s, from_s + 5.0, 4.0);
        }
        let mut tally = Tally::new();
        tally.forecast(&forecast(now_s, ChanceKind::BaitAirborne, 0.5, 10.0));
        let report = report(tally, &day);
        let of = |set: &ChanceSet| set.bins.first().map(|bin| (bin.mean_chance, bin.observed));
        let chances = all(&report);
        (
            of(&chances.whole),
            of(&chances.censored),
            of(&chances.shortened),
        )
    };
    let half = |observed| Some((0.5, observed));
    // Nobody comes between.
    assert_eq!(
        sets(100.0, Some(120.0), &[], None),
        (half(1.0), half(1.0), half(1.0))
    );
    // Hands at +20 s, no event: half of the foreseen onsets lie before (p50 = 20 s).
    assert_eq!(
        sets(100.0, None, &[], Some(120.0)),
        (half(0.0), None, Some((0.25, 0.0)))
    );
    // The event came first; its window is cut all the same.
    assert_eq!(
        sets(100.0, Some(115.0), &[], Some(120.0)),
        (half(1.0), half(1.0), Some((0.25, 1.0)))
    );
    // Hands are at it.
    assert_eq!(sets(100.0, None, &[], Some(98.0)), (half(0.0), None, None));
    // A turn that nobody had told when the forecast was made, and one that was told.
    let untold = [turn(120.0, None)];
    assert_eq!(
        sets(100.0, Some(140.0), &untold, None),
        (half(1.0), None, Some((0.25, 0.0)))
    );
    assert_eq!(
        sets(100.0, Some(140.0), &[turn(120.0, Some(15.0))], None),
        (half(1.0), None, Some((0.25, 0.0))),
        "told only after the forecast"
    );
    assert_eq!(
        sets(100.0, Some(140.0), &[turn(120.0, Some(25.0))], None),
        (half(1.0), half(1.0), half(1.0))
    );
}

proptest! {
    #[test]
    fn scores_stay_in_their_ranges(
        samples in prop::collection::vec((0.0_f64..=1.0, any::<bool>()), 1..400),
    ) {
        let mut sums = Reliability::default();
        for (chance, came) in &samples {
            sums.add(*chance, *came);
        }
        prop_assert!((0.0..=1.0).contains(&sums.brier().unwrap()));
        let rate = sums.base_rate().unwrap();
        prop_assert!((0.0..=1.0).contains(&rate));
        if let Some(skill) = sums.skill() {
            prop_assert!(skill <= 1.0);
        }
        let bins = sums.bins();
        prop_assert_eq!(bins.iter().map(|b| b.samples).sum::<u64>(), samples.len() as u64);
        for bin in bins {
            prop_assert!((0.0..=1.0).contains(&bin.observed));
            let edge = f64::from(bin.from_percent) / 100.0;
            prop_assert!((edge - 1e-9..=edge + 0.1 + 1e-9).contains(&bin.mean_chance));
        }
    }

    #[test]
    fn the_base_rate_as_forecast_has_no_skill(
        came in prop::collection::vec(any::<bool>(), 2..300),
    ) {
        let rate = came.iter().filter(|c| **c).count() as f64 / came.len() as f64;
        let (mut base, mut perfect) = (Reliability::default(), Reliability::default());
        for one in &came {
            base.add(rate, *one);
            perfect.add(f64::from(u8::from(*one)), *one);
        }
        if rate > 0.0 && rate < 1.0 {
            prop_assert!(base.skill().unwrap().abs() < 1e-9);
            prop_assert!((perfect.skill().unwrap() - 1.0).abs() < 1e-12);
        } else {
            prop_assert_eq!(base.skill(), None);
        }
    }

    /// Any day and any advisories: ratios within 0..1, nothing counted twice, and marks of two
    /// days added are those of both in one.
    #[test]
    fn any_day_scores_within_range_and_adds_up(
        first in any_day(),
        second in any_day(),
    ) {
        let marks: Vec<Marks> = [&first, &second].map(|(day, told, made)| {
            let mut tally = Tally::new();
            for (number, (raised_s, lasts_s, lead_s, dragging)) in (1..).zip(told) {
                let kind = if *dragging { Kind::BaitDragging } else { Kind::BaitAirborne };
                let over = Some((raised_s + lasts_s, Outcome::Averted));
                tell(&mut tally, number, kind, *raised_s, raised_s + lead_s, over);
            }
            for (t_s, chance) in (0..).map(|i| 3.0 * f64::from(i)).zip(made) {
                tally.forecast(&forecast(t_s, ChanceKind::BaitAirborne, *chance, 5.0));
            }
            tally.end(START, Some(day), &Rules::default())
        }).into();
        let mut sum = Marks::new();
        for one in &marks {
            sum.merge(one);
        }
        let report = Report::new(&sum);
        prop_assert_eq!(report.recordings, 2);
        let advisories: u64 = report
            .told
            .iter()
            .filter(|row| row.trouble == "all")
            .map(|r| r.true_alarms + r.false_alarms + r.late + r.averted + r.withdrawn + r.lost + r.open)
            .sum();
        prop_assert_eq!(advisories as usize, first.1.len() + second.1.len());
        for row in &report.told {
            for ratio in [row.detection, row.false_alarm_ratio].into_iter().flatten() {
                prop_assert!((0.0..=1.0).contains(&ratio));
            }
            prop_assert!(row.detected <= row.events);
            prop_assert!(row.leads as u64 <= row.detected);
            if let (Some(median), Some(low)) = (row.lead_median_s, row.lead_p10_s) {
                prop_assert!(low >= 0.0 && low <= median);
            }
        }
        if let Some(chances) = report.chances.first() {
            prop_assert!(chances.censored.samples <= chances.whole.samples);
            prop_assert!(chances.shortened.samples <= chances.whole.samples);
        }
        well_formed(&reliability_svg(&report)).map_err(TestCaseError::fail)?;
        let mut other_way = Marks::new();
        for one in marks.iter().rev() {
            other_way.merge(one);
        }
        prop_assert_eq!(Report::new(&other_way).told, report.told);
    }
}

type AnyDay = (Truth, Vec<(f64, f64, f64, bool)>, Vec<f64>);

fn any_day() -> impl Strategy<Value = AnyDay> {
    let stretch = (0.0..280.0_f64, 1.0..30.0_f64, any::<bool>());
    let turns = (
        20.0..100.0_f64,
        150.0..250.0_f64,
        prop::option::of(1.0..30.0_f64),
    );
    (
        prop::collection::vec(stretch, 0..6),
        turns,
        prop::collection::vec(
            (0.0..280.0_f64, 1.0..60.0_f64, 0.0..60.0_f64, any::<bool>()),
            0..6,
        ),
        prop::collection::vec(0.0..=1.0_f64, 0..90),
    )
        .prop_map(|(stretches, (one_s, two_s, ahead), told, made)| {
            let stretches: Vec<_> = stretches
                .into_iter()
                .map(|(s, long_s, dragging)| (s, s + long_s, if dragging { 0.9 } else { 0.0 }))
                .collect();
            let mut day = truth(300.0, &stretches, &[turn(one_s, ahead), turn(two_s, None)]);
            hands(&mut day, two_s + 20.0, two_s + 30.0, 6.0);
            (day, told, made)
        })
}

// ---- Report -----------------------------------------------------------------------------------

/// Every tag is closed in order, every ampersand is an entity, no number is missing.
fn well_formed(svg: &str) -> Result<(), String> {
    let mut open: Vec<&str> = Vec::new();
    for piece in svg.split('<').skip(1) {
        let Some((tag, text)) = piece.split_once('>') else {
            return Err(format!("`<{piece}` is never ended"));
        };
        if tag.matches('"').count() % 2 != 0 {
            return Err(format!("odd quotes in <{tag}>"));
        }
        if let Some(name) = tag.strip_prefix('/') {
            if open.pop() != Some(name) {
                return Err(format!("</{name}> closes nothing"));
            }
        } else if !tag.ends_with('/') {
            open.push(tag.split_whitespace().next().unwrap_or_default());
        }
        for entity in text.split('&').skip(1) {
            if !["amp;", "lt;", "gt;"].iter().any(|e| entity.starts_with(e)) {
                return Err(format!("&{entity}"));
            }
        }
        if open.is_empty() && !text.trim().is_empty() {
            return Err(format!("text outside: {text}"));
        }
    }
    if svg.contains("NaN") || svg.contains("inf") {
        return Err("a coordinate is no number".to_owned());
    }
    if open.is_empty() {
        Ok(())
    } else {
        Err(format!("never closed: {open:?}"))
    }
}

#[test]
fn the_report_reads_as_shown() {
    let day = truth(
        400.0,
        &[(110.0, 130.0, 0.0), (300.0, 310.0, 0.8)],
        &[turn(100.0, Some(20.0))],
    );
    let mut tally = Tally::new();
    let over = Some((140.0, Outcome::Happened));
    tell(&mut tally, 1, Kind::BaitAirborne, 82.5, 111.0, over);
    for i in 0..340 {
        let t_s = f64::from(i);
        let chance = if (50.0..110.0).contains(&t_s) {
            0.85
        } else {
            0.05
        };
        tally.forecast(&forecast(t_s, ChanceKind::BaitAirborne, chance, 10.0));
    }
    let report = report(tally, &day);
    insta::assert_snapshot!("score_report", report.text());
    let svg = reliability_svg(&report);
    well_formed(&svg).unwrap();
    assert_eq!(
        svg.matches("<circle").count(),
        2 * all(&report).shortened.bins.len()
    );
    let json = serde_json::to_value(&report).unwrap();
    assert_eq!(json["told"][0]["class"], "planned");
    assert_eq!(
        json["chances"][0]["shortened"]["bins"][0]["from_percent"],
        0
    );
    // Nothing scored: still a picture and a table.
    let nothing = Report::new(&Marks::new());
    well_formed(&reliability_svg(&nothing)).unwrap();
    assert!(nothing.text().starts_with("0 recordings"));
}
