//! The rig model against reference cases: full lumped-mass runs of an independently written program
//! (`tests/reference/README.md`). A few are part of the project; the others lie beside it. Bounds are
//! those agreed for the model: settled elevation 1.0 degree, clip height 2 %, trimmed main line
//! 0.5 %; turns: airborne and dragging yes/no in 95 %, onset 1.0 s (median) and 2.0 s (95th
//! percentile), greatest bait height 15 % or 0.3 m, correction after the turn 10 % or 0.4 m.

use std::path::{Path, PathBuf};

use serde_json::Value;
use skimwatch::rig::{Scenario, SimulationOutput, simulate};

use crate::beside::beside;

/// Cases that are part of the project.
fn ours() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference")
}

fn cases(dir: &Path, kind: &str) -> Vec<(String, PathBuf, PathBuf)> {
    let mut found: Vec<_> = std::fs::read_dir(dir)
        .unwrap()
        .filter_map(|e| {
            let e = e.unwrap();
            let name = e.file_name().into_string().ok()?;
            let stem = name.strip_suffix(".input.json")?.to_owned();
            stem.starts_with(kind).then(|| {
                let output = dir.join(format!("{stem}.output.json"));
                (stem, e.path(), output)
            })
        })
        .collect();
    assert!(found.len() >= 3, "{kind} cases of {}", dir.display());
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
    settled_cases_agree(&ours());
}

#[test]
fn settled_cases_beside_the_project() {
    if let Some(dir) = beside("reference-cases") {
        settled_cases_agree(&dir);
    }
}

#[test]
fn turn_cases() {
    turn_cases_agree(&ours());
}

#[test]
fn turn_cases_beside_the_project() {
    if let Some(dir) = beside("reference-cases") {
        turn_cases_agree(&dir);
    }
}

fn settled_cases_agree(dir: &Path) {
    for (name, input, output) in cases(dir, "steady") {
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

fn turn_cases_agree(dir: &Path) {
    let all = cases(dir, "turn");
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
        for w in want["series"].as_array().unwrap() {
            let at_s = w["t_s"].as_f64().unwrap();
            let row = got.series.iter().find(|row| (row.t_s - at_s).abs() < 1e-6);
            let row = row.unwrap_or_else(|| panic!("{name}: no row at {at_s} s"));
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
