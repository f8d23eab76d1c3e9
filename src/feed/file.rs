//! Files, named pipes and standard input.
//!
//! They are read by a thread of their own, because such reads cannot be called off: a pipe that
//! never says another word must not keep the daemon from shutting down.

use std::fs::File;
use std::io::{self, Read};
use std::os::unix::fs::FileTypeExt;
use std::path::Path;
use std::thread;
use std::time::Duration;

use tokio::sync::mpsc;
use tokio::time::{Instant, sleep_until};

use super::frame::{RawSentence, StreamEnd};
use super::framer::Framer;
use super::intake::Intake;
use super::settings::Pace;
use super::{Closed, Failure};
use crate::time::Millis;

/// Reads the file to its end. A named pipe has no end: its next writer is waited for.
pub(super) async fn file_session(
    path: &Path,
    pace: Pace,
    intake: &Intake,
    framer: &mut Framer,
) -> Closed {
    let explain = |error: io::Error| {
        Closed::Failed(Failure(format!(
            "file {}: {error}; check the path and who may read it",
            path.display()
        )))
    };
    let is_pipe = match tokio::fs::metadata(path).await {
        Ok(metadata) => metadata.file_type().is_fifo(),
        Err(error) => return explain(error),
    };
    let owned_path = path.to_owned();
    let chunks = read_in_thread(move || File::open(owned_path));
    match pass_on(chunks, pace, intake, framer).await {
        Err(error) => explain(error),
        Ok(()) if is_pipe => Closed::Failed(Failure(format!(
            "pipe {}: its writer closed it",
            path.display()
        ))),
        Ok(()) => Closed::Finished("end of the file"),
    }
}

/// Reads standard input to its end.
pub(super) async fn stdin_session(intake: &Intake, framer: &mut Framer) -> Closed {
    let chunks = read_in_thread(|| Ok(io::stdin()));
    match pass_on(chunks, Pace::Unpaced, intake, framer).await {
        Ok(()) => Closed::Finished("end of standard input"),
        Err(error) => Closed::Failed(Failure(format!("standard input: {error}"))),
    }
}

fn read_in_thread<R: Read>(
    open: impl FnOnce() -> io::Result<R> + Send + 'static,
) -> mpsc::Receiver<io::Result<Vec<u8>>> {
    let (chunks, receiver) = mpsc::channel(4);
    thread::spawn(move || {
        let mut source = match open() {
            Ok(source) => source,
            Err(error) => {
                // Nobody listens any more: the daemon is shutting down.
                let _ = chunks.blocking_send(Err(error));
                return;
            }
        };
        let mut buffer = vec![0; 16 * 1024];
        loop {
            let chunk = match source.read(&mut buffer) {
                Ok(0) => return,
                Ok(count) => Ok(buffer.get(..count).unwrap_or_default().to_vec()),
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                Err(error) => Err(error),
            };
            let failed = chunk.is_err();
            if chunks.blocking_send(chunk).is_err() || failed {
                return;
            }
        }
    });
    receiver
}

async fn pass_on(
    mut chunks: mpsc::Receiver<io::Result<Vec<u8>>>,
    pace: Pace,
    intake: &Intake,
    framer: &mut Framer,
) -> io::Result<()> {
    let mut pacer = Pacer::new(pace);
    let mut is_open = false;
    while let Some(chunk) = chunks.recv().await {
        let chunk = chunk?;
        if !is_open {
            is_open = true;
            intake.opened(1);
        }
        let sentences = intake.push(framer, &chunk);
        pacer.deliver(sentences, intake).await;
    }
    let rest = intake.flush(framer, StreamEnd::Whole);
    pacer.deliver(rest, intake).await;
    Ok(())
}

/// Holds sentences back until they are due.
struct Pacer {
    pace: Pace,
    /// A moment of the file and the moment it was handed on.
    anchor: Option<(Millis, Instant)>,
    next: Instant,
}

impl Pacer {
    fn new(pace: Pace) -> Self {
        Self {
            pace,
            anchor: None,
            next: Instant::now(),
        }
    }

    async fn deliver(&mut self, sentences: Vec<RawSentence>, intake: &Intake) {
        for sentence in sentences {
            if let Some(due) = self.due(&sentence) {
                sleep_until(due).await;
            }
            intake.deliver(sentence).await;
        }
    }

    fn due(&mut self, sentence: &RawSentence) -> Option<Instant> {
        match self.pace {
            Pace::Unpaced => None,
            Pace::PerSecond(rate) => {
                let due = self.next;
                self.next = due + Duration::from_secs_f64(1.0 / rate);
                Some(due)
            }
            Pace::Recorded { speed } => {
                let time = sentence.logged_time()?;
                let (first, started) = *self.anchor.get_or_insert((time, Instant::now()));
                let offset_s = time.seconds_since(first) / speed;
                if let Ok(offset) = Duration::try_from_secs_f64(offset_s) {
                    started.checked_add(offset)
                } else {
                    // The file's clock was set back: go on from here.
                    self.anchor = Some((time, Instant::now()));
                    None
                }
            }
        }
    }
}
