//! Event streams over real sockets.

use std::sync::Arc;
use std::time::{Duration, Instant};

use serde_json::Value;
use skimwatch::settings::ServeSettings;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpSocket, TcpStream};

use crate::PATIENCE;
use crate::invented::{self, START, moment};
use crate::serving::{Stream, advice, run, run_with};

const STREAM: &str = "/v1/advisories/stream";

#[tokio::test]
async fn revisions_come_as_they_are_published_with_ids() {
    let room = run(advice()).await;
    let mut stream = Stream::open(&room.base, STREAM, None).await;
    let (_, living) = stream.named("living").await;
    assert_eq!(living.as_array().unwrap().len(), 2);
    room.publish(1..=2);
    let (first, value) = stream.named("advisory").await;
    assert_eq!(value["revision"], 1);
    let (second, value) = stream.named("advisory").await;
    assert_eq!(value["revision"], 2);
    assert_ne!(first.id, second.id);
    room.shutdown.cancel();
}

#[tokio::test]
async fn a_client_that_comes_back_gets_what_it_missed_or_is_told() {
    let room = run(advice()).await;
    room.publish(1..=1);
    let mut stream = Stream::open(&room.base, STREAM, None).await;
    let (living, _) = stream.named("living").await;
    drop(stream);
    room.publish(2..=3);
    let mut stream = Stream::open(&room.base, STREAM, Some(&living.id)).await;
    assert_eq!(stream.named("advisory").await.1["revision"], 2);
    assert_eq!(stream.named("advisory").await.1["revision"], 3);
    drop(stream);
    // The history of these tests keeps four.
    room.publish(4..=9);
    let mut stream = Stream::open(&room.base, STREAM, Some(&living.id)).await;
    let (_, gap) = stream.named("gap").await;
    assert!(gap["why"].as_str().unwrap().contains("keeps 4"), "{gap}");
    stream.named("living").await;
    room.publish(10..=10);
    assert_eq!(stream.named("advisory").await.1["revision"], 10);
    let mut stream = Stream::open(&room.base, STREAM, Some("another-run-5")).await;
    let (_, gap) = stream.named("gap").await;
    assert!(gap["why"].as_str().unwrap().contains("started anew"));
    room.shutdown.cancel();
}

#[tokio::test]
async fn a_quiet_stream_says_that_it_is_alive() {
    let room = run(advice()).await;
    let mut stream = Stream::open(&room.base, STREAM, None).await;
    stream.named("living").await;
    for _ in 0..3 {
        assert!(stream.block().await.unwrap().comment);
    }
    room.shutdown.cancel();
}

#[tokio::test]
async fn the_state_stream_follows_ticks_and_sends_a_forecast_once() {
    let room = run(advice()).await;
    let mut stream = Stream::open(&room.base, "/v1/state/stream", None).await;
    let (_, forecast) = stream.named("forecast").await;
    assert_eq!(forecast["forecast"]["futures"], 64);
    assert_eq!(stream.named("state").await.1["at_unix_ms"], START.0);
    // A tick with the same forecast, then one with another.
    let mut next = moment("advice", START);
    next.at = START.plus_seconds(1.0);
    room.boat.tick.send_replace(Arc::new(next));
    assert_eq!(stream.named("state").await.1["at_unix_ms"], START.0 + 1000);
    room.boat
        .tick
        .send_replace(Arc::new(moment("no-wind", START.plus_seconds(2.0))));
    assert_eq!(stream.named("forecast").await.1["forecast"], Value::Null);
    stream.named("state").await;
    // Without a tick it still beats.
    stream.named("beat").await;
    room.shutdown.cancel();
}

#[tokio::test]
async fn shutdown_ends_open_streams_at_once() {
    let room = run(advice()).await;
    let mut first = Stream::open(&room.base, STREAM, None).await;
    let mut second = Stream::open(&room.base, "/v1/state/stream", None).await;
    first.event().await.unwrap();
    second.event().await.unwrap();
    room.shutdown.cancel();
    let ended = tokio::time::timeout(PATIENCE, room.ended).await;
    ended.expect("no open stream holds it up").unwrap();
    while first.block().await.is_some() {}
    while second.block().await.is_some() {}
}

#[tokio::test]
async fn more_streams_than_seats_are_refused_openly() {
    let room = run(advice()).await;
    let mut open = Vec::new();
    for _ in 0..invented::settings().streams {
        open.push(Stream::open(&room.base, STREAM, None).await);
    }
    let refused = reqwest::get(format!("{}{STREAM}", room.base))
        .await
        .unwrap();
    assert_eq!(refused.status(), 503);
    assert_eq!(
        refused.headers()["content-type"],
        "application/problem+json"
    );
    assert_eq!(
        room.metric("skimwatch_stream_readers{stream=\"advisories\"}")
            .await,
        "4"
    );
    room.shutdown.cancel();
}

/// Opens a stream and never reads from it, with a receive buffer that fills soon.
async fn sleeping_client(base: &str, path: &str) -> TcpStream {
    let socket = TcpSocket::new_v4().unwrap();
    socket.set_recv_buffer_size(2048).unwrap();
    let address = base.strip_prefix("http://").unwrap().parse().unwrap();
    let mut client = socket.connect(address).await.unwrap();
    let request = format!("GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n");
    client.write_all(request.as_bytes()).await.unwrap();
    client
}

#[tokio::test]
async fn a_slow_client_is_dropped_and_counted_and_slows_nobody() {
    let room = run(advice()).await;
    let mut sleeper = sleeping_client(&room.base, "/v1/state/stream").await;
    let mut awake = Stream::open(&room.base, "/v1/state/stream", None).await;
    awake.named("forecast").await;
    awake.named("state").await;
    let stalled = "skimwatch_stream_dropped_total{cause=\"stalled\"}";
    let began = Instant::now();
    let mut tick = 0;
    while room.metric(stalled).await == "0" {
        assert!(began.elapsed() < PATIENCE, "never dropped");
        tick += 1;
        let at = START.plus_seconds(f64::from(tick));
        let sent = Instant::now();
        room.boat.tick.send_replace(Arc::new(moment("advice", at)));
        awake.named("forecast").await;
        let (_, state) = awake.named("state").await;
        assert_eq!(state["at_unix_ms"], at.0);
        assert!(
            sent.elapsed() < Duration::from_millis(500),
            "{:?}",
            sent.elapsed()
        );
    }
    // The sleeper's connection is really gone: what was under way ends.
    let mut rest = Vec::new();
    let end = tokio::time::timeout(PATIENCE, sleeper.read_to_end(&mut rest)).await;
    assert!(end.is_ok(), "the connection is still open");
    room.shutdown.cancel();
}

#[tokio::test]
async fn a_phone_on_a_poor_link_is_shown_the_newest_soon() {
    const TICKS: u32 = 40;
    // Of what was made while the phone took nothing; before the rest was left out, all of it came.
    const OLD: usize = 12;
    let patient = ServeSettings {
        slow_client_s: 60.0,
        ..invented::settings()
    };
    let room = run_with(advice(), patient).await;
    let mut slow = sleeping_client(&room.base, "/v1/state/stream").await;
    let mut awake = Stream::open(&room.base, "/v1/state/stream", None).await;
    awake.named("forecast").await;
    awake.named("state").await;
    for tick in 1..=TICKS {
        let mut next = moment("advice", START);
        next.at = START.plus_seconds(f64::from(tick));
        room.boat.tick.send_replace(Arc::new(next));
        awake.named("state").await;
    }
    let newest = format!("\"at_unix_ms\":{}", START.plus_seconds(f64::from(TICKS)).0);
    let mut taken = Vec::new();
    let end = Instant::now() + PATIENCE;
    loop {
        let text = String::from_utf8_lossy(&taken);
        if text.contains(&newest) {
            let states = text.matches("event: state").count();
            assert!(states <= OLD, "{states} states until the newest");
            break;
        }
        assert!(Instant::now() < end, "the newest does not come");
        let read = tokio::time::timeout(PATIENCE, slow.read_buf(&mut taken)).await;
        assert!(read.unwrap().unwrap() > 0, "it was dropped");
    }
    room.shutdown.cancel();
}

#[tokio::test]
async fn a_reader_too_far_behind_is_dropped_and_can_come_back() {
    let room = run(advice()).await;
    let mut stream = Stream::open(&room.base, STREAM, None).await;
    let (living, _) = stream.named("living").await;
    // More at once than the room lets a reader lag behind.
    room.publish(1..=500);
    let mut came = 0;
    while stream.event().await.is_some() {
        came += 1;
    }
    assert!(came < 500, "nothing was dropped");
    let lagged = "skimwatch_stream_dropped_total{cause=\"lagged\"}";
    assert_eq!(room.metric(lagged).await, "1");
    let mut again = Stream::open(&room.base, STREAM, Some(&living.id)).await;
    again.named("gap").await;
    room.shutdown.cancel();
}
