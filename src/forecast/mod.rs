//! Forecast: many possible futures of the rig over the next two minutes.
//!
//! In: the vessel and the deck now, the heading profile that is coming, the rig.
//! Out: a [`Forecast`]: bands over time, chances with onset quantiles, the plan for the lines,
//! the turn limits and the fan of headings.
//! It must not know sockets, clocks, pages or how advisories are worded.
//!
//! Cost (`cargo bench --bench forecast`, one core): see "Scores" in DEVELOPERS.md. Nine tenths go
//! into futures and plan, a fifteenth into following the beliefs.

mod ahead;
mod air;
mod chances;
mod draws;
mod effort;
mod ensemble;
mod fan;
mod forecaster;
mod future;
mod learnt;
mod limit;
mod member;
mod plan;
mod report;
mod settings;
mod shape;
mod strain;
mod view;

pub use effort::{Effort, LEAST_FUTURES};
pub use forecaster::{Changes, Forecaster};
pub use learnt::{KeptBelief, Learnt, LearntError, LearntNow, MOST_KITES, Memory};
pub use settings::{BiteZone, Doubt, ForecastSettings, Hands};
pub use shape::{
    Band, Chance, ChanceKind, ClearanceAhead, Crew, FanHeading, Forecast, Lack, LinePlan,
    LoadAhead, LoadPart, NoForecast, PlanStep, RigView, TurnAhead, TurnLimit, ViewPoint,
};

pub use crate::turn::TurnSource;
