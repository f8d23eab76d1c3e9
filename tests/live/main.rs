//! Real sockets, pseudo-terminals, the built binary.
#![allow(clippy::unwrap_used, reason = "a failing unwrap is a failing test")]

mod chain;
mod feed;
mod feed_serial;
mod flood;
#[path = "../page/invented.rs"]
mod invented;
mod learnt;
mod overload;
mod program;
mod recorder;
mod restart;
mod serve;
mod serve_crowd;
mod serve_document;
mod serve_fair;
mod serve_refused;
mod serve_settings;
mod service;
mod started;
