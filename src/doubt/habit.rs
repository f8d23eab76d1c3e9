//! How a source usually speaks, and that it speaks otherwise now.
//!
//! A changed habit is no lie: a unit may have been set to another rate, a vane damped. It is told beside
//! the source and blames nobody, but one that speaks more often is looked at more closely for a second
//! sender (`alone.rs`).
//!
//! | habit | assumes | of | source |
//! |---|---|---|---|
//! | rate | a sender keeps its rate: 1.6 times or 0.6 of it, on the median of six tens of seconds, is another | all that speak at least every other second | invented |
//! | noise | what makes a vane restless, sea and gusts, makes another vane restless, too; by three times, on the median of a minute | wind, with two sensors | invented |
//! | resolution | tenths do not become whole units by chance: of 12 steps in half a minute not one is a fraction | wind angle, heading, log, speed over ground | definition |
//!
//! The noise of a single vane tells nothing: that of one recorded boat (`sail-coast-2014`) grew to three
//! times as much by itself four times in 38 minutes, and her cups did not show it.
//!
//! What was usual is learnt in the first minute, follows slowly, and is what it has become half an hour
//! after a change.

use super::suspicion::Instrument;
use super::track::Track;
use super::view::View;
use crate::angles::DEG;
use crate::time::Millis;

/// Habits are looked at so often, seconds, over so many.
pub(super) const EVERY_S: i64 = 10;
const LOOK_S: i64 = 60;
/// A change must be seen so many times in a row; so often the habit of before ends it.
const TIMES: u32 = 2;
/// A habit that has been new for so long is the usual one, seconds.
const NEW_S: i64 = 1800;
/// Rates: less often than this, per second, cannot be told; more, and less, than usual by these.
const LEAST_RATE: f64 = 0.45;
const MORE_OFTEN: f64 = 1.6;
const LESS_OFTEN: f64 = 0.6;
/// Share by which the usual follows with each look.
const FOLLOWS: f64 = 0.05;
/// Noise: what is added to both, so that the steps of a display count for little.
const CALM: f64 = 0.5 * DEG;
const TIMES_AS_NOISY: f64 = 3.0;
/// A fellow that has changed by so much, the same way, has felt the same.
const FELLOW: f64 = 1.6;
/// A boat that has turned by more meanwhile feels another sea.
const TURNED: f64 = 40.0 * DEG;
/// Steps that are needed to tell whole units from tenths, and the share of them that may be whole when
/// the numbers are fine.
const LEAST_STEPS: u32 = 12;
const FINE_SHARE: f64 = 0.5;
/// A source that goes back and forth in so much larger a share of its readings than it did is two.
const SWAPS_SHARE: f64 = 0.12;
/// Intervals that vary by this share of their mean are uneven.
const UNEVEN: f64 = 0.35;

/// Which habit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Habit {
    /// It speaks more often.
    MoreOften,
    /// It speaks less often.
    LessOften,
    /// Its values scatter more.
    Restless,
    /// Its values scatter less.
    Calm,
    /// Its values are coarser.
    Coarse,
}

/// A source that has changed a habit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Changed {
    /// Which habit.
    pub habit: Habit,
    /// Since when.
    pub since: Millis,
    /// Whether it speaks at uneven intervals, and did not.
    pub uneven: bool,
}

impl Changed {
    /// In words that follow the name of the source.
    #[must_use]
    pub fn words(&self) -> &'static str {
        match (self.habit, self.uneven) {
            (Habit::MoreOften, true) => {
                "speaks more often than it did, and unevenly: a second sender may be talking under its name"
            }
            (Habit::MoreOften, false) => {
                "speaks more often than it did: set to another rate, or a second sender under its name"
            }
            (Habit::LessOften, _) => "speaks less often than it did",
            (Habit::Restless, _) => "behaves differently: far more restless than it was",
            (Habit::Calm, _) => "behaves differently: far calmer than it was, as if damped",
            (Habit::Coarse, _) => "behaves differently: whole units where it gave tenths",
        }
    }
}

/// What a look at the last minute shows; `None` where it cannot be told.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Manner {
    rate: Option<f64>,
    /// Scatter, and that of its fellow.
    noise: Option<(f64, f64)>,
    /// True for whole units, false for finer ones.
    whole: Option<bool>,
    uneven: bool,
    /// Share of readings that go back and forth between two values.
    swaps: f64,
}

/// The habits of one source.
#[derive(Debug, Clone, Default)]
pub(super) struct Habits {
    usual: Manner,
    changed: Option<Changed>,
    /// What the last looks showed, how often in a row.
    seen: Option<(Habit, u32)>,
    swaps: f64,
}

impl Habits {
    /// What has changed.
    pub fn changed(&self) -> Option<&Changed> {
        self.changed.as_ref()
    }

    /// Whether it speaks more often than it did and goes back and forth, as it did not.
    pub fn sounds_like_two(&self) -> bool {
        let more_often = |changed: &Changed| changed.habit == Habit::MoreOften;
        self.changed.as_ref().is_some_and(more_often) && self.swaps > self.usual.swaps + SWAPS_SHARE
    }

    /// A look at the last minute of this source.
    pub fn look(&mut self, view: &View<'_>, track: &Track) {
        if !track.covers(view.now - LOOK_S, view.now) {
            self.seen = None;
            return;
        }
        let now = Manner::of(view, track);
        self.swaps = now.swaps;
        let other = self.usual.becomes(&now);
        let times = match (other, self.seen) {
            (Some(habit), Some((before, times))) if habit == before => times + 1,
            _ => 1,
        };
        self.seen = other.map(|habit| (habit, times));
        match other {
            Some(habit) => {
                let known = self.changed.is_some_and(|changed| changed.habit == habit);
                if !known && times >= TIMES {
                    let since = Millis((view.now - LOOK_S / 2 - EVERY_S) * 1000);
                    self.changed = Some(Changed {
                        habit,
                        since,
                        uneven: now.uneven && !self.usual.uneven,
                    });
                }
            }
            None if self
                .changed
                .is_none_or(|changed| now.tells_of(changed.habit)) =>
            {
                self.changed = None;
                self.usual.follow(&now);
            }
            None => {}
        }
        if let Some(changed) = self.changed
            && view.now - changed.since.0.div_euclid(1000) > NEW_S
            && !self.sounds_like_two()
        {
            *self = Self {
                usual: now,
                ..Self::default()
            };
        }
    }
}

impl Manner {
    fn of(view: &View<'_>, track: &Track) -> Self {
        let from = view.now - LOOK_S + 1;
        let spoken = track.spoken(from, view.now);
        let lately = track.spoken(view.now - LOOK_S / 2 + 1, view.now);
        Self {
            rate: Some(spoken.rate).filter(|rate| *rate >= LEAST_RATE),
            noise: noise(view, track, from),
            whole: whole(lately.steps, lately.whole),
            uneven: spoken.uneven > UNEVEN,
            swaps: spoken.swaps,
        }
    }

    /// In what way another manner differs.
    fn becomes(&self, now: &Self) -> Option<Habit> {
        if let (Some(usual), Some(now)) = (self.rate, now.rate) {
            if now > MORE_OFTEN * usual {
                return Some(Habit::MoreOften);
            }
            if now < LESS_OFTEN * usual {
                return Some(Habit::LessOften);
            }
        }
        if (self.whole, now.whole) == (Some(false), Some(true)) {
            return Some(Habit::Coarse);
        }
        let (usual, now) = (self.noise?, now.noise?);
        let (own, fellow) = (now.0 / usual.0, now.1 / usual.1);
        if own > TIMES_AS_NOISY && fellow < FELLOW {
            return Some(Habit::Restless);
        }
        if own * TIMES_AS_NOISY < 1.0 && fellow * FELLOW > 1.0 {
            return Some(Habit::Calm);
        }
        None
    }

    /// Whether it is known of this look how that habit is.
    fn tells_of(&self, habit: Habit) -> bool {
        match habit {
            Habit::MoreOften | Habit::LessOften => self.rate.is_some(),
            Habit::Restless | Habit::Calm => self.noise.is_some(),
            Habit::Coarse => self.whole.is_some(),
        }
    }

    fn follow(&mut self, now: &Self) {
        let towards = |usual: f64, now: f64| usual + FOLLOWS * (now - usual);
        self.rate = match (self.rate, now.rate) {
            (Some(usual), Some(now)) => Some(towards(usual, now)),
            (usual, now) => usual.or(now),
        };
        self.noise = match (self.noise, now.noise) {
            (Some(usual), Some(now)) => Some((towards(usual.0, now.0), towards(usual.1, now.1))),
            (usual, now) => usual.or(now),
        };
        self.whole = now.whole.or(self.whole);
        self.uneven |= now.uneven;
        self.swaps = self.swaps.max(now.swaps);
    }
}

/// Whether values come in whole units.
fn whole(steps: u32, whole: u32) -> Option<bool> {
    if steps < LEAST_STEPS {
        None
    } else if whole == steps {
        Some(true)
    } else {
        (f64::from(whole) < FINE_SHARE * f64::from(steps)).then_some(false)
    }
}

/// Scatter of a vane, and of another vane that feels the same sea; `None` in a turn.
fn noise(view: &View<'_>, track: &Track, from: i64) -> Option<(f64, f64)> {
    if track.of != Instrument::Wind {
        return None;
    }
    let heading = view.witness(Instrument::Heading)?;
    if heading.turned(from, view.now)?.abs() > TURNED {
        return None;
    }
    let own = track.scatter_angle(from, view.now)?;
    let fellow = view.others(track).next()?;
    let theirs = fellow.scatter_angle(from, view.now)?;
    Some((own + CALM, theirs + CALM))
}
