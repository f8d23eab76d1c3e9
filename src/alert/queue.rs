//! What one line out is still to be told, no faster than it can carry.

use std::collections::{BTreeMap, VecDeque};

use super::entry::{Key, Shown};
use super::sentence::{alc, alf, hbt, txt};
use crate::advice::{AlertState, Priority};

/// Half of what 4800 baud carry: 480 bytes a second with start and stop bit.
const BYTES_PER_S: f64 = 240.0;
/// At once, after a pause: so that no second has more than the line carries.
const BURST_BYTES: f64 = 240.0;
/// Time between two heartbeats, and between two lists (from memory: 30 s).
const EVERY_S: u32 = 30;
/// Refusals that may wait.
const MOST_ANSWERS: usize = 8;

/// What one line out is still to be told. Times are seconds since some fixed moment.
#[derive(Debug)]
pub struct Queue {
    with_txt: bool,
    /// What was sent of each alert: its revision, and how often it was asked for.
    sent: BTreeMap<Key, (u8, u32)>,
    answers: VecDeque<String>,
    waiting: VecDeque<String>,
    message: u8,
    list: u8,
    beat: u8,
    listed_at_s: Option<f64>,
    beaten_at_s: Option<f64>,
    bytes: f64,
    filled_at_s: f64,
}

impl Queue {
    /// Nothing was told yet. With `with_txt` older displays are told, too.
    #[must_use]
    pub fn new(with_txt: bool) -> Self {
        Self {
            with_txt,
            sent: BTreeMap::new(),
            answers: VecDeque::new(),
            waiting: VecDeque::new(),
            message: 0,
            list: 0,
            beat: 0,
            listed_at_s: None,
            beaten_at_s: None,
            bytes: BURST_BYTES,
            filled_at_s: 0.0,
        }
    }

    /// The other end is a new one: it knows nothing.
    pub fn begin_anew(&mut self) {
        self.sent.clear();
        self.waiting.clear();
        (self.listed_at_s, self.beaten_at_s) = (None, None);
    }

    /// A refusal is to be told; while many wait, another is left out.
    pub fn answer(&mut self, sentence: String) {
        if self.answers.len() < MOST_ANSWERS {
            self.answers.push_back(sentence);
        }
    }

    /// What can be sent now: whole sentences with their ends.
    pub fn due(&mut self, shown: &Shown, now_s: f64) -> String {
        let passed_s = (now_s - self.filled_at_s).max(0.0);
        self.filled_at_s = self.filled_at_s.max(now_s);
        self.bytes = (self.bytes + BYTES_PER_S * passed_s).min(BURST_BYTES);
        let mut all = String::new();
        loop {
            if self.waiting.is_empty() {
                self.fill(shown, now_s);
            }
            let Some(next) = self.waiting.front() else {
                return all;
            };
            let length = next.len() as f64;
            if length > self.bytes {
                return all;
            }
            self.bytes -= length;
            all.extend(self.waiting.pop_front());
        }
    }

    /// The next thing to be told, made as late as possible.
    fn fill(&mut self, shown: &Shown, now_s: f64) {
        let is_due = |at_s: Option<f64>| at_s.is_none_or(|at_s| now_s - at_s >= f64::from(EVERY_S));
        if is_due(self.beaten_at_s) {
            self.beaten_at_s = Some(now_s);
            self.waiting.push_back(hbt(EVERY_S, self.beat));
            self.beat = (self.beat + 1) % 10;
            return;
        }
        if let Some(answer) = self.answers.pop_front() {
            self.waiting.push_back(answer);
            return;
        }
        self.sent.retain(|key, _| shown.contains_key(key));
        let changed = shown
            .iter()
            .filter(|(key, entry)| self.sent.get(key) != Some(&(entry.revision, entry.asked)));
        let rank = |priority| match priority {
            Priority::Alarm => 0,
            Priority::Warning => 1,
            Priority::Caution => 2,
        };
        if let Some((key, entry)) = changed.min_by_key(|(_, entry)| rank(entry.priority)) {
            self.sent.insert(*key, (entry.revision, entry.asked));
            self.message = (self.message + 1) % 10;
            self.waiting.push_back(alf(*key, entry, self.message));
            if self.with_txt {
                self.waiting.push_back(txt(*key, entry));
            }
            return;
        }
        if is_due(self.listed_at_s) {
            self.listed_at_s = Some(now_s);
            let living = shown
                .iter()
                .filter(|(_, entry)| entry.state != AlertState::Normal);
            self.waiting
                .extend(alc(living.map(|(key, entry)| (*key, entry)), self.list));
            self.list = (self.list + 1) % 100;
        }
    }
}
