//! Kinds of trouble, their chances and the bands that onsets are told in.

use std::fmt;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Quantiles over the futures at one moment.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Band {
    /// One future in ten lies below.
    pub p10: f64,
    /// Half of them lie below.
    pub p50: f64,
    /// Nine in ten lie below.
    pub p90: f64,
}

/// Kinds of trouble whose chance is forecast.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "kebab-case")]
#[schema(as = ChanceKind)]
pub enum Trouble {
    /// Bait out of the water for longer than a hop.
    BaitAirborne,
    /// Bait mostly under for longer than a dip.
    BaitDragging,
    /// Kite sinking.
    KiteSinking,
    /// Kite outside the bite zone.
    OffCorner,
    /// Line other than the bait's end touches the water.
    LineInWater,
    /// A line or the rod holder loaded to the share of its strength that the settings allow. Not
    /// given while no strength is known.
    LineOverload,
    /// Load at the ring near the strength of the band. Not given while that is not known.
    FalseRelease,
    /// A line nearer to a structure of the boat than its clearance. Not given without structures.
    LineFoul,
}

impl Trouble {
    /// All of them, in the order of a forecast.
    pub const ALL: [Self; 8] = [
        Self::BaitAirborne,
        Self::BaitDragging,
        Self::KiteSinking,
        Self::OffCorner,
        Self::LineInWater,
        Self::LineOverload,
        Self::FalseRelease,
        Self::LineFoul,
    ];

    /// Whether seconds count once it is likely. A kite off its corner costs bites, no more.
    #[must_use]
    pub fn presses(self) -> bool {
        match self {
            Self::OffCorner => false,
            Self::BaitAirborne
            | Self::BaitDragging
            | Self::KiteSinking
            | Self::LineInWater
            | Self::LineOverload
            | Self::FalseRelease
            | Self::LineFoul => true,
        }
    }

    /// Whether it is trouble of the bait.
    #[must_use]
    pub fn is_of_bait(self) -> bool {
        matches!(self, Self::BaitAirborne | Self::BaitDragging)
    }

    /// Whether it is trouble of bait or kite, not danger of lines.
    #[must_use]
    pub fn is_of_bait_or_kite(self) -> bool {
        match self {
            Self::BaitAirborne | Self::BaitDragging | Self::KiteSinking | Self::OffCorner => true,
            Self::LineInWater | Self::LineOverload | Self::FalseRelease | Self::LineFoul => false,
        }
    }

    /// Which way the main line brings it: +1 let out, -1 wound in; `None` where neither way does
    /// for certain.
    #[must_use]
    pub fn main_line_way(self) -> Option<f64> {
        match self {
            Self::BaitAirborne => Some(-1.0),
            Self::BaitDragging | Self::LineInWater => Some(1.0),
            Self::KiteSinking
            | Self::OffCorner
            | Self::LineOverload
            | Self::FalseRelease
            | Self::LineFoul => None,
        }
    }
}

/// The name that it has in JSON.
impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.serialize(f)
    }
}

/// Chance of one trouble within the horizon.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Chance {
    /// Which.
    pub kind: Trouble,
    /// Share of the futures in which it happens, 0..1. For a sinking kite, beliefs in which the kite has
    /// already come down count as futures in which it sinks now.
    pub chance: f64,
    /// Share of the futures in which it is so already, 0..`chance`.
    pub so_now: f64,
    /// Seconds from `made_at` to onset, over the futures in which it happens; `None` when none.
    pub onset_s: Option<Band>,
    /// The same over those in which it begins later only; `None` when none.
    pub later_s: Option<Band>,
    /// The same chance with the line plan carried out; `None` when there is no plan.
    pub chance_with_plan: Option<f64>,
}

impl Chance {
    /// Share of its onsets that come within a time: linear between (0, 0), (p10, 0.1), (p50, 0.5),
    /// (p90, 0.9) and (horizon, 1) of the onset.
    #[must_use]
    pub fn onset_share(&self, within_s: f64, horizon_s: f64) -> f64 {
        if within_s >= horizon_s {
            return 1.0;
        }
        let Some(band) = &self.onset_s else {
            return (within_s / horizon_s).clamp(0.0, 1.0);
        };
        let mut before = (0.0, 0.0);
        for (t_s, share) in [
            (band.p10, 0.1),
            (band.p50, 0.5),
            (band.p90, 0.9),
            (horizon_s, 1.0),
        ] {
            if within_s < t_s {
                let part = (within_s - before.0) / (t_s - before.0);
                return before.1 + part.clamp(0.0, 1.0) * (share - before.1);
            }
            before = (t_s, share);
        }
        before.1
    }

    /// Chance that it begins within the time in which this share of its onsets comes, given that it
    /// is not so now; `None` when it is so in all futures already.
    #[must_use]
    pub fn begins(&self, share: f64) -> Option<f64> {
        let not_now = 1.0 - self.so_now;
        (not_now >= 1e-6).then(|| ((self.chance * share - self.so_now) / not_now).clamp(0.0, 1.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_trouble_is_left_out_of_all() {
        let schema = serde_json::to_value(<Trouble as utoipa::PartialSchema>::schema()).unwrap();
        let all = Trouble::ALL.map(|trouble| trouble.to_string());
        assert_eq!(schema["enum"], serde_json::json!(all));
    }

    #[test]
    fn onsets_are_shared_out_along_the_band() {
        let chance = |p10: f64, p50: f64, p90: f64| Chance {
            kind: Trouble::BaitAirborne,
            chance: 1.0,
            so_now: 0.0,
            later_s: None,
            onset_s: Some(Band { p10, p50, p90 }),
            chance_with_plan: None,
        };
        for (within_s, share) in [
            (0.0, 0.0),
            (5.0, 0.05),
            (10.0, 0.1),
            (15.0, 0.3),
            (20.0, 0.5),
            (30.0, 0.7),
            (80.0, 0.95),
            (120.0, 1.0),
        ] {
            let found = chance(10.0, 20.0, 40.0).onset_share(within_s, 120.0);
            assert!((found - share).abs() < 1e-12, "{within_s}: {found}");
        }
        // All onsets at one moment: none before it, nearly all at it.
        assert!(chance(0.0, 0.0, 0.0).onset_share(1.0, 120.0) >= 0.9);
    }
}
