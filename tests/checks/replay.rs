//! Whole recordings through the whole chain.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use skimwatch::advice::{Advisory, AlertState, Kind, Outcome};
use skimwatch::cause::Cause;
use skimwatch::decode::{CrewInput, Line, encode_crew};
use skimwatch::drive::{LogLine, Pace, Replay, ReplayEnd, TimeSource};
use skimwatch::engine::{Engine, EngineSettings, Event, FeedTotals, Mode, Snapshot};
use skimwatch::feed::{FeedName, FrameSettings, RawSentence};
use skimwatch::record::{LogReader, recorded_line};
use skimwatch::time::Millis;
use skimwatch::units::metres;
use skimwatch::vessel::LinesOut;
use tokio_util::sync::CancellationToken;

use crate::beside::beside;
use crate::forecast_scene::with_futures;

/// The demo's rig with few members: what is tested is the chain, not the chances.
pub fn few_members() -> EngineSettings {
    with_futures(24)
}

struct Played {
    revisions: Vec<Advisory>,
    totals: BTreeMap<String, FeedTotals>,
    end: ReplayEnd,
}

fn play(path: &Path, settings: EngineSettings, pace: Pace) -> Played {
    let name = "log".into();
    let items = LogReader::open(path, FrameSettings::default())
        .unwrap()
        .map(|item| LogLine::from_log(item.unwrap(), &name));
    let mut revisions = Vec::new();
    let replay = Replay::new(Engine::new(settings, Mode::Replay), None);
    let (engine, end) = tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .build()
        .unwrap()
        .block_on(
            replay.run(items, pace, CancellationToken::new(), |picture| {
                revisions.extend(picture.revisions);
            }),
        );
    Played {
        revisions,
        totals: engine.inputs().totals(),
        end,
    }
}

fn fixture(name: &str) -> PathBuf {
    Path::new("fixtures").join(name)
}

/// The invented turn toward the wind: moment, feed and text of each sentence.
pub fn turn_toward() -> impl Iterator<Item = (Millis, Arc<str>, String)> {
    let log = LogReader::open(&fixture("turn-toward.nmea"), FrameSettings::default()).unwrap();
    log.filter_map(
        |item| match LogLine::from_log(item.unwrap(), &"log".into()) {
            LogLine::Sentence {
                stamped: Some((at, _)),
                feed,
                text,
            } => Some((at, feed, text)),
            _ => None,
        },
    )
}

/// What a reader sees of an advisory's life.
fn lives(revisions: &[Advisory]) -> Vec<String> {
    revisions
        .iter()
        .map(|a| {
            let at = a.at.to_string();
            format!(
                "{} {} r{} {:?} {:?} onset {} outcome {:?}: {}",
                at.get(11..19).unwrap_or_default(),
                a.id,
                a.revision,
                a.priority,
                a.state,
                a.onset_at
                    .map_or("-".to_owned(), |t| t.to_string()[11..19].to_owned()),
                a.outcome,
                a.cause,
            )
        })
        .collect()
}

#[test]
fn turn_toward_the_wind() {
    let played = play(&fixture("turn-toward.nmea"), few_members(), Pace::Fastest);
    assert_eq!(played.end.time_source, TimeSource::Tag);
    insta::assert_json_snapshot!("turn_toward", lives(&played.revisions));
    let first = played
        .revisions
        .iter()
        .find(|a| a.kind == Kind::BaitAirborne)
        .unwrap();
    // The scenario's helm goes over at second 40 and the true bait leaves the water after it.
    assert!(first.at < played.end.first().unwrap().plus_seconds(40.0));
}

#[test]
fn turn_away_from_the_wind() {
    let played = play(&fixture("turn-away.nmea"), few_members(), Pace::Fastest);
    insta::assert_json_snapshot!("turn_away", lives(&played.revisions));
    assert!(
        played
            .revisions
            .iter()
            .any(|a| a.kind == Kind::BaitDragging)
    );
}

#[test]
fn a_silent_sensor_is_told_and_forgiven() {
    let played = play(&fixture("sensor-silent.nmea"), few_members(), Pace::Fastest);
    insta::assert_json_snapshot!("sensor_silent", lives(&played.revisions));
    let lost: Vec<_> = played
        .revisions
        .iter()
        .filter(|a| a.kind == Kind::DataLost)
        .collect();
    assert!(lost.first().unwrap().outcome.is_none());
    assert_eq!(lost.last().unwrap().outcome, Some(Outcome::Restored));
    let refused: u64 = played
        .totals
        .values()
        .flat_map(|totals| totals.rejected.values())
        .sum();
    assert!(refused > 0);
}

/// Lines of a fixture, with seconds after the first; those that come later may be changed.
fn changed(name: &str, change: impl Fn(f64, &str) -> Option<String>) -> Played {
    let log = "log".into();
    let lines: Vec<LogLine> = LogReader::open(&fixture(name), FrameSettings::default())
        .unwrap()
        .map(|item| LogLine::from_log(item.unwrap(), &log))
        .collect();
    let mut first = None;
    let lines = lines.into_iter().map(move |line| match line {
        LogLine::Sentence {
            stamped: Some((at, source)),
            feed,
            text,
        } => {
            let s = at.seconds_since(*first.get_or_insert(at));
            LogLine::Sentence {
                stamped: Some((at, source)),
                feed,
                text: change(s, &text).unwrap_or(text),
            }
        }
        other => other,
    });
    let mut revisions = Vec::new();
    let replay = Replay::new(Engine::new(few_members(), Mode::Replay), None);
    let (engine, end) = tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .build()
        .unwrap()
        .block_on(
            replay.run(lines, Pace::Fastest, CancellationToken::new(), |picture| {
                revisions.extend(picture.revisions);
            }),
        );
    Played {
        revisions,
        totals: engine.inputs().totals(),
        end,
    }
}

/// A wind sensor that dies with its alarms living, in each of the ways in which one does: it reads
/// 0.0, calls its data not valid, sends what cannot be.
#[test]
fn a_wind_sensor_that_dies_talking_raises_data_lost_and_rectifies_nothing() {
    for (dead, said) in [
        (
            "$WIMWV,293.0,R,0.0,N,A",
            "reads 0.0: no wind, or a dead sensor",
        ),
        ("$WIMWV,,R,,N,V", "speaks but calls its values not valid"),
        (
            "$WIMWV,293.0,R,999.0,N,A",
            "speaks but its values cannot be",
        ),
    ] {
        let played = changed("turn-toward.nmea", |s, text| match text {
            _ if s <= 30.0 => None,
            wind if wind.contains("MWV") => Some(dead.to_owned()),
            // Nor does anybody say what the bait does.
            crew if crew.starts_with("$PSKWT") => Some("$IIMTW,20.0,C".to_owned()),
            _ => None,
        });
        let of = |kind: Kind| played.revisions.iter().filter(move |a| a.kind == kind);
        let lost: Vec<_> = of(Kind::DataLost).collect();
        let [lost] = lost.as_slice() else {
            panic!("{dead}: {:#?}", lives(&played.revisions))
        };
        assert!(lost.cause.contains(said), "{}", lost.cause);
        assert_eq!(lost.outcome, None, "it is still dead");
        let at_s = lost.at.seconds_since(played.end.first().unwrap());
        assert!((40.0..46.0).contains(&at_s), "{dead}: after {at_s} s");
        let alarm = of(Kind::BaitAirborne).next_back().unwrap();
        assert!(alarm.unwatched_since.is_some(), "{dead}");
        assert_eq!(alarm.outcome, None, "{dead}");
        assert!(
            of(Kind::BaitAirborne).all(|a| a.state != AlertState::RectifiedUnacknowledged),
            "{dead}: {:#?}",
            lives(&played.revisions)
        );
    }
}

/// A masthead unit that repeats its last words is told of as in doubt, once, and not as silent.
#[test]
fn a_masthead_unit_that_repeats_itself_is_in_doubt_and_not_lost() {
    let dead = "$WIMWV,293.0,R,12.0,N,A";
    let played = changed("turn-toward.nmea", |s, text| {
        (s > 20.0 && text.contains("MWV")).then(|| dead.to_owned())
    });
    let of = |kind: Kind| played.revisions.iter().filter(move |a| a.kind == kind);
    assert_eq!(
        of(Kind::DataLost).count(),
        0,
        "{:#?}",
        lives(&played.revisions)
    );
    let told: Vec<_> = of(Kind::InstrumentsDisagree)
        .filter(|told| told.cause.contains("repeats one angle and one speed"))
        .collect();
    assert!(!told.is_empty(), "{:#?}", lives(&played.revisions));
    assert!(told.iter().all(|one| one.id == told[0].id), "one alarm");
    assert!(
        told[0].without_action.contains("no forecast"),
        "{}",
        told[0].without_action
    );
}

#[test]
fn a_new_heading_of_the_autopilot_is_answered_at_once_and_its_repetition_is_not() {
    let settings = EngineSettings {
        lines_out: LinesOut {
            kite_m: None,
            main_m: None,
        },
        ..few_members()
    };
    let mut engine = Engine::new(settings, Mode::Replay);
    let start = Millis(1_780_300_800_000);
    let mut shown_at = |s: f64, text: &str| {
        let at = start.plus_seconds(s);
        let event = match text {
            "" => Event::Tick { at },
            text => Event::Line {
                at,
                feed: "bridge",
                text,
            },
        };
        engine.take(event).map(|picture| picture.snapshot.at)
    };
    // The same demand again is nothing new, nor is one that is 2 degrees off.
    for s in 0..30 {
        let s = f64::from(s);
        assert!(shown_at(s, "").is_some());
        for (after_s, text) in [
            (0.1, "$HEHDT,110.0,T"),
            (0.2, "$APHSC,110.0,T,,"),
            (0.3, "$APHSC,112.0,T,,"),
        ] {
            assert_eq!(shown_at(s + after_s, text), None, "{text} at {s} s");
        }
    }
    let new = shown_at(30.05, "$APHSC,060.0,T,,");
    assert_eq!(new, Some(start.plus_seconds(30.05)));
    assert_eq!(shown_at(30.15, "$APHSC,060.0,T,,"), None);
    // A dial turned further is answered too, but not with every sentence.
    assert_eq!(shown_at(30.25, "$APHSC,040.0,T,,"), None);
    assert_eq!(shown_at(30.35, "$HEHDT,110.0,T"), None);
    let later = shown_at(30.55, "$HEHDT,110.0,T");
    assert_eq!(later, Some(start.plus_seconds(30.55)));
    assert_eq!(shown_at(30.65, "$APHSC,040.0,T,,"), None);
}

/// One tap, and what becomes of it: taken, or refused as not the crew's.
fn tap(log: &str, settings: EngineSettings) -> (Option<f64>, u64) {
    let name = "log".into();
    let items = LogReader::new(log.as_bytes(), FrameSettings::default())
        .map(|item| LogLine::from_log(item.unwrap(), &name));
    let replay = Replay::new(Engine::new(settings, Mode::Replay), None);
    let mut out = None;
    let (engine, _) = tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .build()
        .unwrap()
        .block_on(
            replay.run(items, Pace::Fastest, CancellationToken::new(), |picture| {
                out = picture.snapshot.deck.lines.main_m;
            }),
        );
    let refused = engine
        .inputs()
        .totals()
        .values()
        .filter_map(|totals| totals.rejected.get(&Cause::NotCrew).copied())
        .sum();
    (out, refused)
}

#[test]
fn only_the_crew_speaks_for_the_crew() {
    let said = encode_crew(
        &CrewInput::LinesOut {
            kite: None,
            main: Some(metres(123.0)),
        },
        1,
    );
    let recorded = |feed: &str| {
        let at = Millis(1_780_300_800_000);
        let feed = FeedName::new(feed).unwrap();
        recorded_line(at, feed.as_str(), &RawSentence::own(said.clone()))
    };
    assert_eq!(tap(&recorded("crew"), few_members()), (Some(123.0), 0));
    assert_eq!(tap(&recorded("bridge"), few_members()), (None, 1));
    let mut settings = few_members();
    settings.crew_feeds = vec!["bridge".to_owned()];
    assert_eq!(tap(&recorded("bridge"), settings), (Some(123.0), 0));
    // A log without names of feeds has no other way to hold the crew's words.
    assert_eq!(tap(&said, few_members()), (Some(123.0), 0));
}

/// Invented: a position each second from `hms` on, and each time an apparent wind.
fn seconds_from(hms: u32, seconds: u32) -> String {
    let line = |body: String| {
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        format!("${body}*{sum:02X}\r\n")
    };
    (hms..hms + seconds)
        .map(|hms| {
            line(format!(
                "GPRMC,{hms:06}.00,A,1200.000,N,04000.000,W,6.0,090.0,010626,,,A"
            )) + &line("WIMWV,030,R,10.0,N,A".to_owned())
        })
        .collect()
}

/// Pictures of a log, and how it ended.
fn pictures(log: &str) -> (Vec<Snapshot>, ReplayEnd) {
    let name = "log".into();
    let items = LogReader::new(log.as_bytes(), FrameSettings::default())
        .map(|item| LogLine::from_log(item.unwrap(), &name));
    let settings = EngineSettings {
        lines_out: LinesOut {
            kite_m: None,
            main_m: None,
        },
        ..few_members()
    };
    let replay = Replay::new(Engine::new(settings, Mode::Replay), None);
    let mut pictures = Vec::new();
    let (_, end) = tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .build()
        .unwrap()
        .block_on(
            replay.run(items, Pace::Fastest, CancellationToken::new(), |picture| {
                pictures.push(picture.snapshot);
            }),
        );
    (pictures, end)
}

#[test]
fn lines_before_the_first_time_come_just_before_it() {
    let wind = "$WIMWV,214.8,R,0.1,K,A*28\r\n".repeat(20);
    let (pictures, end) = pictures(&(wind + &seconds_from(120_000, 3)));
    assert_eq!(end.dated_back, 20);
    assert_eq!(end.time_source, TimeSource::SentenceUtc);
    // Twenty lines at ten a second: two seconds.
    let first = end.first().unwrap();
    assert_eq!(first.to_string(), "2026-06-01T11:59:58.000Z");
    let feed = &pictures.last().unwrap().feeds[0];
    assert!(feed.longest_gap_s <= 1.0, "{}", feed.longest_gap_s);
}

#[test]
fn where_the_clock_steps_back_it_goes_on_as_after_a_restart() {
    let said = |input: &CrewInput, sequence| encode_crew(input, sequence) + "\r\n";
    let out = CrewInput::LinesOut {
        kite: Some(metres(80.0)),
        main: Some(metres(140.0)),
    };
    let moved = CrewInput::Moved {
        line: Line::Main,
        by: metres(5.0),
    };
    // A clock of twelve hours: after 12:59 comes 01:00.
    let log = [
        seconds_from(125_930, 10),
        said(&out, 1),
        seconds_from(125_940, 10),
        said(&moved, 2),
        seconds_from(125_950, 10),
        seconds_from(10_000, 30),
    ]
    .concat();
    let (pictures, end) = pictures(&log);
    let parts: Vec<_> = end
        .parts
        .iter()
        .map(|part| {
            let from = part.from.to_utc().unwrap().format("%H:%M").to_string();
            (from, part.to.seconds_since(part.from))
        })
        .collect();
    assert_eq!(
        parts,
        [("12:59".to_owned(), 29.0), ("01:00".to_owned(), 29.0)]
    );
    // A tick each second of both but for the first, and what the crew said.
    assert_eq!(pictures.len(), 29 + 29 + 2);
    let begun = end.parts[0].from;
    let second = pictures.iter().find(|picture| picture.at < begun).unwrap();
    for picture in [second, pictures.last().unwrap()] {
        assert_eq!(picture.deck.lines.kite_m, Some(80.0));
        assert_eq!(picture.deck.lines.main_m, Some(145.0));
    }
    // Its lines are counted on, and nothing was silent for twelve hours.
    let log_feed = |picture: &Snapshot| {
        let feed = picture.feeds.iter().find(|feed| feed.name == "log");
        let feed = feed.unwrap();
        (feed.accepted, feed.longest_gap_s)
    };
    // Two lines a second; those of the last one come after its tick.
    assert_eq!(log_feed(pictures.last().unwrap()), (118, 1.0));
    assert!(second.vessel.apparent_wind.is_some());
}

#[test]
fn a_long_silence_is_not_sat_out_but_all_its_ticks_are_made() {
    let feed = FeedName::new("masthead").unwrap();
    let line = |at_s: f64| {
        let wind = RawSentence::own("$WIMWV,214.8,R,0.1,K,A*28".to_owned());
        recorded_line(
            Millis(1_780_300_800_000).plus_seconds(at_s),
            feed.as_str(),
            &wind,
        )
    };
    let log = [line(0.0), line(1.0), line(3601.0), line(3602.0)].concat();
    let ticks = |pace| {
        let name = "log".into();
        let items = LogReader::new(log.as_bytes(), FrameSettings::default())
            .map(|item| LogLine::from_log(item.unwrap(), &name));
        let mut ticks = Vec::new();
        let replay = Replay::new(Engine::new(few_members(), Mode::Replay), None);
        let playing = replay.run(items, pace, CancellationToken::new(), |picture| {
            ticks.push(picture.snapshot.at);
        });
        tokio::runtime::Builder::new_current_thread()
            .enable_time()
            .build()
            .unwrap()
            .block_on(async { tokio::time::timeout(Duration::from_secs(60), playing).await })
            .expect("the silence was sat out");
        ticks
    };
    let began = Instant::now();
    let paced = ticks(Pace::Times(1.0));
    // The seconds before and after it are waited for.
    assert!(began.elapsed() >= Duration::from_millis(1900));
    assert_eq!(paced.len(), 3602);
    assert_eq!(paced, ticks(Pace::Fastest));
}

#[test]
fn any_speed_gives_the_same_bytes() {
    let json = |pace| {
        let played = play(&fixture("turn-toward.nmea"), few_members(), pace);
        serde_json::to_string(&played.revisions).unwrap()
    };
    assert_eq!(json(Pace::Fastest), json(Pace::Times(200.0)));
}

/// Every recorded log goes through the whole chain; its sentences are counted by kind the way a
/// ten-line count of valid lines counts them (`recorded_logs` compares framing with the
/// independent Python counter, address by address; here the chain must lose none on the way).
#[test]
fn recorded_logs_go_through_the_whole_chain() {
    let Some(dir) = beside("nmea-logs") else {
        return;
    };
    let mut logs: Vec<_> = std::fs::read_dir(dir)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_none_or(|e| e != "md"))
        .collect();
    logs.sort();
    assert!(logs.len() >= 16);
    for log in logs {
        let mut settings = few_members();
        // Nobody told what is out: the chain runs without its costly last part.
        settings.lines_out = LinesOut {
            kite_m: None,
            main_m: None,
        };
        let played = play(&log, settings, Pace::Fastest);
        let counted: u64 = played
            .totals
            .values()
            .flat_map(|totals| totals.sentences.values())
            .sum();
        let framed = LogReader::open(&log, FrameSettings::default())
            .unwrap()
            .map(|item| LogLine::from_log(item.unwrap(), &"log".into()))
            .filter(|line| matches!(line, LogLine::Sentence { .. }))
            .count();
        assert_eq!(counted, framed as u64, "{}", log.display());
        for revision in &played.revisions {
            assert!(revision.countdown_s.is_finite());
        }
    }
}

/// A forecast on real wind and turns of a real sailing boat (that flew no kite): nothing may
/// panic or turn into nonsense. Two minutes of each of two logs.
#[test]
fn a_rig_on_recorded_wind() {
    let Some(dir) = beside("nmea-logs") else {
        return;
    };
    for name in ["sail-lake-turns.nmea", "sail-compass-swing.nmea"] {
        let path = dir.join(name);
        let name = "log".into();
        let items = LogReader::open(&path, FrameSettings::default())
            .unwrap()
            .map(|item| LogLine::from_log(item.unwrap(), &name))
            .take(900);
        let mut settings = few_members();
        settings.lines_out = LinesOut {
            kite_m: Some(80.0),
            main_m: Some(140.0),
        };
        let replay = Replay::new(Engine::new(settings, Mode::Replay), None);
        tokio::runtime::Builder::new_current_thread()
            .enable_time()
            .build()
            .unwrap()
            .block_on(
                replay.run(items, Pace::Fastest, CancellationToken::new(), |picture| {
                    if let Ok(forecast) = &picture.snapshot.forecast {
                        for band in &forecast.bait_height_m {
                            assert!(band.p10 <= band.p50 && band.p50 <= band.p90);
                            assert!(band.p90.abs() < 1000.0);
                        }
                        for chance in &forecast.chances {
                            assert!((-1e-9..=1.0 + 1e-9).contains(&chance.chance));
                        }
                    }
                }),
            );
    }
}
