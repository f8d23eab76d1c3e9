//! Recent crew inputs that can still be undone, by sequence number.
//! In: what is posted, and the boat's time. Out: whether an undo would have an effect.

use std::collections::VecDeque;
use std::sync::{Mutex, MutexGuard, PoisonError};

use crate::decode::{Asked, CrewInput};
use crate::engine::{Answered, Answers};
use crate::time::Millis;
use crate::vessel::UNDO_WINDOW_S;

/// Inputs that are remembered; when more come within the undo window, the oldest can no longer be
/// undone.
const MOST: usize = 256;

/// Recent inputs.
#[derive(Debug, Default)]
pub(super) struct Said {
    /// Sequence numbers that an undo may name, oldest first.
    numbers: Mutex<VecDeque<(Millis, u32)>>,
    /// Answers that the next picture may not show yet.
    answers: Mutex<Answers>,
}

/// A panic while it was held leaves at worst one entry too many or too few.
fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Said {
    fn list(&self) -> MutexGuard<'_, VecDeque<(Millis, u32)>> {
        held(&self.numbers)
    }

    /// An answer to the same request within the last seconds, if there was one.
    pub fn answered(&self, at: Millis, asked: &Asked, again_s: f64) -> Option<Answered> {
        held(&self.answers)
            .earlier(at, asked, again_s)
            .filter(|said| (0.0..=UNDO_WINDOW_S).contains(&at.seconds_since(said.at)))
            .cloned()
    }

    /// An input was recorded under this number; an undo uses up the number it names.
    pub fn note(&self, at: Millis, sequence: u32, input: &CrewInput) {
        match input {
            CrewInput::Undo { of } => held(&self.answers).take_back(at, *of),
            CrewInput::Plan {
                answer,
                asked: Some(asked),
            } => held(&self.answers).note(Answered {
                at,
                sequence,
                answer: *answer,
                asked: asked.clone(),
            }),
            _ => {}
        }
        let mut list = self.list();
        match input {
            CrewInput::Undo { of } => list.retain(|(_, said)| said != of),
            // These do not go through the deck, which takes back.
            CrewInput::Acknowledge { .. }
            | CrewInput::Silence { .. }
            | CrewInput::Session(_)
            | CrewInput::Forget
            | CrewInput::Setting { .. } => {}
            _ => {
                if list.len() == MOST {
                    list.pop_front();
                }
                list.push_back((at, sequence));
            }
        }
    }

    /// Whether this number can be taken back now.
    pub fn can_take_back(&self, at: Millis, sequence: u32) -> bool {
        self.list()
            .iter()
            .any(|(then, said)| *said == sequence && at.seconds_since(*then) <= UNDO_WINDOW_S)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decode::BaitState;

    #[test]
    fn a_number_can_be_taken_back_once_and_in_time() {
        let said = Said::default();
        let s = |t| Millis(0).plus_seconds(t);
        said.note(s(0.0), 7, &CrewInput::Bait(BaitState::Skipping));
        said.note(s(1.0), 8, &CrewInput::Silence { minutes: 5.0 });
        assert!(said.can_take_back(s(15.0), 7) && !said.can_take_back(s(15.1), 7));
        assert!(!said.can_take_back(s(1.0), 8) && !said.can_take_back(s(1.0), 6));
        said.note(s(2.0), 9, &CrewInput::Undo { of: 7 });
        assert!(!said.can_take_back(s(2.0), 7));
        for sequence in 10..1000 {
            said.note(s(3.0), sequence, &CrewInput::Bite);
        }
        assert!(!said.can_take_back(s(3.0), 10) && said.can_take_back(s(3.0), 999));
        assert_eq!(said.list().len(), MOST);
    }
}
