//! Marks and a pass in the logbook of a whole recording. The day is invented: the demo's boat on a
//! straight course.

use std::path::Path;
use std::process::Command;

use skimwatch::decode::{
    CrewInput, GeoPosition, MarkChange, MarkHow, MarkSaid, PassWord, SetAndDrift, encode_crew,
};
use skimwatch::feed::{CREW_FEED, FeedName, RawSentence};
use skimwatch::geodesy::Offset;
use skimwatch::logbook::{MarkEvent, PassEnd, Reader, geojson, gpx, table_of, timeline};
use skimwatch::record::recorded_line;
use skimwatch::units::{degrees, metres_per_second};

use crate::pictures::{Sentence, each_picture, invented_day};

const LONG_S: f64 = 75.0;

fn day() -> Vec<Sentence> {
    invented_day(|script| {
        script.duration_s = LONG_S;
        script.turns.clear();
        script.moves.clear();
        script.shifts.clear();
        script.says.clear();
    })
}

/// A place to starboard of the course, which the bait can pass.
fn place(day: &[Sentence]) -> GeoPosition {
    let begin = day[0].0;
    let first: Vec<Sentence> = day
        .iter()
        .filter(|(at, ..)| *at < begin.plus_seconds(15.0))
        .cloned()
        .collect();
    let mut here = None;
    each_picture(first, 16, |now| {
        let heading = now.vessel.heading_true_rad.as_ref().map(|h| h.value);
        here = now.vessel.position.as_ref().map(|p| p.value).zip(heading);
    });
    let (boat, heading_rad) = here.expect("the day has positions and headings");
    let ahead = Offset::polar(heading_rad + 20f64.to_radians(), 420.0);
    let there = boat.moved(ahead).unwrap();
    GeoPosition {
        latitude: degrees(there.latitude_deg),
        longitude: degrees(there.longitude_deg),
    }
}

fn mark(name: &str, position: Option<GeoPosition>) -> CrewInput {
    CrewInput::Mark(MarkSaid {
        name: Some(name.to_owned()),
        position,
        how: if position.is_some() {
            MarkHow::Typed
        } else {
            MarkHow::Here
        },
        number: None,
    })
}

fn of_mark(number: u32, change: MarkChange) -> CrewInput {
    CrewInput::OfMark { number, change }
}

#[test]
fn a_day_tells_of_its_marks_and_passes() {
    let mut day = day();
    let begin = day[0].0;
    let drift = SetAndDrift {
        set: degrees(90.0),
        drift: metres_per_second(0.5),
    };
    let pass = |said| CrewInput::Pass { mark: 1, said };
    let said = [
        (20.0, mark("birds", Some(place(&day)))),
        // As old recordings have it, without the place.
        (22.3, mark("slick", None)),
        (23.0, mark("a slip", None)),
        (24.0, CrewInput::Undo { of: 5002 }),
        (
            26.0,
            of_mark(2, MarkChange::Named(Some("old slick".to_owned()))),
        ),
        (27.0, of_mark(2, MarkChange::Drifts(Some(drift)))),
        // After the newer mark, over which a pass would be planned unasked.
        (28.0, pass(PassWord::Ask)),
        (45.0, of_mark(2, MarkChange::Removed)),
        (40.0, pass(PassWord::Accept)),
        (60.0, pass(PassWord::End)),
    ];
    for (number, (at_s, input)) in (5000..).zip(&said) {
        let text = encode_crew(input, number);
        day.push((begin.plus_seconds(*at_s), CREW_FEED.to_owned(), text));
    }
    for (at_s, place) in [(10.0, "1201.000"), (50.0, "1202.000"), (72.0, "1203.000")] {
        let body = format!("GPWPL,{place},N,04000.000,W,REEF");
        let checksum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        let text = format!("${body}*{checksum:02X}");
        day.push((begin.plus_seconds(at_s), "demo".to_owned(), text));
    }
    day.sort_by_key(|(at, ..)| *at);
    let lines: String = day
        .iter()
        .map(|(at, feed, text)| {
            let feed = FeedName::new(feed).unwrap_or_else(|_| FeedName::crew());
            recorded_line(*at, feed.as_str(), &RawSentence::own(text.clone()))
        })
        .collect();
    let dir = tempfile::tempdir().unwrap();
    let recording = dir.path().join("day.nmea");
    std::fs::write(&recording, lines).unwrap();
    let settings = dir.path().join("boat.toml");
    let quick = format!(
        "{}\n[forecast]\nparticles = 64\nfutures = 32\n",
        include_str!("../../config/demo.toml")
    );
    std::fs::write(&settings, quick).unwrap();
    let book = dir.path().join("day.sqlite");
    let played = Command::new(env!("CARGO_BIN_EXE_skimwatch"))
        .arg("replay")
        .arg(&recording)
        .arg("--settings")
        .arg(&settings)
        .arg("--logbook")
        .arg(&book)
        .output()
        .unwrap();
    assert!(played.status.success(), "{played:?}");
    let reader = Reader::open(&book).unwrap();
    let found = reader.days().unwrap();
    let rows = reader.day(found[0].date).unwrap().unwrap();
    let told = timeline(&rows);

    let s = |at_s: f64| begin.plus_seconds(at_s);
    let crew: Vec<_> = told.marks.iter().filter(|m| m.last.number < 1000).collect();
    let named = |i: usize| crew[i].last.name.as_deref();
    assert_eq!(crew.len(), 2, "what was taken back is left out: {crew:#?}");
    assert_eq!(
        (named(0), crew[0].from, crew[0].to),
        (Some("birds"), s(20.0), None)
    );
    assert_eq!(named(1), Some("old slick"));
    assert_eq!((crew[1].from, crew[1].to), (s(22.3), Some(s(45.0))));
    // Where the boat was: 12 degrees north, 40 west, within some minutes at 3 m/s.
    let latitude_deg = crew[1].last.latitude_deg.unwrap();
    assert!((latitude_deg - 12.0).abs() < 0.02, "{latitude_deg}");
    assert!((crew[1].last.drift_mps.unwrap() - 0.5).abs() < 0.01);
    let events: Vec<_> = told
        .mark_changes
        .iter()
        .filter(|change| change.number == 2)
        .map(|change| change.event)
        .collect();
    assert_eq!(
        events,
        [
            MarkEvent::Made,
            MarkEvent::Named,
            MarkEvent::Drifts,
            MarkEvent::Removed
        ]
    );
    // The network's: a minute after it was kept first, where it is by then; no sooner anew.
    let reef: Vec<_> = told
        .mark_changes
        .iter()
        .filter(|change| change.name.as_deref() == Some("REEF"))
        .map(|change| (change.event, change.latitude_deg.unwrap()))
        .collect();
    assert_eq!(reef.len(), 2, "{reef:?}");
    let minute_deg = 1.0 / 60.0;
    for ((event, latitude_deg), (right, minutes)) in reef
        .iter()
        .zip([(MarkEvent::Made, 1.0), (MarkEvent::Moved, 2.0)])
    {
        assert_eq!(*event, right);
        assert!((latitude_deg - 12.0 - minutes * minute_deg).abs() < 1e-6);
    }

    // Before it is asked for, one may be offered unasked.
    let accepted: Vec<_> = (told.passes.iter())
        .filter(|pass| pass.accepted_at.is_some())
        .collect();
    let [pass] = accepted[..] else {
        panic!("one pass accepted: {:#?}", told.passes);
    };
    println!("{pass:?}");
    assert_eq!((pass.mark, pass.number), (1, 1));
    assert!(pass.offered_at >= s(28.0) && pass.offered_at < s(40.0));
    assert_eq!(pass.accepted_at, Some(s(40.0)));
    assert_eq!(
        (pass.ended, pass.ended_at),
        (Some(PassEnd::Ended), Some(s(60.0)))
    );
    // From `OFFERED` in src/pass/plan.rs on.
    assert!((0.3..=1.0).contains(&pass.chance));
    let days = [rows];
    let exported = geojson(&days);
    let read: serde_json::Value = serde_json::from_str(&exported).unwrap();
    let features = read["features"].as_array().unwrap();
    let of = |what: &str| -> Vec<&serde_json::Value> {
        let is = |f: &&serde_json::Value| f["properties"]["what"] == what;
        features.iter().filter(is).collect()
    };
    assert_eq!((of("mark").len(), of("pass").len()), (3, told.passes.len()));
    let at_mark = |f: &serde_json::Value| f["geometry"]["coordinates"].clone();
    let over_birds = |f: &&&serde_json::Value| !f["properties"]["accepted_at"].is_null();
    let passes = of("pass");
    let flown = passes.iter().find(over_birds).unwrap();
    let birds = of("mark")
        .into_iter()
        .find(|f| f["properties"]["name"] == "birds")
        .unwrap();
    assert_eq!(at_mark(flown), at_mark(birds));
    assert!(gpx(&days).unwrap().contains("<name>old slick</name>"));
    let table = |name: &str| table_of(&days, name).unwrap().rows.len();
    assert_eq!(
        (table("mark_changes"), table("passes")),
        (told.mark_changes.len(), told.passes.len())
    );
    on_paper(dir.path(), &book, &settings, rows_date(&days));
}

fn rows_date(days: &[skimwatch::logbook::DayRows]) -> String {
    days[0].date.to_string()
}

/// The report of the same day: one file that asks for nothing else, in the units of the crew.
fn on_paper(dir: &Path, book: &Path, settings: &Path, date: String) {
    let text = std::fs::read_to_string(settings).unwrap();
    let feet = dir.join("feet.toml");
    let units = "\n[crew]\nlength = \"ft\"\nspeed = \"m/s\"\n";
    std::fs::write(&feet, text + units).unwrap();
    let report = |more: &[&str]| {
        let page = dir.join("day.html");
        let written = Command::new(env!("CARGO_BIN_EXE_skimwatch"))
            .args(["logbook", "report", "--day", &date, "--settings"])
            .arg(&feet)
            .arg("--logbook")
            .arg(book)
            .arg("-o")
            .arg(&page)
            .args(more)
            .output()
            .unwrap();
        assert!(written.status.success(), "{written:?}");
        std::fs::read_to_string(page).unwrap()
    };
    let html = report(&[]);
    for asked in ["src=", "href=", "url(", "@import", "<script"] {
        assert!(!html.contains(asked), "{asked}");
    }
    // Its three plots, and the words that stand for numbers elsewhere.
    assert_eq!(html.matches("<svg").count(), 3);
    assert!(html.contains("@page") && html.contains("Passes over marks"));
    assert!(html.contains("within 49.2 ft"), "15 m");
    assert!(html.contains("old slick") && html.contains("No bite was told."));
    let without = report(&["--without-positions"]);
    assert!(!without.contains("old slick") && !without.contains("Track"));
}
