//! What the crew tells of lines and bait.

use serde::Serialize;

use crate::decode::{BaitState, PassWord};
use crate::time::Millis;

/// Line out by the crew's count.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LinesOut {
    /// Kite line, rod tip to kite.
    pub kite_m: Option<f64>,
    /// Main line, rod tip through ring to bait.
    pub main_m: Option<f64>,
}

/// The last thing the crew said of the bait.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BaitSeen {
    /// What it did.
    pub state: BaitState,
    /// When it was said.
    pub at: Millis,
}

/// The last thing the crew said of a pass.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PassTold {
    /// Number of the mark.
    pub mark: u32,
    /// What was said.
    pub said: PassWord,
    /// When it was said.
    pub at: Millis,
}
