//! Point of sail and tack from the angle of the true wind off the bow. Names as sailors use them;
//! the limits are own choices, for common usage differs by some degrees.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// An angle near a limit must pass it by this much before it counts as the other side, so that a
/// yawing boat does not change her point of sail with every wave.
pub const YAW_DEG: f64 = 5.0;

/// The true wind off the bow, either side.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum PointOfSail {
    /// Less than 30 degrees.
    HeadWind,
    /// 30 to 60 degrees.
    CloseHauled,
    /// 60 to 80 degrees.
    CloseReach,
    /// 80 to 100 degrees.
    BeamReach,
    /// 100 to 150 degrees.
    BroadReach,
    /// More than 150 degrees.
    Running,
}

impl PointOfSail {
    const ALL: [(Self, f64, f64); 6] = [
        (Self::HeadWind, 0.0, 30.0),
        (Self::CloseHauled, 30.0, 60.0),
        (Self::CloseReach, 60.0, 80.0),
        (Self::BeamReach, 80.0, 100.0),
        (Self::BroadReach, 100.0, 150.0),
        (Self::Running, 150.0, 180.0),
    ];

    /// Whether an angle off the bow still counts as this one.
    fn holds(self, off_bow_deg: f64) -> bool {
        Self::ALL.iter().any(|(point, from, to)| {
            *point == self && (from - YAW_DEG..=to + YAW_DEG).contains(&off_bow_deg)
        })
    }

    fn of(off_bow_deg: f64) -> Self {
        let found = Self::ALL.iter().find(|(_, _, to)| off_bow_deg < *to);
        found.map_or(Self::Running, |(point, _, _)| *point)
    }
}

/// The side over which the wind comes.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Tack {
    /// Wind over the port side.
    Port,
    /// Wind over the starboard side.
    Starboard,
}

/// How the boat lies to the wind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sailing {
    /// How far off the bow it comes.
    pub point: PointOfSail,
    /// From which side.
    pub tack: Tack,
}

impl Sailing {
    /// From the angle that the true wind comes from off the bow, -180 to 180, + to starboard, and
    /// how she lay before.
    #[must_use]
    pub fn next(before: Option<Self>, off_bow_deg: f64) -> Self {
        let off = off_bow_deg.abs();
        let side = if off_bow_deg < 0.0 {
            Tack::Port
        } else {
            Tack::Starboard
        };
        let between_sides = !(YAW_DEG..=180.0 - YAW_DEG).contains(&off);
        Self {
            point: before
                .map(|was| was.point)
                .filter(|point| point.holds(off))
                .unwrap_or_else(|| PointOfSail::of(off)),
            tack: match before {
                Some(was) if between_sides => was.tack,
                _ => side,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_yawing_boat_keeps_her_point_of_sail() {
        let mut now = Sailing::next(None, 99.0);
        assert_eq!(
            (now.point, now.tack),
            (PointOfSail::BeamReach, Tack::Starboard)
        );
        for (angle, point) in [
            (104.9, PointOfSail::BeamReach),
            (105.1, PointOfSail::BroadReach),
            (95.0, PointOfSail::BroadReach),
            (94.9, PointOfSail::BeamReach),
            (180.0, PointOfSail::Running),
        ] {
            now = Sailing::next(Some(now), angle);
            assert_eq!(now.point, point, "{angle}");
        }
        now = Sailing::next(Some(now), -176.0);
        assert_eq!(now.tack, Tack::Starboard, "nearly dead astern");
        now = Sailing::next(Some(now), -174.0);
        assert_eq!(now.tack, Tack::Port);
        assert_eq!(Sailing::next(None, 0.0).point, PointOfSail::HeadWind);
        assert_eq!(Sailing::next(None, -30.0).point, PointOfSail::CloseHauled);
    }
}
