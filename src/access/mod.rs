//! Access: who may only look, and whose phone may change something.
//!
//! In: the settings `touch` and `look` of `[serve]`, the tokens that requests show, codes and names
//! that are typed. Out: what each request may do, and the file of the phones that have joined.
//! It knows no HTTP: `serve` says which route needs what, and asks here.
//!
//! # Decisions
//!
//! - **Ranks.** Everybody may look. A *crew* phone tells what happens on deck. A *keeper* also
//!   changes settings, makes the program forget, lets phones in and takes them out.
//! - **Joining.** A phone joins once, with a code of eight digits that is good for ten minutes and
//!   for one phone. While there is no keeper, the program shows a code at its start that is good for
//!   an hour and makes one. Codes are in memory only.
//! - **Tokens** are 32 random bytes of the system. Only their SHA-256 is kept: with so much
//!   randomness it needs neither salt nor a slow hash.
//! - **The console.** Whoever can read the file of the phones is trusted with the boat. While the
//!   program runs, a token for `skimwatch crew` and `skimwatch forget` lies beside that file,
//!   readable by its owner alone.
//! - **A disk that takes no file** keeps nobody out: a phone joins or is taken out at once, and the
//!   file is tried again every five seconds.

mod book;
mod codes;
mod file;
mod name;
mod phones;
mod rank;
mod token;
mod visitor;

pub use book::{Access, Invited, JoinRefused, Joined, Locks};
pub use codes::{CODE_DIGITS, INVITED_FOR};
pub use file::{ConsoleKey, ConsoleKeyError, console_file};
pub use name::{NAME_MAX, PhoneName};
pub use phones::{MOST_PHONES, Phone};
pub use rank::{Need, Role};
pub use token::Token;
pub use visitor::Visitor;
