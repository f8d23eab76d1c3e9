//! What time a line of a recorded log arrived.
//!
//! Best first: the TAG block's own time (our recordings), a time written before the sentence,
//! the UTC that the log's own sentences carry, and where there is none of these a nominal ten
//! lines a second. Receivers lie about the time in many ways (frozen, stepping back where two
//! share an address, a week counter rolled over), so sentence UTC may only move time forward
//! by up to a minute at once, unless it insists.

use std::fmt;

use chrono::{NaiveDate, NaiveDateTime, NaiveTime};
use serde::Serialize;

use crate::decode::{Decoder, Observation};
use crate::time::Millis;

/// Milliseconds between lines of a log that knows no time: ten lines a second, our choice.
const NOMINAL_STEP_MS: i64 = 100;
/// Nominal start, 2000-01-01T00:00:00Z.
const NOMINAL_START: Millis = Millis(946_684_800_000);
/// A step of sentence UTC longer than this must be confirmed, and so must one back of any time.
const LONGEST_STEP_MS: i64 = 60_000;
/// So many times in a row confirm it.
const CONFIRMATIONS: u32 = 10;

/// Where the times of a log came from; the closing summary says it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum TimeSource {
    /// No time at all: ten lines a second from 2000-01-01.
    Nominal,
    /// UTC in the log's own sentences.
    SentenceUtc,
    /// A time written before each sentence.
    Prefix,
    /// TAG block time.
    Tag,
}

impl fmt::Display for TimeSource {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Nominal => "none in the log: ten lines a second assumed",
            Self::SentenceUtc => "UTC of the log's own sentences",
            Self::Prefix => "time written before each sentence",
            Self::Tag => "TAG block",
        })
    }
}

/// Where the times of a log went back and stayed there: logs in the wrong order, or a clock that
/// was set back. No line after that can be given its time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WentBack {
    /// Time of the lines before.
    pub from: Millis,
    /// What the next ones say.
    pub to: Millis,
}

/// Gives each line its time, never going back.
#[derive(Debug, Default)]
pub struct TimeBase {
    last: Option<Millis>,
    best: Option<TimeSource>,
    date: Option<NaiveDate>,
    doubted: u32,
    /// Times in a row that were far behind.
    behind: u32,
    went_back: Option<WentBack>,
    decoder: Decoder,
}

impl TimeBase {
    /// Time of the next line. `stamped` is the time the log itself gives it, with its source.
    pub fn next(&mut self, stamped: Option<(Millis, TimeSource)>, text: &str) -> Millis {
        let at = if let Some((at, source)) = stamped {
            self.best = self.best.max(Some(source));
            self.watch_order(at);
            at
        } else if self.best.is_some_and(|best| best > TimeSource::SentenceUtc) {
            // A line without stamp among stamped ones came right after its neighbour.
            self.last.unwrap_or(NOMINAL_START)
        } else if let Some(utc) = self.sentence_utc(text) {
            self.best = self.best.max(Some(TimeSource::SentenceUtc));
            self.watch_order(utc);
            self.believe(utc)
        } else if self.best == Some(TimeSource::SentenceUtc) {
            self.last.unwrap_or(NOMINAL_START)
        } else {
            self.best = self.best.max(Some(TimeSource::Nominal));
            Millis(self.last.unwrap_or(NOMINAL_START).0 + NOMINAL_STEP_MS)
        };
        let at = self.last.map_or(at, |last| last.max(at));
        self.last = Some(at);
        at
    }

    /// Where the times came from so far.
    #[must_use]
    pub fn source(&self) -> TimeSource {
        self.best.unwrap_or(TimeSource::Nominal)
    }

    /// Where the times went back for good, if they did.
    #[must_use]
    pub fn went_back(&self) -> Option<WentBack> {
        self.went_back
    }

    fn watch_order(&mut self, own: Millis) {
        match self.last {
            Some(last) if last.0 - own.0 > LONGEST_STEP_MS => {
                self.behind += 1;
                if self.behind >= CONFIRMATIONS {
                    let back = WentBack {
                        from: last,
                        to: own,
                    };
                    self.went_back.get_or_insert(back);
                }
            }
            _ => self.behind = 0,
        }
    }

    fn sentence_utc(&mut self, text: &str) -> Option<Millis> {
        // Only these five kinds carry UTC; do not decode the rest twice.
        let kind = text.get(3..6)?;
        if !matches!(kind, "RMC" | "ZDA" | "GGA" | "GNS" | "GLL") {
            return None;
        }
        let decoded = self.decoder.decode(text).ok()?;
        decoded.observations.iter().find_map(|o| match o {
            Observation::Utc { date, time } => self.moment(*date, *time),
            _ => None,
        })
    }

    fn moment(&mut self, date: Option<NaiveDate>, time: NaiveTime) -> Option<Millis> {
        if date.is_some() {
            self.date = date;
        }
        let mut moment = NaiveDateTime::new(self.date?, time);
        // A time of day without date just after midnight, before the dated sentence says so.
        if let (None, Some(last)) = (date, self.last)
            && last.0 - moment.and_utc().timestamp_millis() > 12 * 3_600_000
        {
            moment = moment.checked_add_days(chrono::Days::new(1))?;
        }
        Some(Millis(moment.and_utc().timestamp_millis()))
    }

    fn believe(&mut self, utc: Millis) -> Millis {
        let Some(last) = self.last else { return utc };
        let step = utc.0 - last.0;
        if (0..=LONGEST_STEP_MS).contains(&step) {
            self.doubted = 0;
            return utc;
        }
        // The very first UTC after nominal lines, or one that insists, is a new start.
        self.doubted += 1;
        if step > 0 && (self.doubted > CONFIRMATIONS || last.0 < NOMINAL_START.0 + 86_400_000) {
            self.doubted = 0;
            return utc;
        }
        last
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Sentences and times below are invented.
    const ONE: &str = "$GPRMC,120000.00,A,1200.000,N,04000.000,W,6.0,090.0,010626,,,A";
    const TWO: &str = "$GPRMC,120001.00,A,1200.000,N,04000.000,W,6.0,090.0,010626,,,A";

    #[test]
    fn tag_time_wins_and_never_goes_back() {
        let mut base = TimeBase::default();
        let tag = |ms| Some((Millis(ms), TimeSource::Tag));
        assert_eq!(base.next(tag(5_000), ONE), Millis(5_000));
        assert_eq!(base.next(None, ONE), Millis(5_000));
        assert_eq!(base.next(tag(4_000), ONE), Millis(5_000));
        assert_eq!(base.next(tag(6_000), TWO), Millis(6_000));
        assert_eq!(base.source(), TimeSource::Tag);
    }

    #[test]
    fn sentence_utc_carries_the_lines_between() {
        let mut base = TimeBase::default();
        let noon = base.next(None, ONE);
        assert_eq!(noon.to_string(), "2026-06-01T12:00:00.000Z");
        assert_eq!(base.next(None, "$WIMWV,030,R,10.0,N,A"), noon);
        assert_eq!(base.next(None, TWO), Millis(noon.0 + 1000));
        assert_eq!(base.source(), TimeSource::SentenceUtc);
    }

    #[test]
    fn a_clock_that_steps_back_is_not_followed() {
        let mut base = TimeBase::default();
        base.next(None, TWO);
        let later = base.next(None, ONE);
        assert_eq!(later.to_string(), "2026-06-01T12:00:01.000Z");
    }

    #[test]
    fn times_that_stay_far_behind_are_told_and_a_few_are_not() {
        let mut base = TimeBase::default();
        let tag = |ms| Some((Millis(ms), TimeSource::Tag));
        let now = 1_780_300_800_000;
        base.next(tag(now), ONE);
        for _ in 0..3 {
            for _ in 1..CONFIRMATIONS {
                base.next(tag(now - 61_000), ONE);
            }
            base.next(tag(now), ONE);
        }
        for _ in 0..2 * CONFIRMATIONS {
            base.next(tag(now - 60_000), ONE);
        }
        assert_eq!(base.went_back(), None);
        for _ in 0..CONFIRMATIONS {
            assert_eq!(base.next(tag(now - 61_000), ONE), Millis(now));
        }
        let back = WentBack {
            from: Millis(now),
            to: Millis(now - 61_000),
        };
        assert_eq!(base.went_back(), Some(back));
    }

    #[test]
    fn a_wild_clock_must_insist() {
        let mut base = TimeBase::default();
        let start = base.next(None, ONE);
        let wild = "$GPRMC,120005.00,A,1200.000,N,04000.000,W,6.0,090.0,010646,,,A";
        for _ in 0..CONFIRMATIONS {
            assert_eq!(base.next(None, wild), start);
        }
        assert!(base.next(None, wild) > start);
    }

    #[test]
    fn without_any_time_ten_lines_a_second() {
        let mut base = TimeBase::default();
        let a = base.next(None, "$WIMWV,030,R,10.0,N,A");
        let b = base.next(None, "$WIMWV,030,R,10.0,N,A");
        assert_eq!(b.0 - a.0, NOMINAL_STEP_MS);
        assert_eq!(base.source(), TimeSource::Nominal);
    }

    #[test]
    fn past_midnight_without_a_date() {
        let mut base = TimeBase::default();
        base.next(
            None,
            "$GPRMC,235959.00,A,1200.000,N,04000.000,W,6.0,090.0,010626,,,A",
        );
        let at = base.next(None, "$GPGLL,1200.000,N,04000.000,W,000001.00,A,A");
        assert_eq!(at.to_string(), "2026-06-02T00:00:01.000Z");
    }
}
