//! Lies laid over recorded instruments: how long each lasts before it is told, in which words, and
//! what is used then.
//!
//! The recorded boat sails straight for a minute and then turns by 80 degrees; the lie begins a
//! minute before the turn, at once or growing over 20 or 60 s. What physics can tell on a straight
//! course must be told within 60 s of being whole, what it can tell in a turn within 15 s after the
//! boat has turned by 60 degrees. The limits of both are the project's own aim.

use std::path::{Path, PathBuf};

use skimwatch::angles::wrap_signed;
use skimwatch::time::Millis;
use skimwatch::vessel::{Grade, Instrument, VesselNow};

use crate::beside::beside;
use crate::doubt_tape::{Beside, Field, Heard, How, follow, lay, read, with};

/// When a lie can be told.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Tells {
    /// On a straight course.
    Straight,
    /// When the boat turns.
    Turn,
    /// When it is known that the sender speaks more often than it did.
    Joined,
    /// Not at all, and why.
    Never(&'static str),
}

struct Lie {
    name: &'static str,
    changes: &'static [(Field, How)],
    beside: Beside,
    tells: Tells,
    of: Instrument,
}

const fn lie(
    name: &'static str,
    changes: &'static [(Field, How)],
    beside: Beside,
    tells: Tells,
    of: Instrument,
) -> Lie {
    Lie {
        name,
        changes,
        beside,
        tells,
        of,
    }
}

use Beside::{Compass, Echo, Joins, Nothing, Rate, Vane};
use Field as F;
use Instrument as I;
use Tells::{Joined, Never, Straight, Turn};

const SMALL: Tells = Never("no larger than leeway, current and shifts: for the calibration");
const SQUALL: Tells = Never("one sensor alone cannot tell it from a squall");
const VEERS: Tells = Never("told as a jump if it comes at once; a slow one is a shift of wind");

const LIES: &[Lie] = &[
    lie(
        "vane frozen",
        &[(F::Vane, How::Frozen)],
        Nothing,
        Turn,
        I::Wind,
    ),
    lie(
        "vane and anemometer frozen",
        &[(F::Vane, How::Frozen), (F::WindSpeed, How::Frozen)],
        Nothing,
        Turn,
        I::Wind,
    ),
    lie(
        "vane mirrored",
        &[(F::Vane, How::Mirrored)],
        Nothing,
        Turn,
        I::Wind,
    ),
    lie(
        "vane 180° off",
        &[(F::Vane, How::Off(180.0))],
        Nothing,
        Straight,
        I::Wind,
    ),
    lie(
        "vane 90° off",
        &[(F::Vane, How::Off(90.0))],
        Nothing,
        VEERS,
        I::Wind,
    ),
    lie(
        "vane 15° off",
        &[(F::Vane, How::Off(15.0))],
        Nothing,
        SMALL,
        I::Wind,
    ),
    lie(
        "wind twice as strong",
        &[(F::WindSpeed, How::Times(2.0))],
        Nothing,
        SQUALL,
        I::Wind,
    ),
    lie(
        "wind of 60 m/s",
        &[(F::WindSpeed, How::Is(60.0))],
        Nothing,
        Straight,
        I::Wind,
    ),
    lie(
        "second vane 180° off",
        &[(F::Vane, How::Off(180.0))],
        Vane,
        Straight,
        I::Wind,
    ),
    lie(
        "second vane 60° off",
        &[(F::Vane, How::Off(60.0))],
        Vane,
        Straight,
        I::Wind,
    ),
    lie(
        "second wind sensor twice as strong",
        &[(F::WindSpeed, How::Times(2.0))],
        Vane,
        Straight,
        I::Wind,
    ),
    lie(
        "wind of a second sender, 120° off",
        &[(F::Vane, How::Off(120.0))],
        Echo,
        Straight,
        I::Wind,
    ),
    lie(
        "wind of a sender that joins, 25° off",
        &[(F::Vane, How::Off(25.0))],
        Joins,
        Joined,
        I::Wind,
    ),
    lie(
        "heading of a sender that joins, 12° off",
        &[(F::Heading, How::Off(12.0))],
        Joins,
        Joined,
        I::Heading,
    ),
    lie(
        "log of a sender that joins, at 0.6",
        &[(F::Log, How::Times(0.6))],
        Joins,
        Joined,
        I::Log,
    ),
    lie(
        "heading frozen",
        &[(F::Heading, How::Frozen)],
        Nothing,
        Turn,
        I::Heading,
    ),
    lie(
        "heading frozen, with a rate of turn",
        &[(F::Heading, How::Frozen)],
        Rate,
        Turn,
        I::Heading,
    ),
    lie(
        "heading 180° off",
        &[(F::Heading, How::Off(180.0))],
        Nothing,
        Straight,
        I::Heading,
    ),
    lie(
        "heading 90° off",
        &[(F::Heading, How::Off(90.0))],
        Nothing,
        Straight,
        I::Heading,
    ),
    lie(
        "heading 90° off, with a rate of turn",
        &[(F::Heading, How::Off(90.0))],
        Rate,
        Straight,
        I::Heading,
    ),
    lie(
        "heading 30° off",
        &[(F::Heading, How::Off(30.0))],
        Nothing,
        SMALL,
        I::Heading,
    ),
    lie(
        "heading 10° off",
        &[(F::Heading, How::Off(10.0))],
        Nothing,
        SMALL,
        I::Heading,
    ),
    lie(
        "second compass 180° off",
        &[(F::Heading, How::Off(180.0))],
        Compass,
        Straight,
        I::Heading,
    ),
    lie(
        "second compass frozen",
        &[(F::Heading, How::Frozen)],
        Compass,
        Turn,
        I::Heading,
    ),
    lie(
        "heading of a second sender, 180° off",
        &[(F::Heading, How::Off(180.0))],
        Echo,
        Straight,
        I::Heading,
    ),
    lie(
        "rate of turn 0",
        &[(F::Rate, How::Is(0.0))],
        Rate,
        Turn,
        I::RateOfTurn,
    ),
    lie(
        "rate of turn reversed",
        &[(F::Rate, How::Times(-1.0))],
        Rate,
        Turn,
        I::RateOfTurn,
    ),
    lie(
        "rate of turn 3°/s to port",
        &[(F::Rate, How::Off(-3.0))],
        Rate,
        Straight,
        I::RateOfTurn,
    ),
    lie(
        "rate of turn 0.4°/s off",
        &[(F::Rate, How::Off(0.4))],
        Rate,
        SMALL,
        I::RateOfTurn,
    ),
    lie(
        "log at a fiftieth",
        &[(F::Log, How::Times(0.02))],
        Nothing,
        Straight,
        I::Log,
    ),
    lie(
        "log at 0.8",
        &[(F::Log, How::Times(0.8))],
        Nothing,
        SMALL,
        I::Log,
    ),
    lie(
        "log at twice",
        &[(F::Log, How::Times(2.0))],
        Nothing,
        Straight,
        I::Log,
    ),
    lie(
        "log frozen",
        &[(F::Log, How::Frozen)],
        Nothing,
        Never("only when the speed over ground varies meanwhile"),
        I::Log,
    ),
    lie(
        "receiver frozen",
        &[
            (F::Latitude, How::Frozen),
            (F::Longitude, How::Frozen),
            (F::Ground, How::Frozen),
            (F::Course, How::Frozen),
        ],
        Nothing,
        Straight,
        I::Position,
    ),
    lie(
        "position frozen",
        &[(F::Latitude, How::Frozen), (F::Longitude, How::Frozen)],
        Nothing,
        Straight,
        I::Position,
    ),
    lie(
        "position a kilometre off",
        &[(F::Latitude, How::Off(0.009))],
        Nothing,
        Straight,
        I::Position,
    ),
    lie(
        "course frozen",
        &[(F::Course, How::Frozen)],
        Nothing,
        Turn,
        I::Course,
    ),
    lie(
        "speed over ground 0",
        &[(F::Ground, How::Is(0.0))],
        Nothing,
        Straight,
        I::GroundSpeed,
    ),
    lie(
        "speed over ground twice",
        &[(F::Ground, How::Times(2.0))],
        Nothing,
        Straight,
        I::GroundSpeed,
    ),
];

/// A stretch of instruments with one turn.
pub struct Stretch {
    pub heard: Vec<Heard>,
    pub onset: Millis,
    /// When the boat has turned by 60 degrees.
    turned: Millis,
}

pub fn stretch(path: &Path, from_s: f64, onset_s: f64, turn_s: f64, to_s: f64) -> Stretch {
    let heard = read(path).swap_remove(0);
    let first = heard.first().unwrap().at;
    let at = |s: f64| first.plus_seconds(s);
    let heard: Vec<Heard> = heard
        .into_iter()
        .filter(|one| (at(from_s)..=at(to_s)).contains(&one.at))
        .collect();
    let heading = |one: &Heard| Field::Heading.get(&one.said);
    let before = heard
        .iter()
        .filter(|one| one.at >= at(turn_s))
        .find_map(heading)
        .unwrap();
    let turned = heard
        .iter()
        .filter(|one| one.at > at(turn_s))
        .find(|one| {
            heading(one).is_some_and(|now| {
                wrap_signed((now - before).to_radians()).to_degrees().abs() >= 60.0
            })
        })
        .expect("the boat turns");
    Stretch {
        turned: turned.at,
        onset: at(onset_s),
        heard,
    }
}

/// What came of a lie.
struct Told {
    at: Millis,
    words: String,
    used: String,
}

fn used(lie: &Lie, now: &VesselNow) -> String {
    let of = |reading: Option<(&String, Grade)>| match reading {
        Some((source, Grade::Doubted)) => format!("doubted: {source}"),
        Some((source, _)) => source.clone(),
        None => String::from("none"),
    };
    match lie.of {
        I::Wind => of(now.apparent_wind.as_ref().map(|r| (&r.source, r.grade))),
        I::Heading => of(now.heading_true_rad.as_ref().map(|r| (&r.source, r.grade))),
        I::RateOfTurn => of(now
            .rate_of_turn_rad_s
            .as_ref()
            .map(|r| (&r.source, r.grade))),
        I::Log => of(now.speed_water_mps.as_ref().map(|r| (&r.source, r.grade))),
        I::Position => of(now.position.as_ref().map(|r| (&r.source, r.grade))),
        I::Course => of(now.course_true_rad.as_ref().map(|r| (&r.source, r.grade))),
        _ => of(now.speed_ground_mps.as_ref().map(|r| (&r.source, r.grade))),
    }
}

/// The first suspicion of the right instrument, and suspicions of others before it.
fn tell(lie: &Lie, stretch: &Stretch, ramp_s: f64) -> (Option<Told>, Vec<String>) {
    let field = lie.changes[0].0;
    let mut heard = with(&stretch.heard, lie.beside, field);
    lay(&mut heard, (lie.changes, lie.beside), stretch.onset, ramp_s);
    let (mut told, mut wrong) = (None, Vec::new());
    follow(&heard, |now| {
        for doubt in &now.doubts {
            let words = format!("{} {}", doubt.sources.join(" and "), doubt.seen);
            if doubt.instrument != lie.of {
                if told.is_none() {
                    wrong.push(words);
                }
            } else if told.is_none() && now.at > stretch.onset {
                told = Some(Told {
                    at: now.at,
                    words,
                    used: used(lie, now),
                });
            }
        }
    });
    wrong.dedup();
    (told, wrong)
}

/// A course that stands from the moment in which the boat begins to turn looks like a compass that
/// turns by itself, until it has stood for 22 s.
const MISTAKEN: (&str, f64) = ("course frozen", 60.0);

/// Every lie at every speed of onset, as a table; whatever was told too late.
fn table(stretch: &Stretch, lies: &[Lie], ramps_s: &[f64]) -> Vec<String> {
    let mut late = Vec::new();
    for lie in lies {
        for ramp_s in ramps_s {
            let (told, wrong) = tell(lie, stretch, *ramp_s);
            let after = |told: &Told| told.at.seconds_since(stretch.onset);
            let row = match &told {
                Some(told) => format!(
                    "{} | {ramp_s:.0} | {:.0} s | {} | {}",
                    lie.name,
                    after(told),
                    told.words,
                    told.used
                ),
                None => format!("{} | {ramp_s:.0} | not told | {:?} |", lie.name, lie.tells),
            };
            println!("{row}");
            if !wrong.is_empty() && (lie.name, *ramp_s) != MISTAKEN {
                println!("    blamed first: {wrong:?}");
                late.push(format!("{row}: blamed {wrong:?}"));
            }
            let in_time = match lie.tells {
                _ if (lie.name, *ramp_s) == MISTAKEN => told.is_some(),
                Straight | Joined => told.is_some_and(|told| after(&told) <= ramp_s + 60.0),
                Turn => told.is_some_and(|told| told.at.seconds_since(stretch.turned) <= 15.0),
                Never(_) => true,
            };
            if !in_time {
                late.push(row);
            }
        }
    }
    late
}

#[test]
fn lies_over_a_recorded_boat_are_told_in_time() {
    let Some(dir) = beside("real-days") else {
        return;
    };
    let stretch = stretch(&dir.join("lake-full.nmea"), 192.0, 432.0, 492.0, 692.0);
    let late = table(&stretch, LIES, &[0.0, 20.0, 60.0]);
    assert!(LIES.len() >= 30);
    assert!(late.is_empty(), "{late:#?}");
}

pub fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures")
        .join(name)
}

/// The same over the invented turn, which every machine has. It has a rate of turn of its own, and
/// no second compass.
#[test]
fn lies_over_an_invented_turn_are_told_in_time() {
    let stretch = stretch(&fixture("turn-away.nmea"), 0.0, 22.0, 42.0, 120.0);
    let of_it = [
        "vane frozen",
        "vane and anemometer frozen",
        "vane 180° off",
        "wind of 60 m/s",
        "heading frozen",
        "heading 180° off",
        "heading 90° off",
        "log at a fiftieth",
        "log at twice",
        "position frozen",
        "position a kilometre off",
        "speed over ground twice",
    ];
    let late: Vec<String> = LIES
        .iter()
        .filter(|lie| of_it.contains(&lie.name))
        .flat_map(|lie| table(&stretch, std::slice::from_ref(lie), &[0.0]))
        .collect();
    assert!(late.is_empty(), "{late:#?}");
}

/// An instrument that is honest again is trusted again.
#[test]
fn what_is_honest_again_is_trusted_again() {
    let stretch = stretch(&fixture("turn-away.nmea"), 0.0, 22.0, 42.0, 120.0);
    let mut heard = stretch.heard.clone();
    let until = stretch.onset.plus_seconds(10.0);
    let after = heard.split_off(heard.partition_point(|one| one.at < until));
    lay(
        &mut heard,
        (&[(Field::Vane, How::Off(180.0))], Nothing),
        stretch.onset,
        0.0,
    );
    heard.extend(after);
    let mut told = Vec::new();
    follow(&heard, |now| {
        let grade = now.true_wind.as_ref().map(|wind| wind.grade);
        told.push((!now.doubts.is_empty(), grade == Some(Grade::Doubted)));
    });
    assert!(told.contains(&(true, true)), "it was in doubt");
    assert_eq!(told.last(), Some(&(false, false)), "and is no longer");
}

/// The variation of the place is known: another is told, and the model's is used.
#[test]
fn a_variation_that_the_place_does_not_have_is_told() {
    let Some(dir) = beside("real-days") else {
        return;
    };
    let mut heard = read(&dir.join("bay_00.instruments.nmea")).swap_remove(0);
    let first = heard[0].at;
    let onset = first.plus_seconds(60.0);
    let lie = (&[(Field::Variation, How::Is(180.0))][..], Nothing);
    lay(&mut heard, lie, onset, 0.0);
    let mut told = None;
    follow(&heard, |now| {
        let doubted = now
            .doubts
            .iter()
            .any(|doubt| doubt.instrument == I::Variation);
        if doubted && told.is_none() {
            let used = now.variation_rad.as_ref().unwrap();
            told = Some((now.at, used.source.clone()));
        }
    });
    let (at, used) = told.expect("it is told");
    let after_s = at.seconds_since(onset);
    assert!((0.0..=60.0).contains(&after_s), "{after_s} s");
    assert!(used.contains("Magnetic Model"), "{used}");
}
