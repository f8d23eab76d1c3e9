//! Recording: accepted sentences with their arrival times in, rotating files out; and log files
//! in, timed frames out.
//!
//! In: (time, feed, sentence) from whoever timestamps arrivals. Out: NMEA text with a TAG block
//! before each line, `\s:<feed>,c:<unix ms>*hh\$...` (`<feed>@<address>` where the feed tells senders
//! apart), which any other program can read, and
//! [`LogItem`]s from such files or any other log. Must not know: what a sentence means, how
//! feeds connect, or what advice came of it. A recorder that cannot write never blocks anything
//! else.

mod format;
mod names;
mod open_file;
mod queue;
pub mod reader;
mod recorder;
mod report;
pub mod settings;
mod trial;
mod writer;

pub use format::recorded_line;
pub use reader::{LogItem, LogReader};
pub use recorder::Recorder;
pub use report::{KeptIn, RecordReport, RecordState};
pub use settings::{RECORD, RecordSettings};
pub use trial::try_out;
