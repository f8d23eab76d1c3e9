//! Logbook: the day in a file, and the figures that it gives.
//!
//! In: what the crew says as it is stamped, and every picture; both by a bounded queue. Out: an
//! SQLite file that any program can read, and the figures of a day. It must not know sockets,
//! pages or what the settings mean.
//!
//! # Decisions
//!
//! - **One file a boat**, written by a thread of its own (`writer`). Rows are made from items by a
//!   pure part (`scribe`), so that a replay makes the same ones (`rebuild`). Pictures are on the disk
//!   within about 5 s; a sentence of the crew is there before its poster is answered.
//! - **What the crew said is kept twice over**: the sentence itself (`entries`), and what it says
//!   (`line_moves`, `reports`, `bites`, `mark_changes`). Figures that `score` also gives are worked out from the
//!   sentences, by `score`.
//! - **Tables are STRICT, units are in the names of columns**, times are Unix milliseconds, words are
//!   those of the API. `schema.sql` is the schema; `file` says how a file is brought up to it and
//!   when it is set aside. A table that comes later is a further step in `file::STEPS`.
//! - **Thinning**: `boat_side` says what is kept of the pictures.
//! - **A day** is a date where the boat was: of the zone that ships keep at the longitude at which the
//!   session began, UTC where no position was known (`read`).
//!   A session that runs over midnight belongs to both, each with its part.
//! - **Kites** are told apart by the name that the locker has for their numbers, else by their area. The
//!   settings in force say which one flew (`in_force`).
//! - **Size**: above `max_mib` the oldest days go, whole, never the last 24 hours.
//! - **Nobody waits for it.** With a full or read-only disk what the crew said waits in memory, the
//!   answer to a post says so, and so do the pages.

mod boat_side;
mod book;
mod crew_side;
mod day;
mod error;
mod export;
mod figures;
mod file;
mod in_force;
mod look;
mod marks;
mod parts;
mod pass_side;
mod passes;
mod place;
mod places_table;
mod read;
mod rebuild;
mod report;
mod rows;
mod sail;
mod scribe;
mod season;
mod settings;
mod shapes;
mod sums;
mod tallies;
mod timeline;
mod trial;
mod turns;
mod word;
mod write_row;
mod writer;

pub use day::{
    AdvisoryRow, BiteRow, DayRows, LearntRow, MoveRow, SessionRows, TroubleRow, TurnRow,
};
pub use error::LogbookError;
pub use export::{
    Cell, Column, ExportError, Kind, Positions, TABLES, Table, columns_text, csv, geojson, gpx,
    parquet, table_of, tables,
};
pub use figures::{DayFigures, figures};
pub use in_force::{Kite, LoggedSettings};
pub use look::Look;
pub use marks::{LoggedMark, MarkEvent, MarkRow};
pub use passes::{PassEnd, PassRow};
pub use place::Place;
pub use read::{DayFound, Reader};
pub use rebuild::Rebuild;
pub use report::{LogbookNow, LogbookState};
pub use rows::{BiteResult, ChanceRun, Doing, RevisionRow, Span, State};
pub use sail::{PointOfSail, Tack};
pub use scribe::Item;
pub use season::{Season, SeasonSums};
pub use settings::{LOGBOOK, LogbookSettings};
pub use shapes::{Against, Bite, BiteRate, Corrections, Enough, KiteOfDay, TimeIn};
pub use sums::{Sum, SumBy};
pub use timeline::{
    LoggedAdvisory, LoggedMove, LoggedTap, LoggedTrouble, LoggedTurn, MadeTurn, Stretch, Timeline,
    TrackPoint, timeline,
};
pub use trial::{LEAST_FREE, Tried, free_bytes, try_out};
pub use writer::{Logbook, LogbookHand};
