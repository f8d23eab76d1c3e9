//! (tests to come)
#![allow(clippy::unwrap_used, reason = "a failing unwrap is a failing test")]
