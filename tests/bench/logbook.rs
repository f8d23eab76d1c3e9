//! A season in the logbook: 100 invented days of 8 hours, a picture a second, thinned as in life.
//! Prints what it takes on the disk, how long the questions of the pages take, and memory.
//!
//! `cargo bench --bench logbook -- DAYS` for another number of days.

use std::sync::Arc;
use std::time::Instant;

use skimwatch::advice::{Kind, Outcome, Priority};
use skimwatch::decode::{BaitState, CrewInput, Line, StrikeWord, encode_crew};
use skimwatch::forecast::{Band, Trouble};
use skimwatch::logbook::{
    ChanceRun, Doing, Item, Kite, LoggedSettings, Look, Reader, Rebuild, RevisionRow, Season,
    State, figures, timeline,
};
use skimwatch::score::Revision;
use skimwatch::time::Millis;
use skimwatch::units::metres;

/// 2026-06-01T12:00:00Z, morning at 60 degrees west, and a day has 8 hours of fishing.
const START: Millis = Millis(1_780_315_200_000);
const DAY_S: u32 = 8 * 3600;

/// A seeded sequence of numbers in 0..1 (a multiplicative generator, enough for invented days).
struct Dice(u64);

impl Dice {
    fn throw(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
}

struct Boat {
    dice: Dice,
    heading_deg: f64,
    rate_deg_s: f64,
    latitude_deg: f64,
    longitude_deg: f64,
    wind_from_deg: f64,
    /// Seconds of trouble left, and how likely it is.
    trouble_s: u32,
    advisories: u32,
}

impl Boat {
    fn state(&mut self, at: Millis, second: u32) -> State {
        // A turn about every five minutes.
        if second.is_multiple_of(300) {
            self.rate_deg_s = if self.dice.throw() < 0.5 { -3.0 } else { 3.0 };
        } else if second % 300 > 20 {
            self.rate_deg_s = 0.0;
        }
        self.heading_deg += self.rate_deg_s + 2.0 * (self.dice.throw() - 0.5);
        self.wind_from_deg += 2.0 * (self.dice.throw() - 0.5);
        let heading = self.heading_deg.to_radians();
        self.latitude_deg += 3.0 * heading.cos() / 111_000.0;
        self.longitude_deg += 3.0 * heading.sin() / 109_000.0;
        let bait = match self.trouble_s {
            0 => BaitState::Skipping,
            1..=8 => BaitState::Airborne,
            _ => BaitState::Skipping,
        };
        State {
            at,
            latitude_deg: Some(self.latitude_deg),
            longitude_deg: Some(self.longitude_deg),
            heading_deg_true: Some(self.heading_deg.rem_euclid(360.0)),
            rate_of_turn_deg_s: Some(self.rate_deg_s),
            speed_water_mps: Some(3.0 + self.dice.throw()),
            speed_ground_mps: Some(3.0 + self.dice.throw()),
            course_deg_true: Some(self.heading_deg.rem_euclid(360.0)),
            wind_at_sensor_mps: Some(7.0 + 2.0 * self.dice.throw()),
            wind_from_deg_true: Some(self.wind_from_deg.rem_euclid(360.0)),
            kite_line_m: Some(90.0),
            main_line_m: Some(140.0),
            doing: Doing::Fishing,
            bait: Some(bait),
            bait_told: Some(BaitState::Skipping),
            kite_elevation_deg: Some(40.0 + 10.0 * self.dice.throw()),
            kite_off_astern_deg: Some(30.0 + 20.0 * self.dice.throw()),
            immersion: Some(self.dice.throw()),
            bait_astern_m: Some(60.0 + 5.0 * self.dice.throw()),
            bait_starboard_m: Some(40.0 + 5.0 * self.dice.throw()),
        }
    }

    /// Chances of the three scored troubles: mostly none, and in a quarter of the time one that
    /// changes with every forecast.
    fn chances(&mut self, at: Millis) -> Vec<ChanceRun> {
        let live = self.trouble_s > 0;
        [
            Trouble::BaitAirborne,
            Trouble::BaitDragging,
            Trouble::KiteSinking,
        ]
        .into_iter()
        .map(|trouble| {
            let chance = if live && trouble == Trouble::BaitAirborne {
                (64.0 * self.dice.throw()).floor() / 64.0
            } else {
                0.0
            };
            let p50 = 60.0 * self.dice.throw();
            ChanceRun {
                trouble,
                made_at: at,
                forecasts: 1,
                horizon_s: 120.0,
                chance,
                so_now: 0.0,
                onset_s: (chance > 0.0).then_some(Band {
                    p10: 0.5 * p50,
                    p50,
                    p90: 1.5 * p50,
                }),
            }
        })
        .collect()
    }

    /// An advisory when trouble begins, revised every ten seconds, and ended.
    fn revisions(&mut self, at: Millis) -> Vec<RevisionRow> {
        if self.trouble_s == 0 || !self.trouble_s.is_multiple_of(10) {
            return Vec::new();
        }
        let first = self.trouble_s == 70;
        self.advisories += u32::from(first);
        vec![RevisionRow {
            scored: Revision {
                id: format!("bait-airborne-{}", self.advisories),
                at,
                kind: Kind::BaitAirborne,
                priority: Priority::Warning,
                raised_at: at.plus_seconds(f64::from(self.trouble_s) - 70.0),
                onset_at: Some(at.plus_seconds(20.0)),
                unwatched_since: None,
                outcome: (self.trouble_s == 10).then_some(Outcome::Averted),
            },
            revision: 8 - self.trouble_s / 10,
            chance: Some(0.6),
            chance_with_plan: Some(0.1),
            asks: Some((Line::Main, 4.0)),
            title: "Bait will fly".to_owned(),
            cause: "turn of 45° to port lifts the bait".to_owned(),
        }]
    }
}

/// Two kites, a few days each.
fn settings(day: u32) -> Arc<LoggedSettings> {
    let (name, area_m2) = match day % 5 {
        0..=2 => ("light wind", 1.6),
        _ => ("all round", 1.2),
    };
    Arc::new(LoggedSettings {
        toml: include_str!("../../config/demo.toml").into(),
        kite: Kite {
            name: Some(name.to_owned()),
            area_m2,
        },
    })
}

fn season(days: u32, path: &std::path::Path) {
    let mut book = Rebuild::new(path.to_owned()).expect("a logbook");
    let mut boat = Boat {
        dice: Dice(7),
        heading_deg: 0.0,
        rate_deg_s: 0.0,
        latitude_deg: 12.0,
        longitude_deg: -60.0,
        wind_from_deg: 60.0,
        trouble_s: 0,
        advisories: 0,
    };
    for day in 0..days {
        let begin = START.plus_seconds(f64::from(day) * 86_400.0);
        boat.advisories = 0;
        book.take(Item::Begins {
            at: begin,
            settings: Some(settings(day)),
        });
        let mut sequence = 0;
        for second in 0..DAY_S {
            let at = begin.plus_seconds(f64::from(second));
            // A quarter of the time trouble threatens.
            boat.trouble_s = match second % 280 {
                0 => 70,
                _ => boat.trouble_s.saturating_sub(1),
            };
            let mut say = |input: CrewInput| {
                sequence += 1;
                book.take(Item::Said {
                    at,
                    feed: "crew".into(),
                    text: encode_crew(&input, sequence),
                });
            };
            if second % 150 == 7 {
                say(CrewInput::Bait(BaitState::Skipping));
            }
            if second % 280 == 60 {
                let by = metres(4.0);
                say(CrewInput::Moved {
                    line: Line::Main,
                    by,
                });
            }
            if second % 7000 == 6000 {
                say(CrewInput::Bite);
            }
            if second % 7000 == 6600 {
                say(CrewInput::Strike(StrikeWord::Landed));
            }
            if second % 7000 == 6700 {
                let (kite, main) = (Some(metres(90.0)), Some(metres(140.0)));
                say(CrewInput::LinesOut { kite, main });
            }
            let state = boat.state(at, second);
            let revisions = boat.revisions(at);
            book.take(Item::Seen(Box::new(Look {
                at,
                state,
                revisions,
                missing: Vec::new(),
                chances: boat.chances(at),
                taught: None,
                marks: Vec::new(),
                pass: None,
                settings: None,
            })));
        }
    }
    book.finish().expect("written");
}

/// Most memory that this program has held, MiB.
fn most_memory_mib() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM"));
    let kib = line.and_then(|line| line.split_whitespace().nth(1)?.parse::<f64>().ok());
    kib.unwrap_or(f64::NAN) / 1024.0
}

fn main() {
    let number = |text: String| text.parse::<u32>().ok();
    let days = std::env::args().find_map(number).unwrap_or(100);
    let dir = tempfile::tempdir().expect("a directory");
    let path = dir.path().join("season.sqlite");
    let since = Instant::now();
    season(days, &path);
    let bytes = std::fs::metadata(&path).map_or(0, |about| about.len());
    println!(
        "{days} days of {} h: {:.1} MiB, {:.2} MiB a day; written in {:.0} s; most memory {:.0} MiB",
        DAY_S / 3600,
        bytes as f64 / 1_048_576.0,
        bytes as f64 / 1_048_576.0 / f64::from(days),
        since.elapsed().as_secs_f64(),
        most_memory_mib(),
    );
    let mut longest_ms = 0.0_f64;
    let mut ask = |what: &str, ask: &dyn Fn(&Reader) -> usize| {
        for _ in 0..5 {
            let since = Instant::now();
            let reader = Reader::open(&path).expect("a logbook");
            let rows = ask(&reader);
            let ms = since.elapsed().as_secs_f64() * 1000.0;
            longest_ms = longest_ms.max(ms);
            println!("{what}: {ms:.0} ms, {rows} rows");
        }
    };
    ask("the list of days", &|reader| {
        reader.days().expect("days").len()
    });
    let date = chrono::DateTime::from_timestamp_millis(START.0)
        .expect("a time")
        .date_naive();
    ask("a day as its page asks for it", &|reader| {
        let rows = reader.day(date).expect("a day").expect("logged");
        let (figures, timeline) = (figures(&rows), timeline(&rows));
        let json = serde_json::to_string(&(figures, timeline)).expect("JSON");
        println!("  {} kB of JSON", json.len() / 1000);
        rows.sessions
            .iter()
            .map(|s| s.states.len() + s.spans.len())
            .sum()
    });
    // As the server asks: days are counted for 150 ms a time.
    let mut season = Season::default();
    for asked in 1.. {
        let since = Instant::now();
        let reader = Reader::open(&path).expect("a logbook");
        let enough = || since.elapsed().as_millis() >= 150;
        let sums = season.count(&reader, enough).expect("sums");
        let ms = since.elapsed().as_secs_f64() * 1000.0;
        longest_ms = longest_ms.max(ms);
        if sums.counted_days == sums.days {
            let json = serde_json::to_string(&sums).expect("JSON");
            println!(
                "sums over {days} days: asked {asked} times, the last {ms:.0} ms, {} kB of JSON",
                json.len() / 1000
            );
            break;
        }
    }
    let since = Instant::now();
    let reader = Reader::open(&path).expect("a logbook");
    season.count(&reader, || false).expect("sums");
    println!(
        "sums again: {:.0} ms",
        since.elapsed().as_secs_f64() * 1000.0
    );
    println!(
        "longest {longest_ms:.0} ms; most memory {:.0} MiB",
        most_memory_mib()
    );
}
