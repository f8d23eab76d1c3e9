//! Forecast: many possible futures of the rig over the next two minutes.
//!
//! In: the vessel and the deck now, the heading profile that is coming, the rig.
//! Out: a [`Forecast`]: bands over time, chances with onset quantiles, the plan for the lines,
//! the turn limits and the fan of headings.
//! It must not know sockets, clocks, pages or how advisories are worded.
//!
//! Files import in one direction: `settings`, `trouble`, `shape`, `lack`, `draws`, `effort`, `scales` (a quantity on
//! several time scales) -> `air`, `helm` -> `filter` (the particle filter) -> `futures` (gusts, helm,
//! runs, chances, loads) -> `plan` (search, turn limit, fan) and `memory` -> `standing` -> `make` ->
//! `forecaster`, which owns one of each. `likely` draws a few rigs for other planners; `wind_ahead`
//! shows the wind alone, for checks.
//!
//! # Decisions
//!
//! - **Particles and futures.** A particle filter follows 512 particles, each a belief about rig
//!   and air (`forecast.particles`); each forecast draws 128 equally weighted futures from them
//!   (`forecast.futures`), each with its own gusts and its own realisation of the turns. Following
//!   a particle costs one second of motion per second, a future costs two minutes of it, so
//!   particles can be many. With only 128 particles, a few reports left the weight on a dozen and
//!   the chances jumped.
//! - **A report that contradicts nearly every particle** is either wrong or evidence that the rig
//!   is outside the ensemble: Bayes' rule weighs the two (`ASTRAY` in `filter/particles.rs` against
//!   the likelihood of the report). For bait, marker and count, some particles then take the line
//!   out that makes the report true. A contradicting kite sighting widens the beliefs about kite
//!   and air instead.
//! - **A move of line is told after the line moved**: at the report each particle plays it through
//!   at the pace of hands, as if they had begun so long before (`filter/particle.rs`). Line that ran
//!   out within seconds would leave the bait in slack line, and dragging, where in truth it skips.
//! - **Side by side.** Futures and particles run on all cores (rayon). Each result keeps its place,
//!   so the bytes do not depend on the number of threads.
//! - **As much as the answer needs.** How long a forecast stands depends on what is at stake
//!   (`standing.rs`). On a straight course, and while half of the futures agree, the other half is
//!   not run (`futures/ahead.rs`). Particles and futures have few pieces of line (`Mesh::COARSE`).
//! - **The crew's trim** is a belief of each particle, apart from the rig. Hands that moved line of their
//!   own accord and then saw the bait skip have trimmed it; line that the plan asked for says nothing of
//!   that. A move that lifts the bait, or does not, tells how near to lift-off the trim was. Fan and passes
//!   trim as the crew does. The plan asks for the least line that reaches the band in which the bait skips,
//!   and judges each amount in futures with the gusts of this wind. The trim is not kept between
//!   sessions: the next crew may differ.
//! - **Two reels.** `forecast.hands` has a pace and a length per crank for each reel. Line is given
//!   by the drag, so only taking counts cranks.
//! - **Taking a report back** arrives as an event of the deck's log (`vessel/crew_log.rs`) that
//!   names the report: the earlier beliefs and weights are restored, then later reports reapplied
//!   (`filter/updates.rs`).
//! - **A turn is the cause** only of trouble whose onset comes after the turn begins
//!   ([`Forecast::turn_behind`]). Earlier trouble is the wind's.
//! - **What was learnt of a kite** is keyed by the numbers that the beliefs are about (`tackle` in
//!   `learnt.rs`), so a changed strength or rod tip does not lose it. A report teaches only the rig
//!   that was set when it was made.
//!
//! # Cost
//!
//! One whole forecast (new turn intent: all futures, plan search, fan, limits, structures) on one
//! core of a shared 2-core machine, release build, `cargo bench --bench forecast`; the target is
//! 300 ms:
//!
//! | measured | build of then | the build before it, same day |
//! |---|---|---|
//! | first measurement | 196 ms | |
//! | 2026-11-26 | 344 ms | 408 ms |
//!
//! On 2026-11-26 the rig's turn took 1.25 ms instead of 0.73: the machine was about half as fast as
//! at the first measurement. Futures and plan take nine tenths, following the particles a fifteenth.

mod air;
mod basis;
mod draws;
mod effort;
mod filter;
mod forecaster;
mod futures;
mod hands;
mod helm;
mod lack;
mod learnt;
mod likely;
mod make;
mod memory;
mod plan;
mod ready;
mod scales;
mod sea;
mod settings;
mod shape;
mod standing;
mod taught;
mod trouble;
mod wind_ahead;

pub use effort::{Effort, LEAST_FUTURES};
pub use filter::KeptBelief;
pub use forecaster::Forecaster;
pub use hands::Hands;
pub use lack::{Lack, NoForecast};
pub use learnt::{Learnt, LearntError, LearntNow, MOST_KITES, Memory};
pub use likely::{LIKELY_STEP_S, Likely, LikelyRigs};
pub use memory::Changes;
pub use sea::{SeaReckoned, SeaSettings, SeaSource, SeaWord, SkipBand};
pub use settings::{BiteZone, Doubt, FORECAST, ForecastSettings};
pub use shape::{
    BaitAhead, ClearanceAhead, Crew, FanHeading, Forecast, LinePlan, LoadAhead, LoadPart, PlanStep,
    RigView, TurnAhead, TurnLimit, ViewPoint,
};
pub use taught::{LearntAbout, LearntNumber, Taught};
pub use trouble::{Band, Chance, Trouble};
pub use wind_ahead::WindAhead;

pub use crate::turn::TurnSource;
