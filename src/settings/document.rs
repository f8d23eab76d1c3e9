//! The text of a settings file and all that is wrong with it.

use std::cell::RefCell;
use std::ops::Range;

use crate::key::{Complaint, Place, Problem};

/// The document and all that is wrong with it so far.
pub(super) struct Document<'d> {
    file: &'d str,
    text: &'d str,
    found: RefCell<Vec<Complaint>>,
}

impl<'d> Document<'d> {
    pub fn new(file: &'d str, text: &'d str) -> Self {
        Self {
            file,
            text,
            found: RefCell::default(),
        }
    }

    /// Line of a place in the text, from 1.
    fn line(&self, span: &Range<usize>) -> Option<usize> {
        let before = self.text.get(..span.start)?;
        Some(before.matches('\n').count() + 1)
    }

    /// Adds a complaint about what stands at `span`; with `show_value` it cites that.
    pub fn complain(
        &self,
        span: Option<Range<usize>>,
        key: String,
        problem: Problem,
        cure: impl Into<String>,
        show_value: bool,
    ) {
        let value = span
            .as_ref()
            .filter(|_| show_value)
            .and_then(|s| self.text.get(s.clone()))
            .map(shorten);
        self.found.borrow_mut().push(Complaint {
            place: Some(Place {
                file: self.file.to_owned(),
                line: span.and_then(|s| self.line(&s)),
            }),
            key,
            value,
            problem,
            cure: cure.into(),
        });
    }

    /// Takes back the complaint that a key is missing: a misspelt one was found.
    pub fn explain_missing(&self, key: &str) {
        self.found
            .borrow_mut()
            .retain(|found| !(found.problem == Problem::Missing && found.key == key));
    }

    /// All complaints, by line.
    pub fn complaints(self) -> Vec<Complaint> {
        let mut complaints = self.found.into_inner();
        complaints.sort_by_key(|complaint| complaint.line().unwrap_or(usize::MAX));
        complaints
    }
}

/// Values of a message stay on one line and short.
fn shorten(text: &str) -> String {
    let line = text.lines().next().unwrap_or_default();
    match line.char_indices().nth(60) {
        Some((end, _)) => format!("{}...", &line[..end]),
        None => line.to_owned(),
    }
}
