//! Recorded (or invented) lines through the engine, as fast as it goes or paced.
//!
//! A recording of the daemon tells when its pictures were made and with how many futures
//! ([`OwnWord`]), and the same ones are made again, to the byte. Any other log gets one with each
//! whole second, with what the crew says and with another turn. For people who look at it
//! ([`Replay::keeping_up`]), the [`Governor`] decides as it does live, so that a slow computer does
//! not fall behind.

use std::time::{Duration, Instant};

use serde::Serialize;
use tokio::sync::mpsc;
use tokio_util::sync::CancellationToken;

use super::before::Told;
use super::crew::{CrewSequence, answer};
use super::governor::Governor;
use super::in_force::{in_force, in_force_of};
use super::log_line::LogLine;
use super::own_words::OwnWord;
use super::{Dated, DatedLine, Ticks, TimeSource, WentBack};
use crate::decode::{Decoder, Observation, crew_sentence};
use crate::engine::{Engine, Means, Picture, Work};
use crate::feed::{CREW_FEED, Origin};
use crate::forecast::Effort;
use crate::logbook::{Item, Look};
use crate::record::KeptIn;
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

/// A part of a log, within which the times never go back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Part {
    /// First moment.
    pub from: Millis,
    /// Last moment.
    pub to: Millis,
}

/// How a replay ended.
#[derive(Debug, Clone, PartialEq)]
pub struct ReplayEnd {
    /// Where the times came from.
    pub time_source: TimeSource,
    /// Sentences before the first time in the log, which were dated back from it.
    pub dated_back: u64,
    /// The parts of the log, in its order; none when it holds no sentence.
    pub parts: Vec<Part>,
}

impl ReplayEnd {
    /// First moment in the log.
    #[must_use]
    pub fn first(&self) -> Option<Millis> {
        self.parts.first().map(|part| part.from)
    }

    /// Last moment in the log.
    #[must_use]
    pub fn last(&self) -> Option<Millis> {
        self.parts.last().map(|part| part.to)
    }
}

/// A longer silence in a log is skipped, not waited for. Its ticks are made all the same.
const LONGEST_WAIT_S: f64 = 60.0;

/// When a log has told of no picture for so long, what follows is taken for a log that tells of none.
const TOLD_FOR_S: f64 = 60.0;

/// Waits until a moment of the log is due.
#[derive(Debug)]
struct Pacer {
    pace: Pace,
    start: Option<(Instant, Millis)>,
    /// Nothing before this is waited for.
    skip_to: Option<Millis>,
}

impl Pacer {
    fn new(pace: Pace) -> Self {
        Self {
            pace,
            start: None,
            skip_to: None,
        }
    }

    fn wait(&mut self, at: Millis) -> Duration {
        let elapsed = self.since_start(at);
        self.due(at).saturating_sub(elapsed)
    }

    /// Seconds of log time a second.
    fn speed(&self) -> f64 {
        match self.pace {
            Pace::Fastest => f64::INFINITY,
            Pace::Times(speed) => speed,
        }
    }

    /// How long a moment of the log has been due.
    fn late(&mut self, at: Millis) -> Duration {
        let elapsed = self.since_start(at);
        if self.is_skipped(at) || self.pace == Pace::Fastest {
            return Duration::ZERO;
        }
        elapsed.saturating_sub(self.due(at))
    }

    /// Since the start of this stretch of the log, which begins with `at` when none has begun.
    fn since_start(&mut self, at: Millis) -> Duration {
        if self.is_skipped(at) {
            return Duration::ZERO;
        }
        self.start.get_or_insert((Instant::now(), at)).0.elapsed()
    }

    /// When a moment is due, after the start of this stretch.
    fn due(&self, at: Millis) -> Duration {
        match (self.pace, self.start) {
            (Pace::Times(speed), Some((_, first))) if !self.is_skipped(at) => {
                Duration::from_secs_f64((at.seconds_since(first) / speed).max(0.0))
            }
            _ => Duration::ZERO,
        }
    }

    fn is_skipped(&self, at: Millis) -> bool {
        self.skip_to.is_some_and(|to| at < to)
    }

    /// Another part of the log begins; what comes next in it is due at once.
    fn next_part(&mut self) {
        self.start = None;
        self.skip_to = None;
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

/// Takes what goes into a logbook.
type Tell = Box<dyn FnMut(Item) + Send>;

/// A replay under way.
pub struct Replay {
    engine: Engine,
    ticks: Ticks,
    crew: Option<mpsc::Receiver<CrewPost>>,
    sequence: CrewSequence,
    pacer: Pacer,
    /// Decides what there is time for, when it is to keep up with its pace.
    governor: Option<Governor>,
    parts: Vec<Part>,
    /// When the last line of this part came.
    last: Option<Millis>,
    /// What the crew has said in this part.
    told: Told,
    /// When the log last told of a picture.
    told_at: Option<Millis>,
    opened: Instant,
    tell: Option<Tell>,
}

impl std::fmt::Debug for Replay {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Replay")
            .field("parts", &self.parts)
            .field("last", &self.last)
            .finish_non_exhaustive()
    }
}

impl Replay {
    /// A replay into `engine`; `crew` brings what is posted on the page meanwhile.
    #[must_use]
    pub fn new(engine: Engine, crew: Option<mpsc::Receiver<CrewPost>>) -> Self {
        Self {
            told: Told::new(engine.settings().lines_out),
            engine,
            ticks: Ticks::default(),
            crew,
            sequence: CrewSequence::default(),
            pacer: Pacer::new(Pace::Fastest),
            governor: None,
            parts: Vec::new(),
            last: None,
            told_at: None,
            opened: Instant::now(),
            tell: None,
        }
    }

    /// The same, telling what goes into a logbook.
    #[must_use]
    pub fn telling(self, tell: impl FnMut(Item) + Send + 'static) -> Self {
        Self {
            tell: Some(Box::new(tell)),
            ..self
        }
    }

    /// The same, keeping up with its pace: what there is no time for is left out, and the pictures
    /// depend on how fast the computer is.
    #[must_use]
    pub fn keeping_up(self) -> Self {
        Self {
            governor: Some(Governor::new()),
            ..self
        }
    }

    /// Plays `items` to their end or until `shutdown`, handing each picture to `publish`. Blocks
    /// between awaits: give it a thread of its own.
    pub async fn run(
        mut self,
        items: impl Iterator<Item = LogLine>,
        pace: Pace,
        shutdown: CancellationToken,
        mut publish: impl FnMut(Picture),
    ) -> (Engine, ReplayEnd) {
        self.pacer = Pacer::new(pace);
        let mut dated = Dated::new(items);
        for item in dated.by_ref() {
            if shutdown.is_cancelled() {
                break;
            }
            match item {
                DatedLine::Refused { feed, cause } => self.engine.refused(&feed, cause),
                DatedLine::Part(back) => self.next_part(back),
                DatedLine::Sentence { at, feed, text } => {
                    self.pacer.next_line(self.last, at);
                    for tick in self.ticks.due(at) {
                        if shutdown.is_cancelled() {
                            break;
                        }
                        if self.is_told(tick) {
                            continue;
                        }
                        self.wait_for(tick, &shutdown, &mut publish).await;
                        self.want(tick, &mut publish);
                    }
                    self.wait_for(at, &shutdown, &mut publish).await;
                    self.reached(at);
                    self.line(at, &feed, &text, &mut publish);
                }
            }
        }
        let end = ReplayEnd {
            time_source: dated.source(),
            dated_back: dated.dated_back(),
            parts: self.parts,
        };
        (self.engine, end)
    }

    /// Moves time on to this moment of the log.
    fn reached(&mut self, at: Millis) {
        match (self.last, self.parts.last_mut()) {
            (Some(_), Some(part)) => part.to = at,
            _ => {
                self.parts.push(Part { from: at, to: at });
                self.begins(at);
            }
        }
        self.last = Some(at);
    }

    /// A session of the logbook begins.
    fn begins(&mut self, at: Millis) {
        if let Some(tell) = &mut self.tell {
            let settings = in_force(self.engine.settings());
            tell(Item::Begins { at, settings });
        }
    }

    /// The times of the log go back: it goes on as after a restart.
    fn next_part(&mut self, back: WentBack) {
        let WentBack { from, to } = back;
        tracing::warn!(
            "the times of the log go back from {from} to {to}: what follows is played as part {}, \
             as after a restart",
            self.parts.len() + 1
        );
        // As if no time had passed in between.
        self.told.clock(self.last.unwrap_or(from), to);
        let anew = self.told.anew(to, f64::INFINITY);
        self.told = Told::new(self.engine.settings().lines_out);
        for input in &anew {
            self.told.take(to, 0, input);
        }
        self.engine.restart(to, &anew);
        self.ticks = Ticks::default();
        self.pacer.next_part();
        self.told_at = None;
        self.last = None;
    }

    /// Whether the log itself tells when pictures are made.
    fn is_told(&self, at: Millis) -> bool {
        self.governor.is_none()
            && self
                .told_at
                .is_some_and(|told| at.seconds_since(told) <= TOLD_FOR_S)
    }

    fn line(&mut self, at: Millis, feed: &str, text: &str, publish: &mut impl FnMut(Picture)) {
        self.sequence.heard(text);
        if let Some(word) = OwnWord::read(feed, text) {
            if !matches!(word, OwnWord::By { .. }) {
                self.told_at = Some(at);
            }
            match (word, &self.governor) {
                (OwnWord::Start, _) => self.begins(at),
                (OwnWord::Picture(means), None) => {
                    self.show(at, means, publish);
                }
                (OwnWord::Picture(_), Some(_)) | (OwnWord::By { .. }, _) => {}
            }
            return;
        }
        self.remember_told(at, feed, text);
        let wanted = self.engine.hear(at, feed, text);
        if wanted && !self.is_told(at) {
            self.want(at, publish);
        }
    }

    /// Remembers what the crew says, for the next part of the log and for the logbook.
    fn remember_told(&mut self, at: Millis, label: &str, text: &str) {
        let (feed, _) = Origin::split(label);
        if !crew_sentence::is_one(text) || !self.engine.settings().is_crew(feed) {
            return;
        }
        if let Some(tell) = &mut self.tell {
            tell(Item::Said {
                at,
                feed: feed.into(),
                text: text.to_owned(),
            });
        }
        if let Ok(decoded) = Decoder::new().decode(text) {
            for observation in &decoded.observations {
                if let Observation::Crew { seq, input } = observation {
                    self.told.take(at, *seq, input);
                }
            }
        }
    }

    /// Shows the picture of `at`: whole, or, to keep up, with what there is time for, unless the next
    /// second is due already; then that one is shown.
    fn want(&mut self, at: Millis, publish: &mut impl FnMut(Picture)) {
        let (now, late_s) = (self.wall(), self.pacer.late(at).as_secs_f64());
        let means = match &mut self.governor {
            None => Some(Means::Forecast(Effort::FULL)),
            Some(governor) => {
                governor.want();
                if late_s < 1.0 / self.pacer.speed() {
                    governor.begin(now.plus_seconds(-late_s))
                } else {
                    None
                }
            }
        };
        let Some(means) = means else { return };
        let work = self.show(at, means, publish);
        let now = self.wall();
        if let Some(governor) = &mut self.governor {
            governor.done(now, work);
        }
    }

    /// Makes a picture and shows it; what of it was worked out anew.
    fn show(&mut self, at: Millis, means: Means, publish: &mut impl FnMut(Picture)) -> Work {
        let mut picture = self.engine.picture(at, means);
        picture.snapshot.lag_s = self.pacer.late(at).as_secs_f64();
        let work = picture.work();
        if let Some(tell) = &mut self.tell {
            let revised = picture.revised.as_ref().and_then(in_force_of);
            tell(Item::Seen(Box::new(Look::new(&picture, revised))));
        }
        publish(picture);
        work
    }

    /// Time on the wall since the replay was opened.
    fn wall(&self) -> Millis {
        Millis(i64::try_from(self.opened.elapsed().as_millis()).unwrap_or(i64::MAX))
    }

    /// Waits until `at` is due, taking what the crew posts meanwhile.
    async fn wait_for(
        &mut self,
        at: Millis,
        shutdown: &CancellationToken,
        publish: &mut impl FnMut(Picture),
    ) {
        let wait = self.pacer.wait(at);
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
        self.line(self.last.unwrap_or(at), CREW_FEED, &text, publish);
    }
}
