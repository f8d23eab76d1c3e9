//! Senders that change their habits over recorded instruments: told apart in time, and blamed for
//! nothing but what the change makes wrong. The limits of time are the project's own.

use skimwatch::vessel::{Instrument, VesselNow};

use crate::beside::beside;
use crate::doubt_lies::{Stretch, fixture, stretch};
use crate::doubt_tape::{Beside, Field, How, follow, lay, with};

struct Habit {
    name: &'static str,
    changes: &'static [(Field, How)],
    beside: Beside,
    of: Instrument,
    /// Part of the words.
    says: &'static str,
    /// Whether the change makes it wrong in a turn: then it may be blamed for that instead.
    lies: bool,
}

const HABITS: &[Habit] = &[
    Habit {
        name: "wind five times as often",
        changes: &[(Field::Vane, How::Off(0.0))],
        beside: Beside::Often,
        of: Instrument::Wind,
        says: "more often",
        lies: false,
    },
    Habit {
        name: "heading five times as often",
        changes: &[(Field::Heading, How::Off(0.0))],
        beside: Beside::Often,
        of: Instrument::Heading,
        says: "more often",
        lies: false,
    },
    Habit {
        name: "wind of a second sender that agrees",
        changes: &[(Field::Vane, How::Off(0.0))],
        beside: Beside::Joins,
        of: Instrument::Wind,
        says: "a second sender",
        lies: false,
    },
    Habit {
        name: "second vane swung to and fro",
        changes: &[(Field::Vane, How::Swung(35.0))],
        beside: Beside::Vane,
        of: Instrument::Wind,
        says: "more restless",
        lies: true,
    },
    Habit {
        name: "second vane damped",
        changes: &[(Field::Vane, How::Damped(0.02))],
        beside: Beside::Vane,
        of: Instrument::Wind,
        says: "calmer",
        lies: true,
    },
    Habit {
        name: "vane in whole degrees",
        changes: &[(Field::Vane, How::Whole)],
        beside: Beside::Nothing,
        of: Instrument::Wind,
        says: "whole units",
        lies: false,
    },
    Habit {
        name: "heading in whole degrees",
        changes: &[(Field::Heading, How::Whole)],
        beside: Beside::Nothing,
        of: Instrument::Heading,
        says: "whole units",
        lies: false,
    },
];

/// The recorded boat gives whole degrees from the beginning; the invented one gives tenths.
fn is_of_units(habit: &Habit) -> bool {
    habit.says == "whole units"
}

/// What is said of habits of the right instrument.
fn said(habit: &Habit, now: &VesselNow) -> Option<String> {
    let sources = now
        .sources
        .iter()
        .filter(|source| source.instrument == habit.of);
    let words = sources.filter_map(|source| {
        let (words, _) = source.habit?;
        Some(format!("{} {words}", source.name))
    });
    words.filter(|words| words.contains(habit.says)).min()
}

/// Every habit at every speed of onset, as a table; whatever was told too late, or blamed.
fn table(stretch: &Stretch, habits: &[&Habit], ramps_s: &[f64], within_s: f64) -> Vec<String> {
    let mut wrong = Vec::new();
    for habit in habits {
        for ramp_s in ramps_s {
            let mut heard = with(&stretch.heard, habit.beside, habit.changes[0].0);
            lay(
                &mut heard,
                (habit.changes, habit.beside),
                stretch.onset,
                *ramp_s,
            );
            let (mut told, mut before, mut blamed) = (None, None, Vec::new());
            follow(&heard, |now| {
                if let Some(words) = said(habit, now) {
                    if now.at <= stretch.onset {
                        before = Some(words);
                    } else if told.is_none() {
                        told = Some((now.at.seconds_since(stretch.onset), words));
                    }
                }
                if habit.lies && told.is_none() && now.at > stretch.onset && !now.doubts.is_empty()
                {
                    told = Some((
                        now.at.seconds_since(stretch.onset),
                        now.doubts[0].seen.clone(),
                    ));
                }
                if !habit.lies || now.at <= stretch.onset {
                    blamed.extend(now.doubts.iter().map(|doubt| doubt.seen.clone()));
                }
            });
            blamed.dedup();
            let row = match &told {
                Some((after_s, words)) => {
                    format!("{} | {ramp_s:.0} | {after_s:.0} s | {words}", habit.name)
                }
                None => format!("{} | {ramp_s:.0} | not told |", habit.name),
            };
            println!("{row}");
            let in_time = told.is_some_and(|(after_s, _)| after_s <= ramp_s + within_s);
            if !in_time || before.is_some() || !blamed.is_empty() {
                wrong.push(format!("{row} before: {before:?} blamed: {blamed:?}"));
            }
        }
    }
    wrong
}

#[test]
fn changed_habits_of_a_recorded_boat_are_told_and_blame_nobody() {
    let Some(dir) = beside("real-days") else {
        return;
    };
    let stretch = stretch(&dir.join("lake-full.nmea"), 192.0, 432.0, 492.0, 692.0);
    let all: Vec<&Habit> = HABITS.iter().filter(|habit| !is_of_units(habit)).collect();
    let wrong = table(&stretch, &all, &[0.0, 20.0, 60.0], 120.0);
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// The same over the invented turn, which every machine has: what can be told within a minute.
#[test]
fn changed_habits_of_an_invented_boat_are_told_and_blame_nobody() {
    let stretch = stretch(&fixture("turn-away.nmea"), 0.0, 62.0, 42.0, 120.0);
    let rates = HABITS.iter().take(3);
    let units = HABITS.iter().filter(|habit| is_of_units(habit));
    let short: Vec<&Habit> = rates.chain(units).collect();
    let wrong = table(&stretch, &short, &[0.0, 4.0, 8.0], 58.0);
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Nothing of it depends on anything but what was said.
#[test]
fn habits_are_the_same_again() {
    let stretch = stretch(&fixture("turn-away.nmea"), 0.0, 62.0, 42.0, 120.0);
    let told = || {
        let habit = &HABITS[2];
        let mut heard = with(&stretch.heard, habit.beside, Field::Vane);
        lay(
            &mut heard,
            (habit.changes, habit.beside),
            stretch.onset,
            0.0,
        );
        let mut all = Vec::new();
        follow(&heard, |now| {
            all.push(serde_json::to_string(&now.sources).unwrap())
        });
        all
    };
    let once = told();
    assert!(once.iter().any(|sources| sources.contains("more often")));
    assert_eq!(once, told());
}
