//! Advice: advisories with a life cycle.
//!
//! In: forecasts, vessel, deck, crew acknowledgements, the moment.
//! Out: [`Advisory`] revisions. It must not know sockets, clocks, pages or files.
//!
//! States follow IMO MSC.302(87) with the state letters of the IEC 61162-1 ALF sentence:
//!
//! ```text
//!            raised              acknowledged               over
//!   (N) ---------------> V ---------------------> A -----------------> N
//!                        | ^ \                                         ^
//!               silenced | | time \ over, unacknowledged               | acknowledged, or
//!                        v | up    v                                   | 60 s later
//!                         S -----> U ----------------------------------+
//!                                  U -> V when it comes back
//! ```
//!
//! Decisions of our own, where the standard leaves room or the cockpit differs from a bridge:
//! - The crew may ask for quiet for so many minutes. Warnings keep that quiet, new ones too; an
//!   alarm sounds again after 30 s at most (MSC.302(87) 7.3.5), and a new alarm always sounds.
//! - A caution needs no acknowledgement and goes when it is over.
//! - What is over and unacknowledged leaves the list by itself after a minute: two hands on a
//!   reel cannot be asked to tidy a list.
//! - A warning that was acknowledged and grows into an alarm is unacknowledged again.

mod board;
mod danger;
mod facts;
mod living;
mod settings;
mod shape;
mod threat;
mod words;

pub use board::AdviceBoard;
pub use settings::AdviceSettings;
pub use shape::{Action, Advisory, AlertState, Kind, Outcome, Priority, first_asked};
