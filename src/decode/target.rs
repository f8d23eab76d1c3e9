//! What another instrument follows, and a person in the water: TTM, TLL, MOB.
//!
//! | kind | fields |
//! |---|---|
//! | TTM | number; distance; bearing,`T`/`R`; speed; course,`T`/`R`; closest approach; time to it, minutes; unit of distance and speed `K`/`N`/`S`; name; status; reference; time; acquisition (2.3) |
//! | TLL | number; lat,`N`/`S`; lon,`E`/`W`; name; time; status; reference |
//! | MOB | emitter; status; time; source of the position; date; time of the position; lat,`N`/`S`; lon,`E`/`W`; course; speed kn; MMSI; battery |
//!
//! Status of a target: `T` tracked, `Q` being acquired, `L` lost. `R` is relative to the own ship: a
//! bearing from the bow; a relative course is not used, because senders mean different things by it.
//! Of MOB the statuses `A` and `M` count: an emitter or a button calls; `T` is a test, `V` not in use,
//! `E` an error. Sources: TTM and TLL: E. S. Raymond, *NMEA Revealed*, 2025. MOB (4.10): MEMORY.

use super::fields::Fields;
use super::forms::circle;
use super::observation::{Observation, Target, TargetBearing, TargetPlace};
use super::outcome::DecodeReject;
use super::ranges::{CIRCLE_DEG, MOST_TARGET, RANGE_NMI, SPEED_MPS};
use crate::units::{KMH_MPS, KNOT_MPS, MPH_MPS, metres_per_second, nautical_miles};

/// Kilometres and statute miles in nautical miles.
const KM_NMI: f64 = 1.0 / 1.852;
const MILE_NMI: f64 = 1.609_344 / 1.852;

pub(super) fn ttm(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let number = fields.integer(0, "number", MOST_TARGET)?;
    let (mile_nmi, knot_mps) = match fields.letter(9, "units", "KNS")? {
        Some('K') => (KM_NMI, KMH_MPS),
        Some('S') => (MILE_NMI, MPH_MPS),
        _ => (1.0, KNOT_MPS),
    };
    let distance = fields.scaled(1, "distance", mile_nmi, RANGE_NMI)?;
    let bearing = fields.ranged(2, "bearing", CIRCLE_DEG)?.map(circle);
    let from = fields.letter(3, "bearing's reference", "TR")?;
    let speed = fields.scaled(4, "speed", knot_mps, SPEED_MPS)?;
    let course = fields.ranged(5, "course", CIRCLE_DEG)?.map(circle);
    let course_from = fields.letter(6, "course's reference", "TR")?;
    let name = fields.name(10, "name")?;
    let status = fields.letter(11, "status", "LQT")?;
    fields.letter(12, "reference", "R")?;
    fields.time(13, "time")?;
    fields.letter(14, "acquisition", "AMR")?;
    let place = distance
        .zip(bearing)
        .zip(from)
        .map(|((miles, angle), from)| TargetPlace::FromHere {
            distance: nautical_miles(miles),
            bearing: match from {
                'T' => TargetBearing::True(angle),
                _ => TargetBearing::OffBow(angle),
            },
        });
    let motion = course
        .zip(speed)
        .filter(|_| course_from == Some('T'))
        .map(|(course, mps)| (course, metres_per_second(mps)));
    Ok(followed(number, name, status, place, motion))
}

pub(super) fn tll(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let number = fields.integer(0, "number", MOST_TARGET)?;
    let place = fields.position(1)?.map(TargetPlace::At);
    let name = fields.name(5, "name")?;
    fields.time(6, "time")?;
    let status = fields.letter(7, "status", "LQT")?;
    fields.letter(8, "reference", "R")?;
    Ok(followed(number, name, status, place, None))
}

/// A target that is tracked and has a place, or one that is lost.
fn followed(
    number: Option<u32>,
    name: Option<String>,
    status: Option<char>,
    place: Option<TargetPlace>,
    motion: Option<(crate::units::Angle, crate::units::Velocity)>,
) -> Vec<Observation> {
    let Some(number) = number else {
        return Vec::new();
    };
    let place = match status {
        Some('L') => None,
        // Being acquired: its place is not yet a place.
        Some('Q') => return Vec::new(),
        _ if place.is_none() => return Vec::new(),
        _ => place,
    };
    vec![Observation::Target(Target {
        number,
        name,
        place,
        motion,
    })]
}

pub(super) fn mob(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let status = fields.letter(1, "status", "AEMTV")?;
    fields.time(2, "time")?;
    fields.letter(3, "source of the position", "0123456")?;
    fields.date(4)?;
    fields.time(5, "time of the position")?;
    let position = fields.position(6)?;
    fields.ranged(10, "course", CIRCLE_DEG)?;
    fields.scaled(11, "speed", KNOT_MPS, SPEED_MPS)?;
    // Source 6: the position is in error.
    let position = position.filter(|_| fields.text(3) != "6");
    Ok(match (status, position) {
        (Some('A' | 'M'), Some(position)) => vec![Observation::PersonInWater(position)],
        _ => Vec::new(),
    })
}
