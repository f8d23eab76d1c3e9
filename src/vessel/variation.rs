//! Magnetic variation from the World Magnetic Model when the network gives none.
//!
//! Model and coefficients: crate `world_magnetic_model` (NOAA / BGS WMM2025 and WMM2020), good from
//! 2020 to 2029. Its own error is about 0.4 degrees away from the magnetic poles (1 sigma, NOAA's
//! error model).

use chrono::{Datelike, NaiveDate};
use world_magnetic_model::GeomagneticField;
use world_magnetic_model::time::Date;
use world_magnetic_model::uom::si::angle::radian;
use world_magnetic_model::uom::si::f32::{Angle, Length};
use world_magnetic_model::uom::si::length::meter;

use crate::geodesy::Position;

/// First and last day of the model.
const FIRST_YEAR: i32 = 2020;
const LAST_YEAR: i32 = 2029;

/// Variation at one place and day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ModelVariation {
    /// Positive east.
    pub east_rad: f64,
    /// The day asked for lay outside the model, and its nearest day was used.
    pub beyond_model: bool,
}

/// Variation at sea level. Outside the years of the model its nearest day is used, and the answer
/// says so (variation drifts by 0.1 to 0.2 degrees a year in most waters). `None` where the model
/// has no answer (an impossible position).
pub(super) fn model_variation(position: Position, day: NaiveDate) -> Option<ModelVariation> {
    let (year, ordinal) = match day.year() {
        year if year < FIRST_YEAR => (FIRST_YEAR, 1),
        year if year > LAST_YEAR => (LAST_YEAR, 365),
        year => (year, day.ordinal()),
    };
    let date = Date::from_ordinal_date(year, u16::try_from(ordinal).ok()?).ok()?;
    let field = GeomagneticField::new(
        Length::new::<meter>(0.0),
        Angle::new::<radian>(position.latitude_deg.to_radians() as f32),
        Angle::new::<radian>(position.longitude_deg.to_radians() as f32),
        date,
    )
    .ok()?;
    let east_rad = f64::from(field.declination().get::<radian>());
    east_rad.is_finite().then_some(ModelVariation {
        east_rad,
        beyond_model: year != day.year(),
    })
}

/// Whether a sender's date can be true for the model. A receiver whose week counter has rolled
/// over sends a date 1024 weeks old and fails here.
pub(super) fn is_model_year(day: NaiveDate) -> bool {
    (FIRST_YEAR..=LAST_YEAR).contains(&day.year())
}
