//! Statistics of every input: what came, what was refused and why, how long it was silent.

use std::collections::{BTreeMap, VecDeque};

use serde::Serialize;

use super::snapshot::FeedNow;
use crate::time::Millis;

/// Averaging time of the shown rate, seconds.
const RATE_WINDOW_S: f64 = 10.0;

/// Counters of one input over a whole run, for the closing summary.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct FeedTotals {
    /// Sentences with a correct checksum, by kind, decoded or not.
    pub sentences: BTreeMap<String, u64>,
    /// Refused, by cause.
    pub rejected: BTreeMap<String, u64>,
    /// Well-formed sentences without data (empty, or status "not valid"), by kind.
    pub void: BTreeMap<String, u64>,
    /// Longest silence between two accepted sentences, seconds.
    pub longest_gap_s: f64,
}

#[derive(Debug, Clone, Default)]
struct Book {
    totals: FeedTotals,
    accepted: u64,
    last_at: Option<Millis>,
    recent: VecDeque<Millis>,
}

/// Statistics of all inputs, by name.
#[derive(Debug, Clone, Default)]
pub struct Inputs {
    books: BTreeMap<String, Book>,
}

impl Inputs {
    /// Registers inputs that are known before they send.
    pub fn expect(&mut self, feeds: impl IntoIterator<Item = String>) {
        for feed in feeds {
            self.books.entry(feed).or_default();
        }
    }

    /// Counts a sentence with a correct checksum (or none, where that is allowed).
    pub fn sentence(&mut self, feed: &str, kind: &str) {
        let book = self.book(feed);
        *book.totals.sentences.entry(kind.to_owned()).or_default() += 1;
    }

    /// Counts a decoded sentence; `void` when it had no data.
    pub fn understood(&mut self, at: Millis, feed: &str, kind: &str, void: bool) {
        let book = self.book(feed);
        book.accepted += 1;
        if void {
            *book.totals.void.entry(kind.to_owned()).or_default() += 1;
        }
        if let Some(last) = book.last_at {
            book.totals.longest_gap_s = book.totals.longest_gap_s.max(at.seconds_since(last));
        }
        book.last_at = Some(at);
        book.recent.push_back(at);
        trim(&mut book.recent, at);
    }

    /// Counts a refusal.
    pub fn refused(&mut self, feed: &str, cause: &str) {
        let book = self.book(feed);
        *book.totals.rejected.entry(cause.to_owned()).or_default() += 1;
    }

    /// Totals by input.
    #[must_use]
    pub fn totals(&self) -> BTreeMap<String, FeedTotals> {
        self.books
            .iter()
            .map(|(name, book)| (name.clone(), book.totals.clone()))
            .collect()
    }

    /// As the page shows them at `now`.
    pub fn now(&mut self, now: Millis) -> Vec<FeedNow> {
        self.books
            .iter_mut()
            .map(|(name, book)| {
                trim(&mut book.recent, now);
                let silent_s = book.last_at.map_or(0.0, |last| now.seconds_since(last));
                FeedNow {
                    name: name.clone(),
                    accepted: book.accepted,
                    refused: book.totals.rejected.clone(),
                    kinds: book.totals.sentences.clone(),
                    last_at: book.last_at,
                    longest_gap_s: book.totals.longest_gap_s.max(silent_s),
                    link: None,
                    rate_hz: book.recent.len() as f64 / RATE_WINDOW_S,
                }
            })
            .collect()
    }

    fn book(&mut self, feed: &str) -> &mut Book {
        self.books.entry(feed.to_owned()).or_default()
    }
}

fn trim(recent: &mut VecDeque<Millis>, now: Millis) {
    while recent
        .front()
        .is_some_and(|t| now.seconds_since(*t) > RATE_WINDOW_S)
    {
        recent.pop_front();
    }
}
