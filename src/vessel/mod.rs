//! Vessel: what the boat and the deck are doing now.
//!
//! In: typed observations with the moment they arrived and the feed they came by.
//! Out: [`VesselNow`], one believed value for each quantity with its source, age and grade,
//! and [`DeckNow`], what the crew has told about lines, bait and intended turn.
//! It must not know the rig model, the forecast, sockets or clocks.

mod now;

pub use now::{
    ApparentWind, BaitSeen, DeckNow, Grade, IntendedTurn, LinesOut, Missing, Position, Quantity,
    Reading, TrueWind, VesselNow, WindStatistics,
};
