//! Speed and course: VHW, VBW, VTG.
//!
//! | kind | fields |
//! |---|---|
//! | VHW | heading,`T`; heading,`M`; speed through the water,`N`; the same,`K` |
//! | VBW | along,across the keel through the water in kn; status; along,across over the ground; status; (stern: across through the water; status; across over the ground; status) |
//! | VTG | course,`T`; course,`M`; speed over the ground,`N`; the same,`K`; mode (2.3 and later) |
//!
//! VTG of the earliest edition has four fields and no letters. Sources: E. S. Raymond, *NMEA
//! Revealed*, 2025 (VHW, VTG, VBW). Minus is astern and to port.

use super::fields::Fields;
use super::forms::circle;
use super::heading::{magnetic, true_north};
use super::observation::Observation;
use super::outcome::DecodeReject;
use super::ranges::{AXIS_SPEED_MPS, CIRCLE_DEG, SPEED_MPS};
use crate::units::{Angle, KMH_MPS, KNOT_MPS, Velocity, metres_per_second};

pub(super) fn vhw(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    // A heading without its letter counts for nothing; the speed beside it does.
    let heading = |index, field, letter| -> Result<Option<Angle>, DecodeReject> {
        if fields.text(index + 1).is_empty() {
            return fields.number(index, field).map(|_| None);
        }
        fields.direction(index, field, letter)
    };
    let (true_heading, magnetic_heading) = (
        heading(0, "heading true", "T")?,
        heading(2, "heading magnetic", "M")?,
    );
    let water = fields.same_quantity(
        "speed",
        AXIS_SPEED_MPS,
        &[(4, "N", KNOT_MPS), (6, "K", KMH_MPS)],
    )?;
    let water = water.map(|speed_mps| Observation::WaterSpeed {
        longitudinal: metres_per_second(speed_mps),
        transverse: None,
    });
    Ok(
        [true_north(true_heading), magnetic(magnetic_heading), water]
            .into_iter()
            .flatten()
            .collect(),
    )
}

pub(super) fn vbw(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let water = axes(fields, 0)?.map(|(longitudinal, transverse)| Observation::WaterSpeed {
        longitudinal,
        transverse,
    });
    let ground = axes(fields, 3)?.map(|(longitudinal, transverse)| Observation::GroundSpeedAxes {
        longitudinal,
        transverse,
    });
    Ok(water.into_iter().chain(ground).collect())
}

fn axes(
    fields: &Fields<'_>,
    index: usize,
) -> Result<Option<(Velocity, Option<Velocity>)>, DecodeReject> {
    if !fields.is_valid(index + 2, "status")? {
        return Ok(None);
    }
    let speed = |at, field| -> Result<Option<Velocity>, DecodeReject> {
        Ok(fields
            .scaled(at, field, KNOT_MPS, AXIS_SPEED_MPS)?
            .map(metres_per_second))
    };
    let transverse = speed(index + 1, "speed across")?;
    Ok(speed(index, "speed along")?.map(|along| (along, transverse)))
}

pub(super) fn vtg(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let (true_north, magnetic, speed) = if fields.count() == 4 {
        let course = |index, field| fields.ranged(index, field, CIRCLE_DEG);
        let knots_mps = fields.scaled(2, "speed", KNOT_MPS, SPEED_MPS)?;
        let kmh_mps = fields.scaled(3, "speed", KMH_MPS, SPEED_MPS)?;
        (
            course(0, "course true")?.map(circle),
            course(1, "course magnetic")?.map(circle),
            knots_mps.or(kmh_mps),
        )
    } else {
        if fields.count() < 8 {
            return Err(fields.malformed("number of fields", fields.data));
        }
        if !fields.mode_allows(8)? {
            return Ok(Vec::new());
        }
        (
            fields.direction(0, "course true", "T")?,
            fields.direction(2, "course magnetic", "M")?,
            fields.same_quantity("speed", SPEED_MPS, &[(4, "N", KNOT_MPS), (6, "K", KMH_MPS)])?,
        )
    };
    Ok(course_and_speed(
        true_north,
        magnetic,
        speed.map(metres_per_second),
    ))
}

pub(super) fn course_and_speed(
    true_north: Option<Angle>,
    magnetic: Option<Angle>,
    speed: Option<Velocity>,
) -> Vec<Observation> {
    let course =
        (true_north.is_some() || magnetic.is_some()).then_some(Observation::CourseOverGround {
            true_north,
            magnetic,
        });
    course
        .into_iter()
        .chain(speed.map(Observation::SpeedOverGround))
        .collect()
}
