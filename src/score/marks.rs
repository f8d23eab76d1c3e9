//! Counts of one or more recordings; they add up.

use std::collections::BTreeMap;

use serde::Serialize;
use utoipa::ToSchema;

use super::labels::{Cause, Labels};
use super::reliability::Reliability;
use crate::forecast::Trouble;

/// What an event or an advisory belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
#[schema(as = TurnClass)]
pub enum Class {
    /// A turn that was announced.
    Planned,
    /// A turn first seen under way.
    UnderWay,
    /// No turn.
    NoTurn,
}

impl Class {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Planned, Self::UnderWay, Self::NoTurn];

    /// In words.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Planned => "planned",
            Self::UnderWay => "under way",
            Self::NoTurn => "no turn",
        }
    }
}

/// What became of an advisory; in the order of the module head of `score`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fate {
    /// The event came.
    True,
    /// Raised on the crew's own tap.
    Told,
    /// Raised while the event was on.
    Late,
    /// The turn was called off.
    Withdrawn,
    /// No forecast watched it any more.
    Lost,
    /// Hands moved a line against it.
    Averted,
    /// The recording ended before the onset that it foresaw.
    Open,
    /// None of these.
    False,
}

/// Events and advisories of one trouble and class.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Counts {
    pub events: u64,
    pub detected: u64,
    pub leads_s: Vec<f64>,
    pub fates: BTreeMap<Fate, u64>,
}

impl Counts {
    pub fn fate(&self, fate: Fate) -> u64 {
        self.fates.get(&fate).copied().unwrap_or(0)
    }

    pub fn merge(&mut self, other: &Self) {
        self.events += other.events;
        self.detected += other.detected;
        self.leads_s.extend(&other.leads_s);
        for (fate, count) in &other.fates {
            *self.fates.entry(*fate).or_insert(0) += count;
        }
    }
}

/// Chance samples of one trouble.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct ChanceMarks {
    pub whole: Reliability,
    pub censored: Reliability,
    pub shortened: Reliability,
    pub on_already: u64,
    pub past_end: u64,
}

impl ChanceMarks {
    pub fn merge(&mut self, other: &Self) {
        self.whole.merge(&other.whole);
        self.censored.merge(&other.censored);
        self.shortened.merge(&other.shortened);
        self.on_already += other.on_already;
        self.past_end += other.past_end;
    }
}

/// Counts of one or more recordings.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Marks {
    pub(super) recordings: u64,
    pub(super) recorded_s: f64,
    pub(super) turns: BTreeMap<Class, u64>,
    pub(super) events_by_hands: u64,
    pub(super) events_from_before: u64,
    pub(super) turn_time_s: f64,
    pub(super) turn_skipping_s: f64,
    pub(super) free_s: f64,
    pub(super) burdened_s: f64,
    counts: BTreeMap<(Trouble, Class), Counts>,
    chances: BTreeMap<Trouble, ChanceMarks>,
}

impl Marks {
    /// Nothing counted yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    pub(super) fn of_recording(labels: &Labels) -> Self {
        let mut turns = BTreeMap::new();
        for turn in &labels.turns {
            let class = if turn.told_s.is_some() {
                Class::Planned
            } else {
                Class::UnderWay
            };
            *turns.entry(class).or_insert(0) += 1;
        }
        let caused = |cause| labels.events.iter().filter(|e| e.cause == cause).count() as u64;
        let (turn_time_s, turn_skipping_s) = labels.turn_time_s.unwrap_or_default();
        Self {
            recordings: 1,
            recorded_s: labels.ends_s,
            turns,
            events_by_hands: caused(Cause::Hands),
            events_from_before: caused(Cause::Before),
            turn_time_s,
            turn_skipping_s,
            ..Self::default()
        }
    }

    /// Adds seconds without trouble, and those of them in which a warning or an alarm stands.
    pub(super) fn burden(&mut self, (free_s, burdened_s): (f64, f64)) {
        self.free_s += free_s;
        self.burdened_s += burdened_s;
    }

    pub(super) fn event(
        &mut self,
        trouble: Trouble,
        class: Class,
        detected: bool,
        lead_s: Option<f64>,
    ) {
        let counts = self.counts.entry((trouble, class)).or_default();
        counts.events += 1;
        counts.detected += u64::from(detected);
        counts.leads_s.extend(lead_s);
    }

    pub(super) fn advisory(&mut self, trouble: Trouble, class: Class, fate: Fate) {
        let counts = self.counts.entry((trouble, class)).or_default();
        *counts.fates.entry(fate).or_insert(0) += 1;
    }

    pub(super) fn chances(&mut self, trouble: Trouble) -> &mut ChanceMarks {
        self.chances.entry(trouble).or_default()
    }

    /// Counts of one class; of one trouble, or of all.
    pub(super) fn counts(&self, trouble: Option<Trouble>, class: Class) -> Counts {
        let mut sum = Counts::default();
        for ((of, in_class), counts) in &self.counts {
            if *in_class == class && trouble.is_none_or(|trouble| trouble == *of) {
                sum.merge(counts);
            }
        }
        sum
    }

    /// Samples of one trouble, or of all.
    pub(super) fn chance_marks(&self, trouble: Option<Trouble>) -> ChanceMarks {
        let mut sum = ChanceMarks::default();
        for (of, marks) in &self.chances {
            if trouble.is_none_or(|trouble| trouble == *of) {
                sum.merge(marks);
            }
        }
        sum
    }

    /// Adds the counts of other recordings.
    pub fn merge(&mut self, other: &Self) {
        self.recordings += other.recordings;
        self.recorded_s += other.recorded_s;
        for (class, count) in &other.turns {
            *self.turns.entry(*class).or_insert(0) += count;
        }
        self.events_by_hands += other.events_by_hands;
        self.events_from_before += other.events_from_before;
        self.turn_time_s += other.turn_time_s;
        self.turn_skipping_s += other.turn_skipping_s;
        self.burden((other.free_s, other.burdened_s));
        for (key, counts) in &other.counts {
            self.counts.entry(*key).or_default().merge(counts);
        }
        for (trouble, marks) in &other.chances {
            self.chances.entry(*trouble).or_default().merge(marks);
        }
    }
}
