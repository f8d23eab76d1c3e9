//! Motion of the hull: XDR.
//!
//! | kind | fields |
//! |---|---|
//! | XDR | for each transducer: type; value; unit; name. Read are pitch and roll (`A`, degrees `D`, named PITCH, PTCH or TRIM, and ROLL or HEEL) and heave (`D`, metres `M`, named HEAVE) |
//!
//! Other transducers of the sentence are none of ours. Names are the sender's own, so they are told
//! by their beginnings. Signs differ from sender to sender: only how much they vary is used. Source:
//! E. S. Raymond, *NMEA Revealed*, 2025.

use super::fields::Fields;
use super::observation::Observation;
use super::outcome::DecodeReject;
use super::ranges::{HEAVE_M, TILT_DEG};
use crate::units::{degrees, metres};

/// Fields of one transducer.
const FIELDS: usize = 4;

pub(super) fn xdr(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let (mut heave, mut pitch, mut roll) = (None, None, None);
    for i in (0..fields.count() / FIELDS).map(|transducer| transducer * FIELDS) {
        let named = |names: &[&str]| {
            let name = fields.text(i + 3).to_ascii_uppercase();
            names.iter().any(|known| name.starts_with(known))
        };
        match (fields.text(i), fields.text(i + 2)) {
            ("A", "D") if named(&["PITCH", "PTCH", "TRIM"]) => {
                pitch = fields.ranged(i + 1, "pitch", TILT_DEG)?.map(degrees);
            }
            ("A", "D") if named(&["ROLL", "HEEL"]) => {
                roll = fields.ranged(i + 1, "roll", TILT_DEG)?.map(degrees);
            }
            ("D", "M") if named(&["HEAVE"]) => {
                heave = fields.ranged(i + 1, "heave", HEAVE_M)?.map(metres);
            }
            _ => {}
        }
    }
    let moves = heave.is_some() || pitch.is_some() || roll.is_some();
    Ok(moves
        .then_some(Observation::HullMotion { heave, pitch, roll })
        .into_iter()
        .collect())
}
