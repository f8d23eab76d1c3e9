//! What the boat's own turns show of her instruments: invented boats with known errors, honest boats,
//! and errors laid over recorded logs.

use std::collections::BTreeMap;

use skimwatch::angles::wrap_signed_deg;
use skimwatch::calibrate::{CalibrationNow, Calibrator, Term};
use skimwatch::decode::{
    CorrectBy, Correctable, Correction, CrewInput, Decoder, HeadingObservation, Observation,
    SessionMark, Talker, encode_crew,
};
use skimwatch::engine::{Engine, Event, Mode, Snapshot};
use skimwatch::time::Millis;
use skimwatch::units::{degrees, degrees_per_second};
use skimwatch::vessel::{
    Corrections, Deck, LinesOut, Measured, Sender, Vessel, VesselNow, VesselSettings,
};

use crate::beside::beside;
use crate::calibrate_boat::{HONEST, Needs, sail};
use crate::replay::{few_members, turn_toward};
use crate::vessel_logs::follow_vessel;

const SEEDS: u64 = 40;

/// Unit of the crew and how many of it make one of ours.
fn unit(what: Correctable) -> (&'static str, f64) {
    match what {
        Correctable::WindAngle | Correctable::Compass => ("deg", 1.0f64.to_degrees()),
        Correctable::RateOfTurn => ("deg/s", 1.0f64.to_degrees()),
        Correctable::WindSpeed | Correctable::Log => ("", 1.0),
    }
}

fn terms(now: &CalibrationNow, what: Correctable) -> Option<&[Term]> {
    let found = now.of(what)?.found.as_ref().ok()?;
    Some(&found.terms)
}

/// What each term should be.
fn truth(needs: &Needs, what: Correctable) -> Vec<f64> {
    match what {
        Correctable::WindAngle => vec![needs.vane_deg.to_radians()],
        Correctable::WindSpeed => vec![needs.wind_factor],
        Correctable::Log => vec![needs.log_factor],
        Correctable::Compass => needs.compass_deg.map(f64::to_radians).to_vec(),
        Correctable::RateOfTurn => vec![needs.rate_deg_s.to_radians()],
    }
}

/// How often the truth was within two deviations, and the mean deviation, after so many turns.
#[derive(Debug, Default, Clone, Copy)]
struct Tally {
    looked: u32,
    within: u32,
    sigma: f64,
    off: f64,
}

type Table = BTreeMap<(Correctable, usize, u32), Tally>;

fn tally(table: &mut Table, needs: &Needs, now: &CalibrationNow, what: Correctable, turns: u32) {
    let Some(terms) = terms(now, what) else {
        return;
    };
    for (i, (term, truth)) in terms.iter().zip(truth(needs, what)).enumerate() {
        let off = term.total - truth;
        let entry = table.entry((what, i, turns)).or_default();
        entry.looked += 1;
        entry.within += u32::from(off.abs() <= 2.0 * term.sigma);
        entry.sigma += term.sigma;
        entry.off += off;
    }
}

fn sailed(needs: Needs, seeds: std::ops::Range<u64>) -> Table {
    let mut table = Table::new();
    for seed in seeds {
        let mut seen = BTreeMap::<Correctable, u32>::new();
        sail(seed, needs, 1.2, |_, _, now| {
            for estimate in &now.estimates {
                let last = seen.insert(estimate.what, estimate.turns);
                if last != Some(estimate.turns) && [4, 7, 13].contains(&estimate.turns) {
                    // Just before this turn counted: all that 3, 6 and 12 turns and what followed tell.
                    tally(&mut table, &needs, now, estimate.what, estimate.turns - 1);
                }
            }
        });
    }
    for ((what, term, turns), tally) in &table {
        let (name, by) = unit(*what);
        let n = f64::from(tally.looked);
        println!(
            "{what:?} term {term} after {turns} turns: {} of {} within 2 sigma, sigma {:.3} {name}, \
             mean error {:+.3}",
            tally.within,
            tally.looked,
            tally.sigma / n * by,
            tally.off / n * by,
        );
    }
    table
}

/// All the errors at once.
const WRONG: Needs = Needs {
    vane_deg: 8.0,
    wind_factor: 1.2,
    log_factor: 0.8,
    compass_deg: [4.0, -5.0, 3.0],
    rate_deg_s: 0.4,
};

#[test]
fn known_errors_are_within_two_deviations_nine_times_in_ten() {
    for needs in [WRONG, HONEST] {
        let table = sailed(needs, 0..SEEDS);
        for ((what, term, turns), tally) in &table {
            assert!(
                f64::from(tally.within) >= 0.9 * f64::from(tally.looked),
                "{what:?} term {term} after {turns} turns: {tally:?}"
            );
        }
    }
}

#[test]
fn an_honest_boat_is_seldom_offered_a_correction() {
    let mut claimed = BTreeMap::<Correctable, u32>::new();
    let (mut ever, mut last) = (0, 0);
    for seed in 1000..1000 + SEEDS {
        let mut offered = std::collections::BTreeSet::new();
        let mut at_end = false;
        sail(seed, HONEST, 2.0, |_, _, now| {
            at_end = false;
            for estimate in now.estimates.iter().filter(|e| e.is_significant()) {
                offered.insert(estimate.what);
                at_end = true;
            }
        });
        for what in &offered {
            *claimed.entry(*what).or_default() += 1;
        }
        ever += u32::from(!offered.is_empty());
        last += u32::from(at_end);
    }
    println!("of {SEEDS} honest boats in 2 h: offered any at any time {ever}, at the end {last}");
    println!("{claimed:?}");
    for (what, count) in &claimed {
        assert!(
            u64::from(*count) * 20 <= SEEDS,
            "{what:?}: {count} of {SEEDS}"
        );
    }
}

fn of_log(name: &str, change: impl FnMut(&Observation) -> Observation) -> Option<CalibrationNow> {
    let path = beside("nmea-logs")?.join(name);
    let mut calibrator = Calibrator::default();
    follow_vessel(&path, change, |vessel, now, _| {
        calibrator.look(&vessel.measured(now));
    });
    Some(calibrator.now(&Corrections::default()))
}

fn show(name: &str, now: &CalibrationNow) {
    for estimate in &now.estimates {
        let (unit, by) = unit(estimate.what);
        match &estimate.found {
            Ok(found) => {
                let numbers: Vec<String> = found
                    .terms
                    .iter()
                    .map(|t| format!("{:+.3} +- {:.3}", t.total * by, t.sigma * by))
                    .collect();
                println!(
                    "{name}: {:?} {} {unit}, {} turns, significant {}",
                    estimate.what,
                    numbers.join("; "),
                    estimate.turns,
                    found.is_significant
                );
            }
            Err(why) => println!("{name}: {:?} {why}", estimate.what),
        }
    }
}

const LOGS: [&str; 6] = [
    "sail-lake-turns.nmea",
    "sail-race-2008.nmea",
    "sail-coast-2014.nmea",
    "sail-compass-swing.nmea",
    "motor-ais-route.nmea",
    "plotter-2min.nmea",
];

#[test]
fn recorded_logs_give_plausible_errors() {
    for name in LOGS {
        let Some(now) = of_log(name, Observation::clone) else {
            return;
        };
        show(name, &now);
        for estimate in &now.estimates {
            for term in estimate.found.iter().flat_map(|found| &found.terms) {
                let (low, high) = match estimate.what {
                    Correctable::WindSpeed | Correctable::Log => (0.6, 1.6),
                    _ => (-0.4, 0.4),
                };
                assert!((low..high).contains(&term.total), "{name}: {estimate:?}");
            }
        }
    }
}

#[test]
fn errors_laid_over_recorded_logs_are_found() {
    for name in [
        "sail-lake-turns.nmea",
        "sail-race-2008.nmea",
        "sail-coast-2014.nmea",
    ] {
        let Some(honest) = of_log(name, Observation::clone) else {
            return;
        };
        let wrong = of_log(name, |observation| match observation {
            Observation::ApparentWind { angle, speed } => Observation::ApparentWind {
                angle: angle.map(|angle| angle - degrees(10.0)),
                speed: speed.map(|speed| speed / 1.2),
            },
            Observation::WaterSpeed {
                longitudinal,
                transverse,
            } => Observation::WaterSpeed {
                longitudinal: *longitudinal / 0.8,
                transverse: *transverse,
            },
            other => other.clone(),
        })
        .unwrap();
        show(name, &wrong);
        let moved = |what| {
            let before = terms(&honest, what)?[0];
            let after = terms(&wrong, what)?[0];
            Some((before.total, after.total, after.sigma))
        };
        if let Some((before, after, sigma)) = moved(Correctable::WindAngle) {
            let by = wrap_signed_deg((after - before).to_degrees());
            assert!((by - 10.0).abs() <= sigma.to_degrees(), "{name}: {by}");
        }
        for (what, factor) in [(Correctable::WindSpeed, 1.2), (Correctable::Log, 0.8)] {
            if let Some((before, after, sigma)) = moved(what) {
                let by = after / before;
                assert!((by - factor).abs() <= sigma, "{name} {what:?}: {by}");
            }
        }
    }
}

#[test]
fn a_turned_compass_is_found_in_recorded_logs() {
    for name in [
        "sail-lake-turns.nmea",
        "sail-race-2008.nmea",
        "sail-compass-swing.nmea",
    ] {
        let Some(honest) = of_log(name, Observation::clone) else {
            return;
        };
        let wrong = of_log(name, |observation| match observation {
            Observation::Heading(HeadingObservation::Compass {
                sensor,
                deviation,
                variation,
            }) => Observation::Heading(HeadingObservation::Compass {
                sensor: *sensor - degrees(10.0),
                deviation: *deviation,
                variation: *variation,
            }),
            other => other.clone(),
        })
        .unwrap();
        let offset = |now| terms(now, Correctable::Compass).unwrap()[0];
        let (before, after) = (offset(&honest), offset(&wrong));
        let by = (after.total - before.total).to_degrees();
        assert!(
            (by - 10.0).abs() <= after.sigma.to_degrees(),
            "{name}: {by}"
        );
    }
}

/// The invented turn through the whole chain, with this said by the crew so many seconds after its
/// begin: advisories and boat at each second, as bytes.
fn played(said: &[(f64, u32, CrewInput)]) -> Vec<(Snapshot, String)> {
    let mut engine = Engine::new(few_members(), Mode::Replay);
    let mut said = said.iter().peekable();
    let mut begin = None;
    let mut seconds = Vec::new();
    let mut next = 1.0;
    for (at, feed, text) in turn_toward() {
        let begin = *begin.get_or_insert(at);
        while at.seconds_since(begin) >= next {
            let now = begin.plus_seconds(next);
            while let Some((_, sequence, input)) = said.next_if(|(t, ..)| *t <= next) {
                engine.take(Event::Line {
                    at: now,
                    feed: "crew",
                    text: &encode_crew(input, *sequence),
                });
            }
            let picture = engine.take(Event::Tick { at: now }).unwrap();
            let told = serde_json::to_string(&(&picture.revisions, &picture.snapshot.vessel));
            let bytes = format!("{} {:?}", told.unwrap(), picture.snapshot.calibration);
            seconds.push((picture.snapshot, bytes));
            next += 1.0;
        }
        engine.take(Event::Line {
            at,
            feed: &feed,
            text: &text,
        });
    }
    seconds
}

fn turned(by_deg: f64) -> CrewInput {
    CrewInput::Correct(Correction {
        talker: Talker::new("WI").unwrap(),
        by: CorrectBy::WindAngle(degrees(by_deg)),
    })
}

fn wind_deg(seconds: &[(Snapshot, String)], second: usize) -> f64 {
    let wind = seconds[second - 1].0.vessel.apparent_wind.as_ref();
    wind.unwrap().value.angle_rad.to_degrees()
}

#[test]
fn a_correction_and_its_undo_replay_to_the_same_bytes() {
    let said = [
        (10.0, 7, turned(10.0)),
        (20.0, 8, CrewInput::Undo { of: 7 }),
        (22.0, 9, turned(-4.0)),
        (24.0, 10, CrewInput::Uncorrect(Correctable::WindAngle)),
        (26.0, 11, CrewInput::Undo { of: 10 }),
    ];
    let plain = played(&[]);
    let (once, again) = (played(&said), played(&said));
    for (a, b) in once.iter().zip(&again) {
        assert_eq!(a.1, b.1);
    }
    let moved = |second| wrap_signed_deg(wind_deg(&once, second) - wind_deg(&plain, second));
    for (second, by) in [
        (9, 0.0),
        (13, 10.0),
        (19, 10.0),
        (21, 0.0),
        (23, -4.0),
        (25, 0.0),
        (29, -4.0),
    ] {
        assert!(
            (moved(second) - by).abs() < 1e-6,
            "{second} s: {}",
            moved(second)
        );
    }
    let in_force = |second: usize| once[second - 1].0.deck.corrections.wind_angle_rad;
    assert!(in_force(21).is_none());
    assert!((in_force(29).unwrap().by.to_degrees() + 4.0).abs() < 1e-9);
    // Another talker's wind is left alone.
    let other = CrewInput::Correct(Correction {
        talker: Talker::new("II").unwrap(),
        by: CorrectBy::WindAngle(degrees(10.0)),
    });
    let others = played(&[(10.0, 7, other)]);
    assert!((wind_deg(&others, 13) - wind_deg(&plain, 13)).abs() < 1e-9);
}

#[test]
fn a_correction_outlives_session_launch_and_restart() {
    let before = CrewInput::Before {
        age_s: 3600.0,
        counts: true,
        input: Box::new(turned(10.0)),
    };
    let said = [
        (3.0, 0, before),
        (6.0, 1, CrewInput::Session(SessionMark::Stop)),
        (8.0, 2, CrewInput::Session(SessionMark::Start)),
    ];
    let seconds = played(&said);
    let put_on = seconds[19].0.deck.corrections.wind_angle_rad.unwrap();
    assert!((put_on.by.to_degrees() - 10.0).abs() < 1e-9);
    assert_eq!(seconds[2].0.at.seconds_since(put_on.at), 3600.0);
    let plain = played(&[]);
    let moved = wrap_signed_deg(wind_deg(&seconds, 20) - wind_deg(&plain, 20));
    assert!((moved - 10.0).abs() < 1e-6);
}

/// What is measured is told without the corrections, whatever they are.
#[test]
fn corrections_are_taken_out_of_what_is_measured() {
    let corrections = [
        CorrectBy::WindAngle(degrees(12.0)),
        CorrectBy::WindSpeed(1.25),
        CorrectBy::Log(0.8),
        CorrectBy::Compass {
            offset: degrees(5.0),
            sine: degrees(-7.0),
            cosine: degrees(4.0),
        },
        CorrectBy::RateOfTurn(degrees_per_second(0.5)),
    ];
    let mut deck = Deck::new(LinesOut {
        kite_m: None,
        main_m: None,
    });
    let start = Millis(1_780_000_000_000);
    for by in corrections {
        let talker = Talker::new("II").unwrap();
        let said = CrewInput::Correct(Correction { talker, by });
        deck.observe(start, 1, &said);
    }
    let heard = |corrected: bool| {
        let mut vessel = Vessel::new(VesselSettings::default());
        if corrected {
            vessel.correct(start, deck.now(start).corrections);
        }
        let at = start.plus_seconds(1.0);
        let mut decoder = Decoder::new();
        for text in [
            "$IIHDG,200.0,,,3.0,E",
            "$IIVHW,,,,,6.00,N,,",
            "$IIMWV,45.0,R,14.0,N,A",
            "$IIROT,-60.0,A",
        ] {
            let decoded = decoder.decode(text).unwrap();
            for observation in &decoded.observations {
                vessel.observe(at, Sender::on_line("bus", "II", decoded.kind), observation);
            }
        }
        (vessel.measured(at), vessel.now(at))
    };
    let ((plain, before), (taken_out, after)) = (heard(false), heard(true));
    let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} {b}");
    let heading = |m: &Measured| m.heading.unwrap().value;
    near(heading(&plain).true_rad, heading(&taken_out).true_rad);
    near(heading(&plain).shown_rad, heading(&taken_out).shown_rad);
    near(
        plain.log_mps.unwrap().value,
        taken_out.log_mps.unwrap().value,
    );
    let wind = |m: &Measured| m.wind.unwrap().value;
    near(wind(&plain).angle_rad, wind(&taken_out).angle_rad);
    near(wind(&plain).speed_mps, wind(&taken_out).speed_mps);
    let rate = |m: &Measured| m.rate_of_turn_rad_s.unwrap().value;
    near(rate(&plain), rate(&taken_out));
    // What is believed is corrected: 200 + 5 - 7 sin 200 + 4 cos 200 = 203.635 (from the definition).
    let believed = |now: &VesselNow| now.heading_true_rad.as_ref().unwrap().value.to_degrees();
    near(believed(&before), 203.0);
    assert!(
        (believed(&after) - 206.635).abs() < 1e-3,
        "{}",
        believed(&after)
    );
    let log = |now: &VesselNow| now.speed_water_mps.as_ref().unwrap().value;
    near(log(&after), 0.8 * log(&before));
    let felt = |now: &VesselNow| now.apparent_wind.as_ref().unwrap().value;
    near(felt(&after).angle_rad.to_degrees(), 57.0);
    near(felt(&after).speed_mps, 1.25 * felt(&before).speed_mps);
}
