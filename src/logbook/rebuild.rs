//! A logbook made anew from recordings.

use std::path::PathBuf;

use super::book::Book;
use super::error::LogbookError;
use super::scribe::{Item, Scribe};

/// Rows that are written together.
const TOGETHER: usize = 2000;

/// A logbook being made from what a replay tells.
#[derive(Debug)]
pub struct Rebuild {
    scribe: Scribe,
    book: Book,
    failed: Option<LogbookError>,
}

impl Rebuild {
    /// Into a file that is not there yet.
    ///
    /// # Errors
    /// When it is there, or cannot be made.
    pub fn new(path: PathBuf) -> Result<Self, LogbookError> {
        if path.exists() {
            let there =
                std::io::Error::new(std::io::ErrorKind::AlreadyExists, "it is there already");
            return Err(LogbookError::file(&path, there));
        }
        let mut book = Book::new(path, u64::MAX);
        book.commit()?;
        Ok(Self {
            scribe: Scribe::default(),
            book,
            failed: None,
        })
    }

    /// One thing of the replay. After an error nothing more is taken.
    pub fn take(&mut self, item: Item) {
        if self.failed.is_some() {
            return;
        }
        let rows = self.scribe.take(item);
        self.book.add(rows);
        if self.book.waiting() >= TOGETHER {
            self.failed = self.book.commit().err();
        }
    }

    /// Writes the rest.
    ///
    /// # Errors
    /// What went wrong since the start.
    pub fn finish(mut self) -> Result<(), LogbookError> {
        if let Some(error) = self.failed {
            return Err(error);
        }
        let rows = self.scribe.finish();
        self.book.add(rows);
        self.book.commit()
    }
}
