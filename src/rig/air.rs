//! The air: true wind over the ground with its profile over height, and the apparent wind on a
//! moving boat.
//! In: speeds and directions. Out: vectors. Knows nothing of kites or lines.
//!
//! Height law: `u(z) = u10 (max(z, 0.5 m) / 10 m)^p`, p about 0.11 over open sea (Hsu, Meindl and
//! Gilhousen 1994, J. Appl. Meteor. 33, 757-765: citation read, the value 0.11 from memory).

use serde::{Deserialize, Serialize};

use super::vector::V3;

/// Below this height the wind is constant, metres (model assumption).
pub const LOWEST_WIND_HEIGHT_M: f64 = 0.5;

/// True wind over the ground at 10 m, and how it grows with height.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wind {
    /// Speed at 10 m above the sea, m/s.
    pub speed_10m_mps: f64,
    /// Where it comes from, radians true.
    pub from_rad: f64,
    /// Exponent of the power law.
    pub shear_exponent: f64,
}

impl Wind {
    /// East and north components of the velocity of the air at 10 m, m/s.
    #[must_use]
    pub fn vector_10m_mps(&self) -> [f64; 2] {
        let (s, c) = self.from_rad.sin_cos();
        [-self.speed_10m_mps * s, -self.speed_10m_mps * c]
    }

    /// Speed at height `z_m`, m/s.
    #[must_use]
    pub fn speed_at_mps(&self, z_m: f64) -> f64 {
        self.speed_10m_mps * (z_m.max(LOWEST_WIND_HEIGHT_M) / 10.0).powf(self.shear_exponent)
    }
}

/// Movement of the water over the ground.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Current {
    /// Where it sets to, radians true.
    pub set_rad: f64,
    /// Speed, m/s.
    pub drift_mps: f64,
}

impl Current {
    /// East and north parts, m/s.
    #[must_use]
    pub fn vector_mps(&self) -> [f64; 2] {
        let (s, c) = self.set_rad.sin_cos();
        [self.drift_mps * s, self.drift_mps * c]
    }
}

/// Apparent wind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ApparentWind {
    /// Speed, m/s.
    pub speed_mps: f64,
    /// Where it comes from, relative to the bow, radians, -pi to pi, starboard positive.
    pub from_bow_rad: f64,
}

/// Apparent wind at height `z_m` on a boat that moves through the water.
#[must_use]
pub fn apparent_wind(
    wind: &Wind,
    current: &Current,
    heading_rad: f64,
    boat_speed_mps: f64,
    z_m: f64,
) -> ApparentWind {
    let k = if wind.speed_10m_mps == 0.0 {
        0.0
    } else {
        wind.speed_at_mps(z_m) / wind.speed_10m_mps
    };
    let w = wind.vector_10m_mps();
    let c = current.vector_mps();
    let (sh, ch) = heading_rad.sin_cos();
    let east = w[0] * k - c[0] - boat_speed_mps * sh;
    let north = w[1] * k - c[1] - boat_speed_mps * ch;
    // The part that blows from ahead, and the part that blows from starboard.
    let from_ahead = -(east * sh + north * ch);
    let from_starboard = -(east * ch - north * sh);
    ApparentWind {
        speed_mps: east.hypot(north),
        from_bow_rad: from_starboard.atan2(from_ahead),
    }
}

/// Smallest and largest height the table covers, as powers of two.
const LOWEST_EXPONENT: u64 = 1023 - 1;
const OCTAVES: usize = 11;
const PER_OCTAVE: usize = 16;
const TOP_M: f64 = 1023.0;

/// `(z/10)^p` and its slope from a table: 16 cubic pieces per octave between 0.5 and 1024 m,
/// continuously differentiable. The relative error stays below 1e-7 (tested). It costs a tenth of a
/// `powf`, which would otherwise dominate a time step.
#[derive(Debug, Clone)]
pub(crate) struct Profile {
    exponent: f64,
    cubic: [[f64; 4]; OCTAVES * PER_OCTAVE],
}

impl Profile {
    pub(crate) fn new(exponent: f64) -> Self {
        let mut p = Self {
            exponent: f64::NAN,
            cubic: [[0.0; 4]; OCTAVES * PER_OCTAVE],
        };
        p.set_exponent(exponent);
        p
    }

    /// Rebuilds the table when the exponent differs from the one it holds.
    pub(crate) fn set_exponent(&mut self, exponent: f64) {
        if self.exponent == exponent {
            return;
        }
        self.exponent = exponent;
        // A power of a product is the product of the powers: with those of the feet of the octaves
        // and of the places within one, 28 powers make the table instead of 177.
        let feet: [f64; OCTAVES + 1] =
            std::array::from_fn(|octave| (2f64.powi(octave as i32 - 1) / 10.0).powf(exponent));
        let places: [f64; PER_OCTAVE] =
            std::array::from_fn(|k| (1.0 + k as f64 / PER_OCTAVE as f64).powf(exponent));
        let node = |i: usize| feet[i / PER_OCTAVE] * places[i % PER_OCTAVE];
        let mut low = 0.5;
        let mut f0 = node(0);
        for (i, c) in self.cubic.iter_mut().enumerate() {
            let octave = (i / PER_OCTAVE) as i32;
            let width = 2f64.powi(octave - 1) / PER_OCTAVE as f64;
            let high = low + width;
            let f1 = node(i + 1);
            let d0 = exponent * f0 / low * width;
            let d1 = exponent * f1 / high * width;
            *c = [
                f0,
                d0,
                3.0 * (f1 - f0) - 2.0 * d0 - d1,
                2.0 * (f0 - f1) + d0 + d1,
            ];
            low = high;
            f0 = f1;
        }
    }

    /// Factor on the wind at 10 m and its slope over height, 1/m.
    #[inline(always)]
    pub(crate) fn factor(&self, z_m: f64) -> (f64, f64) {
        if z_m > LOWEST_WIND_HEIGHT_M {
            // Position of the height in the table, read from the number itself: exponent and
            // first four bits of the fraction choose the piece, the rest the place in it.
            let z = z_m.min(TOP_M);
            let bits = z.to_bits();
            let index = ((bits >> 48) - (LOWEST_EXPONENT << 4)) as usize;
            let low = f64::from_bits(bits & !((1u64 << 48) - 1));
            let inverse_width = f64::from_bits((2 * 1023 + 4 - (bits >> 52)) << 52);
            let t = (z - low) * inverse_width;
            if let Some(c) = self.cubic.get(index) {
                let f = c[0] + t * (c[1] + t * (c[2] + t * c[3]));
                let d = (c[1] + t * (2.0 * c[2] + 3.0 * t * c[3])) * inverse_width;
                return (f, if z_m < TOP_M { d } else { 0.0 });
            }
        }
        (self.cubic[0][0], 0.0)
    }
}

/// Wind over the water as a field of height: what the forces are computed from.
#[derive(Debug, Clone, Copy)]
pub(crate) struct AirField<'a> {
    pub(crate) profile: &'a Profile,
    pub(crate) wind_10m: [f64; 2],
    pub(crate) current: [f64; 2],
}

impl AirField<'_> {
    /// Air velocity over the water at height `z` and its slope over height.
    #[inline(always)]
    pub(crate) fn at(&self, z_m: f64) -> (V3, [f64; 2]) {
        let (f, d) = self.profile.factor(z_m);
        (
            [
                self.wind_10m[0] * f - self.current[0],
                self.wind_10m[1] * f - self.current[1],
                0.0,
            ],
            [self.wind_10m[0] * d, self.wind_10m[1] * d],
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn table_agrees_with_the_power_law() {
        for p in [0.0, 0.05, 0.11, 0.14, 0.3] {
            let table = Profile::new(p);
            let mut z: f64 = 0.5;
            while z < 1000.0 {
                let (f, d) = table.factor(z);
                let want = (z / 10.0).powf(p);
                assert!((f / want - 1.0).abs() < 1e-7, "p {p} z {z}: {f} {want}");
                if z > 0.5 {
                    let slope = p * want / z;
                    assert!((d - slope).abs() <= 1e-5 * slope + 1e-15, "slope at {z}");
                }
                z *= 1.0037;
            }
            assert_eq!(table.factor(0.1).0, table.factor(0.5).0);
        }
    }

    #[test]
    fn power_law_factors() {
        // Own arithmetic: (z / 10 m)^0.11.
        let wind = Wind {
            speed_10m_mps: 1.0,
            from_rad: 0.0,
            shear_exponent: 0.11,
        };
        for (z, want) in [
            (2.0, 0.8377),
            (4.0, 0.9041),
            (20.0, 1.0792),
            (50.0, 1.1937),
            (60.0, 1.2179),
        ] {
            assert!((wind.speed_at_mps(z) - want).abs() < 5e-5);
        }
    }

    #[test]
    fn apparent_wind_on_a_beam_reach() {
        // Geometry: 3 m/s ahead and 4 m/s from starboard make 5 m/s from 53.13 degrees.
        let wind = Wind {
            speed_10m_mps: 4.0,
            from_rad: std::f64::consts::FRAC_PI_2,
            shear_exponent: 0.0,
        };
        let a = apparent_wind(&wind, &Current::default(), 0.0, 3.0, 10.0);
        assert!((a.speed_mps - 5.0).abs() < 1e-12);
        assert!((a.from_bow_rad.to_degrees() - 53.130_102_354_155_98).abs() < 1e-9);
    }
}
