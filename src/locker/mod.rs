//! Locker: which kite and which tackle for today's wind.
//! In: the parts aboard, the wind and the boat's speed, all as numbers. Out: for each kite whether
//! it flies, its loads and its range of wind; for lines, leader, band, ring and reels whether they
//! do; the best kite and why; what to change. Must not know where wind or parts come from, nor the
//! units that people read.
//!
//! # Decisions
//!
//! - **Settled states only.** A gust is taken as a wind that stays, with the main line trimmed to
//!   it. So the loads are those of a long gust; jerks of the bait in a sea and the swing of the kite
//!   are not in them, which is what the allowed shares of the strengths are for.
//! - **A lull is as far below the mean as the gust is above it** (assumption).
//! - **The range of wind** of a kite goes from the least wind in which the rig hangs usably to the
//!   greatest before a part passes its allowed share, with the main line trimmed to each wind.
//! - **The best kite** keeps furthest from both ends of its range, as a ratio: lull over least wind,
//!   greatest wind over gust, the smaller of the two.
//! - **What no source fixes is common practice** of the trade, and each check says so.

mod check;
mod day;
mod kite;
mod parts;
mod report;
mod swaps;
mod tackle;

pub use check::{Amount, Change, Check, Unit, Verdict};
pub use day::{
    Day, DayOrigin, GUST_MPS, KITE_LINE_OUT_M, Known, OFF_BOW_DEG, Origin, SPEED_MPS, WIND_MPS,
};
pub use kite::{KiteToday, WindRange, allowed_shares};
pub use parts::{
    HOOKED_DRAG_LBF, Leader, Locker, NEWTONS_PER_LBF, Named, Reel, ReelOf, STRIKE_DRAG_LBF, Spool,
    Tackle,
};
pub use report::{RigToday, flown_today, rig_today};
pub use swaps::Swap;
