//! Time: ZDA.
//!
//! | kind | fields |
//! |---|---|
//! | ZDA | time; day; month; year of four digits; hours and minutes of the local zone |
//!
//! The zone is checked and not used: everything here is UTC. A date of which a part is missing
//! counts as absent. Source: E. S. Raymond, *NMEA Revealed*, 2025.

use super::fields::Fields;
use super::observation::Observation;
use super::outcome::DecodeReject;
use super::ranges::{ZONE_HOURS, ZONE_MINUTES};

pub(super) fn zda(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    fields.ranged(4, "zone hours", ZONE_HOURS)?;
    fields.ranged(5, "zone minutes", ZONE_MINUTES)?;
    let day = fields.integer(1, "day", 31)?;
    let month = fields.integer(2, "month", 12)?;
    let year = fields.integer(3, "year", 9999)?;
    let date = match (day, month, year) {
        (Some(day), Some(month), Some(year)) => {
            Some(fields.calendar(year, month, day, fields.data)?)
        }
        _ => None,
    };
    let time = fields.time(0, "time")?;
    Ok(time
        .map(|time| Observation::Utc { date, time })
        .into_iter()
        .collect())
}
