//! One key of the settings file: what its row in the key table says, and what is said of a wrong
//! value. Below all rooms, so that each room lists the keys of its own settings.
//!
//! Everything about a key stands in its row: the reader, the rig page, the complaints, the defaults
//! and the commented `config/skimwatch.toml` take it from there. `settings/keys.rs` lists the
//! sections of all rooms.

mod allowed;
mod check;
mod complaint;
mod row;

pub use allowed::Allowed;
pub use check::check;
pub use complaint::{Complaint, Place, Problem};
pub use row::{Fallback, Group, Key, Page, Section, default_of, row_of, sentence, words_of};
