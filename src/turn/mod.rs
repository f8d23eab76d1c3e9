//! Turn: what heading profile is coming, and how sure.
//!
//! In: route and autopilot observations as they arrive, the vessel and the deck now.
//! Out: an [`Outlook`]: the heading profile to reckon with, its doubt, and the ranked intents
//! it was chosen from (crew, then heading or track control, then route, then a turn seen under
//! way).
//! It must not know the rig model, the wind, sockets or clocks.

mod crew;
mod intent;
mod pilot;
mod profile;
mod route;
mod settings;
mod watch;
mod yaw;

pub use intent::{Intent, TurnSource};
pub use profile::{Extent, HeadingProfile, TurnCommand, TurnDoubt, TurnDraw, YawMotion};
pub use settings::TurnSettings;
pub use watch::{Outlook, TurnWatch};

/// Wraps an angle into -pi..pi.
#[must_use]
pub fn wrap_rad(angle_rad: f64) -> f64 {
    use std::f64::consts::{PI, TAU};
    let wrapped = (angle_rad + PI).rem_euclid(TAU) - PI;
    if wrapped.is_nan() { 0.0 } else { wrapped }
}
