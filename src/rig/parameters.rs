//! Parameters of a rig and their validation.
//! In: numbers from settings, a scenario or an ensemble member. Out: a validated [`Rig`], or every
//! complaint at once with key, value and allowed range. Knows no wind and no time.

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Gravity, m/s2 (the reference cases use the same value).
pub const GRAVITY_MPS2: f64 = 9.81;
/// Cross-flow drag coefficient of a thin line. The fits of Cheng 2013 (J. Hydraul. Eng.,
/// 10.1061/(ASCE)HY.1943-7900.0000722) and White (from memory) give 0.9 to 1.5 over the Reynolds
/// numbers of these lines, about 1.1 to 1.2 at 300 to 500.
pub const LINE_DRAG_COEFFICIENT: f64 = 1.1;
/// Drag coefficient of a sphere for Reynolds numbers of 1e3 to 2e5: the conventional value.
pub const SPHERE_DRAG_COEFFICIENT: f64 = 0.47;
/// Clip and ring together, kg (invented, typical; same as the reference cases).
pub const CLIP_MASS_KG: f64 = 0.03;
/// Least main line between ring and marker, m: the marker cannot pass the ring.
pub const MARKER_STOP_M: f64 = 0.3;

/// A rod tip in boat axes, from the middle of the transom.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RodTip {
    /// Astern positive, m.
    pub aft_m: f64,
    /// To starboard positive, m.
    pub starboard_m: f64,
    /// Above the sea, m.
    pub height_m: f64,
}

/// Both rod tips.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RodTips {
    /// Tip the kite line runs from.
    pub kite: RodTip,
    /// Tip the main line runs from.
    pub main: RodTip,
}

/// Lift and drag of the kite as trimmed at one apparent wind speed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TrimPoint {
    /// Apparent wind at the kite, m/s.
    pub wind_mps: f64,
    /// Lift coefficient.
    pub cl: f64,
    /// Drag coefficient.
    pub cd: f64,
}

/// The kite: a point mass with coefficients on its area.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Kite {
    /// Lifting area, m2.
    pub area_m2: f64,
    /// Mass, kg.
    pub mass_kg: f64,
    /// Lift coefficient as trimmed.
    pub cl: f64,
    /// Drag coefficient as trimmed.
    pub cd: f64,
    /// Coefficients by apparent wind, in increasing wind; replaces `cl` and `cd` when not empty.
    /// Linear between points, constant outside.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub trim: Vec<TrimPoint>,
}

/// The kite line; its length out is a control, not a parameter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KiteLine {
    /// Line between clip and kite, m.
    pub clip_to_kite_m: f64,
    /// Diameter, m.
    pub diameter_m: f64,
    /// Mass per length, kg/m.
    pub mass_per_m_kg: f64,
    /// Breaking strength, N.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strength_n: Option<f64>,
}

/// The main line; its length out is a control, not a parameter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MainLineStuff {
    /// Diameter, m.
    pub diameter_m: f64,
    /// Mass per length, kg/m.
    pub mass_per_m_kg: f64,
    /// Breaking strength, N.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strength_n: Option<f64>,
}

/// The marker balloon on the hanging leg.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Marker {
    /// Leader between marker and bait, m.
    pub above_bait_m: f64,
    /// Diameter of the sphere, m.
    pub diameter_m: f64,
    /// Mass, kg.
    pub mass_kg: f64,
}

/// The bait.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bait {
    /// Mass, kg.
    pub mass_kg: f64,
    /// Height over which it goes from just out to just under, m.
    pub height_m: f64,
    /// Volume, m3.
    pub volume_m3: f64,
    /// Drag area (coefficient times area) wholly in the water, m2.
    pub wet_drag_area_m2: f64,
    /// Drag area in the air, m2.
    pub air_drag_area_m2: f64,
    /// Lift from planing as a share of the water drag; 0 is none, and none is known.
    #[serde(default)]
    pub planing: f64,
}

/// Everything a rig is made of, SI.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RigParameters {
    /// Rod tips in boat axes.
    pub rod_tips: RodTips,
    /// The kite.
    pub kite: Kite,
    /// The kite line.
    pub kite_line: KiteLine,
    /// The main line.
    pub main_line: MainLineStuff,
    /// The marker.
    pub marker: Marker,
    /// The bait.
    pub bait: Bait,
    /// Load at which the band between main line and clip lets go, N.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub band_strength_n: Option<f64>,
    /// Greatest sideways load that the kite rod's holder withstands, N.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rod_holder_strength_n: Option<f64>,
    /// Density of the air, kg/m3.
    pub air_density: f64,
    /// Density of the water, kg/m3.
    pub water_density: f64,
}

impl Default for RigParameters {
    /// The invented, typical rig of the reference cases.
    fn default() -> Self {
        Self {
            rod_tips: RodTips {
                kite: RodTip {
                    aft_m: 0.3,
                    starboard_m: 1.6,
                    height_m: 2.8,
                },
                main: RodTip {
                    aft_m: 0.3,
                    starboard_m: -1.0,
                    height_m: 2.4,
                },
            },
            kite: Kite {
                area_m2: 1.3,
                mass_kg: 0.35,
                cl: 0.75,
                cd: 0.45,
                trim: Vec::new(),
            },
            kite_line: KiteLine {
                clip_to_kite_m: 15.0,
                diameter_m: 0.0006,
                mass_per_m_kg: 0.0003,
                strength_n: None,
            },
            main_line: MainLineStuff {
                diameter_m: 0.0008,
                mass_per_m_kg: 0.000_45,
                strength_n: None,
            },
            marker: Marker {
                above_bait_m: 6.0,
                diameter_m: 0.25,
                mass_kg: 0.006,
            },
            bait: Bait {
                mass_kg: 0.34,
                height_m: 0.07,
                volume_m3: 2.4e-4,
                wet_drag_area_m2: 8e-4,
                air_drag_area_m2: 4e-3,
                planing: 0.0,
            },
            band_strength_n: None,
            rod_holder_strength_n: None,
            air_density: 1.225,
            water_density: 1025.0,
        }
    }
}

/// One complaint about one number.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{key} is {value}, allowed is {allowed}")]
pub struct RigError {
    /// Where it stands, dots between levels.
    pub key: String,
    /// The value refused.
    pub value: f64,
    /// The allowed range in words.
    pub allowed: String,
}

/// Collects complaints.
#[derive(Debug, Default)]
pub(crate) struct Gate {
    pub(crate) errors: Vec<RigError>,
}

impl Gate {
    /// `value` must be finite and lie in `low..=high`.
    pub(crate) fn range(&mut self, key: &str, value: f64, low: f64, high: f64) {
        if !(value >= low && value <= high) {
            self.errors.push(RigError {
                key: key.to_owned(),
                value,
                allowed: format!("{low} to {high}"),
            });
        }
    }

    fn option(&mut self, key: &str, value: Option<f64>, low: f64, high: f64) {
        if let Some(v) = value {
            self.range(key, v, low, high);
        }
    }

    fn rule(&mut self, key: &str, value: f64, holds: bool, allowed: String) {
        if !holds {
            self.errors.push(RigError {
                key: key.to_owned(),
                value,
                allowed,
            });
        }
    }
}

/// A validated rig with precomputed constants for the step loop. Immutable.
#[derive(Debug, Clone)]
pub struct Rig {
    pub(crate) parameters: RigParameters,
    /// Half air density times drag coefficient times diameter, kite line and main line.
    pub(crate) kite_line_drag: f64,
    pub(crate) main_line_drag: f64,
    pub(crate) kite_line_water_drag: f64,
    pub(crate) main_line_water_drag: f64,
    /// Buoyancy of a metre of line wholly in the water, N/m.
    pub(crate) kite_line_buoyancy: f64,
    pub(crate) main_line_buoyancy: f64,
    pub(crate) marker_drag: f64,
    pub(crate) mesh: super::mesh::Mesh,
}

impl Rig {
    /// Checks every number.
    ///
    /// # Errors
    /// Every complaint at once.
    pub fn new(parameters: &RigParameters) -> Result<Self, Vec<RigError>> {
        Self::with_mesh(parameters, super::mesh::Mesh::SHIPPED)
    }

    /// As [`Rig::new`] with another number of line pieces, for convergence checks.
    ///
    /// # Errors
    /// Every complaint at once.
    pub fn with_mesh(
        parameters: &RigParameters,
        mesh: super::mesh::Mesh,
    ) -> Result<Self, Vec<RigError>> {
        let errors = complaints(parameters);
        if !errors.is_empty() {
            return Err(errors);
        }
        let p = parameters;
        let half_air = 0.5 * p.air_density * LINE_DRAG_COEFFICIENT;
        let half_water = 0.5 * p.water_density * LINE_DRAG_COEFFICIENT;
        let section = |d: f64| std::f64::consts::FRAC_PI_4 * d * d;
        Ok(Self {
            kite_line_drag: half_air * p.kite_line.diameter_m,
            main_line_drag: half_air * p.main_line.diameter_m,
            kite_line_water_drag: half_water * p.kite_line.diameter_m,
            main_line_water_drag: half_water * p.main_line.diameter_m,
            kite_line_buoyancy: p.water_density * section(p.kite_line.diameter_m) * GRAVITY_MPS2,
            main_line_buoyancy: p.water_density * section(p.main_line.diameter_m) * GRAVITY_MPS2,
            marker_drag: 0.5
                * p.air_density
                * SPHERE_DRAG_COEFFICIENT
                * section(p.marker.diameter_m),
            parameters: p.clone(),
            mesh,
        })
    }

    /// The numbers it was built from.
    #[must_use]
    pub fn parameters(&self) -> &RigParameters {
        &self.parameters
    }
}

/// What is wrong with these numbers: every one outside its range.
fn complaints(p: &RigParameters) -> Vec<RigError> {
    let mut g = Gate::default();
    for (name, tip) in [("kite", &p.rod_tips.kite), ("main", &p.rod_tips.main)] {
        g.range(&format!("rod_tips.{name}.aft_m"), tip.aft_m, -40.0, 10.0);
        g.range(
            &format!("rod_tips.{name}.starboard_m"),
            tip.starboard_m,
            -15.0,
            15.0,
        );
        g.range(
            &format!("rod_tips.{name}.height_m"),
            tip.height_m,
            0.3,
            25.0,
        );
    }
    g.range("kite.area_m2", p.kite.area_m2, 0.1, 20.0);
    g.range("kite.mass_kg", p.kite.mass_kg, 0.01, 10.0);
    g.range("kite.cl", p.kite.cl, 0.05, 2.5);
    g.range("kite.cd", p.kite.cd, 0.02, 2.5);
    for (i, t) in p.kite.trim.iter().enumerate() {
        g.range(&format!("kite.trim.{i}.wind_mps"), t.wind_mps, 0.0, 60.0);
        g.range(&format!("kite.trim.{i}.cl"), t.cl, 0.05, 2.5);
        g.range(&format!("kite.trim.{i}.cd"), t.cd, 0.02, 2.5);
        if let Some(before) = i.checked_sub(1).and_then(|j| p.kite.trim.get(j)) {
            g.rule(
                &format!("kite.trim.{i}.wind_mps"),
                t.wind_mps,
                t.wind_mps > before.wind_mps,
                format!("more than the row before it ({})", before.wind_mps),
            );
        }
    }
    g.range(
        "kite_line.clip_to_kite_m",
        p.kite_line.clip_to_kite_m,
        1.0,
        200.0,
    );
    g.range("kite_line.diameter_m", p.kite_line.diameter_m, 1e-4, 5e-3);
    g.range(
        "kite_line.mass_per_m_kg",
        p.kite_line.mass_per_m_kg,
        1e-5,
        0.05,
    );
    g.option("kite_line.strength_n", p.kite_line.strength_n, 20.0, 2e4);
    g.range("main_line.diameter_m", p.main_line.diameter_m, 1e-4, 5e-3);
    g.range(
        "main_line.mass_per_m_kg",
        p.main_line.mass_per_m_kg,
        1e-5,
        0.05,
    );
    g.option("main_line.strength_n", p.main_line.strength_n, 20.0, 2e4);
    g.range("marker.above_bait_m", p.marker.above_bait_m, 0.5, 60.0);
    g.range("marker.diameter_m", p.marker.diameter_m, 0.0, 1.5);
    g.range("marker.mass_kg", p.marker.mass_kg, 0.0, 1.0);
    g.range("bait.mass_kg", p.bait.mass_kg, 0.02, 5.0);
    g.range("bait.height_m", p.bait.height_m, 0.01, 0.5);
    g.range("bait.volume_m3", p.bait.volume_m3, 1e-6, 0.01);
    g.range("bait.wet_drag_area_m2", p.bait.wet_drag_area_m2, 1e-5, 0.05);
    g.range("bait.air_drag_area_m2", p.bait.air_drag_area_m2, 0.0, 0.2);
    g.range("bait.planing", p.bait.planing, 0.0, 2.0);
    g.option("band_strength_n", p.band_strength_n, 1.0, 2e3);
    g.option("rod_holder_strength_n", p.rod_holder_strength_n, 10.0, 2e4);
    g.range("air_density", p.air_density, 0.9, 1.5);
    g.range("water_density", p.water_density, 980.0, 1060.0);
    g.errors
}
