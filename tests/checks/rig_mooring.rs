//! A moving and a settled hanging leg against a general-purpose mooring library with air as the
//! fluid. The expected values under tests/mooring were computed by the script there from the path
//! of the clip that this case gives; the case here is checked to follow that path first.

use std::path::Path;

use serde_json::{Value, json};
use skimwatch::rig::{
    BoatMotion, Conditions, Current, LineLengths, MainLine, Rig, RigParameters, Run, Sample,
    Timeline, Wind, settled_state,
};

const WIND: Wind = Wind {
    speed_10m_mps: 8.0,
    from_rad: 0.0,
    shear_exponent: 0.0,
};
const BOAT_MPS: f64 = 3.0;
const KITE_LINE_M: f64 = 80.0;
/// So little main line that the marker stays at the ring: the hanging leg keeps its length.
const MAIN_LINE_M: f64 = 97.0;
const LEADER_M: f64 = 30.0;

fn rig() -> Rig {
    let mut p = RigParameters::default();
    p.marker.above_bait_m = LEADER_M;
    Rig::new(&p).unwrap()
}

/// From abeam to 40 degrees off the wind within 10 s, smoothly.
#[derive(Clone, Copy)]
struct Turn;

impl Timeline for Turn {
    fn boat(&self, t_s: f64) -> BoatMotion {
        let x = ((t_s - 5.0) / 10.0).clamp(0.0, 1.0);
        let by = -50f64.to_radians();
        BoatMotion {
            heading_rad: 90f64.to_radians() + by * x * x * (3.0 - 2.0 * x),
            yaw_rate_rad_s: by * 6.0 * x * (1.0 - x) / 10.0,
            speed_mps: BOAT_MPS,
        }
    }
    fn wind(&self, _t_s: f64) -> Wind {
        WIND
    }
    fn lines(&self, _t_s: f64) -> LineLengths {
        LineLengths {
            kite_m: KITE_LINE_M,
            main_m: MAIN_LINE_M,
        }
    }
}

fn east_north_up(s: &Sample, boat_axes: [f64; 3]) -> [f64; 3] {
    let (sin, cos) = s.heading_rad.sin_cos();
    let [aft, starboard, up] = boat_axes;
    [
        -aft * sin + starboard * cos,
        -aft * cos - starboard * sin,
        up,
    ]
}

/// Clip path relative to the air at rest, and bait relative to clip, every `step_s`.
pub(crate) fn play(step_s: f64, count: u32) -> Vec<(f64, [f64; 3], [f64; 3], f64)> {
    let rig = rig();
    let c = Conditions {
        wind: WIND,
        current: Current::default(),
        boat_speed_mps: BOAT_MPS,
        heading_rad: 90f64.to_radians(),
        kite_line_out_m: KITE_LINE_M,
    };
    let start = settled_state(&rig, &c, MainLine::Out(MAIN_LINE_M), None).unwrap();
    let mut run = Run::new(&rig, Turn, start.state, 0.0);
    let mut boat = [0.0; 2];
    let fine = 20u32;
    (0..=count)
        .map(|i| {
            let t = f64::from(i) * step_s;
            if i > 0 {
                for k in 0..fine {
                    let h = step_s / f64::from(fine);
                    let m = Turn.boat(t - step_s + (f64::from(k) + 0.5) * h);
                    boat[0] += m.speed_mps * m.heading_rad.sin() * h;
                    boat[1] += m.speed_mps * m.heading_rad.cos() * h;
                }
            }
            let s = run.advance_to(t).unwrap();
            assert!(s.hang_leg_m < LEADER_M + 0.31, "the marker left the ring");
            let clip = east_north_up(&s, s.shape.clip());
            let bait = east_north_up(&s, s.shape.bait());
            // Wind from north carries the air south.
            let north = boat[1] + clip[1] + WIND.speed_10m_mps * t;
            (
                t,
                [boat[0] + clip[0], north, clip[2]],
                [bait[0] - clip[0], bait[1] - clip[1], bait[2] - clip[2]],
                s.bait_line_tension_n,
            )
        })
        .collect()
}

#[test]
#[ignore = "writes tests/mooring/clip_path.json, from which the script there computes"]
fn write_clip_path() {
    let rows: Vec<Value> = play(0.1, 600)
        .into_iter()
        .map(|(t, clip, _, _)| json!([t, clip[0], clip[1], clip[2]]))
        .collect();
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/mooring/clip_path.json");
    std::fs::write(path, serde_json::to_string(&rows).unwrap()).unwrap();
}

#[test]
fn a_swinging_bait_follows_the_mooring_library() {
    let expected: Value = serde_json::from_str(include_str!("../mooring/hang.json")).unwrap();
    let path: Value = serde_json::from_str(include_str!("../mooring/clip_path.json")).unwrap();
    let ours = play(0.1, 600);
    let mut furthest: f64 = 0.0;
    let mut worst: f64 = 0.0;
    for row in expected["rows"].as_array().unwrap() {
        let v: Vec<f64> = row
            .as_array()
            .unwrap()
            .iter()
            .filter_map(Value::as_f64)
            .collect();
        let i = (v[0] / 0.1).round() as usize;
        let (_, clip, bait, tension) = &ours[i];
        for k in 0..3 {
            let driven = path[i][k + 1].as_f64().unwrap();
            assert!(
                (clip[k] - driven).abs() < 0.05,
                "the clip no longer takes the path the values were computed for: write it anew"
            );
        }
        let first = &ours[0].2;
        let moved = (bait[0] - first[0]).hypot(bait[1] - first[1]);
        furthest = furthest.max(moved);
        let off =
            ((bait[0] - v[1]).powi(2) + (bait[1] - v[2]).powi(2) + (bait[2] - v[3]).powi(2)).sqrt();
        worst = worst.max(off);
        assert!(off < 0.15, "at {} s off by {off} m", v[0]);
        assert!(
            (tension / v[4] - 1.0).abs() < 0.02,
            "at {} s tension {tension} {}",
            v[0],
            v[4]
        );
    }
    // The bait swings by metres, so centimetres of difference say something.
    assert!(
        furthest > 3.0 && worst < 0.05 * furthest,
        "{furthest} {worst}"
    );
}
