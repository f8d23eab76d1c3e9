//! The logbook of whole recordings: its figures against `score` and against a count by other code.
//! The days are the invented fixtures, two of them with more of a crew, invented too.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;
use skimwatch::decode::{Asked, BaitState, CrewInput, Line, PlanAnswer, StrikeWord, encode_crew};
use skimwatch::feed::{FeedName, RawSentence};
use skimwatch::logbook::{DayFigures, Doing, Reader, figures};
use skimwatch::record::recorded_line;
use skimwatch::time::Millis;
use skimwatch::units::metres;

use crate::beside::skipped;

/// First line of each fixture: 2026-06-01T08:00:00Z, at 12 degrees north, 40 degrees west.
const START: Millis = Millis(1_780_300_800_000);

/// A day: the fixture that it is made of, and what the crew says besides.
struct Day {
    name: &'static str,
    fixture: &'static str,
    said: Vec<(f64, CrewInput)>,
}

fn moved(line: Line, by_m: f64) -> CrewInput {
    let by = metres(by_m);
    CrewInput::Moved { line, by }
}

fn days() -> Vec<Day> {
    use BaitState::{Airborne, Dragging, Skipping};
    let plain = |name| Day {
        name,
        fixture: name,
        said: Vec::new(),
    };
    let asked = |by_m| {
        Some(Asked {
            advisory: "bait-airborne-1".to_owned(),
            revision: 1,
            line: Line::Main,
            by: metres(by_m),
        })
    };
    vec![
        plain("turn-toward"),
        plain("turn-away"),
        plain("sensor-silent"),
        Day {
            name: "busy",
            fixture: "turn-toward",
            said: vec![
                (9.2, moved(Line::Main, -3.0)),
                (10.1, CrewInput::Undo { of: 10 }),
                (12.3, moved(Line::Kite, 0.3)),
                (31.5, CrewInput::Bait(Airborne)),
                (
                    36.4,
                    CrewInput::Plan {
                        answer: PlanAnswer::Half,
                        asked: asked(9.0),
                    },
                ),
                (39.0, CrewInput::Bait(Skipping)),
                (52.7, CrewInput::Bite),
                (53.1, CrewInput::Bite),
                (57.0, CrewInput::Strike(StrikeWord::MarkerDown)),
                (61.2, CrewInput::Strike(StrikeWord::Landed)),
                (63.0, CrewInput::Bait(Skipping)),
                (
                    66.0,
                    CrewInput::LinesOut {
                        kite: Some(metres(90.0)),
                        main: Some(metres(165.0)),
                    },
                ),
                (67.0, CrewInput::Bait(Skipping)),
                (88.0, CrewInput::Bait(Dragging)),
                (90.5, moved(Line::Main, -5.0)),
                (95.0, CrewInput::Bait(Skipping)),
            ],
        },
        Day {
            name: "fish off",
            fixture: "turn-away",
            said: vec![
                (15.0, CrewInput::Bite),
                (19.0, CrewInput::Undo { of: 10 }),
                (27.3, CrewInput::Bait(Airborne)),
                (28.8, moved(Line::Main, 4.0)),
                (33.3, CrewInput::Bait(Skipping)),
                (74.0, moved(Line::Main, -6.0)),
                (82.0, CrewInput::Bait(Skipping)),
                (100.4, CrewInput::Bite),
                (104.0, CrewInput::Strike(StrikeWord::FishOff)),
            ],
        },
    ]
}

/// Settings with few futures: what is tested is the counting.
fn settings(dir: &Path) -> PathBuf {
    let path = dir.join("boat.toml");
    let text = format!(
        "{}\n[forecast]\nparticles = 64\nfutures = 48\n",
        include_str!("../../config/demo.toml")
    );
    std::fs::write(&path, text).unwrap();
    path
}

/// The instruments of a fixture are played so often, so that forecasts are old enough to be judged.
const ROUNDS: i64 = 3;

/// Writes the recording of a day.
fn record(day: &Day, dir: &Path) -> PathBuf {
    let text = std::fs::read_to_string(format!("fixtures/{}.nmea", day.fixture)).unwrap();
    let mut last = START.0;
    let mut lines: Vec<(i64, String)> = Vec::new();
    for line in text.lines() {
        // Noise has no stamp, and stays behind what it followed.
        let stamped = line.strip_prefix("\\s:").and_then(|rest| {
            let (feed, rest) = rest.split_once(",c:")?;
            let (stamp, rest) = rest.split_once('*')?;
            let (_, sentence) = rest.split_once('\\')?;
            Some((feed, stamp.parse().unwrap(), sentence))
        });
        if let Some((feed, at, sentence)) = stamped {
            last = at;
            let feed = FeedName::new(feed).unwrap_or_else(|_| FeedName::crew());
            let sentence = RawSentence::own(sentence.to_owned());
            lines.push((at, recorded_line(Millis(at), feed.as_str(), &sentence)));
        } else {
            lines.push((last, format!("{line}\r\n")));
        }
    }
    let length_ms = ((last - START.0) / 1000 + 1) * 1000;
    let instruments: Vec<_> = lines
        .iter()
        .filter(|(_, line)| line.starts_with("\\s:scene"))
        .cloned()
        .collect();
    let scene = FeedName::new("scene").unwrap();
    for round in 1..ROUNDS {
        for (at, line) in &instruments {
            let at = at + round * length_ms;
            let (_, sentence) = line.trim_end().rsplit_once('\\').unwrap();
            let sentence = RawSentence::own(sentence.to_owned());
            lines.push((at, recorded_line(Millis(at), scene.as_str(), &sentence)));
        }
    }
    for (seq, (at_s, input)) in (10..).zip(&day.said) {
        let at = START.plus_seconds(*at_s);
        let sentence = RawSentence::own(encode_crew(input, seq));
        lines.push((
            at.0,
            recorded_line(at, FeedName::crew().as_str(), &sentence),
        ));
    }
    lines.sort_by_key(|(at, _)| *at);
    let path = dir.join(format!("{}.nmea", day.name));
    let text: String = lines.into_iter().map(|(_, line)| line).collect();
    std::fs::write(&path, text).unwrap();
    path
}

fn skimwatch(arguments: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_skimwatch"))
        .args(arguments)
        .output()
        .unwrap();
    text_of(output)
}

fn text_of(output: Output) -> String {
    assert!(output.status.success(), "{output:?}");
    String::from_utf8(output.stdout).unwrap()
}

struct Logged {
    recording: PathBuf,
    replayed: PathBuf,
    figures: DayFigures,
}

/// Replays a day into a logbook.
fn log(day: &Day, dir: &Path, settings: &Path) -> Logged {
    let recording = record(day, dir);
    let book = dir.join(format!("{}.sqlite", day.name));
    let printed = skimwatch(&[
        "replay",
        recording.to_str().unwrap(),
        "--settings",
        settings.to_str().unwrap(),
        "--logbook",
        book.to_str().unwrap(),
    ]);
    let replayed = dir.join(format!("{}.jsonl", day.name));
    std::fs::write(&replayed, printed).unwrap();
    let reader = Reader::open(&book).unwrap();
    let found = reader.days().unwrap();
    assert_eq!(found.len(), 1, "{found:?}");
    let rows = reader.day(found[0].date).unwrap().unwrap();
    let figures = figures(&rows);
    assert!((figures.fishing_s - found[0].fishing_s).abs() < 1e-6);
    assert_eq!(figures.bites.len(), found[0].bites as usize);
    Logged {
        recording,
        replayed,
        figures,
    }
}

#[test]
fn the_figures_of_five_days_are_those_of_score_and_of_an_independent_count() {
    let dir = tempfile::tempdir().unwrap();
    let settings = settings(dir.path());
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/independent_count.py");
    let python = Command::new("python3").arg("--version").output().is_ok();
    if !python {
        skipped("there is no python3");
    }
    let mut with_chances = 0;
    for day in days() {
        let logged = log(&day, dir.path(), &settings);
        let scored = skimwatch(&[
            "score",
            logged.recording.to_str().unwrap(),
            "--settings",
            settings.to_str().unwrap(),
            "--json",
        ]);
        let advice = serde_json::to_string_pretty(&logged.figures.advice).unwrap();
        assert_eq!(advice, scored.trim_end(), "{}", day.name);
        let chances = &logged.figures.advice.chances;
        with_chances += usize::from(chances.iter().any(|c| c.shortened.samples > 100));
        if python {
            let counted = Command::new("python3")
                .arg(&script)
                .arg("--day")
                .args([&logged.recording, &logged.replayed])
                .output()
                .unwrap();
            let counted: Value = serde_json::from_str(&text_of(counted)).unwrap();
            assert_same(day.name, &logged.figures, &counted);
        }
    }
    // On the last day the bait does not go out again.
    assert!(with_chances >= 3, "{with_chances}");
}

fn assert_same(day: &str, ours: &DayFigures, counted: &Value) {
    assert_eq!(Value::from(ours.bites.len()), counted["bites"], "{day}");
    assert_eq!(
        Value::from(ours.corrections.kite),
        counted["corrections"]["kite"],
        "{day}"
    );
    assert_eq!(
        Value::from(ours.corrections.main),
        counted["corrections"]["main"],
        "{day}"
    );
    let letter = |state| match state {
        BaitState::Airborne => "A",
        BaitState::Skipping => "S",
        BaitState::Dragging => "D",
    };
    for row in counted["by_crew"].as_array().unwrap() {
        let time_s: f64 = ours
            .by_crew
            .iter()
            .filter(|ours| {
                let tack = serde_json::to_value(ours.tack).unwrap();
                letter(ours.bait) == row["bait"] && tack == row["tack"]
            })
            .map(|ours| ours.time_s)
            .sum();
        let counted_s = row["time_s"].as_f64().unwrap();
        // Two seconds for a tack that the two find a picture apart.
        assert!(
            (time_s - counted_s).abs() <= 2.0,
            "{day}: {row}, {time_s}: {:?}",
            ours.by_crew
        );
    }
    let all_s: f64 = ours.by_crew.iter().map(|row| row.time_s).sum();
    let counted = (counted, &counted["advice"]);
    let counted_s: f64 = counted.0["by_crew"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| row["time_s"].as_f64().unwrap())
        .sum();
    assert!(
        (all_s - counted_s).abs() <= 2.0,
        "{day}: {all_s} {counted_s}"
    );
    assert!(all_s > 30.0, "{day}");
    let all = || ours.advice.told.iter().filter(|row| row.trouble == "all");
    let sum = |count: fn(&skimwatch::score::Told) -> u64| all().map(count).sum::<u64>();
    let fate = |name: &str| counted.1["fates"][name].as_u64().unwrap_or(0);
    assert_eq!(
        Value::from(sum(|row| row.events)),
        counted.1["events"],
        "{day}"
    );
    assert_eq!(
        Value::from(sum(|row| row.detected)),
        counted.1["detected"],
        "{day}"
    );
    for (ours, name) in [
        (sum(|row| row.true_alarms), "true"),
        (sum(|row| row.false_alarms), "false"),
        (sum(|row| row.told), "told"),
        (sum(|row| row.late), "late"),
        (sum(|row| row.averted), "averted"),
        (sum(|row| row.withdrawn), "withdrawn"),
        (sum(|row| row.lost), "lost"),
        (sum(|row| row.open), "open"),
    ] {
        assert_eq!(ours, fate(name), "{day}: {name}: {}", counted.1);
    }
    let leads = counted.1["leads_s"].as_array().unwrap();
    assert_eq!(
        all().map(|row| row.leads).sum::<usize>(),
        leads.len(),
        "{day}"
    );
    if let [lead_s] = &leads[..] {
        let ours_s = all().find_map(|row| row.lead_median_s).unwrap();
        assert!((ours_s - lead_s.as_f64().unwrap()).abs() < 1e-6, "{day}");
    }
}

#[test]
fn a_day_tells_what_happened_on_it() {
    let dir = tempfile::tempdir().unwrap();
    let settings = settings(dir.path());
    let days = days();
    let busy = log(&days[3], dir.path(), &settings);
    let figures = &busy.figures;
    // 40 degrees west: 40 / 15 rounds to 3.
    assert_eq!(
        (figures.day.as_str(), figures.zone_hours),
        ("2026-06-01", -3)
    );
    assert_eq!(figures.from, Some(START));
    // One of two thumbs; a move of 0.3 m is none, one was taken back, half of 9 m counts.
    assert_eq!(figures.bites.len(), 1);
    assert_eq!((figures.corrections.kite, figures.corrections.main), (0, 2));
    assert_eq!(figures.corrections.per_hour, None, "less than an hour");
    let bite = &figures.bites[0];
    assert_eq!(bite.at, START.plus_seconds(52.7));
    assert_eq!(serde_json::to_value(bite.result).unwrap(), "landed");
    assert_eq!(bite.result_at, Some(START.plus_seconds(61.2)));
    assert!((bite.latitude_deg.unwrap() - 12.0).abs() < 0.01, "{bite:?}");
    let elevation_deg = bite.kite_elevation_deg.unwrap();
    assert!((10.0..80.0).contains(&elevation_deg), "{bite:?}");
    assert_eq!(bite.main_line_m, Some(171.4 + 4.5));
    // The rates know the same bite.
    for rate in figures.bite_rates.iter().filter(|rate| rate.bites > 0) {
        assert_eq!((rate.bites, rate.per_hour), (1, None));
    }
    assert_eq!(
        figures
            .bite_rates
            .iter()
            .map(|rate| rate.bites)
            .sum::<u64>(),
        4
    );

    let reader = Reader::open(&dir.path().join("busy.sqlite")).unwrap();
    let rows = reader.day("2026-06-01".parse().unwrap()).unwrap().unwrap();
    let session = &rows.sessions[0];
    // Thinned: 300 s in far fewer rows than pictures, none further apart than the rule allows.
    assert!(session.states.len() < 100, "{}", session.states.len());
    for pair in session.states.windows(2) {
        let apart_s = pair[1].at.seconds_since(pair[0].at);
        assert!(apart_s <= 16.0, "{apart_s} s at {}", pair[0].at);
    }
    // Nothing is lost between spans, and the strike is one of them.
    for pair in session.spans.windows(2) {
        assert_eq!(pair[0].to, pair[1].from);
    }
    assert!(session.spans.iter().any(|span| span.doing == Doing::Strike));
    assert_eq!(session.moves.len(), 3, "one was taken back");
    assert_eq!(
        session.moves[1].asked_by.as_deref(),
        Some("bait-airborne-1")
    );
    assert!(
        session
            .sentences
            .iter()
            .any(|(_, text)| text.contains("UNDO"))
    );

    let off = log(&days[4], dir.path(), &settings);
    let results: Vec<_> = off.figures.bites.iter().map(|bite| bite.result).collect();
    assert_eq!(
        serde_json::to_value(results).unwrap(),
        serde_json::json!(["fish_off"])
    );
    let silent = log(&days[2], dir.path(), &settings);
    let reader = Reader::open(&dir.path().join("sensor-silent.sqlite")).unwrap();
    let rows = reader
        .day(silent.figures.day.parse().unwrap())
        .unwrap()
        .unwrap();
    let wind = rows.sessions[0].troubles.iter().find(|trouble| {
        serde_json::to_value(trouble.quantity).unwrap() == "wind"
            && trouble.from > START.plus_seconds(19.0)
    });
    let wind = wind.expect("the wind was missing");
    let (from_s, to_s) = (
        wind.from.seconds_since(START),
        wind.to.unwrap().seconds_since(START),
    );
    // Silent from second 20 to 45 (fixtures/README.md); it is missed when its last value is stale.
    assert!(
        from_s > 20.0 && from_s < 45.0 && (44.9..47.0).contains(&to_s),
        "{from_s} {to_s}"
    );
}

#[test]
fn a_logbook_is_made_only_where_none_is() {
    let dir = tempfile::tempdir().unwrap();
    let settings = settings(dir.path());
    let book = dir.path().join("there.sqlite");
    std::fs::write(&book, "somebody's").unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_skimwatch"))
        .args(["replay", "fixtures/turn-toward.nmea", "--settings"])
        .arg(&settings)
        .arg("--logbook")
        .arg(&book)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(69));
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(
        said.contains("there already") && said.contains("there.sqlite"),
        "{said}"
    );
    assert_eq!(std::fs::read_to_string(&book).unwrap(), "somebody's");
}
