//! The small file in which what was learnt outlives the day.

use std::fs::File;
use std::io::{self, Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use crate::engine::Engine;
use crate::forecast::{Forecaster, Learnt};

/// Not written more often than this.
const LEAST_PAUSE: Duration = Duration::from_secs(60);
/// A file larger than this is none of ours: 2000 members take about half of it.
const LARGEST_BYTES: u64 = 1024 * 1024;

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
    #[error("{path} does not hold what was learnt: {why}; `skimwatch forget` removes it")]
    Garbled {
        /// Which.
        path: String,
        /// Where in it.
        why: String,
    },
}

fn io_error(path: &Path, why: io::Error) -> LearntFileError {
    LearntFileError::Io {
        path: path.display().to_string(),
        why,
    }
}

/// Reads what was learnt; `None` when there is no such file.
///
/// # Errors
/// When it cannot be read or holds something else.
pub fn read_learnt(path: &Path) -> Result<Option<Learnt>, LearntFileError> {
    let garbled = |why: String| LearntFileError::Garbled {
        path: path.display().to_string(),
        why,
    };
    let file = match File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(io_error(path, error)),
    };
    let mut text = Vec::new();
    file.take(LARGEST_BYTES + 1)
        .read_to_end(&mut text)
        .map_err(|error| io_error(path, error))?;
    if text.len() as u64 > LARGEST_BYTES {
        return Err(garbled("it is far too large".to_owned()));
    }
    serde_json::from_slice(&text)
        .map(Some)
        .map_err(|why| garbled(why.to_string()))
}

/// Writes it beside the old one first and then over it, so that a power cut leaves one of them.
///
/// # Errors
/// When it cannot be written.
pub fn write_learnt(path: &Path, learnt: &Learnt) -> Result<(), LearntFileError> {
    let mut beside = path.as_os_str().to_owned();
    beside.push(".new");
    let beside = PathBuf::from(beside);
    let write = || -> io::Result<()> {
        let text = serde_json::to_vec(learnt)?;
        let mut file = File::create(&beside)?;
        file.write_all(&text)?;
        file.sync_all()?;
        std::fs::rename(&beside, path)
    };
    write().map_err(|error| io_error(path, error))
}

/// Lets a forecaster recall what the file holds, and says in the log what came of it. Whatever is
/// wrong with the file, the forecast goes on without it and says so.
pub fn recall_learnt(path: &Path, forecaster: &mut Forecaster) {
    let outcome = match read_learnt(path) {
        Ok(None) => {
            tracing::info!("{}: nothing learnt yet", path.display());
            return;
        }
        Ok(Some(learnt)) => {
            let (reports, at) = (learnt.reports(), learnt.learnt_at());
            match forecaster.recall(learnt) {
                Ok(()) => {
                    tracing::info!(
                        "{}: recalled what {reports} reports have taught, the last of {at}",
                        path.display()
                    );
                    return;
                }
                Err(why) => format!("{}: {why}", path.display()),
            }
        }
        Err(error) => error.to_string(),
    };
    tracing::warn!("what was learnt is discarded: {outcome}");
    forecaster.discard("its file does not fit, see the log");
}

/// Keeps what an engine learns in a file.
#[derive(Debug)]
pub struct LearntFile {
    path: PathBuf,
    kept: u64,
    tried: Option<Instant>,
}

impl LearntFile {
    /// Writes to `path`, from the first report on.
    #[must_use]
    pub fn new(path: PathBuf) -> Self {
        Self {
            path,
            kept: 0,
            tried: None,
        }
    }

    /// Writes when something was learnt since, at most once a minute.
    pub fn keep(&mut self, engine: &Engine) {
        if self
            .tried
            .is_none_or(|tried| tried.elapsed() >= LEAST_PAUSE)
        {
            self.keep_now(engine);
        }
    }

    /// Writes when something was learnt since.
    pub fn keep_now(&mut self, engine: &Engine) {
        let lessons = engine.lessons();
        if lessons == self.kept {
            return;
        }
        let Some(learnt) = engine.learnt() else {
            return;
        };
        self.tried = Some(Instant::now());
        match write_learnt(&self.path, &learnt) {
            Ok(()) => self.kept = lessons,
            Err(error) => tracing::warn!("what was learnt is not kept: {error}"),
        }
    }
}
