//! Files, named pipes and standard input.
//!
//! They are read on a thread of their own, because such a read cannot be cancelled: a pipe on which
//! nothing more comes must not keep the daemon from shutting down. A recording in a file is not
//! played at its own pace here: that is what `skimwatch replay --serve` is for.

use std::fs::File;
use std::io::{self, Read};
use std::os::unix::fs::FileTypeExt;
use std::path::Path;
use std::thread;

use tokio::sync::mpsc;

use super::frame::StreamEnd;
use super::framer::Framer;
use super::intake::Intake;
use super::{Closed, Failure};

/// Reads the file to its end. A named pipe has no end: its next writer is waited for.
pub(super) async fn file_session(path: &Path, intake: &Intake, framer: &mut Framer) -> Closed {
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
    match pass_on(chunks, intake, framer).await {
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
    match pass_on(chunks, intake, framer).await {
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
    intake: &Intake,
    framer: &mut Framer,
) -> io::Result<()> {
    let mut is_open = false;
    while let Some(chunk) = chunks.recv().await {
        let chunk = chunk?;
        if !is_open {
            is_open = true;
            intake.opened(1);
        }
        for sentence in intake.push(framer, &chunk) {
            intake.deliver(sentence).await;
        }
    }
    for sentence in intake.flush(framer, StreamEnd::Whole) {
        intake.deliver(sentence).await;
    }
    Ok(())
}
