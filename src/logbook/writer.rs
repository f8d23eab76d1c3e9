//! The logbook as the running program writes it: a bounded queue to a thread of its own, so that
//! neither a stamp nor a forecast waits for a disk.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use tokio::sync::{oneshot, watch};

use super::book::Book;
use super::error::LogbookError;
use super::in_force::LoggedSettings;
use super::look::Look;
use super::report::{LogbookNow, LogbookState};
use super::scribe::{Item, Scribe};
use crate::decode::crew_sentence;
use crate::feed::CREW_FEED;
use crate::time::Millis;

/// Items that may wait to be written.
const QUEUE: usize = 1024;
/// Places for the crew when the pictures have filled theirs.
const RESERVED: usize = 512;
/// What need not be on the disk at once is there after this.
const COMMIT_EVERY: Duration = Duration::from_secs(5);
/// A file that cannot be written is tried again after this.
const RETRY: Duration = Duration::from_secs(5);
/// How often it is looked whether the oldest days must go.
const LOOK_EVERY: Duration = Duration::from_secs(3600);
/// Most items taken before those who wait are answered.
const BATCH: usize = 256;

const SLOW: &str = "the disk is too slow for the logbook: use a faster one";

/// An item on its way to the file.
#[derive(Debug)]
struct Order {
    item: Item,
    /// Who waits until it is on the disk.
    kept: Option<oneshot::Sender<bool>>,
}

/// Takes what is heard and shown, and has it written.
#[derive(Debug)]
pub struct Logbook {
    hand: LogbookHand,
    thread: JoinHandle<()>,
}

/// An end of the queue, for each thread that has something to tell.
#[derive(Debug, Clone)]
pub struct LogbookHand {
    orders: SyncSender<Order>,
    queued: Arc<AtomicUsize>,
    crew_feeds: Arc<[String]>,
    report: watch::Sender<LogbookNow>,
}

impl Logbook {
    /// Starts writing to a file, which is made where there is none. Never fails: what is wrong shows
    /// in the report. `crew_feeds` names the feeds that speak for the crew besides the pages.
    #[must_use]
    pub fn start(path: PathBuf, most_bytes: u64, crew_feeds: Vec<String>) -> Self {
        let report = watch::Sender::new(LogbookNow {
            state: LogbookState::Opening,
            file: Some(path.display().to_string()),
            ..LogbookNow::default()
        });
        let (orders, queue) = sync_channel(QUEUE + RESERVED);
        let queued = Arc::new(AtomicUsize::new(0));
        let writer = Writer {
            scribe: Scribe::default(),
            book: Book::new(path, most_bytes),
            queued: Arc::clone(&queued),
            report: report.clone(),
            is_due: true,
            committed: Instant::now(),
            looked: Instant::now(),
            retry_at: None,
        };
        let thread = thread::spawn(move || writer.run(&queue));
        let hand = LogbookHand {
            orders,
            queued,
            crew_feeds: crew_feeds.into(),
            report,
        };
        Self { hand, thread }
    }

    /// How it stands, kept up to date.
    #[must_use]
    pub fn report(&self) -> watch::Receiver<LogbookNow> {
        self.hand.report.subscribe()
    }

    /// An end of its queue.
    #[must_use]
    pub fn hand(&self) -> LogbookHand {
        self.hand.clone()
    }

    /// Writes what is queued and closes the file. Blocks until that is done, and until all hands are
    /// dropped.
    pub fn finish(self) {
        drop(self.hand);
        if self.thread.join().is_err() {
            tracing::error!("the logbook's writer stopped unexpectedly");
        }
    }
}

impl LogbookHand {
    /// The program begins.
    pub fn begins(&self, at: Millis, settings: Option<Arc<LoggedSettings>>) {
        self.hand_over(Item::Begins { at, settings }, None);
    }

    /// Whether a sentence is the crew's.
    #[must_use]
    pub fn wants(&self, feed: &str, text: &str) -> bool {
        crew_sentence::is_one(text)
            && (feed == CREW_FEED || self.crew_feeds.iter().any(|name| name == feed))
    }

    /// Hands over a sentence of the crew; never waits. The answer is whether it is on the disk; it
    /// does not come when the writer has ended.
    pub fn said(&self, at: Millis, feed: Arc<str>, text: String) -> oneshot::Receiver<bool> {
        let (kept, answer) = oneshot::channel();
        self.hand_over(Item::Said { at, feed, text }, Some(kept));
        answer
    }

    /// Hands over what a picture shows; never waits.
    pub fn seen(&self, look: Look) {
        self.hand_over(Item::Seen(Box::new(look)), None);
    }

    fn hand_over(&self, item: Item, kept: Option<oneshot::Sender<bool>>) {
        let may_drop = matches!(item, Item::Seen(_));
        let is_full = may_drop && self.queued.load(Ordering::Relaxed) >= QUEUE;
        // Counted before it can be taken out.
        self.queued.fetch_add(1, Ordering::Relaxed);
        let is_lost = is_full
            || matches!(
                self.orders.try_send(Order { item, kept }),
                Err(TrySendError::Full(_) | TrySendError::Disconnected(_))
            );
        if is_lost {
            self.queued.fetch_sub(1, Ordering::Relaxed);
            fail(&self.report, SLOW, 1);
        }
    }
}

fn fail(report: &watch::Sender<LogbookNow>, cause: &str, lost: u64) {
    report.send_if_modified(|now| {
        now.lost_rows += lost;
        let is_news = now.cause.as_deref() != Some(cause);
        if is_news {
            tracing::warn!("the logbook is not written, advice goes on: {cause}");
            now.state = LogbookState::Failing;
            now.cause = Some(cause.to_owned());
        }
        is_news || lost > 0
    });
}

struct Writer {
    scribe: Scribe,
    book: Book,
    queued: Arc<AtomicUsize>,
    report: watch::Sender<LogbookNow>,
    /// Whether the next look at the queue ends with a commit.
    is_due: bool,
    committed: Instant,
    looked: Instant,
    retry_at: Option<Instant>,
}

impl Writer {
    fn run(mut self, queue: &Receiver<Order>) {
        self.commit();
        loop {
            let mut waiting = Vec::new();
            let ended = match queue.recv_timeout(COMMIT_EVERY) {
                Ok(order) => {
                    self.take(order, &mut waiting);
                    for order in queue.try_iter().take(BATCH) {
                        self.take(order, &mut waiting);
                    }
                    false
                }
                Err(RecvTimeoutError::Timeout) => false,
                Err(RecvTimeoutError::Disconnected) => true,
            };
            if ended {
                let rows = self.scribe.finish();
                self.book.add(rows);
            }
            if ended || !waiting.is_empty() || self.committed.elapsed() >= COMMIT_EVERY {
                self.is_due = true;
            }
            let kept = self.commit();
            for poster in waiting {
                // Whoever no longer waits does not mind.
                let _ = poster.send(kept);
            }
            if ended {
                return;
            }
        }
    }

    fn take(&mut self, order: Order, waiting: &mut Vec<oneshot::Sender<bool>>) {
        self.queued.fetch_sub(1, Ordering::Relaxed);
        let rows = self.scribe.take(order.item);
        self.book.add(rows);
        waiting.extend(order.kept);
    }

    /// Whether all is on the disk now.
    fn commit(&mut self) -> bool {
        if !self.is_due {
            return true;
        }
        if self.retry_at.is_some_and(|at| Instant::now() < at) {
            self.tell(None);
            return false;
        }
        self.is_due = false;
        self.committed = Instant::now();
        let mut done = self.book.commit();
        if done.is_ok() && self.looked.elapsed() >= LOOK_EVERY {
            self.looked = Instant::now();
            done = self.book.keep_within();
        }
        self.retry_at = done.is_err().then(|| Instant::now() + RETRY);
        let is_kept = done.is_ok();
        self.tell(Some(done));
        is_kept
    }

    /// Says how it stands; `done` is what came of a commit.
    fn tell(&mut self, done: Option<Result<(), LogbookError>>) {
        let lost = std::mem::take(&mut self.book.lost);
        let book = &self.book;
        let name = |path: &Option<PathBuf>| path.as_ref().map(|path| path.display().to_string());
        self.report.send_if_modified(|now| {
            let mut new = now.clone();
            new.waiting_rows = book.waiting() as u64;
            new.lost_rows += lost;
            new.set_aside = name(&book.set_aside);
            new.copy = name(&book.copy);
            new.deleted_days = book.deleted_days;
            if matches!(done, Some(Ok(()))) {
                if new.state == LogbookState::Failing {
                    tracing::info!("{}: the logbook is written again", book.path().display());
                }
                new.state = LogbookState::Keeping;
                new.cause = None;
            }
            let is_news = new != *now;
            *now = new;
            is_news
        });
        if let Some(Err(error)) = done {
            fail(&self.report, &error.to_string(), 0);
        }
    }
}
