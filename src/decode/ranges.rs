//! The range of every number. Limits come from the field's definition where it has one (angles,
//! latitude, time); the others are our own, wide enough for the fastest vessel and the worst
//! weather that we could meet (common practice, no source).

use super::crew_sentence::MOST_AGE_S;
use super::outcome::DecodeReject;
use crate::geodesy::MOST_LATITUDE_DEG;
use crate::units::LINE_OUT_MAX_M;

/// A closed range, with the text that a refusal shows.
#[derive(Debug, Clone, Copy)]
pub(super) struct Range {
    low: f64,
    high: f64,
    text: &'static str,
}

impl Range {
    const fn new(low: f64, high: f64, text: &'static str) -> Self {
        Self { low, high, text }
    }

    /// The value itself when it is finite and inside. A refusal shows the value.
    pub(super) fn gate(
        self,
        kind: &'static str,
        field: &'static str,
        value: f64,
    ) -> Result<f64, DecodeReject> {
        self.gate_showing(kind, field, value, &value)
    }

    /// The same, for a value that stands in the sentence in another unit: a refusal shows what is
    /// in the sentence.
    pub(super) fn gate_showing(
        self,
        kind: &'static str,
        field: &'static str,
        value: f64,
        found: &dyn ToString,
    ) -> Result<f64, DecodeReject> {
        if value.is_finite() && value >= self.low && value <= self.high {
            Ok(value)
        } else {
            Err(DecodeReject::OutOfRange {
                kind,
                field,
                found: found.to_string(),
                allowed: self.text,
            })
        }
    }
}

/// Directions, bearings, wind angles over the full circle, degrees. Some senders write 360.
pub(super) const CIRCLE_DEG: Range = Range::new(0.0, 360.0, "0 to 360 degrees");
/// Wind angle from the bow, clockwise: over the full circle, or negative to port, degrees.
pub(super) const FROM_BOW_DEG: Range = Range::new(-180.0, 360.0, "-180 to 360 degrees");
/// Wind angle to one side of the bow, degrees.
pub(super) const HALF_CIRCLE_DEG: Range = Range::new(0.0, 180.0, "0 to 180 degrees");
/// Magnitude of variation or deviation, degrees.
pub(super) const VARIATION_DEG: Range = Range::new(0.0, 180.0, "0 to 180 degrees and E or W");
/// Rudder angle either way, degrees.
pub(super) const RUDDER_DEG: Range = Range::new(-90.0, 90.0, "-90 to 90 degrees");
/// Magnitude of a rudder angle, degrees.
pub(super) const RUDDER_SIZE_DEG: Range = Range::new(0.0, 90.0, "0 to 90 degrees");
/// Rate of turn, degrees a minute.
pub(super) const TURN_DEGPMIN: Range =
    Range::new(-3600.0, 3600.0, "-3600 to 3600 degrees a minute");
/// Magnitude of a rate of turn, degrees a minute.
pub(super) const TURN_SIZE_DEGPMIN: Range = Range::new(0.0, 3600.0, "0 to 3600 degrees a minute");
/// Pitch and roll either way, degrees.
pub(super) const TILT_DEG: Range = Range::new(-180.0, 180.0, "-180 to 180 degrees");
/// Heave either way, metres.
pub(super) const HEAVE_M: Range = Range::new(-30.0, 30.0, "-30 to 30 m");
/// Speeds that have no sign (wind, over the ground), metres a second.
pub(super) const SPEED_MPS: Range = Range::new(0.0, 105.0, "0 to 204 kn (105 m/s)");
/// Speeds along an axis, metres a second.
pub(super) const AXIS_SPEED_MPS: Range = Range::new(-105.0, 105.0, "-204 to 204 kn (105 m/s)");
/// Minutes of arc.
pub(super) const ARC_MINUTES: Range = Range::new(0.0, 59.999_999_999, "0 to less than 60 minutes");
/// Latitude, degrees.
pub(super) const LATITUDE_DEG: Range = Range::new(-90.0, 90.0, "0 to 90 degrees and N or S");
/// Longitude, degrees.
pub(super) const LONGITUDE_DEG: Range = Range::new(-180.0, 180.0, "0 to 180 degrees and E or W");
/// Distances to a waypoint, nautical miles: half way round the earth.
pub(super) const RANGE_NMI: Range = Range::new(0.0, 10_801.0, "0 to 10801 nautical miles");
/// Distances off a track, nautical miles.
pub(super) const OFF_TRACK_NMI: Range = Range::new(0.0, 1000.0, "0 to 1000 nautical miles");
/// Radius of a turn, nautical miles.
pub(super) const RADIUS_NMI: Range = Range::new(0.0, 100.0, "0 to 100 nautical miles");
/// Local zone, hours.
pub(super) const ZONE_HOURS: Range = Range::new(-14.0, 14.0, "-14 to 14 hours");
/// Local zone, minutes.
pub(super) const ZONE_MINUTES: Range = Range::new(-59.0, 59.0, "-59 to 59 minutes");
/// Depth, metres.
pub(super) const DEPTH_M: Range = Range::new(0.0, 12_000.0, "0 to 12000 m");
/// Depth offset, metres.
pub(super) const DEPTH_OFFSET_M: Range = Range::new(-100.0, 100.0, "-100 to 100 m");
/// Water temperature, degrees Celsius.
pub(super) const WATER_DEGC: Range = Range::new(-5.0, 60.0, "-5 to 60 degrees Celsius");

/// Number of a target: two digits, in later editions three or more.
pub(super) const MOST_TARGET: u32 = 9999;

/// Line out, metres (crew).
pub(super) const LINE_M: Range = Range::new(0.0, LINE_OUT_MAX_M, "0 to 1000 m");
/// Line given or taken, metres (crew).
pub(super) const MOVED_M: Range = Range::new(-LINE_OUT_MAX_M, LINE_OUT_MAX_M, "-1000 to 1000 m");
/// Kite elevation, degrees (crew).
pub(super) const ELEVATION_DEG: Range = Range::new(0.0, 90.0, "0 to 90 degrees");
/// Kite bearing off dead astern, degrees (crew).
pub(super) const OFF_ASTERN_DEG: Range = Range::new(-180.0, 180.0, "-180 to 180 degrees");
/// Where the fish is, degrees off the bow (crew).
pub(super) const OFF_BOW_DEG: Range = Range::new(-180.0, 180.0, "-180 to 180 degrees");
/// Intended change of heading, degrees (crew).
pub(super) const TURN_DEG: Range = Range::new(-720.0, 720.0, "-720 to 720 degrees");
/// Intended rate of turn, degrees a second (crew).
pub(super) const TURN_RATE_DEGPS: Range =
    Range::new(0.01, 60.0, "0.01 to 60 degrees a second, without sign");
/// Time until an intended turn, seconds (crew).
pub(super) const TURN_IN_S: Range = Range::new(0.0, 3600.0, "0 to 3600 s");
/// Speeds of the day of a launch, metres a second (crew).
pub(super) const LAUNCH_MPS: Range = Range::new(0.0, 60.0, "0 to 60 m/s");
/// Latitude of a mark, degrees (crew): nearer to a pole it has no bearing.
pub(super) const MARK_LATITUDE_DEG: Range = Range::new(
    -MOST_LATITUDE_DEG,
    MOST_LATITUDE_DEG,
    "0 to 89 degrees and N or S",
);
/// Distance of a mark seen by eye, metres (crew).
pub(super) const MARK_RANGE_M: Range = Range::new(1.0, 20_000.0, "1 to 20000 m");
/// Drift of a mark, metres a second (crew).
pub(super) const MARK_DRIFT_MPS: Range = Range::new(0.0, 5.0, "0 to 5 m/s");
/// Correction of a compass, each part, degrees (crew).
pub(super) const COMPASS_OFF_DEG: Range = Range::new(-45.0, 45.0, "-45 to 45 degrees");
/// Correction of a rate of turn, degrees a second (crew).
pub(super) const RATE_OFF_DEGPS: Range = Range::new(-10.0, 10.0, "-10 to 10 degrees a second");
/// Factor by which a speed is corrected (crew).
pub(super) const FACTOR: Range = Range::new(0.25, 4.0, "0.25 to 4");
/// Length of a silence, minutes (crew).
pub(super) const SILENCE_MIN: Range = Range::new(0.0, 1440.0, "0 to 1440 minutes");
/// Age of what was said before a restart, seconds (crew).
pub(super) const BEFORE_S: Range =
    Range::new(-MOST_AGE_S, MOST_AGE_S, "-5000000000 to 5000000000 s");
