//! Figures over many days against those of the days, and the rows that they rest on: which kite flew,
//! what was learnt of it. The days are invented; every expected number follows from what is written.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde_json::Value;
use skimwatch::decode::{BaitState, CrewInput, Line, StrikeWord, encode_crew};
use skimwatch::forecast::{LearntAbout, LearntNow, LearntNumber, Taught};
use skimwatch::logbook::{
    DayFigures, Doing, Item, Kite, Logbook, LoggedSettings, Look, Reader, Rebuild, Season,
    SeasonSums, State, Sum, SumBy, figures,
};
use skimwatch::time::Millis;
use skimwatch::units::metres;

/// 2026-06-01T08:00:00Z, at the meridian.
const START: Millis = Millis(1_780_300_800_000);
const HOUR_S: u32 = 3600;
const EVERY_S: u32 = 10;

fn light() -> Kite {
    Kite {
        name: Some("light wind".to_owned()),
        area_m2: 1.6,
    }
}

fn heavy() -> Kite {
    Kite {
        name: None,
        area_m2: 0.9,
    }
}

fn settings(kite: Kite) -> Arc<LoggedSettings> {
    Arc::new(LoggedSettings {
        toml: format!("# {kite:?}\n").into(),
        kite,
    })
}

/// Days after the first at which a day begins, hours, kite, wind, seconds of its bites.
struct Day {
    after: u32,
    hours: u32,
    kite: Kite,
    wind_mps: f64,
    bites: Vec<u32>,
    /// Another kite from this second on.
    changes: Option<(u32, Kite)>,
}

fn day(after: u32, hours: u32, kite: Kite, wind_mps: f64, bites: &[u32]) -> Day {
    Day {
        after,
        hours,
        kite,
        wind_mps,
        bites: bites.to_vec(),
        changes: None,
    }
}

fn look(at: Millis, wind_mps: f64, second: u32) -> Look {
    // A quarter of the time the bait flies; the boat lies on a beam reach, wind over the port side.
    let bait = if second % 400 < 100 {
        BaitState::Airborne
    } else {
        BaitState::Skipping
    };
    Look {
        at,
        state: State {
            at,
            latitude_deg: Some(10.0),
            longitude_deg: Some(0.0),
            heading_deg_true: Some(90.0),
            rate_of_turn_deg_s: None,
            speed_water_mps: Some(3.1),
            speed_ground_mps: None,
            course_deg_true: None,
            wind_at_sensor_mps: Some(wind_mps),
            wind_from_deg_true: Some(0.0),
            kite_line_m: Some(70.0),
            main_line_m: Some(120.0),
            doing: Doing::Fishing,
            bait: Some(bait),
            bait_told: None,
            kite_elevation_deg: Some(45.0),
            kite_off_astern_deg: Some(-35.0),
            immersion: Some(0.3),
            bait_astern_m: Some(60.0),
            bait_starboard_m: Some(30.0),
        },
        revisions: Vec::new(),
        missing: Vec::new(),
        chances: Vec::new(),
        marks: Vec::new(),
        pass: None,
        taught: None,
        settings: None,
    }
}

/// The bites of a day, each missed a minute later, and a line moved every half hour.
fn said(day: &Day, second: u32) -> Vec<CrewInput> {
    let mut said = Vec::new();
    if day.bites.contains(&second) {
        said.push(CrewInput::Bite);
    }
    if second >= 60 && day.bites.contains(&(second - 60)) {
        said.push(CrewInput::Strike(StrikeWord::Missed));
    }
    if second % 1800 == 900 {
        said.push(CrewInput::Moved {
            line: Line::Main,
            by: metres(3.0),
        });
    }
    if second.is_multiple_of(1200) {
        said.push(CrewInput::Bait(BaitState::Skipping));
    }
    if second % 1200 == 400 {
        said.push(CrewInput::Bait(BaitState::Airborne));
    }
    said
}

fn items(day: &Day, mut tell: impl FnMut(Item)) {
    let begins = START.plus_seconds(86_400.0 * f64::from(day.after));
    tell(Item::Begins {
        at: begins,
        settings: Some(settings(day.kite.clone())),
    });
    let mut sequence = 0;
    for second in (0..=day.hours * HOUR_S).step_by(EVERY_S as usize) {
        let at = begins.plus_seconds(f64::from(second));
        for input in said(day, second) {
            sequence += 1;
            tell(Item::Said {
                at,
                feed: "crew".into(),
                text: encode_crew(&input, sequence),
            });
        }
        let mut look = look(at, day.wind_mps, second);
        if let Some((from, kite)) = &day.changes
            && *from == second
        {
            look.settings = Some(settings(kite.clone()));
        }
        tell(Item::Seen(Box::new(look)));
    }
}

fn written(dir: &Path, days: &[Day]) -> PathBuf {
    let path = dir.join("days.sqlite");
    let mut book = Rebuild::new(path.clone()).unwrap();
    for day in days {
        items(day, |item| book.take(item));
    }
    book.finish().unwrap();
    path
}

fn counted(path: &Path) -> SeasonSums {
    let reader = Reader::open(path).unwrap();
    Season::default().count(&reader, || false).unwrap()
}

fn each_day(path: &Path) -> Vec<DayFigures> {
    let reader = Reader::open(path).unwrap();
    let days = reader.days().unwrap();
    let rows = days
        .iter()
        .map(|day| reader.day(day.date).unwrap().unwrap());
    rows.map(|rows| figures(&rows)).collect()
}

fn of(sums: &SeasonSums, by: SumBy) -> Vec<&Sum> {
    sums.sums.iter().filter(|sum| sum.by == by).collect()
}

/// Days in June and July, two kites, winds of force 4 and 5; the last day has both kites.
fn season() -> Vec<Day> {
    vec![
        day(0, 2, light(), 6.0, &[1000, 3000]),
        day(1, 2, light(), 7.0, &[2000]),
        day(2, 1, heavy(), 9.0, &[]),
        day(29, 3, light(), 7.9, &[500, 4000, 8000]),
        Day {
            changes: Some((2 * HOUR_S, heavy())),
            ..day(30, 3, light(), 8.1, &[9000])
        },
    ]
}

#[test]
fn sums_are_those_of_the_days_each_counted_where_it_belongs() {
    let dir = tempfile::tempdir().unwrap();
    let path = written(dir.path(), &season());
    let sums = counted(&path);
    assert_eq!((sums.days, sums.counted_days), (5, 5));
    let days = each_day(&path);

    let [all] = of(&sums, SumBy::All)[..] else {
        panic!("one sum of all")
    };
    assert_eq!((all.days, all.bites), (5, 7));
    let fishing_s: f64 = days.iter().map(|day| day.fishing_s).sum();
    assert_eq!(all.fishing_s, fishing_s);
    assert_eq!(fishing_s, 11.0 * f64::from(HOUR_S));
    let moves: u64 = days.iter().map(|day| day.corrections.main).sum();
    assert_eq!((all.corrections.main, all.corrections.kite), (moves, 0));
    assert!((all.bites_per_hour.unwrap() - 7.0 / 11.0).abs() < 1e-9);
    // A quarter of the time, but for the last picture of a day, which counts for nothing.
    let flying_s: f64 = all
        .by_model
        .iter()
        .filter(|row| row.bait == BaitState::Airborne)
        .map(|row| row.time_s)
        .sum();
    assert!((flying_s / fishing_s - 0.25).abs() < 0.001, "{flying_s}");
    let events = |told: &[skimwatch::score::Told]| -> u64 {
        let all = told.iter().filter(|row| row.trouble == "all");
        all.map(|row| row.events).sum()
    };
    let of_days: u64 = days.iter().map(|day| events(&day.advice.told)).sum();
    assert_eq!(events(&all.advice.told), of_days);
    assert!(of_days > 10, "{of_days}");
    assert!(all.enough.days && all.enough.events && !all.enough.bites && !all.enough.alarms);

    let kites = of(&sums, SumBy::Kite);
    let told: Vec<_> = kites
        .iter()
        .map(|sum| (sum.kite.clone().unwrap(), sum.days, sum.bites))
        .collect();
    // Of the day with both kites each has its hours; the bite came with the second.
    assert_eq!(told, [(heavy(), 2, 1), (light(), 4, 6)]);
    let hours: Vec<_> = kites
        .iter()
        .map(|sum| sum.fishing_s / f64::from(HOUR_S))
        .collect();
    assert!(
        (hours[0] - 2.0).abs() < 0.02 && (hours[1] - 9.0).abs() < 0.02,
        "{hours:?}"
    );
    assert!((kites[0].fishing_s + kites[1].fishing_s - fishing_s).abs() < 1e-6);
    assert!(!kites[0].enough.days && kites[1].enough.days);

    // WMO: force 4 is 5.5 to 7.9 m/s, force 5 is 8.0 to 10.7 (from memory).
    let winds: Vec<_> = of(&sums, SumBy::Wind)
        .iter()
        .map(|sum| (sum.wind_force, sum.wind_from_mps, sum.wind_to_mps, sum.days))
        .collect();
    assert_eq!(
        winds,
        [
            (Some(4), Some(5.5), Some(8.0), 3),
            (Some(5), Some(8.0), Some(10.8), 2)
        ]
    );
    let months: Vec<_> = of(&sums, SumBy::Month)
        .iter()
        .map(|sum| (sum.month.clone().unwrap(), sum.days))
        .collect();
    assert_eq!(
        months,
        [("2026-06".to_owned(), 4), ("2026-07".to_owned(), 1)]
    );

    // A band counts its days.
    let rates = all.bite_rates.iter();
    let winds: Vec<_> = rates
        .filter(|rate| serde_json::to_value(rate.against).unwrap() == "wind_at_sensor_mps")
        .map(|rate| (rate.from, rate.days, rate.bites))
        .collect();
    assert_eq!(winds, [(6.0, 3, 6), (8.0, 2, 1)]);
}

#[test]
fn the_sum_of_one_day_is_that_day() {
    let dir = tempfile::tempdir().unwrap();
    let path = written(dir.path(), &season()[..1]);
    let sums = counted(&path);
    let day = serde_json::to_value(&each_day(&path)[0]).unwrap();
    assert_eq!(sums.sums.len(), 4, "all, a kite, a wind, a month");
    for sum in &sums.sums {
        let sum = serde_json::to_value(sum).unwrap();
        for key in [
            "fishing_s",
            "by_model",
            "by_crew",
            "corrections",
            "bites_per_hour",
            "bite_rates",
            "advice",
            "enough",
        ] {
            assert_eq!(sum[key], day[key], "{key}");
        }
        assert_eq!(sum["bites"], Value::from(2));
    }
}

#[test]
fn days_are_counted_as_long_as_there_is_time_and_again_when_they_grow() {
    let dir = tempfile::tempdir().unwrap();
    let path = written(dir.path(), &season());
    let mut season = Season::default();
    let reader = Reader::open(&path).unwrap();
    for counted in 1..=5 {
        let sums = season.count(&reader, || true).unwrap();
        assert_eq!((sums.days, sums.counted_days), (5, counted));
        assert_eq!(sums.sums.is_empty(), counted < 5, "no sum of a part");
    }
    // The last day goes on in another session.
    let book = Logbook::start(path.clone(), u64::MAX, Vec::new());
    let hand = book.hand();
    let later = START.plus_seconds(86_400.0 * 30.0 + 5.0 * f64::from(HOUR_S));
    hand.begins(later, Some(settings(light())));
    for second in (0..=HOUR_S).step_by(EVERY_S as usize) {
        let at = later.plus_seconds(f64::from(second));
        hand.seen(look(at, 6.5, second));
    }
    drop(hand);
    book.finish();
    let sums = season.count(&reader, || true).unwrap();
    assert_eq!(sums.counted_days, 5);
    assert_eq!(of(&sums, SumBy::All)[0].fishing_s, 12.0 * f64::from(HOUR_S));
    assert_eq!(
        serde_json::to_value(&sums).unwrap(),
        serde_json::to_value(counted(&path)).unwrap()
    );
}

fn taught(reports: u64, at: Millis, lift: f64) -> Option<Taught> {
    Some(Taught {
        learnt: LearntNow { reports, at },
        numbers: vec![
            LearntNumber {
                about: LearntAbout::KiteLiftShare,
                off: lift,
                sd: 0.05,
                sd_before: 0.15,
            },
            LearntNumber {
                about: LearntAbout::WindAngleDeg,
                off: -1.5,
                sd: 2.0,
                sd_before: 4.0,
            },
        ],
    })
}

#[test]
fn what_was_learnt_is_kept_thinly_and_for_each_kite() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("learnt.sqlite");
    let mut book = Rebuild::new(path.clone()).unwrap();
    book.take(Item::Begins {
        at: START,
        settings: Some(settings(light())),
    });
    // A report every minute for an hour; then a kite of which two reports taught earlier.
    for second in (0..=5400).step_by(EVERY_S as usize) {
        let at = START.plus_seconds(f64::from(second));
        let mut look = look(at, 7.0, second);
        let minute = second / 60;
        if second < 3600 {
            let told = START.plus_seconds(f64::from(60 * minute));
            look.taught = taught(u64::from(minute) + 1, told, f64::from(minute) / 1000.0);
        } else {
            look.taught = taught(2, START.plus_seconds(-9000.0), 0.2);
        }
        if second == 3600 {
            look.settings = Some(settings(heavy()));
        }
        book.take(Item::Seen(Box::new(look)));
    }
    book.finish().unwrap();
    let reader = Reader::open(&path).unwrap();
    let rows = reader.day("2026-06-01".parse().unwrap()).unwrap().unwrap();
    let session = &rows.sessions[0];
    assert_eq!(
        session.kites,
        [(START, light()), (START.plus_seconds(3600.0), heavy())]
    );
    let lift = |about| about == LearntAbout::KiteLiftShare;
    let kept: Vec<_> = session
        .learnt
        .iter()
        .filter(|row| lift(row.number.about))
        .map(|row| (row.at.seconds_since(START), row.learnt.reports))
        .collect();
    // Ten minutes apart; the last of the first kite when the other came, and that one's once.
    assert_eq!(
        kept,
        [
            (0.0, 1),
            (600.0, 11),
            (1200.0, 21),
            (1800.0, 31),
            (2400.0, 41),
            (3000.0, 51),
            (3590.0, 60),
            (3600.0, 2)
        ]
    );
    let kites = figures(&rows).kites;
    let told: Vec<_> = kites
        .iter()
        .map(|of| (of.kite.clone().unwrap(), of.reports, of.numbers[0].off))
        .collect();
    assert_eq!(told, [(light(), Some(60), 0.059), (heavy(), Some(2), 0.2)]);
    assert_eq!(kites[0].numbers[1].about, LearntAbout::WindAngleDeg);
    assert_eq!(kites[1].last_report_at, Some(START.plus_seconds(-9000.0)));
    assert!((kites[0].fishing_s - 3600.0).abs() <= 60.0, "{kites:?}");
}
