//! Feeds over real sockets, files and pipes. Sentences: published good ones (E. S. Raymond,
//! "NMEA Revealed"; go-nmea tests).

use std::io::Write;
use std::net::{Ipv4Addr, SocketAddr, UdpSocket};
use std::process::{Command, Stdio};
use std::time::Duration;

use skimwatch::cause::Cause;
use skimwatch::feed::{
    Arrival, Feed, FeedCounters, FeedReport, FeedSpec, FrameSettings, Link, MAX_PEERS, RunningFeed,
    spawn,
};
use tokio::io::AsyncWriteExt;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::mpsc;
use tokio::time::{Instant, timeout};
use tokio_util::sync::CancellationToken;

use crate::PATIENCE;

pub const A: &str = "$WIMWV,214.8,R,0.1,K,A*28";
pub const B: &str = "$WIMWV,041.1,R,01.0,N,A*16";

/// A running feed with its far end.
pub struct Bench {
    pub feed: RunningFeed,
    arrivals: mpsc::Receiver<Arrival>,
    cancel: CancellationToken,
}

impl Bench {
    pub fn start(spec: FeedSpec) -> Self {
        let feed = Feed::new("bench", spec, FrameSettings::default()).unwrap();
        let (sender, arrivals) = mpsc::channel(1000);
        let cancel = CancellationToken::new();
        Self {
            feed: spawn(feed, sender, cancel.clone()),
            arrivals,
            cancel,
        }
    }

    pub async fn arrival(&mut self) -> Arrival {
        let arrival = timeout(PATIENCE, self.arrivals.recv()).await;
        let arrival = arrival.expect("sentence in time").expect("feed running");
        assert_eq!(arrival.feed.as_str(), "bench");
        arrival
    }

    pub async fn texts(&mut self, count: usize) -> Vec<String> {
        let mut texts = Vec::new();
        while texts.len() < count {
            texts.push(self.arrival().await.sentence.text);
        }
        texts
    }

    pub async fn report_where(&mut self, wanted: impl Fn(&FeedReport) -> bool) -> FeedReport {
        let waiting = self.feed.report.wait_for(|report| wanted(report));
        if let Ok(report) = timeout(PATIENCE, waiting).await {
            return report.unwrap().clone();
        }
        panic!("still {:?}", *self.feed.report.borrow())
    }

    pub async fn open(&mut self) -> FeedReport {
        self.report_where(|report| matches!(report.link, Link::Open { .. }))
            .await
    }

    pub async fn waiting_cause(&mut self) -> String {
        let is_waiting = |report: &FeedReport| matches!(report.link, Link::Waiting { .. });
        match self.report_where(is_waiting).await.link {
            Link::Waiting { cause, .. } => cause,
            other => panic!("{other:?}"),
        }
    }

    pub fn counters(&self) -> FeedCounters {
        self.feed.report.borrow().counters.clone()
    }

    /// Cancels; the feed has to end.
    pub async fn stop(self) {
        self.cancel.cancel();
        let ended = timeout(PATIENCE, self.feed.task).await;
        ended.expect("feed ends when told").unwrap();
        let link = self.feed.report.borrow().link.clone();
        assert!(matches!(link, Link::Ended { .. }), "{link:?}");
    }
}

fn loopback(port: u16) -> SocketAddr {
    (Ipv4Addr::LOCALHOST, port).into()
}

fn free_udp_port() -> u16 {
    let socket = UdpSocket::bind(loopback(0)).unwrap();
    socket.local_addr().unwrap().port()
}

fn free_tcp_port() -> u16 {
    let socket = std::net::TcpListener::bind(loopback(0)).unwrap();
    socket.local_addr().unwrap().port()
}

/// Writes a line as a talker does.
async fn write_line(to: &mut TcpStream, line: &str) {
    to.write_all(format!("{line}\r\n").as_bytes())
        .await
        .unwrap();
}

fn udp(bind: SocketAddr) -> FeedSpec {
    FeedSpec::Udp {
        bind,
        groups: Vec::new(),
        interface: None,
        share_port: false,
    }
}

#[tokio::test]
async fn tcp_client_outlives_its_server() {
    let listener = TcpListener::bind(loopback(0)).await.unwrap();
    let at = listener.local_addr().unwrap();
    let address = at.to_string();
    let mut bench = Bench::start(FeedSpec::TcpClient { address });

    let (mut server, _) = listener.accept().await.unwrap();
    // Two lines in three writes, and half a line before the server dies.
    server.write_all(&A.as_bytes()[..10]).await.unwrap();
    server.write_all(&A.as_bytes()[10..]).await.unwrap();
    server
        .write_all(format!("\r\n{B}\r\n$WIMWV,0").as_bytes())
        .await
        .unwrap();
    assert_eq!(bench.texts(2).await, [A, B]);
    drop((server, listener));
    let cause = bench.waiting_cause().await;
    assert!(cause.contains("closed the connection"), "{cause}");
    bench.report_where(|report| {
        matches!(&report.link, Link::Waiting { cause, .. } if cause.contains("refused"))
    })
    .await;

    // The rest of the cut line is no part of the new connection's first line.
    let listener = TcpListener::bind(at).await.unwrap();
    let (mut server, _) = timeout(PATIENCE, listener.accept()).await.unwrap().unwrap();
    write_line(&mut server, A).await;
    assert_eq!(bench.texts(1).await, [A]);
    let counters = bench.counters();
    assert_eq!(
        (counters.reconnects, counters.rejected[&Cause::Garbled]),
        (1, 1)
    );
    assert!(counters.last_seen.is_some());
    bench.stop().await;
}

#[tokio::test]
async fn tcp_server_keeps_its_callers_apart() {
    let bind = loopback(free_tcp_port());
    let mut bench = Bench::start(FeedSpec::TcpServer { bind });
    bench.open().await;
    let mut first = TcpStream::connect(bind).await.unwrap();
    let mut second = TcpStream::connect(bind).await.unwrap();
    bench
        .report_where(|report| report.link == Link::Open { peers: 2 })
        .await;
    // Their halves of lines alternate.
    for (stream, text) in [(0, &A[..9]), (1, &B[..14]), (0, &A[9..]), (1, &B[14..])] {
        let stream = if stream == 0 { &mut first } else { &mut second };
        stream.write_all(text.as_bytes()).await.unwrap();
        tokio::time::sleep(Duration::from_millis(30)).await;
    }
    assert_eq!(bench.texts(2).await, [A, B]);
    drop(first);
    bench
        .report_where(|report| report.link == Link::Open { peers: 1 })
        .await;
    second.write_all(B.as_bytes()).await.unwrap();
    assert_eq!(bench.texts(1).await, [B]);
    bench.stop().await;
}

#[tokio::test]
async fn a_server_that_is_back_is_heard_within_five_seconds() {
    let listener = TcpListener::bind(loopback(0)).await.unwrap();
    let at = listener.local_addr().unwrap();
    let address = at.to_string();
    let mut bench = Bench::start(FeedSpec::TcpClient { address });
    drop(timeout(PATIENCE, listener.accept()).await.unwrap().unwrap());
    drop(listener);
    // Long enough away for the pauses to have grown as long as they get.
    let refused = |report: &FeedReport| {
        matches!(&report.link, Link::Waiting { cause, retry_in_s }
            if cause.contains("refused") && *retry_in_s >= 2.0)
    };
    let report = bench.report_where(refused).await;
    let Link::Waiting { retry_in_s, .. } = report.link else {
        panic!("{report:?}")
    };
    assert_eq!(retry_in_s, 2.0, "the longest pause");
    let listener = TcpListener::bind(at).await.unwrap();
    let back = Instant::now();
    let (mut server, _) = timeout(PATIENCE, listener.accept()).await.unwrap().unwrap();
    // The pause that was under way, and what a busy machine adds.
    assert!(back.elapsed() < Duration::from_secs(5));
    write_line(&mut server, A).await;
    assert_eq!(bench.texts(1).await, [A]);
    bench.stop().await;
}

#[tokio::test]
async fn silent_callers_do_not_hold_a_speaker_out_and_speakers_keep_their_seats() {
    let most = MAX_PEERS;
    let bind = loopback(free_tcp_port());
    let mut bench = Bench::start(FeedSpec::TcpServer { bind });
    bench.open().await;
    // The first caller speaks, the others hold their seats and say nothing.
    let mut speaker = TcpStream::connect(bind).await.unwrap();
    write_line(&mut speaker, A).await;
    assert_eq!(bench.texts(1).await, [A]);
    let mut silent = Vec::new();
    for _ in 1..most {
        silent.push(TcpStream::connect(bind).await.unwrap());
    }
    let full = Link::Open { peers: most };
    let report = bench.report_where(|report| report.link == full).await;
    assert!(report.link.to_string().contains("as many as can be"));
    // More than there are seats come, each with a sentence.
    let mut late = Vec::new();
    for _ in 1..most {
        let mut caller = TcpStream::connect(bind).await.unwrap();
        write_line(&mut caller, B).await;
        assert_eq!(bench.texts(1).await, [B]);
        late.push(caller);
    }
    assert_eq!(bench.counters().refused_peers, most as u64 - 1);
    // All seats are taken by speakers now: one more is turned away, and the first is still heard.
    let mut extra = TcpStream::connect(bind).await.unwrap();
    bench
        .report_where(|report| report.counters.refused_peers == most as u64)
        .await;
    let mut byte = [0; 1];
    let hung_up = timeout(
        PATIENCE,
        tokio::io::AsyncReadExt::read(&mut extra, &mut byte),
    )
    .await;
    assert!(matches!(hung_up.unwrap(), Ok(0) | Err(_)));
    write_line(&mut speaker, A).await;
    assert_eq!(bench.texts(1).await, [A]);
    bench.stop().await;
}

#[tokio::test]
async fn tcp_server_turns_a_crowd_away() {
    let bind = loopback(free_tcp_port());
    let mut bench = Bench::start(FeedSpec::TcpServer { bind });
    bench.open().await;
    let mut callers = Vec::new();
    for _ in 0..MAX_PEERS + 2 {
        callers.push(TcpStream::connect(bind).await.unwrap());
    }
    let report = bench
        .report_where(|report| report.counters.refused_peers == 2)
        .await;
    let full = Link::Open { peers: MAX_PEERS };
    assert_eq!(report.link, full);
    bench.stop().await;
}

#[tokio::test]
async fn a_taken_port_is_explained_and_used_when_free() {
    let taken = std::net::TcpListener::bind(loopback(0)).unwrap();
    let bind = taken.local_addr().unwrap();
    let mut bench = Bench::start(FeedSpec::TcpServer { bind });
    let cause = bench.waiting_cause().await;
    assert!(cause.contains(&bind.to_string()), "{cause}");
    assert!(cause.contains("another program has this port"), "{cause}");
    drop(taken);
    bench.open().await;
    bench.stop().await;

    let taken = UdpSocket::bind(loopback(0)).unwrap();
    let mut bench = Bench::start(udp(taken.local_addr().unwrap()));
    let cause = bench.waiting_cause().await;
    assert!(cause.contains("another program has this port"), "{cause}");
    drop(taken);
    bench.open().await;
    bench.stop().await;
}

#[tokio::test]
async fn udp_datagrams_plain_and_450() {
    let bind = loopback(free_udp_port());
    let mut bench = Bench::start(udp(bind));
    bench.open().await;
    let sender = UdpSocket::bind(loopback(0)).unwrap();
    let send = |bytes: &[u8]| sender.send_to(bytes, bind).unwrap();
    send(A.as_bytes());
    send(format!("{A}\r\n{B}\r\n").as_bytes());
    assert_eq!(bench.texts(3).await, [A, A, B]);
    // A line cut by the end of its datagram does not run into the next datagram.
    send(&A.as_bytes()[..20]);
    send(B.as_bytes());
    assert_eq!(bench.texts(1).await, [B]);
    assert_eq!(bench.counters().rejected[&Cause::MissingChecksum], 1);
    // Header and TAG blocks: go-nmea tagblock_test for the blocks.
    let datagram = format!(
        "UdPbC\0\\s:satelite,c:1564827317*25\\{A}\r\n\\s:Satelite_1,c:1553390539*62\\{B}\r\n"
    );
    send(datagram.as_bytes());
    let first = timeout(PATIENCE, bench.arrivals.recv())
        .await
        .unwrap()
        .unwrap();
    let tag = first.sentence.tag.unwrap();
    assert_eq!(tag.source.as_deref(), Some("satelite"));
    assert_eq!(bench.texts(1).await, [B]);
    assert_eq!(bench.counters().rejections(), 1);
    bench.stop().await;
}

/// Two programs of one computer and one of another, all with the same talker on one port.
#[tokio::test]
async fn udp_senders_with_the_same_talker_are_told_apart() {
    let bind = loopback(free_udp_port());
    let mut bench = Bench::start(udp(bind));
    bench.open().await;
    let socket = |host: [u8; 4]| UdpSocket::bind(SocketAddr::from((host, 0))).unwrap();
    let senders = [
        socket([127, 0, 0, 1]),
        socket([127, 0, 0, 1]),
        socket([127, 0, 0, 2]),
    ];
    let mut heard = Vec::new();
    for _ in 0..4 {
        for sender in &senders {
            // Two sentences to a datagram, the last without its line end.
            sender
                .send_to(format!("{A}\r\n{B}").as_bytes(), bind)
                .unwrap();
            let (first, second) = (bench.arrival().await, bench.arrival().await);
            assert_eq!(first.origin, second.origin);
            heard.push(first.origin.unwrap().to_string());
        }
    }
    let port = senders[1].local_addr().unwrap().port();
    let apart = format!("127.0.0.1:{port}");
    let first_round = ["127.0.0.1", "127.0.0.1", "127.0.0.2"];
    assert_eq!(heard[..3], first_round);
    for round in heard[3..].chunks(3) {
        assert_eq!(round, ["127.0.0.1", &apart, "127.0.0.2"]);
    }
    bench.stop().await;
}

#[tokio::test]
async fn udp_multicast_on_the_loopback_interface() {
    let port = free_udp_port();
    // The group of IEC 61162-450 for navigation data (references of the field: 239.192.0.4).
    let group = Ipv4Addr::new(239, 192, 0, 4);
    let mut bench = Bench::start(FeedSpec::Udp {
        bind: (Ipv4Addr::UNSPECIFIED, port).into(),
        groups: vec![group],
        interface: Some(Ipv4Addr::LOCALHOST),
        share_port: false,
    });
    bench.open().await;
    let sender = socket2::Socket::new(socket2::Domain::IPV4, socket2::Type::DGRAM, None).unwrap();
    sender.set_multicast_if_v4(&Ipv4Addr::LOCALHOST).unwrap();
    sender.set_multicast_loop_v4(true).unwrap();
    let to: SocketAddr = (group, port).into();
    sender
        .send_to(format!("UdPbC\0{A}\r\n").as_bytes(), &to.into())
        .unwrap();
    assert_eq!(bench.texts(1).await, [A]);
    bench.stop().await;
}

#[tokio::test]
async fn noise_and_silence_do_not_end_a_feed() {
    let bind = loopback(free_tcp_port());
    let mut bench = Bench::start(FeedSpec::TcpServer { bind });
    bench.open().await;
    let mut caller = TcpStream::connect(bind).await.unwrap();
    // What a wrong baud rate looks like: invented, every byte value, no order.
    let noise: Vec<u8> = (0..20_000_u32)
        .map(|n| (n.wrapping_mul(2_654_435_761) >> 13) as u8)
        .collect();
    caller.write_all(&noise).await.unwrap();
    caller.write_all(&[0; 5000]).await.unwrap();
    bench
        .report_where(|report| report.counters.bytes == 25_000)
        .await;
    caller
        .write_all(format!("\r\n{A}\r\n").as_bytes())
        .await
        .unwrap();
    assert_eq!(bench.texts(1).await, [A]);
    let counters = bench.counters();
    assert_eq!(counters.good, 1);
    assert!(counters.rejected[&Cause::Garbled] > 0);
    assert_eq!(counters.bytes, 25_000 + 2 + A.len() as u64 + 2);
    bench.stop().await;
}

#[tokio::test]
async fn a_file_is_read_once() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("day.nmea");
    // Ten seconds of recording are not waited for; the last line has no end.
    let log = format!("2014-08-01T00:00:00Z {A}\n2014-08-01T00:00:10Z {B}\n{A}\n{B}");
    std::fs::write(&path, log).unwrap();
    let mut bench = Bench::start(FeedSpec::File { path });
    assert_eq!(bench.texts(4).await, [A, B, A, B]);
    let report = bench
        .report_where(|report| matches!(report.link, Link::Ended { .. }))
        .await;
    let cause = "end of the file".to_owned();
    assert_eq!(report.link, Link::Ended { cause });
    assert_eq!(report.counters.good, 4);
}

#[tokio::test]
async fn a_file_may_appear_late() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("later.nmea");
    let mut bench = Bench::start(FeedSpec::File { path: path.clone() });
    let cause = bench.waiting_cause().await;
    assert!(cause.contains("later.nmea"), "{cause}");
    std::fs::write(&path, A).unwrap();
    assert_eq!(bench.texts(1).await, [A]);
}

#[tokio::test]
async fn a_pipe_waits_for_its_next_writer_and_lets_go_at_shutdown() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("pipe");
    nix::unistd::mkfifo(&path, nix::sys::stat::Mode::S_IRWXU).unwrap();
    let mut bench = Bench::start(FeedSpec::File { path: path.clone() });
    for line in [A, B] {
        let path = path.clone();
        let text = format!("{line}\r\n");
        tokio::task::spawn_blocking(move || std::fs::write(path, text).unwrap());
        assert_eq!(bench.texts(1).await, [line]);
        bench.waiting_cause().await;
    }
    // No writer now: the reading thread hangs, the feed must not.
    bench
        .report_where(|report| report.link == Link::Opening)
        .await;
    bench.stop().await;
}

#[tokio::test]
#[ignore = "the child of the next test: reads its standard input"]
async fn child_reading_standard_input() {
    let mut bench = Bench::start(FeedSpec::Stdin);
    assert_eq!(bench.texts(2).await, [A, B]);
    let report = bench
        .report_where(|report| matches!(report.link, Link::Ended { .. }))
        .await;
    assert_eq!(report.counters.rejected[&Cause::Garbled], 1);
}

#[test]
fn standard_input_is_read_to_its_end() {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "feed::child_reading_standard_input", "--ignored"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    input
        .write_all(format!("{A}\r\nnoise\n{B}").as_bytes())
        .unwrap();
    drop(input);
    let output = child.wait_with_output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(
        output.status.success() && said.contains("1 passed"),
        "{said}"
    );
}
