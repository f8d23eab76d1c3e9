//! Invented days, advisories and forecasts for the checks of scores.

use skimwatch::advice::{Advisory, AlertState, Kind, Outcome, Priority};
use skimwatch::forecast::{Band, Chance, Crew, Forecast, Hands, Trouble};
use skimwatch::score::{
    Chances, Class, Event, Labels, Report, Rules, Tally, Told, Truth, TruthRow, TruthTurn,
};

use crate::forecast_scene::{START, at, nothing_in_view};

/// A day of `length_s` in which the bait skips, but for stretches [from, to) of an immersion.
pub fn truth(length_s: f64, stretches: &[(f64, f64, f64)], turns: &[TruthTurn]) -> Truth {
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
                at_sea: None,
            }
        })
        .collect();
    Truth {
        turns: turns.to_vec(),
        rows,
    }
}

/// Hands move the main line evenly.
pub fn hands(truth: &mut Truth, from_s: f64, to_s: f64, by_m: f64) {
    for row in &mut truth.rows {
        row.main_line_out_m += by_m * ((row.t_s - from_s) / (to_s - from_s)).clamp(0.0, 1.0);
    }
}

pub fn turn(start_s: f64, told_ahead_s: Option<f64>) -> TruthTurn {
    TruthTurn {
        start_s,
        by_deg: -45.0,
        rate_deg_s: 3.0,
        told_ahead_s,
    }
}

pub fn events(truth: &Truth) -> Vec<Event> {
    Labels::from_truth(truth, &[], &Rules::default()).events
}

pub fn onsets(truth: &Truth, trouble: Trouble) -> Vec<(f64, f64)> {
    events(truth)
        .iter()
        .filter(|event| event.trouble == trouble)
        .map(|event| (event.onset_s, event.end_s))
        .collect()
}

/// The first revision of an advisory.
pub fn first_revision(kind: Kind, number: u32, raised_s: f64, onset_s: f64) -> Advisory {
    Advisory {
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
        chance_with_plan: None,
        chance_basis: "invented".to_owned(),
        title: String::new(),
        cause: String::new(),
        turn_at: None,
        actions: Vec::new(),
        without_action: String::new(),
        unwatched_since: None,
        outcome: None,
    }
}

/// Raises an advisory and, if told so, ends it.
pub fn tell(
    tally: &mut Tally,
    number: u32,
    kind: Kind,
    raised_s: f64,
    onset_s: f64,
    over: Option<(f64, Outcome)>,
) {
    let first = first_revision(kind, number, raised_s, onset_s);
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

pub fn forecast(now_s: f64, kind: Trouble, chance: f64, onset_s: f64) -> Forecast {
    let view = nothing_in_view();
    Forecast {
        made_at: at(now_s),
        horizon_s: 60.0,
        futures: 100,
        basis: "invented members".to_owned(),
        hands: Hands::default(),
        t_s: Vec::new(),
        bait_height_m: Vec::new(),
        immersion: Vec::new(),
        kite_elevation_deg: Vec::new(),
        kite_off_astern_deg: Vec::new(),
        bait_height_with_plan_m: Vec::new(),
        chances: vec![Chance {
            kind,
            chance,
            so_now: 0.0,
            later_s: None,
            onset_s: Some(Band {
                p10: onset_s,
                p50: onset_s + 10.0,
                p90: onset_s + 20.0,
            }),
            chance_with_plan: None,
        }],
        loads: Vec::new(),
        clearances: Vec::new(),
        turns_after: Vec::new(),
        turn: None,
        plan: None,
        turn_limit: None,
        fan: Vec::new(),
        rig_now: view.clone(),
        rig_then: view,
        bait_track: Vec::new(),
        sea: None,
        crew: Crew {
            anchored: false,
            age_s: None,
            learnt_age_s: None,
            note: String::new(),
        },
    }
}

pub fn report(tally: Tally, truth: &Truth) -> Report {
    Report::new(&tally.end(START, Some(truth), &Rules::default()))
}

pub fn told(report: &Report, class: Class) -> &Told {
    report
        .told
        .iter()
        .find(|row| row.trouble == "all" && row.class == class)
        .unwrap()
}

pub fn all(report: &Report) -> &Chances {
    report.chances.iter().find(|c| c.trouble == "all").unwrap()
}
