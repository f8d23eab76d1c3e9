//! The live driver: stamps what arrives, records it, and drives the engine.
//!
//! One task stamps everything (sentences of all feeds, crew posts, whole seconds) in one order;
//! that order is recorded and is what the engine takes, so a recording replays to the same
//! advisories. The engine works on its own thread, so that a long forecast never delays a stamp.

use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use tokio::sync::{mpsc, oneshot, watch};
use tokio_util::sync::CancellationToken;

use super::journal::{Journal, Keeper, answer_when_kept};
use super::{LearntFile, Stamped, Ticks};
use crate::decode::{CrewInput, SessionMark, crew_sentence, encode_crew};
use crate::engine::{Engine, FeedNow, Picture};
use crate::feed::{Arrival, FeedName, FeedReport, RawSentence, SentenceKind};
use crate::record::Recorder;
use crate::serve::CrewPost;
use crate::time::Millis;

/// Events that may wait for the engine; at 100 sentences a second a quarter of a minute.
const QUEUE: usize = 2048;

/// Numbers the crew's inputs, so that one can be taken back.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct CrewSequence {
    last: u32,
}

impl CrewSequence {
    /// Goes on after this number.
    pub(super) fn after(last: u32) -> Self {
        Self { last }
    }

    /// The next number, and the sentence of an input under it.
    pub(super) fn number(&mut self, input: &CrewInput) -> (u32, String) {
        // Number 0 is the program's own.
        self.last = self.last.checked_add(1).unwrap_or(1);
        (self.last, encode_crew(input, self.last))
    }

    /// Writes the sentence of a post and tells the poster its number.
    pub(super) fn answer(&mut self, post: CrewPost) -> String {
        let (number, text) = self.number(&post.input);
        // A poster who hung up meanwhile does not mind.
        let _ = post.reply.send(Ok(number));
        text
    }

    /// Goes on from the numbers in a recording.
    pub(super) fn heard(&mut self, text: &str) {
        if let Some(sequence) = crew_sentence::sequence(text) {
            self.last = self.last.max(sequence);
        }
    }
}

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
    /// Where what the crew says is kept over a restart, if anywhere.
    pub journal: Option<Journal>,
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
    keeper: Option<Keeper>,
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

    /// The answer, if one is to come, is whether the journal has it on disk.
    async fn line(
        &mut self,
        feed: &FeedName,
        sentence: RawSentence,
    ) -> Option<oneshot::Receiver<bool>> {
        let at = self.advance().await;
        let keeper = self.keeper.as_ref();
        let kept = keeper
            .filter(|keeper| keeper.wants(feed, &sentence))
            .map(|keeper| keeper.append(at, feed, &sentence));
        if let Some(recorder) = &self.recorder {
            recorder.record(at, feed, &sentence);
        }
        // What is not decoded is recorded all the same; its feed has counted it.
        if sentence.kind == SentenceKind::Parametric {
            self.send(Stamped::Line {
                at,
                feed: feed.shared(),
                text: sentence.text,
            })
            .await;
        }
        kept
    }

    async fn crew(&mut self, text: String) -> Option<oneshot::Receiver<bool>> {
        let feed = self.crew_feed.clone();
        self.line(&feed, RawSentence::own(text)).await
    }

    /// Takes what the crew posts; the poster is answered when it is kept.
    async fn post(&mut self, post: CrewPost) {
        let (number, text) = self.sequence.number(&post.input);
        let kept = self.crew(text).await;
        answer_when_kept(post.reply, number, kept);
    }

    /// Says anew what counts of before the start.
    async fn say_anew(&mut self, inputs: &[CrewInput]) {
        for input in inputs {
            self.crew(encode_crew(input, 0)).await;
        }
    }

    async fn send(&self, stamped: Stamped) {
        // The engine only goes away when we are being shut down.
        let _ = self.engine.send(stamped).await;
    }

    async fn mark(&mut self, mark: SessionMark) {
        self.crew(encode_crew(&CrewInput::Session(mark), 0)).await;
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
        let begun = (self.journal.take()).map(|journal| journal.begin(clock.now()));
        let (anew, last_number, keeper) = match begun {
            Some(begun) => (begun.anew, begun.last_sequence, Some(begun.keeper)),
            None => (Vec::new(), 0, None),
        };
        let mut stamper = Stamper {
            clock,
            last: clock.now(),
            ticks: Ticks::default(),
            sequence: CrewSequence::after(last_number),
            crew_feed: FeedName::crew(),
            recorder: self.recorder.take(),
            keeper,
            engine: to_engine,
        };
        stamper.mark(SessionMark::Start).await;
        stamper.say_anew(&anew).await;
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
        let keeper = stamper.keeper.take();
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
        if let Some(keeper) = keeper
            && let Err(error) = tokio::task::spawn_blocking(move || keeper.finish()).await
        {
            tracing::error!("the journal was not closed: {error}");
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
