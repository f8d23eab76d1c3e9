//! Tries the logbook before a day depends on it, and leaves everything as it was.

use std::fs;
use std::io;
use std::path::Path;

use rusqlite::{Connection, OpenFlags};

use super::error::LogbookError;
use super::file::{BUSY, OpenFile, STEPS, check, used_bytes, version};
use crate::files::{beside, directory_of};

const MIB: u64 = 1024 * 1024;
/// With less room than this a day may not find any.
pub const LEAST_FREE: u64 = 16 * MIB;

/// What a trial found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tried {
    /// What the logbook holds; `None` where there is none yet.
    pub used_bytes: Option<u64>,
    /// Room that is left on its disk.
    pub free_bytes: u64,
}

/// Tries whether a logbook can be written: makes an empty one beside it and removes that; of a
/// logbook that is there, writes into it and takes that back.
///
/// # Errors
/// What is wrong, with the cure where one is known.
pub fn try_out(path: &Path) -> Result<Tried, LogbookError> {
    let directory = directory_of(path);
    let missing: Vec<&Path> = directory
        .ancestors()
        .take_while(|dir| !dir.as_os_str().is_empty() && !dir.exists())
        .collect();
    let trial = directory.join(format!(".skimwatch-trial-{}.sqlite", std::process::id()));
    let tried = OpenFile::open(&trial).map(drop);
    let free = free_bytes(directory);
    for ending in ["", "-wal", "-shm", "-journal"] {
        // What could not be made is not there.
        let _ = fs::remove_file(beside(&trial, ending));
    }
    for made in missing {
        let _ = fs::remove_dir(made);
    }
    tried.map_err(|why| why.of(path))?;
    let free_bytes = free.map_err(|why| LogbookError::file(directory, why))?;
    if free_bytes < LEAST_FREE {
        let full = io::Error::from(io::ErrorKind::StorageFull);
        return Err(LogbookError::file(directory, full));
    }
    let used_bytes = path
        .exists()
        .then(|| write_and_take_back(path))
        .transpose()?;
    Ok(Tried {
        used_bytes,
        free_bytes,
    })
}

/// Room that is left on the disk of a directory.
///
/// # Errors
/// What the system says.
pub fn free_bytes(directory: &Path) -> io::Result<u64> {
    let about = rustix::fs::statvfs(directory)?;
    Ok(about.f_bavail.saturating_mul(about.f_frsize))
}

/// What the logbook holds, once it has been seen that it can be written.
fn write_and_take_back(path: &Path) -> Result<u64, LogbookError> {
    let told = |why| LogbookError::sqlite(path, why);
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut connection = Connection::open_with_flags(path, flags).map_err(told)?;
    connection.busy_timeout(BUSY).map_err(told)?;
    let found = version(&connection, path)?;
    if found > STEPS.len() {
        return Err(LogbookError::Version {
            path: path.display().to_string(),
            found,
            known: STEPS.len(),
        });
    }
    check(&connection).map_err(told)?;
    let used = used_bytes(&connection).map_err(told)?;
    let change = connection.transaction().map_err(told)?;
    change
        .execute_batch("CREATE TABLE trial (a TEXT) STRICT; INSERT INTO trial VALUES ('x')")
        .and_then(|()| change.rollback())
        .map_err(told)?;
    Ok(used)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(directory: &Path) -> Vec<String> {
        let entries = fs::read_dir(directory).unwrap();
        let mut names: Vec<String> = entries
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_trial_leaves_nothing_behind() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("new/day.sqlite");
        let tried = try_out(&path).unwrap();
        assert_eq!(tried.used_bytes, None);
        assert!(tried.free_bytes > 0);
        assert_eq!(names(dir.path()), Vec::<String>::new());

        let path = dir.path().join("day.sqlite");
        drop(OpenFile::open(&path).unwrap());
        let before = fs::read(&path).unwrap();
        assert!(try_out(&path).unwrap().used_bytes.unwrap() > 0);
        assert_eq!(names(dir.path()), ["day.sqlite"]);
        assert_eq!(fs::read(&path).unwrap(), before);
    }

    #[test]
    fn what_is_wrong_is_named() {
        let dir = tempfile::tempdir().unwrap();
        fs::write(dir.path().join("way"), "").unwrap();
        let path = dir.path().join("way/day.sqlite");
        let said = try_out(&path).unwrap_err().to_string();
        assert!(said.contains("way") && said.contains("[logbook]"), "{said}");

        let path = dir.path().join("damaged.sqlite");
        fs::write(&path, vec![b'x'; 20_000]).unwrap();
        let said = try_out(&path).unwrap_err().to_string();
        assert!(said.contains("damaged.sqlite"), "{said}");
        assert_eq!(fs::read(&path).unwrap(), vec![b'x'; 20_000]);

        let path = dir.path().join("held.sqlite");
        let open = OpenFile::open(&path).unwrap();
        open.connection.execute_batch("BEGIN IMMEDIATE").unwrap();
        let said = try_out(&path).unwrap_err().to_string();
        assert!(said.contains("another program holds it"), "{said}");
    }
}
