//! Reference days: the converter beside them, and the events of those days when they lie beside
//! the checkout.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use skimwatch::decode::{BaitState, CrewInput, Decoder, Line, Observation};
use skimwatch::feed::{Frame, FrameSettings};
use skimwatch::forecast::Trouble;
use skimwatch::record::LogReader;
use skimwatch::score::{Labels, Rules, Truth};
use skimwatch::settings;
use skimwatch::units::{in_degrees, in_metres};

use crate::beside::{beside, skipped};

type Stretches = &'static [(f64, f64)];

/// Onset and end of every airborne and every dragging event, counted apart from the project by a
/// Python script of a few lines after the rule in the days' README (3 s, joined below 5 s).
const DAYS: [(&str, Stretches, Stretches); 4] = [
    (
        "day_4000",
        &[
            (348.0, 380.5),
            (425.5, 484.5),
            (645.5, 648.5),
            (692.0, 701.0),
        ],
        &[(281.5, 331.5)],
    ),
    (
        "day_4001",
        &[(94.5, 98.0), (104.5, 179.5), (276.0, 284.5), (709.0, 712.0)],
        &[],
    ),
    (
        "day_4002",
        &[
            (57.5, 70.0),
            (107.0, 117.5),
            (124.0, 130.5),
            (218.0, 223.0),
            (342.0, 409.5),
            (473.5, 481.5),
            (493.0, 503.0),
            (513.5, 524.5),
            (543.5, 566.0),
            (600.0, 667.0),
        ],
        &[(299.0, 302.0), (310.0, 324.0), (432.0, 446.5)],
    ),
    (
        "day_4003",
        &[(135.5, 143.0), (203.0, 210.0), (283.0, 394.0)],
        &[(210.0, 215.5), (245.0, 252.5), (500.0, 515.5)],
    ),
];

#[test]
fn events_of_the_reference_days_are_those_counted_apart() {
    let Some(dir) = beside("reference-days") else {
        return;
    };
    for (name, airborne, dragging) in DAYS {
        let text = std::fs::read_to_string(dir.join(format!("{name}.truth.json"))).unwrap();
        let truth = Truth::from_json(&text).unwrap();
        let labels = Labels::from_truth(&truth, &[], &Rules::default());
        for (trouble, expected) in [
            (Trouble::BaitAirborne, airborne),
            (Trouble::BaitDragging, dragging),
        ] {
            let found: Vec<(f64, f64)> = labels
                .events
                .iter()
                .filter(|event| event.trouble == trouble)
                .map(|event| (event.onset_s, event.end_s))
                .collect();
            assert_eq!(found, expected, "{name} {trouble:?}");
        }
        assert_eq!(labels.moves.len(), truth.turns.len(), "one trim a turn");
        // In these days no kite comes below 29 degrees.
        assert!(
            labels
                .events
                .iter()
                .all(|e| e.trouble != Trouble::KiteSinking)
        );
        println!("{name}");
        for event in &labels.events {
            println!("  {event:?}");
        }
    }
}

/// Runs the converter; `None`, said aloud, without Python.
fn convert(day: &Path, into: &Path) -> Option<Output> {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/days/convert.py");
    let run = Command::new("python3")
        .arg(script)
        .arg(day)
        .arg("--into")
        .arg(into)
        .output();
    match run {
        Ok(output) => Some(output),
        Err(why) => {
            skipped(&format!("python3 cannot be run: {why}"));
            None
        }
    }
}

/// A day of two seconds, invented.
const INSTRUMENTS: &str = "\\c:1795600000000*65\\$IIHDT,119.1,T*2A\n\
                           \\c:1795600002000*67\\$IIHDT,119.1,T*2A\n";
const CREW: &str = r#"[
 {"t_s": 0.5, "kind": "line_out", "kite_m": 85.513, "main_m": 136.426},
 {"t_s": 1.0, "kind": "bait", "state": "dragging"},
 {"t_s": 1.2, "kind": "elevation", "deg": 49.0},
 {"t_s": 1.4, "kind": "turn", "by_deg": -40, "rate_deg_s": 6, "in_s": 21.6},
 {"t_s": 1.6, "kind": "took", "line": "main", "m": 2.6},
 {"t_s": 2.0, "kind": "gave", "line": "kite", "m": 3}
]"#;
const BELIEVED: &str = r#"{
 "rod_tips": {"kite": {"aft_m": 0.3, "starboard_m": 1.6, "height_m": 2.8},
              "main": {"aft_m": 0.3, "starboard_m": -1.0, "height_m": 2.4}},
 "kite": {"area_m2": 1.0, "mass_kg": 0.35, "cl": 0.7, "cd": 0.4},
 "kite_line": {"out_m": 83.1, "clip_to_kite_m": 20.0, "diameter_m": 0.00055, "mass_per_m_kg": 0.00024},
 "main_line": {"out_m": 130.9, "diameter_m": 0.00064, "mass_per_m_kg": 0.00055},
 "marker": {"above_bait_m": 6.7, "diameter_m": 0.32, "mass_kg": 0.006},
 "bait": {"mass_kg": 0.45, "height_m": 0.07, "volume_m3": 0.00032, "wet_drag_area_m2": 0.0006,
          "air_drag_area_m2": 0.0052}
}"#;
const TRUTH: &str = r#"{"turns": [], "mast_height_m": 7.5,
 "columns": ["t_s", "immersion", "kite_elevation_deg", "main_line_out_m"],
 "series": [[0, 0.2, 45, 131], [0.5, 0.2, 45, 131]]}"#;

fn write_day(dir: &Path, crew: &str) -> PathBuf {
    let day = dir.join("day_1");
    for (ending, text) in [
        ("instruments.nmea", INSTRUMENTS),
        ("crew.json", crew),
        ("settings.json", BELIEVED),
        ("truth.json", TRUTH),
    ] {
        std::fs::write(dir.join(format!("day_1.{ending}")), text).unwrap();
    }
    day
}

#[test]
fn a_converted_day_is_a_recording_with_settings_and_truth() {
    let dir = tempfile::tempdir().unwrap();
    let day = write_day(dir.path(), CREW);
    let Some(run) = convert(&day, dir.path()) else {
        return;
    };
    assert!(run.status.success(), "{run:?}");

    let log = LogReader::open(&dir.path().join("day_1.nmea"), FrameSettings::default()).unwrap();
    let mut decoder = Decoder::new();
    let mut said = Vec::new();
    let mut times = Vec::new();
    for item in log {
        let item = item.unwrap();
        let Frame::Sentence(sentence) = item.frame else {
            panic!("refused: {:?}", item.frame);
        };
        let since_ms = item.time.unwrap().0 - 1_795_600_000_000;
        times.push((since_ms, item.feed.unwrap().to_string()));
        for observation in decoder.decode(&sentence.text).unwrap().observations {
            if let Observation::Crew { seq, input } = observation {
                said.push((seq, input));
            }
        }
    }
    let feeds: Vec<(i64, &str)> = times
        .iter()
        .map(|(ms, feed)| (*ms, feed.as_str()))
        .collect();
    assert_eq!(
        feeds,
        [
            (0, "instruments"),
            (500, "crew"),
            (1000, "crew"),
            (1200, "crew"),
            (1400, "crew"),
            (1600, "crew"),
            (2000, "instruments"),
            (2000, "crew"),
        ]
    );
    let inputs: Vec<&CrewInput> = said.iter().map(|(_, input)| input).collect();
    let [
        CrewInput::LinesOut { kite, main },
        CrewInput::Bait(BaitState::Dragging),
        CrewInput::Elevation(elevation),
        CrewInput::Turn { by, in_s, .. },
        CrewInput::Moved {
            line: Line::Main,
            by: took,
        },
        CrewInput::Moved {
            line: Line::Kite,
            by: gave,
        },
    ] = inputs.as_slice()
    else {
        panic!("{inputs:?}");
    };
    assert!((in_metres(kite.unwrap()) - 85.51).abs() < 1e-9);
    assert!((in_metres(main.unwrap()) - 136.43).abs() < 1e-9);
    assert!((in_degrees(*elevation) - 49.0).abs() < 1e-9);
    assert!((in_degrees(*by) + 40.0).abs() < 1e-9);
    assert!((in_s - 21.6).abs() < 1e-9);
    assert!((in_metres(*took) + 2.6).abs() < 1e-9);
    assert!((in_metres(*gave) - 3.0).abs() < 1e-9);

    let settings = settings::load(&dir.path().join("day_1.toml")).unwrap();
    assert_eq!(settings.boat.wind_sensor_height_m, 7.5);
    let rig = &settings.rig;
    assert!(
        rig.assumed.is_empty() || rig.assumed == ["bait.planing"],
        "{:?}",
        rig.assumed
    );
    assert!((rig.parameters.main_line.diameter_m - 0.000_64).abs() < 1e-12);
    assert_eq!(rig.out_at_start.main_m, Some(136.43));

    let truth = std::fs::read_to_string(dir.path().join("day_1.nmea.truth.json")).unwrap();
    assert_eq!(Truth::from_json(&truth).unwrap().rows.len(), 2);
}

#[test]
fn the_converter_names_what_it_cannot_read() {
    let dir = tempfile::tempdir().unwrap();
    let day = write_day(dir.path(), &CREW.replace("dragging", "sulking"));
    let Some(run) = convert(&day, dir.path()) else {
        return;
    };
    assert_eq!(run.status.code(), Some(1));
    let said = String::from_utf8(run.stderr).unwrap();
    assert_eq!(
        said.trim(),
        "convert.py: day_1.crew.json: entry 2: no, or no known, 'sulking'"
    );
}

#[test]
fn reference_days_convert_to_settings_that_are_accepted() {
    let Some(dir) = beside("reference-days") else {
        return;
    };
    let into = tempfile::tempdir().unwrap();
    for (name, ..) in DAYS {
        let Some(run) = convert(&dir.join(name), into.path()) else {
            return;
        };
        assert!(run.status.success(), "{run:?}");
        let settings = settings::load(&into.path().join(format!("{name}.toml"))).unwrap();
        assert!(settings.rig.out_at_start.kite_m.is_some());
        let log = into.path().join(format!("{name}.nmea"));
        let refused = LogReader::open(&log, FrameSettings::default())
            .unwrap()
            .filter(|item| !matches!(item.as_ref().unwrap().frame, Frame::Sentence(_)))
            .count();
        assert_eq!(refused, 0, "{name}");
    }
}
