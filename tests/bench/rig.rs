//! How long the rig model takes on one core: a turn, a settled state, a fan of headings.
//! `cargo bench` prints the times; the wanted ones are 1 ms, 100 us and 10 ms. With `HANG=FILE` in
//! the environment it also writes the swinging bait's places, for `tests/bench/side_by_side`.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use skimwatch::rig::{
    Conditions, Current, MainLine, Rig, RigParameters, Run, Scenario, ScenarioTimeline,
    ScenarioTurn, Wind, fan, steady,
};

#[path = "../checks/rig_mooring.rs"]
#[allow(
    dead_code,
    unused_imports,
    clippy::unwrap_used,
    reason = "a test of which one function is measured here"
)]
mod rig_mooring;

/// The case of `tests/mooring`: a turn of the whole rig, of which the mooring library computes the
/// hanging leg.
fn hang(c: &mut Criterion) {
    if let Some(path) = std::env::var_os("HANG") {
        let rows: Vec<_> = rig_mooring::play(1.0, 60)
            .into_iter()
            .map(|(t_s, _, bait, tension_n)| (t_s, bait, tension_n))
            .collect();
        let text = serde_json::to_string(&rows).expect("plain numbers");
        std::fs::write(path, text).expect("HANG names a file that can be written");
    }
    c.bench_function("swinging bait, 60 s", |b| {
        b.iter(|| rig_mooring::play(black_box(1.0), 60));
    });
}

fn conditions() -> Conditions {
    Conditions {
        wind: Wind {
            speed_10m_mps: 8.2311,
            from_rad: 0.0,
            shear_exponent: 0.11,
        },
        current: Current::default(),
        boat_speed_mps: 3.0867,
        heading_rad: 90f64.to_radians(),
        kite_line_out_m: 100.0,
    }
}

fn turn(by_deg: f64) -> Scenario {
    let mut s = Scenario::default();
    s.wind.speed_10m_mps = 8.2311;
    s.boat.speed_through_water_mps = 3.0867;
    s.boat.heading_deg_true = 90.0;
    s.boat.turn = Some(ScenarioTurn {
        start_s: 5.0,
        by_deg,
        rate_deg_s: 3.0,
        yaw_time_constant_s: 3.0,
    });
    s
}

fn model(c: &mut Criterion) {
    let Ok(rig) = Rig::new(&RigParameters::default()) else {
        return;
    };
    let conditions = conditions();
    let trim = MainLine::Immersion(0.25);
    let Ok(start) = steady(&rig, &conditions, trim, None) else {
        return;
    };

    c.bench_function("steady, no hint", |b| {
        b.iter(|| steady(&rig, black_box(&conditions), trim, None));
    });
    let near = Conditions {
        heading_rad: 95f64.to_radians(),
        ..conditions
    };
    c.bench_function("steady, from 5 degrees away", |b| {
        b.iter(|| steady(&rig, black_box(&near), trim, Some(&start.state)));
    });
    c.bench_function("fan of 72 headings", |b| {
        let headings: Vec<f64> = (0..72u32).map(|i| f64::from(i * 5).to_radians()).collect();
        b.iter(|| fan(&rig, black_box(&conditions), headings.iter().copied()));
    });
    for (name, by_deg) in [
        ("120 s with 45 degrees toward the wind", -45.0),
        ("120 s with 90 degrees away from the wind", 90.0),
    ] {
        let scenario = turn(by_deg);
        let timeline = ScenarioTimeline {
            scenario: &scenario,
            main_line_m: start.main_line_m,
        };
        c.bench_function(name, |b| {
            b.iter(|| {
                let mut run = Run::new(&rig, timeline, start.state.clone(), 0.0);
                run.advance_to(black_box(120.0))
            });
        });
    }
    let scenario = turn(-45.0);
    let timeline = ScenarioTimeline {
        scenario: &scenario,
        main_line_m: start.main_line_m,
    };
    c.bench_function("120 s, 45 degrees, told every second", |b| {
        b.iter(|| {
            let mut run = Run::new(&rig, timeline, start.state.clone(), 0.0);
            (1..=120u32)
                .filter_map(|t| run.advance_to(f64::from(t)).ok())
                .fold(0.0, |m: f64, s| m.max(s.bait_height_m))
        });
    });
}

criterion_group!(benches, model, hang);
criterion_main!(benches);
