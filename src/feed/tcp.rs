//! TCP, as a client or as a server.

use std::io;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use socket2::{SockRef, TcpKeepalive};
use tokio::io::AsyncReadExt;
use tokio::net::{TcpListener, TcpStream, lookup_host};
use tokio::task::JoinSet;
use tokio::time::{Instant, timeout, timeout_at};
use tokio_util::sync::CancellationToken;

use super::Failure;
use super::frame::{FrameSettings, StreamEnd};
use super::framer::Framer;
use super::intake::Intake;
use super::report::Link;
use super::settings::MAX_PEERS;

const ACCEPT_PAUSE: Duration = Duration::from_millis(250);

const RESOLVE_WITHIN: Duration = Duration::from_secs(10);

/// Short, so that an attempt that nobody answers does not delay the next one for long.
const CONNECT_WITHIN: Duration = Duration::from_secs(3);

/// Addresses of one host that are tried.
const MOST_ADDRESSES: usize = 4;

/// How long a peer may stay silent.
#[derive(Debug, Clone, Copy)]
pub(super) struct Times {
    /// A server that has sent nothing for so long is reported as silent.
    notice: Duration,
    /// After so long the connection is closed and opened again: instruments send every second, and
    /// a gateway may leave a connection open that it no longer serves.
    silent: Duration,
    /// Each time the same server is silent again this doubles, up to this.
    longest: Duration,
    /// A caller keeps its seat for so long after its last sentence.
    seat: Duration,
}

pub(super) const TIMES: Times = Times {
    notice: Duration::from_secs(10),
    silent: Duration::from_secs(30),
    longest: Duration::from_secs(60),
    seat: Duration::from_secs(30),
};

/// How long a server that we connect to may stay silent, over successive connections.
#[derive(Debug)]
pub(super) struct Patience {
    times: Times,
    now: Duration,
}

impl Patience {
    pub(super) fn new(times: Times) -> Self {
        Self {
            times,
            now: times.silent,
        }
    }

    fn heard(&mut self) {
        self.now = self.times.silent;
    }

    fn ran_out(&mut self) {
        self.now = (self.now * 2).min(self.times.longest);
    }
}

/// Connects to the server and reads until the connection fails or is silent for too long.
pub(super) async fn client_session(
    address: &str,
    intake: &Intake,
    framer: &mut Framer,
    patience: &mut Patience,
) -> Failure {
    match call(address).await {
        Ok(stream) => {
            intake.opened(1);
            let error = listen_to(stream, intake, framer, patience).await;
            Failure(format!("TCP server {address}: {error}"))
        }
        Err(error) => Failure(format!(
            "TCP server {address}: {error}; check its address, and that it is on and on this network"
        )),
    }
}

async fn call(address: &str) -> Result<TcpStream, String> {
    let found = timeout(RESOLVE_WITHIN, lookup_host(address)).await;
    let addresses = match found {
        Ok(Ok(addresses)) => addresses,
        Ok(Err(error)) => return Err(error.to_string()),
        Err(_) => {
            return Err(format!(
                "its name was not found within {} s",
                RESOLVE_WITHIN.as_secs()
            ));
        }
    };
    let mut why = "its name has no address".to_owned();
    for address in addresses.take(MOST_ADDRESSES) {
        why = match timeout(CONNECT_WITHIN, TcpStream::connect(address)).await {
            Ok(Ok(stream)) => return Ok(stream),
            Ok(Err(error)) => error.to_string(),
            Err(_) => format!("no answer within {} s", CONNECT_WITHIN.as_secs()),
        };
    }
    Err(why)
}

async fn listen_to(
    mut stream: TcpStream,
    intake: &Intake,
    framer: &mut Framer,
    patience: &mut Patience,
) -> String {
    keep_alive(&stream, intake);
    let mut buffer = [0; 4096];
    let mut last = Instant::now();
    let mut told = false;
    let cause = loop {
        let until = if told {
            patience.now
        } else {
            patience.times.notice.min(patience.now)
        };
        match timeout_at(last + until, stream.read(&mut buffer)).await {
            Ok(Ok(0)) => break CLOSED.to_owned(),
            Ok(Ok(count)) => {
                last = Instant::now();
                patience.heard();
                if std::mem::take(&mut told) {
                    intake.set_link(Link::Open { peers: 1 });
                }
                intake.take(framer, buffer.get(..count).unwrap_or_default());
            }
            Ok(Err(error)) => break format!("reading failed: {error}"),
            Err(_) if last.elapsed() >= patience.now => {
                let silent_s = patience.now.as_secs_f64();
                patience.ran_out();
                break format!(
                    "connected, but not a byte for {silent_s:.0} s; called again, and given {:.0} s: \
                     does the other end send anything?",
                    patience.now.as_secs_f64()
                );
            }
            Err(_) => {
                told = true;
                intake.set_link(Link::Silent {
                    for_s: last.elapsed().as_secs_f64(),
                    redial_after_s: patience.now.as_secs_f64(),
                });
            }
        }
    };
    intake.end(framer, StreamEnd::Broken);
    cause
}

/// A caller and when it last sent a sentence.
#[derive(Debug)]
struct Seat {
    since: Instant,
    spoke: Arc<Mutex<Option<Instant>>>,
    leave: CancellationToken,
}

impl Seat {
    fn spoke(&self) -> Option<Instant> {
        *self.spoke.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Since when it has been silent, if for so long that its seat may be taken.
    fn idle_since(&self, seat: Duration) -> Option<Instant> {
        match self.spoke() {
            Some(spoke) => (spoke.elapsed() >= seat).then_some(spoke),
            None => Some(self.since),
        }
    }
}

/// Listens, and reads from every caller with a framer of its own, for as long as it is
/// polled; returns only when it cannot listen.
pub(super) async fn server_session(
    bind: SocketAddr,
    intake: &Intake,
    frame: FrameSettings,
    times: Times,
) -> Failure {
    let listener = match TcpListener::bind(bind).await {
        Ok(listener) => listener,
        Err(error) => return bind_failure("TCP", bind, &error),
    };
    intake.opened(0);
    let mut peers = JoinSet::new();
    let mut seats: Vec<Seat> = Vec::new();
    loop {
        tokio::select! {
            accepted = listener.accept() => match accepted {
                Ok((stream, from)) => {
                    seats.retain(|seat| !seat.leave.is_cancelled());
                    if seats.len() >= MAX_PEERS {
                        intake.refused_peer();
                        let quietest = seats
                            .iter()
                            .filter_map(|seat| Some((seat.idle_since(times.seat)?, seat)))
                            .min_by_key(|(idle, _)| *idle);
                        let Some((_, quietest)) = quietest else {
                            tracing::debug!(feed = %intake.name(), %from, "no seat left");
                            continue;
                        };
                        quietest.leave.cancel();
                        seats.retain(|seat| !seat.leave.is_cancelled());
                    }
                    tracing::debug!(feed = %intake.name(), %from, "caller connected");
                    let seat = Seat {
                        since: Instant::now(),
                        spoke: Arc::default(),
                        leave: CancellationToken::new(),
                    };
                    let (spoke, leave) = (Arc::clone(&seat.spoke), seat.leave.clone());
                    seats.push(seat);
                    let intake = intake.clone();
                    peers.spawn(async move {
                        // Whoever is gone gives its seat back.
                        let _gone = leave.clone().drop_guard();
                        let mut framer = Framer::new(frame);
                        let reading = hear_caller(stream, &intake, &mut framer, &spoke);
                        let error = leave
                            .run_until_cancelled(reading)
                            .await
                            .unwrap_or_else(|| "silent for longest, made room".to_owned());
                        intake.end(&mut framer, StreamEnd::Broken);
                        tracing::debug!(feed = %intake.name(), %from, error, "caller gone");
                    });
                }
                // Out of file handles, or a caller that hung up already: no reason to drop the rest.
                Err(error) => {
                    tracing::debug!(feed = %intake.name(), %error, "accepting failed");
                    tokio::time::sleep(ACCEPT_PAUSE).await;
                }
            },
            Some(_) = peers.join_next() => {
                seats.retain(|seat| !seat.leave.is_cancelled());
            }
        }
        intake.set_link(Link::Open { peers: seats.len() });
    }
}

async fn hear_caller(
    mut stream: TcpStream,
    intake: &Intake,
    framer: &mut Framer,
    spoke: &Mutex<Option<Instant>>,
) -> String {
    keep_alive(&stream, intake);
    let mut buffer = [0; 4096];
    loop {
        match stream.read(&mut buffer).await {
            Ok(0) => return CLOSED.to_owned(),
            Ok(count) => {
                if intake.take(framer, buffer.get(..count).unwrap_or_default()) {
                    *spoke.lock().unwrap_or_else(PoisonError::into_inner) = Some(Instant::now());
                }
            }
            Err(error) => return format!("reading failed: {error}"),
        }
    }
}

const CLOSED: &str = "the other end closed the connection";

/// A peer that lost power closes no connection. Keep-alive detects that within about 24 s, or
/// within 4 s of its return, because it then no longer knows the connection.
fn keep_alive(stream: &TcpStream, intake: &Intake) {
    let keepalive = TcpKeepalive::new()
        .with_time(Duration::from_secs(4))
        .with_interval(Duration::from_secs(4))
        .with_retries(5);
    if let Err(error) = SockRef::from(stream).set_tcp_keepalive(&keepalive) {
        tracing::debug!(feed = %intake.name(), %error, "no keep-alive");
    }
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

#[cfg(test)]
mod tests {
    use tokio::io::AsyncWriteExt;
    use tokio::sync::{mpsc, watch};

    use super::super::report::FeedReport;
    use super::super::settings::FeedName;
    use super::*;

    const SENTENCE: &[u8] = b"$WIMWV,214.8,R,0.1,K,A*28\r\n";
    const PATIENCE: Duration = Duration::from_secs(20);
    /// The real ones, a hundred times as fast.
    const FAST: Times = Times {
        notice: Duration::from_millis(100),
        silent: Duration::from_millis(300),
        longest: Duration::from_millis(600),
        seat: Duration::from_millis(300),
    };

    fn intake() -> (Intake, mpsc::Receiver<super::super::Arrival>) {
        let (sender, arrivals) = mpsc::channel(100);
        let intake = Intake::new(FeedName::new("bench").unwrap(), sender);
        (intake, arrivals)
    }

    async fn until(report: &mut watch::Receiver<FeedReport>, fits: impl Fn(&FeedReport) -> bool) {
        let waiting = report.wait_for(|report| fits(report));
        timeout(PATIENCE, waiting).await.unwrap().unwrap();
    }

    #[tokio::test]
    async fn a_silent_server_is_told_and_called_again_ever_more_seldom() {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap().to_string();
        let (intake, mut arrivals) = intake();
        let mut patience = Patience::new(FAST);
        let mut framer = Framer::new(FrameSettings::default());
        let mut borne = Vec::new();
        for _ in 0..3 {
            borne.push(patience.now);
            let began = Instant::now();
            let mut report = intake.watch();
            let calling = client_session(&address, &intake, &mut framer, &mut patience);
            let hanging_up = async {
                let held = listener.accept().await.unwrap();
                until(&mut report, |r| matches!(r.link, Link::Silent { .. })).await;
                let said = report.borrow().link.to_string();
                assert!(said.starts_with("connected, but not a byte for"), "{said}");
                held
            };
            let both = async { tokio::join!(calling, hanging_up) };
            let (Failure(cause), _) = timeout(PATIENCE, both).await.unwrap();
            assert!(cause.contains("not a byte for"), "{cause}");
            assert!(began.elapsed() >= *borne.last().unwrap());
        }
        assert_eq!(borne, [FAST.silent, FAST.longest, FAST.longest]);

        // One that speaks is borne as at first.
        let calling = client_session(&address, &intake, &mut framer, &mut patience);
        let speaking = async {
            let (mut server, _) = listener.accept().await.unwrap();
            server.write_all(SENTENCE).await.unwrap();
            arrivals.recv().await.unwrap();
        };
        let both = async { tokio::join!(calling, speaking) };
        timeout(PATIENCE, both).await.unwrap();
        assert_eq!(patience.now, FAST.silent);
    }

    #[tokio::test]
    async fn a_speaker_that_has_fallen_silent_makes_room_in_the_end() {
        let free = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        let bind = free.local_addr().unwrap();
        drop(free);
        let (intake, mut arrivals) = intake();
        let mut report = intake.watch();
        let serving = server_session(bind, &intake, FrameSettings::default(), FAST);
        let callers = async {
            until(&mut report, |r| matches!(r.link, Link::Open { .. })).await;
            let mut held = Vec::new();
            for _ in 0..MAX_PEERS {
                let mut caller = TcpStream::connect(bind).await.unwrap();
                caller.write_all(SENTENCE).await.unwrap();
                arrivals.recv().await.unwrap();
                held.push(caller);
            }
            // Sooner or later the first has been silent for long enough.
            let end = Instant::now() + PATIENCE;
            loop {
                assert!(Instant::now() < end, "no seat was given up");
                let mut caller = TcpStream::connect(bind).await.unwrap();
                let _ = caller.write_all(SENTENCE).await;
                if let Ok(Some(_)) = timeout(FAST.notice, arrivals.recv()).await {
                    break;
                }
            }
            assert!(report.borrow().counters.refused_peers >= 1);
        };
        tokio::select! {
            failure = serving => panic!("{failure:?}"),
            () = callers => {}
        }
    }
}
