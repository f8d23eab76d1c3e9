//! The bounded queue between the recorder and the thread that writes.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::time::{Duration, Instant};

use tokio::sync::oneshot;

use super::report::KeptIn;
use crate::time::Millis;

/// Lines that may wait to be written.
pub(super) const QUEUE_LINES: usize = 4096;
/// Places in the queue for lines that must not be lost, when the others have filled theirs.
pub(super) const RESERVED_LINES: usize = 1024;
/// Longest wait for the disk before a sender is told that its line is in memory only.
pub(super) const ANSWER_WITHIN: Duration = Duration::from_secs(2);

/// A line on its way to the file.
#[derive(Debug)]
pub(super) struct Line {
    pub time: Millis,
    pub text: String,
    /// Kept in memory until it can be written, not dropped.
    pub must_stay: bool,
    /// Who waits until it is on the disk.
    pub reply: Option<oneshot::Sender<KeptIn>>,
}

/// State shared by the sending end of the queue and the writing thread.
#[derive(Debug)]
pub(super) struct Load {
    pub queued: AtomicUsize,
    start: Instant,
    /// When the writer began the work it is at now, in milliseconds after `start`, at least 1; 0
    /// while it is idle.
    working_since_ms: AtomicU64,
}

impl Load {
    fn new() -> Self {
        Self {
            queued: AtomicUsize::new(0),
            start: Instant::now(),
            working_since_ms: AtomicU64::new(0),
        }
    }

    fn now_ms(&self) -> u64 {
        u64::try_from(self.start.elapsed().as_millis())
            .unwrap_or(u64::MAX)
            .max(1)
    }

    /// The writer begins something that may wait for the disk.
    pub fn begin(&self) {
        self.working_since_ms
            .store(self.now_ms(), Ordering::Relaxed);
    }

    /// The writer has finished it.
    pub fn end(&self) {
        self.working_since_ms.store(0, Ordering::Relaxed);
    }

    /// How long the writer has been at its current work.
    pub fn working_for(&self) -> Option<Duration> {
        let since = self.working_since_ms.load(Ordering::Relaxed);
        let worked_ms = self.now_ms().saturating_sub(since);
        (since != 0).then(|| Duration::from_millis(worked_ms))
    }

    /// Whether the disk has kept the writer waiting too long.
    pub fn is_stuck(&self) -> bool {
        self.working_for()
            .is_some_and(|worked| worked >= ANSWER_WITHIN)
    }
}

/// The writer's end of the queue.
#[derive(Debug)]
pub(super) struct Queue {
    lines: Receiver<Line>,
    pub load: Arc<Load>,
}

impl Queue {
    fn taken(&self, line: Line) -> Line {
        self.load.queued.fetch_sub(1, Ordering::Relaxed);
        line
    }

    /// The next line; waits for it.
    pub fn next_within(&self, patience: Duration) -> Result<Line, RecvTimeoutError> {
        self.lines
            .recv_timeout(patience)
            .map(|line| self.taken(line))
    }

    /// The next line if it is there.
    pub fn next(&self) -> Option<Line> {
        self.lines.try_recv().ok().map(|line| self.taken(line))
    }
}

pub(super) fn queue() -> (SyncSender<Line>, Queue) {
    let (sender, lines) = sync_channel(QUEUE_LINES + RESERVED_LINES);
    let load = Arc::new(Load::new());
    (sender, Queue { lines, load })
}
