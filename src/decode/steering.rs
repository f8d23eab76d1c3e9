//! Turning and steering: ROT, RSA, HSC, HTC, HTD.
//!
//! | kind | fields |
//! |---|---|
//! | ROT | degrees a minute, minus to port; status |
//! | RSA | starboard or single rudder in degrees, minus turns to port; status; port rudder; status |
//! | HSC | commanded heading,`T`; commanded heading,`M`; mode (4.x) |
//! | HTC | override; rudder; `L`/`R`; steering mode `M` manual, `S` stand-alone, `H` heading, `T` track, `R` rudder; turn mode `R` radius, `T` rate, `N` none; rudder limit; off-heading limit; radius in nautical miles; rate in degrees a minute; heading to steer; off-track limit in nautical miles; track; `T`/`M`; status `R` report, `C` command |
//! | HTD | the first thirteen of HTC; rudder, heading, track within limit; vessel heading |
//!
//! Sources: E. S. Raymond, *NMEA Revealed*, 2025 (ROT, RSA, HSC); a voyage-recorder maker's
//! interface appendix and the open-source `SwiftNMEA` tests (HTC, HTD).

use super::fields::Fields;
use super::forms::circle;
use super::observation::{
    Direction, Observation, SteeringControl, SteeringFlag, SteeringMode, SteeringOrigin, TurnMode,
};
use super::outcome::DecodeReject;
use super::ranges::{
    CIRCLE_DEG, HALF_CIRCLE_DEG, OFF_TRACK_NMI, RADIUS_NMI, RUDDER_DEG, RUDDER_SIZE_DEG,
    TURN_DEGPMIN, TURN_SIZE_DEGPMIN,
};
use crate::units::{degrees, degrees_per_minute, nautical_miles};

pub(super) fn rot(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    if !fields.is_valid(1, "status")? {
        return Ok(Vec::new());
    }
    let rate = fields.ranged(0, "rate of turn", TURN_DEGPMIN)?;
    Ok(rate
        .map(|v| Observation::RateOfTurn(degrees_per_minute(v)))
        .into_iter()
        .collect())
}

/// The starboard or single rudder where it is valid, else the port one.
pub(super) fn rsa(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let first = fields.is_valid(1, "status of first rudder")?;
    let second = fields.flag(3, "status of second rudder")? == Some(true);
    let first = fields
        .ranged(0, "first rudder", RUDDER_DEG)?
        .filter(|_| first);
    let second = fields
        .ranged(2, "second rudder", RUDDER_DEG)?
        .filter(|_| second);
    Ok(first
        .or(second)
        .map(|v| Observation::Rudder(degrees(v)))
        .into_iter()
        .collect())
}

pub(super) fn hsc(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    if !fields.mode_allows(4)? {
        return Ok(Vec::new());
    }
    let true_north = fields.direction(0, "heading true", "T")?;
    let magnetic = fields.direction(2, "heading magnetic", "M")?;
    if true_north.is_none() && magnetic.is_none() {
        return Ok(Vec::new());
    }
    Ok(vec![Observation::HeadingToSteer {
        true_north,
        magnetic,
    }])
}

pub(super) fn htc(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let flag = fields
        .letter(13, "sentence status", "RC")?
        .map(|flag| match flag {
            'C' => SteeringFlag::Command,
            _ => SteeringFlag::Report,
        });
    steering(fields, SteeringOrigin::Command { flag })
}

pub(super) fn htd(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let origin = SteeringOrigin::State {
        rudder_within_limit: fields.flag(13, "rudder within limit")?,
        heading_within_limit: fields.flag(14, "heading within limit")?,
        track_within_limit: fields.flag(15, "track within limit")?,
        vessel_heading: direction(fields, 16, "vessel heading")?,
    };
    steering(fields, origin)
}

fn steering(fields: &Fields<'_>, origin: SteeringOrigin) -> Result<Vec<Observation>, DecodeReject> {
    if fields.data.bytes().all(|b| b == b',') {
        return Ok(Vec::new());
    }
    let steering_mode = fields
        .letter(3, "steering mode", "MSHTR")?
        .map(|mode| match mode {
            'M' => SteeringMode::Manual,
            'S' => SteeringMode::StandAlone,
            'H' => SteeringMode::HeadingControl,
            'T' => SteeringMode::TrackControl,
            _ => SteeringMode::RudderControl,
        });
    let turn_mode = fields
        .letter(4, "turn mode", "RTN")?
        .map(|mode| match mode {
            'R' => TurnMode::Radius,
            'T' => TurnMode::Rate,
            _ => TurnMode::Uncontrolled,
        });
    Ok(vec![Observation::SteeringControl(SteeringControl {
        origin,
        override_active: fields.flag(0, "override")?,
        rudder: fields
            .with_side(1, "rudder", "RL", RUDDER_SIZE_DEG)?
            .map(degrees),
        steering_mode,
        turn_mode,
        rudder_limit: fields
            .ranged(5, "rudder limit", RUDDER_SIZE_DEG)?
            .map(degrees),
        off_heading_limit: fields
            .ranged(6, "off-heading limit", HALF_CIRCLE_DEG)?
            .map(degrees),
        turn_radius: fields.ranged(7, "radius", RADIUS_NMI)?.map(nautical_miles),
        turn_rate: fields
            .ranged(8, "rate of turn", TURN_SIZE_DEGPMIN)?
            .map(degrees_per_minute),
        heading_to_steer: direction(fields, 9, "heading to steer")?,
        off_track_limit: fields
            .ranged(10, "off-track limit", OFF_TRACK_NMI)?
            .map(nautical_miles),
        track: direction(fields, 11, "track")?,
    })])
}

/// A direction with the reference that the thirteenth field gives for all of them.
fn direction(
    fields: &Fields<'_>,
    index: usize,
    field: &'static str,
) -> Result<Option<Direction>, DecodeReject> {
    let Some(angle_deg) = fields.ranged(index, field, CIRCLE_DEG)? else {
        return Ok(None);
    };
    match fields.north(12, "reference")? {
        Some(north) => Ok(Some(Direction {
            angle: circle(angle_deg),
            north,
        })),
        None => Err(fields.malformed("reference", "a direction without T or M")),
    }
}
