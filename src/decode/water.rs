//! The water below: DPT, DBT, MTW.
//!
//! | kind | fields |
//! |---|---|
//! | DPT | depth below the transducer in metres; offset, plus to the waterline, minus to the keel; range scale (3.0) |
//! | DBT | depth below the transducer in feet,`f`; in metres,`M`; in fathoms,`F` |
//! | MTW | water temperature,`C` |
//!
//! Source: E. S. Raymond, *NMEA Revealed*, 2025. A foot is 0.3048 m, a fathom six feet.

use super::bridge;
use super::fields::Fields;
use super::observation::Observation;
use super::outcome::DecodeReject;
use super::ranges::{DEPTH_M, DEPTH_OFFSET_M, WATER_DEGC};
use crate::units::{celsius, metres};

const FOOT_M: f64 = 0.3048;

pub(super) fn dpt(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let depth = fields.ranged(0, "depth", DEPTH_M)?;
    let offset = fields.ranged(1, "offset", DEPTH_OFFSET_M)?;
    fields.ranged(2, "range scale", DEPTH_M)?;
    Ok(depth
        .map(|depth_m| Observation::Depth {
            below_transducer: metres(depth_m),
            offset: offset.map(metres),
        })
        .into_iter()
        .collect())
}

pub(super) fn dbt(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let depth = fields.same_quantity(
        "depth",
        DEPTH_M,
        &[(2, "M", 1.0), (0, "f", FOOT_M), (4, "F", 6.0 * FOOT_M)],
    )?;
    Ok(depth
        .map(|depth_m| Observation::Depth {
            below_transducer: metres(depth_m),
            offset: None,
        })
        .into_iter()
        .collect())
}

pub(super) fn mtw(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    if fields.text(0).is_empty() {
        return Ok(Vec::new());
    }
    fields.with_letter(0, "temperature", "C", WATER_DEGC)?;
    let temperature = bridge::mtw(fields)?
        .temperature
        .map(|t| WATER_DEGC.gate(fields.kind, "temperature", t))
        .transpose()?;
    Ok(temperature
        .map(|t| Observation::WaterTemperature(celsius(t)))
        .into_iter()
        .collect())
}
