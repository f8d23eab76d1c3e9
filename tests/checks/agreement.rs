//! Nothing that is told at one moment contradicts another part of it, and an order that is due
//! stands: looked at in every picture of invented days and of recorded scenes.

use std::collections::BTreeMap;
use std::path::Path;

use skimwatch::advice::Action;
use skimwatch::drive::LogLine;
use skimwatch::engine::Snapshot;
use skimwatch::feed::FrameSettings;
use skimwatch::record::LogReader;
use skimwatch::time::Millis;

use crate::pictures::{
    Sentence, backwards, contradictions, each_picture, invented_day, is_active, quantity,
};

/// A recorded scene, as sentences.
pub fn fixture(name: &str) -> Vec<Sentence> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures")
        .join(name);
    LogReader::open(&path, FrameSettings::default())
        .unwrap()
        .filter_map(
            |item| match LogLine::from_log(item.unwrap(), &"log".into()) {
                LogLine::Sentence {
                    stamped: Some((at, _)),
                    feed,
                    text,
                } => Some((at, feed.to_string(), text)),
                _ => None,
            },
        )
        .collect()
}

/// Orders as a crew sees them over time.
#[derive(Default)]
pub struct Watch {
    said: Option<(Option<Millis>, Option<Millis>)>,
    said_at: Option<Millis>,
    orders: BTreeMap<(String, String, bool, usize), Seen>,
    pub due: usize,
    pub changes: usize,
}

/// A plan is searched for again within so long of what the crew says.
const SEARCH_S: f64 = 3.0;

struct Seen {
    at: Millis,
    by_m: f64,
    due: bool,
    changes: usize,
}

impl Watch {
    /// Whatever does not stand since the last picture.
    pub fn look(&mut self, now: &Snapshot) -> Vec<String> {
        let mut found = Vec::new();
        // Line moved or a turn told answers what was asked before. What was asked may stand until the
        // next search for a plan.
        let said = (
            now.deck.lines_at,
            now.deck.intended_turn.map(|turn| turn.told_at),
        );
        if self.said != Some(said) {
            self.said = Some(said);
            self.said_at = Some(now.at);
        }
        if self
            .said_at
            .is_some_and(|at| now.at.seconds_since(at) < SEARCH_S)
        {
            self.orders.clear();
        }
        self.orders
            .retain(|_, seen| now.at.seconds_since(seen.at) <= 10.0);
        for advisory in now.advisories.iter().filter(|a| is_active(a)) {
            let mut numbers: BTreeMap<(String, bool), usize> = BTreeMap::new();
            for action in &advisory.actions {
                let Action::MoveLine {
                    line,
                    by_m,
                    start_at,
                    changed,
                    ..
                } = action
                else {
                    continue;
                };
                let of = (format!("{line:?}"), *by_m > 0.0);
                let number = numbers.entry(of.clone()).or_default();
                let key = (advisory.id.clone(), of.0, of.1, *number);
                *number += 1;
                let due = *start_at <= now.at;
                let Some(seen) = self.orders.get_mut(&key) else {
                    self.due += usize::from(due);
                    self.orders.insert(
                        key,
                        Seen {
                            at: now.at,
                            by_m: *by_m,
                            due,
                            changes: 0,
                        },
                    );
                    continue;
                };
                if seen.due && !due {
                    found.push(format!("{key:?} goes back from NOW to a countdown"));
                }
                if seen.due && (seen.by_m - by_m).abs() > 0.05 {
                    seen.changes += 1;
                    self.changes += 1;
                    if changed.is_none() {
                        found.push(format!(
                            "{key:?}: {} became {by_m} without a word",
                            seen.by_m
                        ));
                    }
                }
                if seen.changes > 2 {
                    found.push(format!("{key:?} changed {} times", seen.changes));
                }
                self.due += usize::from(due && !seen.due);
                (seen.at, seen.by_m, seen.due) = (now.at, *by_m, due);
            }
        }
        found
    }
}

/// Looks at every picture of a day.
fn agrees(name: &str, day: Vec<Sentence>) {
    let mut watch = Watch::default();
    let mut pictures = 0;
    let mut found: Vec<String> = Vec::new();
    each_picture(day, 24, |now| {
        pictures += 1;
        let here = contradictions(now).into_iter().chain(watch.look(now));
        found.extend(here.map(|what| format!("{}: {what}", now.at)));
    });
    println!(
        "{name}: {pictures} pictures, {} orders due, {} changes of their amount",
        watch.due, watch.changes
    );
    assert!(pictures > 60, "{pictures}");
    assert!(
        found.is_empty(),
        "{name}: {} of them: {:#?}",
        found.len(),
        &found[..found.len().min(20)]
    );
}

#[test]
fn nothing_contradicts_itself_on_the_demo_day() {
    agrees("demo", invented_day(|_| {}));
}

#[test]
fn nothing_contradicts_itself_on_a_day_on_which_nobody_touches_a_line() {
    let day = invented_day(|script| {
        script.duration_s = 420.0;
        script.seed = 11;
        script.moves.clear();
    });
    agrees("idle hands", day);
}

#[test]
fn nothing_contradicts_itself_on_a_gusty_day() {
    let day = invented_day(|script| {
        script.duration_s = 420.0;
        script.seed = 12;
        script.gusts.speed_share = 0.12;
        script.gusts.direction_rad *= 2.0;
        script.bait_reports_every_s = Some(20.0);
    });
    agrees("gusty", day);
}

#[test]
fn nothing_contradicts_itself_on_a_day_of_turns_the_other_way() {
    let day = invented_day(|script| {
        backwards(script);
        script.duration_s = 420.0;
    });
    agrees("turns the other way", day);
}

#[test]
fn nothing_contradicts_itself_on_a_day_on_which_no_turn_is_announced() {
    let day = invented_day(|script| {
        script.duration_s = 420.0;
        script.seed = 14;
        script.bait_reports_every_s = Some(30.0);
        for turn in &mut script.turns {
            turn.announced_s = None;
            turn.rate_rad_s *= 1.3;
        }
    });
    agrees("no turn announced", day);
}

#[test]
fn nothing_contradicts_itself_in_recorded_scenes() {
    for name in ["turn-toward.nmea", "turn-away.nmea", "sensor-silent.nmea"] {
        agrees(name, fixture(name));
    }
}

#[test]
fn a_number_with_a_unit_is_found_in_a_text() {
    assert_eq!(quantity("give 3-5 m at a time"), Some("3-5 m".to_owned()));
    assert_eq!(quantity("no wind for 11 s (last)"), Some("11 s".to_owned()));
    assert_eq!(quantity("turn of 45° to port, 3 future(s)"), None);
}
