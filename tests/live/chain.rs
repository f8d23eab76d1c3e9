//! The whole chain on real inputs in real time, against replays of the same lines.

use std::net::UdpSocket;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use skimwatch::advice::{Advisory, Kind, Outcome};
use skimwatch::decode::{CrewInput, SettingChange};
use skimwatch::drive::{EngineStopped, Live, LogLine, Pace, Replay};
use skimwatch::engine::{Engine, EngineSettings, Mode, Snapshot};
use skimwatch::feed::{self, Feed, FeedReport, FeedSpec, FrameSettings, Link};
use skimwatch::record::{LogReader, RecordSettings, Recorder};
use skimwatch::scene::{Script, ScriptTurn, play};
use skimwatch::serve::CrewPost;
use skimwatch::time::Millis;
use skimwatch::vessel::LinesOut;
use tokio::sync::{mpsc, oneshot, watch};
use tokio_util::sync::CancellationToken;

use crate::PATIENCE;
use crate::feed_serial::Cable;

/// The demo's settings, quick to miss a sensor.
fn settings() -> EngineSettings {
    let text = std::fs::read_to_string("config/demo.toml").unwrap();
    let mut settings = skimwatch::settings::parse(&text, "config/demo.toml")
        .unwrap()
        .engine()
        .unwrap();
    settings.feeds = vec!["network".to_owned()];
    // The invented crew speaks on the same wire as the instruments.
    settings.crew_feeds = vec!["network".to_owned()];
    // Live, the chain listens before the crew has said what is out.
    settings.lines_out = LinesOut {
        kite_m: Some(90.0),
        main_m: Some(170.0),
    };
    settings
}

/// Sixteen invented seconds: settled, then a turn toward the wind is announced.
pub fn lines() -> Vec<(f64, String)> {
    let text = std::fs::read_to_string("config/demo.toml").unwrap();
    let rig = skimwatch::settings::parse(&text, "config/demo.toml")
        .unwrap()
        .rig
        .parameters;
    let mut script = Script::straight(Millis(0), rig, 16.0);
    script.turns = vec![ScriptTurn {
        start_s: 14.0,
        by_rad: -50.0_f64.to_radians(),
        rate_rad_s: 4.0_f64.to_radians(),
        yaw_time_s: 2.5,
        announced_s: Some(9.0),
    }];
    let played = play(&script).unwrap();
    played
        .lines
        .into_iter()
        .map(|(at, line)| (at.0 as f64 / 1000.0, line))
        .collect()
}

pub struct Running {
    pub stop: CancellationToken,
    report: watch::Receiver<FeedReport>,
    revisions: Arc<Mutex<Vec<Advisory>>>,
    last: Arc<Mutex<Option<Snapshot>>>,
    /// Pictures made so far.
    pub pictures: Arc<AtomicU64>,
    pub posts: mpsc::Sender<CrewPost>,
    /// Every picture takes so much longer, in milliseconds.
    pub slower_ms: Arc<AtomicU64>,
    pub task: tokio::task::JoinHandle<Result<(), EngineStopped>>,
}

pub fn start(spec: FeedSpec, record: Option<&Path>) -> Running {
    let stop = CancellationToken::new();
    let (to_stamper, arrivals) = mpsc::channel(256);
    let feed = Feed::new("network", spec, FrameSettings::default()).unwrap();
    let running = feed::spawn(feed, to_stamper, stop.clone());
    let (posts, crew) = mpsc::channel(1);
    let live = Live {
        arrivals,
        crew,
        learnt: None,
        journal: None,
        logbook: None,
        recorder: record
            .map(|dir| Recorder::start(RecordSettings::new(dir.to_owned(), 1, 10).unwrap())),
        reports: vec![(running.name.clone(), running.report.clone())],
        shutdown: stop.clone(),
    };
    let revisions = Arc::new(Mutex::new(Vec::new()));
    let last = Arc::new(Mutex::new(None));
    let (seen, picture_of) = (Arc::clone(&revisions), Arc::clone(&last));
    let engine = Engine::new(settings(), Mode::Live);
    let slower_ms = Arc::new(AtomicU64::new(0));
    let slower = Arc::clone(&slower_ms);
    let pictures = Arc::new(AtomicU64::new(0));
    let counted = Arc::clone(&pictures);
    let task = tokio::spawn(live.run(engine, move |picture| {
        // The publisher runs on the engine's thread.
        std::thread::sleep(Duration::from_millis(slower.load(Ordering::Relaxed)));
        seen.lock().unwrap().extend(picture.revisions);
        *picture_of.lock().unwrap() = Some(picture.snapshot);
        counted.fetch_add(1, Ordering::Relaxed);
    }));
    Running {
        stop,
        report: running.report,
        revisions,
        last,
        pictures,
        posts,
        slower_ms,
        task,
    }
}

impl Running {
    pub async fn finish(self) -> Vec<Advisory> {
        self.stop.cancel();
        self.task.await.unwrap().unwrap();
        Arc::into_inner(self.revisions)
            .unwrap()
            .into_inner()
            .unwrap()
    }

    /// Waits until the feed is open.
    pub async fn listens(&mut self) {
        self.reports("an open feed", |report| {
            matches!(report.link, Link::Open { .. })
        })
        .await;
    }

    /// Waits until so many sentences have been read.
    async fn has_read(&mut self, sentences: usize) {
        self.reports("all sentences", |report| {
            report.counters.good == sentences as u64
        })
        .await;
    }

    async fn reports(&mut self, what: &str, wanted: impl Fn(&FeedReport) -> bool) {
        let waiting = self.report.wait_for(|report| wanted(report));
        let reported = tokio::time::timeout(PATIENCE, waiting).await;
        assert!(
            reported.is_ok_and(|report| report.is_ok()),
            "{what}: still {:?}",
            *self.report.borrow()
        );
    }

    pub fn forecast_is_there(&self) -> bool {
        self.last().is_some_and(|last| last.forecast.is_ok())
    }

    /// The last picture.
    pub fn last(&self) -> Option<Snapshot> {
        self.last.lock().unwrap().clone()
    }

    pub async fn wait_for(&self, what: &str, mut seen: impl FnMut(&Self) -> bool) {
        let end = Instant::now() + PATIENCE;
        while !seen(self) {
            assert!(
                Instant::now() < end,
                "{what} did not come within {PATIENCE:?}"
            );
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
    }

    pub fn has(&self, kind: Kind, outcome: Option<Outcome>) -> bool {
        let revisions = self.revisions.lock().unwrap();
        revisions
            .iter()
            .any(|advisory| advisory.kind == kind && advisory.outcome == outcome)
    }
}

pub async fn replay(items: impl Iterator<Item = LogLine>) -> Vec<Advisory> {
    let mut revisions = Vec::new();
    let replay = Replay::new(Engine::new(settings(), Mode::Replay), None);
    replay
        .run(items, Pace::Fastest, CancellationToken::new(), |picture| {
            revisions.extend(picture.revisions);
        })
        .await;
    revisions
}

/// All that was recorded in a directory.
pub fn recorded(dir: &Path) -> Vec<LogLine> {
    let mut paths: Vec<_> = std::fs::read_dir(dir)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    paths.sort();
    let items = paths.iter().flat_map(|path| {
        LogReader::open(path, FrameSettings::default())
            .unwrap()
            .map(|item| LogLine::from_log(item.unwrap(), &"log".into()))
    });
    items.collect()
}

pub fn json(revisions: &[Advisory]) -> Vec<String> {
    revisions
        .iter()
        .map(|revision| serde_json::to_string(revision).unwrap())
        .collect()
}

/// First revisions: kind, and onset after the start of its run.
fn raised(revisions: &[Advisory], start: Millis) -> Vec<(Kind, Option<f64>)> {
    let mut raised: Vec<_> = revisions
        .iter()
        .filter(|revision| revision.revision == 1)
        .map(|revision| {
            let onset = revision.onset_at.map(|onset| onset.seconds_since(start));
            (revision.kind, onset)
        })
        .collect();
    raised.sort_by_key(|(kind, _)| *kind);
    raised
}

fn assert_alike(live: &[Advisory], file: &[Advisory], what: &str) {
    assert!(!file.is_empty());
    let first = |revisions: &[Advisory]| revisions.iter().map(|r| r.at).min().unwrap();
    let (live, file) = (raised(live, first(live)), raised(file, first(file)));
    assert_eq!(
        live.iter().map(|r| r.0).collect::<Vec<_>>(),
        file.iter().map(|r| r.0).collect::<Vec<_>>(),
        "{what}"
    );
    for (live, file) in live.iter().zip(&file) {
        let (Some(a), Some(b)) = (live.1, file.1) else {
            continue;
        };
        // Lines arrive some milliseconds later than the file says, on a busy machine more, and the
        // median of a wide band moves with them. The strict check is that of the recording.
        assert!((a - b).abs() < 15.0, "{what}: onset {a} against {b}");
    }
}

pub async fn send_in_time(lines: &[(f64, String)], mut send: impl FnMut(&str)) {
    // Begin on a whole second, so that the lines fall between the ticks as they do in the file.
    let wall_ms = SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .unwrap()
        .as_millis();
    let to_second_ms = 1005 - u64::try_from(wall_ms % 1000).unwrap();
    let begin = tokio::time::Instant::now() + Duration::from_millis(to_second_ms);
    for (at_s, line) in lines {
        tokio::time::sleep_until(begin + Duration::from_secs_f64(*at_s)).await;
        send(line);
    }
}

fn as_log(lines: &[(f64, String)]) -> impl Iterator<Item = LogLine> {
    lines.iter().map(|(at_s, line)| LogLine::Sentence {
        stamped: Some((
            Millis(1_780_300_800_000).plus_seconds(*at_s),
            skimwatch::drive::TimeSource::Tag,
        )),
        feed: "network".into(),
        text: line.clone(),
    })
}

pub fn free_udp() -> std::net::SocketAddr {
    UdpSocket::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap()
}

pub fn udp(bind: std::net::SocketAddr) -> FeedSpec {
    FeedSpec::Udp {
        bind,
        groups: Vec::new(),
        interface: None,
        share_port: false,
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn udp_gives_the_advisories_of_the_file_and_its_recording_the_same_bytes() {
    let lines = lines();
    let file = replay(as_log(&lines)).await;
    assert!(file.iter().any(|a| a.kind == Kind::BaitAirborne));

    let dir = tempfile::tempdir().unwrap();
    let address = free_udp();
    let mut running = start(udp(address), Some(dir.path()));
    running.listens().await;
    let socket = UdpSocket::bind("127.0.0.1:0").unwrap();
    send_in_time(&lines, |line| {
        socket
            .send_to(format!("{line}\r\n").as_bytes(), address)
            .unwrap();
    })
    .await;
    running.has_read(lines.len()).await;
    let live = running.finish().await;
    assert_alike(&live, &file, "UDP");

    let again = replay(recorded(dir.path()).into_iter()).await;
    assert_eq!(json(&live), json(&again));
}

/// A second sender with the same talker is another source, live and in the replay of the recording.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_second_udp_sender_with_the_same_talker_is_another_source() {
    let dir = tempfile::tempdir().unwrap();
    let address = free_udp();
    let mut running = start(udp(address), Some(dir.path()));
    running.listens().await;
    let first = UdpSocket::bind("127.0.0.1:0").unwrap();
    let second = UdpSocket::bind("127.0.0.2:0").unwrap();
    let heard = |running: &Running| -> Vec<String> {
        let sources = running
            .last()
            .map_or_else(Vec::new, |last| last.vessel.sources);
        sources.into_iter().map(|source| source.name).collect()
    };
    let names = ["network@127.0.0.1 HEHDT", "network@127.0.0.2 HEHDT"];
    running
        .wait_for("both sources", |running| {
            first.send_to(b"$HEHDT,090.0,T*26\r\n", address).unwrap();
            second.send_to(b"$HEHDT,190.0,T*27\r\n", address).unwrap();
            let heard = heard(running);
            names.iter().all(|name| heard.iter().any(|one| one == name))
        })
        .await;
    let live = running.finish().await;
    let lines = recorded(dir.path());
    let labels = lines.iter().filter(|line| {
        matches!(line, LogLine::Sentence { feed, .. } if feed.starts_with("network@127.0.0.2"))
    });
    assert!(labels.count() > 0, "the recording tells them apart");
    let again = replay(lines.into_iter()).await;
    assert_eq!(json(&live), json(&again));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_pseudo_terminal_at_4800_baud_gives_the_advisories_of_the_file() {
    let lines = lines();
    let file = replay(as_log(&lines)).await;
    let dir = tempfile::tempdir().unwrap();
    let name = dir.path().join("instruments");
    let mut cable = Cable::plug_in(&name);
    let mut running = start(
        FeedSpec::Serial {
            device: name,
            baud: 4800,
        },
        None,
    );
    running.listens().await;
    send_in_time(&lines, |line| {
        cable.send_slowly(&format!("{line}\r\n"));
    })
    .await;
    running.has_read(lines.len()).await;
    assert_alike(&running.finish().await, &file, "4800 baud");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_engine_that_dies_ends_the_driver_with_an_error() {
    let (_arrivals, arrivals) = mpsc::channel(1);
    let (_posts, crew) = mpsc::channel(1);
    let live = Live {
        arrivals,
        crew,
        learnt: None,
        journal: None,
        logbook: None,
        recorder: None,
        reports: Vec::new(),
        shutdown: CancellationToken::new(),
    };
    // The publisher runs on the engine's thread.
    let running = live.run(Engine::new(settings(), Mode::Live), |_| {
        panic!("invented fault")
    });
    let ended = tokio::time::timeout(PATIENCE, running).await;
    let words = ended
        .expect("it goes on without engine")
        .unwrap_err()
        .to_string();
    assert!(words.contains("invented fault"), "{words}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn silence_and_garbage_raise_data_lost_and_all_recovers_alone() {
    let lines: Vec<_> = lines()
        .into_iter()
        .filter(|(at_s, _)| *at_s < 4.0)
        .collect();
    let address = free_udp();
    let mut running = start(udp(address), None);
    running.listens().await;
    let socket = UdpSocket::bind("127.0.0.1:0").unwrap();
    let say = |line: &str| {
        socket
            .send_to(format!("{line}\r\n").as_bytes(), address)
            .unwrap();
    };
    send_in_time(&lines, say).await;
    running
        .wait_for("a forecast", Running::forecast_is_there)
        .await;

    // The wind sensor goes silent, the wire carries garbage; the compass goes on.
    let compass: Vec<_> = lines
        .iter()
        .filter(|(_, line)| line.contains("HDT") || line.contains("VHW"))
        .collect();
    let end = Instant::now() + PATIENCE;
    while !running.has(Kind::DataLost, None) {
        assert!(Instant::now() < end, "data-lost did not come");
        for (_, line) in &compass {
            say(line);
        }
        socket
            .send_to(&[0, 255, b'$', 7, b'*', 200], address)
            .unwrap();
        tokio::time::sleep(Duration::from_millis(200)).await;
    }
    assert!(
        !running.forecast_is_there(),
        "the forecast was not withdrawn"
    );

    // Back again: nobody touches anything.
    let instruments: Vec<_> = lines
        .iter()
        .filter(|(at_s, line)| *at_s < 3.0 && !line.starts_with("$P"))
        .collect();
    let end = Instant::now() + PATIENCE;
    while !running.has(Kind::DataLost, Some(Outcome::Restored)) {
        assert!(Instant::now() < end, "data-lost did not end");
        for (_, line) in &instruments {
            say(line);
        }
        tokio::time::sleep(Duration::from_millis(200)).await;
    }
    running
        .wait_for("a forecast", Running::forecast_is_there)
        .await;
    running.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn settings_changed_on_the_way_take_effect_and_their_recording_gives_the_same_bytes() {
    let lines = lines();
    let dir = tempfile::tempdir().unwrap();
    let address = free_udp();
    let mut running = start(udp(address), Some(dir.path()));
    let posts = running.posts.clone();
    let (settled, is_settled) = oneshot::channel();
    tokio::spawn(async move {
        is_settled.await.unwrap();
        // Half the kite and a heavier bait than the line out is for: the turn cannot lift the bait.
        let changes = [("rig.kite.area_m2", "0.7"), ("rig.bait.mass_kg", "0.6")];
        for (index, (key, value)) in changes.into_iter().enumerate() {
            let change = SettingChange {
                key: key.to_owned(),
                value: Some(value.to_owned()),
            };
            let more = u32::from(index == 0);
            let (reply, answer) = oneshot::channel();
            let input = CrewInput::Setting { change, more };
            let by = Some("mate's phone".into());
            posts.send(CrewPost { input, by, reply }).await.unwrap();
            answer.await.unwrap().unwrap();
        }
    });
    running.listens().await;
    let socket = UdpSocket::bind("127.0.0.1:0").unwrap();
    let mut settled = Some(settled);
    let mut left = lines.iter().filter(|(at_s, _)| *at_s < 6.0).count();
    send_in_time(&lines, |line| {
        socket
            .send_to(format!("{line}\r\n").as_bytes(), address)
            .unwrap();
        left = left.saturating_sub(1);
        if left == 0
            && let Some(settled) = settled.take()
        {
            settled.send(()).unwrap();
        }
    })
    .await;
    // A busy machine may still be at work on the last seconds.
    running
        .wait_for("an advisory", |run| run.has(Kind::BaitAirborne, None))
        .await;
    let live = running.finish().await;

    let items: Vec<_> = recorded(dir.path());
    let says_set = |item: &LogLine| match item {
        LogLine::Sentence { text, .. } => text.contains(",SET,"),
        LogLine::Refused { .. } => false,
    };
    assert_eq!(items.iter().filter(|item| says_set(item)).count(), 2);
    let again = replay(items.iter().cloned()).await;
    assert_eq!(json(&live), json(&again));
    // Without the change something else comes of it.
    let unchanged = replay(items.into_iter().filter(|item| !says_set(item))).await;
    assert_ne!(json(&live), json(&unchanged));
}
