//! Published values, properties, reference cases, recorded logs.
#![allow(clippy::unwrap_used, reason = "a failing unwrap is a failing test")]

mod framing;
mod recorded_logs;
mod recording;
mod settings;
mod vessel;
mod vessel_wind;
