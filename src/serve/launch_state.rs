//! The launch that is followed, as the API shows it.

use serde::Serialize;
use utoipa::ToSchema;

use crate::locker::Day;
use crate::time::Millis;
use crate::vessel::LaunchNow;

/// A launch that is followed step by step.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct LaunchState {
    /// When it began.
    #[schema(value_type = String, format = DateTime)]
    pub begun_at: Millis,
    /// When a step was last answered.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
    /// Steps that are answered.
    pub answered: u32,
    /// The day for which its steps are made.
    pub day: Day,
}

impl LaunchState {
    pub(super) fn new(launch: &LaunchNow) -> Self {
        Self {
            begun_at: launch.begun_at,
            at: launch.at,
            answered: launch.answered,
            day: Day {
                wind_mps: launch.wind_mps,
                gust_mps: launch.gust_mps,
                speed_mps: launch.speed_mps,
                off_bow_deg: launch.off_bow_rad.to_degrees(),
                kite_line_out_m: launch.kite_line_m,
            },
        }
    }
}
