//! Drivers: the only place that knows what time it is.
//!
//! In: frames from the feeds, the crew's posts, or a recording; a clock, or the times in the
//! recording. Out: stamped events for the engine in order of time, the raw recording, and the
//! engine's pictures to whoever reads them.
//! Live, replay and demo make the same events; they differ only in where the time comes from.
//!
//! # Decisions
//!
//! - **Ticks** are whole seconds of arrival time, computed from the stamps and never from timers,
//!   so that a replay makes the same ones.
//! - **Live stamps** are the system time at start, carried on by the monotonic clock. A boat
//!   computer without a clock battery has its time corrected by hours when the GNSS wakes up: the
//!   stamps of a session may be wrong by that much, but they never jump. The time that a sentence
//!   or a TAG block states is data.
//! - **Time of a log**: the TAG block, else a time written before each sentence, else UTC in the
//!   log's own sentences, else ten lines a second. Lines before the first time are dated back from
//!   it, ten a second. The summary of a replay says which.
//! - **Parts of a log.** Where its times go back by more than a minute and stay there (a clock of
//!   twelve hours, several logs in one), a replay goes on as after a restart of the program: the
//!   engine has heard nothing, and what was learnt and what the crew has said about lines and turn
//!   come back, as if no time had passed in between.
//! - **Sessions.** The daemon records `$PSKWT,..,SESSION,1` when it starts and `SESSION,0` when it
//!   stops. A stop makes no picture, so that live and replay end alike.
//! - **What was learnt** belongs to the engine (`forecast::Memory`), so that session, kite and
//!   `FORGET` replay alike. This room only writes it to `forecast.learnt_file` and reads it when
//!   the daemon starts. To replay a session that began with such a file, give a copy of it to
//!   `--learnt`. A file that cannot be read is renamed `FILE.aside-1` and so on, never overwritten.

mod before;
mod crew;
mod dated;
mod governor;
mod journal;
mod journal_file;
mod learnt_file;
mod live;
mod own_words;
mod replay;
mod ticks;
mod timebase;

pub use dated::{Dated, DatedLine};
pub use journal::{Journal, RestartSettings};
pub use learnt_file::{LearntFile, LearntFileError, read_memory, write_memory};
pub use live::{EngineStopped, Live};
pub use replay::{LogLine, Pace, Part, Replay, ReplayEnd};
pub use ticks::Ticks;
pub use timebase::{LineTime, TimeBase, TimeSource, WentBack};
