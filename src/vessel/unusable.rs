//! Sentences that came but said nothing: what a sensor that has failed, or lost its own input,
//! often sends. They keep no value alive.

use std::collections::BTreeMap;

use super::now::Quantity;
use crate::time::Millis;

/// Why a sentence said nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unusable {
    /// Its status or mode says "not valid", or its fields are empty.
    Void,
    /// Its values are out of range or malformed.
    Refused,
}

/// The last such sentence of each quantity.
#[derive(Debug, Clone, Default)]
pub(super) struct UnusableSaid(BTreeMap<Quantity, (Millis, String)>);

impl UnusableSaid {
    pub fn note(&mut self, at: Millis, feed: &str, address: &str, why: Unusable) {
        let kind = match address.get(2..) {
            Some(kind) if kind.len() == 3 => kind,
            _ => return,
        };
        let quantities: &[Quantity] = match kind {
            "MWV" | "VWR" | "VWT" | "MWD" => &[Quantity::Wind],
            "HDT" | "THS" | "HDG" | "HDM" => &[Quantity::Heading],
            "VHW" | "VBW" | "VTG" | "RMC" => &[Quantity::Speed],
            _ => return,
        };
        let does = match why {
            Unusable::Void => "speaks but calls its values not valid or leaves them empty",
            Unusable::Refused => "speaks but its values cannot be",
        };
        for quantity in quantities {
            self.0
                .insert(*quantity, (at, format!("{feed} {address} {does}")));
        }
    }

    /// The last such sentence of a quantity, in words, if it came within `within_s`.
    pub fn lately(&self, quantity: Quantity, now: Millis, within_s: f64) -> Option<&str> {
        let (at, said) = self.0.get(&quantity)?;
        (now.seconds_since(*at) <= within_s).then_some(said)
    }
}
