//! The crew's answers to the requests of the plan, so that no line is counted twice.
//! In: answers with the revision they answer. Out: whether it was answered before.

use std::collections::VecDeque;

use crate::decode::{Asked, CrewInput, PlanAnswer};
use crate::time::Millis;

/// A second answer for the same line within this time is taken as the same move: another phone, or
/// a thumb that slipped. Hands move a metre or two meanwhile.
pub const AGAIN_S: f64 = 3.0;
/// Most answers remembered.
const MOST: usize = 64;

/// One answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Answered {
    /// When it came.
    pub at: Millis,
    /// Sequence number of its sentence.
    pub sequence: u32,
    /// What it says.
    pub answer: PlanAnswer,
    /// The request that it answers.
    pub asked: Asked,
}

/// The line that hands have moved when they answer so. "Something else" says only that it was not
/// this; what it was comes as a move.
#[must_use]
pub fn moved_by(answer: PlanAnswer, asked: &Asked) -> Option<CrewInput> {
    let share = match answer {
        PlanAnswer::Done => 1.0,
        PlanAnswer::Half => 0.5,
        PlanAnswer::Other => return None,
    };
    Some(CrewInput::Moved {
        line: asked.line,
        by: share * asked.by,
    })
}

/// The answers so far, oldest first.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Answers(VecDeque<Answered>);

impl Answers {
    /// An earlier answer that makes this one a repetition: to this revision or a later one, or one
    /// within `again_s` that moved the same line, whatever was asked since.
    #[must_use]
    pub fn earlier(&self, at: Millis, asked: &Asked, again_s: f64) -> Option<&Answered> {
        self.0.iter().rev().find(|said| {
            let read =
                said.asked.advisory == asked.advisory && said.asked.revision >= asked.revision;
            let just_now = said.answer != PlanAnswer::Other
                && (0.0..again_s).contains(&at.seconds_since(said.at));
            said.asked.line == asked.line && (read || just_now)
        })
    }

    /// Records an answer.
    pub fn note(&mut self, answered: Answered) {
        if self.0.len() == MOST {
            self.0.pop_front();
        }
        self.0.push_back(answered);
    }
}
