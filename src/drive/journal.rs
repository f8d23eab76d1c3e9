//! The journal: a small file that keeps what the crew says over a restart.
//!
//! In: the crew's sentences with their stamps, as they are recorded. Out: whether each is on disk;
//! and, when the program starts, what of them still counts (see `before`). It holds lines as a
//! recording does, and once a minute a `ZDA` of its own, which tells how far the system's clock is
//! from the stamps and when the program was last alive. A dedicated thread writes: all that waits
//! goes to the disk with one `fdatasync`. The file is rewritten with only what still counts when the
//! program starts and when it has grown.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use tokio::sync::{oneshot, watch};

use super::before::Told;
use super::clock::wall;
use super::journal_file::{Entry, Read, clock_sentence, read};
use crate::decode::{CrewInput, crew_sentence, encode_crew};
use crate::feed::{CREW_FEED, FeedName, RawSentence};
use crate::files::{leads_to, replace, set_aside};
use crate::serve::{JournalNow, JournalState};
use crate::settings::RestartSettings;
use crate::time::Millis;
use crate::vessel::{CrewEvent, CrewLog, LinesOut, UNDO_WINDOW_S};

/// Rewritten with what still counts when larger than this.
const LARGE_BYTES: usize = 1024 * 1024;
/// How often the clock is written down: a crash makes the pause look longer by as much.
const CLOCK_EVERY: Duration = Duration::from_secs(60);
/// A file that cannot be written is tried again after this.
const RETRY: Duration = Duration::from_secs(5);

/// A journal that was read and is not written yet.
#[derive(Debug)]
pub struct Journal {
    path: PathBuf,
    crew_feeds: Vec<String>,
    initial: LinesOut,
    use_within_s: f64,
    told: Told,
    last_sequence: u32,
    /// Nothing may be written over what is there.
    blocked: bool,
    report: watch::Sender<JournalNow>,
}

/// What a journal gives to the program that starts.
#[derive(Debug)]
pub(super) struct Begun {
    /// What to say anew.
    pub anew: Vec<CrewInput>,
    /// The last number that was given to an input.
    pub last_sequence: u32,
    /// Takes what the crew says from now on.
    pub keeper: Keeper,
}

impl Journal {
    /// Reads the file and says in the log what came of it. `initial` is the line out of the settings,
    /// `crew_feeds` names the feeds that speak for the crew besides the pages. Whatever is wrong
    /// with the file, the program goes on; a damaged one is kept aside.
    #[must_use]
    pub fn open(
        path: PathBuf,
        restart: &RestartSettings,
        initial: LinesOut,
        crew_feeds: Vec<String>,
    ) -> Self {
        let mut now = JournalNow {
            state: JournalState::Keeping,
            file: Some(path.display().to_string()),
            ..JournalNow::default()
        };
        let name = path.display();
        let mut told = Told::new(initial);
        let mut last_sequence = 0;
        let mut damage = None;
        match read(&path) {
            Ok(None) => tracing::info!("{name}: nothing told before"),
            Ok(Some(Read {
                entries,
                skipped,
                damaged,
            })) => {
                for entry in &entries {
                    entry.tell(&mut told, &mut last_sequence);
                }
                if skipped > 0 {
                    tracing::warn!("{name}: {skipped} lines could not be read and are left out");
                }
                now.skipped_lines = skipped;
                damage = damaged;
            }
            Err(error) => damage = Some(format!("cannot be read: {error}")),
        }
        let mut blocked = false;
        if let Some(why) = damage {
            match set_aside(&path) {
                Ok(aside) => {
                    tracing::warn!("{name} {why}; it is kept as {}", aside.display());
                    now.set_aside = Some(aside.display().to_string());
                }
                Err(error) => {
                    let cause = format!(
                        "{name} {why}, and cannot be moved aside ({error}): move it away and start \
                         again"
                    );
                    tracing::warn!("what the crew says is not kept over a restart: {cause}");
                    now.state = JournalState::Failing;
                    now.cause = Some(cause);
                    blocked = true;
                }
            }
        }
        Self {
            crew_feeds,
            initial,
            use_within_s: 60.0 * restart.use_within_min,
            told,
            last_sequence,
            blocked,
            report: watch::Sender::new(now),
            path,
        }
    }

    /// How it stands, kept up to date.
    #[must_use]
    pub fn report(&self) -> watch::Receiver<JournalNow> {
        self.report.subscribe()
    }

    /// What of it a program says anew that goes on at `now`.
    #[must_use]
    pub fn anew(&self, now: Millis) -> Vec<CrewInput> {
        self.told.anew(now, self.use_within_s)
    }

    /// Goes on at `now`, by the system's clock and the stamps alike: tells what counts of before,
    /// and keeps what is said from now on.
    pub(super) fn begin(self, now: Millis) -> Begun {
        let anew = self.anew(now);
        if let Some(down_s) = self.told.down_s(now)
            && !anew.is_empty()
        {
            let counts =
                |input: &&CrewInput| matches!(input, CrewInput::Before { counts, .. } if *counts);
            tracing::info!(
                "{}: nothing ran for {down_s:.0} s; {} things that the crew told before come back, \
                 {} of them still count",
                self.path.display(),
                anew.len(),
                anew.iter().filter(counts).count()
            );
        }
        let (lines, queue) = channel();
        let mut writer = Writer {
            entries: begun(now, self.last_sequence, &anew),
            path: self.path,
            initial: self.initial,
            began: (now, Instant::now()),
            clock_noted: Instant::now(),
            open: None,
            unwritten: Vec::new(),
            retry_at: None,
            report: self.report,
        };
        let thread = (!self.blocked).then(|| thread::spawn(move || writer.run(&queue)));
        Begun {
            anew,
            last_sequence: self.last_sequence,
            keeper: Keeper {
                crew_feeds: self.crew_feeds,
                lines,
                thread,
            },
        }
    }
}

/// The lines of a fresh file: the last number given, and what is said anew.
fn begun(now: Millis, last_sequence: u32, anew: &[CrewInput]) -> Vec<Entry> {
    // Ending a silence that is not there only carries the number.
    let number = encode_crew(&CrewInput::Silence { minutes: 0.0 }, last_sequence);
    let said = anew.iter().map(|input| encode_crew(input, 0));
    std::iter::once(clock_sentence(wall()))
        .chain([number])
        .chain(said)
        .map(|text| Entry::own(now, text))
        .collect()
}

/// Takes what the crew says and has it written.
#[derive(Debug)]
pub(super) struct Keeper {
    crew_feeds: Vec<String>,
    lines: Sender<Line>,
    thread: Option<JoinHandle<()>>,
}

#[derive(Debug)]
struct Line {
    entry: Entry,
    kept: oneshot::Sender<bool>,
}

impl Keeper {
    /// Whether a sentence is to be kept: the crew's own, by a feed that speaks for it, and not what
    /// the program itself says.
    pub fn wants(&self, feed: &FeedName, sentence: &RawSentence) -> bool {
        if !crew_sentence::is_one(&sentence.text) {
            return false;
        }
        if feed.as_str() == CREW_FEED {
            crew_sentence::sequence(&sentence.text) != Some(0)
        } else {
            self.crew_feeds.iter().any(|name| name == feed.as_str())
        }
    }

    /// Hands over one sentence; never waits. The answer is whether it is on disk. It does not come
    /// when nothing can be written.
    pub fn append(
        &self,
        time: Millis,
        feed: &FeedName,
        sentence: &RawSentence,
    ) -> oneshot::Receiver<bool> {
        let (kept, answer) = oneshot::channel();
        let entry = Entry::new(time, feed, sentence);
        // Without a writer the sender goes, which is an answer too.
        let _ = self.lines.send(Line { entry, kept });
        answer
    }

    /// Writes what is queued and waits for that. Blocks.
    pub fn finish(self) {
        drop(self.lines);
        if self.thread.is_some_and(|thread| thread.join().is_err()) {
            tracing::error!("the journal's writer stopped unexpectedly");
        }
    }
}

struct Writer {
    path: PathBuf,
    initial: LinesOut,
    /// All that the file holds or should hold.
    entries: Vec<Entry>,
    /// A stamp, and when it was.
    began: (Millis, Instant),
    clock_noted: Instant,
    open: Option<File>,
    /// Lines that are not in the open file yet.
    unwritten: Vec<u8>,
    retry_at: Option<Instant>,
    report: watch::Sender<JournalNow>,
}

impl Writer {
    fn run(&mut self, queue: &Receiver<Line>) {
        self.commit();
        loop {
            let to_clock = CLOCK_EVERY.saturating_sub(self.clock_noted.elapsed());
            let to_retry = self.retry_at.map_or(CLOCK_EVERY, |at| {
                at.saturating_duration_since(Instant::now())
            });
            let mut waiting = Vec::new();
            let ended = match queue.recv_timeout(to_clock.min(to_retry)) {
                Ok(line) => {
                    for line in std::iter::once(line).chain(queue.try_iter()) {
                        self.add(line.entry);
                        waiting.push(line.kept);
                    }
                    false
                }
                Err(RecvTimeoutError::Timeout) => false,
                Err(RecvTimeoutError::Disconnected) => true,
            };
            if ended || self.clock_noted.elapsed() >= CLOCK_EVERY {
                self.note_clock();
            }
            let kept = self.commit();
            for poster in waiting {
                // Whoever no longer waits does not mind.
                let _ = poster.send(kept);
            }
            if ended {
                return;
            }
        }
    }

    fn add(&mut self, entry: Entry) {
        self.unwritten.extend_from_slice(entry.line.as_bytes());
        self.entries.push(entry);
    }

    /// The stamp of now.
    fn stamp(&self) -> Millis {
        let (at, when) = self.began;
        at.plus_seconds(when.elapsed().as_secs_f64())
    }

    fn note_clock(&mut self) {
        self.clock_noted = Instant::now();
        self.add(Entry::own(self.stamp(), clock_sentence(wall())));
        // Somebody may have taken the file away.
        self.open
            .take_if(|file| !leads_to(&self.path, file).unwrap_or(false));
    }

    /// Whether all is on disk now.
    fn commit(&mut self) -> bool {
        if self
            .entries
            .iter()
            .map(|entry| entry.line.len())
            .sum::<usize>()
            > LARGE_BYTES
        {
            self.entries = compacted(&self.entries, self.initial, self.stamp());
            self.open = None;
        }
        if let Some(file) = &mut self.open {
            if self.unwritten.is_empty() {
                return true;
            }
            match file
                .write_all(&self.unwritten)
                .and_then(|()| file.sync_data())
            {
                Ok(()) => {
                    self.unwritten.clear();
                    return true;
                }
                // Half a line may stand there now.
                Err(error) => {
                    self.open = None;
                    self.fail(&error);
                }
            }
        }
        if self.retry_at.is_some_and(|at| Instant::now() < at) {
            return false;
        }
        match rewrite(&self.path, &self.entries) {
            Ok(file) => {
                self.open = Some(file);
                self.unwritten.clear();
                self.retry_at = None;
                let failing = self.report.borrow().state == JournalState::Failing;
                if failing {
                    tracing::info!("{}: what the crew says is kept again", self.path.display());
                    self.report.send_modify(|now| {
                        now.state = JournalState::Keeping;
                        now.cause = None;
                    });
                }
                true
            }
            Err(error) => {
                self.fail(&error);
                false
            }
        }
    }

    fn fail(&mut self, error: &io::Error) {
        // All of it is in memory and is written whole when it can be.
        self.unwritten.clear();
        self.retry_at = Some(Instant::now() + RETRY);
        let cure = match error.kind() {
            io::ErrorKind::StorageFull => "the disk is full: make room",
            io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => {
                "let the daemon write there, or set file in [restart]"
            }
            _ => "check that the file and its directory can be written, or set file in [restart]",
        };
        let cause = format!("{}: {error}; {cure}", self.path.display());
        if self.report.borrow().cause.as_ref() != Some(&cause) {
            tracing::warn!("what the crew says is not kept over a restart: {cause}");
            self.report.send_modify(|now| {
                now.state = JournalState::Failing;
                now.cause = Some(cause);
            });
        }
    }
}

/// The file with these lines and nothing else, open at its end.
fn rewrite(path: &Path, entries: &[Entry]) -> io::Result<File> {
    let directory = path
        .parent()
        .filter(|directory| !directory.as_os_str().is_empty());
    if let Some(directory) = directory {
        fs::create_dir_all(directory)?;
    }
    let text: String = entries.iter().map(|entry| entry.line.as_str()).collect();
    replace(path, text.as_bytes(), |_| Ok(()))?;
    // The new name is only safe with its directory, where the file system can do that.
    match File::open(directory.unwrap_or(Path::new(".")))?.sync_all() {
        Err(error) if error.kind() != io::ErrorKind::InvalidInput => return Err(error),
        _ => {}
    }
    OpenOptions::new().append(true).open(path)
}

/// The lines with what no longer counts left out, as of the stamp `now`. What can still be taken
/// back stays as it was said.
fn compacted(entries: &[Entry], initial: LinesOut, now: Millis) -> Vec<Entry> {
    let left = not_retracted(entries);
    let settled = left.partition_point(|entry| now.seconds_since(entry.at) > UNDO_WINDOW_S);
    let (old, recent) = left.split_at(settled);
    let mut told = Told::new(initial);
    let mut last_sequence = 0;
    for entry in old {
        entry.tell(&mut told, &mut last_sequence);
    }
    let since = old.last().map_or(now, |entry| entry.at);
    let number = encode_crew(&CrewInput::Silence { minutes: 0.0 }, last_sequence);
    let counting = told
        .counting(since)
        .into_iter()
        .map(|(at, input)| (at, encode_crew(&input, 0)));
    let clock = old.iter().rev().find(|entry| entry.is_clock());
    let mut fresh = vec![Entry::own(since, number)];
    fresh.extend(counting.map(|(at, text)| Entry::own(at, text)));
    fresh.extend(
        clock
            .into_iter()
            .chain(recent)
            .map(|entry| (*entry).clone()),
    );
    fresh
}

/// The lines without retracted reports and their retractions.
fn not_retracted(entries: &[Entry]) -> Vec<&Entry> {
    let mut log = CrewLog::default();
    let mut left: Vec<(Option<u64>, &Entry)> = Vec::new();
    for entry in entries {
        let Some((sequence, input)) = entry.said() else {
            left.push((None, entry));
            continue;
        };
        let _ = log.settle(entry.at);
        match log.record(entry.at, sequence, &input) {
            Some(CrewEvent::Reported(report)) => left.push((Some(report.number), entry)),
            Some(CrewEvent::Retracted { report, .. }) => {
                left.retain(|(number, _)| *number != Some(report.number));
            }
            None => {}
        }
    }
    left.into_iter().map(|(_, entry)| entry).collect()
}

#[cfg(test)]
mod tests;
