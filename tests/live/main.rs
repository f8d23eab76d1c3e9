//! Real sockets, pseudo-terminals, the built binary.
#![allow(clippy::unwrap_used, reason = "a failing unwrap is a failing test")]

mod alerts;
mod chain;
mod feed;
mod feed_serial;
mod flood;
#[path = "../page/invented.rs"]
mod invented;
#[path = "../page/invented_strike.rs"]
mod invented_strike;
mod learnt;
mod logbook;
mod mqtt;
mod overload;
mod phones;
mod program;
mod push;
mod recorder;
mod restart;
mod rig_today;
mod serve_change;
mod serve_crew;
mod serve_crowd;
mod serve_document;
mod serve_fair;
mod serve_pass;
mod serve_phones;
mod serve_read;
mod serve_refused;
mod serve_settings;
mod serve_streams;
mod service;
mod serving;
mod started;
mod tls;

/// How long a test waits for what must come: long enough for a very busy machine.
const PATIENCE: std::time::Duration = std::time::Duration::from_secs(120);
