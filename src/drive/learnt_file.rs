//! The small file that keeps what was learnt over restarts.

use std::fs::{self, File};
use std::io::{self, Read as _};
use std::os::unix::fs::{MetadataExt as _, fchown};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use tokio::sync::watch;

use crate::engine::Engine;
use crate::files::{clear_up, directory_of, replace, set_aside, sync_directory};
use crate::forecast::{Changes, Forecaster, LearntError, MOST_KITES, Memory};

/// Not written more often than this: with a picture a second, a crash costs what was taught in the
/// last 10 s.
const LEAST_PAUSE: Duration = Duration::from_secs(9);
/// Pause before a disk that did not take what is to be forgotten is tried again.
const FORGET_AGAIN: Duration = Duration::from_secs(5);
/// A file larger than this is none of ours: eight kites with 2000 particles each take less.
const LARGEST_BYTES: u64 = 4 * 1024 * 1024;

/// What is wrong with a file.
#[derive(Debug, thiserror::Error)]
pub enum LearntFileError {
    /// It cannot be read or written.
    #[error("{path}: {why}")]
    Io {
        /// Which.
        path: String,
        /// As the system says it.
        why: io::Error,
    },
    /// It holds something else.
    #[error("{path} does not hold what was learnt: {why}")]
    Garbled {
        /// Which.
        path: String,
        /// What is wrong with it.
        why: LearntError,
    },
    /// It cannot hold what was learnt.
    #[error("{path} is larger than {LARGEST_BYTES} bytes, so it does not hold what was learnt")]
    TooLarge {
        /// Which.
        path: String,
    },
}

fn io_error(path: &Path, why: io::Error) -> LearntFileError {
    LearntFileError::Io {
        path: path.display().to_string(),
        why,
    }
}

/// Reads what was learnt; `None` when there is no such file, or nothing in it.
///
/// # Errors
/// When it cannot be read or holds something else.
pub fn read_memory(path: &Path) -> Result<Option<Memory>, LearntFileError> {
    let file = match File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(io_error(path, error)),
    };
    let mut text = Vec::new();
    file.take(LARGEST_BYTES + 1)
        .read_to_end(&mut text)
        .map_err(|error| io_error(path, error))?;
    let name = || path.display().to_string();
    if text.len() as u64 > LARGEST_BYTES {
        return Err(LearntFileError::TooLarge { path: name() });
    }
    if text.is_empty() {
        return Ok(None);
    }
    Memory::from_json(&text)
        .map(Some)
        .map_err(|why| LearntFileError::Garbled { path: name(), why })
}

/// Writes it beside the old one first and then over it, so that a power cut leaves one of them.
/// Its directory is made when there is none; an owner stays who he was.
///
/// # Errors
/// When it cannot be written.
pub fn write_memory(path: &Path, memory: &Memory) -> Result<(), LearntFileError> {
    let write = || -> io::Result<()> {
        let text = serde_json::to_vec(memory)?;
        if let Some(directory) = path.parent() {
            std::fs::create_dir_all(directory)?;
        }
        replace(path, &text, |file| {
            let Ok(old) = std::fs::metadata(path) else {
                return Ok(());
            };
            // Whoever may not give it away owns it already, as a rule.
            let _ = fchown(file, Some(old.uid()), Some(old.gid()));
            file.set_permissions(old.permissions())
        })
    };
    write().map_err(|error| io_error(path, error))
}

/// Writes what is left after something was forgotten. What stands in the file would come back with
/// the next start, so a disk that does not take the new file loses the old one: that needs no room.
/// In words what is wrong and what a restart would do.
fn write_forgotten(path: &Path, memory: &Memory) -> Result<(), String> {
    if write_memory(path, memory).is_ok() {
        return Ok(());
    }
    let emptied = match fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => File::options()
            .write(true)
            .truncate(true)
            .open(path)
            .and_then(|file| file.sync_all()),
        _ => sync_directory(directory_of(path)),
    };
    if let Err(why) = emptied {
        return Err(format!(
            "{} can be neither written nor deleted ({why}): a restart brings back what was \
             forgotten",
            path.display()
        ));
    }
    // What it took up may be room enough.
    write_memory(path, memory).map_err(|why| {
        format!(
            "{why}. What was forgotten is deleted; what was learnt of other kites is in memory \
             only until the file can be written, and a restart before that loses it"
        )
    })
}

/// Keeps what an engine learns in a file.
#[derive(Debug)]
pub struct LearntFile {
    path: PathBuf,
    kept: Changes,
    dropped: u64,
    /// When it was last tried, and with what.
    tried: Option<(Instant, Changes)>,
    trouble: watch::Sender<Option<String>>,
}

impl LearntFile {
    /// Lets a forecaster begin with what the file holds, and says in the log what came of it.
    /// Whatever is wrong with the file, the forecast goes on without it; the file is kept aside.
    /// `None` when that fails, for then what is learnt would be written over it.
    #[must_use]
    pub fn open(path: PathBuf, forecaster: &mut Forecaster) -> Option<Self> {
        let name = path.display();
        if let Err(why) = clear_up(&path) {
            tracing::debug!("{name}: a leftover of writing it stays: {why}");
        }
        match read_memory(&path) {
            Ok(None) => tracing::info!("{name}: nothing learnt yet"),
            Ok(Some(memory)) => match forecaster.remember(memory) {
                Ok(()) => {
                    if let Some(told) = forecaster.learnt_now() {
                        let (reports, at) = (told.reports, told.at);
                        tracing::info!(
                            "{name}: recalled what {reports} reports have taught of this kite, \
                             the last of {at}"
                        );
                    }
                }
                Err(why) => tracing::info!("{name}: {why}; it is kept"),
            },
            Err(error) => {
                forecaster.could_not_read();
                match set_aside(&path) {
                    Ok(aside) => tracing::warn!("{error}; it is kept as {}", aside.display()),
                    Err(why) => {
                        tracing::warn!(
                            "{error}; it cannot be moved aside ({why}), so nothing learnt is kept: \
                             move it away and start again"
                        );
                        return None;
                    }
                }
            }
        }
        Some(Self {
            kept: forecaster.changes(),
            dropped: 0,
            tried: None,
            trouble: watch::Sender::new(None),
            path,
        })
    }

    /// Why what was learnt or forgotten is not in the file, while that is so.
    #[must_use]
    pub fn trouble(&self) -> watch::Receiver<Option<String>> {
        self.trouble.subscribe()
    }

    /// Writes when something was learnt since, at most once in nine seconds; when something is to be
    /// forgotten, at once, and again and again until it is.
    pub fn keep(&mut self, engine: &Engine) {
        let forgotten = engine.changes().forgotten;
        let pause = if forgotten == self.kept.forgotten {
            LEAST_PAUSE
        } else {
            FORGET_AGAIN
        };
        let due = self
            .tried
            .is_none_or(|(when, what)| when.elapsed() >= pause || what.forgotten != forgotten);
        if due {
            self.keep_now(engine);
        }
    }

    /// Writes when anything has changed since.
    pub fn keep_now(&mut self, engine: &Engine) {
        let changes = engine.changes();
        if changes == self.kept {
            return;
        }
        self.tried = Some((Instant::now(), changes));
        let memory = engine.memory();
        let written = if changes.forgotten == self.kept.forgotten {
            write_memory(&self.path, &memory)
                .map_err(|why| format!("{why}. A restart loses what was learnt since"))
        } else {
            write_forgotten(&self.path, &memory)
        };
        if written.is_ok() {
            self.kept = changes;
        }
        self.say(written.err());
        if memory.dropped() > self.dropped {
            self.dropped = memory.dropped();
            tracing::warn!(
                "{}: no more than {MOST_KITES} kites are remembered: what was learnt of the one \
                 not taught for the longest had to go",
                self.path.display()
            );
        }
    }

    fn say(&self, trouble: Option<String>) {
        self.trouble.send_if_modified(|known| {
            let is_new = *known != trouble;
            if is_new && let Some(trouble) = &trouble {
                tracing::warn!("what was learnt is not kept: {trouble}");
            }
            *known = trouble;
            is_new
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::beside;

    /// A file with something in it, on a disk that takes no new file.
    fn stubborn(dir: &Path) -> PathBuf {
        let path = dir.join("learnt.json");
        fs::write(&path, "what is to be forgotten").unwrap();
        // What stands where the new file would be written cannot be replaced by one.
        fs::create_dir(beside(&path, ".skimwatch-new")).unwrap();
        path
    }

    #[test]
    fn what_is_forgotten_goes_though_nothing_can_be_written() {
        let dir = tempfile::tempdir().unwrap();
        let path = stubborn(dir.path());
        let trouble = write_forgotten(&path, &Memory::default()).unwrap_err();
        assert!(trouble.contains("is deleted"), "{trouble}");
        assert!(!path.exists());
        assert!(read_memory(&path).unwrap().is_none());
        // And is written when that is possible again.
        fs::remove_dir(beside(&path, ".skimwatch-new")).unwrap();
        write_forgotten(&path, &Memory::default()).unwrap();
        assert!(read_memory(&path).unwrap().is_some());
    }

    #[test]
    fn what_can_be_neither_written_nor_deleted_is_said_to_come_back() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("learnt.json");
        // A directory is neither.
        fs::create_dir(&path).unwrap();
        fs::write(path.join("inside"), "").unwrap();
        let trouble = write_forgotten(&path, &Memory::default()).unwrap_err();
        assert!(trouble.contains("brings back"), "{trouble}");
    }

    #[test]
    fn an_emptied_file_holds_nothing() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("learnt.json");
        File::create(&path).unwrap();
        assert!(read_memory(&path).unwrap().is_none());
    }
}
