//! A place on the earth, as sentences give it.

use crate::geodesy::Position;
use crate::units::{Angle, degrees, in_degrees};

/// A place on the earth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GeoPosition {
    /// Positive north, -90 to 90 degrees.
    pub latitude: Angle,
    /// Positive east, -180 to 180 degrees.
    pub longitude: Angle,
}

impl From<GeoPosition> for Position {
    fn from(place: GeoPosition) -> Self {
        Self {
            latitude_deg: in_degrees(place.latitude),
            longitude_deg: in_degrees(place.longitude),
        }
    }
}

impl From<Position> for GeoPosition {
    fn from(place: Position) -> Self {
        Self {
            latitude: degrees(place.latitude_deg),
            longitude: degrees(place.longitude_deg),
        }
    }
}
