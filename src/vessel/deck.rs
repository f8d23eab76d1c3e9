//! What the crew has told, folded into one state.
//!
//! Inputs of the last seconds are kept apart from the settled state, so that one of them can be
//! taken back as if it had never been said; older ones are folded in for good.

use std::collections::VecDeque;

use super::now::{BaitSeen, DeckNow, IntendedTurn, LinesOut};
use crate::decode::{CrewInput, Line, SessionMark};
use crate::time::Millis;
use crate::units::{LINE_OUT_MAX_M, in_metres, in_radians, in_radians_per_second};

/// An input older than this cannot be taken back. The page offers it for 10 s; the rest is for
/// slow links and slow thumbs.
pub const UNDO_WINDOW_S: f64 = 15.0;

/// An announced turn is forgotten so long after the moment at which it would be done: the helm may
/// be late. Whether it has been made is judged by the heading, which the turn room follows.
pub const TURN_LINGERS_S: f64 = 45.0;

/// Inputs that can still be taken back, at most; a burst beyond it is folded in early.
const MOST_RECENT: usize = 256;

/// Follows the crew's inputs.
#[derive(Debug, Clone)]
pub struct Deck {
    initial: LinesOut,
    settled: DeckNow,
    recent: VecDeque<(Millis, u32, CrewInput)>,
}

impl Deck {
    /// Starts with the line that the settings say is out.
    #[must_use]
    pub fn new(initial: LinesOut) -> Self {
        Self {
            initial,
            settled: nothing_told(initial),
            recent: VecDeque::new(),
        }
    }

    /// Takes one input in. Inputs that do not concern lines, bait, kite or turn (marks,
    /// acknowledgements, silence, the answer to a plan) change nothing here.
    pub fn observe(&mut self, at: Millis, seq: u32, input: &CrewInput) {
        while self.recent.len() >= MOST_RECENT
            || self
                .recent
                .front()
                .is_some_and(|(then, ..)| at.seconds_since(*then) > UNDO_WINDOW_S)
        {
            let Some((then, _, old)) = self.recent.pop_front() else {
                break;
            };
            apply(&mut self.settled, then, &old, self.initial);
        }
        if let CrewInput::Undo { of } = input {
            if let Some(index) = self.recent.iter().rposition(|(_, seq, _)| seq == of) {
                self.recent.remove(index);
            }
        } else {
            self.recent.push_back((at, seq, input.clone()));
        }
    }

    /// Whether an input can still be taken back.
    #[must_use]
    pub fn can_undo(&self, at: Millis, seq: u32) -> bool {
        self.recent
            .iter()
            .any(|(then, s, _)| *s == seq && at.seconds_since(*then) <= UNDO_WINDOW_S)
    }

    /// The deck at this moment. A turn whose time is long over is left out.
    #[must_use]
    pub fn now(&self, at: Millis) -> DeckNow {
        let mut deck = self.settled.clone();
        for (then, _, input) in &self.recent {
            apply(&mut deck, *then, input, self.initial);
        }
        deck.intended_turn = deck.intended_turn.filter(|turn| {
            let lasts_s = turn.by_rad.abs() / turn.rate_rad_s + TURN_LINGERS_S;
            at.seconds_since(turn.starts_at) <= lasts_s
        });
        deck
    }
}

fn nothing_told(lines: LinesOut) -> DeckNow {
    DeckNow {
        lines,
        lines_at: None,
        bait: None,
        elevation_rad: None,
        bearing_rad: None,
        marker_in_water: None,
        intended_turn: None,
        fishing: true,
        bite_at: None,
    }
}

fn apply(deck: &mut DeckNow, at: Millis, input: &CrewInput, initial: LinesOut) {
    let line_m = |m: f64| m.is_finite().then(|| m.clamp(0.0, LINE_OUT_MAX_M));
    match input {
        CrewInput::LinesOut { kite, main } => {
            let kite_m = kite.and_then(|l| line_m(in_metres(l)));
            let main_m = main.and_then(|l| line_m(in_metres(l)));
            if kite_m.is_some() || main_m.is_some() {
                deck.lines.kite_m = kite_m.or(deck.lines.kite_m);
                deck.lines.main_m = main_m.or(deck.lines.main_m);
                deck.lines_at = Some(at);
                deck.bite_at = None;
            }
        }
        CrewInput::Moved { line, by } => {
            let count_m = match line {
                Line::Kite => &mut deck.lines.kite_m,
                Line::Main => &mut deck.lines.main_m,
            };
            if let Some(moved) = count_m.and_then(|m| line_m(m + in_metres(*by))) {
                *count_m = Some(moved);
                deck.lines_at = Some(at);
            }
        }
        CrewInput::Bait(state) => {
            deck.bait = Some(BaitSeen { state: *state, at });
            deck.bite_at = None;
        }
        CrewInput::Elevation(angle) => deck.elevation_rad = Some((in_radians(*angle), at)),
        CrewInput::Bearing(angle) => deck.bearing_rad = Some((in_radians(*angle), at)),
        CrewInput::MarkerInWater(yes) => deck.marker_in_water = Some((*yes, at)),
        CrewInput::Turn { by, rate, in_s } => {
            let (by_rad, rate_rad_s) = (in_radians(*by), in_radians_per_second(*rate));
            if by_rad.is_finite() && rate_rad_s.is_finite() && rate_rad_s > 0.0 && in_s.is_finite()
            {
                deck.intended_turn = Some(IntendedTurn {
                    told_at: at,
                    starts_at: at.plus_seconds(*in_s),
                    by_rad,
                    rate_rad_s,
                });
            }
        }
        CrewInput::CallOffTurn => deck.intended_turn = None,
        CrewInput::Bite => deck.bite_at = Some(at),
        // A new session knows nothing of the last; its lines are those of the settings.
        CrewInput::Session(SessionMark::Start) => *deck = nothing_told(initial),
        // The rig is in.
        CrewInput::Session(SessionMark::Stop) => {
            *deck = DeckNow {
                fishing: false,
                ..nothing_told(LinesOut {
                    kite_m: None,
                    main_m: None,
                })
            };
        }
        CrewInput::Undo { .. }
        | CrewInput::Plan { .. }
        | CrewInput::Mark { .. }
        | CrewInput::Acknowledge { .. }
        | CrewInput::Silence { .. }
        | CrewInput::Forget
        | CrewInput::Setting { .. } => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decode::BaitState;
    use crate::units::{degrees, degrees_per_second, metres};

    const NONE: LinesOut = LinesOut {
        kite_m: None,
        main_m: None,
    };

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
    fn a_bite_lasts_until_the_bait_or_the_lines_are_reported_anew() {
        let mut deck = Deck::new(NONE);
        deck.observe(s(0.0), 1, &CrewInput::Bite);
        assert_eq!(deck.now(s(60.0)).bite_at, Some(s(0.0)));
        deck.observe(s(61.0), 2, &CrewInput::Bait(BaitState::Skipping));
        assert_eq!(deck.now(s(61.0)).bite_at, None);
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
        assert!(deck.recent.len() <= MOST_RECENT);
        assert_eq!(deck.now(s(2.0)).lines.main_m, Some(500.0));
    }
}
