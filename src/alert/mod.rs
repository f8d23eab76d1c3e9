//! Alert: living advisories as alert sentences for the displays and buzzers of the boat's own network,
//! and what those answer.
//!
//! In: the living advisories, sentences of the feed that answers, time. Out: sentences for each line
//! out, no more of them than it can carry, and what an answer asks for. It knows no socket.
//!
//! Sentences are after IEC 61162-1:2016, states after IMO MSC.302(87), both from secondary sources
//! and memory: nobody here has read the standard itself.
//!
//! | sentence | when |
//! |---|---|
//! | ALF | an alert is raised, changes in state, priority or order, is over, or is asked for (`Q`) |
//! | ALC | every 30 s: all alerts that are not over |
//! | HBT | every 30 s |
//! | ARC | a command is refused |
//! | TXT | with `txt`: as ALF, in plain words, for displays that know no ALF |
//!
//! # Numbers
//!
//! Alerts have the manufacturer mnemonic `SKW` and numbers in the range that is left to
//! manufacturers (from memory: 10000 and above); the instance counts within the kind.
//! [`number_of`] has the table. The category is always B: the text says all that is needed.
//!
//! # Decisions
//!
//! - **Commands.** `ACN` with `A` acknowledges one alert as GOT IT does. `S` silences all sound for
//!   30 s. `Q` has alerts sent again. `O` (take over responsibility) is refused, and so is whatever
//!   does not fit: a caution, one acknowledged already, one that is not there. `ACK` of older
//!   displays names the text number of TXT; it acknowledges all alerts of that kind.
//! - **Never echo.** Texts are our own words: no text of a feed or of the settings goes out.
//! - **What the line can carry.** Each line out is given at most half of what 4800 baud carry. What
//!   has changed again before it was sent is sent once, as it is then.

mod board;
mod command;
mod entry;
mod numbers;
mod queue;
mod sentence;

pub use board::{Board, Verdict};
pub use command::{Command, Wish};
pub use entry::{Entry, Key, Shown};
pub use numbers::number_of;
pub use queue::Queue;
