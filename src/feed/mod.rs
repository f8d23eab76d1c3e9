//! Feeds: the boat's network in, framed sentences out.
//!
//! In: bytes from serial ports, TCP, UDP, files, standard input. Out: [`Arrival`]s down one
//! channel, in the order of each feed, and a [`FeedReport`] per feed. Must not know: what a
//! sentence means, which feed is to be believed, or what time it is to the rest of the program
//! (whoever takes the arrivals stamps them, so that live and replayed input are treated alike).
//!
//! # Decisions
//!
//! - **Checksums** may be missing where the feed's setting allows it, until the same address
//!   (talker and sentence) has once come with one. A wrong checksum is never accepted.
//! - **Senders.** On UDP everybody may speak, so what came goes on with its [`Origin`]: the address, and
//!   the port where one address sends from two by turns. Other feeds are one line each.
//! - **Encapsulated sentences** (`!`, AIS) are recorded and counted, not decoded.

mod backoff;
mod file;
pub mod frame;
mod framer;
mod intake;
mod keys;
mod origin;
pub mod report;
mod serial;
pub mod settings;
pub mod tag;
mod tcp;
mod udp;

use tokio::sync::{mpsc, watch};
use tokio::task::JoinHandle;
use tokio_util::sync::CancellationToken;

use intake::Intake;

pub use backoff::Backoff;
pub use frame::{
    Checksum, ChecksumPolicy, Frame, FrameSettings, RawSentence, Rejection, SentenceKind, StreamEnd,
};
pub use framer::Framer;
pub use keys::{FEED, FeedKind};
pub use origin::Origin;
pub use report::{FeedCounters, FeedReport, Link};
pub use settings::{CREW_FEED, Feed, FeedName, FeedSpec, MAX_PEERS, OWN_FEED};
pub use tag::{Tag, TagGroup};

/// A sentence that has come in on a feed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Arrival {
    /// Which feed.
    pub feed: FeedName,
    /// Who sent it, where the feed tells senders apart.
    pub origin: Option<Origin>,
    /// The sentence.
    pub sentence: RawSentence,
}

/// A feed at work.
#[derive(Debug)]
pub struct RunningFeed {
    /// Its name.
    pub name: FeedName,
    /// Its state, kept up to date with every read.
    pub report: watch::Receiver<FeedReport>,
    /// Ends when the token is cancelled, or when a file or standard input comes to its end.
    pub task: JoinHandle<()>,
}

/// Why a source stopped or could not be opened, with the cure where one is known.
#[derive(Debug)]
struct Failure(String);

/// How a session with a source came to its end.
#[derive(Debug)]
enum Closed {
    Failed(Failure),
    Finished(&'static str),
}

/// Starts a feed. Whatever happens to its source, it goes on trying, with growing pauses, until
/// `cancel` ends it. Sentences go to `arrivals`; if that has no room, live sources lose them
/// (counted) and files wait.
///
/// Must be called within a tokio runtime.
pub fn spawn(
    feed: Feed,
    arrivals: mpsc::Sender<Arrival>,
    cancel: CancellationToken,
) -> RunningFeed {
    let name = feed.name.clone();
    let intake = Intake::new(name.clone(), arrivals);
    let report = intake.watch();
    let task = tokio::spawn(async move {
        let ended = cancel.run_until_cancelled(keep_open(&feed, &intake)).await;
        let cause = ended.unwrap_or("shut down").to_owned();
        tracing::info!(feed = %feed.name, cause, "feed ended");
        intake.set_link(Link::Ended { cause });
    });
    RunningFeed { name, report, task }
}

/// Opens the source again and again; returns when it has come to its proper end.
async fn keep_open(feed: &Feed, intake: &Intake) -> &'static str {
    let mut framer = Framer::new(feed.frame);
    let mut backoff = Backoff::new(match feed.spec {
        FeedSpec::TcpClient { .. } => backoff::LONGEST_TCP,
        _ => backoff::LONGEST,
    });
    let mut patience = tcp::Patience::new(tcp::TIMES);
    let mut last_cause = String::new();
    loop {
        intake.set_link(Link::Opening);
        let accepted = intake.accepted();
        let cause = match session(feed, intake, &mut framer, &mut patience).await {
            Closed::Finished(cause) => return cause,
            Closed::Failed(Failure(cause)) => cause,
        };
        let worked = intake.accepted() > accepted;
        if worked {
            backoff.reset();
        }
        let pause = backoff.pause();
        if worked || cause != last_cause {
            intake.log_lost(&cause);
        }
        last_cause.clone_from(&cause);
        intake.set_link(Link::Waiting {
            cause,
            retry_in_s: pause.as_secs_f64(),
        });
        tokio::time::sleep(pause).await;
    }
}

/// Opens the source once and reads it until it fails or ends.
async fn session(
    feed: &Feed,
    intake: &Intake,
    framer: &mut Framer,
    patience: &mut tcp::Patience,
) -> Closed {
    Closed::Failed(match &feed.spec {
        FeedSpec::Serial { device, baud } => serial::session(device, *baud, intake, framer).await,
        FeedSpec::TcpClient { address } => {
            tcp::client_session(address, intake, framer, patience).await
        }
        FeedSpec::TcpServer { bind } => {
            tcp::server_session(*bind, intake, feed.frame, tcp::TIMES).await
        }
        FeedSpec::Udp {
            bind,
            groups,
            interface,
            share_port,
        } => {
            let listen = udp::Listen {
                bind: *bind,
                groups,
                interface: *interface,
                share_port: *share_port,
            };
            udp::session(listen, intake, framer).await
        }
        FeedSpec::File { path } => return file::file_session(path, intake, framer).await,
        FeedSpec::Stdin => return file::stdin_session(intake, framer).await,
    })
}
