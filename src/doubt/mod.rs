//! Doubt: instruments against each other and against themselves.
//!
//! In: readings with the moment they arrived and the number of their source.
//! Out: [`Suspicion`]s: which source, since when, what was seen and what was expected.
//! It must not know what is done about a suspicion, names of sources, settings, or the rig.
//!
//! Readings are kept for three minutes in bins of a second (`track.rs`). Whenever a second is over
//! every check of the table in `checks.rs` looks at every source. A check says that the source lies,
//! that it was put to the test and holds, or that nothing can be told. A lie of some seconds becomes
//! a suspicion; that ends when the source has held for a while, or when nothing has spoken against
//! it for ten minutes. A suspect is no witness against others.
//!
//! What each check assumes, and from where, stands in the table of its file: `heading.rs`,
//! `wind.rs`, `speed.rs`, `alone.rs`.

mod alone;
mod book;
mod checks;
mod heading;
mod speed;
mod suspicion;
mod track;
mod view;
mod wind;

pub use book::Doubts;
pub use suspicion::{Fault, Instrument, Suspicion};
pub use track::{REPEATS, Said};
