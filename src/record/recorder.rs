//! The recorder as the rest of the program sees it: a bounded queue to the thread that writes.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use tokio::sync::{oneshot, watch};

use super::format::recorded_line;
use super::report::{KeptIn, RecordReport, RecordState};
use super::settings::RecordSettings;
use super::writer::Writer;
use crate::feed::{FeedName, RawSentence};
use crate::time::Millis;

/// Lines that may wait to be written.
const QUEUE_LINES: usize = 4096;
/// Places in the queue for lines that must not be lost, when the others have filled theirs.
const RESERVED_LINES: usize = 1024;
/// Longest wait for the disk before a sender is told that his line is in memory only.
const ANSWER_WITHIN: Duration = Duration::from_secs(2);

/// Writes lines to rotating files on a thread of its own. Dropping it, or [`Recorder::finish`],
/// ends the recording and closes the file.
#[derive(Debug)]
pub struct Recorder {
    lines: SyncSender<Line>,
    report: watch::Sender<RecordReport>,
    load: Arc<Load>,
    thread: JoinHandle<()>,
}

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

/// What the queue and the writing thread know of each other.
#[derive(Debug)]
pub(super) struct Load {
    queued: AtomicUsize,
    start: Instant,
    /// When the writer's work under way began, in milliseconds after `start` and at least 1; 0
    /// when there is none.
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

    /// And has done it.
    pub fn end(&self) {
        self.working_since_ms.store(0, Ordering::Relaxed);
    }

    /// How long the writer's work under way has taken so far.
    fn working_for(&self) -> Option<Duration> {
        let since = self.working_since_ms.load(Ordering::Relaxed);
        let worked_ms = self.now_ms().saturating_sub(since);
        (since != 0).then(|| Duration::from_millis(worked_ms))
    }

    /// Whether the disk has kept the writer waiting too long.
    fn is_stuck(&self) -> bool {
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

    /// The next line, waited for.
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

fn queue() -> (SyncSender<Line>, Queue) {
    let (sender, lines) = sync_channel(QUEUE_LINES + RESERVED_LINES);
    let load = Arc::new(Load::new());
    (sender, Queue { lines, load })
}

impl Recorder {
    /// Starts recording. Never fails: what is wrong shows in the report.
    #[must_use]
    pub fn start(settings: RecordSettings) -> Self {
        let report = watch::Sender::new(RecordReport::default());
        let (lines, queue) = queue();
        let load = Arc::clone(&queue.load);
        let writer = Writer::new(settings, report.clone());
        let thread = thread::spawn(move || writer.run(&queue));
        Self {
            lines,
            report,
            load,
            thread,
        }
    }

    /// Hands over one line. Returns at once.
    pub fn record(&self, time: Millis, feed: &FeedName, sentence: &RawSentence) {
        self.hand_over(Line {
            time,
            text: recorded_line(time, feed, sentence),
            must_stay: false,
            reply: None,
        });
    }

    /// Hands over one line that must not be lost, at once. What comes back waits until the line
    /// is on the disk, 2 s at most. A line that cannot be written stays in memory, and is written
    /// when that succeeds again.
    pub fn record_durably(
        &self,
        time: Millis,
        feed: &FeedName,
        sentence: &RawSentence,
    ) -> impl Future<Output = KeptIn> + Send + use<> {
        let (reply, answer) = oneshot::channel();
        self.hand_over(Line {
            time,
            text: recorded_line(time, feed, sentence),
            must_stay: true,
            reply: Some(reply),
        });
        let (report, load) = (self.report.clone(), Arc::clone(&self.load));
        let is_stuck = load.is_stuck();
        async move {
            if is_stuck {
                return KeptIn::Memory;
            }
            match tokio::time::timeout(ANSWER_WITHIN, answer).await {
                Ok(Ok(kept)) => kept,
                Ok(Err(_)) => KeptIn::Memory,
                Err(_) => {
                    if load.working_for().is_some() {
                        fail(&report, time, STUCK);
                    }
                    KeptIn::Memory
                }
            }
        }
    }

    fn hand_over(&self, line: Line) {
        let time = line.time;
        if self.load.is_stuck() {
            fail(&self.report, time, STUCK);
        }
        let is_full = !line.must_stay && self.load.queued.load(Ordering::Relaxed) >= QUEUE_LINES;
        // Counted before it can be taken out.
        self.load.queued.fetch_add(1, Ordering::Relaxed);
        let cause = if is_full {
            Some(FULL)
        } else {
            match self.lines.try_send(line) {
                Ok(()) => None,
                Err(TrySendError::Full(_)) => Some(FULL),
                Err(TrySendError::Disconnected(_)) => Some(ENDED),
            }
        };
        if let Some(cause) = cause {
            self.load.queued.fetch_sub(1, Ordering::Relaxed);
            self.report.send_modify(|report| report.lost += 1);
            fail(&self.report, time, cause);
        }
    }

    /// How it stands, kept up to date.
    #[must_use]
    pub fn report(&self) -> watch::Receiver<RecordReport> {
        self.report.subscribe()
    }

    /// Writes out what is queued, closes the file and waits for that. Blocks.
    pub fn finish(self) {
        drop(self.lines);
        if self.thread.join().is_err() {
            tracing::error!("the recorder stopped unexpectedly");
        }
    }
}

const STUCK: &str = "the disk does not answer: check the disk and its cable";
const FULL: &str = "the disk is too slow for what comes: use a faster one, or fewer inputs";
const ENDED: &str = "the recorder stopped, which is a fault of the program: start it again";

/// Says that lines do not reach the file, and since when.
pub(super) fn fail(report: &watch::Sender<RecordReport>, time: Millis, cause: &str) {
    report.send_if_modified(|report| {
        let since = match &report.state {
            RecordState::Failing { cause: known, .. } if known == cause => return false,
            RecordState::Failing { since, .. } => *since,
            _ => time,
        };
        tracing::warn!("not recording, advice goes on: {cause}");
        report.state = RecordState::Failing {
            cause: cause.to_owned(),
            since,
        };
        true
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::names::recordings;

    fn wind() -> (FeedName, RawSentence) {
        let wind = RawSentence::own("$WIMWV,214.8,R,0.1,K,A*28".to_owned());
        (FeedName::new("wind").unwrap(), wind)
    }

    /// A recorder whose lines nobody takes out, and the end where they come out.
    fn idle() -> (Recorder, Queue) {
        let (lines, queue) = queue();
        let recorder = Recorder {
            lines,
            report: watch::Sender::default(),
            load: Arc::clone(&queue.load),
            thread: thread::spawn(|| {}),
        };
        (recorder, queue)
    }

    fn cause(recorder: &Recorder) -> Option<String> {
        match &recorder.report.borrow().state {
            RecordState::Failing { cause, .. } => Some(cause.clone()),
            _ => None,
        }
    }

    #[test]
    fn lines_reach_the_file_within_a_second() {
        let dir = tempfile::tempdir().unwrap();
        let settings = RecordSettings::new(dir.path().to_owned(), 1, 3).unwrap();
        let recorder = Recorder::start(settings);
        let (feed, sentence) = wind();
        recorder.record(Millis(1), &feed, &sentence);
        let expected = recorded_line(Millis(1), &feed, &sentence).len() as u64;
        let started = Instant::now();
        loop {
            let files = recordings(dir.path()).unwrap();
            if files.iter().map(|file| file.bytes).sum::<u64>() == expected {
                break;
            }
            // The promise is a second; the rest is allowance for a busy machine.
            assert!(started.elapsed() < Duration::from_secs(20));
            thread::sleep(Duration::from_millis(20));
        }
        recorder.finish();
    }

    #[tokio::test]
    async fn a_sender_is_answered_when_the_line_is_in_the_file() {
        let dir = tempfile::tempdir().unwrap();
        let settings = RecordSettings::new(dir.path().to_owned(), 1, 3).unwrap();
        let recorder = Recorder::start(settings);
        let (feed, sentence) = wind();
        let kept = recorder.record_durably(Millis(1), &feed, &sentence).await;
        assert_eq!(kept, KeptIn::Disk);
        let path = &recordings(dir.path()).unwrap()[0].path;
        let text = std::fs::read_to_string(path).unwrap();
        assert_eq!(text, recorded_line(Millis(1), &feed, &sentence));
    }

    #[tokio::test]
    async fn a_queue_full_of_instruments_has_room_for_the_crew() {
        let (recorder, queue) = idle();
        let (feed, sentence) = wind();
        for number in 0..QUEUE_LINES as i64 + 3 {
            recorder.record(Millis(number), &feed, &sentence);
        }
        assert_eq!(recorder.report.borrow().lost, 3);
        assert_eq!(cause(&recorder).as_deref(), Some(FULL));
        let told = recorder.record_durably(Millis(9999), &feed, &sentence);
        let mut last = None;
        while let Some(line) = queue.next() {
            last = Some(line);
        }
        let last = last.unwrap();
        assert!(last.must_stay && last.time == Millis(9999));
        last.reply.unwrap().send(KeptIn::Disk).unwrap();
        assert_eq!(told.await, KeptIn::Disk);
        // There is room again.
        recorder.record(Millis(10_000), &feed, &sentence);
        assert_eq!(recorder.report.borrow().lost, 3);
    }

    #[tokio::test]
    async fn a_disk_that_does_not_answer_holds_no_sender_for_ever() {
        let (recorder, queue) = idle();
        let (feed, sentence) = wind();
        // The writer has begun something that does not end.
        queue.load.begin();
        let asked = Instant::now();
        let kept = recorder.record_durably(Millis(1), &feed, &sentence).await;
        assert_eq!(kept, KeptIn::Memory);
        assert!(asked.elapsed() >= ANSWER_WITHIN);
        assert_eq!(cause(&recorder).as_deref(), Some(STUCK));
        // From then on nobody waits, and everybody is told.
        let asked = Instant::now();
        let kept = recorder.record_durably(Millis(2), &feed, &sentence).await;
        assert_eq!(kept, KeptIn::Memory);
        assert!(asked.elapsed() < ANSWER_WITHIN);
        queue.load.end();
        assert!(!recorder.load.is_stuck());
    }

    #[test]
    fn a_writer_that_ended_is_said_to_have() {
        let (recorder, queue) = idle();
        drop(queue);
        let (feed, sentence) = wind();
        recorder.record(Millis(1), &feed, &sentence);
        assert_eq!(cause(&recorder).as_deref(), Some(ENDED));
        assert_eq!(recorder.report.borrow().lost, 1);
    }
}
