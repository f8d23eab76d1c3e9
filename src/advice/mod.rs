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
//! Files, each of which imports only those above it:
//!
//! ```text
//! settings   thresholds and times
//! shape      advisory, kind, action, outcome
//! gear       heaviest load, nearest structure, clear headings
//! words      all texts
//! scene      the inputs of one moment; what the crew has just tapped
//! threat     one trouble, foreseen or present
//! order      orders for the lines as they are shown
//! danger     loads and structures: what the advice names and asks for
//! foresight  from the chance of a trouble to a threat
//! bait, facts
//! threats    all threats of one moment
//! reversal   no request is turned round too soon
//! living     one advisory from raised to ended
//! board      all of them
//! ```
//!
//! # Decisions
//!
//! Where the standard leaves room, or a fishing cockpit differs from a ship's bridge:
//! - The crew may silence sounds for some minutes. Warnings stay silent, new ones too. An alarm
//!   sounds again after 30 s at most (MSC.302(87) 7.3.5), and a new alarm always sounds.
//! - A caution needs no acknowledgement and is removed when its condition ends.
//! - A rectified, unacknowledged advisory leaves the list by itself after a minute, because hands
//!   on a reel are not free to tidy a list.
//! - Foreseen trouble without a forecast is neither over nor kept up to date. It stays as last
//!   foreseen, says since when and why nobody watches it, and is judged again with the next
//!   forecast. Without one it ends (N, outcome unknown) when its onset is past and somebody has
//!   acknowledged that, or after three more minutes. Meanwhile reports about the bait count; a
//!   bite, or the end of fishing, ends it.
//! - An acknowledged warning that escalates to an alarm becomes unacknowledged again.
//!
//! When to speak (`[advice]` in the settings):
//! - The thresholds for turns were tuned on 48 invented days (`--example days -- tuning 200 48`):
//!   replayed once, then each threshold tried on the recorded forecasts. Those without a turn, and
//!   when a trouble ends, were set on days from recorded boats: `tests/days/README.md`.
//! - Trouble that no turn brings is a caution until it is likely to come soon: on gusty days it is
//!   likely at some time within two minutes nearly always.
//! - Hysteresis and dwell: an advisory ends only after its chance has been low for some time.
//!   Ended sooner, it was raised again by the next gust as a new one, and a bait that flew twice in
//!   one turn was missed the second time.
//! - A request for line is not followed within 30 s by one for the other line or the other way, unless
//!   the crew has reported something or a turn was announced: `reversal.rs`.
//! - A called-off turn or a sighting that is taken back ends its advisory in the same picture. What
//!   is left of the trouble must be raised again on its own evidence.

mod bait;
mod board;
mod danger;
mod facts;
mod foresight;
mod gear;
mod living;
mod order;
mod reversal;
mod scene;
mod settings;
mod shape;
mod threat;
mod threats;
mod words;

pub use board::{AdviceBoard, SEEN_LATELY_S};
pub use settings::{ADVICE, AdviceSettings, Alertness};
pub use shape::{Action, Advisory, AlertState, Changed, Kind, Outcome, Priority, first_asked};
