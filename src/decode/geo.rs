//! A place on the earth.

use crate::units::Angle;

/// A place on the earth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GeoPosition {
    /// Positive north, -90 to 90 degrees.
    pub latitude: Angle,
    /// Positive east, -180 to 180 degrees.
    pub longitude: Angle,
}
