//! A fish on, and the kite home: what to ask of whom, and the heading on which the kite comes in.
//!
//! In: the strike as the crew has told it (`vessel`), the rig, what stands on the boat, wind, boat.
//! Out: what each step asks; the heading on which the kite comes in clear of the hooked line and of
//! the boat, the way to turn, and the load while it is wound in; where no heading is clear, the best
//! one and what fouls. Pure; it must not know who asks, nor any clock.
//!
//! # Decisions
//!
//! - With the band released the main line no longer pulls at the clip: the kite is a kite on a line
//!   (`rig::KiteAloneIn`), settled at every length, because it follows a line that is wound at less
//!   than 1 m/s within seconds. Without a fish the bait is wound in first, so that the same holds.
//! - The fish keeps its bearing by the compass while the boat turns. Its distance is unknown, so the
//!   hooked line is asked to be clear for all of them (`apart`).
//! - A heading is advised by room first (up to 1 m), then by load and by how far it is to turn. It
//!   is worked out once for each time that the fish is pointed out, and stands (`watch`).
//! - A heading that is clear all the way comes first. Where none is, one that is clear until the last
//!   20 m of kite line is called narrow, and what is near then is told; so is a kite that drops there.
//!
//! # Measured
//!
//! `SEEDS=17,2 cargo test --test checks strike -- --nocapture`. Against the whole model with the
//! lightest main side that it takes, in 39 invented situations: 8 m up the kite line 0.10 m apart at
//! most, load 3.5 %; with the line wound in at 0.7 m/s in time, 0.08 m and 0.4 %. Of the 30 invented
//! situations of seed 17, most with little room, a search over 72 headings with the whole model finds
//! one with 0.15 m and more to spare in 13, of seed 2 in 9: the advised heading is clear in all of
//! them. In 14 and 14 it finds none, and the advice says so; 3 and 7 lie between. One answer costs
//! about 30 ms of one core (`opt-level` 1), three times that where there is little room.

mod apart;
mod prompt;
mod recovery;
mod situation;
mod watch;
mod wind_in;
mod winder;

pub use apart::{FAR_M, FORWARD_OF_BEAM_RAD, Fouls, Geometry, HookedLine, NEAR_M, SPREAD_RAD};
pub use prompt::{Hand, Prompt, after, prompt};
pub use recovery::{Clearance, NARROW_M, Recovery, Way, recovery};
pub use situation::Situation;
pub use watch::{StrikeNow, StrikeSettings, StrikeWatch, Then};
pub use wind_in::{Winding, WindingPoint, wind_in};
pub use winder::Winder;
