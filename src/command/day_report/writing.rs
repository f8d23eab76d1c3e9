//! Words, times and tables of a report.

use std::fmt::Write as _;

use chrono::{FixedOffset, Timelike as _};
use serde::Serialize;
use serde_json::Value;

use crate::logbook::DayRows;
use crate::time::Millis;

/// The clock where the boat was.
#[derive(Debug, Clone, Copy)]
pub(super) struct Clock {
    hours: i32,
}

impl Clock {
    pub fn of(day: &DayRows) -> Self {
        Self {
            hours: day.zone_hours,
        }
    }

    /// Hours of the day, for axes.
    pub fn hours(self, at: Millis, midnight: Millis) -> f64 {
        at.seconds_since(midnight) / 3600.0
    }

    /// Midnight before a moment.
    pub fn midnight(self, at: Millis) -> Millis {
        const DAY_MS: i64 = 24 * 3600 * 1000;
        let ahead_ms = i64::from(self.hours) * 3600 * 1000;
        Millis((at.0 + ahead_ms).div_euclid(DAY_MS) * DAY_MS - ahead_ms)
    }

    /// "09:05:30".
    pub fn time(self, at: Millis) -> String {
        let local = FixedOffset::east_opt(self.hours * 3600)
            .zip(at.to_utc())
            .map(|(zone, utc)| utc.with_timezone(&zone));
        local.map_or_else(String::new, |time| {
            format!(
                "{:02}:{:02}:{:02}",
                time.hour(),
                time.minute(),
                time.second()
            )
        })
    }

    /// "+3 h".
    pub fn zone(self) -> String {
        format!("{:+} h", self.hours)
    }
}

/// "2 h 05 min", or seconds of what is short.
pub(super) fn duration(time_s: f64) -> String {
    let s = time_s.round().max(0.0) as u64;
    match s {
        0..120 => format!("{s} s"),
        120..3600 => format!("{} min", (s + 30) / 60),
        _ => {
            let minutes = (s + 30) / 60;
            format!("{} h {:02} min", minutes / 60, minutes % 60)
        }
    }
}

/// "62 %", or a dash for what is not known.
pub(super) fn percent(share: Option<f64>) -> String {
    known(share, |share| format!("{:.0} %", 100.0 * share))
}

/// A value as it is written, or a dash for what is not known.
pub(super) fn known<T>(value: Option<T>, write: impl FnOnce(T) -> String) -> String {
    value.map_or_else(|| "–".to_owned(), write)
}

/// A variant as the word that the API has for it, with blanks; empty for none.
pub(super) fn word(value: &impl Serialize) -> String {
    match serde_json::to_value(value) {
        Ok(Value::String(text)) => text.replace('_', " "),
        _ => String::new(),
    }
}

/// Text that stands for itself in HTML.
pub(super) fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}

/// Cells of up to so many characters are not broken.
const SHORT: usize = 12;

/// A table under its title, or what is said when it has no rows.
pub(super) fn table(
    html: &mut String,
    title: &str,
    heads: &[&str],
    rows: &[Vec<String>],
    none: &str,
) -> std::fmt::Result {
    writeln!(html, "<section>\n<h2>{}</h2>", escaped(title))?;
    if rows.is_empty() {
        return writeln!(html, "<p>{}</p>\n</section>", escaped(none));
    }
    let head = |head: &&str| format!("<th>{}</th>", escaped(head));
    let heads: String = heads.iter().map(head).collect();
    writeln!(html, "<table>\n<thead><tr>{heads}</tr></thead>\n<tbody>")?;
    // A number stays beside its unit.
    let cell = |cell: &String| match cell.chars().count() {
        0..=SHORT => format!("<td class=\"short\">{}</td>", escaped(cell)),
        _ => format!("<td>{}</td>", escaped(cell)),
    };
    for row in rows {
        let row: String = row.iter().map(cell).collect();
        writeln!(html, "<tr>{row}</tr>")?;
    }
    writeln!(html, "</tbody>\n</table>\n</section>")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_those_of_the_zone() {
        let clock = Clock { hours: -3 };
        // 2026-06-01T01:02:03Z is the evening before, three hours west.
        let at = Millis(1_780_275_723_000);
        assert_eq!(clock.time(at), "22:02:03");
        let since = clock.hours(at, clock.midnight(at));
        assert!((since - (22.0 + 2.0 / 60.0 + 3.0 / 3600.0)).abs() < 1e-9);
        assert_eq!(clock.zone(), "-3 h");
    }

    #[test]
    fn durations_and_texts_are_written_plainly() {
        for (s, written) in [
            (0.4, "0 s"),
            (119.0, "119 s"),
            (150.0, "3 min"),
            (3570.0, "60 min"),
            (7_500.0, "2 h 05 min"),
        ] {
            assert_eq!(duration(s), written);
        }
        assert_eq!(escaped("<b> & \"x\""), "&lt;b&gt; &amp; &quot;x&quot;");
        assert_eq!(percent(None), "–");
    }
}
