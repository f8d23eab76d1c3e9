//! The pace of forecasts follows what is at stake, and fewer futures are run while nothing is.

use skimwatch::decode::BaitState;
use skimwatch::forecast::ForecastSettings;

use crate::forecast_scene::at;
use crate::forecast_watch::Watch;

/// Seconds from one new forecast to the next while the boat goes on for `seconds`.
fn intervals_s(watch: &mut Watch, seconds: u32, helm_deg_s: f64) -> Vec<f64> {
    let mut made: Vec<f64> = Vec::new();
    for _ in 0..seconds {
        let made_at = watch.on(1, helm_deg_s).made_at.0 as f64 / 1000.0;
        if made.last() != Some(&made_at) {
            made.push(made_at);
        }
    }
    made.windows(2).map(|pair| pair[1] - pair[0]).collect()
}

fn longest(intervals_s: &[f64]) -> f64 {
    intervals_s.iter().copied().fold(0.0, f64::max)
}

/// A boat on a straight course whose crew has seen the bait skip.
fn settled() -> Watch {
    let settings = ForecastSettings {
        futures: 64,
        // Gusts lift the bait, but not for so long.
        event_s: 20.0,
        horizon_s: 30.0,
        ..ForecastSettings::default()
    };
    let mut watch = Watch::new(settings, 90.0);
    for _ in 0..3 {
        watch.on(20, 0.0);
        watch.sees(BaitState::Skipping);
    }
    watch.on(5, 0.0);
    watch
}

#[test]
fn with_nothing_at_stake_forecasts_are_seldom_and_half_as_large() {
    let mut watch = settled();
    let forecast = watch.on(1, 0.0);
    assert!(
        forecast
            .chances
            .iter()
            .all(|c| !c.kind.presses() || c.chance < 0.15),
        "{:?}",
        forecast.chances
    );
    assert_eq!(forecast.futures, 32, "half of them are enough");
    let calm_s = ForecastSettings::default().calm_refresh_s;
    let intervals = intervals_s(&mut watch, 120, 0.0);
    let calm = intervals.iter().filter(|s| **s >= calm_s).count();
    assert!(3 * calm >= 2 * intervals.len(), "{intervals:?}");
}

#[test]
fn a_turn_ahead_makes_them_frequent_again() {
    let mut watch = settled();
    watch.announces(28.0, 30.0, 3.0);
    // News is answered at once.
    let told = watch.on(1, 0.0);
    assert!((told.made_at.seconds_since(at(watch.s)) + 1.0).abs() < 0.01);
    assert!(longest(&intervals_s(&mut watch, 10, 0.0)) <= 3.0);
    // Within 15 s of its start.
    watch.on(4, 0.0);
    assert!(longest(&intervals_s(&mut watch, 10, 0.0)) <= 2.0);
    // And while it is made.
    assert!(longest(&intervals_s(&mut watch, 10, 3.0)) <= 2.0);
}

#[test]
fn a_boat_that_does_not_do_as_foreseen_gets_a_new_forecast_at_once() {
    let mut watch = settled();
    let before = watch.on(1, 0.0);
    let turned = watch.helm.boat.heading_deg + 5.0;
    watch.helm.boat.heading_deg = turned;
    assert!(watch.on(1, 0.0).made_at > before.made_at, "another heading");
    let before = watch.on(1, 0.0);
    watch.helm.boat.speed_mps *= 1.3;
    assert!(watch.on(1, 0.0).made_at > before.made_at, "another speed");
}
