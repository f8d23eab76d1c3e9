//! The truth beside a recording: what the bait did and how the boat turned.
//! In: samples of the run. Out: rows as JSON. Knows no score.

use serde::Serialize;
use serde::ser::{SerializeSeq as _, Serializer};

use super::script::ScriptTurn;
use crate::decode::BaitState;
use crate::rig::DRAGGING_IMMERSION;

/// True state at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TruthRow {
    /// Seconds from the start.
    pub t_s: f64,
    /// Bait above the mean level of the water.
    pub bait_height_m: f64,
    /// Immersion of the bait.
    pub immersion: f64,
    /// Kite elevation.
    pub kite_elevation_deg: f64,
    /// True heading.
    pub heading_deg_true: f64,
    /// Main line out.
    pub main_line_out_m: f64,
    /// What a sea adds; none on flat water.
    pub sea: Option<TruthAtSea>,
}

/// True state in a sea.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TruthAtSea {
    /// Level of the water at the bait.
    pub water_at_bait_m: f64,
    /// What the bait does according to the window that ends here; `None` before the first.
    pub state: Option<BaitState>,
}

impl TruthRow {
    /// The state that a crew would name. On flat water 0 is airborne, [`DRAGGING_IMMERSION`] and more dragging, else
    /// skipping; in a sea the last window decides, once it is full.
    #[must_use]
    pub fn bait(&self) -> BaitState {
        if let Some(state) = self.sea.and_then(|sea| sea.state) {
            state
        } else if self.immersion <= 0.0 {
            BaitState::Airborne
        } else if self.immersion >= DRAGGING_IMMERSION {
            BaitState::Dragging
        } else {
            BaitState::Skipping
        }
    }
}

const FLAT: [&str; 6] = [
    "t_s",
    "bait_height_m",
    "immersion",
    "kite_elevation_deg",
    "heading_deg_true",
    "main_line_out_m",
];

const AT_SEA: [&str; 8] = [
    FLAT[0],
    FLAT[1],
    FLAT[2],
    FLAT[3],
    FLAT[4],
    FLAT[5],
    "water_at_bait_m",
    "state",
];

impl Serialize for TruthRow {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let columns = if self.sea.is_some() {
            AT_SEA.len()
        } else {
            FLAT.len()
        };
        let mut row = serializer.serialize_seq(Some(columns))?;
        row.serialize_element(&round(self.t_s, 1000.0))?;
        row.serialize_element(&round(self.bait_height_m, 1000.0))?;
        row.serialize_element(&round(self.immersion, 1000.0))?;
        row.serialize_element(&round(self.kite_elevation_deg, 100.0))?;
        row.serialize_element(&round(self.heading_deg_true, 100.0))?;
        row.serialize_element(&round(self.main_line_out_m, 1000.0))?;
        if let Some(sea) = self.sea {
            row.serialize_element(&round(sea.water_at_bait_m, 1000.0))?;
            row.serialize_element(&sea.state)?;
        }
        row.end()
    }
}

pub(super) fn round(value: f64, per_unit: f64) -> f64 {
    (value * per_unit).round() / per_unit
}

/// A turn as it truly was.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TurnTruth {
    /// When the helm went over.
    pub start_s: f64,
    /// Change of heading, + to starboard.
    pub by_deg: f64,
    /// Commanded rate.
    pub rate_deg_s: f64,
    /// How long before it the crew announced it; `null` when it did not.
    pub told_ahead_s: Option<f64>,
}

impl From<&ScriptTurn> for TurnTruth {
    fn from(turn: &ScriptTurn) -> Self {
        Self {
            start_s: turn.start_s,
            by_deg: turn.by_rad.to_degrees(),
            rate_deg_s: turn.rate_rad_s.to_degrees(),
            told_ahead_s: turn.announced_s,
        }
    }
}

/// The truth beside a recording, for scoring.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Truth {
    /// Turns.
    pub turns: Vec<TurnTruth>,
    /// Height of the wind sensor.
    pub mast_height_m: f64,
    /// Length of the window that decides the state in a sea.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub window_s: Option<f64>,
    /// Names of the columns of `series`.
    pub columns: &'static [&'static str],
    /// One row every half second.
    pub series: Vec<TruthRow>,
}

impl Truth {
    /// From rows of one kind: flat water, or a sea with this window.
    #[must_use]
    pub fn new(
        turns: Vec<TurnTruth>,
        mast_height_m: f64,
        window_s: Option<f64>,
        series: Vec<TruthRow>,
    ) -> Self {
        let columns: &[_] = if window_s.is_some() { &AT_SEA } else { &FLAT };
        Self {
            turns,
            mast_height_m,
            window_s,
            columns,
            series,
        }
    }
}
