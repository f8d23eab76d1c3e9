//! Serve: the HTTP room.
//!
//! In: the snapshot of each tick, the revisions of advisories, a listener and the shutdown
//! token, all handed in by whoever drives the program. Out: the API under `/v1`, the event
//! streams, `/healthz`, `/metrics`, the pages, and what the crew posts (to the stamper, so that
//! it is recorded and has its effect as a crew sentence; changes of settings by way of their
//! keeper).
//! It must not know feeds, the rig model, how a forecast is made or how an advisory is raised;
//! it changes nothing itself.

mod app;
mod assets;
mod body;
mod crew;
mod guard;
mod hub;
mod limits;
mod metrics;
mod problem;
mod read;
mod recorder;
mod room;
mod said;
mod seats;
mod settings;
mod setup;
mod sources;
mod state;
mod streams;
mod taps;

pub use app::{Bind, ServeError, app, bind, run};
pub use crew::{
    AskedBody, BaitBody, BearingBody, ElevationBody, Fishing, LinesOutBody, MarkBody, MarkerBody,
    MovedBody, PlanBody, Recorded, SessionBody, SilenceBody, TurnBody, UndoBody,
};
pub use hub::AdvisoryHub;
pub use problem::Problem;
pub use read::{ForecastAnswer, Health};
pub use recorder::RecorderAnswer;
pub use settings::{ServeComplaint, ServeSettings};
pub use setup::{
    Kept, KeyProblem, SetUp, SettingEntry, SettingGrade, SettingValue, SettingsAnswer,
    SettingsPost, SettingsRefusal, StructureEntry,
};
pub use sources::{
    BiteZone, CrewPost, CrewReply, CrewUnits, JournalNow, JournalState, LengthUnit, RigEntry,
    Sources, SpeedUnit, WeightUnit,
};
pub use state::StateAnswer;
