//! Statistics of every input: what came, what was refused and why, how long it was silent.
//!
//! Senders choose the names, so their number and length are bounded. Kinds of sentence that can be
//! decoded always have a row of their own; of the others a limited number do, and the rest are
//! counted together. The same holds for inputs that the settings do not name.

use std::borrow::Cow;
use std::collections::{BTreeMap, VecDeque};

use serde::Serialize;

use super::snapshot::FeedNow;
use crate::cause::Cause;
use crate::decode;
use crate::feed::CREW_FEED;
use crate::time::Millis;

/// Averaging time of the shown rate, seconds.
const RATE_WINDOW_S: f64 = 10.0;
/// Most sentences counted within that time; a higher rate is shown as this one.
const MOST_RECENT: usize = 20_000;
/// Most kinds that cannot be decoded and have a row of their own: for one input ...
const MOST_STRANGE_KINDS: usize = 64;
/// ... and for all.
const MOST_STRANGE_KINDS_IN_ALL: usize = 256;
/// Characters of such a kind that are kept.
const KIND_CHARACTERS: usize = 12;
/// Row of the kinds beyond that.
pub const OTHER_KINDS: &str = "other";
/// Most inputs with counters of their own that only the TAG blocks of a log name.
const MOST_UNEXPECTED: usize = 32;
/// Characters of such a name that are kept.
const NAME_CHARACTERS: usize = 32;
/// The input to which all others together belong. No feed can have this name.
pub const OTHER_FEEDS: &str = "(others)";

/// Counters of one input over a whole run, for the closing summary.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct FeedTotals {
    /// Sentences with a correct checksum, by kind, decoded or not; kinds without a row of their own
    /// are "other".
    pub sentences: BTreeMap<String, u64>,
    /// Refused, by cause.
    pub rejected: BTreeMap<Cause, u64>,
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
    strange_kinds: usize,
}

/// Statistics of all inputs, by name.
#[derive(Debug, Clone, Default)]
pub struct Inputs {
    books: BTreeMap<String, Book>,
    unexpected: usize,
    strange_kinds: usize,
}

impl Inputs {
    /// Registers inputs that are known before they send.
    pub fn expect(&mut self, feeds: impl IntoIterator<Item = String>) {
        for feed in feeds {
            self.books.entry(feed).or_default();
        }
    }

    /// Forgets when each last spoke: time may go back from here. The counts stay.
    pub fn restart(&mut self) {
        for book in self.books.values_mut() {
            book.last_at = None;
            book.recent.clear();
        }
    }

    /// The name under which an input is known here: its own, made fit to be shown, or that of
    /// [`OTHER_FEEDS`] when there are too many.
    pub fn known_as<'a>(&mut self, feed: &'a str) -> Cow<'a, str> {
        if self.books.contains_key(feed) {
            return Cow::Borrowed(feed);
        }
        let name = readable(feed, NAME_CHARACTERS, |c| {
            c.is_alphanumeric() || c.is_ascii_graphic() || c == ' '
        });
        if self.books.contains_key(&name) {
            return Cow::Owned(name);
        }
        // The crew's own feed is not of the log's choosing.
        if feed != CREW_FEED {
            if self.unexpected >= MOST_UNEXPECTED {
                return Cow::Borrowed(OTHER_FEEDS);
            }
            self.unexpected += 1;
        }
        self.books.insert(name.clone(), Book::default());
        Cow::Owned(name)
    }

    /// Counts a sentence with a correct checksum (or none, where that is allowed).
    pub fn sentence(&mut self, feed: &str, kind: &str) {
        let strange_in_all = self.strange_kinds;
        let book = self.book(feed);
        if let Some(count) = book.totals.sentences.get_mut(kind) {
            *count += 1;
            return;
        }
        let known = decode::reads(kind);
        let row = if known {
            kind.to_owned()
        } else {
            readable(kind, KIND_CHARACTERS, |c| c.is_ascii_alphanumeric())
        };
        let new = !book.totals.sentences.contains_key(&row);
        let strange = new && !known;
        let full =
            book.strange_kinds >= MOST_STRANGE_KINDS || strange_in_all >= MOST_STRANGE_KINDS_IN_ALL;
        let (row, counts) = if strange && full {
            (OTHER_KINDS.to_owned(), false)
        } else {
            (row, strange)
        };
        *book.totals.sentences.entry(row).or_default() += 1;
        book.strange_kinds += usize::from(counts);
        self.strange_kinds += usize::from(counts);
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
        if book.recent.len() > MOST_RECENT {
            book.recent.pop_front();
        }
        trim(&mut book.recent, at);
    }

    /// Counts a refusal.
    pub fn refused(&mut self, feed: &str, cause: Cause) {
        let book = self.book(feed);
        *book.totals.rejected.entry(cause).or_default() += 1;
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
        let name = self.known_as(feed).into_owned();
        self.books.entry(name).or_default()
    }
}

/// A name that somebody else has chosen: cut, with `_` for what does not belong in it.
fn readable(name: &str, characters: usize, fits: impl Fn(char) -> bool) -> String {
    name.chars()
        .take(characters)
        .map(|c| if fits(c) { c } else { '_' })
        .collect()
}

fn trim(recent: &mut VecDeque<Millis>, now: Millis) {
    while recent
        .front()
        .is_some_and(|t| now.seconds_since(*t) > RATE_WINDOW_S)
    {
        recent.pop_front();
    }
}
