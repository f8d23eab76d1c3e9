//! A pass: the course on which the bait, not the boat, crosses a mark, skipping.
//!
//! In: a mark beside the boat, the boat, likely rigs, the bounds. Out: a [`PassPlan`] (at most two
//! turns, a speed, line orders, chance) or a [`Refusal`] with its cause and what would help. Pure; it
//! must not know who asks, nor any clock. It knows no traffic, depth or land.
mod course;
mod fly;
mod now;
mod plan;
mod search;
mod settled;
mod situation;
mod watch;

pub use course::{Course, Leg, LineOrder};
pub use fly::{Flown, SKIPS_FOR_S, SKIPS_SHARE};
pub use now::{PassLeg, PassLine, PassNow, PassRefused, PassState, Side};
pub use plan::{
    JUDGES, Judged, LIKELY, NEAR_M, OFFERED, PassPlan, Refusal, SURPRISES_S, amend, judge, plan,
};
pub use search::LONGEST_S;
pub use settled::Bar;
pub use situation::{Boat, Bounds, Flat, Sector, Situation, Target};
pub use watch::{PassView, PassWatch};
