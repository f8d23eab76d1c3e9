//! The recorder as the rest of the program sees it: a bounded queue to the thread that writes.

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::sync::mpsc::{SyncSender, TrySendError};
use std::thread::{self, JoinHandle};

use tokio::sync::{oneshot, watch};

use super::format::recorded_line;
use super::queue::{ANSWER_WITHIN, Line, Load, QUEUE_LINES, queue};
use super::report::{KeptIn, RecordReport, fail};
use super::settings::RecordSettings;
use super::writer::Writer;
use crate::feed::RawSentence;
use crate::time::Millis;

/// Writes lines to rotating files on a thread of its own. Dropping it, or [`Recorder::finish`],
/// ends the recording and closes the file.
#[derive(Debug)]
pub struct Recorder {
    lines: SyncSender<Line>,
    report: watch::Sender<RecordReport>,
    load: Arc<Load>,
    thread: JoinHandle<()>,
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

    /// Queues one line. Returns at once.
    pub fn record(&self, time: Millis, feed: &str, sentence: &RawSentence) {
        self.hand_over(Line {
            time,
            text: recorded_line(time, feed, sentence),
            must_stay: false,
            reply: None,
        });
    }

    /// Queues one line that must not be lost, and returns at once. The future completes when the line
    /// is on the disk, or after 2 s. A line that cannot be written stays in memory and is written as
    /// soon as writing succeeds again.
    pub fn record_durably(
        &self,
        time: Millis,
        feed: &str,
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

    /// Writes what is queued and closes the file. Blocks until that is done.
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

#[cfg(test)]
mod tests {
    use std::time::{Duration, Instant};

    use super::super::names::recordings;
    use super::super::queue::Queue;
    use super::super::report::RecordState;
    use super::*;

    fn wind() -> (&'static str, RawSentence) {
        let wind = RawSentence::own("$WIMWV,214.8,R,0.1,K,A*28".to_owned());
        ("wind", wind)
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
        recorder.record(Millis(1), feed, &sentence);
        let expected = recorded_line(Millis(1), feed, &sentence).len() as u64;
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
        let kept = recorder.record_durably(Millis(1), feed, &sentence).await;
        assert_eq!(kept, KeptIn::Disk);
        let path = &recordings(dir.path()).unwrap()[0].path;
        let text = std::fs::read_to_string(path).unwrap();
        assert_eq!(text, recorded_line(Millis(1), feed, &sentence));
    }

    #[tokio::test]
    async fn a_queue_full_of_instruments_has_room_for_the_crew() {
        let (recorder, queue) = idle();
        let (feed, sentence) = wind();
        for number in 0..QUEUE_LINES as i64 + 3 {
            recorder.record(Millis(number), feed, &sentence);
        }
        assert_eq!(recorder.report.borrow().lost, 3);
        assert_eq!(cause(&recorder).as_deref(), Some(FULL));
        let told = recorder.record_durably(Millis(9999), feed, &sentence);
        let mut last = None;
        while let Some(line) = queue.next() {
            last = Some(line);
        }
        let last = last.unwrap();
        assert!(last.must_stay && last.time == Millis(9999));
        last.reply.unwrap().send(KeptIn::Disk).unwrap();
        assert_eq!(told.await, KeptIn::Disk);
        // There is room again.
        recorder.record(Millis(10_000), feed, &sentence);
        assert_eq!(recorder.report.borrow().lost, 3);
    }

    #[tokio::test]
    async fn a_disk_that_does_not_answer_holds_no_sender_for_ever() {
        let (recorder, queue) = idle();
        let (feed, sentence) = wind();
        // The writer has begun something that does not end.
        queue.load.begin();
        let asked = Instant::now();
        let kept = recorder.record_durably(Millis(1), feed, &sentence).await;
        assert_eq!(kept, KeptIn::Memory);
        assert!(asked.elapsed() >= ANSWER_WITHIN);
        assert_eq!(cause(&recorder).as_deref(), Some(STUCK));
        // From then on nobody waits, and everybody is told.
        let asked = Instant::now();
        let kept = recorder.record_durably(Millis(2), feed, &sentence).await;
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
        recorder.record(Millis(1), feed, &sentence);
        assert_eq!(cause(&recorder).as_deref(), Some(ENDED));
        assert_eq!(recorder.report.borrow().lost, 1);
    }
}
