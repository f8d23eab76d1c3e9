//! The common entry of all feeds: bytes are framed, counted, logged at a limited rate and passed on.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use tokio::sync::{mpsc, watch};

use super::frame::{Frame, Rejection, StreamEnd};
use super::framer::Framer;
use super::origin::Origin;
use super::report::{FeedCounters, FeedReport, Link};
use super::settings::FeedName;
use super::{Arrival, RawSentence};
use crate::time::Millis;

/// Rate limit of log lines: so many per window about rejected input, and so many about connections
/// opened and lost. The other end controls how often either happens.
const LOG_WINDOW: Duration = Duration::from_secs(60);
const INPUT_LINES: u32 = 2;
const LINK_LINES: u32 = 10;

/// One feed's entry. Clones share its state: a TCP server has one per caller.
#[derive(Debug, Clone)]
pub(super) struct Intake {
    name: FeedName,
    arrivals: mpsc::Sender<Arrival>,
    report: watch::Sender<FeedReport>,
    was_open: Arc<AtomicBool>,
    input_log: Arc<Mutex<Gate>>,
    link_log: Arc<Mutex<Gate>>,
}

impl Intake {
    pub(super) fn new(name: FeedName, arrivals: mpsc::Sender<Arrival>) -> Self {
        let report = FeedReport {
            link: Link::Opening,
            counters: FeedCounters::default(),
        };
        Self {
            name,
            arrivals,
            report: watch::Sender::new(report),
            was_open: Arc::default(),
            input_log: Arc::new(Mutex::new(Gate::new(INPUT_LINES))),
            link_log: Arc::new(Mutex::new(Gate::new(LINK_LINES))),
        }
    }

    pub(super) fn watch(&self) -> watch::Receiver<FeedReport> {
        self.report.subscribe()
    }

    pub(super) fn name(&self) -> &FeedName {
        &self.name
    }

    pub(super) fn set_link(&self, link: Link) {
        self.report.send_modify(|report| report.link = link);
    }

    /// Notes that the connection is open (again).
    pub(super) fn opened(&self, peers: usize) {
        let again = self.was_open.swap(true, Ordering::Relaxed);
        self.report.send_modify(|report| {
            report.link = Link::Open { peers };
            report.counters.reconnects += u64::from(again);
        });
        if let Some(events) = pass(&self.link_log, 1) {
            tracing::info!(feed = %self.name, again, events, "feed open");
        }
    }

    /// Logs that the connection was lost or not made.
    pub(super) fn log_lost(&self, cause: &str) {
        if let Some(events) = pass(&self.link_log, 1) {
            tracing::warn!(feed = %self.name, cause, events, "feed lost, trying again");
        }
    }

    pub(super) fn refused_peer(&self) {
        self.report
            .send_modify(|report| report.counters.refused_peers += 1);
    }

    /// Sentences accepted so far, of both kinds.
    pub(super) fn accepted(&self) -> u64 {
        let report = self.report.borrow();
        report.counters.good + report.counters.encapsulated
    }

    /// Takes bytes from a live source. Sentences that find no room in the channel are dropped and
    /// counted, so that old data never queues up behind a busy daemon. Returns whether the bytes
    /// completed a sentence.
    pub(super) fn take(&self, framer: &mut Framer, bytes: &[u8]) -> bool {
        let sentences = self.push(framer, bytes);
        let spoke = !sentences.is_empty();
        self.offer(sentences, None);
        spoke
    }

    /// Ends a stream that was given to [`Intake::take`].
    pub(super) fn end(&self, framer: &mut Framer, end: StreamEnd) {
        let sentences = self.flush(framer, end);
        self.offer(sentences, None);
    }

    /// Takes a whole datagram of one sender, as [`Intake::take`] does.
    pub(super) fn take_datagram(&self, framer: &mut Framer, bytes: &[u8], origin: Origin) {
        let mut sentences = self.push(framer, bytes);
        sentences.extend(self.flush(framer, StreamEnd::Whole));
        self.offer(sentences, Some(origin));
    }

    fn offer(&self, sentences: Vec<RawSentence>, origin: Option<Origin>) {
        let mut dropped = 0;
        for sentence in sentences {
            let arrival = Arrival {
                feed: self.name.clone(),
                origin,
                sentence,
            };
            if self.arrivals.try_send(arrival).is_err() {
                dropped += 1;
            }
        }
        if dropped > 0 {
            self.report
                .send_modify(|report| report.counters.dropped += dropped);
        }
    }

    /// Passes one sentence on, waiting for room: for files, which can wait.
    pub(super) async fn deliver(&self, sentence: RawSentence) {
        let arrival = Arrival {
            feed: self.name.clone(),
            origin: None,
            sentence,
        };
        // An error means the daemon is shutting down; the cancellation token ends this feed.
        let _ = self.arrivals.send(arrival).await;
    }

    /// Frames and counts without passing on.
    pub(super) fn push(&self, framer: &mut Framer, bytes: &[u8]) -> Vec<RawSentence> {
        let mut frames = Vec::new();
        framer.push(bytes, &mut |frame| frames.push(frame));
        self.count(bytes.len(), frames)
    }

    /// Ends the stream without passing on.
    pub(super) fn flush(&self, framer: &mut Framer, end: StreamEnd) -> Vec<RawSentence> {
        let mut frames = Vec::new();
        framer.flush(end, &mut |frame| frames.push(frame));
        self.count(0, frames)
    }

    fn count(&self, bytes: usize, frames: Vec<Frame>) -> Vec<RawSentence> {
        let mut counted = FeedCounters::default();
        let mut sentences = Vec::new();
        let mut last_rejection = None;
        for frame in frames {
            counted.count(&frame);
            match frame {
                Frame::Sentence(sentence) => sentences.push(sentence),
                Frame::Rejected(rejection) => last_rejection = Some(rejection),
            }
        }
        self.report.send_modify(|report| {
            let counters = &mut report.counters;
            counters.add(&counted);
            if bytes > 0 {
                counters.bytes += bytes as u64;
                counters.last_seen = Some(Millis(chrono::Utc::now().timestamp_millis()));
            }
        });
        if let Some(rejection) = last_rejection {
            self.log_rejected(&rejection, counted.rejections());
        }
        sentences
    }

    fn log_rejected(&self, rejection: &Rejection, count: u64) {
        if let Some(events) = pass(&self.input_log, count) {
            tracing::warn!(
                feed = %self.name,
                cause = %rejection.cause,
                text = rejection.text,
                events,
                "input rejected"
            );
        }
    }
}

fn pass(gate: &Mutex<Gate>, count: u64) -> Option<u64> {
    gate.lock()
        .unwrap_or_else(PoisonError::into_inner)
        .pass(Instant::now(), count)
}

/// Lets a number of log lines through per [`LOG_WINDOW`] and counts what it holds back.
#[derive(Debug)]
struct Gate {
    limit: u32,
    passed: u32,
    window_start: Option<Instant>,
    held: u64,
}

impl Gate {
    fn new(limit: u32) -> Self {
        Self {
            limit,
            passed: 0,
            window_start: None,
            held: 0,
        }
    }

    /// Adds `count` events; how many there were since the last line, when one may be written.
    fn pass(&mut self, now: Instant, count: u64) -> Option<u64> {
        self.held += count;
        if self
            .window_start
            .is_none_or(|start| now - start >= LOG_WINDOW)
        {
            self.window_start = Some(now);
            self.passed = 0;
        }
        if self.passed == self.limit {
            return None;
        }
        self.passed += 1;
        Some(std::mem::take(&mut self.held))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn log_lines_are_limited_and_the_rest_counted() {
        let mut gate = Gate::new(2);
        let start = Instant::now();
        assert_eq!(gate.pass(start, 1), Some(1));
        assert_eq!(gate.pass(start, 3), Some(3));
        assert_eq!(gate.pass(start + LOG_WINDOW / 2, 5), None);
        assert_eq!(gate.pass(start + LOG_WINDOW / 2, 2), None);
        assert_eq!(gate.pass(start + LOG_WINDOW, 1), Some(8));
    }

    #[test]
    fn a_busy_daemon_loses_sentences_openly() {
        let (sender, mut receiver) = mpsc::channel(2);
        let intake = Intake::new(FeedName::new("wind").unwrap(), sender);
        let mut framer = Framer::new(Default::default());
        let line = b"$WIMWV,214.8,R,0.1,K,A*28\r\n".repeat(5);
        intake.take(&mut framer, &line);
        let counters = intake.watch().borrow().counters.clone();
        assert_eq!((counters.good, counters.dropped), (5, 3));
        assert!(receiver.try_recv().is_ok());
    }
}
