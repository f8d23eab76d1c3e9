//! Real sockets, pseudo-terminals, the built binary.
#![allow(clippy::unwrap_used, reason = "a failing unwrap is a failing test")]

mod chain;
mod feed;
mod feed_serial;
#[path = "../page/invented.rs"]
mod invented;
mod learnt;
mod program;
mod restart;
mod serve;
mod serve_crowd;
mod serve_settings;
mod service;
mod started;
