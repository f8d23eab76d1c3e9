//! The file itself: opened, checked, brought to the present schema, bounded.
//!
//! - A file that SQLite finds damaged is set aside with what belongs to it, and a new one is begun.
//!   So is one that a newer version has written.
//! - A file that is no logbook at all is left alone: nothing is kept until the settings name another.
//! - An older logbook is copied beside itself (`FILE.version-N`) before it is changed.

use std::fs;
use std::io;
use std::os::unix::fs::MetadataExt as _;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags};

use super::error::LogbookError;
use crate::files::{beside, directory_of, set_aside, sync_directory};
use crate::time::Millis;

/// Marks the file as ours: "SKWL".
const APPLICATION_ID: i32 = 0x534B_574C;

/// What brings the schema from each version to the next; the first makes it. A step that has been
/// published is never changed.
pub(super) const STEPS: &[&str] = &[include_str!("schema.sql")];

/// Longest wait for another program that has the file.
pub(super) const BUSY: Duration = Duration::from_secs(1);

/// The log of changes is cut to this after each time it has been carried over, bytes.
const CHANGES_BYTES: u32 = 4 * 1024 * 1024;

const DAY_MS: i64 = 24 * 3600 * 1000;

/// An open logbook.
#[derive(Debug)]
pub(super) struct OpenFile {
    pub connection: Connection,
    /// Whether it holds nothing yet.
    pub is_new: bool,
    /// Where a damaged or newer file was moved.
    pub set_aside: Option<PathBuf>,
    /// Where an older one was copied.
    pub copy: Option<PathBuf>,
    identity: (u64, u64),
}

impl OpenFile {
    /// Opens a file for writing, whatever is there.
    pub fn open(path: &Path) -> Result<Self, LogbookError> {
        Self::open_with(path, STEPS)
    }

    pub(super) fn open_with(path: &Path, steps: &[&str]) -> Result<Self, LogbookError> {
        match Self::try_open(path, steps) {
            Err(error) if error.is_damage() || matches!(error, LogbookError::Version { .. }) => {
                tracing::warn!("{error}");
                let aside = put_aside(path)?;
                tracing::warn!(
                    "{}: begun anew; the old one is kept as {}",
                    path.display(),
                    aside.display()
                );
                let mut open = Self::try_open(path, steps)?;
                open.set_aside = Some(aside);
                Ok(open)
            }
            other => other,
        }
    }

    fn try_open(path: &Path, steps: &[&str]) -> Result<Self, LogbookError> {
        let directory = directory_of(path);
        fs::create_dir_all(directory).map_err(|why| LogbookError::file(directory, why))?;
        let told = |why| LogbookError::sqlite(path, why);
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
            | OpenFlags::SQLITE_OPEN_CREATE
            | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut connection = Connection::open_with_flags(path, flags).map_err(told)?;
        connection.busy_timeout(BUSY).map_err(told)?;
        let found = version(&connection, path)?;
        if found > steps.len() {
            return Err(LogbookError::Version {
                path: path.display().to_string(),
                found,
                known: steps.len(),
            });
        }
        if found == 0 {
            // Only a file without tables can be told so.
            connection
                .pragma_update(None, "auto_vacuum", "INCREMENTAL")
                .map_err(told)?;
        }
        // A commit is on the disk when it returns; readers never hold up the writer.
        connection
            .pragma_update(None, "journal_mode", "WAL")
            .and_then(|()| connection.pragma_update(None, "synchronous", "FULL"))
            .and_then(|()| connection.pragma_update(None, "foreign_keys", true))
            .and_then(|()| connection.pragma_update(None, "journal_size_limit", CHANGES_BYTES))
            .map_err(told)?;
        check(&connection).map_err(told)?;
        let mut copy = None;
        if found < steps.len() {
            if found > 0 {
                copy = Some(copied(&connection, path, found)?);
            }
            migrate(&mut connection, found, steps).map_err(told)?;
        }
        sync_directory(directory).map_err(|why| LogbookError::file(directory, why))?;
        Ok(Self {
            connection,
            is_new: found == 0,
            set_aside: None,
            copy,
            identity: identity(path).map_err(|why| LogbookError::file(path, why))?,
        })
    }

    /// Whether the file is still there under its name: what is written to one that somebody has
    /// deleted is lost.
    pub fn is_there(&self, path: &Path) -> bool {
        identity(path).is_ok_and(|now| now == self.identity)
    }

    /// Deletes the oldest days until what is held fits; how many.
    pub fn make_room(&mut self, most_bytes: u64) -> rusqlite::Result<u64> {
        let mut deleted = 0;
        while used_bytes(&self.connection)? > most_bytes {
            let Some((oldest, newest)) = extent(&self.connection)? else {
                break;
            };
            let until = Millis((oldest.0.div_euclid(DAY_MS) + 1) * DAY_MS);
            if until.0 > newest.0 - DAY_MS {
                break;
            }
            delete_until(&mut self.connection, until)?;
            deleted += 1;
        }
        if deleted > 0 {
            // It gives pages back row by row; the rows hold nothing.
            let mut vacuum = self.connection.prepare("PRAGMA incremental_vacuum")?;
            let mut rows = vacuum.query([])?;
            while rows.next()?.is_some() {}
        }
        Ok(deleted)
    }
}

/// Opens a logbook for reading only.
pub(super) fn open_to_read(path: &Path) -> Result<Connection, LogbookError> {
    let told = |why| LogbookError::sqlite(path, why);
    if !path.exists() {
        let path = path.display().to_string();
        return Err(LogbookError::Absent { path });
    }
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags).map_err(told)?;
    connection.busy_timeout(BUSY).map_err(told)?;
    let found = version(&connection, path)?;
    if found != STEPS.len() {
        return Err(LogbookError::Version {
            path: path.display().to_string(),
            found,
            known: STEPS.len(),
        });
    }
    Ok(connection)
}

fn identity(path: &Path) -> io::Result<(u64, u64)> {
    fs::metadata(path).map(|about| (about.dev(), about.ino()))
}

/// The version of its schema, 0 for an empty file.
pub(super) fn version(connection: &Connection, path: &Path) -> Result<usize, LogbookError> {
    let number = |name: &str| connection.pragma_query_value(None, name, |row| row.get::<_, i64>(0));
    let read = || -> rusqlite::Result<_> {
        let tables = connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| {
            row.get::<_, i64>(0)
        })?;
        Ok((number("application_id")?, number("user_version")?, tables))
    };
    let (application, version, tables) = read().map_err(|why| LogbookError::sqlite(path, why))?;
    if application == i64::from(APPLICATION_ID) {
        Ok(usize::try_from(version).unwrap_or(0))
    } else if application == 0 && tables == 0 {
        Ok(0)
    } else {
        let path = path.display().to_string();
        Err(LogbookError::Foreign { path })
    }
}

/// Looks whether the file holds what it should: every page, not every index.
pub(super) fn check(connection: &Connection) -> rusqlite::Result<()> {
    let found: String = connection.pragma_query_value(None, "quick_check", |row| row.get(0))?;
    if found == "ok" {
        return Ok(());
    }
    let damage = rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_CORRUPT);
    Err(rusqlite::Error::SqliteFailure(damage, Some(found)))
}

fn copied(connection: &Connection, path: &Path, version: usize) -> Result<PathBuf, LogbookError> {
    let copy = beside(path, &format!(".version-{version}"));
    // One that was interrupted is of no use.
    if let Err(why) = fs::remove_file(&copy)
        && why.kind() != io::ErrorKind::NotFound
    {
        return Err(LogbookError::file(&copy, why));
    }
    connection
        .execute("VACUUM INTO ?1", [copy.display().to_string()])
        .map_err(|why| LogbookError::sqlite(&copy, why))?;
    tracing::info!(
        "{}: a copy as it was is kept as {}",
        path.display(),
        copy.display()
    );
    Ok(copy)
}

/// All steps or none.
fn migrate(connection: &mut Connection, from: usize, steps: &[&str]) -> rusqlite::Result<()> {
    let change = connection.transaction()?;
    for step in steps.iter().skip(from) {
        change.execute_batch(step)?;
    }
    change.pragma_update(None, "application_id", APPLICATION_ID)?;
    change.pragma_update(None, "user_version", steps.len() as i64)?;
    change.commit()
}

/// Moves the file with what SQLite keeps beside it.
fn put_aside(path: &Path) -> Result<PathBuf, LogbookError> {
    let aside = set_aside(path).map_err(|why| LogbookError::file(path, why))?;
    for ending in ["-wal", "-shm"] {
        let moved = fs::rename(beside(path, ending), beside(&aside, ending));
        match moved {
            Err(why) if why.kind() != io::ErrorKind::NotFound => {
                return Err(LogbookError::file(&beside(path, ending), why));
            }
            _ => {}
        }
    }
    Ok(aside)
}

pub(super) fn used_bytes(connection: &Connection) -> rusqlite::Result<u64> {
    let number = |name: &str| connection.pragma_query_value(None, name, |row| row.get::<_, i64>(0));
    let pages = number("page_count")? - number("freelist_count")?;
    Ok(u64::try_from(pages * number("page_size")?).unwrap_or(0))
}

/// The tables that hold something of a moment, with the column that says which.
const BY_TIME: [(&str, &str); 10] = [
    ("states", "at_ms"),
    ("spans", "from_ms"),
    ("chances", "made_at_ms"),
    ("entries", "at_ms"),
    ("instrument_troubles", "from_ms"),
    ("learnt", "at_ms"),
    ("settings_in_force", "from_ms"),
    ("advisories", "raised_at_ms"),
    ("mark_changes", "at_ms"),
    ("passes", "offered_at_ms"),
];

/// The first and the last moment of all sessions.
fn extent(connection: &Connection) -> rusqlite::Result<Option<(Millis, Millis)>> {
    let parts: Vec<String> = BY_TIME
        .iter()
        .filter(|(table, _)| *table != "settings_in_force")
        .map(|(table, column)| {
            format!("SELECT min({column}) AS a, max({column}) AS b FROM {table}")
        })
        .collect();
    let all = format!("SELECT min(a), max(b) FROM ({})", parts.join(" UNION ALL "));
    connection.query_row(&all, [], |row| {
        let (first, last): (Option<Millis>, Option<Millis>) = (row.get(0)?, row.get(1)?);
        Ok(first.zip(last))
    })
}

fn delete_until(connection: &mut Connection, until: Millis) -> rusqlite::Result<()> {
    let change = connection.transaction()?;
    for (table, column) in BY_TIME {
        // The settings that a session goes on with are still in force.
        if table != "settings_in_force" {
            change.execute(&format!("DELETE FROM {table} WHERE {column} < ?1"), [until])?;
        }
    }
    // A session of which nothing is left; that which is being written has begun last.
    change.execute(
        "DELETE FROM sessions WHERE begun_at_ms < ?1
            AND id < (SELECT max(id) FROM sessions)
            AND NOT EXISTS (SELECT 1 FROM states WHERE session_id = sessions.id)
            AND NOT EXISTS (SELECT 1 FROM spans WHERE session_id = sessions.id)
            AND NOT EXISTS (SELECT 1 FROM entries WHERE session_id = sessions.id)",
        [until],
    )?;
    change.execute(
        "DELETE FROM settings WHERE id NOT IN (SELECT settings_id FROM settings_in_force)",
        [],
    )?;
    change.commit()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn filled(path: &Path, days: i64) -> OpenFile {
        let mut open = OpenFile::open(path).unwrap();
        let change = open.connection.transaction().unwrap();
        change
            .execute("INSERT INTO sessions VALUES (1, 0, NULL, 0, 'x')", [])
            .unwrap();
        for day in 0..days {
            for second in 0..2000 {
                change
                    .execute(
                        "INSERT INTO states (session_id, at_ms, doing, immersion)
                            VALUES (1, ?1, 'fishing', 0.123456)",
                        [day * DAY_MS + second * 1000],
                    )
                    .unwrap();
            }
        }
        change.commit().unwrap();
        open
    }

    #[test]
    fn an_older_file_is_brought_up_all_or_not_at_all_and_a_copy_is_kept() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("day.sqlite");
        drop(filled(&path, 1));
        // Steps that may come one day, the second of them wrong.
        let wrong = [
            STEPS[0],
            "CREATE TABLE new (a TEXT) STRICT; CREATE TABLE new (a TEXT)",
        ];
        assert!(OpenFile::open_with(&path, &wrong).is_err());
        let right = [STEPS[0], "CREATE TABLE new (a TEXT) STRICT"];
        let open = OpenFile::open_with(&path, &right).unwrap();
        let copy = open.copy.clone().unwrap();
        assert_eq!(copy, dir.path().join("day.sqlite.version-1"));
        let states = |connection: &Connection| {
            connection
                .query_row("SELECT count(*) FROM states", [], |row| {
                    row.get::<_, i64>(0)
                })
                .unwrap()
        };
        assert_eq!(states(&open.connection), 2000);
        open.connection
            .execute("INSERT INTO new VALUES ('b')", [])
            .unwrap();
        assert_eq!(version(&open.connection, &path).unwrap(), 2);
        let copy = Connection::open(copy).unwrap();
        assert_eq!((states(&copy), version(&copy, &path).unwrap()), (2000, 1));
        drop(open);
        // Today's program finds it too new, and keeps it.
        assert!(matches!(
            open_to_read(&path),
            Err(LogbookError::Version { found: 2, .. })
        ));
        let open = OpenFile::open(&path).unwrap();
        assert_eq!(states(&open.connection), 0);
        let aside = Connection::open(open.set_aside.unwrap()).unwrap();
        assert_eq!(states(&aside), 2000);
    }

    #[test]
    fn the_oldest_days_go_whole_and_the_last_never() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("day.sqlite");
        let mut open = filled(&path, 6);
        let used = used_bytes(&open.connection).unwrap();
        assert_eq!(open.make_room(used).unwrap(), 0);
        let deleted = open.make_room(used / 2).unwrap();
        assert!((2..=4).contains(&deleted), "{deleted}");
        assert!(used_bytes(&open.connection).unwrap() <= used / 2);
        let (oldest, newest) = extent(&open.connection).unwrap().unwrap();
        assert_eq!(oldest.0, i64::try_from(deleted).unwrap() * DAY_MS);
        assert_eq!(newest.0, 5 * DAY_MS + 1_999_000);
        assert!(open.make_room(0).unwrap() < 6);
        let (oldest, _) = extent(&open.connection).unwrap().unwrap();
        assert!(newest.0 - oldest.0 <= 2 * DAY_MS);
        let sessions: i64 = open
            .connection
            .query_row("SELECT count(*) FROM sessions", [], |row| row.get(0))
            .unwrap();
        assert_eq!(sessions, 1);
    }

    #[test]
    fn damage_within_a_file_is_found_when_it_is_opened() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("day.sqlite");
        drop(filled(&path, 3));
        let mut bytes = fs::read(&path).unwrap();
        let middle = bytes.len() / 2;
        bytes[middle..middle + 4096].fill(0x5A);
        fs::write(&path, &bytes).unwrap();
        let open = OpenFile::open(&path).unwrap();
        assert!(open.is_new);
        let aside = open.set_aside.unwrap();
        assert_eq!(fs::read(aside).unwrap(), bytes);
    }

    #[test]
    fn a_file_that_somebody_took_away_is_missed() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("day.sqlite");
        let open = OpenFile::open(&path).unwrap();
        assert!(open.is_there(&path));
        fs::rename(&path, dir.path().join("elsewhere")).unwrap();
        assert!(!open.is_there(&path));
    }
}
