//! A run of the rig does not allocate while it advances: the forecast makes thousands of runs a
//! second on all cores, and cores that allocate wait for one another.

use allocation_counter::measure;
use skimwatch::rig::{
    Conditions, Current, MainLine, Rig, RigParameters, Run, RunEnd, Scenario, ScenarioTimeline,
    ScenarioTurn, Wind, settled_state,
};

/// Heap allocations of one run from abeam that is asked for its state every second of 120, its steps,
/// and how it went.
fn allocations(boat_mps: f64, by_deg: f64) -> (u64, u32, Result<(), RunEnd>) {
    let rig = Rig::new(&RigParameters::default()).unwrap();
    let mut scenario = Scenario::default();
    scenario.wind.speed_10m_mps = 8.0;
    scenario.boat.speed_through_water_mps = boat_mps;
    scenario.boat.heading_deg_true = 90.0;
    scenario.boat.turn = Some(ScenarioTurn {
        start_s: 5.0,
        by_deg,
        rate_deg_s: 3.0,
        yaw_time_constant_s: 3.0,
    });
    let conditions = Conditions {
        wind: Wind {
            speed_10m_mps: 8.0,
            from_rad: 0.0,
            shear_exponent: 0.11,
        },
        current: Current::default(),
        boat_speed_mps: boat_mps,
        heading_rad: 90_f64.to_radians(),
        kite_line_out_m: 100.0,
    };
    let start = settled_state(&rig, &conditions, MainLine::Immersion(0.25), None).unwrap();
    let timeline = ScenarioTimeline {
        scenario: &scenario,
        main_line_m: start.main_line_m,
    };
    let mut run = Run::new(&rig, timeline, start.state, 0.0);
    let mut ended = Ok(());
    let counted = measure(|| {
        for t in 1..=120 {
            if let Err(end) = run.advance_to(f64::from(t)) {
                ended = Err(end);
                break;
            }
        }
    });
    (counted.count_total, run.effort().0, ended)
}

#[test]
fn the_count_sees_an_allocation() {
    let counted = measure(|| drop(std::hint::black_box(vec![1_u8])));
    assert_eq!(counted.count_total, 1);
}

#[test]
fn a_run_through_a_turn_does_not_allocate() {
    for by_deg in [-45.0, 90.0, 0.0] {
        let (count, steps, ended) = allocations(3.0, by_deg);
        assert_eq!(ended, Ok(()));
        assert!(steps > 60, "{steps} steps are no run");
        assert_eq!(count, 0, "a turn by {by_deg} degrees");
    }
}

#[test]
fn a_run_that_ends_early_does_not_allocate() {
    // Down wind nearly as fast as the wind: the kite falls, by way of refused and shortened steps.
    let (count, _, ended) = allocations(6.5, 90.0);
    assert!(ended.is_err());
    assert_eq!(count, 0, "{ended:?}");
}
