//! The recorder: a thread that writes lines to rotating files.
//!
//! Lines are handed to it through a bounded queue and never waited for. When the directory
//! cannot be written or the disk is full, lines are lost and counted, the report says why, and
//! it tries again after 2 s, then ever more seldom up to once a minute, with a new file. Written lines reach the system within a
//! second and the disk within ten, so a power cut costs about that much.

use std::ffi::OsStr;
use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use serde::Serialize;
use tokio::sync::watch;

use super::format::recorded_line;
use super::settings::RecordSettings;
use crate::feed::{FeedName, RawSentence};
use crate::time::Millis;

const QUEUE_LINES: usize = 4096;
const FLUSH_EVERY: Duration = Duration::from_millis(500);
const SYNC_EVERY: Duration = Duration::from_secs(10);
const FIRST_RETRY: Duration = Duration::from_secs(2);
const LONGEST_RETRY: Duration = Duration::from_secs(60);

const NAME_START: &str = "raw-";
const NAME_END: &str = ".nmea";

/// How recording stands.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct RecordReport {
    /// Whether lines reach a file.
    pub state: RecordState,
    /// Lines written.
    pub lines: u64,
    /// Lines that could not be written, or that found the queue full.
    pub lost: u64,
    /// Old files deleted to stay within the total.
    pub deleted_files: u64,
}

/// Whether lines reach a file.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum RecordState {
    /// Nothing has come yet.
    #[default]
    Idle,
    /// They do.
    Recording {
        /// This one.
        file: PathBuf,
    },
    /// They do not; tried again after a pause.
    Failing {
        /// Why, and the cure where one is known.
        cause: String,
    },
}

/// The recorder as the rest of the program sees it. Dropping it, or [`Recorder::finish`], ends
/// the recording and closes the file.
#[derive(Debug)]
pub struct Recorder {
    lines: SyncSender<Line>,
    report: watch::Sender<RecordReport>,
    thread: JoinHandle<()>,
}

#[derive(Debug)]
struct Line {
    time: Millis,
    text: String,
}

impl Recorder {
    /// Starts recording. Never fails: what is wrong shows in the report.
    #[must_use]
    pub fn start(settings: RecordSettings) -> Self {
        let report = watch::Sender::new(RecordReport::default());
        let (lines, queue) = sync_channel(QUEUE_LINES);
        let writer = Writer::new(settings, report.clone());
        let thread = thread::spawn(move || writer.run(&queue));
        Self {
            lines,
            report,
            thread,
        }
    }

    /// Hands over one line. Returns at once.
    pub fn record(&self, time: Millis, feed: &FeedName, sentence: &RawSentence) {
        let text = recorded_line(time, feed, sentence);
        if self.lines.try_send(Line { time, text }).is_err() {
            self.report.send_modify(|report| report.lost += 1);
        }
    }

    /// How it stands, kept up to date.
    #[must_use]
    pub fn report(&self) -> watch::Receiver<RecordReport> {
        self.report.subscribe()
    }

    /// Writes out what is queued, closes the file and waits for that. Blocks.
    pub fn finish(self) {
        drop(self.lines);
        if self.thread.join().is_err() {
            tracing::error!("the recorder stopped unexpectedly");
        }
    }
}

struct Writer {
    settings: RecordSettings,
    report: watch::Sender<RecordReport>,
    open: Option<OpenFile>,
    retry_at: Option<Instant>,
    retry_pause: Duration,
}

struct OpenFile {
    path: PathBuf,
    out: BufWriter<File>,
    bytes: u64,
    /// Lines since the last flush: lost if that fails.
    unflushed: u64,
    flushed: Instant,
    synced: Instant,
}

impl Writer {
    fn new(settings: RecordSettings, report: watch::Sender<RecordReport>) -> Self {
        Self {
            settings,
            report,
            open: None,
            retry_at: None,
            retry_pause: FIRST_RETRY,
        }
    }

    fn run(mut self, queue: &Receiver<Line>) {
        loop {
            match queue.recv_timeout(FLUSH_EVERY) {
                Ok(line) => self.write(&line),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => break,
            }
            self.flush_if_due();
        }
        self.close();
    }

    fn write(&mut self, line: &Line) {
        let length = line.text.len() as u64;
        let is_full = |file: &OpenFile| file.bytes + length > self.settings.max_file_bytes();
        if self.open.as_ref().is_some_and(is_full) {
            self.close();
        }
        if self.open.is_none() {
            if self.retry_at.is_some_and(|at| Instant::now() < at) {
                return self.lose(1);
            }
            match self.open_file(line.time) {
                Ok(file) => self.open = Some(file),
                Err(error) => {
                    self.lose(1);
                    return self.fail(&error);
                }
            }
        }
        if let Some(file) = &mut self.open {
            file.unflushed += 1;
            file.bytes += length;
            if let Err(error) = file.out.write_all(line.text.as_bytes()) {
                self.abandon(&error);
            }
        }
    }

    fn flush_if_due(&mut self) {
        let Some(file) = &mut self.open else { return };
        if file.flushed.elapsed() < FLUSH_EVERY || file.unflushed == 0 {
            return;
        }
        match file.flush() {
            Ok(lines) => self.written(lines),
            Err(error) => self.abandon(&error),
        }
    }

    fn close(&mut self) {
        let Some(file) = &mut self.open else { return };
        let written = file.flush().and_then(|lines| {
            file.out.get_ref().sync_data()?;
            Ok(lines)
        });
        match written {
            Ok(lines) => {
                self.written(lines);
                self.open = None;
            }
            Err(error) => self.abandon(&error),
        }
    }

    fn written(&mut self, lines: u64) {
        self.retry_pause = FIRST_RETRY;
        self.report.send_modify(|report| report.lines += lines);
    }

    /// Gives the file up after an error, without writing the rest of its buffer. An empty file
    /// goes, so that retrying on a full disk does not leave thousands.
    fn abandon(&mut self, error: &io::Error) {
        if let Some(file) = self.open.take() {
            self.lose(file.unflushed);
            let (inner, _rest) = file.out.into_parts();
            let is_empty = inner.metadata().is_ok_and(|m| m.is_file() && m.len() == 0);
            if is_empty && let Err(error) = fs::remove_file(&file.path) {
                tracing::debug!(file = %file.path.display(), %error, "empty file stays");
            }
        }
        self.fail(error);
    }

    fn lose(&self, lines: u64) {
        self.report.send_modify(|report| report.lost += lines);
    }

    fn fail(&mut self, error: &io::Error) {
        self.retry_at = Some(Instant::now() + self.retry_pause);
        self.retry_pause = (self.retry_pause * 2).min(LONGEST_RETRY);
        let cure = match error.kind() {
            io::ErrorKind::StorageFull => "the disk is full: make room, or lower max_total_mib",
            io::ErrorKind::PermissionDenied => "let the daemon's user write there",
            io::ErrorKind::ReadOnlyFilesystem => "the file system is read-only: remount or replace",
            _ => "check that the directory can be written",
        };
        let dir = self.settings.dir().display();
        let cause = format!("recording to {dir}: {error}; {cure}");
        let already = matches!(
            &self.report.borrow().state,
            RecordState::Failing { cause: known } if *known == cause
        );
        if !already {
            tracing::warn!(cause, "not recording, advice goes on");
        }
        self.report
            .send_modify(|report| report.state = RecordState::Failing { cause });
    }

    fn open_file(&mut self, time: Millis) -> io::Result<OpenFile> {
        fs::create_dir_all(self.settings.dir())?;
        self.make_room()?;
        let (path, file) = create_new(self.settings.dir(), time)?;
        tracing::info!(file = %path.display(), "recording");
        self.retry_at = None;
        self.report.send_modify(|report| {
            report.state = RecordState::Recording { file: path.clone() };
        });
        Ok(OpenFile::new(path, file))
    }

    /// Deletes the oldest recordings until one more full file fits into the total.
    fn make_room(&self) -> io::Result<()> {
        let mut files = recordings(self.settings.dir())?;
        files.sort();
        let budget = self.settings.max_total_bytes() - self.settings.max_file_bytes();
        let mut total: u64 = files.iter().map(|(_, bytes)| bytes).sum();
        for (path, bytes) in files {
            if total <= budget {
                break;
            }
            fs::remove_file(&path)?;
            tracing::info!(file = %path.display(), "old recording deleted");
            total -= bytes;
            self.report.send_modify(|report| report.deleted_files += 1);
        }
        Ok(())
    }
}

impl OpenFile {
    fn new(path: PathBuf, file: File) -> Self {
        let now = Instant::now();
        Self {
            path,
            out: BufWriter::new(file),
            bytes: 0,
            unflushed: 0,
            flushed: now,
            synced: now,
        }
    }

    /// How many lines have now left our hands.
    fn flush(&mut self) -> io::Result<u64> {
        self.out.flush()?;
        self.flushed = Instant::now();
        if self.synced.elapsed() >= SYNC_EVERY {
            self.out.get_ref().sync_data()?;
            self.synced = Instant::now();
        }
        Ok(std::mem::take(&mut self.unflushed))
    }
}

/// A new file named by the time of its first line, UTC: `raw-20260102T030405Z.nmea`, and
/// `raw-20260102T030405Z_001.nmea` when that name is taken.
fn create_new(dir: &Path, time: Millis) -> io::Result<(PathBuf, File)> {
    let stamp = time.to_utc().unwrap_or_default().format("%Y%m%dT%H%M%SZ");
    let mut error = None;
    for attempt in 0..1000 {
        let suffix = match attempt {
            0 => String::new(),
            n => format!("_{n:03}"),
        };
        let path = dir.join(format!("{NAME_START}{stamp}{suffix}{NAME_END}"));
        match OpenOptions::new().write(true).create_new(true).open(&path) {
            Ok(file) => return Ok((path, file)),
            Err(taken) if taken.kind() == io::ErrorKind::AlreadyExists => error = Some(taken),
            Err(other) => return Err(other),
        }
    }
    Err(error.unwrap_or_else(|| io::ErrorKind::AlreadyExists.into()))
}

/// Our files in the directory with their sizes; nobody else's are touched.
fn recordings(dir: &Path) -> io::Result<Vec<(PathBuf, u64)>> {
    let mut found = Vec::new();
    for entry in fs::read_dir(dir)? {
        let entry = entry?;
        let is_ours = |name: &OsStr| {
            name.to_str()
                .is_some_and(|name| name.starts_with(NAME_START) && name.ends_with(NAME_END))
        };
        if is_ours(&entry.file_name()) {
            found.push((entry.path(), entry.metadata()?.len()));
        }
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    const MIB: u64 = 1024 * 1024;

    fn writer(dir: &Path) -> Writer {
        let settings = RecordSettings::new(dir.to_owned(), 1, 3).unwrap();
        Writer::new(settings, watch::Sender::default())
    }

    fn line(number: i64) -> Line {
        Line {
            time: Millis(1_700_000_000_000 + number),
            text: format!("{number:098}\r\n"),
        }
    }

    fn names(dir: &Path) -> Vec<String> {
        let mut names: Vec<_> = fs::read_dir(dir)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn rotates_within_both_caps_and_keeps_the_newest() {
        let dir = tempfile::tempdir().unwrap();
        let foreign = dir.path().join("notes.txt");
        fs::write(&foreign, "kept").unwrap();
        let mut writer = writer(dir.path());
        let count = 60_000;
        for number in 0..count {
            writer.write(&line(number));
        }
        writer.close();
        let files = recordings(dir.path()).unwrap();
        assert!(files.iter().all(|(_, bytes)| *bytes <= MIB));
        let total: u64 = files.iter().map(|(_, bytes)| bytes).sum();
        assert!(total <= 3 * MIB && total > MIB, "{total}");
        let newest = files.iter().map(|(path, _)| path).max().unwrap();
        let text = fs::read_to_string(newest).unwrap();
        assert!(text.ends_with(&line(count - 1).text));
        let report = writer.report.borrow().clone();
        assert_eq!((report.lines, report.lost), (count as u64, 0));
        assert!(report.deleted_files > 0);
        assert!(foreign.exists());
    }

    #[test]
    fn names_say_when_and_never_overwrite() {
        let dir = tempfile::tempdir().unwrap();
        for _ in 0..3 {
            let mut writer = writer(dir.path());
            writer.write(&line(0));
            writer.close();
        }
        // 1 700 000 000 s after 1970 is 2023-11-14T22:13:20Z (arithmetic from the definition).
        let expected = [
            "raw-20231114T221320Z.nmea",
            "raw-20231114T221320Z_001.nmea",
            "raw-20231114T221320Z_002.nmea",
        ];
        assert_eq!(names(dir.path()), expected);
    }

    #[test]
    fn a_place_that_cannot_be_written_is_reported_and_retried() {
        let dir = tempfile::tempdir().unwrap();
        let place = dir.path().join("records");
        fs::write(&place, "a file in the way").unwrap();
        let mut writer = writer(&place);
        for number in 0..10 {
            writer.write(&line(number));
        }
        let report = writer.report.borrow().clone();
        assert_eq!((report.lines, report.lost), (0, 10));
        let RecordState::Failing { cause } = report.state else {
            panic!("{report:?}");
        };
        assert!(cause.contains("records"), "{cause}");

        fs::remove_file(&place).unwrap();
        writer.retry_at = Some(Instant::now());
        writer.write(&line(10));
        writer.close();
        let report = writer.report.borrow().clone();
        assert_eq!((report.lines, report.lost), (1, 10));
        assert!(matches!(report.state, RecordState::Recording { .. }));
    }

    #[test]
    fn a_full_disk_costs_the_unwritten_lines_and_says_so() {
        let dir = tempfile::tempdir().unwrap();
        let mut writer = writer(dir.path());
        // The system's stand-in for a full disk: every write to it fails so.
        let full = OpenOptions::new().write(true).open("/dev/full").unwrap();
        writer.open = Some(OpenFile::new("/dev/full".into(), full));
        for number in 0..3 {
            writer.write(&line(number));
        }
        thread::sleep(FLUSH_EVERY);
        writer.flush_if_due();
        // Until the next attempt is due, lines are lost at once.
        writer.write(&line(3));
        let report = writer.report.borrow().clone();
        assert_eq!((report.lines, report.lost), (0, 4));
        let RecordState::Failing { cause } = report.state else {
            panic!("{report:?}");
        };
        assert!(cause.contains("the disk is full: make room"), "{cause}");
        assert_eq!(writer.retry_pause, 2 * FIRST_RETRY);
    }

    #[test]
    fn retrying_leaves_no_empty_files() {
        let dir = tempfile::tempdir().unwrap();
        let mut writer = writer(dir.path());
        let (path, created) = create_new(dir.path(), Millis(0)).unwrap();
        drop(created);
        // Opened for reading only, so that writing fails.
        writer.open = Some(OpenFile::new(path.clone(), File::open(&path).unwrap()));
        writer.write(&line(1));
        writer.close();
        assert_eq!(writer.report.borrow().lost, 1);
        assert!(!path.exists());
    }

    #[test]
    fn lines_reach_the_file_within_a_second() {
        let dir = tempfile::tempdir().unwrap();
        let settings = RecordSettings::new(dir.path().to_owned(), 1, 3).unwrap();
        let recorder = Recorder::start(settings);
        recorder.lines.send(line(1)).unwrap();
        let started = Instant::now();
        loop {
            let written: u64 = recordings(dir.path()).unwrap().iter().map(|f| f.1).sum();
            if written == 100 {
                break;
            }
            // The promise is a second; the rest is allowance for a busy machine.
            assert!(started.elapsed() < Duration::from_secs(8));
            thread::sleep(Duration::from_millis(20));
        }
        recorder.finish();
    }
}
