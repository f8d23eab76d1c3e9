//! Why a heading cannot be fished, as the crew says it: without numbers.

use crate::rig::NoTrim;

/// The reason in plain words, with what would help.
pub(super) fn plainly(why: &NoTrim) -> &'static str {
    match why {
        NoTrim::Refused(_) => "the model has no answer for it",
        NoTrim::TooLittleWind { .. } => {
            "too little wind at the kite there; more boat speed toward the wind, a larger kite or a \
             lighter bait would help"
        }
        NoTrim::TooMuchLine { .. } => {
            "too much wind on the hanging line there; less kite line out, less speed or a smaller \
             kite would help"
        }
        NoTrim::BaitAhead { .. } => "the bait would hang ahead of the boat there",
        NoTrim::KiteLow { .. } => {
            "the kite would hang too low there; more wind on deck or a kite with more lift would help"
        }
        NoTrim::LineInWater => {
            "line would lie in the water there; more kite line or less main line would lift it clear"
        }
        NoTrim::NotConverged { .. } => "the model finds no way that the rig hangs there",
    }
}
