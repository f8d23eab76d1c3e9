//! The logbook being written. What cannot be written waits in memory: all that the crew said, and of
//! the rest as much as a bound allows.

use std::path::{Path, PathBuf};

use super::error::LogbookError;
use super::file::OpenFile;
use super::rows::Row;
use super::write_row::write_row;

/// Rows that may wait, besides those of the crew.
const MOST_WAITING: usize = 20_000;
/// Rows of the crew that may wait.
const MOST_OF_CREW: usize = 4096;

/// The logbook being written.
#[derive(Debug)]
pub(super) struct Book {
    path: PathBuf,
    most_bytes: u64,
    open: Option<OpenFile>,
    /// The session in the file.
    session: Option<i64>,
    /// How the session begins, to be said again in a file that is begun anew.
    begun: Vec<Row>,
    waiting: Vec<Row>,
    /// Rows dropped because too many waited, and not told of yet.
    pub lost: u64,
    /// Where a damaged file was moved.
    pub set_aside: Option<PathBuf>,
    /// Where an older one was copied.
    pub copy: Option<PathBuf>,
    /// Days deleted to stay within the bound.
    pub deleted_days: u64,
}

impl Book {
    pub fn new(path: PathBuf, most_bytes: u64) -> Self {
        Self {
            path,
            most_bytes,
            open: None,
            session: None,
            begun: Vec::new(),
            waiting: Vec::new(),
            lost: 0,
            set_aside: None,
            copy: None,
            deleted_days: 0,
        }
    }

    pub fn path(&self) -> &Path {
        &self.path
    }

    pub fn waiting(&self) -> usize {
        self.waiting.len()
    }

    /// Rows to be written with the next commit.
    pub fn add(&mut self, rows: Vec<Row>) {
        for row in rows {
            match row {
                Row::Session { .. } => self.begun = vec![row.clone()],
                Row::Settings { .. } | Row::Zone { .. } => self.begun.push(row.clone()),
                _ => {}
            }
            self.waiting.push(row);
        }
        if self.waiting.len() > MOST_WAITING {
            self.drop_some();
        }
    }

    fn drop_some(&mut self) {
        let before = self.waiting.len();
        self.waiting.retain(Row::must_stay);
        let over = self.waiting.len().saturating_sub(MOST_OF_CREW);
        // How the session begins is kept apart.
        self.waiting.drain(..over);
        self.lost += (before - self.waiting.len()) as u64;
    }

    /// Writes all that waits, and returns when it is on the disk.
    pub fn commit(&mut self) -> Result<(), LogbookError> {
        match self.try_commit() {
            Err(error) if error.is_damage() => {
                // Opened anew, it is looked at and set aside.
                self.open = None;
                self.try_commit()
            }
            other => other,
        }
    }

    fn try_commit(&mut self) -> Result<(), LogbookError> {
        let path = self.path.clone();
        if self.open.as_ref().is_some_and(|open| !open.is_there(&path)) {
            tracing::warn!(
                "{}: somebody took the logbook away; it is begun anew",
                path.display()
            );
            self.open = None;
        }
        if self.open.is_none() {
            self.reopen()?;
        }
        let Some(open) = &mut self.open else {
            return Ok(());
        };
        if self.waiting.is_empty() {
            return Ok(());
        }
        let told = |why| LogbookError::sqlite(&path, why);
        let change = open.connection.transaction().map_err(told)?;
        let mut session = self.session;
        for row in &self.waiting {
            write_row(&change, &mut session, row).map_err(told)?;
        }
        change.commit().map_err(told)?;
        self.session = session;
        self.waiting.clear();
        Ok(())
    }

    fn reopen(&mut self) -> Result<(), LogbookError> {
        let open = OpenFile::open(&self.path)?;
        if open.is_new {
            self.session = None;
        }
        self.set_aside = open.set_aside.clone().or(self.set_aside.take());
        self.copy = open.copy.clone().or(self.copy.take());
        self.open = Some(open);
        if self.session.is_none()
            && !self
                .waiting
                .iter()
                .any(|row| matches!(row, Row::Session { .. }))
        {
            self.waiting.splice(0..0, self.begun.iter().cloned());
        }
        self.keep_within()
    }

    /// Deletes the oldest days while the file holds more than it may.
    pub fn keep_within(&mut self) -> Result<(), LogbookError> {
        let Some(open) = &mut self.open else {
            return Ok(());
        };
        let deleted = open
            .make_room(self.most_bytes)
            .map_err(|why| LogbookError::sqlite(&self.path, why))?;
        if deleted > 0 {
            tracing::info!(
                "{}: the oldest {deleted} days deleted to stay within the bound",
                self.path.display()
            );
            self.deleted_days += deleted;
        }
        Ok(())
    }
}
