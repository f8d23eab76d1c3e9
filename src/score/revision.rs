//! What scoring needs of one revision of an advisory, so that one which comes from a logbook is scored
//! as one that has just been published.

use crate::advice::{Advisory, Kind, Outcome, Priority};
use crate::time::Millis;

/// One revision.
#[derive(Debug, Clone, PartialEq)]
pub struct Revision {
    /// Id of the advisory.
    pub id: String,
    /// Moment of this revision.
    pub at: Millis,
    /// What threatens.
    pub kind: Kind,
    /// How pressing.
    pub priority: Priority,
    /// Moment of the first revision.
    pub raised_at: Millis,
    /// Foreseen onset; `None` for what is already so.
    pub onset_at: Option<Millis>,
    /// Since when no forecast has watched it.
    pub unwatched_since: Option<Millis>,
    /// How it ended; `None` while it lives.
    pub outcome: Option<Outcome>,
}

impl Revision {
    /// Of an advisory as published.
    #[must_use]
    pub fn of(advisory: &Advisory) -> Self {
        Self {
            id: advisory.id.clone(),
            at: advisory.at,
            kind: advisory.kind,
            priority: advisory.priority,
            raised_at: advisory.raised_at,
            onset_at: advisory.onset_at,
            unwatched_since: advisory.unwatched_since,
            outcome: advisory.outcome,
        }
    }
}
