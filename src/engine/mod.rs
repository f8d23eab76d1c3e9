//! Engine: the whole chain from accepted lines to advisories, as one deterministic machine.
//!
//! In: stamped lines (feed, moment, text) and whole-second ticks, in order.
//! Out: advisory revisions and a [`Snapshot`] for every reader.
//! It knows no clock, socket or thread: whoever drives it says what time it is, so a
//! recording replays to the same bytes at any speed.

mod snapshot;

pub use snapshot::{FeedNow, Mode, Snapshot};
