//! Heading: HDG, HDM, HDT, THS.
//!
//! | kind | fields |
//! |---|---|
//! | HDG | sensor heading; deviation,`E`/`W`; variation,`E`/`W` |
//! | HDM | magnetic heading,`M` |
//! | HDT | true heading,`T` |
//! | THS | true heading; mode `A` autonomous, `E` estimated, `M` manual, `S` simulated, `V` not valid |
//!
//! Sources: E. S. Raymond, *NMEA Revealed*, 2025; for THS a radar maker's interface appendix.
//! Only mode `A` of THS counts.

use super::fields::Fields;
use super::forms::circle;
use super::observation::{HeadingObservation, Observation};
use super::outcome::DecodeReject;
use super::ranges::{CIRCLE_DEG, VARIATION_DEG};
use crate::units::{Angle, degrees};

pub(super) fn hdg(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let sensor = fields.ranged(0, "sensor heading", CIRCLE_DEG)?.map(circle);
    let deviation = fields
        .with_side(1, "deviation", "EW", VARIATION_DEG)?
        .map(degrees);
    let variation = fields
        .with_side(3, "variation", "EW", VARIATION_DEG)?
        .map(degrees);
    let heading = sensor.map(|sensor| {
        Observation::Heading(HeadingObservation::Compass {
            sensor,
            deviation,
            variation,
        })
    });
    Ok(heading
        .into_iter()
        .chain(variation.map(Observation::Variation))
        .collect())
}

pub(super) fn hdm(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let heading = fields.direction(0, "heading", "M")?;
    Ok(magnetic(heading).into_iter().collect())
}

pub(super) fn hdt(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    if fields.text(0).is_empty() {
        return Ok(Vec::new());
    }
    let heading = fields.direction(0, "heading", "T")?;
    Ok(true_north(heading).into_iter().collect())
}

pub(super) fn ths(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let heading = fields.ranged(0, "heading", CIRCLE_DEG)?.map(circle);
    let valid = fields.letter(1, "mode", "AEMSV")? == Some('A');
    Ok(true_north(heading.filter(|_| valid)).into_iter().collect())
}

pub(super) fn true_north(heading: Option<Angle>) -> Option<Observation> {
    heading.map(|heading| Observation::Heading(HeadingObservation::True { heading }))
}

pub(super) fn magnetic(heading: Option<Angle>) -> Option<Observation> {
    heading.map(|heading| Observation::Heading(HeadingObservation::Magnetic { heading }))
}
