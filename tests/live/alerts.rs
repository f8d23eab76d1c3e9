//! Alert sentences: the life of an alert, commands of displays, what a line at 4800 baud can carry,
//! over a pseudo-terminal, UDP and TCP.

use std::collections::BTreeMap;
use std::io::Read as _;
use std::sync::Arc;
use std::time::Duration;

use skimwatch::advice::{Action, Advisory, AlertState, Kind, Priority};
use skimwatch::alert::{Board, Command, Queue, Verdict};
use skimwatch::decode::CrewInput;
use skimwatch::drive::send_alerts;
use skimwatch::feed::{Arrival, FeedName, RawSentence};
use skimwatch::serve::CrewPost;
use skimwatch::settings::AlertSettings;
use skimwatch::time::Millis;
use tokio::net::{TcpListener, UdpSocket};
use tokio::sync::{mpsc, watch};
use tokio::time::{Instant, timeout};
use tokio_util::sync::CancellationToken;

use crate::PATIENCE;
use crate::feed_serial::Cable;
use crate::invented::{START, moment, sinking, will_fly};

fn flying(state: AlertState) -> Advisory {
    will_fly(START, Priority::Warning, state)
}

/// An advisory of another kind.
fn of_kind(kind: Kind, number: u32, by_m: f64) -> Advisory {
    let mut advisory = flying(AlertState::ActiveUnacknowledged);
    advisory.id = format!("{kind}-{number}");
    advisory.kind = kind;
    if let Some(Action::MoveLine { by_m: by, .. }) = advisory.actions.first_mut() {
        *by = by_m;
    }
    advisory
}

/// The fields of each sentence of a kind.
fn sentences(text: &str, formatter: &str) -> Vec<Vec<String>> {
    let begin = format!("$II{formatter},");
    let bodies = text.lines().filter_map(|line| line.strip_prefix(&begin));
    bodies
        .map(|body| {
            let (body, _) = body.split_once('*').unwrap();
            body.split(',').map(str::to_owned).collect()
        })
        .collect()
}

/// Exclusive-or of what stands between `$` and `*`, as NMEA 0183 has it.
fn assert_sound(text: &str) {
    for line in text.split_inclusive("\r\n") {
        assert!(line.len() <= 82 && line.ends_with("\r\n"), "{line:?}");
        let (body, sum) = line
            .trim_end()
            .strip_prefix('$')
            .unwrap()
            .split_once('*')
            .unwrap();
        let own = body.bytes().fold(0, |sum, byte| sum ^ byte);
        assert_eq!(sum, format!("{own:02X}"), "{line}");
    }
}

/// State and revision in the first sentence of each ALF.
fn states(text: &str) -> Vec<(String, String)> {
    let first = sentences(text, "ALF");
    let first = first.iter().filter(|fields| fields[1] == "1");
    first.map(|f| (f[6].clone(), f[10].clone())).collect()
}

/// What is told from this second on, within the second.
fn told(queue: &mut Queue, board: &Board, at_s: u64) -> String {
    let steps = (0..10_u8).map(|step| at_s as f64 + 0.1 * f64::from(step));
    let text: String = steps.map(|now| queue.due(board.shown(), now)).collect();
    assert_sound(&text);
    text
}

#[test]
fn an_alert_is_told_with_each_change_until_it_is_over() {
    let (mut board, mut queue) = (Board::new(false), Queue::new(true));
    assert!(board.see(START, &[flying(AlertState::ActiveUnacknowledged)]));
    let text = told(&mut queue, &board, 0);
    let alf = sentences(&text, "ALF");
    // Title within 16 characters, then the order.
    assert_eq!(alf[0][8..], ["10001", "3", "1", "0", "BAIT MAY FLY"]);
    assert_eq!(alf[0][4..8], ["B", "W", "V", "SKW"]);
    assert_eq!(alf[1][12], "LET OUT 4 m MAIN LINE");
    assert_eq!(alf[0][2], alf[1][2], "one message");
    assert_eq!(sentences(&text, "HBT").len(), 1);
    assert_eq!(
        sentences(&text, "TXT")[0][2..],
        ["01", "WARNING BAIT MAY FLY: LET OUT 4 m MAIN LINE"]
    );
    assert_eq!(
        sentences(&text, "ALC")[0][3..],
        ["01", "SKW", "10001", "3", "1"]
    );

    // Nothing new: nothing told, though its countdown runs.
    let mut later = flying(AlertState::ActiveUnacknowledged);
    later.countdown_s = 20.0;
    assert!(!board.see(START.plus_seconds(5.0), &[later]));
    assert_eq!(told(&mut queue, &board, 5), "");
    // Seen; another amount; over.
    board.see(
        START.plus_seconds(6.0),
        &[flying(AlertState::ActiveAcknowledged)],
    );
    assert_eq!(
        states(&told(&mut queue, &board, 6)),
        [("A".into(), "2".into())]
    );
    let mut more = flying(AlertState::ActiveAcknowledged);
    more.actions = vec![Action::LimitTurn { rate_deg_s: 2.0 }];
    board.see(START.plus_seconds(7.0), &[more]);
    let text = told(&mut queue, &board, 8);
    assert_eq!(
        sentences(&text, "ALF")[1][12],
        "TURN SLOWER: 2.0 deg/s AT MOST"
    );
    board.see(START.plus_seconds(9.0), &[]);
    let text = told(&mut queue, &board, 9);
    assert_eq!(states(&text), [("N".into(), "4".into())]);
    assert_eq!(sentences(&text, "TXT")[0][3], "OVER BAIT MAY FLY");
    // The list of what is not over is empty, and the alert is forgotten in the end.
    assert_eq!(
        sentences(&told(&mut queue, &board, 40), "ALC")[0][3..],
        ["00"]
    );
    board.see(START.plus_seconds(70.0), &[]);
    assert!(board.shown().is_empty());
}

#[test]
fn words_of_feeds_and_settings_are_not_told_and_lengths_are_the_crews() {
    let mut advisory = of_kind(Kind::DataLost, 1, 0.0);
    advisory.cause = "no wind (last from <script> $GPXXX)".to_owned();
    advisory.actions = vec![Action::See {
        what: "check mast_head".to_owned(),
    }];
    let mut board = Board::new(true);
    board.see(START, &[advisory, of_kind(Kind::BaitDragging, 1, -6.0)]);
    let text = told(&mut Queue::new(true), &board, 0);
    assert!(
        !text.contains("script") && !text.contains("mast_head"),
        "{text}"
    );
    // 6 m are 19.7 ft: own arithmetic.
    assert!(text.contains("WIND IN 20 ft MAIN LINE"), "{text}");
}

#[test]
fn commands_are_granted_or_refused() {
    let mut board = Board::new(false);
    let caution = sinking(START);
    board.see(START, &[flying(AlertState::ActiveUnacknowledged), caution]);
    let take = |board: &mut Board, body: &str| {
        let command = Command::read(&format!("$RAACN,,SKW,{body},C*00")).unwrap();
        board.take(START, &command)
    };
    let refused = |verdict: &Verdict, what: &str| {
        let Verdict::Refused(sentence) = verdict else {
            panic!("{verdict:?}");
        };
        assert_sound(sentence);
        assert!(sentence.contains(what), "{sentence}");
    };
    assert_eq!(
        take(&mut board, "10001,3,A"),
        Verdict::Acknowledge(vec![("bait-airborne-3".to_owned(), Priority::Warning)])
    );
    assert_eq!(take(&mut board, "10001,3,S"), Verdict::Silence);
    assert_eq!(take(&mut board, "10001,,Q"), Verdict::Again);
    // All instances at once, another instance, another kind, a caution, responsibility.
    for body in [
        "10001,0,A",
        "10001,,A",
        "10001,4,A",
        "10002,1,A",
        "10007,1,A",
        "10001,3,O",
    ] {
        let (what, letter) = body.rsplit_once(',').unwrap();
        let verdict = take(&mut board, body);
        refused(&verdict, &format!(",SKW,{what},{letter}*"));
    }
    // Acknowledged already.
    board.see(START, &[flying(AlertState::ActiveAcknowledged)]);
    refused(&take(&mut board, "10001,3,A"), ",SKW,10001,3,A*");
    refused(&take(&mut board, "10001,3,S"), ",SKW,10001,3,S*");
    // Older displays name the text; nothing refuses them.
    board.see(START, &[flying(AlertState::RectifiedUnacknowledged)]);
    let older = |text| Command::read(&format!("$VRACK,{text}*00")).unwrap();
    assert!(matches!(
        board.take(START, &older("001")),
        Verdict::Acknowledge(_)
    ));
    assert_eq!(board.take(START, &older("002")), Verdict::Nothing);
}

/// At 4800 baud with one start and one stop bit a second carries 480 bytes.
const CARRIED_PER_S: usize = 480;

#[test]
fn however_wildly_alerts_change_the_line_is_never_overloaded_and_the_last_word_is_told() {
    let kinds = [
        Kind::BaitAirborne,
        Kind::BaitDragging,
        Kind::LineFoul,
        Kind::DataLost,
    ];
    let (mut board, mut queue) = (Board::new(false), Queue::new(true));
    let mut sent: Vec<(u64, usize)> = Vec::new();
    let mut text = String::new();
    for ms in (0..300_000_u64).step_by(100) {
        if ms < 280_000 {
            let number = |i: usize| u32::try_from(i + 1).unwrap();
            let living: Vec<_> = (0..12)
                .map(|i| of_kind(kinds[i % 4], number(i), 1.0 + ((ms / 100) % 40) as f64))
                .collect();
            board.see(START.plus_seconds(ms as f64 / 1000.0), &living);
        }
        let now = queue.due(board.shown(), ms as f64 / 1000.0);
        sent.push((ms, now.len()));
        text.push_str(&now);
    }
    assert_sound(&text);
    for window in sent.windows(10) {
        let bytes: usize = window.iter().map(|(_, bytes)| bytes).sum();
        assert!(bytes <= CARRIED_PER_S, "{window:?}");
    }
    let in_all: usize = sent.iter().map(|(_, bytes)| bytes).sum();
    assert!(in_all <= 301 * CARRIED_PER_S / 2, "{in_all}");
    // Heartbeats come in time in spite of it, and the last revision of each has been told.
    let beats = sentences(&text, "HBT").len();
    assert_eq!(beats, 10);
    let mut last = BTreeMap::new();
    for fields in sentences(&text, "ALF") {
        last.insert((fields[8].clone(), fields[9].clone()), fields[10].clone());
    }
    assert_eq!(last.len(), 12);
    for (key, entry) in board.shown() {
        let told = &last[&(key.number.to_string(), key.instance.to_string())];
        assert_eq!(*told, entry.revision.to_string(), "{key:?}");
    }
}

/// Alerts of the invented boat on their way out.
struct Sending {
    tick: watch::Sender<Arc<skimwatch::engine::Snapshot>>,
    crew: mpsc::Receiver<CrewPost>,
    to_feed: mpsc::Sender<Arrival>,
    handed_on: mpsc::Receiver<Arrival>,
    shutdown: CancellationToken,
}

impl Sending {
    fn to(settings: &AlertSettings) -> Self {
        let (tick, snapshot) = watch::channel(Arc::new(moment("calm", START)));
        let (posts, crew) = mpsc::channel(8);
        let shutdown = CancellationToken::new();
        let commands = send_alerts(settings, false, snapshot, posts, shutdown.clone());
        let (to_feed, from) = mpsc::channel(8);
        let (to, handed_on) = mpsc::channel(8);
        tokio::spawn(commands.listen(from, to));
        Self {
            tick,
            crew,
            to_feed,
            handed_on,
            shutdown,
        }
    }

    fn show(&self, state: AlertState, after_s: f64) {
        let at = START.plus_seconds(after_s);
        let mut now = moment("advice", at);
        now.advisories = vec![will_fly(at, Priority::Warning, state)];
        self.tick.send_replace(Arc::new(now));
    }

    /// A display says something on the feed.
    async fn says(&mut self, body: &str) {
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        let arrival = Arrival {
            feed: FeedName::new("display").unwrap(),
            origin: None,
            sentence: RawSentence::own(format!("${body}*{sum:02X}")),
        };
        self.to_feed.send(arrival.clone()).await.unwrap();
        // What it says is recorded like anything that is heard.
        let on = timeout(PATIENCE, self.handed_on.recv()).await.unwrap();
        assert_eq!(on.unwrap().sentence.text, arrival.sentence.text);
    }

    async fn crew_hears(&mut self) -> CrewInput {
        let post = timeout(PATIENCE, self.crew.recv()).await.unwrap().unwrap();
        assert_eq!(post.by.as_deref(), Some("alert display"));
        post.input
    }
}

/// Reads until the text has what is wanted.
async fn until(mut more: impl AsyncFnMut() -> String, wanted: &str) -> String {
    let end = Instant::now() + PATIENCE;
    let mut text = String::new();
    while !text.contains(wanted) {
        assert!(Instant::now() < end, "{wanted} does not come: {text}");
        text.push_str(&more().await);
    }
    text
}

#[tokio::test(flavor = "multi_thread")]
async fn over_udp_an_alert_is_raised_acknowledged_silenced_and_refused() {
    let display = UdpSocket::bind("127.0.0.1:0").await.unwrap();
    let mut sending = Sending::to(&AlertSettings {
        udp: Some(display.local_addr().unwrap()),
        ..AlertSettings::default()
    });
    let more = async || {
        let mut buffer = [0; 200];
        let count = timeout(PATIENCE, display.recv(&mut buffer)).await.unwrap();
        String::from_utf8(buffer[..count.unwrap()].to_vec()).unwrap()
    };
    sending.show(AlertState::ActiveUnacknowledged, 1.0);
    let text = until(more, ",B,W,V,SKW,10001,3,1,0,BAIT MAY FLY*").await;
    assert_sound(&text);
    sending.says("RAACN,,SKW,10001,3,S,C").await;
    assert_eq!(
        sending.crew_hears().await,
        CrewInput::Silence { minutes: 0.5 }
    );
    // Of another maker: nobody minds.
    sending.says("RAACN,,XYZ,10001,3,A,C").await;
    sending.says("RAACN,,SKW,10001,3,A,C").await;
    assert_eq!(
        sending.crew_hears().await,
        CrewInput::Acknowledge {
            advisory: "bait-airborne-3".to_owned(),
            priority: Some(Priority::Warning),
        }
    );
    sending.show(AlertState::ActiveAcknowledged, 2.0);
    until(more, ",B,W,A,SKW,10001,3,2,0,").await;
    sending.says("RAACN,,SKW,10001,3,A,C").await;
    until(more, "ARC,").await;
    sending.says("RAACN,,SKW,10001,3,Q,C").await;
    until(more, ",B,W,A,SKW,10001,3,2,0,").await;
    assert!(sending.crew.try_recv().is_err());
    sending.shutdown.cancel();
}

#[tokio::test(flavor = "multi_thread")]
async fn over_a_serial_line_no_more_comes_than_4800_baud_carry() {
    let dir = tempfile::tempdir().unwrap();
    let device = dir.path().join("display");
    let cable = Cable::plug_in(&device);
    let sending = Sending::to(&AlertSettings {
        serial: Some((device, 4800)),
        with_txt: true,
        ..AlertSettings::default()
    });
    let mut far = cable.far_end();
    let reading = tokio::task::spawn_blocking(move || {
        let begun = std::time::Instant::now();
        let (mut text, mut buffer) = (String::new(), [0; 512]);
        while !text.contains("OVER BAIT MAY FLY") {
            let count = far.read(&mut buffer).unwrap();
            text.push_str(std::str::from_utf8(&buffer[..count]).unwrap());
        }
        (text, begun.elapsed())
    });
    // Something else each tenth of a second, and at last over.
    for tenth in 0..40 {
        let state = [
            AlertState::ActiveUnacknowledged,
            AlertState::ActiveAcknowledged,
        ];
        sending.show(state[tenth % 2], tenth as f64 / 10.0);
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    sending
        .tick
        .send_replace(Arc::new(moment("calm", START.plus_seconds(5.0))));
    let (text, took) = timeout(PATIENCE, reading).await.unwrap().unwrap();
    assert_sound(&text);
    let most = CARRIED_PER_S as f64 * (1.0 + 0.5 * took.as_secs_f64());
    assert!(
        (text.len() as f64) <= most,
        "{} bytes in {took:?}",
        text.len()
    );
    assert!(states(&text).len() > 3, "{text}");
    sending.shutdown.cancel();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_gateway_that_comes_back_is_told_everything_anew() {
    let gateway = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let sending = Sending::to(&AlertSettings {
        tcp: Some(gateway.local_addr().unwrap()),
        ..AlertSettings::default()
    });
    let mut tenths = 0;
    for _ in 0..2 {
        // Something else each tenth of a second, so that a connection that is lost is noticed.
        let accepting = timeout(PATIENCE, gateway.accept());
        tokio::pin!(accepting);
        let accepted = loop {
            tokio::select! {
                accepted = &mut accepting => break accepted,
                () = tokio::time::sleep(Duration::from_millis(100)) => {
                    tenths += 1;
                    let state = [AlertState::ActiveUnacknowledged, AlertState::ActiveAcknowledged];
                    sending.show(state[tenths % 2], tenths as f64 / 10.0);
                }
            }
        };
        let (stream, _) = accepted.unwrap().unwrap();
        let more = async || {
            let mut buffer = [0; 512];
            timeout(PATIENCE, stream.readable()).await.unwrap().unwrap();
            let count = stream.try_read(&mut buffer).unwrap_or(0);
            String::from_utf8(buffer[..count].to_vec()).unwrap()
        };
        let text = until(more, "$IIALC,").await;
        assert!(text.starts_with("$IIHBT,"), "{text}");
        assert!(states(&text).len() <= 1, "once: {text}");
    }
    sending.shutdown.cancel();
}

#[test]
fn times_of_change_are_utc() {
    let mut board = Board::new(false);
    // 2009-02-13T23:31:30.120Z (arithmetic from the definition).
    board.see(
        Millis(1_234_567_890_120),
        &[flying(AlertState::ActiveUnacknowledged)],
    );
    let text = told(&mut Queue::new(false), &board, 0);
    assert_eq!(sentences(&text, "ALF")[0][3], "233130.12");
}
