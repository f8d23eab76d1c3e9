//! Position: RMC, GGA, GNS, GLL.
//!
//! | kind | fields |
//! |---|---|
//! | RMC | time; status; lat,`N`/`S`; lon,`E`/`W`; speed kn; course true; ddmmyy; variation,`E`/`W`; mode (2.3); navigational status (4.1) |
//! | GGA | time; lat,`N`/`S`; lon,`E`/`W`; quality 0-8; satellites; dilution; altitude,`M`; geoid,`M`; age; station |
//! | GNS | time; lat,`N`/`S`; lon,`E`/`W`; mode, a letter for each satellite system; satellites; dilution; altitude; geoid; age; station; navigational status (4.1) |
//! | GLL | lat,`N`/`S`; lon,`E`/`W`; time; status (both from 2.0); mode (2.3) |
//!
//! RMC may end after the date (no variation), after the variation, after the mode or after the
//! navigational status. Qualities 1 to 5 of GGA count; estimated, manual and simulated fixes do
//! not. GNS counts when one system has a fix that counts. Sources: E. S. Raymond, *NMEA
//! Revealed*, 2025; G. Baddeley, *GPS - NMEA sentence information*.

use chrono::{NaiveDate, NaiveTime};

use super::bridge;
use super::fields::Fields;
use super::forms::circle;
use super::geo::GeoPosition;
use super::observation::Observation;
use super::outcome::DecodeReject;
use super::ranges::{CIRCLE_DEG, SPEED_MPS, VARIATION_DEG};
use super::speed::course_and_speed;
use crate::units::{KNOT_MPS, degrees, metres_per_second};

pub(super) fn rmc(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let status = fields.letter(1, "status", "ADV")?;
    let mode_good = fields.mode_allows(11)?;
    fields.letter(12, "navigational status", "SCUV")?;
    if !matches!(status, Some('A' | 'D')) || !mode_good {
        return Ok(Vec::new());
    }
    let mut seen = place_and_time(
        fields.position(2)?,
        fields.date(8)?,
        fields.time(0, "time")?,
    );
    let speed = fields
        .scaled(6, "speed", KNOT_MPS, SPEED_MPS)?
        .map(metres_per_second);
    let course = fields.ranged(7, "course", CIRCLE_DEG)?.map(circle);
    seen.extend(course_and_speed(course, None, speed));
    seen.extend(
        fields
            .with_side(9, "variation", "EW", VARIATION_DEG)?
            .map(|v| Observation::Variation(degrees(v))),
    );
    Ok(seen)
}

pub(super) fn gga(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    if fields.letter(5, "quality", "012345678")?.is_none() {
        return Ok(Vec::new());
    }
    fields.position(1)?;
    fields.time(0, "time")?;
    let data = bridge::gga(fields)?;
    if !data
        .fix_type
        .is_some_and(nmea::sentences::FixType::is_valid)
    {
        return Ok(Vec::new());
    }
    let place = bridge::position(fields, data.latitude, data.longitude)?;
    Ok(place_and_time(place, None, data.fix_time))
}

pub(super) fn gns(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let modes = fields.text(5);
    if !modes.chars().all(|mode| "ADEFMNPRS".contains(mode)) {
        return Err(fields.malformed("mode", modes));
    }
    fields.letter(12, "navigational status", "SCUV")?;
    let place = fields.position(1)?;
    let time = fields.time(0, "time")?;
    if !modes.contains(['A', 'D', 'F', 'P', 'R']) {
        return Ok(Vec::new());
    }
    Ok(place_and_time(place, None, time))
}

pub(super) fn gll(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    // The first edition has neither time nor status.
    let valid = fields.count() == 4 || fields.is_valid(5, "status")?;
    if !valid || !fields.mode_allows(6)? {
        return Ok(Vec::new());
    }
    Ok(place_and_time(
        fields.position(0)?,
        None,
        fields.time(4, "time")?,
    ))
}

fn place_and_time(
    place: Option<GeoPosition>,
    date: Option<NaiveDate>,
    time: Option<NaiveTime>,
) -> Vec<Observation> {
    time.map(|time| Observation::Utc { date, time })
        .into_iter()
        .chain(place.map(Observation::Position))
        .collect()
}
