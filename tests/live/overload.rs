//! A computer that is too slow for its work: it says so, loses nothing, and its recording gives the
//! same advisories again. Slowness is made by letting every picture take longer.

use std::net::UdpSocket;
use std::sync::atomic::Ordering;
use std::time::Duration;

use skimwatch::advice::{Kind, Outcome};
use skimwatch::decode::{CrewInput, Line};
use skimwatch::serve::CrewPost;
use skimwatch::units;
use tokio::sync::oneshot;

use crate::chain::{Running, free_udp, json, lines, recorded, replay, start, udp};

/// Instruments that go on speaking: an announced turn and what follows, over and over.
fn speak(address: std::net::SocketAddr) -> tokio::task::JoinHandle<()> {
    let lines = lines();
    let socket = UdpSocket::bind("127.0.0.1:0").unwrap();
    tokio::spawn(async move {
        let begin = tokio::time::Instant::now();
        for round in 0..60 {
            for (at_s, line) in &lines {
                let due = f64::from(round) * 16.0 + at_s;
                tokio::time::sleep_until(begin + Duration::from_secs_f64(due)).await;
                socket
                    .send_to(format!("{line}\r\n").as_bytes(), address)
                    .unwrap();
            }
        }
    })
}

async fn post(running: &Running, input: CrewInput) {
    let (reply, answer) = oneshot::channel();
    let by = None;
    running
        .posts
        .send(CrewPost { input, by, reply })
        .await
        .unwrap();
    answer.await.unwrap().unwrap();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_slow_computer_says_so_and_its_recording_gives_the_same_bytes() {
    let dir = tempfile::tempdir().unwrap();
    let address = free_udp();
    let running = start(udp(address), Some(dir.path()));
    let speaking = speak(address);
    running
        .wait_for("a forecast", Running::forecast_is_there)
        .await;

    // A burst of posts at a computer that needs half a second for each picture.
    running.slower_ms.store(500, Ordering::Relaxed);
    let made = || running.pictures.load(Ordering::Relaxed);
    let before = made();
    for i in 0..2050 {
        let by = units::metres(if i % 2 == 0 { 1.0 } else { -1.0 });
        let line = Line::Main;
        post(&running, CrewInput::Moved { line, by }).await;
    }
    // Counted, not timed: the test itself may run on a busy machine.
    let pictures = made() - before;
    assert!(pictures < 2050 / 8, "{pictures} pictures of 2050 posts");
    post(&running, CrewInput::MarkerInWater(true)).await;
    let said = made();
    running
        .wait_for("the last post", |run| {
            run.last()
                .is_some_and(|last| last.deck.marker_in_water.is_some())
        })
        .await;
    // One picture at work when it was said and one of its own; one more may be done before the look.
    let pictures = made() - said;
    assert!(pictures <= 3, "{pictures}");

    // Far too slow: no forecast, and it says so.
    running.slower_ms.store(3500, Ordering::Relaxed);
    running
        .wait_for("computer-slow", |run| {
            let last = run.last().map(|last| last.forecast);
            run.has(Kind::ComputerSlow, None)
                && last.is_some_and(|forecast| forecast.is_err_and(|none| none.is_too_slow()))
        })
        .await;

    // In time again: it trusts itself again.
    running.slower_ms.store(0, Ordering::Relaxed);
    running
        .wait_for("a forecast again", |run| {
            run.has(Kind::ComputerSlow, Some(Outcome::Restored)) && run.forecast_is_there()
        })
        .await;
    speaking.abort();
    let live = running.finish().await;
    let again = replay(recorded(dir.path()).into_iter()).await;
    assert_eq!(json(&live), json(&again));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn it_ends_in_time_though_a_picture_is_being_made() {
    let running = start(udp(free_udp()), None);
    running.slower_ms.store(12_000, Ordering::Relaxed);
    post(&running, CrewInput::Bite).await;
    running.stop.cancel();
    let ended = tokio::time::timeout(Duration::from_secs(5), running.task).await;
    assert!(ended.expect("it does not end").unwrap().is_ok());
}
