//! Turn: what heading profile is coming, and how sure.
//!
//! In: route and autopilot observations as they arrive, the vessel and the deck now.
//! Out: an [`Outlook`]: the heading profile to reckon with, through every turn that is known of,
//! each with its doubt. Of several who speak of the same turn (overlapping in time) the best known
//! counts: crew, then heading or track control, then route, then what is seen under way. And
//! whether an observation has just told of another turn, so that nobody need wait to hear it.
//! Yaw is Nomoto's first-order model, its K and T fitted on line where a rudder is heard.
//! It must not know the rig model, the wind, sockets or clocks.

mod crew;
mod helm;
mod intent;
mod merge;
mod pilot;
mod profile;
mod route;
mod settings;
mod watch;
mod yaw;

pub use intent::{Intent, TurnSource};
pub use profile::{
    Extent, HeadingProfile, LikelyTurn, MOST_TURNS, TurnCommand, TurnDoubt, TurnDraw, YawDraw,
    YawMotion,
};
pub use settings::TurnSettings;
pub use watch::{Outlook, TurnWatch};

/// Wraps an angle into -pi..pi.
#[must_use]
pub fn wrap_rad(angle_rad: f64) -> f64 {
    use std::f64::consts::{PI, TAU};
    let wrapped = (angle_rad + PI).rem_euclid(TAU) - PI;
    if wrapped.is_nan() { 0.0 } else { wrapped }
}
