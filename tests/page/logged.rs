//! A logbook of invented days, made of what the program itself hands to its logbook. Every number is
//! invented: a boat that turns by 90 degrees every twenty minutes, whose bait flies after every second
//! turn because nobody moved the line in time.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use skimwatch::advice::{Kind, Outcome, Priority};
use skimwatch::decode::{BaitState, CrewInput, Line, StrikeWord, encode_crew};
use skimwatch::forecast::{Band, LearntAbout, LearntNow, LearntNumber, Taught, Trouble};
use skimwatch::logbook::{
    ChanceRun, Doing, Item, Kite, LoggedSettings, Look, Rebuild, RevisionRow, State,
};
use skimwatch::score::Revision;
use skimwatch::time::Millis;
use skimwatch::units::metres;
use skimwatch::vessel::Quantity;

/// Length of an invented day.
pub const DAY_S: u32 = 4 * 3600;
/// A day's turns begin so often, the first of them here.
const TURN_EVERY_S: u32 = 1200;
const FIRST_TURN_S: u32 = 900;
/// A strike lasts so long.
const STRIKE_S: u32 = 600;

/// One day.
struct Day {
    ends_at: Millis,
    longitude_deg: f64,
    kite: (&'static str, f64),
    wind_mps: f64,
    /// Seconds after its begin.
    bites: &'static [u32],
}

/// Writes days into a new logbook; the last ends at `until` and has two bites.
pub fn logbook(dir: &Path, until: Millis) -> PathBuf {
    let path = dir.join("invented.sqlite");
    let mut book = Rebuild::new(path.clone()).unwrap();
    let before = |days: f64| until.plus_seconds(-86_400.0 * days);
    let light = ("light wind", 1.6);
    let bites: &[u32] = &[2500, 5000, 7600, 10_100];
    let day = |ends_at, kite, wind_mps, bites| Day {
        ends_at,
        longitude_deg: 12.0,
        kite,
        wind_mps,
        bites,
    };
    for one in [
        Day {
            longitude_deg: -61.0,
            ..day(before(40.0), light, 5.0, bites)
        },
        day(before(3.0), light, 6.2, bites),
        day(before(2.0), ("all round", 1.2), 9.0, &[]),
        day(before(1.0), light, 6.8, &bites[..3]),
        day(until, light, 7.0, &[3400, 9000]),
    ] {
        write(&mut book, &one);
    }
    book.finish().unwrap();
    path
}

fn write(book: &mut Rebuild, day: &Day) {
    let begins_at = day.ends_at.plus_seconds(-f64::from(DAY_S));
    let (name, area_m2) = day.kite;
    book.take(Item::Begins {
        at: begins_at,
        settings: Some(Arc::new(LoggedSettings {
            toml: format!("# invented: the kite is {name}\n").into(),
            kite: Kite {
                name: Some(name.to_owned()),
                area_m2,
            },
        })),
    });
    let mut boat = Boat {
        latitude_deg: 45.0,
        longitude_deg: day.longitude_deg,
    };
    let mut sequence = 0;
    for second in 0..=DAY_S {
        let at = begins_at.plus_seconds(f64::from(second));
        for input in said(day, second) {
            sequence += 1;
            book.take(Item::Said {
                at,
                feed: "crew".into(),
                text: encode_crew(&input, sequence),
            });
        }
        if second.is_multiple_of(5) {
            let look = look(&mut boat, day, at, second);
            book.take(Item::Seen(Box::new(look)));
        }
    }
}

/// The turn that is next or under way, and the seconds since its helm went over.
fn turn(second: u32) -> (u32, f64) {
    let from_first = f64::from(second) - f64::from(FIRST_TURN_S);
    // Each is spoken of from two minutes before.
    let number = ((from_first + 120.0) / f64::from(TURN_EVERY_S))
        .floor()
        .max(0.0);
    (number as u32, from_first - number * f64::from(TURN_EVERY_S))
}

fn flies(second: u32) -> bool {
    let (number, since_s) = turn(second);
    number.is_multiple_of(2) && (10.0..60.0).contains(&since_s)
}

fn drags(second: u32) -> bool {
    let (_, since_s) = turn(second);
    (600.0..640.0).contains(&since_s)
}

fn heading_deg(second: u32) -> f64 {
    let (number, since_s) = turn(second);
    let way = |number: u32| if number % 4 < 2 { 1.0 } else { -1.0 };
    let before: f64 = (0..number).map(|n| 90.0 * way(n)).sum();
    (40.0 + before + 3.0 * way(number) * since_s.clamp(0.0, 30.0)).rem_euclid(360.0)
}

fn said(day: &Day, second: u32) -> Vec<CrewInput> {
    let mut said = Vec::new();
    let moved = |by_m| CrewInput::Moved {
        line: Line::Main,
        by: metres(by_m),
    };
    let (number, since_s) = turn(second);
    if second == 300 {
        said.push(CrewInput::LinesOut {
            kite: Some(metres(70.0)),
            main: Some(metres(118.0)),
        });
    }
    if second > 300 {
        if since_s == -20.0 && number % 2 == 1 {
            said.push(moved(4.0));
        }
        if since_s == 14.0 && number.is_multiple_of(2) {
            said.push(CrewInput::Bait(BaitState::Airborne));
        }
        if since_s == 40.0 && number.is_multiple_of(2) {
            said.push(moved(5.0));
        }
        if since_s == 66.0 || since_s == 400.0 {
            said.push(CrewInput::Bait(BaitState::Skipping));
        }
        if since_s == 610.0 {
            said.push(CrewInput::Bait(BaitState::Dragging));
            said.push(moved(-5.0));
        }
        if since_s == 645.0 {
            said.push(CrewInput::Bait(BaitState::Skipping));
        }
    }
    for bite in day.bites {
        if second == *bite {
            said.push(CrewInput::Bite);
        }
        if second == bite + 300 {
            said.push(CrewInput::Strike(StrikeWord::Landed));
        }
        if second == bite + STRIKE_S {
            said.push(CrewInput::LinesOut {
                kite: Some(metres(70.0)),
                main: Some(metres(118.0)),
            });
        }
    }
    said
}

struct Boat {
    latitude_deg: f64,
    longitude_deg: f64,
}

fn look(boat: &mut Boat, day: &Day, at: Millis, second: u32) -> Look {
    let state = state(boat, day, at, second);
    let forecasts = state.bait.is_some();
    Look {
        at,
        revisions: revisions(at, second),
        missing: if (8000..8060).contains(&second) {
            vec![(
                Quantity::Wind,
                "no wind (last from masthead WIMWV)".to_owned(),
            )]
        } else {
            Vec::new()
        },
        chances: if forecasts {
            chances(at, second)
        } else {
            Vec::new()
        },
        marks: Vec::new(),
        pass: None,
        taught: (second > 600).then(|| taught(at, second)),
        settings: None,
        state,
    }
}

fn state(boat: &mut Boat, day: &Day, at: Millis, second: u32) -> State {
    let heading = heading_deg(second);
    let (sin, cos) = heading.to_radians().sin_cos();
    let wave = (f64::from(second) / 97.0).sin();
    let speed_mps = 3.0 + 0.6 * wave;
    boat.latitude_deg += 5.0 * speed_mps * cos / 111_000.0;
    boat.longitude_deg += 5.0 * speed_mps * sin / 78_000.0;
    let bitten = |bite: &u32| (*bite..bite + STRIKE_S).contains(&second);
    let doing = if second < 300 {
        Doing::Launch
    } else if day.bites.iter().any(bitten) {
        Doing::Strike
    } else {
        Doing::Fishing
    };
    let bait = match doing {
        _ if (8000..8060).contains(&second) => None,
        Doing::Fishing if flies(second) => Some(BaitState::Airborne),
        Doing::Fishing if drags(second) => Some(BaitState::Dragging),
        Doing::Fishing => Some(BaitState::Skipping),
        _ => None,
    };
    let seen = |value: f64| bait.map(|_| value);
    State {
        at,
        latitude_deg: Some(boat.latitude_deg),
        longitude_deg: Some(boat.longitude_deg),
        heading_deg_true: Some(heading),
        rate_of_turn_deg_s: None,
        speed_water_mps: Some(speed_mps),
        speed_ground_mps: Some(speed_mps + 0.2),
        course_deg_true: Some(heading),
        wind_at_sensor_mps: Some(day.wind_mps + 0.9 * wave),
        wind_from_deg_true: Some(100.0),
        kite_line_m: Some(70.0),
        main_line_m: Some(118.0),
        doing,
        bait,
        bait_told: None,
        kite_elevation_deg: seen(44.0 + 12.0 * (f64::from(second) / 700.0).sin()),
        kite_off_astern_deg: seen(34.0 + 20.0 * (f64::from(second) / 1100.0).cos()),
        immersion: seen(0.3),
        bait_astern_m: seen(62.0),
        bait_starboard_m: seen(35.0),
    }
}

fn revisions(at: Millis, second: u32) -> Vec<RevisionRow> {
    let (number, since_s) = turn(second);
    let met = number % 2 == 1;
    let outcome = match (since_s, met) {
        (-60.0, _) => None,
        (0.0, true) => Some(Outcome::Averted),
        (15.0, false) => Some(Outcome::Happened),
        _ => return Vec::new(),
    };
    if second < 300 {
        return Vec::new();
    }
    let onset_at = at.plus_seconds(12.0 - since_s);
    vec![RevisionRow {
        scored: Revision {
            id: format!("bait-airborne-{number}"),
            at,
            kind: Kind::BaitAirborne,
            priority: Priority::Warning,
            raised_at: at.plus_seconds(-60.0 - since_s),
            onset_at: Some(onset_at),
            unwatched_since: None,
            outcome,
        },
        revision: if outcome.is_some() { 2 } else { 1 },
        chance: Some(0.7),
        chance_with_plan: Some(0.1),
        asks: Some((Line::Main, 4.0)),
        title: "Bait will fly".to_owned(),
        cause: "turn of 90° lifts the bait".to_owned(),
    }]
}

/// Before every turn the same chance, though it comes true after every second one only.
fn chances(at: Millis, second: u32) -> Vec<ChanceRun> {
    let (_, since_s) = turn(second);
    let (chance, in_s) = if (-110.0..0.0).contains(&since_s) {
        (0.45, 12.0 - since_s)
    } else {
        (0.04, 60.0)
    };
    vec![ChanceRun {
        trouble: Trouble::BaitAirborne,
        made_at: at,
        forecasts: 1,
        horizon_s: 120.0,
        chance,
        so_now: 0.0,
        onset_s: Some(Band {
            p10: 0.8 * in_s,
            p50: in_s,
            p90: 1.2 * in_s,
        }),
    }]
}

fn taught(at: Millis, second: u32) -> Taught {
    let number = |about, off, sd, sd_before| LearntNumber {
        about,
        off,
        sd,
        sd_before,
    };
    Taught {
        learnt: LearntNow {
            reports: u64::from(second / 600),
            at: at.plus_seconds(-f64::from(second % 600)),
        },
        numbers: vec![
            number(LearntAbout::KiteLiftShare, 0.09, 0.05, 0.15),
            number(LearntAbout::KiteDragShare, -0.02, 0.14, 0.15),
            number(LearntAbout::MainLineOutShare, -0.03, 0.01, 0.04),
            number(LearntAbout::WindAngleDeg, 2.4, 1.1, 4.0),
            number(LearntAbout::TrimImmersion, -0.12, 0.04, 0.1),
        ],
    }
}
