//! Turn: the heading profile that is coming, with its uncertainty.
//!
//! In: route and autopilot observations as they arrive, the vessel and the deck now. Out: an
//! [`Outlook`]: the heading profile through every known turn, each with its uncertainty, and
//! whether an observation has just revealed another turn, so that a picture can be made at once. It
//! must not know the rig model, the wind, sockets or clocks.
//!
//! # Decisions
//!
//! - **Intents are merged.** Intents that overlap in time (the uncertainty of their starts
//!   included) describe one turn, and the best source counts: crew, then heading or track control,
//!   then route. A turn that is seen under way comes before all of them unless one of them explains
//!   it. The other turns follow in the profile.
//! - **News.** When instruments reveal another turn a picture is made at once, as it is for the
//!   crew, but at most two a second. Repetition and jitter are not news.
//! - **Turns under way** are told from wander by what this boat's heading usually does, learnt on
//!   line: see `wander.rs`. How far one goes that nobody has announced is a distribution, made anew
//!   every second from this helm's turns so far and from the rate, and each future draws its own
//!   angle: see `sizes.rs`.
//! - **Yaw** is Nomoto's first-order model. Where a rudder is heard, K / speed and T x speed are
//!   fitted and believed once their standard errors are small. Without a rudder, T comes from the
//!   tail of each turn and the rate from the heading.

mod crew;
mod helm;
mod intent;
mod merge;
mod pilot;
mod profile;
mod route;
mod settings;
mod sizes;
mod wander;
mod watch;
mod yaw;

pub use intent::{Intent, TurnSource};
pub use profile::{
    Extent, HeadingProfile, LikelyTurn, MOST_TURNS, TurnCommand, TurnDoubt, TurnDraw, YawDraw,
    YawMotion,
};
pub use settings::{TURN, TurnSettings};
pub use sizes::Quantiles;
pub use watch::{Outlook, TurnWatch};
