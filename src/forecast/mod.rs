//! Forecast: many possible futures of the rig over the next two minutes.
//!
//! In: the vessel and the deck now, the heading profile that is coming, the rig.
//! Out: a [`Forecast`]: bands over time, chances with onset quantiles, the plan for the lines,
//! the turn limits and the fan of headings.
//! It must not know sockets, clocks, pages or how advisories are worded.

mod ahead;
mod air;
mod chances;
mod draws;
mod ensemble;
mod fan;
mod forecaster;
mod future;
mod limit;
mod member;
mod plan;
mod settings;
mod shape;
mod view;

pub use forecaster::Forecaster;
pub use settings::{BiteZone, Doubt, ForecastSettings, Hands};
pub use shape::{
    Band, Chance, ChanceKind, Crew, FanHeading, Forecast, LinePlan, NoForecast, PlanStep, RigView,
    TurnAhead, TurnLimit, ViewPoint,
};

pub use crate::turn::TurnSource;
