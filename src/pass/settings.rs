//! What the captain closes to passes.

use crate::key::{Complaint, Fallback, Group, Key, Section, check, default_of};

/// `[pass]`.
pub const PASS: Section = Section::new(
    "pass",
    "Passes over a mark",
    "What a course to a mark keeps to. Traffic, depth and land are not known here: the look-out and the \
     chart decide.",
    KEYS,
);

const NO_GO: &str = "read them from the chart; both the same: none are closed";

const KEYS: &[Key] = &[
    Key::number("keep_off_m", "m", 0.0, 500.0)
        .default(0.0)
        .about(
            "boat and bait keep this far from all other marks on the way to one; 0: they need not",
            "as the captain wants",
        )
        .on_page(Group::Passes, "Keep off other marks by"),
    Key::words("kite_side", &["may_change", "stays"])
        .or(Fallback::Word("may_change"))
        .about(
            "whether the kite may go across to the other side of the boat on the way",
            "take stays where it must not, over outriggers for instance",
        )
        .on_page(Group::Passes, "Side of the kite"),
    Key::number("no_go_from_deg_true", "degrees", 0.0, 360.0)
        .default(0.0)
        .about(
            "headings from this one clockwise are closed to a pass",
            NO_GO,
        )
        .on_page(Group::Passes, "Closed headings, from"),
    Key::number("no_go_to_deg_true", "degrees", 0.0, 360.0)
        .default(0.0)
        .about("headings up to this one are closed to a pass", NO_GO)
        .on_page(Group::Passes, "Closed headings, to"),
];

/// Whether the kite may go across to the other side of the boat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum KiteSide {
    /// It may.
    MayChange,
    /// It stays where it is.
    Stays,
}

/// Settings of the pass room.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PassSettings {
    /// Distance from other marks.
    pub keep_off_m: f64,
    /// Whether the kite may go across.
    pub kite_side: KiteSide,
    /// Headings not to hold, from this one clockwise ...
    pub no_go_from_deg_true: f64,
    /// ... to this one. Equal: none.
    pub no_go_to_deg_true: f64,
}

impl Default for PassSettings {
    fn default() -> Self {
        const DEFAULT: PassSettings = PassSettings {
            keep_off_m: default_of(KEYS, "keep_off_m"),
            kite_side: KiteSide::MayChange,
            no_go_from_deg_true: default_of(KEYS, "no_go_from_deg_true"),
            no_go_to_deg_true: default_of(KEYS, "no_go_to_deg_true"),
        };
        DEFAULT
    }
}

impl PassSettings {
    /// Every complaint.
    #[must_use]
    pub fn check(&self) -> Vec<Complaint> {
        check(&[PASS], self)
    }

    /// The closed headings.
    pub(super) fn no_go(&self) -> Option<super::situation::Sector> {
        let (from, to) = (self.no_go_from_deg_true, self.no_go_to_deg_true);
        ((to - from).rem_euclid(360.0) > 0.0).then(|| super::situation::Sector {
            from_rad: from.to_radians(),
            to_rad: to.to_radians(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_headings_close_none_and_a_sector_may_lie_across_north() {
        let mut settings = PassSettings::default();
        assert!(settings.check().is_empty());
        assert_eq!(settings.no_go(), None);
        settings.no_go_from_deg_true = 340.0;
        settings.no_go_to_deg_true = 20.0;
        let sector = settings.no_go().unwrap();
        assert!(sector.holds(0.0) && sector.holds(6.2) && !sector.holds(1.0));
        settings.keep_off_m = 900.0;
        assert!(settings.check()[0].to_string().contains("0 to 500"));
    }
}
