//! The log of what the crew has reported and taken back: the one place that decides what a
//! retraction retracts.
//!
//! Every report and every retraction gets a number, and leaves the log as a [`CrewEvent`]. Whoever
//! keeps something of a report (the deck, the particle filter, the journal) follows these events
//! and never infers a retraction.

use std::collections::VecDeque;

use crate::decode::CrewInput;
use crate::time::Millis;

/// A report older than this cannot be taken back. The page offers it for 10 s; the rest is for slow
/// links and slow thumbs.
pub const UNDO_WINDOW_S: f64 = 15.0;

/// Reports that can still be taken back, at most; a burst beyond it is settled early.
const MOST_RECENT: usize = 256;

/// One report as the log holds it.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// Its number in the log.
    pub number: u64,
    /// When it came.
    pub at: Millis,
    /// Sequence number of its sentence: what an undo names.
    pub sequence: u32,
    /// What was said.
    pub input: CrewInput,
}

/// What happened to the log.
#[derive(Debug, Clone, PartialEq)]
pub enum CrewEvent {
    /// The crew reported something.
    Reported(Report),
    /// The crew took a report back.
    Retracted {
        /// Number of the retraction in the log.
        number: u64,
        /// When it came.
        at: Millis,
        /// The report as it was.
        report: Report,
    },
}

/// Whether an undo may name it: what changes lines, bait, kite, turn, marks, sources, corrections or
/// launch.
#[must_use]
pub fn can_be_retracted(input: &CrewInput) -> bool {
    match input {
        CrewInput::LinesOut { .. }
        | CrewInput::Moved { .. }
        | CrewInput::Bait(_)
        | CrewInput::Elevation(_)
        | CrewInput::Bearing(_)
        | CrewInput::MarkerInWater(_)
        | CrewInput::Turn { .. }
        | CrewInput::CallOffTurn
        | CrewInput::Bite
        | CrewInput::Strike(_)
        | CrewInput::Plan { .. }
        | CrewInput::Mark(_)
        | CrewInput::OfMark { .. }
        | CrewInput::Pass { .. }
        | CrewInput::Source { .. }
        | CrewInput::Launch(_)
        | CrewInput::Correct(_)
        | CrewInput::Uncorrect(_)
        | CrewInput::Before { .. } => true,
        CrewInput::Undo { .. }
        | CrewInput::Acknowledge { .. }
        | CrewInput::Silence { .. }
        | CrewInput::Session(_)
        | CrewInput::Forget
        | CrewInput::Setting { .. } => false,
    }
}

/// The reports that can still be taken back, oldest first, and the numbers given so far.
#[derive(Debug, Clone, Default)]
pub struct CrewLog {
    recent: VecDeque<Report>,
    numbers: u64,
}

impl CrewLog {
    /// An empty log that numbers on after this one.
    #[must_use]
    pub fn next(&self) -> Self {
        Self {
            recent: VecDeque::new(),
            numbers: self.numbers,
        }
    }

    /// Removes and returns, oldest first, the reports that cannot be taken back any more at `at`.
    pub fn settle(&mut self, at: Millis) -> Vec<Report> {
        let late = |report: &Report| at.seconds_since(report.at) > UNDO_WINDOW_S;
        let aged = self.recent.iter().take_while(|report| late(report)).count();
        let over = (self.recent.len() + 1).saturating_sub(MOST_RECENT);
        self.recent.drain(..aged.max(over)).collect()
    }

    /// Records an input. `None` when it is an undo of something that was never said, was said too
    /// long ago, or is taken back already. Call [`settle`](Self::settle) first.
    pub fn record(&mut self, at: Millis, sequence: u32, input: &CrewInput) -> Option<CrewEvent> {
        let number = self.numbers + 1;
        let event = if let CrewInput::Undo { of } = input {
            let index = self.index(at, *of)?;
            let report = self.recent.remove(index)?;
            CrewEvent::Retracted { number, at, report }
        } else {
            let report = Report {
                number,
                at,
                sequence,
                input: input.clone(),
            };
            self.recent.push_back(report.clone());
            CrewEvent::Reported(report)
        };
        self.numbers = number;
        Some(event)
    }

    /// Whether an undo at `at` of this sequence number would take something back.
    #[must_use]
    pub fn can_undo(&self, at: Millis, sequence: u32) -> bool {
        self.index(at, sequence).is_some()
    }

    fn index(&self, at: Millis, sequence: u32) -> Option<usize> {
        self.recent.iter().rposition(|report| {
            report.sequence == sequence
                && can_be_retracted(&report.input)
                && at.seconds_since(report.at) <= UNDO_WINDOW_S
        })
    }

    /// The reports that can still be taken back, oldest first.
    pub fn recent(&self) -> impl Iterator<Item = &Report> {
        self.recent.iter()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decode::{BaitState, SessionMark};

    fn s(t: f64) -> Millis {
        Millis(0).plus_seconds(t)
    }

    fn tap(log: &mut CrewLog, at_s: f64, sequence: u32) -> CrewEvent {
        let _ = log.settle(s(at_s));
        log.record(s(at_s), sequence, &CrewInput::Bait(BaitState::Skipping))
            .expect("a report is always recorded")
    }

    #[test]
    fn reports_and_retractions_are_numbered_in_one_sequence() {
        let mut log = CrewLog::default();
        let CrewEvent::Reported(first) = tap(&mut log, 0.0, 7) else {
            panic!("a report");
        };
        let undo = log.record(s(1.0), 8, &CrewInput::Undo { of: 7 });
        let retracted = CrewEvent::Retracted {
            number: 2,
            at: s(1.0),
            report: first.clone(),
        };
        assert_eq!((first.number, undo), (1, Some(retracted)));
        assert_eq!(log.record(s(2.0), 9, &CrewInput::Undo { of: 7 }), None);
        let CrewEvent::Reported(next) = tap(&mut log, 3.0, 10) else {
            panic!("a report");
        };
        assert_eq!(next.number, 3, "an undo of nothing is no event");
        assert_eq!(log.next().numbers, 3);
    }

    #[test]
    fn a_number_can_be_taken_back_once_and_in_time() {
        let mut log = CrewLog::default();
        tap(&mut log, 0.0, 7);
        assert!(log.can_undo(s(15.0), 7) && !log.can_undo(s(15.1), 7));
        assert!(!log.can_undo(s(1.0), 6));
        let _ = log.record(s(2.0), 9, &CrewInput::Undo { of: 7 });
        assert!(!log.can_undo(s(2.0), 7));
    }

    #[test]
    fn of_two_reports_with_one_number_the_later_is_taken_back() {
        let mut log = CrewLog::default();
        tap(&mut log, 0.0, 7);
        tap(&mut log, 1.0, 7);
        let _ = log.record(s(2.0), 8, &CrewInput::Undo { of: 7 });
        assert_eq!(log.recent().map(|r| r.at).collect::<Vec<_>>(), [s(0.0)]);
    }

    #[test]
    fn starts_and_stops_are_logged_but_never_taken_back() {
        let mut log = CrewLog::default();
        let stop = CrewInput::Session(SessionMark::Stop);
        assert!(log.record(s(0.0), 7, &stop).is_some());
        assert_eq!(log.record(s(1.0), 8, &CrewInput::Undo { of: 7 }), None);
    }

    #[test]
    fn a_burst_is_bounded() {
        let mut log = CrewLog::default();
        let mut settled = 0;
        for sequence in 0..1000 {
            settled += log.settle(s(1.0)).len();
            tap(&mut log, 1.0, sequence);
        }
        assert_eq!(log.recent.len(), MOST_RECENT);
        assert!(settled > 0 && !log.can_undo(s(1.0), 0) && log.can_undo(s(1.0), 999));
    }
}
