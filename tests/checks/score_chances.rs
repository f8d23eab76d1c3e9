//! Chances of hand-made days, properties of every score, the report. All days invented.

use proptest::prelude::*;
use skimwatch::advice::{Kind, Outcome};
use skimwatch::forecast::Trouble;
use skimwatch::score::{
    ChanceSet, Marks, Reliability, Report, Rules, Tally, Truth, TruthTurn, reliability_svg,
};

use crate::forecast_scene::START;
use crate::score_scene::{all, forecast, hands, report, tell, truth, turn};

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
        let made = forecast(now_s, Trouble::BaitAirborne, chance, 10.0);
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
        tally.forecast(&forecast(now_s, Trouble::BaitAirborne, 0.5, 10.0));
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
                tally.forecast(&forecast(t_s, Trouble::BaitAirborne, *chance, 5.0));
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
            .map(|r| r.true_alarms + r.false_alarms + r.told + r.late + r.averted + r.withdrawn + r.lost + r.open)
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
        tally.forecast(&forecast(t_s, Trouble::BaitAirborne, chance, 10.0));
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
    assert!(nothing.text().starts_with("recordings: 0 "));
}
