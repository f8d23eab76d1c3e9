//! Alert sentences on their way out, and the answers of displays.
//!
//! One task keeps the board; each line out has a task of its own, so that a display that hangs holds
//! up no other.

use std::io;
use std::net::{Ipv4Addr, Ipv6Addr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use tokio::io::AsyncWriteExt as _;
use tokio::net::{TcpStream, UdpSocket};
use tokio::sync::{broadcast, mpsc, oneshot, watch};
use tokio::time::{Instant, timeout};
use tokio_serial::SerialStream;
use tokio_util::sync::CancellationToken;

use crate::alert::{Board, Command, Queue, Shown, Verdict};
use crate::decode::CrewInput;
use crate::engine::Snapshot;
use crate::feed::{Arrival, SentenceKind};
use crate::serve::CrewPost;
use crate::settings::AlertSettings;

/// How often a line out is looked after.
const STEP: Duration = Duration::from_millis(100);
/// A line out that takes nothing for so long is opened anew.
const PATIENCE: Duration = Duration::from_secs(5);
/// Pause before a line that failed is opened again.
const OPEN_AGAIN: Duration = Duration::from_secs(2);
/// Refusals that a line out may be behind.
const ANSWERS: usize = 8;
/// Commands that may wait.
const COMMANDS: usize = 16;
/// For how long `S` silences.
const SILENCE_MIN: f64 = 0.5;

/// Whence commands come, for the feed that brings them.
#[derive(Debug, Clone)]
pub struct AlertCommands(mpsc::Sender<Command>);

impl AlertCommands {
    /// Takes what a display says among the sentences of a feed, and hands all on.
    pub async fn listen(self, mut from: mpsc::Receiver<Arrival>, to: mpsc::Sender<Arrival>) {
        while let Some(arrival) = from.recv().await {
            if arrival.sentence.kind == SentenceKind::Parametric
                && let Some(command) = Command::read(&arrival.sentence.text)
            {
                // While many wait, another is not taken: displays repeat theirs.
                let _ = self.0.try_send(command);
            }
            if to.send(arrival).await.is_err() {
                return;
            }
        }
    }
}

/// Sends alerts to every place of the settings until shutdown. Gives where commands are taken.
pub fn send_alerts(
    settings: &AlertSettings,
    in_feet: bool,
    snapshot: watch::Receiver<Arc<Snapshot>>,
    crew: mpsc::Sender<CrewPost>,
    shutdown: CancellationToken,
) -> AlertCommands {
    let (to_board, commands) = mpsc::channel(COMMANDS);
    let (shown, to_lines) = watch::channel(Arc::new(Shown::new()));
    let (answers, _) = broadcast::channel(ANSWERS);
    let serial = settings.serial.clone();
    let places = [
        settings.udp.map(Place::Udp),
        settings.tcp.map(Place::Tcp),
        serial.map(|(device, baud)| Place::Serial(device, baud)),
    ];
    for place in places.into_iter().flatten() {
        let out = Out {
            place,
            queue: Queue::new(settings.with_txt),
            shown: to_lines.clone(),
            answers: answers.subscribe(),
        };
        let shutdown = shutdown.clone();
        tokio::spawn(async move { shutdown.run_until_cancelled(out.run()).await });
    }
    let keeping = keep_board(
        Board::new(in_feet),
        snapshot,
        commands,
        crew,
        shown,
        answers,
    );
    tokio::spawn(async move { shutdown.run_until_cancelled(keeping).await });
    AlertCommands(to_board)
}

async fn keep_board(
    mut board: Board,
    mut snapshot: watch::Receiver<Arc<Snapshot>>,
    mut commands: mpsc::Receiver<Command>,
    crew: mpsc::Sender<CrewPost>,
    shown: watch::Sender<Arc<Shown>>,
    answers: broadcast::Sender<String>,
) {
    loop {
        tokio::select! {
            ticked = snapshot.changed() => {
                if ticked.is_err() {
                    return;
                }
                let now = Arc::clone(&snapshot.borrow_and_update());
                if board.see(now.at, &now.advisories) {
                    shown.send_replace(Arc::new(board.shown().clone()));
                }
            }
            Some(command) = commands.recv() => {
                let at = snapshot.borrow().at;
                match board.take(at, &command) {
                    Verdict::Acknowledge(advisories) => {
                        for (advisory, priority) in advisories {
                            tracing::info!("an alert display: acknowledges {advisory}");
                            let priority = Some(priority);
                            say(&crew, CrewInput::Acknowledge { advisory, priority }).await;
                        }
                    }
                    Verdict::Silence => {
                        tracing::info!("an alert display: silences all sound");
                        say(&crew, CrewInput::Silence { minutes: SILENCE_MIN }).await;
                    }
                    Verdict::Again => {
                        shown.send_replace(Arc::new(board.shown().clone()));
                    }
                    Verdict::Refused(sentence) => {
                        // Without a line out nobody is told.
                        let _ = answers.send(sentence);
                    }
                    Verdict::Nothing => {}
                }
            }
        }
    }
}

/// Says it as the crew does; that it is recorded under its own name needs no answer.
async fn say(crew: &mpsc::Sender<CrewPost>, input: CrewInput) {
    let (reply, _) = oneshot::channel();
    let post = CrewPost {
        input,
        by: Some("alert display".into()),
        reply,
    };
    // Nothing takes it when we are being shut down.
    let _ = crew.send(post).await;
}

/// A place that alerts go to.
#[derive(Debug)]
enum Place {
    Udp(SocketAddr),
    Tcp(SocketAddr),
    Serial(PathBuf, u32),
}

/// The same, open.
enum Open {
    Udp(UdpSocket),
    Tcp(TcpStream),
    Serial(SerialStream),
}

impl Place {
    async fn open(&self) -> io::Result<Open> {
        match self {
            Self::Udp(address) => {
                let any: SocketAddr = match address {
                    SocketAddr::V4(_) => (Ipv4Addr::UNSPECIFIED, 0).into(),
                    SocketAddr::V6(_) => (Ipv6Addr::UNSPECIFIED, 0).into(),
                };
                let socket = UdpSocket::bind(any).await?;
                socket.set_broadcast(true)?;
                socket.connect(address).await?;
                Ok(Open::Udp(socket))
            }
            Self::Tcp(address) => Ok(Open::Tcp(TcpStream::connect(address).await?)),
            Self::Serial(device, baud) => {
                let port = tokio_serial::new(device.to_string_lossy(), *baud);
                Ok(Open::Serial(SerialStream::open(&port)?))
            }
        }
    }

    fn name(&self) -> String {
        match self {
            Self::Udp(address) => format!("udp = \"{address}\""),
            Self::Tcp(address) => format!("tcp = \"{address}\""),
            Self::Serial(device, _) => format!("device = \"{}\"", device.display()),
        }
    }
}

impl Open {
    async fn write(&mut self, sentences: &str) -> io::Result<()> {
        match self {
            // One sentence a datagram: what displays expect.
            Self::Udp(socket) => {
                for sentence in sentences.split_inclusive('\n') {
                    socket.send(sentence.as_bytes()).await?;
                }
                Ok(())
            }
            Self::Tcp(stream) => stream.write_all(sentences.as_bytes()).await,
            Self::Serial(port) => port.write_all(sentences.as_bytes()).await,
        }
    }
}

struct Out {
    place: Place,
    queue: Queue,
    shown: watch::Receiver<Arc<Shown>>,
    answers: broadcast::Receiver<String>,
}

impl Out {
    async fn run(mut self) {
        let begun = Instant::now();
        let mut is_told = false;
        loop {
            let name = self.place.name();
            let why = match timeout(PATIENCE, self.place.open()).await {
                Ok(Ok(mut open)) => {
                    tracing::info!("alerts go to {name}");
                    is_told = false;
                    self.queue.begin_anew();
                    self.feed(&mut open, begun).await
                }
                Ok(Err(why)) => why,
                Err(_) => io::ErrorKind::TimedOut.into(),
            };
            if !is_told {
                is_told = true;
                tracing::warn!("[alerts] {name}: {why}; alerts do not go there until it is cured");
            }
            tokio::time::sleep(OPEN_AGAIN).await;
        }
    }

    /// Sends until that fails; gives why.
    async fn feed(&mut self, open: &mut Open, begun: Instant) -> io::Error {
        loop {
            while let Ok(answer) = self.answers.try_recv() {
                self.queue.answer(answer);
            }
            let shown = Arc::clone(&self.shown.borrow_and_update());
            let due = self.queue.due(&shown, begun.elapsed().as_secs_f64());
            if !due.is_empty() {
                match timeout(PATIENCE, open.write(&due)).await {
                    Ok(Ok(())) => {}
                    // Nobody listens there: a display that is off. It may come.
                    Ok(Err(why)) if why.kind() == io::ErrorKind::ConnectionRefused => {}
                    Ok(Err(why)) => return why,
                    Err(_) => return io::ErrorKind::TimedOut.into(),
                }
            }
            tokio::time::sleep(STEP).await;
        }
    }
}
