//! Whoever sends decides about names: however many come, what is remembered and shown stays small.
//! All names are invented.

use std::time::Instant;

use skimwatch::cause::Cause;
use skimwatch::engine::{Engine, EngineSettings, Event, Mode, OTHER_FEEDS, OTHER_KINDS, Snapshot};
use skimwatch::feed::{Checksum, Frame, FrameSettings, Framer};
use skimwatch::time::Millis;

/// Names poured in.
const MANY: u32 = 60_000;
const START: Millis = Millis(1_795_600_000_000);

fn settings() -> EngineSettings {
    let text = std::fs::read_to_string("config/demo.toml").unwrap();
    let settings = skimwatch::settings::parse(&text, "config/demo.toml").unwrap();
    EngineSettings {
        feeds: vec!["network".to_owned()],
        ..settings.engine().unwrap()
    }
}

/// Five characters, another one for every number; of no kind that is read.
fn address(number: u32) -> String {
    const LETTERS: &[u8] = b"abcdefghijklmnopqrstuvwxyz012345";
    (0..5)
        .rev()
        .map(|place| LETTERS[(number >> (5 * place)) as usize % 32] as char)
        .collect()
}

struct Sea {
    engine: Engine,
    sent: u32,
}

impl Sea {
    fn new() -> Self {
        Self {
            engine: Engine::new(settings(), Mode::Replay),
            sent: 0,
        }
    }

    fn now(&self) -> Millis {
        START.plus_seconds(0.001 * f64::from(self.sent))
    }

    fn say(&mut self, feed: &str, text: &str) {
        self.sent += 1;
        let at = self.now();
        self.engine.take(Event::Line { at, feed, text });
    }

    fn look(&mut self) -> Snapshot {
        let at = self.now();
        self.engine.take(Event::Tick { at }).unwrap().snapshot
    }
}

fn json_bytes(value: &impl serde::Serialize) -> usize {
    serde_json::to_string(value).unwrap().len()
}

#[test]
fn invented_addresses_share_one_row_and_genuine_ones_keep_theirs() {
    let mut sea = Sea::new();
    for number in 0..MANY {
        sea.say("network", &format!("${},1", address(number)));
        sea.say("network", &format!("$P{}{},1", "X".repeat(900), number));
    }
    // First heard after the flood: still a row of its own.
    sea.say("network", "$HEHDT,110.0,T");
    sea.say("network", "$WIMWV,60.0,R,8.2,M,A");
    let snapshot = sea.look();
    let [feed] = snapshot.feeds.as_slice() else {
        panic!("{} feeds", snapshot.feeds.len())
    };
    assert_eq!((feed.kinds["HDT"], feed.kinds["MWV"]), (1, 1));
    assert!(feed.kinds.len() <= 64 + 31 + 1, "{}", feed.kinds.len());
    assert!(feed.kinds.keys().all(|kind| kind.len() <= 12));
    let counted: u64 = feed.kinds.values().sum();
    assert_eq!(counted, u64::from(sea.sent), "nothing is lost");
    assert!(feed.kinds[OTHER_KINDS] > u64::from(MANY) / 2);
    assert!(
        json_bytes(&snapshot.feeds) < 4096,
        "{}",
        json_bytes(&snapshot.feeds)
    );
}

#[test]
fn invented_feeds_of_a_log_share_one_book() {
    let mut sea = Sea::new();
    for number in 0..MANY {
        let feed = format!("feed-{number}-{}\u{7}", "x".repeat(number as usize % 900));
        sea.say(&feed, &format!("${},1", address(number)));
        sea.say(&feed, "$HEHDT,110.0,T");
        sea.engine.take(Event::Refused {
            feed: &format!("refused-{number}"),
            cause: Cause::Garbled,
        });
    }
    sea.say("network", "$WIMWV,60.0,R,8.2,M,A");
    let snapshot = sea.look();
    let names: Vec<&str> = snapshot.feeds.iter().map(|feed| &*feed.name).collect();
    assert_eq!(names.len(), 1 + 32 + 1, "{names:?}");
    assert!(names.contains(&"network") && names.contains(&OTHER_FEEDS));
    assert!(
        names
            .iter()
            .all(|name| name.len() <= 32 && !name.contains('\u{7}'))
    );
    let bytes = json_bytes(&snapshot.feeds) + json_bytes(&snapshot.vessel);
    assert!(bytes < 32 * 1024, "{bytes}");
    assert!(sea.engine.inputs().totals().len() <= 34);
    // What is said by the crowd is still heard.
    assert!(snapshot.vessel.heading_true_rad.is_some());
}

#[test]
fn every_feed_with_every_kind_still_makes_a_small_picture() {
    let mut sea = Sea::new();
    for number in 0..MANY {
        let feed = format!("feed-{}", number % 100);
        sea.say(&feed, &format!("${},1", address(number)));
        for kind in [
            "HDT", "MWV", "VHW", "RMC", "GGA", "ROT", "RSA", "APB", "XTE",
        ] {
            if number < 200 {
                sea.say(&feed, &format!("$II{kind},x"));
            }
        }
    }
    let snapshot = sea.look();
    let bytes = json_bytes(&snapshot.feeds);
    assert!(bytes < 32 * 1024, "{bytes}");
    let kinds = snapshot.feeds.iter().flat_map(|feed| feed.kinds.keys());
    let strange = kinds
        .filter(|kind| *kind != OTHER_KINDS && !skimwatch::decode::reads(kind))
        .count();
    assert_eq!(strange, 256);
}

#[test]
fn invented_waypoints_and_routes_cost_no_time_and_change_no_picture() {
    let mut sea = Sea::new();
    let began = Instant::now();
    for number in 0..MANY {
        sea.say("network", &format!("$GPWPL,4500.0,N,01200.0,E,W{number}"));
        sea.say("network", &format!("$GPRTE,9,1,c,R{number},A{number}"));
        let long = "N".repeat(900);
        sea.say("network", &format!("$GPRTE,1,1,c,R,{long}{number}"));
        sea.say(
            "network",
            &format!("$GPRMB,A,0.0,L,A,{long}{number},4500.0,N,01200.0,E,1.0,90.0,5.0,V"),
        );
    }
    let snapshot = sea.look();
    assert!(json_bytes(&snapshot.feeds) < 4096);
    assert!(json_bytes(&snapshot.vessel) < 4096);
    // Quadratic growth would take hours.
    assert!(began.elapsed().as_secs() < 300, "{:?}", began.elapsed());
}

#[test]
fn long_addresses_leave_no_habit() {
    let settings = FrameSettings {
        checksum: skimwatch::feed::ChecksumPolicy::IfPresent,
        ..FrameSettings::default()
    };
    let mut framer = Framer::new(settings);
    let mut taken = Vec::new();
    let mut tell = |framer: &mut Framer, line: &str| {
        taken.clear();
        framer.push(line.as_bytes(), &mut |frame| taken.push(frame));
        match taken.as_slice() {
            [Frame::Sentence(sentence)] => Some(sentence.checksum),
            _ => None,
        }
    };
    for number in 0..1000 {
        let body = format!("{}{number},1", "X".repeat(900));
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        let line = format!("${body}*{sum:02X}\r\n");
        assert_eq!(tell(&mut framer, &line), Some(Checksum::Good));
    }
    // They have not used up what is remembered of genuine ones.
    assert_eq!(
        tell(&mut framer, "$WIMWV,214.8,R,0.1,K,A\r\n"),
        Some(Checksum::Missing)
    );
    assert_eq!(
        tell(&mut framer, &format!("${},1\r\n", "X".repeat(17))),
        None
    );
}
