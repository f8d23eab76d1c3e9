//! The live driver: stamps what arrives, records it, and drives the engine.
//!
//! One task stamps everything (sentences of all feeds, crew posts, whole seconds) in one order;
//! that order is recorded and is what the engine takes, so a recording replays to the same
//! advisories. The engine works on its own thread, so that a long forecast never delays a stamp.

use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use tokio::sync::{mpsc, watch};
use tokio_util::sync::CancellationToken;

use super::crew::{CrewSequence, answer_when_kept};
use super::{LearntFile, Stamped, Ticks};
use crate::decode::{CrewInput, SessionMark, encode_crew};
use crate::engine::{Engine, FeedNow, Picture};
use crate::feed::{Arrival, FeedName, FeedReport, RawSentence, SentenceKind};
use crate::record::Recorder;
use crate::serve::CrewPost;
use crate::time::Millis;

/// Events that may wait for the engine; at 100 sentences a second a quarter of a minute.
const QUEUE: usize = 2048;

/// The live driver.
#[derive(Debug)]
pub struct Live {
    /// Sentences of all feeds.
    pub arrivals: mpsc::Receiver<Arrival>,
    /// What the crew posts.
    pub crew: mpsc::Receiver<CrewPost>,
    /// Where the raw stream is written, if anywhere.
    pub recorder: Option<Recorder>,
    /// Where what is learnt is kept, if anywhere.
    pub learnt: Option<LearntFile>,
    /// What the feeds say of themselves, by name; shown with each picture.
    pub reports: Vec<(FeedName, watch::Receiver<FeedReport>)>,
    /// Ends it.
    pub shutdown: CancellationToken,
}

/// The system's time at the start, carried on by the monotonic clock: a boat computer without a
/// clock battery has its time set (often by hours, either way) when the GNSS wakes up, and
/// neither a forecast nor an age may jump with it.
#[derive(Debug, Clone, Copy)]
struct Clock {
    wall: Millis,
    since: Instant,
}

impl Clock {
    fn start() -> Self {
        let wall = SystemTime::now()
            .duration_since(UNIX_EPOCH)
            .unwrap_or_default();
        Self {
            wall: Millis(i64::try_from(wall.as_millis()).unwrap_or_default()),
            since: Instant::now(),
        }
    }

    fn now(&self) -> Millis {
        let passed = i64::try_from(self.since.elapsed().as_millis()).unwrap_or(i64::MAX);
        Millis(self.wall.0.saturating_add(passed))
    }
}

struct Stamper {
    clock: Clock,
    last: Millis,
    ticks: Ticks,
    sequence: CrewSequence,
    crew_feed: FeedName,
    recorder: Option<Recorder>,
    engine: mpsc::Sender<Stamped>,
}

impl Stamper {
    /// Moves time on, giving the ticks that became due.
    async fn advance(&mut self) -> Millis {
        self.last = self.clock.now();
        for at in self.ticks.due(self.last) {
            self.send(Stamped::Tick { at }).await;
        }
        self.last
    }

    async fn line(&mut self, feed: &FeedName, sentence: RawSentence) {
        let at = self.advance().await;
        if let Some(recorder) = &self.recorder {
            recorder.record(at, feed, &sentence);
        }
        self.recorded(at, feed, sentence).await;
    }

    /// What the crew posts counts at once; its poster is answered when it is on the disk.
    async fn post(&mut self, post: CrewPost) {
        let (sequence, text) = self.sequence.next(&post.input);
        let at = self.advance().await;
        let feed = self.crew_feed.clone();
        let sentence = RawSentence::own(text);
        let kept = self
            .recorder
            .as_ref()
            .map(|recorder| recorder.record_durably(at, &feed, &sentence));
        answer_when_kept(post.reply, sequence, kept);
        self.recorded(at, &feed, sentence).await;
    }

    /// Hands what was recorded to the engine.
    async fn recorded(&mut self, at: Millis, feed: &FeedName, sentence: RawSentence) {
        // What is not decoded is recorded all the same; its feed has counted it.
        if sentence.kind == SentenceKind::Parametric {
            self.send(Stamped::Line {
                at,
                feed: feed.shared(),
                text: sentence.text,
            })
            .await;
        }
    }

    async fn send(&self, stamped: Stamped) {
        // The engine only goes away when we are being shut down.
        let _ = self.engine.send(stamped).await;
    }

    async fn mark(&mut self, mark: SessionMark) {
        let feed = self.crew_feed.clone();
        let text = encode_crew(&CrewInput::Session(mark), 0);
        self.line(&feed, RawSentence::own(text)).await;
    }
}

/// The engine's thread ended on its own; what it was given is still recorded.
#[derive(Debug, thiserror::Error)]
#[error(
    "the engine stopped ({why}). That is a fault of the program: please report it with the log \
     and the recording; start it again to go on"
)]
pub struct EngineStopped {
    /// What it died of.
    why: tokio::task::JoinError,
}

impl Live {
    /// Runs until shut down.
    ///
    /// # Errors
    /// When the engine stops before.
    pub async fn run(
        mut self,
        mut engine: Engine,
        mut publish: impl FnMut(Picture) + Send + 'static,
    ) -> Result<(), EngineStopped> {
        let (to_engine, mut from_stamper) = mpsc::channel::<Stamped>(QUEUE);
        let reports = std::mem::take(&mut self.reports);
        let mut learnt = self.learnt.take();
        let mut working = tokio::task::spawn_blocking(move || {
            while let Some(stamped) = from_stamper.blocking_recv() {
                if let Some(mut picture) = engine.take(stamped.as_event()) {
                    for feed in &mut picture.snapshot.feeds {
                        add_report(feed, &reports);
                    }
                    publish(picture);
                    if let Some(file) = &mut learnt {
                        file.keep(&engine);
                    }
                }
            }
            if let Some(file) = &mut learnt {
                file.keep_now(&engine);
            }
        });
        let clock = Clock::start();
        let mut stamper = Stamper {
            clock,
            last: clock.now(),
            ticks: Ticks::default(),
            sequence: CrewSequence::default(),
            crew_feed: FeedName::crew(),
            recorder: self.recorder.take(),
            engine: to_engine,
        };
        stamper.mark(SessionMark::Start).await;
        let mut stopped = None;
        loop {
            let next = Ticks::next_after(stamper.last);
            let wait_ms = u64::try_from(next.0 - clock.now().0).unwrap_or(0);
            tokio::select! {
                () = self.shutdown.cancelled() => break,
                ended = &mut working => {
                    stopped = Some(ended);
                    break;
                }
                Some(post) = self.crew.recv() => stamper.post(post).await,
                Some(arrival) = self.arrivals.recv() => {
                    stamper.line(&arrival.feed, arrival.sentence).await;
                }
                () = tokio::time::sleep(Duration::from_millis(wait_ms)) => {
                    stamper.advance().await;
                }
            }
        }
        stamper.mark(SessionMark::Stop).await;
        let recorder = stamper.recorder.take();
        drop(stamper);
        let stopped = match stopped {
            Some(ended) => ended,
            None => working.await,
        };
        if let Some(recorder) = recorder
            && let Err(error) = tokio::task::spawn_blocking(move || recorder.finish()).await
        {
            tracing::error!("the recording was not closed: {error}");
        }
        stopped.map_err(|why| EngineStopped { why })
    }
}

/// Adds what only the feed itself knows: the state of its link and what its framer refused.
fn add_report(feed: &mut FeedNow, reports: &[(FeedName, watch::Receiver<FeedReport>)]) {
    let Some((_, report)) = reports.iter().find(|(name, _)| name.as_str() == feed.name) else {
        return;
    };
    let report = report.borrow();
    feed.link = Some(report.link.to_string());
    let counters = &report.counters;
    for (cause, count) in [
        ("bad_checksum", counters.bad_checksum),
        ("missing_checksum", counters.missing_checksum),
        ("garbled", counters.garbled),
        ("too_long", counters.too_long),
        ("bad_tag", counters.bad_tag),
        ("encapsulated", counters.encapsulated),
        ("dropped", counters.dropped),
    ] {
        if count > 0 {
            *feed.refused.entry(cause.to_owned()).or_default() += count;
        }
    }
}
