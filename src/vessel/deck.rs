//! What the crew has told, folded into one state.
//!
//! Reports that can still be taken back are kept apart from the settled state, so that one of them
//! can be left out as if it had never been made; older ones are folded in for good.

use super::answers::AGAIN_S;
use super::crew_log::{CrewEvent, CrewLog};
use super::fold::{apply, nothing_told};
use super::now::DeckNow;
use super::told::LinesOut;
use crate::decode::{CrewInput, MarkSaid};
use crate::time::Millis;

/// An announced turn is forgotten so long after the moment at which it would be done: the helm may
/// be late. Whether it has been made is judged by the heading, which the turn room follows.
pub const TURN_LINGERS_S: f64 = 45.0;

/// A launch of which nobody has spoken for so long is over: longer than any step takes, and advice
/// must not stay silent for a page that was left.
pub const LAUNCH_LAPSES_S: f64 = 900.0;

/// Follows the crew's inputs.
#[derive(Debug, Clone)]
pub struct Deck {
    initial: LinesOut,
    settled: DeckNow,
    log: CrewLog,
}

impl Deck {
    /// Starts with the line that the settings say is out.
    #[must_use]
    pub fn new(initial: LinesOut) -> Self {
        Self {
            initial,
            settled: nothing_told(initial),
            log: CrewLog::default(),
        }
    }

    /// A fresh deck for the next session of the same day: marks, ignored sources and corrections stay.
    #[must_use]
    pub fn next_session(&self, at: Millis, initial: LinesOut) -> Self {
        let mut next = Self::new(initial);
        let now = self.now(at);
        (next.settled.marks, next.settled.unwanted) = (now.marks, now.unwanted);
        next.settled.ignored = now.ignored;
        next.settled.corrections = now.corrections;
        next.log = self.log.next();
        next
    }

    /// Takes one input in. `None` when it changes nothing: an undo of what cannot be taken back, a
    /// second answer to one request of the plan, a word of the strike that does not fit, or a word of
    /// a mark that is not there.
    pub fn observe(&mut self, at: Millis, sequence: u32, input: &CrewInput) -> Option<CrewEvent> {
        if let CrewInput::Plan {
            asked: Some(asked), ..
        } = input
            && self.now(at).answers.earlier(at, asked, AGAIN_S).is_some()
        {
            return None;
        }
        if let CrewInput::Strike(word) = input
            && !self.now(at).takes(*word)
        {
            return None;
        }
        if let CrewInput::OfMark { number, change } = input
            && !self.now(at).takes_of_mark(*number, change)
        {
            return None;
        }
        self.note(at, sequence, input)
    }

    /// Takes one input in that somebody else has found to fit. `None` for an undo of what cannot be
    /// taken back.
    pub fn note(&mut self, at: Millis, sequence: u32, input: &CrewInput) -> Option<CrewEvent> {
        for report in self.log.settle(at) {
            apply(&mut self.settled, &report, self.initial);
        }
        let numbered = match input {
            // It keeps its number when an earlier one is taken back.
            CrewInput::Mark(said) if said.number.is_none() => Some(CrewInput::Mark(MarkSaid {
                number: Some(self.now(at).next_mark()),
                ..said.clone()
            })),
            _ => None,
        };
        self.log
            .record(at, sequence, numbered.as_ref().unwrap_or(input))
    }

    /// Whether an input can still be taken back.
    #[must_use]
    pub fn can_undo(&self, at: Millis, sequence: u32) -> bool {
        self.log.can_undo(at, sequence)
    }

    /// The deck at this moment. A turn whose time is long over is left out, and so is a launch that
    /// nobody goes on with.
    #[must_use]
    pub fn now(&self, at: Millis) -> DeckNow {
        let mut deck = self.settled.clone();
        for report in self.log.recent() {
            apply(&mut deck, report, self.initial);
        }
        deck.intended_turn = deck.intended_turn.filter(|turn| {
            let lasts_s = turn.by_rad.abs() / turn.rate_rad_s + TURN_LINGERS_S;
            at.seconds_since(turn.starts_at) <= lasts_s
        });
        deck.launch = deck
            .launch
            .filter(|launch| at.seconds_since(launch.at) <= LAUNCH_LAPSES_S);
        deck
    }
}

#[cfg(test)]
mod tests {
    use super::super::fold::{MOST_MARKS, UNKNOWN};
    use super::super::mark::LAST_OF_CREW;
    use super::*;
    use crate::decode::{
        BaitState, LaunchDay, LaunchSaid, Line, MarkChange, MarkHow, PassWord, SessionMark,
    };
    use crate::units::{degrees, degrees_per_second, metres, metres_per_second};

    const NONE: LinesOut = UNKNOWN;

    fn s(t: f64) -> Millis {
        Millis(0).plus_seconds(t)
    }

    fn turn(by_deg: f64, in_s: f64) -> CrewInput {
        CrewInput::Turn {
            by: degrees(by_deg),
            rate: degrees_per_second(3.0),
            in_s,
        }
    }

    #[test]
    fn lines_are_set_moved_and_never_negative() {
        let mut deck = Deck::new(NONE);
        let moved = |line, m| CrewInput::Moved {
            line,
            by: metres(m),
        };
        deck.observe(s(0.0), 1, &moved(Line::Main, 5.0));
        assert_eq!(deck.now(s(0.0)).lines, NONE);
        assert_eq!(deck.now(s(0.0)).lines_at, None);
        let out = CrewInput::LinesOut {
            kite: Some(metres(100.0)),
            main: Some(metres(140.0)),
        };
        deck.observe(s(1.0), 2, &out);
        deck.observe(s(2.0), 3, &moved(Line::Main, -4.0));
        deck.observe(s(3.0), 4, &moved(Line::Kite, -400.0));
        let now = deck.now(s(100.0));
        assert_eq!(now.lines.main_m, Some(136.0));
        assert_eq!(now.lines.kite_m, Some(0.0));
        assert_eq!(now.lines_at, Some(s(3.0)));
    }

    #[test]
    fn undo_takes_back_only_that_input_and_only_in_time() {
        let mut deck = Deck::new(NONE);
        deck.observe(s(0.0), 1, &CrewInput::Bait(BaitState::Skipping));
        deck.observe(s(20.0), 2, &CrewInput::Bait(BaitState::Dragging));
        assert!(deck.can_undo(s(21.0), 2) && !deck.can_undo(s(21.0), 1));
        deck.observe(s(21.0), 3, &CrewInput::Undo { of: 1 });
        assert_eq!(
            deck.now(s(21.0)).bait.unwrap().state,
            BaitState::Dragging,
            "too late for the first"
        );
        deck.observe(s(22.0), 4, &CrewInput::Undo { of: 2 });
        assert_eq!(deck.now(s(22.0)).bait.unwrap().state, BaitState::Skipping);
        assert_eq!(deck.now(s(22.0)).bait.unwrap().at, s(0.0));
    }

    #[test]
    fn a_turn_expires_or_is_called_off_and_a_call_off_can_be_undone() {
        let mut deck = Deck::new(NONE);
        deck.observe(s(0.0), 1, &turn(-45.0, 12.0));
        let told = deck.now(s(0.0)).intended_turn.unwrap();
        assert_eq!(told.starts_at, s(12.0));
        assert!(told.by_rad < 0.0);
        // 12 s + 45/3 s + lingering.
        assert!(deck.now(s(71.9)).intended_turn.is_some());
        assert!(deck.now(s(72.1)).intended_turn.is_none());
        deck.observe(s(1.0), 2, &CrewInput::CallOffTurn);
        assert!(deck.now(s(1.0)).intended_turn.is_none());
        deck.observe(s(2.0), 3, &CrewInput::Undo { of: 2 });
        assert!(deck.now(s(2.0)).intended_turn.is_some());
    }

    #[test]
    fn of_a_turn_and_a_pass_the_last_that_was_said_counts() {
        let mut deck = Deck::new(NONE);
        let accept = CrewInput::Pass {
            mark: 1,
            said: PassWord::Accept,
        };
        let said = |deck: &Deck| deck.now(s(3.0)).pass.map(|told| told.said);
        deck.observe(s(0.0), 1, &turn(-45.0, 12.0));
        deck.observe(s(1.0), 2, &accept);
        assert!(deck.now(s(1.0)).intended_turn.is_none());
        deck.observe(s(2.0), 3, &turn(30.0, 12.0));
        assert!(deck.now(s(2.0)).intended_turn.is_some());
        assert_eq!(said(&deck), Some(PassWord::End));
        // Taken back, the pass goes on.
        deck.observe(s(2.5), 4, &CrewInput::Undo { of: 3 });
        assert!(deck.now(s(2.5)).intended_turn.is_none());
        assert_eq!(said(&deck), Some(PassWord::Accept));
        // The strip of the announced turn calls the pass off.
        deck.observe(s(3.0), 5, &CrewInput::CallOffTurn);
        assert_eq!(said(&deck), Some(PassWord::End));
    }

    #[test]
    fn a_bite_lasts_until_the_bait_or_the_lines_are_reported_anew() {
        let mut deck = Deck::new(NONE);
        deck.observe(s(0.0), 1, &CrewInput::Bite);
        assert_eq!(deck.now(s(60.0)).bite_at(), Some(s(0.0)));
        deck.observe(s(61.0), 2, &CrewInput::Bait(BaitState::Skipping));
        assert_eq!(deck.now(s(61.0)).bite_at(), None);
    }

    #[test]
    fn sessions_forget() {
        let start = LinesOut {
            kite_m: Some(80.0),
            main_m: Some(110.0),
        };
        let mut deck = Deck::new(start);
        deck.observe(s(0.0), 1, &CrewInput::Bait(BaitState::Skipping));
        deck.observe(s(1.0), 2, &CrewInput::Session(SessionMark::Stop));
        let stopped = DeckNow {
            fishing: false,
            ..nothing_told(NONE)
        };
        assert_eq!(deck.now(s(1.0)), stopped);
        deck.observe(s(2.0), 3, &CrewInput::Session(SessionMark::Start));
        assert_eq!(deck.now(s(2.0)), nothing_told(start));
    }

    #[test]
    fn a_burst_is_bounded_and_keeps_its_effect() {
        let mut deck = Deck::new(NONE);
        let out = CrewInput::LinesOut {
            kite: None,
            main: Some(metres(0.0)),
        };
        deck.observe(s(0.0), 0, &out);
        for seq in 1..=1000 {
            let give = CrewInput::Moved {
                line: Line::Main,
                by: metres(0.5),
            };
            deck.observe(s(0.001 * f64::from(seq)), seq, &give);
        }
        assert!(deck.log.recent().count() < 1000);
        assert_eq!(deck.now(s(2.0)).lines.main_m, Some(500.0));
    }

    fn launch(said: LaunchSaid) -> CrewInput {
        CrewInput::Launch(said)
    }

    fn begun() -> CrewInput {
        launch(LaunchSaid::Begun(LaunchDay {
            wind: metres_per_second(7.0),
            gust: metres_per_second(9.0),
            speed: metres_per_second(3.0),
            off_bow: degrees(60.0),
            kite_line: metres(100.0),
        }))
    }

    fn answered(steps: u32, out: Option<(f64, f64)>) -> CrewInput {
        launch(LaunchSaid::Answered {
            steps,
            kite: out.map(|(kite_m, _)| metres(kite_m)),
            main: out.map(|(_, main_m)| metres(main_m)),
        })
    }

    #[test]
    fn a_launch_counts_the_lines_step_by_step_and_can_be_taken_back() {
        let mut deck = Deck::new(NONE);
        deck.observe(s(0.0), 1, &lines(110.0, 140.0));
        deck.observe(s(0.0), 2, &CrewInput::Session(SessionMark::Stop));
        deck.observe(s(1.0), 3, &begun());
        let now = deck.now(s(1.0));
        assert!(now.fishing, "it begins to fish");
        assert_eq!(now.lines, NONE, "kite and bait are in");
        assert_eq!(now.launch.unwrap().answered, 0);
        deck.observe(s(20.0), 4, &answered(7, Some((18.0, 33.0))));
        deck.observe(s(40.0), 5, &answered(8, Some((32.0, 50.0))));
        let now = deck.now(s(40.0));
        assert_eq!(now.launch.unwrap().answered, 8);
        assert_eq!(
            (now.lines.kite_m, now.lines.main_m),
            (Some(32.0), Some(50.0))
        );
        deck.observe(s(41.0), 6, &CrewInput::Undo { of: 5 });
        let now = deck.now(s(41.0));
        assert_eq!(now.launch.unwrap().answered, 7);
        assert_eq!(
            (now.lines.kite_m, now.lines.main_m),
            (Some(18.0), Some(33.0))
        );
        // A step without lines leaves them.
        deck.observe(s(60.0), 7, &answered(6, None));
        let now = deck.now(s(60.0));
        assert_eq!(
            (now.launch.unwrap().answered, now.lines.kite_m),
            (6, Some(18.0))
        );
        deck.observe(s(70.0), 8, &launch(LaunchSaid::Ended));
        let now = deck.now(s(70.0));
        assert_eq!((now.launch, now.lines.kite_m), (None, Some(18.0)));
    }

    #[test]
    fn a_launch_that_nobody_goes_on_with_lapses_and_a_bite_ends_it() {
        let mut deck = Deck::new(NONE);
        deck.observe(s(0.0), 1, &begun());
        deck.observe(s(100.0), 2, &answered(1, None));
        assert!(deck.now(s(100.0 + LAUNCH_LAPSES_S)).launch.is_some());
        assert!(deck.now(s(100.1 + LAUNCH_LAPSES_S)).launch.is_none());
        deck.observe(s(110.0), 3, &CrewInput::Bite);
        assert!(deck.now(s(110.0)).launch.is_none());
        // Answered without a launch, only the lines count.
        deck.observe(s(120.0), 4, &answered(8, Some((32.0, 50.0))));
        let now = deck.now(s(120.0));
        assert_eq!((now.launch, now.lines.main_m), (None, Some(50.0)));
    }

    fn lines(kite_m: f64, main_m: f64) -> CrewInput {
        CrewInput::LinesOut {
            kite: Some(metres(kite_m)),
            main: Some(metres(main_m)),
        }
    }

    fn before(age_s: f64, counts: bool, input: CrewInput) -> CrewInput {
        CrewInput::Before {
            age_s,
            counts,
            input: Box::new(input),
        }
    }

    #[test]
    fn lines_of_before_a_restart_keep_their_time_until_they_are_told_anew() {
        let mut deck = Deck::new(LinesOut {
            kite_m: Some(60.0),
            main_m: Some(75.0),
        });
        deck.observe(s(1000.0), 0, &before(300.0, true, lines(110.0, 132.0)));
        let now = deck.now(s(1000.0));
        assert_eq!(now.lines_at, Some(s(700.0)));
        assert_eq!(now.lines.main_m, Some(132.0));
        let restored = now.restored.unwrap();
        assert!(restored.used && restored.as_of == s(700.0) && restored.lines == now.lines);
        // What is moved since is moved from a count that nobody has confirmed.
        let give = CrewInput::Moved {
            line: Line::Main,
            by: metres(3.0),
        };
        deck.observe(s(1001.0), 1, &give);
        assert_eq!(
            deck.now(s(1001.0)).restored.unwrap().lines.main_m,
            Some(135.0)
        );
        let main = CrewInput::LinesOut {
            kite: None,
            main: Some(metres(135.0)),
        };
        deck.observe(s(1002.0), 2, &main);
        let restored = deck.now(s(1002.0)).restored.unwrap();
        assert_eq!(
            (restored.lines.kite_m, restored.lines.main_m),
            (Some(110.0), None)
        );
        deck.observe(s(1003.0), 3, &lines(110.0, 135.0));
        assert_eq!(deck.now(s(1003.0)).restored, None);
        deck.observe(s(1004.0), 4, &CrewInput::Undo { of: 3 });
        assert!(deck.now(s(1004.0)).restored.is_some(), "taken back");
    }

    #[test]
    fn lines_that_no_longer_count_are_not_known_nor_are_those_of_the_settings() {
        let mut deck = Deck::new(LinesOut {
            kite_m: Some(60.0),
            main_m: Some(75.0),
        });
        deck.observe(s(9000.0), 0, &before(8000.0, false, lines(110.0, 132.0)));
        let now = deck.now(s(9000.0));
        assert_eq!((now.lines, now.lines_at), (NONE, None));
        let restored = now.restored.unwrap();
        assert!(!restored.used && restored.lines.kite_m == Some(110.0));
        for input in [
            CrewInput::Bite,
            CrewInput::MarkerInWater(true),
            turn(30.0, 9000.0),
        ] {
            deck.observe(s(9000.0), 0, &before(8000.0, false, input));
        }
        assert_eq!(deck.now(s(9000.0)), now);
    }

    #[test]
    fn of_a_turn_announced_before_a_restart_what_is_left_is_to_come() {
        let announced = |age_s| {
            let mut deck = Deck::new(NONE);
            // 45 degrees at 3 degrees/s: 15 s.
            deck.observe(s(100.0), 0, &before(age_s, true, turn(-45.0, 12.0)));
            deck.now(s(100.0)).intended_turn
        };
        let to_come = announced(4.0).unwrap();
        assert_eq!((to_come.told_at, to_come.starts_at), (s(96.0), s(108.0)));
        let under_way = announced(22.0).unwrap();
        assert_eq!(under_way.starts_at, s(100.0));
        assert!((under_way.by_rad.to_degrees() + 15.0).abs() < 1e-9);
        assert_eq!(announced(27.1), None);
    }

    #[test]
    fn marks_outlive_sessions_and_are_bounded() {
        let mut deck = Deck::new(NONE);
        let mark = |name: &str| marked(Some(name));
        deck.observe(s(0.0), 1, &before(86_400.0, true, mark("birds")));
        deck.observe(s(1.0), 2, &CrewInput::Session(SessionMark::Stop));
        let deck = deck.next_session(s(2.0), NONE);
        assert_eq!(deck.now(s(2.0)).marks[0].at, s(-86_400.0));
        let mut deck = deck;
        for seq in 0..200 {
            deck.observe(s(3.0), seq, &mark("reef"));
        }
        let marks = deck.now(s(3.0)).marks;
        assert_eq!(marks.len(), MOST_MARKS);
        assert_eq!(marks[0].name.as_deref(), Some("reef"));
        let mut numbers: Vec<u32> = marks.iter().map(|mark| mark.number).collect();
        numbers.dedup();
        assert_eq!(numbers.len(), MOST_MARKS, "no number twice");
    }

    fn marked(name: Option<&str>) -> CrewInput {
        CrewInput::Mark(MarkSaid {
            name: name.map(str::to_owned),
            position: None,
            how: MarkHow::Here,
            number: None,
        })
    }

    fn of(number: u32, change: MarkChange) -> CrewInput {
        CrewInput::OfMark { number, change }
    }

    #[test]
    fn a_mark_keeps_its_number_when_an_earlier_one_is_taken_back() {
        let mut deck = Deck::new(NONE);
        for seq in 1..=3 {
            deck.observe(s(f64::from(seq)), seq, &marked(None));
        }
        deck.observe(s(4.0), 4, &CrewInput::Undo { of: 2 });
        let numbers = |deck: &Deck, t: f64| -> Vec<u32> {
            deck.now(s(t))
                .marks
                .iter()
                .map(|mark| mark.number)
                .collect()
        };
        assert_eq!(numbers(&deck, 4.0), [1, 3]);
        deck.observe(s(5.0), 5, &marked(None));
        assert_eq!(numbers(&deck, 5.0), [1, 3, 4]);
        assert_eq!(numbers(&deck, 500.0), [1, 3, 4]);
    }

    #[test]
    fn marks_are_named_removed_and_brought_back() {
        let mut deck = Deck::new(NONE);
        deck.observe(s(0.0), 1, &marked(None));
        deck.observe(
            s(1.0),
            2,
            &of(1, MarkChange::Named(Some("birds".to_owned()))),
        );
        assert_eq!(deck.now(s(1.0)).marks[0].name.as_deref(), Some("birds"));
        deck.observe(s(2.0), 3, &of(1, MarkChange::Removed));
        assert!(deck.now(s(2.0)).marks.is_empty());
        assert_eq!(deck.observe(s(3.0), 4, &of(1, MarkChange::Removed)), None);
        deck.observe(s(4.0), 5, &CrewInput::Undo { of: 3 });
        assert_eq!(deck.now(s(4.0)).marks.len(), 1);
        // One of the network's is only not shown.
        let heard = || {
            let mut mark = deck.now(s(4.0)).marks[0].clone();
            mark.number = LAST_OF_CREW + 7;
            vec![mark]
        };
        assert_eq!(deck.now(s(4.0)).marks_with(heard()).len(), 2);
        let network = heard();
        assert_eq!(
            deck.observe(s(5.0), 6, &of(LAST_OF_CREW + 7, MarkChange::Named(None))),
            None
        );
        deck.observe(s(5.0), 7, &of(LAST_OF_CREW + 7, MarkChange::Removed));
        assert_eq!(deck.now(s(5.0)).marks_with(network).len(), 1);
    }
}
