//! skimwatch: reads the boat's NMEA 0183 network, models the kite rig, forecasts what the coming
//! turn does to the bait, and advises which line to move, how far and when.
//!
//! Data flows one way, one folder per room:
//! feed -> decode -> vessel -> turn -> forecast -> advice -> record / serve,
//! with `rig` as the physical model that `forecast` runs.
//! The rooms from `decode` to `advice` are pure: time is an argument, and they know no clock,
//! socket or thread.
#![cfg_attr(
    test,
    allow(clippy::unwrap_used, reason = "a failing unwrap is a failing test")
)]

pub mod advice;
pub mod cause;
pub mod command;
pub mod decode;
pub mod drive;
pub mod engine;
pub mod feed;
mod files;
pub mod forecast;
pub mod key;
pub mod record;
pub mod rig;
pub mod scene;
pub mod score;
pub mod serve;
pub mod settings;
pub mod time;
pub mod turn;
pub mod units;
pub mod vessel;
