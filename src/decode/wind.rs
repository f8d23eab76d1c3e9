//! Wind: MWV, MWD, VWR, VWT.
//!
//! | kind | fields |
//! |---|---|
//! | MWV | angle from bow 0-359, or -180 to 180; `R` relative or `T` theoretical; speed; `K` `M` `N` `S`; status |
//! | MWD | direction,`T`; direction,`M`; speed,`N`; speed,`M` |
//! | VWR | angle 0-180; `L` or `R` of the bow; speed,`N`; speed,`M`; speed,`K` |
//! | VWT | as VWR, for the theoretical wind |
//!
//! Sources: E. S. Raymond, *NMEA Revealed*, 2025 (MWV, MWD, VWR); source comments of the
//! `go-nmea` library (VWT). Seen in the field, no source: `S`, statute miles an hour, and MWV with
//! negative angles, to port of the bow.

use super::fields::Fields;
use super::forms::circle;
use super::observation::Observation;
use super::outcome::DecodeReject;
use super::ranges::{FROM_BOW_DEG, HALF_CIRCLE_DEG, SPEED_MPS};
use crate::units::{Angle, KMH_MPS, KNOT_MPS, MPH_MPS, Velocity, metres_per_second};

pub(super) fn mwv(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    if !fields.is_valid(4, "status")? {
        return Ok(Vec::new());
    }
    let angle = fields.ranged(0, "angle", FROM_BOW_DEG)?.map(|angle_deg| {
        circle(if angle_deg < 0.0 {
            angle_deg + 360.0
        } else {
            angle_deg
        })
    });
    let unit = fields.letter(3, "speed unit", "KMNS")?;
    let unit_mps = match unit {
        Some('K') => KMH_MPS,
        Some('M') => 1.0,
        Some('N') => KNOT_MPS,
        Some(_) => MPH_MPS,
        None if fields.text(2).is_empty() => 1.0,
        None => return Err(fields.malformed("speed unit", fields.text(3))),
    };
    let speed = fields
        .scaled(2, "speed", unit_mps, SPEED_MPS)?
        .map(metres_per_second);
    match fields.letter(1, "reference", "RT")? {
        Some('R') => Ok(apparent(angle, speed)),
        Some(_) => Ok(theoretical(angle, speed)),
        None => Err(fields.malformed("reference", fields.text(1))),
    }
}

pub(super) fn mwd(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let direction_true = fields.direction(0, "direction true", "T")?;
    let direction_magnetic = fields.direction(2, "direction magnetic", "M")?;
    let speed = fields
        .same_quantity("speed", SPEED_MPS, &[(4, "N", KNOT_MPS), (6, "M", 1.0)])?
        .map(metres_per_second);
    if direction_true.is_none() && direction_magnetic.is_none() && speed.is_none() {
        return Ok(Vec::new());
    }
    Ok(vec![Observation::WindDirection {
        direction_true,
        direction_magnetic,
        speed,
    }])
}

pub(super) fn vwr(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let (angle, speed) = side_and_speed(fields)?;
    Ok(apparent(angle, speed))
}

pub(super) fn vwt(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let (angle, speed) = side_and_speed(fields)?;
    Ok(theoretical(angle, speed))
}

fn side_and_speed(fields: &Fields<'_>) -> Result<(Option<Angle>, Option<Velocity>), DecodeReject> {
    let to_starboard = fields.letter(1, "side", "RL")?.map(|side| side == 'R');
    let angle = match (fields.ranged(0, "angle", HALF_CIRCLE_DEG)?, to_starboard) {
        (None, _) => None,
        // Dead ahead and dead astern have no side.
        (Some(angle), _) if angle == 0.0 || angle == 180.0 => Some(angle),
        (Some(angle), Some(true)) => Some(angle),
        (Some(angle), Some(false)) => Some(360.0 - angle),
        (Some(_), None) => return Err(fields.malformed("side", fields.text(1))),
    };
    let speed = fields.same_quantity(
        "speed",
        SPEED_MPS,
        &[(2, "N", KNOT_MPS), (4, "M", 1.0), (6, "K", KMH_MPS)],
    )?;
    Ok((angle.map(circle), speed.map(metres_per_second)))
}

fn apparent(angle: Option<Angle>, speed: Option<Velocity>) -> Vec<Observation> {
    if angle.is_none() && speed.is_none() {
        return Vec::new();
    }
    vec![Observation::ApparentWind { angle, speed }]
}

fn theoretical(angle: Option<Angle>, speed: Option<Velocity>) -> Vec<Observation> {
    if angle.is_none() && speed.is_none() {
        return Vec::new();
    }
    vec![Observation::TheoreticalWind { angle, speed }]
}
