//! The futures: many possible realisations of the next two minutes.
//!
//! In: weighted particles, the heading profile and the wind. Out: traces of bait, kite and lines
//! over time, from them quantile bands, chances with onsets, loads and distances.

mod ahead;
mod chances;
mod gear;
mod gusts;
mod noise;
mod run;
mod slot;
mod strain;
mod trace;
mod track;
mod view;
mod ways;

pub use ahead::{Ahead, Coming};
pub use chances::{
    Weighted, bands, chances, moments_s, share, skipping, skipping_of, worth, worth_of,
};
pub use gear::{clearances_ahead, loads_ahead};
pub use gusts::Gusts;
pub use noise::STEP_S;
pub use run::{Course, Move, run_from};
pub use slot::Slot;
pub use strain::clear_by_m;
pub use trace::Trace;
pub use track::bait_ahead;
pub use view::view;
