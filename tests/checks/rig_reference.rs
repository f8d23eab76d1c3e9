//! The rig model against the reference cases, if present beside the project: full lumped-mass runs
//! of an independently written program (the README there describes them). Bounds are those agreed
//! for the model: settled elevation 1.0 degree, clip height 2 %, trimmed main line 0.5 %; turns:
//! airborne and dragging yes/no in 95 %, onset 1.0 s (median) and 2.0 s (95th percentile), greatest
//! bait height 15 % or 0.3 m, correction after the turn 10 % or 0.4 m. Skipped, and said so, when
//! the folder is absent.

use std::path::{Path, PathBuf};

use serde_json::Value;
use skimwatch::rig::{Scenario, SimulationOutput, simulate};

fn cases(kind: &str) -> Vec<(String, PathBuf, PathBuf)> {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/reference-cases");
    let Ok(entries) = std::fs::read_dir(&dir) else {
        eprintln!("skipped: {} is absent", dir.display());
        return Vec::new();
    };
    let mut found: Vec<_> = entries
        .flatten()
        .filter_map(|e| {
            let name = e.file_name().into_string().ok()?;
            let stem = name.strip_suffix(".input.json")?.to_owned();
            stem.starts_with(kind).then(|| {
                let output = dir.join(format!("{stem}.output.json"));
                (stem, e.path(), output)
            })
        })
        .collect();
    found.sort();
    found
}

fn run(input: &Path, output: &Path) -> (SimulationOutput, Value) {
    let scenario = Scenario::from_json(&std::fs::read_to_string(input).unwrap()).unwrap();
    let want = serde_json::from_str(&std::fs::read_to_string(output).unwrap()).unwrap();
    (simulate(&scenario), want)
}

fn number(v: &Value, path: &str) -> Option<f64> {
    v.pointer(path).and_then(Value::as_f64)
}

fn settled_agrees(name: &str, got: &SimulationOutput, want: &Value) {
    let s = got.steady.as_ref().unwrap();
    let elevation = number(want, "/steady/kite_elevation_deg").unwrap();
    let clip = number(want, "/steady/clip_height_m").unwrap();
    let line = number(want, "/trimmed_main_line_m").unwrap();
    assert!(
        (s.kite_elevation_deg - elevation).abs() < 1.0,
        "{name}: elevation {} {elevation}",
        s.kite_elevation_deg
    );
    assert!(
        (s.clip_height_m / clip - 1.0).abs() < 0.02,
        "{name}: clip {} {clip}",
        s.clip_height_m
    );
    let trimmed = got.trimmed_main_line_m.unwrap();
    assert!(
        (trimmed / line - 1.0).abs() < 0.005,
        "{name}: main line {trimmed} {line}"
    );
}

#[test]
fn settled_cases() {
    for (name, input, output) in cases("steady") {
        let (got, want) = run(&input, &output);
        settled_agrees(&name, &got, &want);
        let s = got.steady.unwrap();
        assert!(s.residual_N < 1e-6, "{name}");
        for (value, path, allowed) in [
            (
                s.kite_azimuth_deg_true,
                "/steady/kite_azimuth_deg_true",
                0.1,
            ),
            (
                s.apparent_wind_from_rel_bow_deg,
                "/steady/apparent_wind_from_rel_bow_deg",
                0.1,
            ),
            (s.bait_starboard_m, "/steady/bait_starboard_m", 1.0),
            (s.bait_aft_m, "/steady/bait_aft_m", 1.0),
            (
                s.kite_line_tension_at_tip_N,
                "/steady/kite_line_tension_at_tip_N",
                0.1,
            ),
            (
                s.main_line_tension_at_ring_N,
                "/steady/main_line_tension_at_ring_N",
                0.05,
            ),
        ] {
            let w = number(&want, path).unwrap();
            assert!((value - w).abs() < allowed, "{name} {path}: {value} {w}");
        }
    }
}

#[test]
fn turn_cases() {
    let all = cases("turn");
    if all.is_empty() {
        return;
    }
    let (mut answers, mut agreed) = (0, 0);
    let mut onsets = Vec::new();
    for (name, input, output) in &all {
        let (got, want) = run(input, output);
        settled_agrees(name, &got, &want);
        let e = got.events.as_ref().unwrap();
        for (yes, at, path_yes, path_at) in [
            (
                e.bait_leaves_water,
                e.bait_leaves_at_s,
                "/events/bait_leaves_water",
                "/events/bait_leaves_at_s",
            ),
            (
                e.bait_dragged,
                e.bait_dragged_at_s,
                "/events/bait_dragged",
                "/events/bait_dragged_at_s",
            ),
        ] {
            answers += 1;
            if want.pointer(path_yes).and_then(Value::as_bool) == Some(yes) {
                agreed += 1;
            }
            if let (Some(a), Some(b)) = (at, number(&want, path_at)) {
                onsets.push((a - b).abs());
            }
        }
        let top = number(&want, "/events/max_bait_height_m").unwrap();
        assert!(
            (e.max_bait_height_m - top).abs() < (0.15 * top.abs()).max(0.3),
            "{name}: top {} {top}",
            e.max_bait_height_m
        );
        let after = got.after_turn.as_ref().unwrap();
        let correction = number(&want, "/after_turn/correction_m").unwrap();
        let ours = after.correction_m.unwrap();
        assert!(
            (ours - correction).abs() < (0.1 * correction.abs()).max(0.4),
            "{name}: correction {ours} {correction}"
        );
        let sense = serde_json::to_value(got.turn_sense).unwrap();
        assert_eq!(sense, want["turn_sense"], "{name}");
        // Along the whole run, not only at its events.
        for (row, w) in got.series.iter().zip(want["series"].as_array().unwrap()) {
            let clip = w["clip_height_m"].as_f64().unwrap();
            assert!((row.clip_height_m / clip - 1.0).abs() < 0.02, "{name}");
            let elevation = w["kite_elevation_deg"].as_f64().unwrap();
            assert!((row.kite_elevation_deg - elevation).abs() < 0.5, "{name}");
            let x = w["boat_x_m"].as_f64().unwrap();
            assert!((row.boat_x_m - x).abs() < 0.01, "{name}");
        }
    }
    onsets.sort_by(f64::total_cmp);
    assert!(f64::from(agreed) >= 0.95 * f64::from(answers));
    assert!(!onsets.is_empty());
    assert!(onsets[onsets.len() / 2] <= 1.0, "{onsets:?}");
    let p95 = onsets[(onsets.len() * 95).div_ceil(100) - 1];
    assert!(p95 <= 2.0, "{onsets:?}");
}
