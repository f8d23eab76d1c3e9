//! Wind and position as the API shows them.

use serde::Serialize;
use utoipa::ToSchema;

/// Wind relative to the boat.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct ApparentWindAnswer {
    /// Where it comes from, clockwise from the bow, 0..360.
    pub angle_deg: f64,
    /// Speed at the sensor.
    pub speed_mps: f64,
}

/// Wind over the water.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct TrueWindAnswer {
    /// Where it comes from, true, 0..360.
    pub from_deg_true: f64,
    /// Speed at the sensor.
    pub speed_mps: f64,
}

/// Position, WGS 84.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct PositionAnswer {
    /// North positive.
    pub latitude_deg: f64,
    /// East positive.
    pub longitude_deg: f64,
}
