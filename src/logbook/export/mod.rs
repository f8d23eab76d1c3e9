//! Days as open formats: GPX 1.1, GeoJSON (RFC 7946), CSV, Apache Parquet. Pure: rows in, bytes out.
//!
//! - **GPX**: a track of the boat and one of the bait for each session, bites and marks as waypoints.
//! - **GeoJSON**: the same as lines and points, with times and what was known at a bite.
//! - **CSV and Parquet**: one table a file; `tables` owns the columns and says what each means.
//!
//! The words of the crew are in none of them: only what they say. Whoever keeps spots to himself
//! leaves positions out, or makes them coarse; then names of marks are left out, too.

mod columnar;
mod columns;
mod geo;
mod gps;
mod table;
mod tables;
mod text;

pub use columnar::parquet;
pub use geo::geojson;
pub use gps::gpx;
pub use table::{Cell, Column, Kind, Table};
pub use tables::{TABLES, columns_text, table_of, tables};
pub use text::csv;

use super::day::DayRows;
use super::marks::MarkRow;
use super::rows::State;

/// Why days cannot be written in a format.
#[derive(Debug, thiserror::Error)]
#[error("cannot be written as {format}: {why}")]
pub struct ExportError {
    format: &'static str,
    why: String,
}

impl ExportError {
    fn new(format: &'static str, why: &impl ToString) -> Self {
        let why = why.to_string();
        Self { format, why }
    }
}

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
            let marks = session.marks.iter_mut().map(|mark| &mut mark.last);
            for mark in marks.chain(&mut session.mark_changes) {
                self.apply_to_mark(mark);
            }
        }
        day
    }

    fn apply(self, state: &mut State) {
        state.latitude_deg = self.told(state.latitude_deg);
        state.longitude_deg = self.told(state.longitude_deg);
        if self != Self::Exact {
            state.bait_astern_m = None;
            state.bait_starboard_m = None;
        }
    }

    fn apply_to_mark(self, mark: &mut MarkRow) {
        mark.latitude_deg = self.told(mark.latitude_deg);
        mark.longitude_deg = self.told(mark.longitude_deg);
        if self != Self::Exact {
            // A name can tell a place.
            mark.name = None;
        }
    }

    /// What is told of a latitude or longitude.
    fn told(self, deg: Option<f64>) -> Option<f64> {
        match self {
            Self::Exact => deg,
            // To three decimals, so that no trace of a finer one is in a last digit.
            Self::Coarse => {
                let coarse = |deg: f64| (deg / COARSE_DEG).round() * COARSE_DEG;
                deg.map(|deg| (coarse(deg) * 1000.0).round() / 1000.0)
            }
            Self::Without => None,
        }
    }
}
