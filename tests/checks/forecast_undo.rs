//! What the crew takes back weighs nothing in the forecast.

use std::sync::Arc;

use skimwatch::decode::{BaitState, CrewInput};
use skimwatch::forecast::{Forecast, Trouble};
use skimwatch::units::{degrees, metres};

use crate::forecast_watch::{MAIN_M, Watch, chance, small};

/// Three futures of 48: rigs that were hung anew for some seconds have moved a little.
const ALIKE: f64 = 0.07;

#[test]
fn a_tap_taken_back_weighs_nothing() {
    let mut watch = Watch::new(small(), 90.0);
    watch.on(3, 0.0);
    watch.sees(BaitState::Skipping);
    watch.on(20, 0.0);
    let mut other = Watch::new(small(), 90.0);
    other.on(3, 0.0);
    other.sees(BaitState::Skipping);
    other.on(20, 0.0);
    let of = watch.sees(BaitState::Dragging);
    watch.on(3, 0.0);
    watch.says(&CrewInput::Undo { of });
    let back = watch.on(4, 0.0);
    let never = other.on(7, 0.0);
    let kind = Trouble::BaitDragging;
    assert!(
        (chance(&back, kind) - chance(&never, kind)).abs() < 0.12,
        "{} and {}",
        chance(&back, kind),
        chance(&never, kind)
    );
}

/// Every chance is the same within this, and so is the median immersion on average over the horizon
/// (at one moment a single future decides where the median of a wide band lies).
fn assert_alike(a: &Forecast, b: &Forecast, within: f64) {
    for (a, b) in a.chances.iter().zip(&b.chances) {
        assert!((a.chance - b.chance).abs() <= within, "{a:?} and {b:?}");
    }
    let apart = a
        .immersion
        .iter()
        .zip(&b.immersion)
        .map(|(a, b)| (a.p50 - b.p50).abs())
        .sum::<f64>()
        / a.immersion.len() as f64;
    assert!(apart <= within, "medians are {apart} apart");
}

/// Two watches alike, one of which tells something and takes it back after 5 s; then both before a
/// turn, 3 s on.
fn told_and_taken_back(tell: impl Fn(&mut Watch) -> u32) -> [Arc<Forecast>; 2] {
    [true, false].map(|tells| {
        let mut watch = Watch::new(small(), 90.0);
        watch.on(3, 0.0);
        watch.sees(BaitState::Skipping);
        watch.on(30, 0.0);
        let told = tells.then(|| tell(&mut watch));
        watch.on(5, 0.0);
        if let Some(of) = told {
            watch.says(&CrewInput::Undo { of });
        }
        watch.on(3, 0.0);
        // News to both: a calm forecast may be some seconds old.
        watch.announces(20.0, 30.0, 3.0);
        watch.on(1, 0.0)
    })
}

#[test]
fn a_contradicting_tap_taken_back_weighs_nothing() {
    for state in [BaitState::Dragging, BaitState::Airborne] {
        let [back, never] = told_and_taken_back(|watch| watch.sees(state));
        assert_alike(&back, &never, ALIKE);
    }
}

#[test]
fn sightings_and_counts_taken_back_weigh_nothing() {
    let [back, never] =
        told_and_taken_back(|watch| watch.says(&CrewInput::Elevation(degrees(15.0))));
    assert_alike(&back, &never, ALIKE);
    let [back, never] = told_and_taken_back(|watch| watch.says(&CrewInput::MarkerInWater(true)));
    assert_alike(&back, &never, ALIKE);
    // A count mistyped, and one so far off that it is taken for a rig that went out afresh.
    for main_m in [MAIN_M + 30.0, 2.0 * MAIN_M] {
        let [back, never] = told_and_taken_back(|watch| {
            watch.says(&CrewInput::LinesOut {
                kite: None,
                main: Some(metres(main_m)),
            })
        });
        assert_alike(&back, &never, ALIKE);
    }
}
