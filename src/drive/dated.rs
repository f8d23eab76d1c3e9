//! The lines of a log with their times, in parts within which no time goes back.
//!
//! Two things are only known later, so lines are held until then: when the lines before the first
//! time came (dated back from it, ten lines a second), and whether times that are far behind stay
//! there (a new part begins with the first of them) or were a slip of one receiver.

use std::collections::VecDeque;
use std::sync::Arc;

use super::log_line::LogLine;
use super::timebase::{LineTime, NOMINAL_STEP_MS, TimeBase, TimeSource, WentBack};
use crate::cause::Cause;
use crate::time::Millis;

/// Lines held at most: half an hour at ten lines a second, about 4 MB. Beyond that, lines are dated
/// without waiting for what later ones would tell.
const MOST_HELD: usize = 18_000;

/// What comes next in a log.
#[derive(Debug, Clone, PartialEq)]
pub enum DatedLine {
    /// An accepted sentence.
    Sentence {
        /// When it came; never before an earlier one of the same part.
        at: Millis,
        /// Which feed brought it, with the sender where that is known.
        feed: Arc<str>,
        /// `$...`.
        text: String,
    },
    /// Something refused or skipped.
    Refused {
        /// Which feed brought it.
        feed: Arc<str>,
        /// Why.
        cause: Cause,
    },
    /// The times go back: another part begins.
    Part(WentBack),
}

/// Gives each line of a log its time.
#[derive(Debug)]
pub struct Dated<I> {
    lines: I,
    base: TimeBase,
    last: Option<Millis>,
    /// Lines whose time is not decided, with what they say of it.
    held: Vec<(Option<Millis>, LogLine)>,
    held_for: HeldFor,
    ready: VecDeque<DatedLine>,
    dated_back: u64,
}

/// What the held lines wait for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum HeldFor {
    /// The first time of the log.
    FirstTime,
    /// Nothing; none are held.
    Nothing,
    /// Whether the times stay behind.
    Behind,
}

impl<I: Iterator<Item = LogLine>> Dated<I> {
    /// The lines of a log from its beginning.
    pub fn new(lines: I) -> Self {
        Self {
            lines,
            base: TimeBase::default(),
            last: None,
            held: Vec::new(),
            held_for: HeldFor::FirstTime,
            ready: VecDeque::new(),
            dated_back: 0,
        }
    }

    /// Where the times came from so far.
    pub fn source(&self) -> TimeSource {
        self.base.source()
    }

    /// Sentences before the first time, which were dated back from it.
    pub fn dated_back(&self) -> u64 {
        self.dated_back
    }

    fn take(&mut self, line: LogLine) {
        let LogLine::Sentence { stamped, text, .. } = &line else {
            self.hold_or_give(None, line);
            return;
        };
        match self.base.read(*stamped, text) {
            LineTime::Unknown if self.held_for == HeldFor::FirstTime => {
                self.hold_or_give(None, line);
            }
            LineTime::Unknown => {
                self.last = Some(self.base.nominal());
                self.give(line);
            }
            LineTime::Same => self.hold_or_give(None, line),
            LineTime::At(at) => {
                self.decide(Some(at));
                self.last = Some(at);
                self.give(line);
            }
            LineTime::Behind(own) => {
                if self.held_for == HeldFor::Nothing {
                    self.held_for = HeldFor::Behind;
                }
                self.hold_or_give(Some(own), line);
            }
            LineTime::Back(back) => {
                self.held.push((Some(back.to), line));
                self.begin_part(back);
            }
        }
    }

    fn hold_or_give(&mut self, own: Option<Millis>, line: LogLine) {
        if self.held_for == HeldFor::Nothing {
            self.give(line);
            return;
        }
        self.held.push((own, line));
        if self.held.len() >= MOST_HELD {
            self.decide(None);
        }
    }

    /// Gives the held lines without a new part; `first` is the time that has come.
    fn decide(&mut self, first: Option<Millis>) {
        let held = std::mem::take(&mut self.held);
        let held_for = std::mem::replace(&mut self.held_for, HeldFor::Nothing);
        let is_sentence = |line: &LogLine| matches!(line, LogLine::Sentence { .. });
        let sentences = held.iter().filter(|(_, line)| is_sentence(line)).count();
        let mut left = i64::try_from(sentences).unwrap_or(i64::MAX);
        if held_for == HeldFor::FirstTime && first.is_some() {
            self.dated_back = sentences as u64;
        }
        for (_, line) in held {
            if held_for == HeldFor::FirstTime && is_sentence(&line) {
                self.last = Some(match first {
                    Some(first) => Millis(first.0 - left * NOMINAL_STEP_MS),
                    None => self.base.nominal(),
                });
                left -= 1;
            }
            self.give(line);
        }
    }

    /// The held lines are the first of another part.
    fn begin_part(&mut self, back: WentBack) {
        self.ready.push_back(DatedLine::Part(back));
        self.held_for = HeldFor::Nothing;
        let mut held = std::mem::take(&mut self.held);
        // None later than one that comes after it.
        let mut bound = back.to;
        for (own, _) in held.iter_mut().rev() {
            if let Some(own) = own {
                *own = bound.min(*own);
                bound = *own;
            }
        }
        self.last = Some(bound);
        for (own, line) in held {
            self.last = own.or(self.last);
            self.give(line);
        }
    }

    fn give(&mut self, line: LogLine) {
        self.ready.push_back(match line {
            LogLine::Refused { feed, cause } => DatedLine::Refused { feed, cause },
            LogLine::Sentence { feed, text, .. } => DatedLine::Sentence {
                at: self.last.unwrap_or_else(|| self.base.nominal()),
                feed,
                text,
            },
        });
    }
}

impl<I: Iterator<Item = LogLine>> Iterator for Dated<I> {
    type Item = DatedLine;

    fn next(&mut self) -> Option<DatedLine> {
        loop {
            if let Some(line) = self.ready.pop_front() {
                return Some(line);
            }
            match self.lines.next() {
                Some(line) => self.take(line),
                None if self.held.is_empty() => return None,
                None => self.decide(None),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Invented lines.
    const WIND: &str = "$WIMWV,030,R,10.0,N,A";

    fn rmc(hms: &str) -> String {
        format!("$GPRMC,{hms}.00,A,1200.000,N,04000.000,W,6.0,090.0,010626,,,A")
    }

    /// Times of day of the sentences, and `|` where a part begins.
    fn times(texts: &[String]) -> (Vec<String>, u64) {
        let lines = texts.iter().map(|text| LogLine::Sentence {
            stamped: None,
            feed: "log".into(),
            text: text.clone(),
        });
        let mut dated = Dated::new(lines);
        let times = dated
            .by_ref()
            .map(|line| match line {
                DatedLine::Sentence { at, .. } => at.to_string()[11..23].to_owned(),
                DatedLine::Part(_) => "|".to_owned(),
                DatedLine::Refused { .. } => panic!("none is refused"),
            })
            .collect();
        (times, dated.dated_back())
    }

    #[test]
    fn lines_before_the_first_time_are_dated_back_from_it() {
        let wind = WIND.to_owned();
        let log = [
            wind.clone(),
            wind.clone(),
            rmc("120000"),
            wind,
            rmc("120001"),
        ];
        let (times, dated_back) = times(&log);
        assert_eq!(
            times,
            [
                "11:59:59.800",
                "11:59:59.900",
                "12:00:00.000",
                "12:00:00.000",
                "12:00:01.000"
            ]
        );
        assert_eq!(dated_back, 2);
    }

    #[test]
    fn without_any_time_ten_lines_a_second_also_when_more_come_than_are_held() {
        let log = vec![WIND.to_owned(); MOST_HELD + 2];
        let (times, dated_back) = times(&log);
        assert_eq!((times.len(), dated_back), (log.len(), 0));
        assert_eq!(times[..2], ["00:00:00.100", "00:00:00.200"]);
        // 18 000 lines are 30 minutes.
        assert_eq!(
            times[MOST_HELD - 1..],
            ["00:30:00.000", "00:30:00.100", "00:30:00.200"]
        );
    }

    #[test]
    fn a_clock_that_stays_back_begins_a_part_with_its_first_line() {
        let mut log = vec![rmc("125959"), WIND.to_owned()];
        for second in 0..12 {
            log.extend([rmc(&format!("0100{second:02}")), WIND.to_owned()]);
        }
        let (times, _) = times(&log);
        assert_eq!(
            times[..6],
            [
                "12:59:59.000",
                "12:59:59.000",
                "|",
                "01:00:00.000",
                "01:00:00.000",
                "01:00:01.000",
            ]
        );
        assert_eq!(times.iter().filter(|time| *time == "|").count(), 1);
        assert_eq!(times.last().unwrap(), "01:00:11.000");
        assert_eq!(times.len(), log.len() + 1);
    }

    #[test]
    fn a_slip_back_begins_none_and_loses_no_line() {
        let log = [
            rmc("120000"),
            rmc("100000"),
            WIND.to_owned(),
            rmc("100001"),
            rmc("120001"),
            rmc("100002"),
        ];
        let (times, _) = times(&log);
        assert_eq!(
            times,
            [
                "12:00:00.000",
                "12:00:00.000",
                "12:00:00.000",
                "12:00:00.000",
                "12:00:01.000",
                "12:00:01.000",
            ]
        );
    }
}
