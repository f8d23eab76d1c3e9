//! The pages in a real headless browser.
#![allow(clippy::unwrap_used, reason = "a failing unwrap is a failing test")]

mod accessible;
mod before;
mod browser;
mod day;
mod demo;
#[path = "../checks/forecast_scene.rs"]
#[allow(dead_code, reason = "the checks use all of it, the pictures a part")]
mod forecast_scene;
mod helm;
mod invented;
mod invented_strike;
mod late;
mod launch;
mod layout;
mod locker;
mod logged;
mod marks;
mod mate;
mod measure;
mod modelled;
mod outlets;
mod pages;
mod pass_walk;
mod phones;
#[path = "../checks/pictures.rs"]
mod pictures;
mod recording;
mod rig;
mod room;
mod shots;
mod sound;
#[path = "../live/started.rs"]
mod started;
mod strike;
mod trouble;
mod types;
mod walk;
mod webkit;
mod whole_day;
