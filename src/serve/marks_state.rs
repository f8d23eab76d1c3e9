//! Marks as the API shows them.

use serde::Serialize;
use utoipa::ToSchema;

use super::quantities::PositionAnswer;
use crate::angles::{wrap_positive_deg, wrap_signed_deg};
use crate::engine::Snapshot;
use crate::geodesy::Position;
use crate::time::Millis;
use crate::vessel::{Mark, MarkSource};

/// How a mark moves over the ground.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct DriftAnswer {
    /// Where to, true, 0..360.
    pub set_deg_true: f64,
    /// How fast.
    pub drift_mps: f64,
}

/// A mark as seen from the boat now.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct FromBoatAnswer {
    /// Metres east of the boat.
    pub east_m: f64,
    /// Metres north of it.
    pub north_m: f64,
    /// Distance.
    pub range_m: f64,
    /// True bearing, 0..360.
    pub bearing_deg_true: f64,
    /// Off the bow, + to starboard, -180..180; `null` without a heading.
    pub off_bow_deg: Option<f64>,
}

/// A mark.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct MarkAnswer {
    /// Its number, while it is kept: up to 999 the crew's, above that the network's. Those of the
    /// network change when the program restarts.
    pub number: u32,
    /// Its name.
    pub name: Option<String>,
    /// Who told of it, and how.
    pub source: MarkSource,
    /// Whether it is a place to fish; a person in the water is not.
    pub to_fish: bool,
    /// When it was marked.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
    /// Seconds since its position was told.
    pub age_s: f64,
    /// Where it should be by now; `null` when the boat's position was not known.
    pub position: Option<PositionAnswer>,
    /// How it moves; `null` when that is not known.
    pub drift: Option<DriftAnswer>,
    /// Uncertainty of its place by now, one standard deviation.
    pub sigma_m: f64,
    /// As seen from the boat; `null` when its position or the boat's is not known.
    pub from_boat: Option<FromBoatAnswer>,
}

/// All marks at the moment of the tick.
pub(super) fn marks(snapshot: &Snapshot) -> Vec<MarkAnswer> {
    let vessel = &snapshot.vessel;
    let boat = vessel.position.as_ref().map(|here| here.value);
    let heading_rad = vessel
        .heading_true_rad
        .as_ref()
        .map(|heading| heading.value);
    let marks = snapshot.marks.iter();
    marks
        .map(|mark| MarkAnswer::new(mark, snapshot.at, boat, heading_rad))
        .collect()
}

impl MarkAnswer {
    fn new(mark: &Mark, at: Millis, boat: Option<Position>, heading_rad: Option<f64>) -> Self {
        let from_boat = boat.and_then(|boat| mark.from_boat(at, boat));
        Self {
            number: mark.number,
            name: mark.name.clone(),
            source: mark.source,
            to_fish: mark.is_to_fish(),
            at: mark.at,
            age_s: mark.age_s(at),
            position: mark.position_at(at).map(|place| PositionAnswer {
                latitude_deg: place.latitude_deg,
                longitude_deg: place.longitude_deg,
            }),
            drift: mark.drift.map(|drift| DriftAnswer {
                set_deg_true: wrap_positive_deg(drift.set_rad.to_degrees()),
                drift_mps: drift.drift_mps,
            }),
            sigma_m: mark.sigma_m(at),
            from_boat: from_boat.map(|seen| {
                let bearing_deg = seen.way.bearing_rad().to_degrees();
                FromBoatAnswer {
                    east_m: seen.way.east_m,
                    north_m: seen.way.north_m,
                    range_m: seen.way.range_m(),
                    bearing_deg_true: bearing_deg,
                    off_bow_deg: heading_rad
                        .map(|heading| wrap_signed_deg(bearing_deg - heading.to_degrees())),
                }
            }),
        }
    }
}
