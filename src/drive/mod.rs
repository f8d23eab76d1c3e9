//! Drivers: the only place that knows what time it is.
//!
//! In: frames from the feeds, the crew's posts, or a recording; a clock, or the times in the
//! recording. Out: stamped events for the engine in order of time, the raw recording, and the
//! engine's pictures to whoever reads them.
//! Live, replay and demo make the same events; they differ only in where the time comes from, and in
//! who decides when a picture is made.
//!
//! # Decisions
//!
//! - **Ticks** are whole seconds of arrival time, computed from the stamps and never from timers.
//!   With each of them a picture is wanted; so it is with what the crew says and with another turn.
//! - **Pictures** are made one at a time, of all that has arrived, with as many futures as there is
//!   time for (`governor`). What a computer had time for is not in what the instruments said, so
//!   the live driver records it (`own_words`: `$PSKWD,PICTURE,<futures>` under the feed name
//!   `skimwatch`), and a replay of that recording makes the same pictures. Any other log gets one
//!   picture for each that is wanted, with all futures.
//! - **Late** is what is older than 3 s (`engine::LATE_S`). The state says so (`lag_s`, `late`),
//!   `/healthz` answers 503, the pages strike it out, also by the phone's own clock; the next
//!   pictures have no forecast, and the advisory `computer-slow` says why.
//! - **What the crew says** counts at once; its answer waits for recording and journal (`crew`). The
//!   writers drain their queues, write, sync once and answer all who wait.
//! - **Restart.** The journal is folded (`before`) and said anew as `$PSKWT,0,BEFORE,...` right after
//!   `SESSION,1`, so that the new recording replays alone. What decides whether lines are used is how
//!   long nothing ran: a quiet hour must not cost the count. Reports that taught are not said again.
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
//! - **Settings** become the engine's here (`assemble`), so that neither room knows the other. What a
//!   page changes is checked, saved and recorded by the `keeper`; the engine's word that it works
//!   with it changes what the pages show.
//! - **What was learnt** belongs to the engine (`forecast::Memory`), so that session, kite and
//!   `FORGET` replay alike. This room only writes it to `forecast.learnt_file` and reads it when
//!   the daemon starts. To replay a session that began with such a file, give a copy of it to
//!   `--learnt`. A file that cannot be read is renamed `FILE.aside-1` and so on, never overwritten.

mod alerts;
mod assemble;
mod before;
mod clock;
mod crew;
mod dated;
mod governor;
mod in_force;
mod journal;
mod journal_file;
mod keeper;
mod learnt_file;
mod live;
mod log_line;
mod own_words;
mod replay;
mod said_again;
mod ticks;
mod timebase;

pub use alerts::{AlertCommands, send_alerts};
pub use assemble::RigRefused;
pub use dated::{Dated, DatedLine};
pub use journal::Journal;
pub use keeper::{InForce, Keeper};
pub use learnt_file::{LearntFile, LearntFileError, read_memory, write_memory};
pub use live::{EngineStopped, Live};
pub use log_line::LogLine;
pub use replay::{Pace, Part, Replay, ReplayEnd};
pub use ticks::Ticks;
pub use timebase::{LineTime, TimeBase, TimeSource, WentBack};
