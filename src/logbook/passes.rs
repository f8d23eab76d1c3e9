//! A pass in the logbook: what was offered, what the crew made of it, and what came of it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::time::Millis;

/// How a pass ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PassEnd {
    /// Its time came.
    Passed,
    /// The crew declined it.
    Declined,
    /// The crew ended it, or announced a turn of its own.
    Ended,
    /// It was planned no more: another mark, a bite, no mark.
    Dropped,
}

/// A pass from offered to ended.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct PassRow {
    /// Number of the mark.
    pub mark: u32,
    /// Which pass over this mark: 1, and 2 after the first.
    pub number: u32,
    /// When it was first offered.
    #[schema(value_type = String, format = DateTime)]
    pub offered_at: Millis,
    /// The chance that was told, 0 to 1: when it was accepted, or last.
    pub chance: f64,
    /// The same for what was seen there.
    pub chance_of_marked: f64,
    /// How near the bait was then foreseen to come.
    pub closest_foreseen_m: f64,
    /// When the crew accepted it.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub accepted_at: Option<Millis>,
    /// When it ended; `null`: not before the session.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub ended_at: Option<Millis>,
    /// How it ended.
    pub ended: Option<PassEnd>,
    /// How near the bait came, by the model; `null` where the pass did not get so far.
    pub closest_m: Option<f64>,
    /// When.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub closest_at: Option<Millis>,
    /// Share of the 20 s before in which it skipped, by the model, 0 to 1.
    pub skipping_share: Option<f64>,
}

impl PassRow {
    pub(super) fn end(&mut self, at: Millis, how: PassEnd) {
        self.ended_at = Some(at);
        self.ended = Some(how);
    }
}
