//! Published values, properties, reference cases, recorded logs.
#![allow(clippy::unwrap_used, reason = "a failing unwrap is a failing test")]

mod advice;
mod forecast_scene;
mod framing;
mod turn;
