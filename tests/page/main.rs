//! The pages in a real headless browser.
#![allow(clippy::unwrap_used, reason = "a failing unwrap is a failing test")]

mod accessible;
mod browser;
mod invented;
mod measure;
mod pages;
mod room;
mod shots;
mod types;
mod webkit;
