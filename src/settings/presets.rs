//! Typical values for people who have no numbers for their tackle. Every one is assumed until the
//! crew gives better.

use crate::rig::{Bait, Kite};

/// Kites by the wind they are made for. Invented, typical; coefficients within the range known for
/// single-line kites (CL 0.4-1.0, CD 0.15-0.5: from memory, no measured table was readable).
pub(super) const KITES: &[(&str, [f64; 4])] = &[
    // area m2, mass kg, CL, CD
    ("light", [1.8, 0.30, 0.80, 0.45]),
    ("medium", [1.3, 0.35, 0.75, 0.45]),
    ("strong", [0.9, 0.40, 0.65, 0.42]),
];

/// A kite from its numbers.
pub(super) fn kite([area_m2, mass_kg, cl, cd]: [f64; 4]) -> Kite {
    Kite {
        area_m2,
        mass_kg,
        cl,
        cd,
        trim: Vec::new(),
    }
}

/// A braid of polyethylene fibre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Braid {
    pub diameter_m: f64,
    pub mass_per_m_kg: f64,
    pub strength_n: f64,
}

/// Newtons in a pound of force (definition: 0.45359237 kg times 9.80665 m/s2).
const NEWTONS_PER_LBF: f64 = 0.453_592_37 * 9.806_65;
/// Density of the fibre, kg/m3 (a fibre maker's fact sheet of 2010: 3.3 GPa / 3.4 N/tex).
const FIBRE_DENSITY: f64 = 970.0;
/// Strength of a braid for its linear density, N/tex: middle of 1.8-2.4, derived from the same
/// sheet's 2.5-4.0 for the yarn.
const BRAID_STRENGTH_N_PER_TEX: f64 = 2.1;
/// Share of its circle that a braid fills: middle of 0.75-0.9, derived.
const PACKING: f64 = 0.82;

/// A braid from its rated breaking strength: linear density = strength / specific strength,
/// diameter = sqrt(4 density / (pi fibre density packing)). Labels often give less.
pub(super) fn braid(rated_lbf: f64) -> Braid {
    let strength_n = rated_lbf * NEWTONS_PER_LBF;
    // 1 tex = 1 g per km = 1e-6 kg/m.
    let mass_per_m_kg = strength_n / BRAID_STRENGTH_N_PER_TEX * 1e-6;
    Braid {
        diameter_m: (4.0 * mass_per_m_kg / (std::f64::consts::PI * FIBRE_DENSITY * PACKING)).sqrt(),
        mass_per_m_kg,
        strength_n,
    }
}

/// A dead flying fish of 0.3 m with nose weight. Invented, typical; other lengths by similarity.
const BAIT_LENGTH_M: f64 = 0.3;
const BAIT_BODY_KG: f64 = 0.255;
const BAIT_HEIGHT_M: f64 = 0.07;
const BAIT_VOLUME_M3: f64 = 2.4e-4;
const BAIT_WET_DRAG_AREA_M2: f64 = 8e-4;
const BAIT_AIR_DRAG_AREA_M2: f64 = 4e-3;

/// Nose weight (common practice, no source: 3 oz).
pub(super) const NOSE_WEIGHT_KG: f64 = 0.085;

/// A bait from its length and its nose weight.
pub(super) fn bait(length_m: f64, nose_weight_kg: f64) -> Bait {
    let k = length_m / BAIT_LENGTH_M;
    Bait {
        mass_kg: BAIT_BODY_KG * k.powi(3) + nose_weight_kg,
        height_m: BAIT_HEIGHT_M * k,
        volume_m3: BAIT_VOLUME_M3 * k.powi(3),
        wet_drag_area_m2: BAIT_WET_DRAG_AREA_M2 * k.powi(2),
        air_drag_area_m2: BAIT_AIR_DRAG_AREA_M2 * k.powi(2),
        planing: 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn braid_diameters_lie_within_the_derived_bounds() {
        // Bounds derived in the project's references (strength 1.8-2.4 N/tex, packing 0.75-0.9).
        for (lbf, low_mm, high_mm) in [
            (80.0, 0.47, 0.59),
            (100.0, 0.52, 0.66),
            (130.0, 0.59, 0.75),
            (200.0, 0.74, 0.93),
        ] {
            let d_mm = braid(lbf).diameter_m * 1000.0;
            assert!((low_mm..=high_mm).contains(&d_mm), "{lbf} lbf: {d_mm} mm");
        }
        // 200 lbf = 889.64 N (4.4482216 N/lbf, definition).
        assert!((braid(200.0).strength_n - 889.64).abs() < 0.01);
    }

    #[test]
    fn a_bait_of_the_typical_length_weighs_what_it_should() {
        assert!((bait(0.3, NOSE_WEIGHT_KG).mass_kg - 0.34).abs() < 1e-9);
    }
}
