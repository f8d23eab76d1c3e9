//! Engine: the whole chain from accepted lines to advisories, as one deterministic machine.
//!
//! In: [`Event`]s in order of time: accepted sentences with the moment they arrived and the
//! feed they came by, refused lines, and whole-second ticks.
//! Out: a [`Picture`] for every tick: advisory revisions and a [`Snapshot`] for all readers.
//! It knows no clock, socket or thread: whoever drives it says what time it is, so a
//! recording replays to the same bytes at any speed.
//!
//! # Decisions
//!
//! - **Who speaks for the crew.** Anybody on a boat's network can send `$PSKWT`. The engine accepts
//!   it from the feed `crew` (what the pages post; no feed of the settings may have that name) and
//!   from feeds with `crew = true`. From others it is refused as `not-crew`, live and in a replay
//!   alike, because a recording keeps the names of its feeds. A log without feed names is trusted:
//!   it has no other way to hold the crew's words, and whoever replays it chose it.
//! - **A new session** (`SESSION,1`) resets deck, turn and forecast, except what was learnt about
//!   the kite and the helm.
//! - **An answered plan.** An answer names advisory, revision, line and metres as the crew read
//!   them, so that a replay counts what was shown. "Done" and "half" move the counted line;
//!   "something else" moves nothing until the crew says what. What is asked afterwards is a new
//!   revision. A second answer to the same revision, or for the same line within 3 s (another
//!   phone, a thumb that slipped), is not counted. A `PLAN` sentence without these four fields, as
//!   in older recordings, answers what is asked first at that moment.
//! - **Settings changed while it runs** arrive as crew sentences (`$PSKWT,..,SET,key,value,more`),
//!   and only the recorded sentence changes the engine. So a recording replays to the same bytes
//!   with the settings that it *began* with (after one change, `FILE.previous`). What was learnt
//!   about the old kite is kept for it; lines out, the wind record and living advisories stay. A
//!   batch that does not fit the settings of a replay is refused whole and counted as `setting`.

mod chain;
mod crew;
mod inputs;
mod settings;
mod snapshot;

pub use chain::{Engine, Event, Means, Picture, Work};
pub use inputs::{FeedTotals, Inputs, OTHER_FEEDS, OTHER_KINDS};
pub use settings::{EngineSettings, Revise};
pub use snapshot::{FeedNow, LATE_S, Mode, Snapshot};
