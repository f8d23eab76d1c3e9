//! A scenario for `skimwatch simulate`: wind, current, boat with one turn, rig.
//! In: JSON. Out: checked numbers, or the key, its value and the allowed range. Knows no solver.
//!
//! Missing keys take the defaults; unknown keys are refused. `skimwatch simulate --help` lists the
//! keys (`src/command/scenario_help.txt`): change it with them.

use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::air::{Current, Wind};
use super::conditions::Conditions;
use super::parameters::{
    Bait, Gate, Kite, KiteLine, MainLineStuff, Marker, Rig, RigError, RigParameters, RodTip,
    RodTips, TrimPoint,
};
use super::scenario_sea::{ScenarioNumerics, ScenarioSea};
use super::seaway::Waves;
use crate::units::LINE_OUT_MAX_M;

/// Declares a block of keys with their defaults.
macro_rules! block {
    ($(#[$doc:meta])* $name:ident { $($(#[$field_doc:meta])* $field:ident: $kind:ty = $default:expr,)* }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
        #[serde(deny_unknown_fields, default)]
        pub struct $name {
            $($(#[$field_doc])* pub $field: $kind,)*
        }

        impl Default for $name {
            fn default() -> Self {
                Self { $($field: $default,)* }
            }
        }
    };
}

block! {
    /// True wind over the ground.
    ScenarioWind {
        /// Speed at 10 m, m/s.
        speed_10m_mps: f64 = 7.0,
        /// Where it comes from, degrees true.
        from_deg_true: f64 = 0.0,
        /// Power-law exponent.
        shear_exponent: f64 = 0.11,
    }
}

block! {
    /// Current.
    ScenarioCurrent {
        /// Where it sets to, degrees true.
        set_deg_true: f64 = 0.0,
        /// Speed, m/s.
        drift_mps: f64 = 0.0,
    }
}

block! {
    /// Boat: constant speed along the heading, one turn at most.
    ScenarioBoat {
        /// Speed through the water, m/s.
        speed_through_water_mps: f64 = 3.0,
        /// Heading at the start, degrees true.
        heading_deg_true: f64 = 0.0,
        /// The turn.
        turn: Option<ScenarioTurn> = None,
    }
}

/// A turn: a box of commanded rate, which the boat follows with a first-order lag.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ScenarioTurn {
    /// Helm over at, s.
    pub start_s: f64,
    /// By how much, degrees, to starboard positive.
    pub by_deg: f64,
    /// Commanded rate, degrees a second.
    pub rate_deg_s: f64,
    /// Lag of the rate of turn, s.
    #[serde(default = "yaw_lag_s")]
    pub yaw_time_constant_s: f64,
}

fn yaw_lag_s() -> f64 {
    3.0
}

block! {
    /// Kite as in [`Kite`].
    ScenarioKite {
        /// Area, m2.
        area_m2: f64 = 1.3,
        /// Mass, kg.
        mass_kg: f64 = 0.35,
        /// Lift coefficient.
        cl: f64 = 0.75,
        /// Drag coefficient.
        cd: f64 = 0.45,
        /// Coefficients by apparent wind, instead of the two above.
        trim: Vec<TrimPoint> = Vec::new(),
    }
}

block! {
    /// Kite line.
    ScenarioKiteLine {
        /// Rod tip to kite, m.
        out_m: f64 = 100.0,
        /// Clip to kite, m.
        clip_to_kite_m: f64 = 15.0,
        /// Diameter, m.
        diameter_m: f64 = 0.0006,
        /// Mass per length, kg/m.
        mass_per_m_kg: f64 = 0.0003,
    }
}

block! {
    /// Main line.
    ScenarioMainLine {
        /// Rod tip through the ring to the bait, m; trimmed to immersion 0.25 when absent.
        out_m: Option<f64> = None,
        /// Diameter, m.
        diameter_m: f64 = 0.0008,
        /// Mass per length, kg/m.
        mass_per_m_kg: f64 = 0.000_45,
    }
}

block! {
    /// Marker.
    ScenarioMarker {
        /// Leader between marker and bait, m.
        above_bait_m: f64 = 6.0,
        /// Diameter, m.
        diameter_m: f64 = 0.25,
        /// Mass, kg.
        mass_kg: f64 = 0.006,
    }
}

block! {
    /// Bait.
    ScenarioBait {
        /// Mass, kg.
        mass_kg: f64 = 0.34,
        /// Height, m.
        height_m: f64 = 0.07,
        /// Volume, m3.
        volume_m3: f64 = 2.4e-4,
        /// Drag area in the water, m2.
        wet_drag_area_m2: f64 = 8e-4,
        /// Drag area in the air, m2.
        air_drag_area_m2: f64 = 4e-3,
        /// Lift from planing as a share of the water drag.
        planing: f64 = 0.0,
    }
}

/// A rod tip whose missing keys take the defaults of its rod.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ScenarioRodTip {
    /// Astern positive, m.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub aft_m: Option<f64>,
    /// To starboard positive, m.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub starboard_m: Option<f64>,
    /// Above the sea, m.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height_m: Option<f64>,
}

impl ScenarioRodTip {
    fn over(self, default: RodTip) -> RodTip {
        RodTip {
            aft_m: self.aft_m.unwrap_or(default.aft_m),
            starboard_m: self.starboard_m.unwrap_or(default.starboard_m),
            height_m: self.height_m.unwrap_or(default.height_m),
        }
    }
}

block! {
    /// Both rod tips.
    ScenarioRodTips {
        /// Kite rod.
        kite: ScenarioRodTip = ScenarioRodTip::default(),
        /// Main rod.
        main: ScenarioRodTip = ScenarioRodTip::default(),
    }
}

block! {
    /// A whole scenario; the keys and defaults are those of the reference cases.
    Scenario {
        /// True wind over the ground.
        wind: ScenarioWind = ScenarioWind::default(),
        /// Current.
        current: ScenarioCurrent = ScenarioCurrent::default(),
        /// Boat and its turn.
        boat: ScenarioBoat = ScenarioBoat::default(),
        /// Rod tips.
        rod_tips: ScenarioRodTips = ScenarioRodTips::default(),
        /// Kite.
        kite: ScenarioKite = ScenarioKite::default(),
        /// Kite line.
        kite_line: ScenarioKiteLine = ScenarioKiteLine::default(),
        /// Main line.
        main_line: ScenarioMainLine = ScenarioMainLine::default(),
        /// Marker.
        marker: ScenarioMarker = ScenarioMarker::default(),
        /// Bait.
        bait: ScenarioBait = ScenarioBait::default(),
        /// Air density, kg/m3.
        air_density: f64 = 1.225,
        /// Water density, kg/m3.
        water_density: f64 = 1025.0,
        /// Length of the run, s.
        duration_s: f64 = 60.0,
        /// Waves; flat water when absent.
        #[serde(skip_serializing_if = "Option::is_none")]
        sea: Option<ScenarioSea> = None,
        /// How it is worked out.
        #[serde(skip_serializing_if = "ScenarioNumerics::is_default")]
        numerics: ScenarioNumerics = ScenarioNumerics::default(),
    }
}

/// Why a scenario was refused.
#[derive(Debug, Error)]
pub enum ScenarioError {
    /// Not JSON, a wrong type or an unknown key; the message names line and column.
    #[error("the scenario cannot be read: {0}")]
    Json(#[from] serde_json::Error),
    /// A list where named keys belong; its values would be taken for those of the keys, in order.
    #[error(
        "the scenario cannot be read: {place} is a list; write {{\"key\": value}} with the keys' names"
    )]
    List {
        /// The key, or the whole scenario.
        place: String,
    },
    /// Numbers out of range.
    #[error("the scenario is refused: {}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    Refused(Vec<RigError>),
}

/// The only list of a scenario.
const TRIM: &str = "kite.trim";

/// The first place below this one where a list stands in the place of named keys.
fn list_in(value: &serde_json::Value, place: &str) -> Option<String> {
    match value {
        serde_json::Value::Array(points) if place == TRIM => {
            let wrong = points.iter().position(serde_json::Value::is_array)?;
            Some(format!("{TRIM}.{}", wrong + 1))
        }
        serde_json::Value::Array(_) if place.is_empty() => Some("the whole".to_owned()),
        serde_json::Value::Array(_) => Some(place.to_owned()),
        serde_json::Value::Object(keys) => keys.iter().find_map(|(key, value)| match place {
            "" => list_in(value, key),
            _ => list_in(value, &format!("{place}.{key}")),
        }),
        _ => None,
    }
}

impl Scenario {
    /// Reads and checks a scenario.
    ///
    /// # Errors
    /// Names line and column of what cannot be read, or key, value and range of what is refused.
    pub fn from_json(text: &str) -> Result<Self, ScenarioError> {
        let value: serde_json::Value = serde_json::from_str(text)?;
        if let Some(place) = list_in(&value, "") {
            return Err(ScenarioError::List { place });
        }
        let s: Self = serde_json::from_str(text)?;
        s.check().map_err(ScenarioError::Refused)?;
        Ok(s)
    }

    /// Every number out of range.
    ///
    /// # Errors
    /// All complaints at once.
    pub fn check(&self) -> Result<(), Vec<RigError>> {
        let mut g = Gate::default();
        g.range("wind.speed_10m_mps", self.wind.speed_10m_mps, 0.0, 60.0);
        g.range("wind.from_deg_true", self.wind.from_deg_true, -720.0, 720.0);
        g.range("wind.shear_exponent", self.wind.shear_exponent, 0.0, 0.6);
        g.range(
            "current.set_deg_true",
            self.current.set_deg_true,
            -720.0,
            720.0,
        );
        g.range("current.drift_mps", self.current.drift_mps, 0.0, 8.0);
        g.range(
            "boat.speed_through_water_mps",
            self.boat.speed_through_water_mps,
            0.0,
            25.0,
        );
        g.range(
            "boat.heading_deg_true",
            self.boat.heading_deg_true,
            -720.0,
            720.0,
        );
        if let Some(t) = &self.boat.turn {
            g.range("boat.turn.start_s", t.start_s, 0.0, 7200.0);
            g.range("boat.turn.by_deg", t.by_deg, -720.0, 720.0);
            g.range("boat.turn.rate_deg_s", t.rate_deg_s, 0.05, 30.0);
            g.range(
                "boat.turn.yaw_time_constant_s",
                t.yaw_time_constant_s,
                0.0,
                60.0,
            );
        }
        g.range("duration_s", self.duration_s, 0.0, 7200.0);
        g.range(
            "kite_line.out_m",
            self.kite_line.out_m,
            self.kite_line.clip_to_kite_m + 2.0,
            LINE_OUT_MAX_M,
        );
        if let Some(m) = self.main_line.out_m {
            let least = self.marker.above_bait_m + 1.0;
            g.range("main_line.out_m", m, least, LINE_OUT_MAX_M);
        }
        if let Some(sea) = &self.sea {
            sea.check(&mut g);
        }
        if let Err(e) = Rig::new(&self.rig_parameters()) {
            g.errors.extend(e);
        }
        if g.errors.is_empty() {
            Ok(())
        } else {
            Err(g.errors)
        }
    }

    /// The rig in the scenario.
    #[must_use]
    pub fn rig_parameters(&self) -> RigParameters {
        let default = RigParameters::default();
        RigParameters {
            rod_tips: RodTips {
                kite: self.rod_tips.kite.over(default.rod_tips.kite),
                main: self.rod_tips.main.over(default.rod_tips.main),
            },
            kite: Kite {
                area_m2: self.kite.area_m2,
                mass_kg: self.kite.mass_kg,
                cl: self.kite.cl,
                cd: self.kite.cd,
                trim: self.kite.trim.clone(),
            },
            kite_line: KiteLine {
                clip_to_kite_m: self.kite_line.clip_to_kite_m,
                diameter_m: self.kite_line.diameter_m,
                mass_per_m_kg: self.kite_line.mass_per_m_kg,
                strength_n: None,
            },
            main_line: MainLineStuff {
                diameter_m: self.main_line.diameter_m,
                mass_per_m_kg: self.main_line.mass_per_m_kg,
                strength_n: None,
            },
            marker: Marker {
                above_bait_m: self.marker.above_bait_m,
                diameter_m: self.marker.diameter_m,
                mass_kg: self.marker.mass_kg,
            },
            bait: Bait {
                mass_kg: self.bait.mass_kg,
                height_m: self.bait.height_m,
                volume_m3: self.bait.volume_m3,
                wet_drag_area_m2: self.bait.wet_drag_area_m2,
                air_drag_area_m2: self.bait.air_drag_area_m2,
                planing: self.bait.planing,
            },
            air_density: self.air_density,
            water_density: self.water_density,
            ..default
        }
    }

    /// Surroundings on a heading, degrees true.
    #[must_use]
    pub fn conditions(&self, heading_deg_true: f64) -> Conditions {
        Conditions {
            wind: self.wind(),
            current: self.current(),
            boat_speed_mps: self.boat.speed_through_water_mps,
            heading_rad: heading_deg_true.to_radians(),
            kite_line_out_m: self.kite_line.out_m,
        }
    }

    /// The wind.
    #[must_use]
    pub fn wind(&self) -> Wind {
        Wind {
            speed_10m_mps: self.wind.speed_10m_mps,
            from_rad: self.wind.from_deg_true.to_radians(),
            shear_exponent: self.wind.shear_exponent,
        }
    }

    /// The current.
    #[must_use]
    pub fn current(&self) -> Current {
        Current {
            set_rad: self.current.set_deg_true.to_radians(),
            drift_mps: self.current.drift_mps,
        }
    }

    /// The systems of waves; none on flat water.
    #[must_use]
    pub fn waves(&self) -> Vec<Waves> {
        let sea = self.sea.as_ref();
        sea.map_or_else(Vec::new, |sea| sea.waves(self.wind.from_deg_true))
    }

    /// Heading after the turn, degrees true, not wrapped.
    #[must_use]
    pub fn final_heading_deg(&self) -> f64 {
        self.boat.heading_deg_true + self.boat.turn.map_or(0.0, |t| t.by_deg)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scenario_with_a_trim_table_is_read_as_it_is_written() {
        let text = r#"{"kite": {"trim": [
            {"wind_mps": 4, "cl": 0.9, "cd": 0.4}, {"wind_mps": 20, "cl": 0.5, "cd": 0.5}]}}"#;
        for scenario in [Scenario::from_json(text).unwrap(), Scenario::default()] {
            let written = serde_json::to_string(&scenario).unwrap();
            assert_eq!(Scenario::from_json(&written).unwrap(), scenario);
        }
    }

    #[test]
    fn lists_are_refused_by_name() {
        for (text, place) in [
            ("[]", "the whole"),
            (r#"{"kite": [1.3, 0.35]}"#, "kite"),
            (r#"{"rod_tips": {"main": []}}"#, "rod_tips.main"),
            (r#"{"kite": {"trim": [[4, 0.9, 0.4]]}}"#, "kite.trim.1"),
            (r#"{"trim": []}"#, "trim"),
        ] {
            let error = Scenario::from_json(text).unwrap_err().to_string();
            assert!(error.contains(&format!(": {place} is a list")), "{error}");
        }
    }
}
