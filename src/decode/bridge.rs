//! Single-sentence decoders of the general-purpose `nmea` crate, behind our own checks of frame,
//! form and range. Used where version 0.8 is sound: GGA, BWC, BOD, MTW.
//!
//! Not used, and why (measured with 0.8.0): HDT gives single precision only; VHW checks neither of the
//! two speeds against the other, and its headings are two numbers with letters; MWV refuses a good
//! angle whose speed and unit are empty, and every empty reference; RMC refuses the form without
//! variation and second 60; GLL refuses the forms before 2.3; VTG drops the magnetic course and never
//! takes the km/h; DPT refuses a negative offset and a missing one; GNS refuses an empty satellite
//! count; ZDA refuses second 60. The rest it does not decode. Its stateful parser can panic and is
//! never used.
//!
//! Its numbers pass unchecked (`nan`, 999 degrees) and text after the last field is ignored: the
//! caller checks the form of every field before and the range of every value after. Several are
//! single precision; [`as_printed`] gives back the decimal that the sender wrote.

use std::io::Write;

use nmea::sentences::{
    bod::{BodData, parse_bod},
    bwc::{BwcData, parse_bwc},
    gga::{GgaData, parse_gga},
    mtw::{MtwData, parse_mtw},
};
use nmea::{Error, NmeaSentence, SentenceType};

use super::fields::Fields;
use super::geo::GeoPosition;
use super::outcome::DecodeReject;
use super::ranges::{LATITUDE_DEG, LONGITUDE_DEG};
use crate::units::degrees;

fn run<'a, T>(
    fields: &Fields<'a>,
    message_id: SentenceType,
    decoder: fn(NmeaSentence<'a>) -> Result<T, Error<'a>>,
) -> Result<T, DecodeReject> {
    decoder(NmeaSentence {
        talker_id: "--",
        message_id,
        data: fields.data,
        checksum: 0,
    })
    .map_err(|_| fields.malformed("whole sentence", fields.data))
}

pub(super) fn gga(fields: &Fields<'_>) -> Result<GgaData, DecodeReject> {
    run(fields, SentenceType::GGA, parse_gga)
}

pub(super) fn bwc(fields: &Fields<'_>) -> Result<BwcData, DecodeReject> {
    run(fields, SentenceType::BWC, parse_bwc)
}

pub(super) fn bod(fields: &Fields<'_>) -> Result<BodData, DecodeReject> {
    run(fields, SentenceType::BOD, parse_bod)
}

pub(super) fn mtw(fields: &Fields<'_>) -> Result<MtwData, DecodeReject> {
    run(fields, SentenceType::MTW, parse_mtw)
}

/// A position that one of the decoders gives, once it is within range.
pub(super) fn position(
    fields: &Fields<'_>,
    latitude_deg: Option<f64>,
    longitude_deg: Option<f64>,
) -> Result<Option<GeoPosition>, DecodeReject> {
    let Some((latitude_deg, longitude_deg)) = latitude_deg.zip(longitude_deg) else {
        return Ok(None);
    };
    Ok(Some(GeoPosition {
        latitude: degrees(LATITUDE_DEG.gate(fields.kind, "latitude", latitude_deg)?),
        longitude: degrees(LONGITUDE_DEG.gate(fields.kind, "longitude", longitude_deg)?),
    }))
}

/// A single-precision value as the decimal it was read from: the shortest decimal that gives the
/// same single-precision number, which is the sender's own up to seven digits. Plain widening
/// would turn 214.8 into 214.800003.
pub(super) fn as_printed(value: f32) -> f64 {
    // The longest takes 48 characters.
    let mut text = [0; 64];
    let size = text.len();
    let mut room = &mut text[..];
    if write!(room, "{value}").is_err() {
        return f64::NAN;
    }
    let printed = size - room.len();
    std::str::from_utf8(&text[..printed])
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(f64::NAN)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    #[expect(clippy::float_cmp, reason = "the decimal must come back exactly")]
    fn printed_decimals_survive_single_precision() {
        for text in ["214.8", "10.1", "274.07", "0.1", "359.999", "123.4567"] {
            assert_eq!(
                as_printed(text.parse().unwrap()),
                text.parse::<f64>().unwrap(),
                "{text}"
            );
        }
    }
}
