//! The HTTP room while one address takes all it can get: others are served all the same. Addresses
//! of 127.0.0.0/8 stand for phones. `MEASURE=1 cargo test --test live serve_fair -- --nocapture`
//! prints how long a newcomer took, and holds it to a second at p99.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use futures_util::StreamExt;
use skimwatch::settings::ServeSettings;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpSocket, TcpStream};
use tokio::task::JoinSet;

use crate::PATIENCE;
use crate::serving::{Running, Stream, advice, run, run_with};

/// Sockets of the greedy address at once: more than twice the seats.
const SOCKETS: usize = 200;
/// How often a newcomer comes, each time with new connections.
const VISITS: usize = 100;
/// Pause before a socket that was closed is opened anew.
const AGAIN: Duration = Duration::from_millis(200);

/// Sockets by the hundred, one test at a time.
static ONE_AT_A_TIME: tokio::sync::Mutex<()> = tokio::sync::Mutex::const_new(());

#[derive(Debug, Clone, Copy)]
enum Misbehaviour {
    /// Asks nothing.
    Idle,
    /// Says its request byte by byte.
    SlowHead,
    /// Says that a body comes, and sends no more of it.
    SlowBody,
    /// Reads streams.
    Streams,
    /// Asks for streams and takes none of their bytes.
    TakesNothing,
}

async fn connect(to: SocketAddr, receive_bytes: u32) -> std::io::Result<TcpStream> {
    let socket = TcpSocket::new_v4()?;
    socket.set_recv_buffer_size(receive_bytes)?;
    socket.connect(to).await
}

impl Misbehaviour {
    /// One socket, until the other end closes it.
    async fn once(self, to: SocketAddr, opened: &AtomicUsize) -> std::io::Result<()> {
        let receive_bytes = match self {
            Self::TakesNothing => 2048,
            _ => 64 * 1024,
        };
        let mut socket = connect(to, receive_bytes).await?;
        let begin: &[u8] = match self {
            Self::Idle => b"",
            Self::SlowHead => b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: ",
            Self::SlowBody => {
                b"POST /v1/crew/bait HTTP/1.1\r\nHost: 127.0.0.1\r\n\
                  Content-Type: application/json\r\nContent-Length: 100\r\n\r\n{"
            }
            Self::Streams | Self::TakesNothing => {
                b"GET /v1/state/stream HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n"
            }
        };
        socket.write_all(begin).await?;
        opened.fetch_add(1, Ordering::Relaxed);
        match self {
            Self::SlowHead => loop {
                tokio::time::sleep(AGAIN).await;
                socket.write_all(b"x").await?;
            },
            Self::TakesNothing => {
                // Only a socket that is read hears of its end.
                for _ in 0..10 {
                    tokio::time::sleep(AGAIN).await;
                }
            }
            Self::Idle | Self::SlowBody | Self::Streams => {
                let mut bytes = vec![0; 16 * 1024];
                while socket.read(&mut bytes).await? > 0 {}
            }
        }
        Ok(())
    }
}

fn address(room: &Running) -> SocketAddr {
    room.base.strip_prefix("http://").unwrap().parse().unwrap()
}

/// A phone that keeps no connection.
fn phone(last: u8) -> reqwest::Client {
    reqwest::Client::builder()
        .local_address(IpAddr::from(Ipv4Addr::new(127, 0, 0, last)))
        .pool_max_idle_per_host(0)
        .build()
        .unwrap()
}

/// A phone comes: the page, the state, and the first of a stream.
async fn visit(base: &str) -> Duration {
    let phone = phone(2);
    let began = Instant::now();
    for path in ["/", "/v1/state"] {
        let answer = phone.get(format!("{base}{path}")).send().await.unwrap();
        assert_eq!(answer.status(), 200, "{path}");
        answer.bytes().await.unwrap();
    }
    let stream = phone.get(format!("{base}/v1/state/stream")).send().await;
    let stream = stream.unwrap();
    assert_eq!(stream.status(), 200);
    stream.bytes_stream().next().await.unwrap().unwrap();
    began.elapsed()
}

async fn newcomers_are_served_despite(misbehaviour: Misbehaviour) {
    let _alone = ONE_AT_A_TIME.lock().await;
    let room = run_with(advice(), ServeSettings::default()).await;
    let to = address(&room);
    let opened = Arc::new(AtomicUsize::new(0));
    let mut greedy = JoinSet::new();
    for _ in 0..SOCKETS {
        let opened = Arc::clone(&opened);
        greedy.spawn(async move {
            loop {
                let _closed = misbehaviour.once(to, &opened).await;
                tokio::time::sleep(AGAIN).await;
            }
        });
    }
    let end = Instant::now() + PATIENCE;
    while opened.load(Ordering::Relaxed) < SOCKETS {
        assert!(Instant::now() < end, "the greedy sockets do not open");
        tokio::time::sleep(Duration::from_millis(10)).await;
    }
    let mut took = Vec::new();
    for i in 0..VISITS {
        if i % 10 == 0 {
            room.tick(i as f64);
        }
        let visiting = tokio::time::timeout(PATIENCE, visit(&room.base));
        took.push(visiting.await.expect("served at all"));
    }
    took.sort();
    let [median, p99, worst] = [VISITS / 2, VISITS * 99 / 100 - 1, VISITS - 1].map(|i| took[i]);
    println!("{misbehaviour:?}: median {median:.1?}, p99 {p99:.1?}, worst {worst:.1?}");
    // A busy machine may stop us for a second now and then, but not half of the time.
    assert!(median < Duration::from_secs(1), "{median:?}");
    if std::env::var_os("MEASURE").is_some() {
        assert!(p99 < Duration::from_secs(1), "{p99:?}");
    }
    // It was crowded indeed.
    let count = async |metric: &str| room.metric(metric).await.parse::<u64>().unwrap();
    let displaced = count("skimwatch_connections_closed_total{cause=\"displaced\"}").await;
    let full = count("skimwatch_connections_closed_total{cause=\"full\"}").await;
    let streams = count("skimwatch_stream_dropped_total{cause=\"displaced\"}").await;
    match misbehaviour {
        Misbehaviour::Streams | Misbehaviour::TakesNothing => assert!(streams > 0),
        _ => assert!(displaced + full > 0),
    }
    greedy.shutdown().await;
    room.shutdown.cancel();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_newcomer_is_served_among_idle_connections() {
    newcomers_are_served_despite(Misbehaviour::Idle).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_newcomer_is_served_among_slow_heads() {
    newcomers_are_served_despite(Misbehaviour::SlowHead).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_newcomer_is_served_among_slow_bodies() {
    newcomers_are_served_despite(Misbehaviour::SlowBody).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_newcomer_is_served_among_streams() {
    newcomers_are_served_despite(Misbehaviour::Streams).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_newcomer_is_served_among_readers_that_take_nothing() {
    newcomers_are_served_despite(Misbehaviour::TakesNothing).await;
}

#[tokio::test]
async fn slow_bodies_hold_no_permit() {
    let room = run(advice()).await;
    // More than there are permits (`src/serve/seats.rs`), fewer than connections.
    let mut slow = Vec::new();
    for _ in 0..40 {
        let mut client = connect(address(&room), 64 * 1024).await.unwrap();
        client
            .write_all(
                b"POST /v1/crew/bait HTTP/1.1\r\nHost: 127.0.0.1\r\n\
                  Content-Type: application/json\r\nContent-Length: 100\r\n\r\n{",
            )
            .await
            .unwrap();
        slow.push(client);
    }
    // From the same address, while all of them are still waited for.
    for _ in 0..5 {
        let answer = reqwest::get(format!("{}/v1/state", room.base)).await;
        assert_eq!(answer.unwrap().status(), 200);
    }
    let mut answers = Vec::new();
    for mut client in slow {
        let mut answer = String::new();
        let reading = client.read_to_string(&mut answer);
        let read = tokio::time::timeout(PATIENCE, reading).await;
        read.expect("an answer and an end").unwrap();
        answers.push(answer);
    }
    for answer in answers {
        assert!(answer.starts_with("HTTP/1.1 408 "), "{answer}");
    }
    room.shutdown.cancel();
}

#[tokio::test]
async fn a_stream_of_whoever_has_most_makes_room_for_a_newcomer() {
    let room = run(advice()).await;
    let url = format!("{}/v1/advisories/stream", room.base);
    let (many, few) = (phone(1), phone(2));
    let open = async |phone: &reqwest::Client| phone.get(&url).send().await.unwrap();
    let ends = async |stream: reqwest::Response| {
        let ending = tokio::time::timeout(PATIENCE, stream.text());
        ending.await.expect("an end").unwrap()
    };
    // The settings of these tests have four.
    let mut first = Vec::new();
    for _ in 0..4 {
        first.push(open(&many).await);
        assert_eq!(first[first.len() - 1].status(), 200);
    }
    assert_eq!(open(&many).await.status(), 503, "no more for the same");
    let mut second = [open(&few).await, open(&few).await];
    assert!(second.iter().all(|stream| stream.status() == 200));
    assert_eq!(open(&few).await.status(), 503, "two each are fair");
    assert_eq!(open(&many).await.status(), 503);
    // The two that were open for longest have ended, in order; the others go on.
    let mut first = first.into_iter();
    for _ in 0..2 {
        let text = ends(first.next().unwrap()).await;
        assert!(text.contains("event: living"), "{text}");
    }
    for stream in second.iter_mut().chain(&mut first.collect::<Vec<_>>()) {
        for _ in 0..3 {
            assert!(stream.chunk().await.unwrap().is_some());
        }
    }
    let displaced = "skimwatch_stream_dropped_total{cause=\"displaced\"}";
    assert_eq!(room.metric(displaced).await, "2");
    room.shutdown.cancel();
}

#[tokio::test]
async fn fifty_phones_behind_one_address_have_all_they_want_while_nobody_else_comes() {
    let _alone = ONE_AT_A_TIME.lock().await;
    let settings = ServeSettings {
        heartbeat_s: 0.2,
        connections: 160,
        streams: 100,
        ..ServeSettings::default()
    };
    let room = run_with(advice(), settings).await;
    let mut streams = Vec::new();
    for _ in 0..50 {
        for path in ["/v1/state/stream", "/v1/advisories/stream"] {
            streams.push(Stream::open(&room.base, path, None).await);
        }
        let state = reqwest::get(format!("{}/v1/state", room.base)).await;
        assert_eq!(state.unwrap().status(), 200);
    }
    for stream in &mut streams {
        stream.block().await.expect("the stream goes on");
    }
    for closed in [
        "skimwatch_stream_refused_total",
        "skimwatch_stream_dropped_total{cause=\"displaced\"}",
        "skimwatch_connections_closed_total{cause=\"full\"}",
        "skimwatch_connections_closed_total{cause=\"displaced\"}",
    ] {
        assert_eq!(room.metric(closed).await, "0", "{closed}");
    }
    room.shutdown.cancel();
}
