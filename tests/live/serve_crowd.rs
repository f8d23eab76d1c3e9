//! The HTTP room among clients that ask nothing, ask slowly, or never say the rest.

use std::time::{Duration, Instant};

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use crate::PATIENCE;
use crate::serving::{Stream, advice, run};

/// How long a connection may ask nothing (`src/serve/guard.rs`).
const HEAD_DEADLINE: Duration = Duration::from_secs(8);
/// How much longer a stream is watched.
const BEYOND: Duration = Duration::from_secs(4);

async fn connect(base: &str) -> TcpStream {
    TcpStream::connect(base.strip_prefix("http://").unwrap())
        .await
        .unwrap()
}

/// What still comes until the other end closes, which it must do in time.
async fn rest(client: &mut TcpStream, within: Duration) -> String {
    let mut text = Vec::new();
    // A reset instead of an orderly end is an end too.
    let _ = tokio::time::timeout(within, client.read_to_end(&mut text))
        .await
        .expect("closed in time");
    String::from_utf8_lossy(&text).into_owned()
}

#[tokio::test]
async fn more_silent_connections_than_seats_do_not_lock_the_page_out() {
    let room = run(advice()).await;
    let mut stream = Stream::open(&room.base, "/v1/advisories/stream", None).await;
    let mut silent = Vec::new();
    for _ in 0..150 {
        silent.push(connect(&room.base).await);
    }
    let began = Instant::now();
    let page = async {
        let asking = tokio::time::timeout(HEAD_DEADLINE + PATIENCE, reqwest::get(&room.base));
        let answer = asking.await.expect("the page in time").unwrap();
        assert_eq!(answer.status(), 200);
    };
    // A stream lives on meanwhile, well past the deadline for asking.
    let beats = async {
        while began.elapsed() < HEAD_DEADLINE + BEYOND {
            stream.block().await.expect("the stream goes on");
        }
    };
    tokio::join!(page, beats);
    drop(silent);
    room.shutdown.cancel();
}

#[tokio::test]
async fn a_head_said_byte_by_byte_and_a_connection_kept_for_nothing_are_closed() {
    let room = run(advice()).await;
    let slow = async {
        let mut client = connect(&room.base).await;
        let began = Instant::now();
        let head = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: s";
        for byte in head.iter().chain(std::iter::repeat(&b'o')) {
            if client.write_all(&[*byte]).await.is_err() {
                break;
            }
            assert!(
                began.elapsed() < HEAD_DEADLINE + PATIENCE,
                "still open after {:?}",
                began.elapsed()
            );
            tokio::time::sleep(Duration::from_millis(200)).await;
        }
    };
    let kept = async {
        let mut client = connect(&room.base).await;
        client
            .write_all(b"GET /healthz HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
            .await
            .unwrap();
        let answer = rest(&mut client, HEAD_DEADLINE + PATIENCE).await;
        assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
    };
    tokio::join!(slow, kept);
    room.shutdown.cancel();
}

#[tokio::test]
async fn a_body_that_does_not_come_is_not_waited_for() {
    let room = run(advice()).await;
    let mut client = connect(&room.base).await;
    client
        .write_all(
            b"PUT /v1/settings HTTP/1.1\r\nHost: 127.0.0.1\r\n\
              Content-Type: application/json\r\nContent-Length: 100\r\n\r\n{",
        )
        .await
        .unwrap();
    let answer = rest(&mut client, PATIENCE).await;
    assert!(answer.starts_with("HTTP/1.1 408"), "{answer}");
    room.shutdown.cancel();
}
