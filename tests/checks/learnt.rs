//! What was learnt outlives the day: kept, recalled with its age, discarded openly.

use std::path::Path;
use std::sync::Arc;

use skimwatch::drive::{
    LearntFile, LearntFileError, LogLine, read_learnt, recall_learnt, write_learnt,
};
use skimwatch::engine::{Engine, EngineSettings, Event, Mode};
use skimwatch::feed::FrameSettings;
use skimwatch::forecast::{Doubt, Forecast, ForecastSettings, Forecaster, Learnt, LearntError};
use skimwatch::record::LogReader;
use skimwatch::rig::RigParameters;
use skimwatch::turn::{TurnSettings, TurnWatch};

use crate::forecast_scene::{Boat, at, deck};

fn small() -> ForecastSettings {
    ForecastSettings {
        members: 48,
        ..ForecastSettings::default()
    }
}

fn forecaster(rig: &RigParameters) -> Forecaster {
    Forecaster::new(small(), Some(rig.clone()), 10.0).unwrap()
}

/// Watches an invented boat on a reach; `seen_rad` is the kite elevation that the crew sees, told
/// every ten seconds. Gives the last forecast.
fn watch(
    forecaster: &mut Forecaster,
    from_s: f64,
    ticks: u32,
    seen_rad: Option<f64>,
) -> Arc<Forecast> {
    let mut turns = TurnWatch::new(TurnSettings::default());
    let boat = Boat {
        heading_deg: 90.0,
        rate_deg_s: 0.0,
        speed_mps: 3.0,
        wind_mps: 8.2,
        wind_from_deg: 0.0,
    };
    let mut deck = deck(100.0, 143.0);
    let mut last = None;
    for i in 0..ticks {
        let now = at(from_s + f64::from(i));
        if i % 10 == 5 {
            deck.elevation_rad = seen_rad.map(|angle| (angle, now));
        }
        let vessel = boat.now(now);
        let outlook = turns.outlook(now, &vessel, &deck);
        last = Some(forecaster.forecast(now, &vessel, &deck, &outlook).unwrap());
    }
    last.unwrap()
}

fn elevation_deg(forecast: &Forecast) -> (f64, f64) {
    let first = forecast.kite_elevation_deg[0];
    (first.p50, first.p90 - first.p10)
}

/// A day on which the kite stood five degrees lower than anybody would have guessed.
fn day() -> (Learnt, f64, f64) {
    let mut fresh = forecaster(&RigParameters::default());
    assert!(fresh.learnt().is_none());
    let (guess_deg, _) = elevation_deg(&watch(&mut fresh, 0.0, 3, None));
    assert!(fresh.learnt().is_none() && fresh.lessons() == 0);
    let seen_deg = guess_deg - 5.0;
    watch(&mut fresh, 3.0, 40, Some(seen_deg.to_radians()));
    assert_eq!(fresh.lessons(), 4);
    (fresh.learnt().unwrap(), guess_deg, seen_deg)
}

const NEXT_DAY_S: f64 = 20.0 * 3600.0;

#[test]
fn the_next_day_begins_where_the_last_one_ended() {
    let (learnt, guess_deg, seen_deg) = day();
    assert_eq!(learnt.reports(), 4);
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("learnt.json");
    write_learnt(&file, &learnt).unwrap();
    let names: Vec<_> = std::fs::read_dir(dir.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .collect();
    assert_eq!(names, ["learnt.json"]);

    let recalled = || {
        let mut next = forecaster(&RigParameters::default());
        recall_learnt(&file, &mut next);
        let forecast = watch(&mut next, NEXT_DAY_S, 3, None);
        (forecast, next)
    };
    let mut fresh = forecaster(&RigParameters::default());
    let untaught = watch(&mut fresh, NEXT_DAY_S, 3, None);
    let (forecast, next) = recalled();
    let ((is_deg, wide_deg), (_, untaught_wide_deg)) =
        (elevation_deg(&forecast), elevation_deg(&untaught));
    println!(
        "guess {guess_deg:.1}, seen {seen_deg:.1}, next day {is_deg:.1} within {wide_deg:.1} \
         (untaught {untaught_wide_deg:.1}) degrees"
    );
    assert!((is_deg - seen_deg).abs() < 0.5 * (guess_deg - seen_deg).abs());
    assert!(wide_deg < untaught_wide_deg, "{wide_deg}");
    // Its age is shown, and it is no report of today.
    let age_s = forecast.crew.learnt_age_s.unwrap();
    assert!(
        (NEXT_DAY_S - 60.0..=NEXT_DAY_S + 60.0).contains(&age_s),
        "{age_s}"
    );
    assert!(
        forecast
            .crew
            .note
            .ends_with("Begun from what 4 earlier reports have taught, the last 20 h ago."),
        "{}",
        forecast.crew.note
    );
    assert!(next.learnt().is_none());
    assert_eq!(untaught.crew.learnt_age_s, None);
    // Twice the same.
    let again = serde_json::to_string(&*recalled().0).unwrap();
    assert_eq!(serde_json::to_string(&*forecast).unwrap(), again);
}

#[test]
fn forgetting_it_begins_anew() {
    let (learnt, ..) = day();
    let mut next = forecaster(&RigParameters::default());
    next.recall(learnt).unwrap();
    next.forget();
    let forecast = watch(&mut next, NEXT_DAY_S, 3, None);
    let fresh = watch(
        &mut forecaster(&RigParameters::default()),
        NEXT_DAY_S,
        3,
        None,
    );
    assert_eq!(forecast.crew.learnt_age_s, None);
    assert_eq!(forecast.kite_elevation_deg, fresh.kite_elevation_deg);
}

#[test]
fn another_rig_discards_it_openly() {
    let (learnt, ..) = day();
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("learnt.json");
    write_learnt(&file, &learnt).unwrap();
    let mut other_kite = RigParameters::default();
    other_kite.kite.area_m2 *= 1.01;
    let mut next = forecaster(&other_kite);
    assert_eq!(next.recall(learnt.clone()), Err(LearntError::OtherRig));
    recall_learnt(&file, &mut next);
    let forecast = watch(&mut next, NEXT_DAY_S, 3, None);
    assert!(
        forecast
            .crew
            .note
            .contains("What was learnt earlier is discarded"),
        "{}",
        forecast.crew.note
    );
    let fresh = watch(&mut forecaster(&other_kite), NEXT_DAY_S, 3, None);
    assert_eq!(forecast.bait_height_m, fresh.bait_height_m);

    let doubt = Doubt {
        kite_lift: 0.2,
        ..Doubt::default()
    };
    assert_eq!(
        learnt.fits(&RigParameters::default(), &doubt),
        Err(LearntError::OtherDoubt)
    );
}

#[test]
fn what_nothing_can_have_taught_is_refused() {
    let (learnt, ..) = day();
    let good = serde_json::to_value(&learnt).unwrap();
    let judged = |spoil: &dyn Fn(&mut serde_json::Value)| {
        let mut value = good.clone();
        spoil(&mut value);
        serde_json::from_value::<Learnt>(value)
            .map_err(|why| why.to_string())
            .map(|l| l.fits(&RigParameters::default(), &Doubt::default()))
    };
    assert_eq!(judged(&|_| {}), Ok(Ok(())));
    assert_eq!(
        judged(&|v| v["format"] = 2.into()),
        Ok(Err(LearntError::Format))
    );
    for spoil in [
        (|v| v["beliefs"] = serde_json::json!([])) as fn(&mut serde_json::Value),
        |v| v["beliefs"][0]["weight"] = (-1.0).into(),
        |v| v["beliefs"][3]["traits"][5] = 1e9.into(),
    ] {
        assert_eq!(judged(&spoil), Ok(Err(LearntError::Numbers)));
    }
    assert!(judged(&|v| v["beliefs"][0]["traits"] = serde_json::json!([1.0])).is_err());
    assert!(judged(&|v| v["more"] = 1.into()).is_err());
}

#[test]
fn a_file_that_is_absent_or_something_else() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("learnt.json");
    assert!(matches!(read_learnt(&file), Ok(None)));
    std::fs::write(&file, "{\"kite\":").unwrap();
    let error = read_learnt(&file).unwrap_err();
    assert!(matches!(error, LearntFileError::Garbled { .. }));
    assert!(error.to_string().contains("skimwatch forget"), "{error}");
    let mut next = forecaster(&RigParameters::default());
    recall_learnt(&file, &mut next);
    let note = watch(&mut next, 0.0, 3, None).crew.note.clone();
    assert!(note.contains("discarded"), "{note}");
    let large = std::fs::File::create(&file).unwrap();
    large.set_len(3 << 20).unwrap();
    assert!(
        read_learnt(&file)
            .unwrap_err()
            .to_string()
            .contains("too large")
    );
    let nowhere = dir.path().join("none").join("learnt.json");
    assert!(write_learnt(&nowhere, &day().0).is_err());
}

/// An engine that has heard the invented turn up to `until_s`, with the file kept meanwhile.
fn engine_until(engine: &mut Engine, file: &mut LearntFile, from_s: f64, until_s: f64) {
    let name = "log".into();
    let mut first = None;
    for item in LogReader::open(
        Path::new("fixtures/turn-toward.nmea"),
        FrameSettings::default(),
    )
    .unwrap()
    {
        let LogLine::Sentence {
            stamped: Some((at, _)),
            feed,
            text,
        } = LogLine::from_log(item.unwrap(), &name)
        else {
            continue;
        };
        let s = at.seconds_since(*first.get_or_insert(at));
        if s < from_s || s >= until_s {
            continue;
        }
        engine.take(Event::Line {
            at,
            feed: &feed,
            text: &text,
        });
        if text.starts_with("$WIMWV") {
            engine.take(Event::Tick { at });
        }
        file.keep(engine);
    }
}

#[test]
fn a_report_is_kept_at_once_and_then_at_most_once_a_minute() {
    let text = std::fs::read_to_string("config/demo.toml").unwrap();
    let settings = skimwatch::settings::parse(&text, "config/demo.toml").unwrap();
    assert_eq!(settings.learnt_file, None);
    let engine_settings = EngineSettings {
        forecaster: forecaster(&settings.rig.parameters),
        ..settings.engine().unwrap()
    };
    let mut engine = Engine::new(engine_settings, Mode::Replay);
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("learnt.json");
    let mut file = LearntFile::new(path.clone());
    // The crew's first report of the bait is in second 4 of the fixture.
    engine_until(&mut engine, &mut file, 0.0, 3.5);
    assert!(!path.exists());
    engine_until(&mut engine, &mut file, 3.5, 8.0);
    let first = read_learnt(&path).unwrap().unwrap();
    assert_eq!(first.reports(), 1);
    assert_eq!(
        first.fits(&settings.rig.parameters, &Doubt::default()),
        Ok(())
    );
    // Another report within the minute (of the clock on the wall): not written, until the end.
    let at = first.learnt_at().plus_seconds(5.0);
    engine.take(Event::Line {
        at,
        feed: "crew",
        text: &skimwatch::decode::encode_crew(
            &skimwatch::decode::CrewInput::Bait(skimwatch::decode::BaitState::Skipping),
            90,
        ),
    });
    file.keep(&engine);
    assert_eq!(engine.lessons(), 2);
    assert_eq!(read_learnt(&path).unwrap().unwrap(), first);
    file.keep_now(&engine);
    assert_eq!(read_learnt(&path).unwrap().unwrap().reports(), 2);
}
