//! The file that is being written.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write as _};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use super::names::create_new;
use super::queue::Line;
use crate::files::{leads_to, sync_directory};
use crate::time::Millis;

const SYNC_EVERY: Duration = Duration::from_secs(10);

/// The recording being written. A line counts as written only once it is settled: flushed, and the
/// name still leads to the file.
#[derive(Debug)]
pub(super) struct OpenFile {
    pub path: PathBuf,
    /// Arrival of its first line.
    pub since: Millis,
    /// Bytes handed over, settled or not.
    pub bytes: u64,
    /// When it was last settled.
    pub settled: Instant,
    out: BufWriter<File>,
    settled_bytes: u64,
    /// Lines not settled yet.
    unsettled: u64,
    /// Those among them that must stay.
    must_stay: Vec<Line>,
    synced: Instant,
}

/// What was settled.
#[derive(Debug)]
pub(super) struct Settled {
    pub lines: u64,
    pub must_stay: Vec<Line>,
}

/// What is left of a file that was given up.
#[derive(Debug)]
pub(super) struct Leftover {
    /// Lines that are lost with it.
    pub lost: u64,
    /// Lines that are not in it and must stay.
    pub must_stay: Vec<Line>,
}

impl OpenFile {
    /// A new file; its name is on the disk when this returns.
    pub fn create(dir: &Path, time: Millis) -> io::Result<Self> {
        let (path, file) = create_new(dir, time)?;
        sync_directory(dir)
            .map(|()| Self::of(path.clone(), file, time))
            .inspect_err(|_| {
                let _ = fs::remove_file(&path);
            })
    }

    pub(super) fn of(path: PathBuf, file: File, since: Millis) -> Self {
        let now = Instant::now();
        Self {
            path,
            since,
            bytes: 0,
            settled: now,
            out: BufWriter::new(file),
            settled_bytes: 0,
            unsettled: 0,
            must_stay: Vec::new(),
            synced: now,
        }
    }

    /// Whether a line waits that must stay.
    pub fn is_waited_for(&self) -> bool {
        !self.must_stay.is_empty()
    }

    /// Whether a line is not settled.
    pub fn is_unsettled(&self) -> bool {
        self.unsettled > 0
    }

    pub fn write(&mut self, line: Line) -> io::Result<()> {
        self.unsettled += 1;
        self.bytes += line.text.len() as u64;
        let written = self.out.write_all(line.text.as_bytes());
        if line.must_stay {
            self.must_stay.push(line);
        }
        written
    }

    /// Flushes everything to the system, and syncs it to the disk if `sync` or if a sync is due; then
    /// checks that the name still leads to this file.
    pub fn settle(&mut self, sync: bool) -> io::Result<Settled> {
        self.out.flush()?;
        if sync || self.synced.elapsed() >= SYNC_EVERY {
            self.out.get_ref().sync_data()?;
            self.synced = Instant::now();
        }
        if !leads_to(&self.path, self.out.get_ref())? {
            return Err(io::ErrorKind::NotFound.into());
        }
        self.settled = Instant::now();
        self.settled_bytes = self.bytes;
        Ok(Settled {
            lines: std::mem::take(&mut self.unsettled),
            must_stay: std::mem::take(&mut self.must_stay),
        })
    }

    /// Leaves the file as it was when it was last settled: without half a line at its end, and
    /// without lines that will be written again elsewhere. An empty file goes, so that retrying on
    /// a full disk does not leave thousands.
    pub fn give_up(self) -> Leftover {
        // Its buffer is not written.
        let (file, _rest) = self.out.into_parts();
        let is_cut = file.set_len(self.settled_bytes);
        let is_still_there = file.metadata().is_ok_and(|about| about.is_file())
            && leads_to(&self.path, &file).unwrap_or(false);
        if self.settled_bytes == 0
            && is_still_there
            && let Err(error) = fs::remove_file(&self.path)
        {
            tracing::debug!(file = %self.path.display(), %error, "empty file stays");
        }
        // Where it cannot be cut, some of them may be in it: better lost than there twice.
        let must_stay = if is_cut.is_ok() {
            self.must_stay
        } else {
            Vec::new()
        };
        Leftover {
            lost: self.unsettled - must_stay.len() as u64,
            must_stay,
        }
    }
}
