//! One moment: everything that threats are read from.

use super::shape::Kind;
use crate::decode::BaitState;
use crate::forecast::{Forecast, NoForecast, Trouble};
use crate::time::Millis;
use crate::vessel::{BaitSeen, DeckNow, VesselNow};

/// How long a tap counts as a fact. Afterwards the forecast counts, which has taken the tap into
/// account.
const TAP_HOLDS_S: f64 = 15.0;

/// Everything the threats are read from.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scene<'a> {
    pub at: Millis,
    pub vessel: &'a VesselNow,
    pub deck: &'a DeckNow,
    pub forecast: Result<&'a Forecast, &'a NoForecast>,
    /// Whether the grace period after the start is over.
    pub settled_in: bool,
    /// Seconds without a forecast.
    pub blind_s: f64,
    /// Whether an advisory of foreseen trouble is living.
    pub in_trouble: bool,
}

impl Scene<'_> {
    /// What the crew has just tapped, unless a line has been moved since.
    fn tapped(&self) -> Option<BaitSeen> {
        self.deck.bait.filter(|seen| {
            self.at.seconds_since(seen.at) <= TAP_HOLDS_S
                && self.deck.lines_at.is_none_or(|moved| moved <= seen.at)
        })
    }

    /// When the crew saw this trouble, if it has just said so.
    pub fn seen_at(&self, trouble: Trouble) -> Option<Millis> {
        let seen = self.tapped()?;
        (bait_state(trouble)? == seen.state).then_some(seen.at)
    }

    /// Whether the crew has just said that the bait does something else.
    pub fn denies(&self, kind: Kind) -> bool {
        let state = kind.trouble().and_then(bait_state);
        state.is_some_and(|state| self.tapped().is_some_and(|seen| seen.state != state))
    }
}

/// The state of the bait that the crew taps when it sees this trouble.
fn bait_state(trouble: Trouble) -> Option<BaitState> {
    match trouble {
        Trouble::BaitAirborne => Some(BaitState::Airborne),
        Trouble::BaitDragging => Some(BaitState::Dragging),
        Trouble::KiteSinking
        | Trouble::OffCorner
        | Trouble::LineInWater
        | Trouble::LineOverload
        | Trouble::FalseRelease
        | Trouble::LineFoul => None,
    }
}
