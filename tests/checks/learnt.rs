//! What was learnt outlives the day: kept, recalled with its age, discarded openly.

use std::sync::Arc;

use skimwatch::decode::{BaitState, CrewInput, SessionMark, SettingChange, encode_crew};
use skimwatch::drive::{LearntFile, LearntFileError, read_memory, write_memory};
use skimwatch::engine::{Engine, EngineSettings, Event, Mode};
use skimwatch::forecast::{
    Doubt, Effort, Forecast, ForecastSettings, Forecaster, LearntError, MOST_KITES, Memory,
};
use skimwatch::rig::RigParameters;
use skimwatch::turn::{TurnSettings, TurnWatch};
use skimwatch::units::radians;

use crate::forecast_scene::{Boat, Crew, at, lines_out};
use crate::replay::turn_toward;

fn small() -> ForecastSettings {
    ForecastSettings {
        futures: 48,
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
    let boat = Boat::with_wind_abeam(8.2);
    let mut crew = Crew::with_lines(100.0, 143.0);
    let mut last = None;
    for i in 0..ticks {
        let now = at(from_s + f64::from(i));
        if let (5, Some(angle)) = (i % 10, seen_rad) {
            crew.says(now, forecaster, &CrewInput::Elevation(radians(angle)));
        }
        let deck = crew.deck.now(now);
        let vessel = boat.now(now);
        let outlook = turns.outlook(now, &vessel, &deck);
        last = Some(
            forecaster
                .forecast(now, &vessel, &deck, &outlook, Effort::FULL)
                .unwrap(),
        );
    }
    last.unwrap()
}

fn elevation_deg(forecast: &Forecast) -> (f64, f64) {
    let first = forecast.kite_elevation_deg[0];
    (first.p50, first.p90 - first.p10)
}

/// A day on which the kite stood five degrees lower than anybody would have guessed.
fn day() -> (Memory, f64, f64) {
    let mut fresh = forecaster(&RigParameters::default());
    assert_eq!(fresh.memory().kites(), 0);
    let (guess_deg, _) = elevation_deg(&watch(&mut fresh, 0.0, 3, None));
    assert!(fresh.memory().kites() == 0 && fresh.learnt_now().is_none());
    let seen_deg = guess_deg - 5.0;
    watch(&mut fresh, 3.0, 40, Some(seen_deg.to_radians()));
    assert_eq!(fresh.learnt_now().unwrap().reports, 4);
    (fresh.memory(), guess_deg, seen_deg)
}

fn heavier() -> RigParameters {
    let mut rig = RigParameters::default();
    rig.kite.mass_kg += 0.1;
    rig
}

/// Reports kept of a rig; none when nothing was learnt of it.
fn reports(memory: &Memory, rig: &RigParameters) -> Option<u64> {
    let learnt = memory.of(rig, &Doubt::default()).ok()?;
    Some(learnt.told().reports)
}

const NEXT_DAY_S: f64 = 20.0 * 3600.0;

#[test]
fn the_next_day_begins_where_the_last_one_ended() {
    let (memory, guess_deg, seen_deg) = day();
    assert_eq!(reports(&memory, &RigParameters::default()), Some(4));
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("learnt.json");
    write_memory(&file, &memory).unwrap();
    assert!(read_memory(&file).unwrap().unwrap() == memory);
    let names: Vec<_> = std::fs::read_dir(dir.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .collect();
    assert_eq!(names, ["learnt.json"]);

    let recalled = || {
        let mut next = forecaster(&RigParameters::default());
        LearntFile::open(file.clone(), &mut next).unwrap();
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
            .ends_with("It starts from 4 earlier reports about this kite, the last 20 h ago."),
        "{}",
        forecast.crew.note
    );
    assert!(next.memory() == memory);
    assert_eq!(untaught.crew.learnt_age_s, None);
    // Twice the same.
    let again = serde_json::to_string(&*recalled().0).unwrap();
    assert_eq!(serde_json::to_string(&*forecast).unwrap(), again);
}

#[test]
fn what_moves_no_line_leaves_all_as_it_is() {
    let mut old = forecaster(&RigParameters::default());
    old.remember(day().0).unwrap();
    watch(&mut old, NEXT_DAY_S, 8, Some(0.86));
    let mut stronger = RigParameters {
        band_strength_n: Some(61.0),
        ..RigParameters::default()
    };
    stronger.main_line.strength_n = Some(900.0);
    let next = forecaster(&stronger).replacing(&old);
    let told = next.learnt_now().unwrap();
    assert_eq!((told.reports, told.at), (5, at(NEXT_DAY_S + 5.0)));
    // The members hang where they hung, so the next forecast is the one that would have come.
    let (mut changed, mut same) = (next, old);
    let (a, b) = (
        watch(&mut changed, NEXT_DAY_S + 9.0, 1, None),
        watch(&mut same, NEXT_DAY_S + 9.0, 1, None),
    );
    assert_eq!(a.bait_height_m, b.bait_height_m);
    assert_eq!(changed.learnt_now(), same.learnt_now());
}

#[test]
fn each_kite_is_remembered_and_comes_back_with_its_age() {
    let (memory, guess_deg, seen_deg) = day();
    let first = RigParameters::default();
    let mut old = forecaster(&first);
    old.remember(memory).unwrap();
    watch(&mut old, NEXT_DAY_S, 8, Some(seen_deg.to_radians()));
    // The other kite: begun afresh, and nothing seen of the first one teaches it.
    let mut other = forecaster(&heavier()).replacing(&old);
    let crew = watch(&mut other, NEXT_DAY_S + 9.0, 3, None).crew.clone();
    assert!(
        crew.note.ends_with(
            "Nothing was learned about this kite yet; what was learned about others is kept for them."
        ),
        "{}",
        crew.note
    );
    assert_eq!((crew.learnt_age_s, other.learnt_now()), (None, None));
    watch(&mut other, NEXT_DAY_S + 12.0, 20, Some(0.9));
    assert_eq!(reports(&other.memory(), &heavier()), Some(2));
    assert_eq!(reports(&other.memory(), &first), Some(5));
    // And back.
    let mut back = forecaster(&first).replacing(&other);
    let forecast = watch(&mut back, NEXT_DAY_S + 3605.0, 3, None);
    assert!(
        forecast
            .crew
            .note
            .ends_with("It starts from 5 earlier reports about this kite, the last 60 min ago."),
        "{}",
        forecast.crew.note
    );
    let (is_deg, _) = elevation_deg(&forecast);
    assert!((is_deg - seen_deg).abs() < 0.5 * (guess_deg - seen_deg).abs());
    assert_eq!(reports(&back.memory(), &heavier()), Some(2));
}

#[test]
fn rigging_strengths_and_the_days_water_do_not_tell_a_kite_from_another() {
    let memory = day().0;
    let mut rigged = RigParameters {
        band_strength_n: Some(60.0),
        rod_holder_strength_n: Some(300.0),
        air_density: 1.2,
        ..RigParameters::default()
    };
    rigged.kite_line.strength_n = Some(300.0);
    rigged.kite_line.clip_to_kite_m = 18.0;
    rigged.marker.above_bait_m = 8.0;
    rigged.rod_tips.kite.height_m += 0.2;
    assert_eq!(reports(&memory, &rigged), Some(4));
    for spoil in [
        (|rig| rig.kite.area_m2 *= 1.01) as fn(&mut RigParameters),
        |rig| rig.kite.cl += 0.01,
        |rig| rig.kite_line.diameter_m *= 1.01,
        |rig| rig.main_line.mass_per_m_kg *= 1.01,
        |rig| rig.marker.diameter_m += 0.01,
        |rig| rig.bait.wet_drag_area_m2 *= 1.01,
    ] {
        let mut other = RigParameters::default();
        spoil(&mut other);
        assert_eq!(
            memory.of(&other, &Doubt::default()),
            Err(LearntError::OtherRig)
        );
    }
}

#[test]
fn doubts_of_their_own_leave_it_aside_until_they_are_back() {
    let memory = day().0;
    let doubt = Doubt {
        kite_lift: 0.2,
        ..Doubt::default()
    };
    let settings = ForecastSettings { doubt, ..small() };
    let rig = RigParameters::default();
    let mut next = Forecaster::new(settings, Some(rig.clone()), 10.0).unwrap();
    assert_eq!(next.remember(memory), Err(LearntError::OtherDoubt));
    let note = watch(&mut next, NEXT_DAY_S, 3, None).crew.note.clone();
    assert!(note.contains("other values in [forecast.doubt]"), "{note}");
    let back = forecaster(&rig).replacing(&next);
    assert_eq!(back.learnt_now().unwrap().reports, 4);
}

#[test]
fn the_kite_not_taught_for_the_longest_makes_room() {
    let mut forecaster_now = forecaster(&RigParameters::default());
    let kite = |i: usize| {
        let mut rig = RigParameters::default();
        rig.kite.area_m2 = 1.3 + 0.01 * i as f64;
        rig
    };
    for i in 0..=MOST_KITES {
        forecaster_now = forecaster(&kite(i)).replacing(&forecaster_now);
        watch(&mut forecaster_now, 100.0 * i as f64, 8, Some(0.9));
        // The first kite is flown and taught again before the last one comes.
        if i + 1 == MOST_KITES {
            assert_eq!(forecaster_now.memory().dropped(), 0);
            forecaster_now = forecaster(&kite(0)).replacing(&forecaster_now);
            watch(&mut forecaster_now, 100.0 * i as f64 + 50.0, 8, Some(0.9));
        }
    }
    let memory = forecaster_now.memory();
    assert_eq!((memory.kites(), memory.dropped()), (MOST_KITES, 1));
    assert!(memory.holds(&kite(0)) && memory.holds(&kite(MOST_KITES)) && !memory.holds(&kite(1)));
}

#[test]
fn forgetting_it_begins_anew_and_leaves_other_kites() {
    let rig = RigParameters::default();
    let mut other = forecaster(&heavier());
    other.remember(day().0).unwrap_err();
    watch(&mut other, 100.0, 8, Some(0.9));
    let mut next = forecaster(&rig).replacing(&other);
    watch(&mut next, NEXT_DAY_S, 8, Some(0.9));
    next.forget();
    assert_eq!(next.learnt_now(), None);
    let memory = next.memory();
    assert_eq!((reports(&memory, &rig), memory.kites()), (None, 1));
    let forecast = watch(&mut next, NEXT_DAY_S + 9.0, 3, None);
    let fresh = watch(&mut forecaster(&rig), NEXT_DAY_S + 9.0, 3, None);
    assert_eq!(forecast.crew.learnt_age_s, None);
    assert_eq!(next.learnt_now(), None);
    assert_eq!(
        elevation_deg(&forecast),
        elevation_deg(&fresh),
        "{}",
        forecast.crew.note
    );
}

#[test]
fn what_nothing_can_have_taught_is_refused() {
    let good = serde_json::to_value(day().0).unwrap();
    let judged = |spoil: &dyn Fn(&mut serde_json::Value)| {
        let mut value = good.clone();
        spoil(&mut value);
        Memory::from_json(value.to_string().as_bytes()).map(|memory| memory.kites())
    };
    assert_eq!(judged(&|_| {}), Ok(1));
    assert_eq!(
        judged(&|v| v["format"] = 3.into()),
        Err(LearntError::Format(3))
    );
    assert!(matches!(
        Memory::from_json(b"[25, []]"),
        Err(LearntError::Format(25))
    ));
    for spoil in [
        (|v| v["kites"][0]["beliefs"] = serde_json::json!([])) as fn(&mut serde_json::Value),
        |v| v["kites"][0]["beliefs"][0]["weight"] = (-1.0).into(),
        |v| v["kites"][0]["learnt_at_unix_ms"] = i64::MIN.into(),
        |v| v["kites"][0]["reports"] = u64::MAX.into(),
        |v| v["kites"][0]["beliefs"][3]["traits"][5] = 1e9.into(),
        |v| v["kites"] = vec![v["kites"][0].clone(); MOST_KITES + 1].into(),
    ] {
        assert_eq!(judged(&spoil), Err(LearntError::Numbers));
    }
    for spoil in [
        (|v| v["kites"][0]["beliefs"][0]["traits"] = serde_json::json!([1.0]))
            as fn(&mut serde_json::Value),
        |v| v["more"] = 1.into(),
        |v| *v = 7.into(),
    ] {
        assert!(matches!(judged(&spoil), Err(LearntError::Garbled(_))));
    }
}

#[test]
fn the_first_form_with_its_one_rig_is_read() {
    let memory = day().0;
    let mut first = serde_json::to_value(&memory).unwrap()["kites"][0].clone();
    first["format"] = 1.into();
    assert!(Memory::from_json(first.to_string().as_bytes()) == Ok(memory));
    first["beliefs"] = 1.into();
    assert!(matches!(
        Memory::from_json(first.to_string().as_bytes()),
        Err(LearntError::Garbled(_))
    ));
}

#[test]
fn a_file_that_is_absent_or_something_else_is_kept_aside() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("learnt.json");
    assert!(matches!(read_memory(&file), Ok(None)));
    std::fs::write(&file, "{\"kite\":").unwrap();
    assert!(matches!(
        read_memory(&file).unwrap_err(),
        LearntFileError::Garbled { .. }
    ));
    let mut next = forecaster(&RigParameters::default());
    assert!(LearntFile::open(file.clone(), &mut next).is_some());
    let note = watch(&mut next, 0.0, 3, None).crew.note.clone();
    assert!(note.contains("could not be read"), "{note}");
    let aside = |number: u32| dir.path().join(format!("learnt.json.aside-{number}"));
    assert_eq!(std::fs::read_to_string(aside(1)).unwrap(), "{\"kite\":");
    assert!(!file.exists());
    let large = std::fs::File::create(&file).unwrap();
    large.set_len(5 << 20).unwrap();
    assert!(
        read_memory(&file)
            .unwrap_err()
            .to_string()
            .contains("larger than")
    );
    LearntFile::open(file, &mut next).unwrap();
    assert_eq!(std::fs::metadata(aside(2)).unwrap().len(), 5 << 20);
    assert_eq!(std::fs::metadata(aside(1)).unwrap().len(), 8);
    // A directory that is not there yet is made, one that cannot be is told.
    let new = dir.path().join("none").join("learnt.json");
    write_memory(&new, &Memory::default()).unwrap();
    assert_eq!(read_memory(&new).unwrap(), Some(Memory::default()));
    assert!(write_memory(&new.join("learnt.json"), &Memory::default()).is_err());
}

/// An engine that has heard the invented turn up to `until_s`, with the file kept meanwhile.
fn engine_until(engine: &mut Engine, file: &mut LearntFile, from_s: f64, until_s: f64) {
    let mut first = None;
    for (at, feed, text) in turn_toward() {
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

/// The demo's settings with fewer members.
fn demo() -> (EngineSettings, RigParameters) {
    let text = std::fs::read_to_string("config/demo.toml").unwrap();
    let text = format!("{text}\n[forecast]\nparticles = 64\nfutures = 48\n");
    let settings = skimwatch::settings::parse(&text, "config/demo.toml").unwrap();
    assert_eq!(settings.learnt_file, None);
    (settings.engine().unwrap(), settings.rig.parameters)
}

fn say(engine: &mut Engine, after_s: f64, input: &CrewInput) {
    // The fixture begins at 08:00:00 of an invented day.
    let at = skimwatch::time::Millis(1_780_300_800_000).plus_seconds(after_s);
    engine.take(Event::Line {
        at,
        feed: "crew",
        text: &encode_crew(input, 90),
    });
}

#[test]
fn a_report_is_kept_at_once_and_then_at_most_once_a_minute() {
    let (settings, rig) = demo();
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("learnt.json");
    let mut forecaster = settings.forecaster.clone();
    let mut file = LearntFile::open(path.clone(), &mut forecaster).unwrap();
    let mut engine = Engine::new(settings, Mode::Replay);
    // The crew's first report of the bait is in second 4 of the fixture.
    engine_until(&mut engine, &mut file, 0.0, 3.5);
    assert!(!path.exists());
    engine_until(&mut engine, &mut file, 3.5, 8.0);
    let first = read_memory(&path).unwrap().unwrap();
    assert_eq!(reports(&first, &rig), Some(1));
    // Another report within the minute (of the clock on the wall): not written, until the end.
    say(&mut engine, 9.0, &CrewInput::Bait(BaitState::Skipping));
    file.keep(&engine);
    assert_eq!(reports(&engine.memory(), &rig), Some(2));
    assert!(read_memory(&path).unwrap().unwrap() == first);
    file.keep_now(&engine);
    assert_eq!(
        reports(&read_memory(&path).unwrap().unwrap(), &rig),
        Some(2)
    );
    // Forgotten at once, and it stays so.
    say(&mut engine, 10.0, &CrewInput::Forget);
    file.keep(&engine);
    let gone = read_memory(&path).unwrap().unwrap();
    assert!(!gone.holds(&rig));
    say(&mut engine, 11.0, &CrewInput::CallOffTurn);
    file.keep_now(&engine);
    assert!(read_memory(&path).unwrap().unwrap() == gone);
}

/// An engine that has heard one report, and its file in a directory of its own.
fn taught_once() -> (tempfile::TempDir, LearntFile, Engine, RigParameters) {
    let (settings, rig) = demo();
    let dir = tempfile::tempdir().unwrap();
    let mut file = LearntFile::open(
        dir.path().join("learnt.json"),
        &mut settings.forecaster.clone(),
    )
    .unwrap();
    let mut engine = Engine::new(settings, Mode::Replay);
    engine_until(&mut engine, &mut file, 0.0, 8.0);
    (dir, file, engine, rig)
}

#[test]
fn a_report_taken_back_has_taught_nothing() {
    let (_dir, _file, mut engine, rig) = taught_once();
    assert_eq!(reports(&engine.memory(), &rig), Some(1));
    // The fixture's own number of that report.
    say(&mut engine, 9.0, &CrewInput::Undo { of: 2 });
    assert_eq!(engine.memory().kites(), 0);
}

#[test]
fn a_session_that_starts_anew_goes_on_with_what_was_learnt() {
    let (_dir, mut file, mut engine, rig) = taught_once();
    for after_s in [9.0, 10.0] {
        say(&mut engine, after_s, &CrewInput::Bait(BaitState::Skipping));
    }
    assert_eq!(reports(&engine.memory(), &rig), Some(3));
    let learnt = engine.memory();
    say(&mut engine, 11.0, &CrewInput::Session(SessionMark::Stop));
    say(&mut engine, 12.0, &CrewInput::Session(SessionMark::Start));
    // Nothing is lost before the rig is out again, nor by another start.
    assert!(engine.memory() == learnt);
    say(&mut engine, 13.0, &CrewInput::Session(SessionMark::Start));
    say(&mut engine, 13.5, &lines_out(90.0, 171.4));
    engine_until(&mut engine, &mut file, 14.0, 17.0);
    let at = skimwatch::time::Millis(1_780_300_817_500);
    let picture = engine.take(Event::Tick { at }).unwrap();
    let forecast = picture.snapshot.forecast.unwrap();
    let crew = &forecast.crew;
    // The last report was made at 10 s.
    let age_s = forecast.made_at.seconds_since(at) + 7.5;
    assert_eq!(crew.learnt_age_s, Some(age_s), "{}", crew.note);
    assert!(crew.note.contains("3 earlier reports"), "{}", crew.note);
    assert_eq!(picture.snapshot.learnt.unwrap().reports, 3);
    say(&mut engine, 18.0, &CrewInput::Bait(BaitState::Skipping));
    assert_eq!(reports(&engine.memory(), &rig), Some(4));
}

#[test]
fn another_kite_set_while_it_runs_is_learnt_apart() {
    let (_dir, _file, mut engine, rig) = taught_once();
    let area = |engine: &mut Engine, after_s, value: f64| {
        let change = SettingChange {
            key: "rig.kite.area_m2".to_owned(),
            value: Some(value.to_string()),
        };
        say(engine, after_s, &CrewInput::Setting { change, more: 0 });
    };
    let mut other = rig.clone();
    other.kite.area_m2 = 1.6;
    area(&mut engine, 8.5, 1.6);
    assert_eq!(engine.memory().kites(), 1);
    say(&mut engine, 9.0, &CrewInput::Bait(BaitState::Skipping));
    assert_eq!(reports(&engine.memory(), &other), Some(1));
    area(&mut engine, 10.0, rig.kite.area_m2);
    let memory = engine.memory();
    assert_eq!(
        (reports(&memory, &rig), reports(&memory, &other)),
        (Some(1), Some(1))
    );
    say(&mut engine, 11.0, &CrewInput::Forget);
    let memory = engine.memory();
    assert_eq!(
        (reports(&memory, &rig), reports(&memory, &other)),
        (None, Some(1))
    );
}
