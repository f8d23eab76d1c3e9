//! Recorded (or invented) lines through the engine, as fast as it goes or paced.

use std::sync::Arc;
use std::time::{Duration, Instant};

use tokio::sync::mpsc;
use tokio_util::sync::CancellationToken;

use super::crew::{CrewSequence, answer};
use super::{Stamped, Ticks, TimeBase, TimeSource, WentBack};
use crate::decode::crew_sentence;
use crate::engine::{Engine, Picture};
use crate::feed::{CREW_FEED, Frame, SentenceKind};
use crate::record::KeptIn;
use crate::record::LogItem;
use crate::serve::CrewPost;
use crate::time::Millis;

/// How fast log time passes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pace {
    /// As fast as it goes.
    Fastest,
    /// So many seconds of log time a second.
    Times(f64),
}

/// One thing found in a log, or made by a scene.
#[derive(Debug, Clone, PartialEq)]
pub enum LogLine {
    /// An accepted sentence.
    Sentence {
        /// The time the log itself gives it.
        stamped: Option<(Millis, TimeSource)>,
        /// Which feed brought it.
        feed: Arc<str>,
        /// `$...`.
        text: String,
    },
    /// Something refused or passed over.
    Refused {
        /// Which feed brought it.
        feed: Arc<str>,
        /// Cause, as counted.
        cause: &'static str,
    },
}

impl LogLine {
    /// From what the framer found in a log; `log` names the feed where the log names none, but
    /// for what the crew says.
    #[must_use]
    pub fn from_log(item: LogItem, log: &Arc<str>) -> Self {
        let named = item.feed.is_some();
        let feed = match (item.feed, &item.frame) {
            (Some(feed), _) => feed,
            // A log that names no feeds has no other way to say that the crew spoke.
            (None, Frame::Sentence(sentence)) if crew_sentence::is_one(&sentence.text) => {
                CREW_FEED.into()
            }
            (None, _) => Arc::clone(log),
        };
        match item.frame {
            Frame::Sentence(sentence) if sentence.kind == SentenceKind::Parametric => {
                // A log that stamps its lines names their feed in the same TAG block.
                let source = if named {
                    TimeSource::Tag
                } else {
                    TimeSource::Prefix
                };
                Self::Sentence {
                    stamped: item.time.map(|time| (time, source)),
                    feed,
                    text: sentence.text,
                }
            }
            Frame::Sentence(_) => Self::Refused {
                feed,
                cause: "encapsulated",
            },
            Frame::Rejected(rejection) => Self::Refused {
                feed,
                cause: rejection.cause.name(),
            },
        }
    }
}

/// How a replay ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReplayEnd {
    /// First moment in the log.
    pub first: Option<Millis>,
    /// Last moment in the log.
    pub last: Option<Millis>,
    /// Where the times came from.
    pub time_source: TimeSource,
    /// Where the times went back for good; what came after was not played.
    pub went_back: Option<WentBack>,
}

/// A longer silence of a log is not sat out. Its ticks are made all the same.
const LONGEST_WAIT_S: f64 = 60.0;

/// Waits until a moment of the log is due.
struct Pacer {
    pace: Pace,
    start: Option<(Instant, Millis)>,
    /// Nothing before this is waited for.
    skip_to: Option<Millis>,
}

impl Pacer {
    fn wait(&mut self, at: Millis) -> Duration {
        let Pace::Times(speed) = self.pace else {
            return Duration::ZERO;
        };
        if self.skip_to.is_some_and(|to| at < to) {
            return Duration::ZERO;
        }
        let (began, first) = *self.start.get_or_insert((Instant::now(), at));
        let due = Duration::from_secs_f64((at.seconds_since(first) / speed).max(0.0));
        due.saturating_sub(began.elapsed())
    }

    /// The next line of the log comes at `at`, the one before came at `last`.
    fn next_line(&mut self, last: Option<Millis>, at: Millis) {
        let silent_s = last.map_or(0.0, |last| at.seconds_since(last));
        if silent_s > LONGEST_WAIT_S && self.pace != Pace::Fastest {
            tracing::info!("the log is silent for {silent_s:.0} s until {at}: not waited for");
            self.skip_to = Some(at);
            self.start = None;
        }
    }
}

/// A replay under way.
#[derive(Debug)]
pub struct Replay {
    engine: Engine,
    ticks: Ticks,
    base: TimeBase,
    crew: Option<mpsc::Receiver<CrewPost>>,
    sequence: CrewSequence,
    first: Option<Millis>,
    last: Option<Millis>,
}

impl Replay {
    /// A replay into `engine`; `crew` brings what is posted on the page meanwhile.
    #[must_use]
    pub fn new(engine: Engine, crew: Option<mpsc::Receiver<CrewPost>>) -> Self {
        Self {
            engine,
            ticks: Ticks::default(),
            base: TimeBase::default(),
            crew,
            sequence: CrewSequence::default(),
            first: None,
            last: None,
        }
    }

    /// Plays `items` to their end, or until `shutdown`, or until their times go back for good, handing each picture to `publish`.
    /// Blocks between awaits: give it a thread of its own.
    pub async fn run(
        mut self,
        items: impl Iterator<Item = LogLine>,
        pace: Pace,
        shutdown: CancellationToken,
        mut publish: impl FnMut(Picture),
    ) -> (Engine, ReplayEnd) {
        let mut pacer = Pacer {
            pace,
            start: None,
            skip_to: None,
        };
        for item in items {
            if shutdown.is_cancelled() {
                break;
            }
            match item {
                LogLine::Refused { feed, cause } => {
                    self.take(&Stamped::Refused { feed, cause }, &mut publish);
                }
                LogLine::Sentence {
                    stamped,
                    feed,
                    text,
                } => {
                    let at = self.base.next(stamped, &text);
                    if self.base.went_back().is_some() {
                        break;
                    }
                    self.first.get_or_insert(at);
                    pacer.next_line(self.last, at);
                    for tick in self.ticks.due(at) {
                        if shutdown.is_cancelled() {
                            break;
                        }
                        self.wait_for(&mut pacer, tick, &shutdown, &mut publish)
                            .await;
                        self.take(&Stamped::Tick { at: tick }, &mut publish);
                    }
                    self.wait_for(&mut pacer, at, &shutdown, &mut publish).await;
                    self.last = Some(at);
                    self.take(&Stamped::Line { at, feed, text }, &mut publish);
                }
            }
        }
        let end = ReplayEnd {
            first: self.first,
            last: self.last,
            time_source: self.base.source(),
            went_back: self.base.went_back(),
        };
        (self.engine, end)
    }

    fn take(&mut self, stamped: &Stamped, publish: &mut impl FnMut(Picture)) {
        if let Stamped::Line { text, .. } = stamped {
            self.sequence.heard(text);
        }
        if let Some(picture) = self.engine.take(stamped.as_event()) {
            publish(picture);
        }
    }

    /// Sits out the time to `at`, taking what the crew posts meanwhile.
    async fn wait_for(
        &mut self,
        pacer: &mut Pacer,
        at: Millis,
        shutdown: &CancellationToken,
        publish: &mut impl FnMut(Picture),
    ) {
        let wait = pacer.wait(at);
        if wait.is_zero() {
            // Behind its pace, or without one: what was posted meanwhile still has its turn.
            while let Some(Ok(post)) = self.crew.as_mut().map(mpsc::Receiver::try_recv) {
                self.post(post, at, publish);
            }
            return;
        }
        let until = tokio::time::Instant::now() + wait;
        loop {
            let post = async {
                match &mut self.crew {
                    Some(crew) => crew.recv().await,
                    None => None,
                }
            };
            tokio::select! {
                () = shutdown.cancelled() => return,
                () = tokio::time::sleep_until(until) => return,
                Some(post) = post => self.post(post, at, publish),
            }
        }
    }

    /// Takes a post as said at the last moment that was played. Nothing records it.
    fn post(&mut self, post: CrewPost, at: Millis, publish: &mut impl FnMut(Picture)) {
        let (sequence, text) = self.sequence.next(&post.input);
        answer(post.reply, sequence, KeptIn::Memory);
        let line = Stamped::Line {
            at: self.last.unwrap_or(at),
            feed: CREW_FEED.into(),
            text,
        };
        self.take(&line, publish);
    }
}
