//! The rig model: kite, kite line, clip and ring, main line, marker and bait in air and water.
//! In: rig, air, water, boat and line out. Out: settled states and motion. Must not know where
//! any of these come from, nor any clock.
//!
//! # What is in it
//!
//! Three dimensions, in axes that translate with the boat but do not rotate. Kite: a point mass
//! with lift and drag in its apparent wind. Lines: weight and cross-flow drag along their real
//! shape, in water where they lie in it; they neither stretch nor push. Ring: frictionless, equal
//! tension on both sides; the marker cannot pass it. Bait: buoyancy and drag by immersed share, its
//! own inertia in air. Left out: the kite's own attitude and side-slip, ring friction, added mass.
//! Water is flat unless a timeline has a [`Ride`]: then linear waves ([`Seaway`]) move the water at
//! bait and wet line, and a hull in them the rod tips. Such runs are for scenarios and checks
//! ([`simulate_at_sea`]); forecasts run on flat water and take from [`sea`] what waves make of it.
//!
//! # Method
//!
//! The system is stiff: the nearly weightless lines respond within 0.05 s, kite and bait over tens
//! of seconds. An explicit method would have to resolve the lines (0.2 ms steps in the reference
//! runs). Here every step is implicit, so it is as long as the slow motion allows.
//!
//! * Each stretch of line is divided into a few straight pieces between nodes. A piece represents
//!   the arc of its line: the chord is shorter than the line by `a^2/24`, where `a` is the angle by
//!   which the piece's own load bends it. The load is taken at the two Gauss points of the arc and
//!   distributed to the ends by the lever rule. So a few pieces are enough, as the table shows.
//! * Lengths are constraints whose multipliers are the tensions, in an augmented Lagrangian
//!   (Hestenes 1969, Powell 1969: from memory). The penalty stiffness sets only how fast the
//!   tension converges; no result depends on it. A bowed piece yields like a spring. The
//!   derivatives contain that compliance: without it Newton's method diverges for slack lines and
//!   short steps.
//! * Newton's method with exact 3x3 blocks, eliminated from the outer ends of the four chains to
//!   the clip. The ring's position on the line, and the line length of a trim, are extra columns.
//! * Time: variable-step BDF2 for positions, backward differences of velocity for the inertia (with
//!   second order there, tensions oscillate from step to step when the step shrinks). An error
//!   estimate controls the step; usually one Newton iteration per step.
//! * Settled states: Newton's method on the same forces. When it fails: continuation in the wind on
//!   the lines, or paying out line in time.
//!
//! Force laws and coefficients name their source where they are defined.
//!
//! # Convergence, measured
//!
//! Two turns (`turn_05` and `turn_11` of the reference cases: 53 and 119 m of main line needed
//! by a turn toward the wind). Pieces: kite line below + above clip / reel leg / hang + leader.
//! Tolerance: position error allowed per step. Times: one 120 s turn, release build, one core
//! of a shared machine.
//!
//! | pieces | tolerance | trim 05 | leaves 05 | top 05 | trim 11 | leaves 11 | top 11 | 120 s |
//! |---|---|---|---|---|---|---|---|---|
//! | 3+1/6/6+3 | 30 mm | 202.543 m | 17.18 s | 10.719 m | 169.592 m | 14.08 s | 31.959 m | 0.33 ms |
//! | **3+1/6/6+3** | **3 mm** | 202.543 | 18.02 | 10.719 | 169.592 | 14.50 | 31.959 | 0.5-0.6 |
//! | 3+1/6/6+3 | 0.3 mm | 202.543 | 18.04 | 10.719 | 169.592 | 14.58 | 31.959 | 1.2 |
//! | 6+2/10/10+4 | 3 mm | 202.570 | 18.06 | 10.727 | 169.591 | 14.48 | 31.956 | 0.8 |
//! | 6+2/10/10+4 | 0.3 mm | 202.570 | 18.00 | 10.727 | 169.591 | 14.58 | 31.956 | 1.6 |
//! | 8+4/20/28+8 | 3 mm | 202.580 | 18.06 | 10.732 | 169.590 | 14.48 | 31.956 | 1.6 |
//! | 8+4/20/28+8 | 0.3 mm | 202.580 | 18.00 | 10.732 | 169.590 | 14.56 | 31.956 | 3.1 |
//! | reference run (10+4/10/10+3) | | 202.571 | 18.08 | 10.670 | 169.563 | 14.50 | 31.898 | |
//!
//! The shipped discretisation (bold) differs from the finest by 0.04 m of line, where the skipping
//! band is tens of metres wide, and by 0.1 s in time. In 382 runs with random rigs, winds, currents
//! and turns against 6+2/14/16+5 pieces at 0.5 mm, trimmed line differs by 0.005 % (median) and
//! 0.23 % (95th percentile), onsets by 0.04 s and 0.44 s. The largest differences are trims over
//! 300 m, which no crew can use.
//!
//! The forecast runs thousands of rigs that differ by metres, on a mesh of its own
//! ([`Mesh::COARSE`], 8 pieces) with [`Accuracy::COARSE`]. Against a fine mesh with short steps, in
//! gusts and turns, its immersion is off by 0.011 on average (0.009 with the shipped mesh and the
//! same steps) and the bait is in another state in 1.8 % of the seconds (1.8 %), at half the cost:
//! `cargo test --test checks coarse -- --nocapture`.
//!
//! # Accuracy, measured
//!
//! `cargo test --test checks rig` with all 22 reference cases (full lumped-mass runs of an
//! independently written program; skipped unless present beside the project):
//!
//! | quantity | largest difference |
//! |---|---|
//! | trimmed main line | 0.05 % |
//! | kite elevation, clip height | 0.03 degrees, 0.04 % |
//! | airborne and dragged, yes or no | all agree |
//! | onset | 0.08 s |
//! | greatest bait height | 0.5 % |
//! | correction after the turn | 0.45 m of 121 m |
//!
//! In a seaway (`cargo test --test checks rig_sea`, 8 steady and 8 turn cases, eight seeds of other
//! waves each):
//!
//! | quantity | largest difference |
//! |---|---|
//! | share of time in contact | 0.015 |
//! | touches a minute | 8 % |
//! | mean height of the bait | 0.03 m; 0.10 m of 0.90 m where it touches once in five seconds |
//! | load exceeded in 1 % of the time, kite line, main line | 6 %, 5 %; always lower |
//! | airborne or dragged in a turn, yes or no | all agree |
//! | last touch, start of dragging | 5 s (the reference's seeds: 17 to 42 s), else 0.5 s |
//!
//! Bait swinging under a moving clip against moordyn 2.7.2: 0.15 m, tension 2 %. Catenaries against
//! MoorPy 1.3.0: 1e-3 (`tests/mooring`).
//!
//! Speed (`cargo bench`, release, one core of a shared 2-core machine under load): a 120 s turn
//! 0.70 to 0.76 ms, a steady solve 62 us (36 us from a hint), a fan of 72 headings 3.3 ms.
//!
//! Limits: about 1 % of random rigs end as "diverged", with hundreds of metres of slack line in the
//! water; events up to then are kept and the output says so. A falling kite ends the run.

#![allow(
    clippy::needless_range_loop,
    clippy::too_many_arguments,
    reason = "small matrices and node arrays read best by index"
)]

mod accuracy;
mod air;
mod assembly;
mod at_sea;
mod clearance;
#[cfg(test)]
mod closed_forms;
mod conditions;
mod first_guess;
mod forces;
mod hull;
mod kite_alone;
mod limits;
mod mesh;
mod output;
mod parameters;
mod piece;
pub mod presets;
mod rough;
mod rough_output;
mod run;
mod sample;
mod scenario;
mod scenario_sea;
mod scenario_timeline;
pub mod sea;
mod seaway;
mod settle;
mod shape;
mod simulate;
mod steady;
mod system;
mod trim;
mod vector;

pub use accuracy::Accuracy;
pub use air::{ApparentWind, Current, LOWEST_WIND_HEIGHT_M, Wind, apparent_wind};
pub use at_sea::{AtSea, SEA_BEFORE_S};
pub use clearance::Structure;
pub use conditions::{Conditions, LineLengths, Timeline};
pub use hull::{BoatMotion, Hull, Pose, Ride};
pub use kite_alone::{KiteAlone, KiteAloneIn};
pub use limits::{
    AllowedShares, Limit, LoadShare, WindCeiling, greatest_wind_mps, heaviest_load,
    kite_line_for_elevation_m, least_wind_mps, loads,
};
pub use mesh::Mesh;
pub use output::{AfterTurn, EndReason, Events, Row, SimulationOutput, SteadyOut, TurnSense};
pub use parameters::{
    Bait, CLIP_MASS_KG, GRAVITY_MPS2, Kite, KiteLine, LINE_DRAG_COEFFICIENT, MARKER_STOP_M,
    MainLineStuff, Marker, Rig, RigError, RigParameters, RodTip, RodTips, SPHERE_DRAG_COEFFICIENT,
    TrimPoint,
};
pub use rough::{BaitWindow, DRAGGING_IMMERSION, SEA_SAMPLE_S, WindowState, simulate_at_sea};
pub use rough_output::{SeaEvent, SeaEvents, SeaOutput, SeaSeed, SeaStats, SeaSummary, SeaTurn};
pub use run::{Run, RunEnd};
pub use sample::{LineShape, Sample, State};
pub use scenario::{
    Scenario, ScenarioBait, ScenarioBoat, ScenarioCurrent, ScenarioError, ScenarioKite,
    ScenarioKiteLine, ScenarioMainLine, ScenarioMarker, ScenarioRodTip, ScenarioRodTips,
    ScenarioTurn, ScenarioWind,
};
pub use scenario_sea::{ScenarioNumerics, ScenarioSea, ScenarioSwell};
pub use scenario_timeline::ScenarioTimeline;
pub use seaway::{Seaway, Waves};
pub use simulate::simulate;
pub use steady::{fan, fan_with, settled_state, steady};
pub use trim::{LONGEST_MAIN_LINE_M, LOWEST_KITE_RAD, MainLine, NoTrim, Steady, TRIM_IMMERSION};
