//! Typical rigs by size, for a crew that has not measured its own.
//! In: a size, a strength, a length. Out: numbers for settings. Knows no solver.
//!
//! Nothing here was measured on a product. Kites: invented, typical, within what single-line kites
//! reach (lift coefficient 0.4 to 1.0, drag coefficient 0.15 to 0.5; from memory). Braid: from the
//! strength of the fibre, not from labels. Bait: invented, typical, scaled by length.

use super::parameters::{Bait, Kite, MainLineStuff};

/// Which wind a kite is made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KiteSize {
    /// Little wind.
    Light,
    /// Most days.
    Medium,
    /// Much wind.
    Strong,
}

impl KiteSize {
    /// The wind that such a kite is made for, least and most, m/s (invented).
    #[must_use]
    pub fn wind_mps(self) -> [f64; 2] {
        match self {
            Self::Light => [3.0, 7.0],
            Self::Medium => [5.0, 11.0],
            Self::Strong => [9.0, 15.0],
        }
    }

    /// A typical kite of this size (invented).
    #[must_use]
    pub fn kite(self) -> Kite {
        let (area_m2, mass_kg, cl, cd) = match self {
            Self::Light => (2.0, 0.36, 0.80, 0.42),
            Self::Medium => (1.3, 0.35, 0.75, 0.45),
            Self::Strong => (0.8, 0.33, 0.65, 0.45),
        };
        Kite {
            area_m2,
            mass_kg,
            cl,
            cd,
            trim: Vec::new(),
        }
    }
}

/// Strength per linear density of a braid, N m/kg: 2.1 N/tex, the middle of 1.8 to 2.4. Own
/// estimate: braiding costs a third to a half of the 3.4 N/tex of the yarn (UHMWPE fibre fact
/// sheet CIS YA100, 2010).
const BRAID_STRENGTH_NM_PER_KG: f64 = 2.1e6;
/// Density of UHMWPE fibre, kg/m3: 3.3 GPa at 3.4 N/tex (fact sheet CIS YA100, 2010).
const FIBRE_DENSITY_KG_PER_M3: f64 = 970.0;
/// Share of the braid's section that is fibre: the middle of 0.75 to 0.9 (own estimate).
const PACKING: f64 = 0.82;

/// Diameter and mass of a braided line by its breaking strength, N. Labels commonly state less;
/// a measured diameter is better.
#[must_use]
pub fn braid(breaking_n: f64) -> MainLineStuff {
    let mass_per_m_kg = breaking_n / BRAID_STRENGTH_NM_PER_KG;
    MainLineStuff {
        diameter_m: (4.0 * mass_per_m_kg
            / (std::f64::consts::PI * FIBRE_DENSITY_KG_PER_M3 * PACKING))
            .sqrt(),
        mass_per_m_kg,
        strength_n: Some(breaking_n),
    }
}

/// Length the bait of the reference cases is taken to have, m (invented).
const REFERENCE_LENGTH_M: f64 = 0.32;

/// Nose weight, kg: 3 oz (common practice, no source), which stays the same however small the fish.
const NOSE_WEIGHT_KG: f64 = 0.085;
/// Its volume, m3: lead of 11340 kg/m3 (from memory).
const NOSE_WEIGHT_M3: f64 = NOSE_WEIGHT_KG / 11_340.0;

/// A flying-fish bait by its length, m (invented, typical: the fish of the reference cases kept in
/// shape, with the nose weight that one has).
#[must_use]
pub fn bait(length_m: f64) -> Bait {
    let k = length_m / REFERENCE_LENGTH_M;
    let fish = k.powi(3);
    Bait {
        mass_kg: 0.34 * fish + NOSE_WEIGHT_KG * (1.0 - fish),
        height_m: 0.07 * k,
        volume_m3: 2.4e-4 * fish + NOSE_WEIGHT_M3 * (1.0 - fish),
        wet_drag_area_m2: 8e-4 * k * k,
        air_drag_area_m2: 4e-3 * k * k,
        planing: 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::{Rig, RigParameters};

    #[test]
    fn braid_lies_within_the_bounds_from_fibre_strength() {
        // Own arithmetic, d = sqrt(4 F / (pi sigma rho phi)) with 1.8 to 2.4 N/tex and packing 0.75
        // to 0.9: pounds, low and high diameter in mm.
        for (pounds, low, high) in [
            (80.0, 0.47, 0.59),
            (100.0, 0.52, 0.66),
            (130.0, 0.59, 0.75),
            (200.0, 0.74, 0.93),
        ] {
            let d_mm = braid(pounds * 4.448_221_6).diameter_m * 1e3;
            assert!(d_mm > low && d_mm < high, "{pounds} lb: {d_mm} mm");
        }
    }

    #[test]
    fn every_preset_makes_a_valid_rig() {
        for size in [KiteSize::Light, KiteSize::Medium, KiteSize::Strong] {
            for length in [0.1, 0.125, 0.18, 0.25, 0.32, 0.45, 0.7] {
                let p = RigParameters {
                    kite: size.kite(),
                    main_line: braid(580.0),
                    bait: bait(length),
                    ..RigParameters::default()
                };
                assert!(Rig::new(&p).is_ok());
            }
        }
    }
}
