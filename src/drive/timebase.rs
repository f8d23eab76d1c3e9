//! What time a line of a recorded log arrived.
//!
//! Best first: the TAG block's own time (our recordings), a time written before the sentence,
//! the UTC that the log's own sentences carry, and where there is none of these a nominal ten
//! lines a second. Receivers lie about the time in many ways (frozen, stepping back where two
//! share an address, a week counter rolled over), so sentence UTC may only move time forward
//! by up to a minute at once, unless it is confirmed by those after it. Times that go back by more
//! than a minute must be confirmed too; then a new part of the log begins. [`Dated`](super::Dated) gives each line its time.

use std::fmt;

use chrono::{NaiveDate, NaiveDateTime, NaiveTime};
use serde::Serialize;

use crate::decode::{Decoder, Observation};
use crate::time::Millis;

/// Milliseconds between lines of a log that knows no time: ten lines a second, our choice.
pub(super) const NOMINAL_STEP_MS: i64 = 100;
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

/// Where the times of a log went back and stayed there: several logs in one, or a clock that was
/// set back or shows twelve hours only.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WentBack {
    /// Time of the lines before.
    pub from: Millis,
    /// What the next ones say.
    pub to: Millis,
}

/// What is known of a line's time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineTime {
    /// Nothing: the log has told no time yet.
    Unknown,
    /// The same as that of the line before.
    Same,
    /// This, never before that of an earlier line.
    At(Millis),
    /// This, far before that of earlier lines.
    Behind(Millis),
    /// This, and so many in a row were [`Behind`](Self::Behind) that it must be believed.
    Back(WentBack),
}

/// Reads the time of each line.
#[derive(Debug, Default)]
pub struct TimeBase {
    last: Option<Millis>,
    best: Option<TimeSource>,
    date: Option<NaiveDate>,
    doubted: u32,
    /// Times in a row that were far behind.
    behind: u32,
    decoder: Decoder,
}

impl TimeBase {
    /// Time of the next line. `stamped` is the time the log itself gives it, with its source.
    pub fn read(&mut self, stamped: Option<(Millis, TimeSource)>, text: &str) -> LineTime {
        let own = match stamped {
            Some((at, source)) => Some((at, source)),
            // A line without stamp among stamped ones came right after its neighbour.
            None if self.best > Some(TimeSource::SentenceUtc) => None,
            None => (self.sentence_utc(text)).map(|utc| (utc, TimeSource::SentenceUtc)),
        };
        let Some((own, source)) = own else {
            return if self.best > Some(TimeSource::Nominal) {
                LineTime::Same
            } else {
                LineTime::Unknown
            };
        };
        self.best = self.best.max(Some(source));
        if let Some(from) = self.last
            && from.0 - own.0 > LONGEST_STEP_MS
        {
            self.behind += 1;
            if self.behind < CONFIRMATIONS {
                return LineTime::Behind(own);
            }
            self.behind = 0;
            self.doubted = 0;
            self.last = Some(own);
            return LineTime::Back(WentBack { from, to: own });
        }
        self.behind = 0;
        let at = if source == TimeSource::SentenceUtc {
            self.believe(own)
        } else {
            own
        };
        let at = self.last.map_or(at, |last| last.max(at));
        self.last = Some(at);
        LineTime::At(at)
    }

    /// Time of a line of a log that has told none for too long: one nominal step on.
    pub(super) fn nominal(&mut self) -> Millis {
        self.best = self.best.max(Some(TimeSource::Nominal));
        let at = Millis(self.last.unwrap_or(NOMINAL_START).0 + NOMINAL_STEP_MS);
        self.last = Some(at);
        at
    }

    /// Where the times came from so far.
    #[must_use]
    pub fn source(&self) -> TimeSource {
        self.best.unwrap_or(TimeSource::Nominal)
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
            && let Some(next_day) = moment.checked_add_days(chrono::Days::new(1))
            && last.0 - next_day.and_utc().timestamp_millis() <= LONGEST_STEP_MS
        {
            moment = next_day;
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

    fn at(time: LineTime) -> Millis {
        match time {
            LineTime::At(at) => at,
            other => panic!("{other:?}"),
        }
    }

    fn tag(ms: i64) -> Option<(Millis, TimeSource)> {
        Some((Millis(ms), TimeSource::Tag))
    }

    #[test]
    fn tag_time_wins_and_never_goes_back() {
        let mut base = TimeBase::default();
        assert_eq!(base.read(tag(5_000), ONE), LineTime::At(Millis(5_000)));
        assert_eq!(base.read(None, ONE), LineTime::Same);
        assert_eq!(base.read(tag(4_000), ONE), LineTime::At(Millis(5_000)));
        assert_eq!(base.read(tag(6_000), TWO), LineTime::At(Millis(6_000)));
        assert_eq!(base.source(), TimeSource::Tag);
    }

    #[test]
    fn sentence_utc_carries_the_lines_between() {
        let mut base = TimeBase::default();
        assert_eq!(base.read(None, "$WIMWV,030,R,10.0,N,A"), LineTime::Unknown);
        let noon = at(base.read(None, ONE));
        assert_eq!(noon.to_string(), "2026-06-01T12:00:00.000Z");
        assert_eq!(base.read(None, "$WIMWV,030,R,10.0,N,A"), LineTime::Same);
        assert_eq!(at(base.read(None, TWO)), Millis(noon.0 + 1000));
        assert_eq!(base.source(), TimeSource::SentenceUtc);
    }

    #[test]
    fn a_clock_that_steps_back_a_little_is_not_followed() {
        let mut base = TimeBase::default();
        base.read(None, TWO);
        let later = at(base.read(None, ONE));
        assert_eq!(later.to_string(), "2026-06-01T12:00:01.000Z");
    }

    #[test]
    fn times_that_stay_far_behind_are_believed_and_a_few_are_not() {
        let mut base = TimeBase::default();
        let now = 1_780_300_800_000;
        let behind = LineTime::Behind(Millis(now - 61_000));
        base.read(tag(now), ONE);
        for _ in 0..3 {
            for _ in 1..CONFIRMATIONS {
                assert_eq!(base.read(tag(now - 61_000), ONE), behind);
            }
            base.read(tag(now), ONE);
        }
        for _ in 0..2 * CONFIRMATIONS {
            assert_eq!(base.read(tag(now - 60_000), ONE), LineTime::At(Millis(now)));
        }
        for _ in 1..CONFIRMATIONS {
            assert_eq!(base.read(tag(now - 61_000), ONE), behind);
        }
        let back = WentBack {
            from: Millis(now),
            to: Millis(now - 61_000),
        };
        assert_eq!(base.read(tag(now - 61_000), ONE), LineTime::Back(back));
        // From there it goes on.
        let on = base.read(tag(now - 60_000), ONE);
        assert_eq!(on, LineTime::At(Millis(now - 60_000)));
    }

    #[test]
    fn a_wild_clock_must_insist() {
        let mut base = TimeBase::default();
        let start = at(base.read(None, ONE));
        let wild = "$GPRMC,120005.00,A,1200.000,N,04000.000,W,6.0,090.0,010646,,,A";
        for _ in 0..CONFIRMATIONS {
            assert_eq!(at(base.read(None, wild)), start);
        }
        assert!(at(base.read(None, wild)) > start);
    }

    #[test]
    fn past_midnight_without_a_date() {
        let late = "$GPRMC,235959.00,A,1200.000,N,04000.000,W,6.0,090.0,010626,,,A";
        let mut base = TimeBase::default();
        base.read(None, late);
        let next = at(base.read(None, "$GPGLL,1200.000,N,04000.000,W,000001.00,A,A"));
        assert_eq!(next.to_string(), "2026-06-02T00:00:01.000Z");
        // Any other time of day long before is no midnight.
        let mut base = TimeBase::default();
        base.read(None, late);
        let noon = base.read(None, "$GPGLL,1200.000,N,04000.000,W,115959.00,A,A");
        assert!(matches!(noon, LineTime::Behind(_)), "{noon:?}");
    }
}
