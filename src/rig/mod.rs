//! The rig model: kite, kite line, clip and ring, main line, marker and bait in air and water.
//! In: rig, air, water, boat and line out. Out: settled states and motion. Must not know where
//! any of these come from, nor any clock.

#![allow(
    clippy::needless_range_loop,
    clippy::too_many_arguments,
    reason = "small matrices and node arrays read best by index"
)]

mod air;
#[cfg(test)]
mod closed_forms;
mod conditions;
mod forces;
mod limits;
mod mesh;
mod parameters;
pub mod presets;
mod run;
mod sample;
mod scenario;
pub mod sea;
mod simulate;
mod steady;
mod system;
mod vector;

pub use air::{ApparentWind, Current, LOWEST_WIND_HEIGHT_M, Wind, apparent_wind};
pub use conditions::{BoatMotion, Conditions, LinesOut, Timeline};
pub use limits::{
    Limit, LoadShare, WindCeiling, greatest_wind_mps, heaviest_load, kite_line_for_elevation_m,
    least_wind_mps, loads,
};
pub use mesh::Mesh;
pub use parameters::{
    Bait, CLIP_MASS_KG, GRAVITY_MPS2, Kite, KiteLine, LINE_DRAG_COEFFICIENT, MARKER_STOP_M,
    MainLineStuff, Marker, Rig, RigError, RigParameters, RodTip, RodTips, SPHERE_DRAG_COEFFICIENT,
    TrimPoint,
};
pub use run::{Accuracy, Run, RunEnd};
pub use sample::{LineShape, Sample, State};
pub use scenario::{
    Scenario, ScenarioBait, ScenarioBoat, ScenarioCurrent, ScenarioError, ScenarioKite,
    ScenarioKiteLine, ScenarioMainLine, ScenarioMarker, ScenarioRodTip, ScenarioRodTips,
    ScenarioTimeline, ScenarioTurn, ScenarioWind,
};
pub use simulate::{AfterTurn, EndReason, Events, Row, SimulationOutput, SteadyOut, simulate};
pub use steady::{
    LONGEST_MAIN_LINE_M, MainLine, NoTrim, Steady, TRIM_IMMERSION, fan, fan_with, settled_state,
    steady,
};
