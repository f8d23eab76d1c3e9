//! Number and title of each kind of alert.

use crate::advice::Kind;

/// Number of the kind after [`FIRST`], and its title of at most 16 characters.
const KINDS: [(Kind, u32, &str); 15] = [
    (Kind::BaitAirborne, 10001, "BAIT MAY FLY"),
    (Kind::BaitDragging, 10002, "BAIT MAY DRAG"),
    (Kind::KiteSinking, 10003, "KITE MAY SINK"),
    (Kind::LineOverload, 10004, "LINE OVERLOAD"),
    (Kind::FalseRelease, 10005, "BAND MAY BREAK"),
    (Kind::LineFoul, 10006, "LINE MAY FOUL"),
    (Kind::OffCorner, 10007, "KITE OFF CORNER"),
    (Kind::WindShift, 10008, "WIND HAS SHIFTED"),
    (Kind::LineInWater, 10009, "LINE IN WATER"),
    (Kind::DataLost, 10010, "SENSOR SILENT"),
    (Kind::RigUnset, 10011, "RIG NOT ENTERED"),
    (Kind::ComputerSlow, 10012, "COMPUTER SLOW"),
    (Kind::NoForecast, 10013, "NO FORECAST"),
    (Kind::LinesUnchecked, 10014, "CHECK LINES OUT"),
    (Kind::InstrumentsDisagree, 10015, "SENSOR IN DOUBT"),
];

/// Before the first number.
const FIRST: u32 = 10000;

/// Number of an alert, and its title of at most 16 characters.
#[must_use]
pub fn number_of(kind: Kind) -> (u32, &'static str) {
    KINDS
        .iter()
        .find(|(of, _, _)| *of == kind)
        .map_or((FIRST, "SEE THE PAGES"), |(_, number, title)| {
            (*number, title)
        })
}

/// The text number under which TXT tells an alert, and `ACK` answers it.
pub(super) fn text_number(number: u32) -> u32 {
    number.saturating_sub(FIRST)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn every_kind_has_a_number_of_its_own_and_a_short_title() {
        let numbers: BTreeSet<_> = KINDS.iter().map(|(_, number, _)| *number).collect();
        assert_eq!(numbers.len(), KINDS.len());
        for (kind, number, title) in KINDS {
            assert_eq!(number_of(kind), (number, title));
            assert!(title.len() <= 16 && title.is_ascii(), "{title}");
            assert!((1..=99).contains(&text_number(number)), "{number}");
        }
        // The last kind of the enumeration has a row: a new one behind it must be added here.
        assert_ne!(number_of(Kind::LinesUnchecked).0, FIRST);
    }
}
