//! Recorded logs for the commands that replay them.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs::File;
use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use indicatif::{ProgressBar, ProgressStyle};

use super::Failure;
use crate::cause::Cause;
use crate::drive::{LineTime, LogLine, TimeBase, WentBack};
use crate::feed::{Frame, FrameSettings};
use crate::record::{LogItem, LogReader};
use crate::time::Millis;

/// Items at the beginning of a log that are searched for its first time.
const LOOKED_AT: usize = 2000;

/// A log that could be opened.
pub(super) struct Log {
    name: Arc<str>,
    path: String,
    pub(super) bytes: u64,
    reader: LogReader<File>,
}

/// Opens every log, and refuses those that are not named in order of time as far as their
/// beginnings tell.
pub(super) fn open_logs(paths: &[PathBuf]) -> Result<Vec<Log>, Failure> {
    let mut before: Option<(&Path, Millis)> = None;
    for path in paths {
        let Some(at) = first_time(path) else { continue };
        if let Some((earlier, first)) = before
            && at <= first
        {
            return Err(Failure::data(format!(
                "{} begins at {at}, not after {}, which begins at {first}: name the logs in order \
                 of time, each once",
                path.display(),
                earlier.display()
            )));
        }
        before = Some((path, at));
    }
    paths.iter().map(|path| open(path)).collect()
}

fn open(path: &Path) -> Result<Log, Failure> {
    let cannot = |error: io::Error| {
        Failure::unavailable(format!("cannot read the log {}: {error}", path.display()))
    };
    let metadata = std::fs::metadata(path).map_err(cannot)?;
    if metadata.is_dir() {
        return Err(Failure::unavailable(format!(
            "{} is a directory; name the log files in it, in order of time",
            path.display()
        )));
    }
    let reader = LogReader::open(path, FrameSettings::default()).map_err(cannot)?;
    let name = path.file_stem().unwrap_or_default().to_string_lossy();
    Ok(Log {
        name: name.as_ref().into(),
        path: path.display().to_string(),
        bytes: metadata.len(),
        reader,
    })
}

/// First time in a log, if it is a plain file and knows one.
fn first_time(path: &Path) -> Option<Millis> {
    if !std::fs::metadata(path).ok()?.is_file() {
        return None;
    }
    let mut base = TimeBase::default();
    LogReader::open(path, FrameSettings::default())
        .ok()?
        .take(LOOKED_AT)
        .find_map(|item| {
            let LogLine::Sentence { stamped, text, .. } =
                LogLine::from_log(item.ok()?, &"log".into())
            else {
                return None;
            };
            match base.read(stamped, &text) {
                LineTime::At(at) => Some(at),
                _ => None,
            }
        })
}

/// What became of the reading of logs; filled by whoever takes their lines.
#[derive(Debug, Clone, Default)]
pub(super) struct Reading(Arc<Mutex<Books>>);

#[derive(Debug, Default)]
struct Books {
    /// Path of the log that is being read.
    path: String,
    sentences: u64,
    refused: BTreeMap<Cause, u64>,
    problem: Option<Failure>,
}

impl Reading {
    fn books(&self) -> MutexGuard<'_, Books> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What was wrong with the logs, if anything.
    pub(super) fn verdict(&self) -> Result<(), Failure> {
        self.books().problem.take().map_or(Ok(()), Err)
    }

    /// For commands that need times in order: the times of the log being read go back.
    pub(super) fn goes_back(&self, WentBack { from, to }: WentBack) -> Failure {
        Failure::data(format!(
            "{}: its times go back from {from} to {to}; cut it there and score the parts one by one",
            self.books().path
        ))
    }
}

impl Books {
    fn begin(&mut self, path: &str) {
        path.clone_into(&mut self.path);
        self.sentences = 0;
        self.refused.clear();
    }

    fn count(&mut self, item: &LogItem) {
        match &item.frame {
            Frame::Sentence(_) => self.sentences += 1,
            Frame::Rejected(rejection) => {
                *self.refused.entry(rejection.cause).or_default() += 1;
            }
        }
    }

    /// The log has come to its end.
    fn end(&mut self) {
        if self.sentences > 0 {
            return;
        }
        let mut why = format!("{}: no NMEA 0183 sentence in it", self.path);
        let refused: Vec<_> = self
            .refused
            .iter()
            .map(|(cause, count)| format!("{count} {}", cause.words()))
            .collect();
        if !refused.is_empty() {
            // Writing to a string cannot fail.
            let _ = write!(why, " (refused: {})", refused.join(", "));
        }
        why.push_str(
            "; give a recording of skimwatch, plain NMEA 0183 text, or such text with a time \
             before each line, with checksums",
        );
        self.add(Failure::data(why));
    }

    fn failed(&mut self, error: &io::Error) {
        let words = format!(
            "{}: reading stopped after {} sentences: {error}; copy the file to a sound disk, or \
             leave it away",
            self.path, self.sentences
        );
        self.add(Failure::unavailable(words));
    }

    fn add(&mut self, problem: Failure) {
        match &mut self.problem {
            Some(first) => {
                first.message.push('\n');
                first.message.push_str(&problem.message);
            }
            none => *none = Some(problem),
        }
    }
}

/// The lines of all logs, one after the other, and what becomes of reading them.
pub(super) fn lines(
    logs: Vec<Log>,
    bar: ProgressBar,
) -> (impl Iterator<Item = LogLine> + Send, Reading) {
    let reading = Reading::default();
    let books = reading.clone();
    let lines = logs.into_iter().flat_map(move |mut log| {
        let (bar, books) = (bar.clone(), books.clone());
        let before = bar.position();
        books.books().begin(&log.path);
        std::iter::from_fn(move || {
            let item = log.reader.next();
            bar.set_position(before + log.reader.bytes_read());
            match item {
                Some(Ok(item)) => {
                    books.books().count(&item);
                    Some(LogLine::from_log(item, &log.name))
                }
                Some(Err(error)) => {
                    books.books().failed(&error);
                    None
                }
                None => {
                    books.books().end();
                    None
                }
            }
        })
    });
    (lines, reading)
}

/// A bar on standard error for long logs when somebody looks at it.
pub(super) fn progress(bytes: u64) -> ProgressBar {
    const LONG_BYTES: u64 = 2_000_000;
    if bytes < LONG_BYTES || !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let style = ProgressStyle::with_template("{bar:40} {bytes}/{total_bytes} {eta} left")
        .unwrap_or_else(|_| ProgressStyle::default_bar());
    ProgressBar::new(bytes).with_style(style)
}
