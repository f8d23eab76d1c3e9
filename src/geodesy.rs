//! Distances, bearings and places on the earth: the one owner of them. The earth is the WGS 84
//! ellipsoid, the solution that of C. F. F. Karney, *Algorithms for geodesics*, J. Geodesy 87 (2013),
//! in the crate `geographiclib-rs`: right at any distance and across the date line.
//!
//! Within [`MOST_LATITUDE_DEG`] only: nearer to a pole a bearing turns by degrees within a boat's
//! length, and metres east and north mean nothing.

use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic};
use serde::Serialize;

use crate::angles::wrap_positive;

/// No place further north or south has bearings here: one degree of latitude from a pole.
pub const MOST_LATITUDE_DEG: f64 = 89.0;

/// Latitude and longitude, WGS 84.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Position {
    /// North positive.
    pub latitude_deg: f64,
    /// East positive.
    pub longitude_deg: f64,
}

/// The way from one place to another, as metres east and north on the plane that touches the earth
/// at the first: its length and its bearing there are those of the shortest way.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Offset {
    /// East positive.
    pub east_m: f64,
    /// North positive.
    pub north_m: f64,
}

/// Why there is no way to or from a place.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum NoWay {
    /// Too near to a pole.
    #[error(
        "latitude {latitude_deg:.5}: within one degree of a pole bearings mean nothing; give a \
         place from 89 degrees south to 89 degrees north"
    )]
    NearPole {
        /// Of the place.
        latitude_deg: f64,
    },
    /// Not a place on the earth.
    #[error(
        "latitude {latitude_deg}, longitude {longitude_deg}: not a place on the earth; give degrees, \
         latitude from -89 to 89 and longitude from -180 to 180"
    )]
    NoPlace {
        /// As given.
        latitude_deg: f64,
        /// As given.
        longitude_deg: f64,
    },
}

impl Position {
    /// The place, if bearings mean something there.
    ///
    /// # Errors
    /// [`NoWay`], which names the place and the cure.
    pub fn usable(self) -> Result<Self, NoWay> {
        let Self {
            latitude_deg,
            longitude_deg,
        } = self;
        if !(latitude_deg.abs() <= 90.0 && longitude_deg.abs() <= 180.0) {
            return Err(NoWay::NoPlace {
                latitude_deg,
                longitude_deg,
            });
        }
        if latitude_deg.abs() > MOST_LATITUDE_DEG {
            return Err(NoWay::NearPole { latitude_deg });
        }
        Ok(self)
    }

    /// The shortest way from here to there.
    ///
    /// # Errors
    /// [`NoWay`] when one of the two is near a pole or no place.
    pub fn way_to(self, there: Self) -> Result<Offset, NoWay> {
        let (here, there) = (self.usable()?, there.usable()?);
        let (range_m, bearing_deg, _, _) = Geodesic::wgs84().inverse(
            here.latitude_deg,
            here.longitude_deg,
            there.latitude_deg,
            there.longitude_deg,
        );
        Ok(Offset::polar(bearing_deg.to_radians(), range_m))
    }

    /// The place at the end of this way.
    ///
    /// # Errors
    /// [`NoWay`] when either end is near a pole or no place.
    pub fn moved(self, by: Offset) -> Result<Self, NoWay> {
        let here = self.usable()?;
        let bearing_deg = by.bearing_rad().to_degrees();
        let (latitude_deg, longitude_deg) = Geodesic::wgs84().direct(
            here.latitude_deg,
            here.longitude_deg,
            bearing_deg,
            by.range_m(),
        );
        Self {
            latitude_deg,
            longitude_deg,
        }
        .usable()
    }
}

impl Offset {
    /// Nowhere.
    pub const ZERO: Self = Self {
        east_m: 0.0,
        north_m: 0.0,
    };

    /// So far on this bearing, clockwise from true north.
    #[must_use]
    pub fn polar(bearing_rad: f64, range_m: f64) -> Self {
        Self {
            east_m: range_m * bearing_rad.sin(),
            north_m: range_m * bearing_rad.cos(),
        }
    }

    /// Its length.
    #[must_use]
    pub fn range_m(self) -> f64 {
        self.east_m.hypot(self.north_m)
    }

    /// Its bearing, clockwise from true north, 0..2 pi; 0 when it is nowhere.
    #[must_use]
    pub fn bearing_rad(self) -> f64 {
        wrap_positive(self.east_m.atan2(self.north_m))
    }

    /// This way and then that one, near enough to be flat.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        Self {
            east_m: self.east_m + other.east_m,
            north_m: self.north_m + other.north_m,
        }
    }

    /// The same bearing, so many times as far.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self {
            east_m: factor * self.east_m,
            north_m: factor * self.north_m,
        }
    }
}
