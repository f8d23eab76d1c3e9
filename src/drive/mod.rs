//! Drivers: the only place that knows what time it is.
//!
//! In: frames from the feeds, the crew's posts, or a recording; a clock, or the times in the
//! recording. Out: stamped events for the engine in order of time, the raw recording, and the
//! engine's pictures to whoever reads them.
//! Live, replay and demo make the same events; they differ only in where the time comes from.

mod before;
mod crew;
mod governor;
mod journal;
mod journal_file;
mod learnt_file;
mod live;
mod own_words;
mod replay;
mod ticks;
mod timebase;

pub use journal::{Journal, RestartSettings};
pub use learnt_file::{LearntFile, LearntFileError, read_memory, write_memory};
pub use live::{EngineStopped, Live};
pub use replay::{LogLine, Pace, Replay, ReplayEnd};
pub use ticks::Ticks;
pub use timebase::{TimeBase, TimeSource, WentBack};
