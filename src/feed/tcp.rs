//! TCP, called by us or calling us.

use std::io;
use std::net::SocketAddr;
use std::time::Duration;

use socket2::{SockRef, TcpKeepalive};
use tokio::io::AsyncReadExt;
use tokio::net::{TcpListener, TcpStream};
use tokio::task::JoinSet;

use super::Failure;
use super::frame::{FrameSettings, StreamEnd};
use super::framer::Framer;
use super::intake::Intake;
use super::report::Link;

/// Callers a TCP server feed holds at a time; more are turned away and counted.
pub const MAX_PEERS: usize = 16;

const ACCEPT_PAUSE: Duration = Duration::from_millis(250);

const CONNECT_WITHIN: Duration = Duration::from_secs(10);

/// Calls the server and reads until the connection fails.
pub(super) async fn client_session(address: &str, intake: &Intake, framer: &mut Framer) -> Failure {
    let attempt = tokio::time::timeout(CONNECT_WITHIN, TcpStream::connect(address)).await;
    let error = match attempt {
        Ok(Ok(stream)) => {
            intake.opened(1);
            let error = read_all(stream, intake, framer).await;
            return Failure(format!("TCP server {address}: {error}"));
        }
        Ok(Err(error)) => error.to_string(),
        Err(_) => format!("no answer within {} s", CONNECT_WITHIN.as_secs()),
    };
    Failure(format!(
        "TCP server {address}: {error}; check its address, and that it is on and on this network"
    ))
}

/// Listens, and reads from every caller with a framer of its own, for as long as it is
/// polled; returns only when it cannot listen.
pub(super) async fn server_session(
    bind: SocketAddr,
    intake: &Intake,
    frame: FrameSettings,
) -> Failure {
    let listener = match TcpListener::bind(bind).await {
        Ok(listener) => listener,
        Err(error) => return bind_failure("TCP", bind, &error),
    };
    intake.opened(0);
    let mut peers = JoinSet::new();
    loop {
        tokio::select! {
            accepted = listener.accept() => match accepted {
                Ok(_) if peers.len() >= MAX_PEERS => intake.refused_peer(),
                Ok((stream, from)) => {
                    tracing::debug!(feed = %intake.name(), %from, "caller connected");
                    let intake = intake.clone();
                    peers.spawn(async move {
                        let mut framer = Framer::new(frame);
                        let error = read_all(stream, &intake, &mut framer).await;
                        tracing::debug!(feed = %intake.name(), %from, error, "caller gone");
                    });
                }
                // Out of file handles, or a caller that hung up already: no reason to drop the rest.
                Err(error) => {
                    tracing::debug!(feed = %intake.name(), %error, "accepting failed");
                    tokio::time::sleep(ACCEPT_PAUSE).await;
                }
            },
            Some(_) = peers.join_next() => {}
        }
        intake.set_link(Link::Open { peers: peers.len() });
    }
}

async fn read_all(mut stream: TcpStream, intake: &Intake, framer: &mut Framer) -> String {
    // A peer that lost power says nothing; keep-alive finds that out in about 25 s.
    let keepalive = TcpKeepalive::new()
        .with_time(Duration::from_secs(10))
        .with_interval(Duration::from_secs(5))
        .with_retries(3);
    if let Err(error) = SockRef::from(&stream).set_tcp_keepalive(&keepalive) {
        tracing::debug!(feed = %intake.name(), %error, "no keep-alive");
    }
    let mut buffer = [0; 4096];
    let cause = loop {
        match stream.read(&mut buffer).await {
            Ok(0) => break "the other end closed the connection".to_owned(),
            Ok(count) => intake.take(framer, &buffer[..count]),
            Err(error) => break format!("reading failed: {error}"),
        }
    };
    intake.end(framer, StreamEnd::Broken);
    cause
}

pub(super) fn bind_failure(protocol: &str, bind: SocketAddr, error: &io::Error) -> Failure {
    let cure = match error.kind() {
        io::ErrorKind::AddrInUse => "another program has this port: stop it, or choose another",
        io::ErrorKind::AddrNotAvailable => "this machine has no such address (yet): use 0.0.0.0?",
        io::ErrorKind::PermissionDenied => "ports below 1024 are for root: choose a higher one",
        _ => "check the bind address",
    };
    Failure(format!("{protocol} port {bind}: {error}; {cure}"))
}
