//! Doubt: instruments against each other and against themselves.
//!
//! In: readings with the moment they arrived and the number of their source.
//! Out: [`Suspicion`]s: which source, since when, what was seen and what was expected; and which
//! source has [`Changed`] a habit, which is no lie.
//! It must not know what is done about a suspicion, names of sources, settings, or the rig.
//!
//! Readings are kept for three minutes in bins of a second (`track.rs`). Whenever a second is over
//! every check of the table in `checks.rs` looks at every source. A check says that the source lies,
//! that it was put to the test and holds, or that nothing can be told. A lie of some seconds becomes
//! a suspicion; that ends when the source has held for a while, or when nothing has spoken against
//! it for ten minutes. A suspect is no witness against others.
//!
//! What each check assumes, and from where, stands in the table of its file: `heading.rs`,
//! `wind.rs`, `speed.rs`, `alone.rs`, and for habits `habit.rs`.
//!
//! # How long a lie lasts before it is told
//!
//! Laid over a recorded boat that sails straight and then turns by 80° (`tests/checks/doubt_lies.rs`
//! prints the whole table, with slower onsets):
//!
//! | lie, at once | told |
//! |---|---|
//! | heading, or one of two compasses, 60° and more off | 2 to 5 s |
//! | two senders under one name, far apart | 3 to 5 s |
//! | one that joins under the same name, vane 25° or heading 12° off | 44 s |
//! | log at a fiftieth or at twice, speed over ground at twice | 5 to 10 s |
//! | vane 180° off or mirrored, a wind of 60 m/s, two wind sensors apart | 10 to 19 s |
//! | position or receiver frozen, speed over ground 0 | 15 to 20 s |
//! | rate of turn 3°/s off | 16 to 21 s |
//! | vane, heading, course or rate of turn frozen; rate of turn reversed | when the boat has turned by 60° to 80° |
//! | log frozen | when the speed over ground has varied by 0.8 m/s over 45 s |
//! | vane 15° off, heading 30° off, log at 0.8, rate of turn 0.4°/s off | never: no more than leeway, current and shifts of the wind do |
//! | one wind sensor at twice the speed | only in a turn from or to the wind: else it is a squall |
//!
//! Habits (`habit.rs`, `tests/checks/doubt_habits.rs`): another rate is told in 34 to 50 s, whole degrees
//! in 50 s, a second sender that agrees in 44 to 50 s. A sender that speaks less than 0.45 times a second
//! has no rate that could be told.
//!
//! Honest logs (`tests/checks/doubt_logs.rs`): no false suspicion of any check in 9.6 hours of
//! recorded boats, at least one of them counted twice (a log and its own beginning). The limits were
//! chosen with a view of these logs, so other boats will show more.
//!
//! # Decisions
//!
//! - Apparent wind that repeats angle and speed, or reads 0.0, is the vessel room's. One that repeats
//!   both is told as in doubt (`MastheadStill`) and not as missing; one of 0.0 may be a calm, and is
//!   missing.
//! - A source that repeats another instrument (the heading in a log's sentence) and sources of one
//!   sender are no witnesses for each other.
//! - Nothing here knows which source the settings prefer: a lie of the better source is a lie.

mod alone;
mod book;
mod checks;
mod habit;
mod heading;
mod speed;
mod suspicion;
mod track;
mod view;
mod wind;

pub use book::Doubts;
pub use habit::{Changed, Habit};
pub use suspicion::{Fault, Instrument, Suspicion};
pub use track::{REPEATS, Said};
