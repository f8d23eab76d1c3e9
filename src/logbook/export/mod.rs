//! Days as open formats: GPX 1.1, GeoJSON (RFC 7946), CSV. Pure: rows in, text out.
//!
//! - **GPX**: a track of the boat and one of the bait for each session, bites as waypoints.
//! - **GeoJSON**: the same as lines and points, with times and what was known at a bite.
//! - **CSV**: one table a file. The first line names the columns, as in `schema.sql`; times are RFC
//!   3339, an empty field is what was not known.
//!
//! The words of the crew are in none of them: only what they say. Whoever keeps spots to himself
//! leaves positions out, or makes them coarse.

mod geo;
mod gps;
mod tables;

pub use geo::geojson;
pub use gps::{GpxError, gpx};
pub use tables::{Table, tables};

use super::day::DayRows;
use super::rows::State;

/// Coarse positions are rounded to this, degrees: about 11 km from north to south.
const COARSE_DEG: f64 = 0.1;

/// What is told of positions.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Positions {
    /// All.
    Exact,
    /// Rounded to a tenth of a degree, and nothing of where the bait was.
    Coarse,
    /// Nothing.
    Without,
}

impl Positions {
    /// The same day with no more of positions than that.
    #[must_use]
    pub fn of(self, mut day: DayRows) -> DayRows {
        for session in &mut day.sessions {
            let bites = session.bites.iter_mut().map(|bite| &mut bite.state);
            for state in session.states.iter_mut().chain(bites) {
                self.apply(state);
            }
        }
        day
    }

    fn apply(self, state: &mut State) {
        let coarse = |deg: f64| (deg / COARSE_DEG).round() * COARSE_DEG;
        match self {
            Self::Exact => return,
            Self::Coarse => {
                // To three decimals, so that no trace of a finer one is in a last digit.
                let plain = |deg: f64| (coarse(deg) * 1000.0).round() / 1000.0;
                state.latitude_deg = state.latitude_deg.map(plain);
                state.longitude_deg = state.longitude_deg.map(plain);
            }
            Self::Without => {
                state.latitude_deg = None;
                state.longitude_deg = None;
            }
        }
        state.bait_astern_m = None;
        state.bait_starboard_m = None;
    }
}
