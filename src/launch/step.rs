//! One step of a launch.

use serde::Serialize;
use utoipa::ToSchema;

use crate::rig::{DRAGGING_IMMERSION, Sample};

/// What the bait is expected to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BaitDoes {
    /// Out of the water.
    Flies,
    /// Touches again and again.
    Skips,
    /// Mostly under.
    Drags,
}

impl BaitDoes {
    /// From the immersed share.
    #[must_use]
    pub fn of(immersion: f64) -> Self {
        if immersion <= 0.0 {
            Self::Flies
        } else if immersion < DRAGGING_IMMERSION {
            Self::Skips
        } else {
            Self::Drags
        }
    }
}

/// What the model expects at the end of a step.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Expected {
    /// Kite above the horizon, seen from its rod.
    pub elevation_deg: f64,
    /// Clip above the water.
    pub clip_height_m: f64,
    /// Bait astern of the main rod's tip.
    pub bait_astern_m: f64,
    /// Greatest height of the bait during the step.
    pub bait_height_m: f64,
    /// What the bait does.
    pub bait: BaitDoes,
    /// Kite line at its rod tip, the greatest during the step.
    pub kite_line_n: f64,
}

impl Expected {
    /// From the sample at the end and the greatest height and load on the way.
    pub(super) fn new(s: &Sample, bait_height_m: f64, kite_line_n: f64) -> Self {
        Self {
            elevation_deg: s.kite_elevation_rad.to_degrees(),
            clip_height_m: s.clip_height_m,
            bait_astern_m: s.bait_aft_m,
            bait_height_m,
            bait: BaitDoes::of(s.immersion),
            kite_line_n,
        }
    }
}

/// What both lines do in a step.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Lines {
    /// Kite line to let out.
    pub kite_by_m: f64,
    /// Main line to let out.
    pub main_by_m: f64,
    /// Over so long.
    pub over_s: f64,
    /// Kite line out afterwards, rod tip to kite.
    pub kite_line_out_m: f64,
    /// Main line out afterwards, rod tip through the ring to the bait.
    pub main_line_out_m: f64,
    /// Main line to let out when the bait flies then, and to wind in when it drags; again until it
    /// skips. While the marker is near the ring the bait drags, and this waits.
    pub nudge_m: f64,
}

/// One step.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Step {
    /// What it is, in few words.
    pub title: &'static str,
    /// What to do, in sentences without numbers.
    pub what: &'static str,
    /// A length that goes with it: clip to kite, marker to bait.
    pub length_m: Option<f64>,
    /// What both lines do; `null` for a step without.
    pub lines: Option<Lines>,
    /// What to expect at its end; `null` before the kite is up.
    pub expected: Option<Expected>,
}

impl Step {
    /// A step without lines.
    pub(super) const fn plain(title: &'static str, what: &'static str) -> Self {
        Self {
            title,
            what,
            length_m: None,
            lines: None,
            expected: None,
        }
    }
}
