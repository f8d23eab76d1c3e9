//! Engine: the whole chain from accepted lines to advisories, as one deterministic machine.
//!
//! In: [`Event`]s in order of time: accepted sentences with the moment they arrived and the
//! feed they came by, refused lines, and whole-second ticks.
//! Out: a [`Picture`] for every tick: advisory revisions and a [`Snapshot`] for all readers.
//! It knows no clock, socket or thread: whoever drives it says what time it is, so a
//! recording replays to the same bytes at any speed.

mod answers;
mod chain;
mod inputs;
mod revise;
mod snapshot;

pub use answers::{AGAIN_S, Answered, Answers, moved_by};
pub use chain::{ANSWERED, Engine, EngineSettings, Event, Means, NOT_CREW, Picture};
pub use inputs::{FeedTotals, Inputs, OTHER_FEEDS, OTHER_KINDS};
pub use revise::Revise;
pub use snapshot::{FeedNow, LATE_S, Mode, Snapshot};
