//! Units where sentences and settings come in: uom quantities with short constructors and getters,
//! so that no other file names a uom unit. Calculations use `f64` with the unit in the name
//! instead.

pub use uom::si::f64::{Angle, AngularVelocity, Length, ThermodynamicTemperature, Velocity};

use uom::si::angle::{degree, radian};
use uom::si::angular_velocity::{degree_per_second, radian_per_second};
use uom::si::length::{meter, nautical_mile};
use uom::si::thermodynamic_temperature::degree_celsius;
use uom::si::velocity::{knot, meter_per_second};

/// Most line that can be out, metres; a larger number is taken for a typing error. The same limit
/// holds wherever line out is stated: sentence, API, settings, scenario. Own choice, about seven
/// times what is fished with (common practice, no source).
pub const LINE_OUT_MAX_M: f64 = 1000.0;

/// One knot in metres a second: the international nautical mile of 1852 m in an hour.
pub const KNOT_MPS: f64 = 1852.0 / 3600.0;
/// One kilometre an hour in metres a second.
pub const KMH_MPS: f64 = 1000.0 / 3600.0;
/// One statute mile (1609.344 m) an hour in metres a second.
pub const MPH_MPS: f64 = 1609.344 / 3600.0;

/// An angle from degrees.
#[must_use]
pub fn degrees(value_deg: f64) -> Angle {
    Angle::new::<degree>(value_deg)
}

/// An angle from radians.
#[must_use]
pub fn radians(value_rad: f64) -> Angle {
    Angle::new::<radian>(value_rad)
}

/// An angle in degrees.
#[must_use]
pub fn in_degrees(angle: Angle) -> f64 {
    angle.get::<degree>()
}

/// An angle in radians.
#[must_use]
pub fn in_radians(angle: Angle) -> f64 {
    angle.get::<radian>()
}

/// A speed from knots (1852 m an hour).
#[must_use]
pub fn knots(value_kn: f64) -> Velocity {
    Velocity::new::<knot>(value_kn)
}

/// A speed from metres a second.
#[must_use]
pub fn metres_per_second(value_mps: f64) -> Velocity {
    Velocity::new::<meter_per_second>(value_mps)
}

/// A speed in knots.
#[must_use]
pub fn in_knots(speed: Velocity) -> f64 {
    speed.get::<knot>()
}

/// A speed in metres a second.
#[must_use]
pub fn in_metres_per_second(speed: Velocity) -> f64 {
    speed.get::<meter_per_second>()
}

/// A length from metres.
#[must_use]
pub fn metres(value_m: f64) -> Length {
    Length::new::<meter>(value_m)
}

/// A length from nautical miles.
#[must_use]
pub fn nautical_miles(value_nmi: f64) -> Length {
    Length::new::<nautical_mile>(value_nmi)
}

/// A length in metres.
#[must_use]
pub fn in_metres(length: Length) -> f64 {
    length.get::<meter>()
}

/// A length in nautical miles.
#[must_use]
pub fn in_nautical_miles(length: Length) -> f64 {
    length.get::<nautical_mile>()
}

/// A rate of turn from degrees a second.
#[must_use]
pub fn degrees_per_second(value_degps: f64) -> AngularVelocity {
    AngularVelocity::new::<degree_per_second>(value_degps)
}

/// A rate of turn from degrees a minute, as ROT sends it.
#[must_use]
pub fn degrees_per_minute(value_degpmin: f64) -> AngularVelocity {
    degrees_per_second(value_degpmin / 60.0)
}

/// A rate of turn in degrees a second.
#[must_use]
pub fn in_degrees_per_second(rate: AngularVelocity) -> f64 {
    rate.get::<degree_per_second>()
}

/// A rate of turn in radians a second.
#[must_use]
pub fn in_radians_per_second(rate: AngularVelocity) -> f64 {
    rate.get::<radian_per_second>()
}

/// A temperature from degrees Celsius.
#[must_use]
pub fn celsius(value_degc: f64) -> ThermodynamicTemperature {
    ThermodynamicTemperature::new::<degree_celsius>(value_degc)
}

/// A temperature in degrees Celsius.
#[must_use]
pub fn in_celsius(temperature: ThermodynamicTemperature) -> f64 {
    temperature.get::<degree_celsius>()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn knots_and_miles_follow_their_definitions() {
        // 1 international nautical mile = 1852 m; 1 statute mile = 1609.344 m (definitions).
        assert!((in_metres_per_second(knots(1.0)) - KNOT_MPS).abs() < 1e-12);
        assert!((in_knots(metres_per_second(MPH_MPS)) - 1609.344 / 1852.0).abs() < 1e-12);
        assert!((in_knots(metres_per_second(KMH_MPS)) - 1000.0 / 1852.0).abs() < 1e-12);
        assert!((in_metres(nautical_miles(1.0)) - 1852.0).abs() < 1e-9);
    }

    #[test]
    fn turn_rates_and_temperatures_convert() {
        assert!((in_degrees_per_second(degrees_per_minute(60.0)) - 1.0).abs() < 1e-12);
        assert!(
            (in_radians_per_second(degrees_per_second(180.0)) - std::f64::consts::PI).abs() < 1e-12
        );
        assert!((in_celsius(celsius(17.9)) - 17.9).abs() < 1e-9);
    }
}
