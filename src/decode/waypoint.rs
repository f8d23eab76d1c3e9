//! Going to a waypoint: APB, RMB, BWC, BOD, XTE, WPL.
//!
//! | kind | fields |
//! |---|---|
//! | APB | status; status; off track,`L`/`R` to steer,`N`; arrived; passed; bearing of leg,`T`/`M`; destination; bearing from here,`T`/`M`; heading to steer,`T`/`M`; mode (2.3) |
//! | RMB | status; off track in nautical miles; `L`/`R` to steer; origin; destination; lat,`N`/`S`; lon,`E`/`W`; range in nautical miles; bearing true; closing speed kn; arrived; mode (2.3) |
//! | BWC | time; lat,`N`/`S`; lon,`E`/`W`; bearing,`T`; bearing,`M`; distance,`N`; name; mode (2.3) |
//! | BOD | bearing,`T`; bearing,`M`; destination; origin |
//! | XTE | status; status; off track; `L`/`R` to steer; `N`; mode (2.3) |
//! | WPL | lat,`N`/`S`; lon,`E`/`W`; name |
//!
//! A sentence whose only content are its arrival flags describes no leg and gives nothing.
//! Source: E. S. Raymond, *NMEA Revealed*, 2025.

use super::bridge::{self, as_printed};
use super::fields::Fields;
use super::forms::circle;
use super::geo::GeoPosition;
use super::observation::{
    AutopilotDemand, BearingToWaypoint, LegBearing, LegToWaypoint, Observation,
};
use super::outcome::DecodeReject;
use super::ranges::{
    AXIS_SPEED_MPS, CIRCLE_DEG, LATITUDE_DEG, LONGITUDE_DEG, OFF_TRACK_NMI, RANGE_NMI,
};
use crate::units::{Angle, KNOT_MPS, Length, degrees, metres_per_second, nautical_miles};

pub(super) fn apb(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let both = fields.is_valid(0, "status")? && fields.is_valid(1, "status")?;
    if !both || !fields.mode_allows(14)? {
        return Ok(Vec::new());
    }
    let demand = AutopilotDemand {
        cross_track: cross_track(fields, 2)?,
        arrived: fields.flag(5, "arrived")?,
        passed: fields.flag(6, "passed")?,
        leg_bearing: fields.either_direction(7, "bearing of leg")?,
        destination: fields.name(9, "destination")?,
        bearing: fields.either_direction(10, "bearing")?,
        heading_to_steer: fields.either_direction(12, "heading to steer")?,
    };
    fields.letter(4, "unit of distance", "N")?;
    let empty = demand.cross_track.is_none()
        && demand.leg_bearing.is_none()
        && demand.destination.is_none()
        && demand.bearing.is_none()
        && demand.heading_to_steer.is_none();
    Ok(unless(empty, Observation::Autopilot(demand)))
}

pub(super) fn rmb(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    if !fields.is_valid(0, "status")? || !fields.mode_allows(13)? {
        return Ok(Vec::new());
    }
    let leg = LegToWaypoint {
        cross_track: cross_track(fields, 1)?,
        origin: fields.name(3, "origin")?,
        destination: fields.name(4, "destination")?,
        destination_position: fields.position(5)?,
        range: fields.ranged(9, "range", RANGE_NMI)?.map(nautical_miles),
        bearing_true: fields.ranged(10, "bearing", CIRCLE_DEG)?.map(circle),
        closing: fields
            .scaled(11, "closing speed", KNOT_MPS, AXIS_SPEED_MPS)?
            .map(metres_per_second),
        arrived: fields.flag(12, "arrived")?,
    };
    let empty = leg.cross_track.is_none()
        && leg.destination.is_none()
        && leg.destination_position.is_none()
        && leg.range.is_none()
        && leg.bearing_true.is_none();
    Ok(unless(empty, Observation::LegToWaypoint(leg)))
}

pub(super) fn bwc(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    if !fields.mode_allows(12)? {
        return Ok(Vec::new());
    }
    fields.time(0, "time")?;
    fields.position(1)?;
    fields.check_numbers(&[
        (5, "bearing true"),
        (7, "bearing magnetic"),
        (9, "distance"),
    ])?;
    let data = bridge::bwc(fields)?;
    let position = data
        .latitude
        .zip(data.longitude)
        .map(|(latitude, longitude)| -> Result<_, DecodeReject> {
            Ok(GeoPosition {
                latitude: degrees(LATITUDE_DEG.gate(fields.kind, "latitude", latitude)?),
                longitude: degrees(LONGITUDE_DEG.gate(fields.kind, "longitude", longitude)?),
            })
        })
        .transpose()?;
    let distance = data
        .distance
        .map(|v| RANGE_NMI.gate(fields.kind, "distance", as_printed(v)))
        .transpose()?
        .map(nautical_miles);
    let bearing = BearingToWaypoint {
        name: fields.name(11, "name")?,
        position,
        bearing_true: gated(fields, "bearing true", data.true_bearing)?,
        bearing_magnetic: gated(fields, "bearing magnetic", data.magnetic_bearing)?,
        distance,
    };
    let empty = bearing.position.is_none()
        && bearing.bearing_true.is_none()
        && bearing.bearing_magnetic.is_none()
        && bearing.distance.is_none();
    Ok(unless(empty, Observation::BearingToWaypoint(bearing)))
}

pub(super) fn bod(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    if fields.text(0).is_empty() && fields.text(2).is_empty() {
        return Ok(Vec::new());
    }
    fields.check_numbers(&[(0, "bearing true"), (2, "bearing magnetic")])?;
    let data = bridge::bod(fields)?;
    Ok(vec![Observation::LegBearing(LegBearing {
        bearing_true: gated(fields, "bearing true", data.bearing_true)?,
        bearing_magnetic: gated(fields, "bearing magnetic", data.bearing_magnetic)?,
        destination: fields.name(4, "destination")?,
        origin: fields.name(5, "origin")?,
    })])
}

pub(super) fn xte(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let both = fields.is_valid(0, "status")? && fields.is_valid(1, "status")?;
    if !both || !fields.mode_allows(5)? {
        return Ok(Vec::new());
    }
    let off = cross_track(fields, 2)?;
    let unit = fields.letter(4, "unit of distance", "N")?;
    if off.is_some() && unit.is_none() {
        return Err(fields.malformed("unit of distance", fields.text(4)));
    }
    Ok(off.map(Observation::CrossTrack).into_iter().collect())
}

pub(super) fn wpl(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let waypoint = fields.name(4, "name")?.zip(fields.position(0)?);
    Ok(waypoint
        .map(|(name, position)| Observation::Waypoint { name, position })
        .into_iter()
        .collect())
}

/// Distance off the track, positive when one has to steer right to regain it.
fn cross_track(fields: &Fields<'_>, index: usize) -> Result<Option<Length>, DecodeReject> {
    Ok(fields
        .with_side(index, "off track", "RL", OFF_TRACK_NMI)?
        .map(nautical_miles))
}

fn gated(
    fields: &Fields<'_>,
    field: &'static str,
    value: Option<f32>,
) -> Result<Option<Angle>, DecodeReject> {
    value
        .map(|v| {
            CIRCLE_DEG
                .gate(fields.kind, field, as_printed(v))
                .map(circle)
        })
        .transpose()
}

fn unless(empty: bool, observation: Observation) -> Vec<Observation> {
    if empty { Vec::new() } else { vec![observation] }
}
