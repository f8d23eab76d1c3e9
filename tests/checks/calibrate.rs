//! What the boat's own turns show of her instruments: invented boats with known errors, honest boats,
//! and errors laid over recorded logs.

use std::collections::BTreeMap;

use skimwatch::angles::wrap_signed_deg;
use skimwatch::calibrate::{CalibrationNow, Calibrator, Term};
use skimwatch::decode::{Correctable, Observation};
use skimwatch::units::degrees;
use skimwatch::vessel::Corrections;

use crate::beside::beside;
use crate::calibrate_boat::{HONEST, Needs, sail};
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
        assert!(u64::from(*count) * 20 <= SEEDS, "{what:?}: {count} of {SEEDS}");
    }
}

fn of_log(
    name: &str,
    change: impl FnMut(&Observation) -> Observation,
) -> Option<CalibrationNow> {
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
    for name in ["sail-lake-turns.nmea", "sail-race-2008.nmea", "sail-coast-2014.nmea"] {
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
