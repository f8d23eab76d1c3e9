//! The live driver: stamps what arrives, records it, and drives the engine.
//!
//! One task stamps everything (sentences of all feeds, crew posts) in one order and decides when a
//! picture is made; that order is recorded and is what the engine takes, so a recording replays to
//! the same advisories, whatever the computer had time for. The engine works on its own thread, so
//! that a long forecast never delays a stamp. It takes all that has arrived before it makes the
//! next picture; the [`Governor`] says what that may cost.

use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{mpsc, oneshot, watch};
use tokio_util::sync::CancellationToken;

use super::clock::Clock;
use super::crew::{CrewSequence, answer_when_kept};
use super::governor::Governor;
use super::in_force::{in_force, in_force_of};
use super::journal::{Journal, Keeper};
use super::own_words::OwnWord;
use super::{LearntFile, Ticks};
use crate::decode::{CrewInput, SessionMark, encode_crew};
use crate::engine::{Engine, FeedNow, Means, Picture, Work};
use crate::feed::{Arrival, FeedName, FeedReport, Origin, RawSentence, SentenceKind};
use crate::logbook::{Logbook, LogbookHand, Look};
use crate::record::Recorder;
use crate::serve::CrewPost;
use crate::time::Millis;

/// Sentences that may wait while a picture is made: at 1000 a second a quarter of a minute, about
/// 4 MB.
const QUEUE: usize = 16_384;

/// At the end a picture that is being made is not waited for longer.
const PARTING: Duration = Duration::from_secs(3);

/// At the end a disk is not waited for longer.
const CLOSING: Duration = Duration::from_millis(1500);

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
    /// Where the logbook is written, if anywhere.
    pub logbook: Option<Logbook>,
    /// What the feeds say of themselves, by name; shown with each picture.
    pub reports: Vec<(FeedName, watch::Receiver<FeedReport>)>,
    /// Ends it.
    pub shutdown: CancellationToken,
}

/// What the engine is given.
enum Order {
    Hear {
        at: Millis,
        /// With the sender, where that is known.
        feed: Arc<str>,
        text: String,
    },
    Picture {
        at: Millis,
        means: Means,
    },
}

/// What the engine says.
enum Word {
    /// What it has heard wants a picture.
    Wanted,
    /// A picture is shown, with a new forecast of so many futures.
    Shown { now: Millis, work: Work },
}

struct Stamper {
    clock: Clock,
    last: Millis,
    ticks: Ticks,
    governor: Governor,
    sequence: CrewSequence,
    crew_feed: FeedName,
    own_feed: FeedName,
    recorder: Option<Recorder>,
    keeper: Option<Keeper>,
    logbook: Option<LogbookHand>,
    engine: mpsc::Sender<Order>,
}

impl Stamper {
    /// Moves time on. With each whole second a picture is wanted, and made as of that second when
    /// nothing else is being made.
    async fn advance(&mut self) -> Millis {
        self.last = self.clock.now();
        if let Some(second) = self.ticks.due(self.last).last() {
            self.governor.want();
            self.picture(second).await;
        }
        self.last
    }

    /// Has a picture made as of `at`, if one is wanted and the engine has time.
    async fn picture(&mut self, at: Millis) {
        let Some(means) = self.governor.begin(at) else {
            return;
        };
        self.own(at, &OwnWord::Picture(means));
        self.send(Order::Picture { at, means }).await;
    }

    /// Takes what the engine says.
    async fn word(&mut self, word: Word) {
        match word {
            Word::Wanted => self.governor.want(),
            Word::Shown { now, work } => self.governor.done(now, work),
        }
        let at = self.advance().await;
        self.picture(at).await;
    }

    /// Records what we do.
    fn own(&self, at: Millis, word: &OwnWord) {
        self.record(at, self.own_feed.as_str(), &RawSentence::own(word.encode()));
    }

    fn record(&self, at: Millis, feed: &str, sentence: &RawSentence) {
        if let Some(recorder) = &self.recorder {
            recorder.record(at, feed, sentence);
        }
    }

    async fn line(&mut self, feed: &FeedName, origin: Option<Origin>, sentence: RawSentence) {
        let at = self.advance().await;
        // Nobody waits for the disk.
        let _ = self.journal(at, feed, &sentence);
        let _ = self.log(at, feed, &sentence);
        let label = Origin::label(feed, origin);
        self.record(at, &label, &sentence);
        self.recorded(at, label, sentence).await;
    }

    /// What the crew posts counts at once; its poster is answered when it is on the disk.
    async fn post(&mut self, post: CrewPost) {
        let (sequence, text) = self.sequence.next(&post.input);
        let at = self.advance().await;
        let feed = self.crew_feed.clone();
        let sentence = RawSentence::own(text);
        if let Some(name) = post.by {
            self.own(at, &OwnWord::By { sequence, name });
        }
        let mut files = Vec::new();
        files.extend(self.journal(at, &feed, &sentence));
        files.extend(self.log(at, &feed, &sentence));
        let recording = self
            .recorder
            .as_ref()
            .map(|recorder| recorder.record_durably(at, feed.as_str(), &sentence));
        answer_when_kept(post.reply, sequence, recording, files);
        self.recorded(at, feed.shared(), sentence).await;
    }

    /// Has the journal keep what must come back after a restart; whether it is on the disk comes as
    /// an answer.
    fn journal(
        &self,
        at: Millis,
        feed: &FeedName,
        sentence: &RawSentence,
    ) -> Option<oneshot::Receiver<bool>> {
        let keeper = self.keeper.as_ref()?;
        keeper
            .wants(feed, sentence)
            .then(|| keeper.append(at, feed, sentence))
    }

    /// Has the logbook keep what the crew says; whether it is on the disk comes as an answer.
    fn log(
        &self,
        at: Millis,
        feed: &FeedName,
        sentence: &RawSentence,
    ) -> Option<oneshot::Receiver<bool>> {
        let logbook = self.logbook.as_ref()?;
        logbook
            .wants(feed.as_str(), &sentence.text)
            .then(|| logbook.said(at, feed.shared(), sentence.text.clone()))
    }

    /// Hands what was recorded to the engine.
    async fn recorded(&mut self, at: Millis, feed: Arc<str>, sentence: RawSentence) {
        // What is not decoded is recorded all the same; its feed has counted it.
        if sentence.kind == SentenceKind::Parametric {
            self.send(Order::Hear {
                at,
                feed,
                text: sentence.text,
            })
            .await;
        }
    }

    /// Repeats what counts of before the start, all at the moment to which its ages refer, and has
    /// the journal kept from now on.
    async fn say_anew(&mut self, journal: Journal) {
        let begun = journal.begin(self.last);
        self.sequence = CrewSequence::after(begun.last_sequence);
        self.keeper = Some(begun.keeper);
        let feed = self.crew_feed.clone();
        for input in &begun.anew {
            let sentence = RawSentence::own(encode_crew(input, 0));
            let _ = self.log(self.last, &feed, &sentence);
            self.record(self.last, feed.as_str(), &sentence);
            self.recorded(self.last, feed.shared(), sentence).await;
        }
    }

    async fn send(&self, order: Order) {
        // The engine only goes away when we are being shut down.
        let _ = self.engine.send(order).await;
    }

    async fn mark(&mut self, mark: SessionMark) {
        let feed = self.crew_feed.clone();
        let text = encode_crew(&CrewInput::Session(mark), 0);
        self.line(&feed, None, RawSentence::own(text)).await;
    }
}

/// The engine's side: works on a thread of its own until no more orders come.
struct Worker<P> {
    engine: Engine,
    clock: Clock,
    reports: Vec<(FeedName, watch::Receiver<FeedReport>)>,
    learnt: Option<LearntFile>,
    logbook: Option<LogbookHand>,
    words: mpsc::UnboundedSender<Word>,
    publish: P,
}

impl<P: FnMut(Picture)> Worker<P> {
    fn run(mut self, mut orders: mpsc::Receiver<Order>) {
        // At most one word of wanting to a picture, so few words can wait.
        let mut said = false;
        while let Some(order) = orders.blocking_recv() {
            match order {
                Order::Hear { at, feed, text } => {
                    if self.engine.hear(at, &feed, &text) && !said {
                        said = true;
                        self.say(Word::Wanted);
                    }
                }
                Order::Picture { at, means } => {
                    said = false;
                    self.show(at, means);
                }
            }
        }
        if let Some(file) = &mut self.learnt {
            file.keep_now(&self.engine);
        }
    }

    fn show(&mut self, at: Millis, means: Means) {
        let mut picture = self.engine.picture(at, means);
        for feed in &mut picture.snapshot.feeds {
            add_report(feed, &self.reports);
        }
        let work = picture.work();
        if let Some(logbook) = &self.logbook {
            let revised = picture.revised.as_ref().and_then(in_force_of);
            logbook.seen(Look::new(&picture, revised));
        }
        picture.snapshot.lag_s = self.clock.now().seconds_since(at);
        (self.publish)(picture);
        let now = self.clock.now();
        self.say(Word::Shown { now, work });
        if let Some(file) = &mut self.learnt {
            file.keep(&self.engine);
        }
    }

    fn say(&self, word: Word) {
        // Nobody listens any more when we are being shut down.
        let _ = self.words.send(word);
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
        engine: Engine,
        publish: impl FnMut(Picture) + Send + 'static,
    ) -> Result<(), EngineStopped> {
        let clock = Clock::start();
        let (to_engine, orders) = mpsc::channel(QUEUE);
        let (words, mut said) = mpsc::unbounded_channel();
        let logbook = self.logbook.take();
        let settings = in_force(engine.settings());
        let worker = Worker {
            engine,
            clock,
            reports: std::mem::take(&mut self.reports),
            learnt: self.learnt.take(),
            logbook: logbook.as_ref().map(Logbook::hand),
            words,
            publish,
        };
        let mut working = tokio::task::spawn_blocking(move || worker.run(orders));
        let mut stamper = Stamper {
            clock,
            last: clock.now(),
            ticks: Ticks::default(),
            governor: Governor::new(),
            sequence: CrewSequence::default(),
            crew_feed: FeedName::crew(),
            own_feed: FeedName::own(),
            recorder: self.recorder.take(),
            keeper: None,
            logbook: logbook.as_ref().map(Logbook::hand),
            engine: to_engine,
        };
        if let Some(hand) = &stamper.logbook {
            hand.begins(stamper.last, settings);
        }
        stamper.own(stamper.last, &OwnWord::Start);
        stamper.mark(SessionMark::Start).await;
        if let Some(journal) = self.journal.take() {
            stamper.say_anew(journal).await;
        }
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
                Some(word) = said.recv() => stamper.word(word).await,
                Some(post) = self.crew.recv() => stamper.post(post).await,
                Some(arrival) = self.arrivals.recv() => {
                    stamper.line(&arrival.feed, arrival.origin, arrival.sentence).await;
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
            // What was learnt is kept as it is learnt; only the last seconds hang on this.
            None => match tokio::time::timeout(PARTING, working).await {
                Ok(ended) => ended,
                Err(_) => {
                    tracing::warn!("stopped in the middle of a forecast");
                    Ok(())
                }
            },
        };
        close(recorder, keeper, logbook).await;
        stopped.map_err(|why| EngineStopped { why })
    }
}

/// Closes recording, journal and logbook. A disk that does not answer is not waited for.
async fn close(recorder: Option<Recorder>, keeper: Option<Keeper>, logbook: Option<Logbook>) {
    let closing = tokio::task::spawn_blocking(move || {
        if let Some(keeper) = keeper {
            keeper.finish();
        }
        if let Some(recorder) = recorder {
            recorder.finish();
        }
        if let Some(logbook) = logbook {
            logbook.finish();
        }
    });
    match tokio::time::timeout(CLOSING, closing).await {
        Ok(Ok(())) => {}
        Ok(Err(error)) => tracing::error!("recording, journal or logbook was not closed: {error}"),
        Err(_) => {
            tracing::error!(
                "recording, journal or logbook was not closed: the disk does not answer"
            );
        }
    }
}

/// Adds what only the feed itself knows: the state of its link and what its framer refused.
fn add_report(feed: &mut FeedNow, reports: &[(FeedName, watch::Receiver<FeedReport>)]) {
    let Some((_, report)) = reports.iter().find(|(name, _)| name.as_str() == feed.name) else {
        return;
    };
    let report = report.borrow();
    feed.link = Some(report.link.to_string());
    for (cause, count) in report.counters.refused() {
        *feed.refused.entry(cause).or_default() += count;
    }
}
