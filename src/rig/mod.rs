//! The rig model: kite, kite line, clip and ring, main line, marker and bait in air and water.
//! In: rig, air, water, boat and line out. Out: settled states and motion. Must not know where
//! any of these come from, nor any clock.
//!
//! # What is in it
//!
//! Three dimensions, in axes that go with the boat but do not turn. Kite: a point mass with lift
//! and drag on the wind it feels as it moves. Lines: weight and cross-flow drag along their real
//! shape, in water where they lie in it, no stretch, no push. Ring: no friction, equal tension on
//! both sides; the marker cannot pass it. Bait: buoyancy and drag by immersed share, its own
//! inertia in air. Left out: heel, roll and pitch of the boat, the kite's own attitude and
//! side-slip, ring friction, added mass, waves but for a share of time in contact ([`sea`]).
//!
//! # Method
//!
//! The lines hardly weigh anything: their mass answers within 0.05 s, while kite and bait take
//! tens of seconds. An explicit method would have to follow the mass (0.2 ms steps in the
//! reference runs). Here every step is implicit, so it is as long as the slow motion allows.
//!
//! * Each stretch of line is cut into a few straight pieces between nodes. A piece stands for the
//!   arc it carries: its chord is shorter than its line by `a^2/24` where `a` is the angle its own
//!   load turns it by, and the load is taken at the two Gauss points of the arc and shared to the
//!   ends by lever. So a few pieces are enough, as the table below shows.
//! * Lengths are held by multipliers (the tensions) in an augmented Lagrangian (Hestenes 1969,
//!   Powell 1969: from memory): the guard stiffness sets only how fast the tension settles, and no
//!   result depends on it. A piece that bows gives like a spring; that give is in the derivatives,
//!   without it Newton's method diverges for slack lines and short steps.
//! * Newton's method with exact 3x3 blocks, eliminated from the outer ends of the four chains to
//!   the clip. The ring's place on the line, and a trim's length of line, ride along as columns.
//! * Time: BDF2 with variable step on places, backward difference on velocities for the inertia
//!   (with the same order there, tensions swing from step to step when the step shrinks). Step by
//!   an error estimate, usually one Newton step each.
//! * Settled states: Newton's method on the same forces. When it fails: by steps in the wind on
//!   the lines, or by paying out in time.
//!
//! Force laws and coefficients: `../shared/physics.md` and `references.md` sections 3-6 as cited
//! at each. Of the classic treatments the cross-flow principle is Hoerner's (1965); augmented
//! Lagrangian and BDF2 are textbook methods.
//!
//! # Convergence, measured
//!
//! Two turns (`turn_05` and `turn_11` of the reference cases: 53 and 119 m of main line asked for
//! by a turn toward the wind). Pieces: kite line below + above clip / reel leg / hang + leader.
//! Tolerance: error in place allowed for one step. Times: one 120 s turn, release build, one core
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
//! The shipped cut (bold) is 0.04 m of line from the finest, where the skipping band is tens of
//! metres wide, and 0.1 s in time. Over 382 runs with random rigs, airs, currents and turns against
//! 6+2/14/16+5 pieces at 0.5 mm: trimmed line off by 0.005 % (median) and 0.23 % (95th
//! percentile), onsets by 0.04 s and 0.44 s. The worst are trims over 300 m, which no crew can use.

#![allow(
    clippy::needless_range_loop,
    clippy::too_many_arguments,
    reason = "small matrices and node arrays read best by index"
)]

mod air;
mod assembly;
mod clearance;
#[cfg(test)]
mod closed_forms;
mod conditions;
mod first_guess;
mod forces;
mod limits;
mod mesh;
mod output;
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
pub use clearance::Structure;
pub use conditions::{BoatMotion, Conditions, LinesOut, Timeline};
pub use limits::{
    Limit, LoadShare, WindCeiling, greatest_wind_mps, heaviest_load, kite_line_for_elevation_m,
    least_wind_mps, loads,
};
pub use mesh::Mesh;
pub use output::{AfterTurn, EndReason, Events, Row, SimulationOutput, SteadyOut, TurnSense};
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
pub use simulate::simulate;
pub use steady::{
    LONGEST_MAIN_LINE_M, MainLine, NoTrim, Steady, TRIM_IMMERSION, fan, fan_with, settled_state,
    steady,
};
