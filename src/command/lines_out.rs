//! JSON, one object a line, on standard output, for the commands that replay logs.

use std::io::{self, BufWriter, ErrorKind, StdoutLock, Write as _};

use serde::Serialize;
use tokio_util::sync::CancellationToken;

use super::Failure;

/// Standard output until nobody reads it any more; then what fills it is told to stop.
pub(super) struct LinesOut {
    out: BufWriter<StdoutLock<'static>>,
    broken: Option<io::Error>,
    shutdown: CancellationToken,
}

impl LinesOut {
    pub fn new(shutdown: CancellationToken) -> Self {
        Self {
            out: BufWriter::new(io::stdout().lock()),
            broken: None,
            shutdown,
        }
    }

    /// Writes a line, unless writing has failed already.
    pub fn print(&mut self, line: &impl Serialize) {
        if self.broken.is_some() {
            return;
        }
        let written = serde_json::to_writer(&mut self.out, line)
            .map_err(io::Error::from)
            .and_then(|()| self.out.write_all(b"\n"));
        if let Err(error) = written {
            self.broken = Some(error);
            self.shutdown.cancel();
        }
    }

    /// The last line, and whether all were read; a reader that has seen enough (head) is no failure.
    ///
    /// # Errors
    /// When standard output failed.
    pub fn finish(mut self, last: &impl Serialize) -> Result<bool, Failure> {
        self.print(last);
        match self.broken.or_else(|| self.out.flush().err()) {
            None => Ok(true),
            Some(error) if error.kind() == ErrorKind::BrokenPipe => Ok(false),
            Some(error) => Err(Failure::unavailable(format!("standard output: {error}"))),
        }
    }
}
