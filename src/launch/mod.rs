//! Launch: from the kite in hand to a skipping bait, as steps that were simulated beforehand.
//! In: the parts aboard, the day, how fast hands let line out. Out: the steps in order, each with
//! its lines and what is to be expected after it; or why there is no launch. Must not know who
//! answers a step, nor the units that people read.
//!
//! # Decisions
//!
//! - **The steps come from the model.** Kite line goes out in equal parts; the main line that goes
//!   with each part is the one that trims the bait there. Both run out together, at the fastest pace
//!   at which the simulated launch keeps the kite up, the bait low and every part within its share.
//! - **The bait starts in the water.** The marker cannot pass the ring, and the ring starts low, so
//!   at first there is more line below the ring than the clip is high.
//! - **Every step ends with a look at the bait**, and names how much main line to move when it flies
//!   or drags. Line counts by hand are off, and the next steps would add to the error.
//! - **No launch** where the kite sinks in the lulls, a part passes its share in the gusts, or no
//!   pace keeps the bait low: better said ashore.
//! - Cautions stand in the first step, where the launch begins. They come before any number here,
//!   and local rules and licensed practice come before all of it.

mod path;
mod plan;
mod step;

pub use path::Path;
pub use plan::{Launch, NoLaunch, launch};
pub use step::{BaitDoes, Expected, Lines, Step};
