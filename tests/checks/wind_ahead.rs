//! Bands of the wind ahead against wind that is known: recorded by other boats, where it lies beside
//! the project, and made by a formula.

use skimwatch::forecast::WindAhead;
use skimwatch::time::Millis;
use skimwatch::vessel::{Grade, Reading, TrueWind, Vessel, VesselSettings};

use crate::beside::beside;
use coverage::{AHEAD_S, Coverage, add, coverage, table};
use log::Log;

#[path = "../days/coverage.rs"]
mod coverage;
#[path = "../days/log.rs"]
#[allow(dead_code, reason = "the maker of days uses the rest")]
mod log;

#[test]
fn bands_hold_recorded_wind() {
    let (Some(logs), Some(days)) = (beside("nmea-logs"), beside("real-days")) else {
        return;
    };
    let mut all = Coverage::default();
    for paths in [
        vec![days.join("lake-full.nmea")],
        vec![logs.join("sail-coast-2014.nmea")],
        vec![logs.join("sail-race-2008.nmea")],
        vec![logs.join("sail-compass-swing.nmea")],
        vec![
            days.join("bay_00.instruments.nmea"),
            days.join("bay_01.instruments.nmea"),
        ],
    ] {
        let mut counts = Coverage::default();
        for path in &paths {
            add(&mut counts, &coverage(&Log::open(path, 1.0).unwrap()));
        }
        let name = paths[0].file_stem().unwrap().to_string_lossy().into_owned();
        println!("{}", table(&name, &counts));
        for count in counts.iter().flatten().filter(|c| c.samples > 30.0) {
            assert!(count.in_90 / count.samples >= 0.75, "{name}: {count:?}");
        }
        add(&mut all, &counts);
    }
    println!("{}", table("all", &all));
    for count in all.iter().flatten() {
        let (in_50, in_90) = (count.in_50 / count.samples, count.in_90 / count.samples);
        assert!((0.45..=0.55).contains(&in_50), "{in_50}");
        assert!((0.85..=0.95).contains(&in_90), "{in_90}");
    }
}

/// Invented: a wind of 8 m/s with waves of several lengths that have no common period, so that it
/// never repeats; `restless` multiplies them.
fn made(t_s: f64, restless: f64) -> TrueWind {
    let sum = |phase: f64| {
        [
            (7.3, 0.5),
            (23.0, 0.7),
            (61.0, 0.8),
            (177.0, 1.0),
            (411.0, 1.0),
        ]
        .into_iter()
        .map(|(period_s, share)| {
            share * (std::f64::consts::TAU * t_s / period_s + phase * period_s).sin()
        })
        .sum::<f64>()
    };
    TrueWind {
        speed_mps: 8.0 * (0.07 * restless * sum(1.0)).exp(),
        from_rad: 1.0 + 0.08 * restless * sum(2.0),
    }
}

/// Share of the invented wind within the 90 % bands, for each horizon: speed, then direction.
fn held(restless: f64) -> [[f64; 4]; 2] {
    let start = Millis(1_700_000_000_000);
    let mut ahead = WindAhead::new(128, 7);
    let mut held = [[0.0; 4]; 2];
    let mut looks = 0.0;
    for second in 0..3600 {
        let t_s = f64::from(second);
        let at = start.plus_seconds(t_s);
        let mut now = Vessel::new(VesselSettings::default()).now(at);
        now.true_wind = Some(Reading {
            value: made(t_s, restless),
            at,
            source: String::new(),
            grade: Grade::Measured,
        });
        ahead.follow(&now);
        if second < 600 || second % 10 != 0 {
            continue;
        }
        looks += 1.0;
        let drawn = ahead.drawn(at, &AHEAD_S);
        for (h, ahead_s) in AHEAD_S.into_iter().enumerate() {
            let then = made(t_s + ahead_s, restless);
            for (held, of) in held
                .iter_mut()
                .zip([(|w: &TrueWind| w.speed_mps) as fn(&TrueWind) -> f64, |w| {
                    w.from_rad
                }])
            {
                let below = drawn.iter().filter(|f| of(&f[h]) < of(&then)).count();
                held[h] += f64::from(u8::from((7..=121).contains(&below)));
            }
        }
    }
    held.map(|held| held.map(|held| held / looks))
}

#[test]
fn bands_learn_how_restless_the_air_is() {
    for restless in [0.4, 1.0, 2.0] {
        for (quantity, held) in held(restless).into_iter().enumerate() {
            for (h, held) in held.into_iter().enumerate() {
                let name = format!(
                    "x {restless}, quantity {quantity}, {} s: {held}",
                    AHEAD_S[h]
                );
                assert!(held >= 0.8, "{name}");
            }
        }
    }
}

#[test]
fn the_band_of_a_still_wind_is_narrower() {
    let width = |restless: f64| {
        let start = Millis(1_700_000_000_000);
        let mut ahead = WindAhead::new(128, 7);
        for second in 0..1200 {
            let at = start.plus_seconds(f64::from(second));
            let mut now = Vessel::new(VesselSettings::default()).now(at);
            now.true_wind = Some(Reading {
                value: made(f64::from(second), restless),
                at,
                source: String::new(),
                grade: Grade::Measured,
            });
            ahead.follow(&now);
        }
        let mut speeds: Vec<f64> = ahead
            .drawn(start.plus_seconds(1199.0), &[60.0])
            .iter()
            .map(|f| f[0].speed_mps)
            .collect();
        speeds.sort_by(f64::total_cmp);
        speeds[121] - speeds[6]
    };
    assert!(width(0.3) < 0.6 * width(1.0));
}

/// Largest against mean of the wind drawn for two minutes, before anything was learnt of this
/// boat's air: averaged over futures. The steps are 2 s apart, about as long as the gusts of 3 s for
/// which gust factors are published.
#[test]
fn gusts_of_the_prior_are_as_strong_as_published_ones() {
    let at = Millis(1_700_000_000_000);
    let mut vessel = Vessel::new(VesselSettings::default()).now(at);
    vessel.true_wind = Some(Reading {
        value: TrueWind {
            from_rad: 1.0,
            speed_mps: 8.0,
        },
        at,
        source: "invented".to_owned(),
        grade: Grade::Measured,
    });
    let mut ahead = WindAhead::new(512, 7);
    ahead.follow(&vessel);
    let times: Vec<f64> = (1..=60).map(|step| 2.0 * f64::from(step)).collect();
    let drawn = ahead.drawn(at, &times);
    let factors = drawn.iter().map(|future| {
        let speeds = future.iter().map(|wind| wind.speed_mps);
        let mean = speeds.clone().sum::<f64>() / future.len() as f64;
        speeds.fold(0.0, f64::max) / mean
    });
    let factor = factors.sum::<f64>() / drawn.len() as f64;
    println!("gust factor over 120 s: {factor:.3}");
    // Gusts of 3 s against the mean of 120 s: 1.15 at sea, 1.55 in-land (Harper, Kepert and Ginger
    // 2010, WMO/TD-No. 1555, table 1.1; values from memory).
    assert!((1.15..1.55).contains(&factor), "{factor}");
}
