//! Ranges of the numbers in request bodies and queries: the handlers check them, and the OpenAPI document states
//! them.

use super::problem::Problem;
use crate::geodesy::MOST_LATITUDE_DEG;
use crate::locker::{GUST_MPS, KITE_LINE_OUT_M, OFF_BOW_DEG, SPEED_MPS, WIND_MPS};
use crate::units::LINE_OUT_MAX_M;

/// A closed range of a number in a body or a query.
#[derive(Debug, Clone, Copy)]
pub(super) struct Range {
    /// Name of the body's or the query's shape.
    pub shape: &'static str,
    pub field: &'static str,
    pub least: f64,
    pub most: f64,
    unit: &'static str,
    zero: bool,
}

impl Range {
    const fn new(
        shape: &'static str,
        field: &'static str,
        least: f64,
        most: f64,
        unit: &'static str,
    ) -> Self {
        Self {
            shape,
            field,
            least,
            most,
            unit,
            zero: true,
        }
    }

    const fn of_launch(field: &'static str, [least, most]: [f64; 2], unit: &'static str) -> Self {
        Self::new("LaunchBody", field, least, most, unit)
    }

    const fn of_rig(field: &'static str, [least, most]: [f64; 2], unit: &'static str) -> Self {
        Self::new("RigQuery", field, least, most, unit)
    }

    const fn without_zero(self) -> Self {
        Self {
            zero: false,
            ..self
        }
    }

    /// Returns the value if it is in range; the problem names field, value and range.
    pub fn check(&self, value: f64) -> Result<f64, Problem> {
        if (self.least..=self.most).contains(&value) && (self.zero || value != 0.0) {
            return Ok(value);
        }
        let but = if self.zero { "" } else { ", but not 0" };
        let allowed = format!("{} to {} {}{but}", self.least, self.most, self.unit);
        Err(Problem::out_of_range(self.field, value, &allowed))
    }
}

pub(super) const KITE_LINE_OUT: Range =
    Range::new("LinesOutBody", "kite_line_out_m", 0.0, LINE_OUT_MAX_M, "m");
pub(super) const MAIN_LINE_OUT: Range =
    Range::new("LinesOutBody", "main_line_out_m", 0.0, LINE_OUT_MAX_M, "m");
/// Nobody winds more between two taps, but a slip of the thumb may say so.
pub(super) const MOVED_BY: Range =
    Range::new("MovedBody", "by_m", -100.0, 100.0, "m").without_zero();
/// Most line that an advisory asks for.
pub(super) const ASKED_BY: Range =
    Range::new("AskedBody", "by_m", -200.0, 200.0, "m").without_zero();
pub(super) const ELEVATION: Range =
    Range::new("ElevationBody", "elevation_deg", 0.0, 90.0, "degrees");
pub(super) const OFF_ASTERN: Range =
    Range::new("BearingBody", "off_astern_deg", -180.0, 180.0, "degrees");
pub(super) const TURN_BY: Range =
    Range::new("TurnBody", "by_deg", -180.0, 180.0, "degrees").without_zero();
pub(super) const TURN_RATE: Range =
    Range::new("TurnBody", "rate_deg_s", 0.1, 30.0, "degrees a second");
pub(super) const TURN_IN: Range = Range::new("TurnBody", "in_s", 0.0, 600.0, "seconds");
pub(super) const FISH_OFF_BOW: Range =
    Range::new("StrikeBody", "off_bow_deg", -180.0, 180.0, "degrees");
pub(super) const LATITUDE: Range = Range::new(
    "MarkBody",
    "latitude_deg",
    -MOST_LATITUDE_DEG,
    MOST_LATITUDE_DEG,
    "degrees",
);
pub(super) const LONGITUDE: Range =
    Range::new("MarkBody", "longitude_deg", -180.0, 180.0, "degrees");
pub(super) const MARK_OFF_BOW: Range =
    Range::new("MarkBody", "off_bow_deg", -180.0, 180.0, "degrees");
pub(super) const MARK_BEARING: Range =
    Range::new("MarkBody", "bearing_deg_true", 0.0, 360.0, "degrees");
/// As far as an eye may estimate.
pub(super) const MARK_RANGE: Range = Range::new("MarkBody", "range_m", 1.0, 20_000.0, "m");
pub(super) const DRIFT_SET: Range = Range::new("DriftBody", "set_deg_true", 0.0, 360.0, "degrees");
pub(super) const DRIFT: Range = Range::new("DriftBody", "drift_mps", 0.0, 5.0, "m/s");
pub(super) const SILENCE: Range = Range::new("SilenceBody", "minutes", 0.0, 60.0, "minutes");

pub(super) const LAUNCH_WIND: Range = Range::of_launch("wind_mps", WIND_MPS, "m/s");
pub(super) const LAUNCH_GUST: Range = Range::of_launch("gust_mps", GUST_MPS, "m/s");
pub(super) const LAUNCH_SPEED: Range = Range::of_launch("speed_mps", SPEED_MPS, "m/s");
pub(super) const LAUNCH_OFF_BOW: Range = Range::of_launch("off_bow_deg", OFF_BOW_DEG, "degrees");
pub(super) const LAUNCH_KITE_LINE: Range =
    Range::of_launch("kite_line_out_m", KITE_LINE_OUT_M, "m");
pub(super) const STEP_KITE_LINE: Range = Range::new(
    "LaunchStepBody",
    "kite_line_out_m",
    0.0,
    LINE_OUT_MAX_M,
    "m",
);
pub(super) const STEP_MAIN_LINE: Range = Range::new(
    "LaunchStepBody",
    "main_line_out_m",
    0.0,
    LINE_OUT_MAX_M,
    "m",
);

pub(super) const RIG_WIND: Range = Range::of_rig("wind_mps", WIND_MPS, "m/s");
pub(super) const RIG_GUST: Range = Range::of_rig("gust_mps", GUST_MPS, "m/s");
pub(super) const RIG_SPEED: Range = Range::of_rig("speed_mps", SPEED_MPS, "m/s");
pub(super) const RIG_OFF_BOW: Range = Range::of_rig("off_bow_deg", OFF_BOW_DEG, "degrees");
pub(super) const RIG_KITE_LINE: Range = Range::of_rig("kite_line_out_m", KITE_LINE_OUT_M, "m");

/// All of them, for the interface document.
pub(super) const ALL: [Range; 30] = [
    KITE_LINE_OUT,
    MAIN_LINE_OUT,
    MOVED_BY,
    ASKED_BY,
    ELEVATION,
    OFF_ASTERN,
    TURN_BY,
    TURN_RATE,
    TURN_IN,
    FISH_OFF_BOW,
    LATITUDE,
    LONGITUDE,
    MARK_OFF_BOW,
    MARK_BEARING,
    MARK_RANGE,
    DRIFT_SET,
    DRIFT,
    SILENCE,
    LAUNCH_WIND,
    LAUNCH_GUST,
    LAUNCH_SPEED,
    LAUNCH_OFF_BOW,
    LAUNCH_KITE_LINE,
    STEP_KITE_LINE,
    STEP_MAIN_LINE,
    RIG_WIND,
    RIG_GUST,
    RIG_SPEED,
    RIG_OFF_BOW,
    RIG_KITE_LINE,
];
