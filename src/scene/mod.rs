//! Scene: what an invented boat's instruments and crew would say.
//!
//! In: a [`Script`] (true rig, wind, turns, hands) and a seed. Out: NMEA sentences with the
//! moments at which they would arrive, and the true state of the bait for scoring.
//! It stands outside the flow: it makes input, and must not know what the program makes of it.
//! Everything in it is invented.

mod day;
mod instruments;
mod noise;
mod play;
mod rolling;
mod script;
mod truth;

pub use day::demo_day;
pub use play::{Played, SceneError, play};
pub use script::{Gusts, Instruments, Script, ScriptMove, ScriptTurn, Shift};
pub use truth::{Truth, TruthAtSea, TruthRow, TurnTruth};
