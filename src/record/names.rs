//! Names, order and number of recordings in their directory.
//!
//! A recording is `raw-<number>-<time of its first line>.nmea`. Numbers only grow, so they tell
//! which is older however the clock was set in between; the time is for people. Recordings of
//! earlier versions have no number (`raw-<time>.nmea`, `raw-<time>_001.nmea`): they are older than
//! all that have one, and among themselves as old as the file system says.

use std::fs::{self, File, OpenOptions};
use std::io;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use crate::time::Millis;

const START: &str = "raw-";
const END: &str = ".nmea";
/// Names that may be taken by somebody else meanwhile.
const ATTEMPTS: u64 = 1000;

/// A recording in the directory. In order of age, oldest first.
#[derive(Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Recording {
    number: Option<u64>,
    modified: SystemTime,
    pub path: PathBuf,
    pub bytes: u64,
}

/// `20260102T030405Z`, and after it `_001` in the names of earlier versions.
fn is_stamp(text: &str) -> bool {
    let shape = |text: &str, pattern: &str| {
        text.len() == pattern.len()
            && text
                .bytes()
                .zip(pattern.bytes())
                .all(|(byte, wanted)| byte == wanted || (wanted == b'0' && byte.is_ascii_digit()))
    };
    shape(text, "00000000T000000Z") || shape(text, "00000000T000000Z_000")
}

/// The number in the name of a recording, `Some(None)` when it has none; `None` for any other file.
fn number(name: &str) -> Option<Option<u64>> {
    let middle = name.strip_prefix(START)?.strip_suffix(END)?;
    match middle.split_once('-') {
        None => is_stamp(middle).then_some(None),
        Some((number, stamp)) => {
            let digits = !number.is_empty() && number.bytes().all(|b| b.is_ascii_digit());
            (digits && is_stamp(stamp)).then(|| number.parse().ok())
        }
    }
}

/// The recordings in a directory, oldest first; nobody else's files are among them.
pub(super) fn recordings(dir: &Path) -> io::Result<Vec<Recording>> {
    let mut found = Vec::new();
    for entry in fs::read_dir(dir)? {
        let entry = entry?;
        let Some(number) = entry.file_name().to_str().and_then(number) else {
            continue;
        };
        let about = match entry.metadata() {
            Ok(about) => about,
            // Deleted by somebody else meanwhile.
            Err(error) if error.kind() == io::ErrorKind::NotFound => continue,
            Err(error) => return Err(error),
        };
        if about.is_file() {
            found.push(Recording {
                number,
                modified: about.modified().unwrap_or(SystemTime::UNIX_EPOCH),
                path: entry.path(),
                bytes: about.len(),
            });
        }
    }
    found.sort();
    Ok(found)
}

/// Deletes the oldest recordings until all together take no more than `most_bytes`; how many.
pub(super) fn make_room(dir: &Path, most_bytes: u64) -> io::Result<u64> {
    let files = recordings(dir)?;
    let mut total: u64 = files.iter().map(|file| file.bytes).sum();
    let mut deleted = 0;
    for file in files {
        if total <= most_bytes {
            break;
        }
        match fs::remove_file(&file.path) {
            Ok(()) => {
                deleted += 1;
                tracing::info!(file = %file.path.display(), "old recording deleted");
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => {}
            Err(error) => return Err(error),
        }
        total -= file.bytes;
    }
    Ok(deleted)
}

/// A new file with the next number, named after the time of its first line, UTC.
pub(super) fn create_new(dir: &Path, time: Millis) -> io::Result<(PathBuf, File)> {
    let stamp = time.to_utc().unwrap_or_default().format("%Y%m%dT%H%M%SZ");
    let last = recordings(dir)?.iter().filter_map(|file| file.number).max();
    let next = last.map_or(1, |last| last.saturating_add(1));
    let mut taken = io::Error::from(io::ErrorKind::AlreadyExists);
    for number in next..next.saturating_add(ATTEMPTS) {
        let path = dir.join(format!("{START}{number:06}-{stamp}{END}"));
        match OpenOptions::new().write(true).create_new(true).open(&path) {
            Ok(file) => return Ok((path, file)),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => taken = error,
            Err(other) => return Err(other),
        }
    }
    Err(taken)
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    fn file(dir: &Path, name: &str, modified_s: u64) {
        let file = File::create(dir.join(name)).unwrap();
        file.set_len(100).unwrap();
        file.set_modified(SystemTime::UNIX_EPOCH + Duration::from_secs(modified_s))
            .unwrap();
    }

    fn names(dir: &Path) -> Vec<String> {
        recordings(dir)
            .unwrap()
            .iter()
            .map(|file| file.path.file_name().unwrap().to_str().unwrap().to_owned())
            .collect()
    }

    #[test]
    fn only_recordings_are_taken_for_recordings() {
        assert_eq!(number("raw-000012-20260102T030405Z.nmea"), Some(Some(12)));
        assert_eq!(number("raw-20260102T030405Z.nmea"), Some(None));
        assert_eq!(number("raw-20260102T030405Z_001.nmea"), Some(None));
        for other in [
            "raw-good-day.nmea",
            "raw-000012-good-day.nmea",
            "raw-20260102T030405Z.nmea.gz",
            "raw--20260102T030405Z.nmea",
            "raw-+1-20260102T030405Z.nmea",
            "notes.nmea",
        ] {
            assert_eq!(number(other), None, "{other}");
        }
    }

    #[test]
    fn numbers_grow_and_the_time_of_the_first_line_is_in_the_name() {
        let dir = tempfile::tempdir().unwrap();
        for _ in 0..2 {
            create_new(dir.path(), Millis(1_700_000_000_000)).unwrap();
        }
        // The clock was set back.
        create_new(dir.path(), Millis(0)).unwrap();
        // 1 700 000 000 s after 1970 is 2023-11-14T22:13:20Z (arithmetic from the definition).
        let expected = [
            "raw-000001-20231114T221320Z.nmea",
            "raw-000002-20231114T221320Z.nmea",
            "raw-000003-19700101T000000Z.nmea",
        ];
        assert_eq!(names(dir.path()), expected);
    }

    #[test]
    fn a_clock_that_jumped_does_not_make_new_recordings_old() {
        let dir = tempfile::tempdir().unwrap();
        // Names and times of the file system of two recordings are years ahead of the clock now.
        for (name, modified_s) in [
            ("raw-20310101T000000Z.nmea", 1_925_000_000),
            ("raw-20260102T030405Z.nmea", 1_767_300_000),
            ("raw-000001-20310102T000000Z.nmea", 1_925_100_000),
            ("raw-000002-20260103T000000Z.nmea", 1_767_400_000),
            ("raw-000010-20260103T000100Z.nmea", 1_767_400_100),
            ("raw-good-day.nmea", 0),
        ] {
            file(dir.path(), name, modified_s);
        }
        assert_eq!(make_room(dir.path(), 300).unwrap(), 2);
        let left = [
            "raw-000001-20310102T000000Z.nmea",
            "raw-000002-20260103T000000Z.nmea",
            "raw-000010-20260103T000100Z.nmea",
        ];
        assert_eq!(names(dir.path()), left);
        assert_eq!(make_room(dir.path(), 250).unwrap(), 1);
        assert_eq!(names(dir.path()), left[1..]);
        assert_eq!(make_room(dir.path(), 200).unwrap(), 0);
        assert!(dir.path().join("raw-good-day.nmea").exists());
    }
}
