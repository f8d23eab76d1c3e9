//! Moments in time, as the recordings write them: Unix time in whole milliseconds, UTC.

use std::fmt;

use chrono::{DateTime, SecondsFormat, Utc};
use serde::{Serialize, Serializer};

/// Unix time in milliseconds, UTC. Displays and serialises as RFC 3339 with milliseconds.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Millis(pub i64);

impl Serialize for Millis {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl Millis {
    /// No clock gives a moment after this one, the end of the year 9999.
    pub const LATEST: Self = Self(253_402_300_799_999);

    /// Seconds from `earlier` to `self` (negative when `earlier` is later).
    #[must_use]
    pub fn seconds_since(self, earlier: Self) -> f64 {
        (self.0 - earlier.0) as f64 / 1000.0
    }

    /// This moment and `seconds` more, rounded to the millisecond.
    #[must_use]
    pub fn plus_seconds(self, seconds: f64) -> Self {
        Self(self.0.saturating_add((seconds * 1000.0).round() as i64))
    }

    /// The same moment as a calendar time; `None` outside the years chrono can hold.
    #[must_use]
    pub fn to_utc(self) -> Option<DateTime<Utc>> {
        DateTime::from_timestamp_millis(self.0)
    }
}

impl fmt::Display for Millis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.to_utc() {
            Some(t) => f.write_str(&t.to_rfc3339_opts(SecondsFormat::Millis, true)),
            None => write!(f, "{} ms", self.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn displays_rfc3339_with_milliseconds() {
        // Unix time 1 000 000 000 is 2001-09-09T01:46:40Z (arithmetic from the definition).
        assert_eq!(
            Millis(1_000_000_000_123).to_string(),
            "2001-09-09T01:46:40.123Z"
        );
        assert_eq!(Millis(i64::MAX).to_string(), "9223372036854775807 ms");
    }

    #[test]
    fn seconds_go_both_ways() {
        let t = Millis(1_500);
        assert!((t.plus_seconds(-0.5).seconds_since(t) + 0.5).abs() < 1e-12);
    }
}
