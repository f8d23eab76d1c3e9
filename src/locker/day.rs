//! Today: wind, boat speed and course against the wind, kite line out.
//! In: what is asked, what is measured, what is set. Out: one number each, and which it was.

use serde::Serialize;
use utoipa::ToSchema;

use super::parts::Locker;
use crate::angles::wrap_signed_deg;
use crate::rig::{Conditions, Current, Wind};
use crate::units::KNOT_MPS;

/// Gust of 3 s over a mean of 10 min near a coast with the wind from the sea: 1.38 (WMO/TD-No. 1555,
/// table 1.1, second-hand). Measured in tropical cyclones, so an upper guide for everyday winds.
pub const SEA_GUST_FACTOR: f64 = 1.38;
/// Course off the true wind while none is known: at 14 kn of wind and 6 kn of boat it leads the kite
/// off about 45 degrees from dead astern (own arithmetic), where bites are best by common practice.
pub const USUAL_OFF_BOW_DEG: f64 = 60.0;
/// Kite line out while none is known, m (that of the reference cases, invented).
pub const USUAL_KITE_LINE_M: f64 = 100.0;
/// Mean wind while none is known: 14 kn (invented).
pub const USUAL_WIND_MPS: f64 = 14.0 * KNOT_MPS;
/// Trolling speed while none is known: 6 kn (that of the reference cases, invented).
pub const USUAL_SPEED_MPS: f64 = 6.0 * KNOT_MPS;
/// Exponent of the wind profile over open sea: 0.11 (Hsu, Meindl and Gilhousen 1994, from memory).
const USUAL_EXPONENT: f64 = 0.11;
/// Least lull, share of the mean (assumption).
const LEAST_LULL: f64 = 0.3;

/// Ranges of what may be asked, in the units of [`Day`].
pub const WIND_MPS: [f64; 2] = [0.5, 40.0];
/// See [`WIND_MPS`].
pub const GUST_MPS: [f64; 2] = [0.5, 60.0];
/// See [`WIND_MPS`].
pub const SPEED_MPS: [f64; 2] = [0.0, 15.0];
/// See [`WIND_MPS`].
pub const OFF_BOW_DEG: [f64; 2] = [0.0, 180.0];
/// See [`WIND_MPS`].
pub const KITE_LINE_OUT_M: [f64; 2] = [10.0, 400.0];

/// What is known of a day; `None` where nothing is.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Known {
    /// Mean true wind at 10 m, m/s.
    pub wind_mps: Option<f64>,
    /// Gusts at 10 m, m/s.
    pub gust_mps: Option<f64>,
    /// Boat through the water, m/s.
    pub speed_mps: Option<f64>,
    /// True wind off the bow, degrees, 0 to 180.
    pub off_bow_deg: Option<f64>,
    /// Kite line out, m.
    pub kite_line_out_m: Option<f64>,
}

/// Where a number of the day comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Origin {
    /// From whoever asks.
    Asked,
    /// From the instruments, or from what the crew has told.
    Measured,
    /// From the settings.
    Set,
    /// Nobody knows it: a typical number stands in.
    Assumed,
}

/// Where the numbers of the day come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct DayOrigin {
    /// Mean wind.
    pub wind: Origin,
    /// Gusts; assumed: 1.38 times the mean (WMO/TD-No. 1555, wind from the sea near a coast).
    pub gust: Origin,
    /// Boat's speed.
    pub speed: Origin,
    /// Course against the wind.
    pub off_bow: Origin,
    /// Kite line out.
    pub kite_line_out: Origin,
}

impl DayOrigin {
    /// All of it is asked.
    pub const ASKED: Self = Self {
        wind: Origin::Asked,
        gust: Origin::Asked,
        speed: Origin::Asked,
        off_bow: Origin::Asked,
        kite_line_out: Origin::Asked,
    };
}

/// Today, as it is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Day {
    /// Mean true wind at 10 m.
    pub wind_mps: f64,
    /// Gusts at 10 m.
    pub gust_mps: f64,
    /// Boat through the water.
    pub speed_mps: f64,
    /// True wind off the bow, 0 ahead, 180 astern.
    pub off_bow_deg: f64,
    /// Kite line out, rod tip to kite.
    pub kite_line_out_m: f64,
}

impl Day {
    /// The day: what is asked goes before what is measured, that before the settings, and typical
    /// numbers stand in for the rest. A gust measured with another wind than the one asked is none,
    /// and a gust below the mean is the mean.
    #[must_use]
    pub fn of(asked: &Known, measured: &Known, locker: &Locker) -> (Self, DayOrigin) {
        let first = |asked: Option<f64>, measured: Option<f64>, usual: f64| match (asked, measured)
        {
            (Some(asked), _) => (asked, Origin::Asked),
            (None, Some(measured)) => (measured, Origin::Measured),
            (None, None) => (usual, Origin::Assumed),
        };
        let (wind_mps, wind) = first(asked.wind_mps, measured.wind_mps, USUAL_WIND_MPS);
        let measured_gust = measured.gust_mps.filter(|_| wind == Origin::Measured);
        let (gust_mps, gust) = first(asked.gust_mps, measured_gust, SEA_GUST_FACTOR * wind_mps);
        let (speed_mps, speed) = first(asked.speed_mps, measured.speed_mps, USUAL_SPEED_MPS);
        let (off_bow_deg, off_bow) =
            first(asked.off_bow_deg, measured.off_bow_deg, USUAL_OFF_BOW_DEG);
        let (kite_line_out_m, mut kite_line_out) = first(
            asked.kite_line_out_m,
            measured.kite_line_out_m,
            locker.kite_line_out_m.unwrap_or(USUAL_KITE_LINE_M),
        );
        if kite_line_out == Origin::Assumed && locker.kite_line_out_m.is_some() {
            kite_line_out = Origin::Set;
        }
        let day = Self {
            wind_mps,
            gust_mps: gust_mps.max(wind_mps),
            speed_mps,
            off_bow_deg,
            kite_line_out_m,
        };
        let origin = DayOrigin {
            wind,
            gust,
            speed,
            off_bow,
            kite_line_out,
        };
        (day, origin)
    }

    /// Speed of the lulls: as far below the mean as the gusts are above it.
    #[must_use]
    pub fn lull_mps(&self) -> f64 {
        (2.0 * self.wind_mps - self.gust_mps).max(LEAST_LULL * self.wind_mps)
    }

    /// True wind off the bow, degrees, 0 to 180.
    #[must_use]
    pub fn off_bow_deg(from_rad: f64, heading_rad: f64) -> f64 {
        wrap_signed_deg((from_rad - heading_rad).to_degrees()).abs()
    }

    /// Wind at 10 m from that at another height.
    #[must_use]
    pub fn at_10m_mps(speed_mps: f64, height_m: f64) -> f64 {
        let wind = Wind {
            speed_10m_mps: 1.0,
            from_rad: 0.0,
            shear_exponent: USUAL_EXPONENT,
        };
        speed_mps / wind.speed_at_mps(height_m)
    }

    /// What the model takes: this wind from starboard.
    #[must_use]
    pub fn conditions(&self, wind_mps: f64) -> Conditions {
        Conditions {
            wind: Wind {
                speed_10m_mps: wind_mps,
                from_rad: self.off_bow_deg.to_radians(),
                shear_exponent: USUAL_EXPONENT,
            },
            current: Current::default(),
            boat_speed_mps: self.speed_mps,
            heading_rad: 0.0,
            kite_line_out_m: self.kite_line_out_m,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_course_leads_the_kite_off_the_corner() {
        // Own arithmetic: tan = 14 sin 60 / (14 cos 60 + 6) = 12.12 / 13, 43 degrees.
        let (sin, cos) = USUAL_OFF_BOW_DEG.to_radians().sin_cos();
        let off_deg = (14.0 * sin).atan2(14.0 * cos + 6.0).to_degrees();
        assert!((off_deg - 43.0).abs() < 0.1, "{off_deg}");
    }

    #[test]
    fn a_sensor_above_ten_metres_reads_more() {
        // Own arithmetic: (20/10)^0.11 = 1.0792.
        assert!((Day::at_10m_mps(1.0792, 20.0) - 1.0).abs() < 1e-3);
    }
}
