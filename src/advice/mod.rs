//! Advice: advisories with a life cycle.
//!
//! In: forecasts, vessel, deck, crew acknowledgements, the moment.
//! Out: [`Advisory`] revisions. It must not know sockets, clocks, pages or files.

mod shape;

pub use shape::{Action, Advisory, AlertState, Kind, Outcome, Priority};
