//! What was said lately, before the next picture shows it.
//! In: what is posted, and the boat's time. Out: whether an undo would do anything, and whether a
//! request was answered already.

use std::sync::{Mutex, MutexGuard, PoisonError};

use crate::decode::{Asked, CrewInput, StrikeWord};
use crate::time::Millis;
use crate::vessel::{Answered, Deck, LinesOut, UNDO_WINDOW_S, can_be_retracted};

/// A deck that follows only what is posted here.
#[derive(Debug)]
pub(super) struct Said(Mutex<Deck>);

impl Default for Said {
    fn default() -> Self {
        Self(Mutex::new(Deck::new(LinesOut {
            kite_m: None,
            main_m: None,
        })))
    }
}

impl Said {
    /// Whoever panicked while holding it left at worst an entry too many or too few.
    fn deck(&self) -> MutexGuard<'_, Deck> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// An answer to the same request within the last seconds, if there was one.
    pub fn answered(&self, at: Millis, asked: &Asked, again_s: f64) -> Option<Answered> {
        let answers = self.deck().now(at).answers;
        answers
            .earlier(at, asked, again_s)
            .filter(|said| (0.0..=UNDO_WINDOW_S).contains(&at.seconds_since(said.at)))
            .cloned()
    }

    /// An input was recorded under this number; an undo uses up the number it names.
    pub fn note(&self, at: Millis, sequence: u32, input: &CrewInput) {
        if matches!(input, CrewInput::Strike(_) | CrewInput::OfMark { .. }) {
            // Of a bite or a mark that was not posted here.
            self.deck().note(at, sequence, input);
        } else if can_be_retracted(input) || matches!(input, CrewInput::Undo { .. }) {
            self.deck().observe(at, sequence, input);
        }
    }

    /// Whether a word fits a strike that was posted here.
    pub fn takes(&self, at: Millis, word: StrikeWord) -> bool {
        let strike = self.deck().now(at).strike;
        strike.is_some_and(|strike| strike.takes(word))
    }

    /// Whether this number can be taken back now.
    pub fn can_take_back(&self, at: Millis, sequence: u32) -> bool {
        self.deck().can_undo(at, sequence)
    }
}
