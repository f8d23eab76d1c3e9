//! The thread that writes.
//!
//! Lines come through a bounded queue that never blocks the sender. They are flushed to the system
//! within a second and synced to the disk within ten. Lines that must stay are synced at once:
//! everything queued is written, one `fdatasync` follows, and all waiting senders are answered.
//!
//! When the directory cannot be written or the disk is full, lines are lost and counted, the
//! report says why, and the writer tries again with a new file after 2 s, with pauses that double up
//! to 10 s; lines that must stay wait for that in memory. A file that was deleted or moved is
//! noticed within a second of the next line, and a new one is begun.

use std::collections::VecDeque;
use std::fs;
use std::io;
use std::sync::mpsc::RecvTimeoutError;
use std::time::{Duration, Instant};

use tokio::sync::watch;

use super::names::make_room;
use super::open_file::{OpenFile, Settled};
use super::queue::{Line, Queue};
use super::report::{KeptIn, RecordReport, RecordState, fail};
use super::settings::RecordSettings;
use super::trial::words;
use crate::files::sync_directory;
use crate::time::Millis;

const SETTLE_EVERY: Duration = Duration::from_millis(500);
const FIRST_RETRY: Duration = Duration::from_secs(2);
const LONGEST_RETRY: Duration = Duration::from_secs(10);
/// Most lines written before those who wait are answered.
const BATCH_LINES: usize = 256;
/// Most lines that wait in memory until writing succeeds again.
const WAITING_LINES: usize = 1024;

pub(super) struct Writer {
    settings: RecordSettings,
    report: watch::Sender<RecordReport>,
    open: Option<OpenFile>,
    /// Lines that must stay and are in no file.
    waiting: VecDeque<Line>,
    retry_at: Option<Instant>,
    retry_pause: Duration,
    last_time: Millis,
}

impl Writer {
    pub fn new(settings: RecordSettings, report: watch::Sender<RecordReport>) -> Self {
        Self {
            settings,
            report,
            open: None,
            waiting: VecDeque::new(),
            retry_at: None,
            retry_pause: FIRST_RETRY,
            last_time: Millis(0),
        }
    }

    pub fn run(mut self, queue: &Queue) {
        loop {
            let first = match queue.next_within(SETTLE_EVERY) {
                Ok(line) => Some(line),
                Err(RecvTimeoutError::Timeout) => None,
                Err(RecvTimeoutError::Disconnected) => break,
            };
            queue.load.begin();
            if let Some(line) = first {
                self.write(line);
                for line in (1..BATCH_LINES).map_while(|_| queue.next()) {
                    self.write(line);
                }
            }
            self.settle_if_due();
            queue.load.end();
        }
        self.end();
    }

    fn write(&mut self, line: Line) {
        self.last_time = line.time;
        let length = line.text.len() as u64;
        let is_full = |file: &OpenFile| file.bytes + length > self.settings.max_file_bytes();
        if self.open.as_ref().is_some_and(is_full) {
            self.close();
        }
        if self.open.is_none() {
            self.reopen(line.time);
        }
        match &mut self.open {
            Some(file) => {
                if let Err(error) = file.write(line) {
                    self.abandon(&error);
                }
            }
            None => self.lose(line),
        }
    }

    /// Answers waiting senders, flushes at intervals, and tries again while lines wait.
    fn settle_if_due(&mut self) {
        if self.open.is_none() && !self.waiting.is_empty() {
            self.reopen(self.last_time);
        }
        let Some(file) = &mut self.open else { return };
        let sync = file.is_waited_for();
        if !sync && (!file.is_unsettled() || file.settled.elapsed() < SETTLE_EVERY) {
            return;
        }
        if !self.settle(sync) && self.retry_at.is_none() {
            // Somebody took the file away: what must stay goes into a new one at once.
            self.reopen(self.last_time);
            self.settle(true);
        }
    }

    /// Whether all that was written is settled. A file for which that fails is given up.
    fn settle(&mut self, sync: bool) -> bool {
        let Some(file) = &mut self.open else {
            return false;
        };
        match file.settle(sync) {
            Ok(settled) => {
                self.settled(settled);
                true
            }
            Err(error) => {
                self.abandon(&error);
                false
            }
        }
    }

    fn close(&mut self) {
        if self.settle(true) {
            self.open = None;
        }
    }

    /// The last chance of lines that wait.
    fn end(&mut self) {
        self.retry_at = None;
        if self.open.is_none() && !self.waiting.is_empty() {
            self.reopen(self.last_time);
        }
        self.close();
    }

    fn settled(&mut self, settled: Settled) {
        self.retry_pause = FIRST_RETRY;
        for line in settled.must_stay {
            if let Some(reply) = line.reply {
                // Who went away meanwhile does not mind.
                let _ = reply.send(KeptIn::Disk);
            }
        }
        let Some(file) = &self.open else { return };
        self.report.send_modify(|report| {
            report.lines += settled.lines;
            report.waiting = self.waiting.len() as u64;
            let now = RecordState::Recording {
                file: file.path.clone(),
                since: file.since,
            };
            if report.state != now {
                tracing::info!(file = %file.path.display(), "recording");
                report.state = now;
            }
        });
    }

    /// Gives the file up after an error.
    fn abandon(&mut self, error: &io::Error) {
        let Some(file) = self.open.take() else { return };
        let is_gone = error.kind() == io::ErrorKind::NotFound;
        let leftover = file.give_up();
        self.report
            .send_modify(|report| report.lost += leftover.lost);
        for line in leftover.must_stay {
            self.lose(line);
        }
        self.fail(error);
        if is_gone {
            self.retry_at = None;
        }
    }

    /// A line that is in no file.
    fn lose(&mut self, mut line: Line) {
        if let Some(reply) = line.reply.take() {
            let _ = reply.send(KeptIn::Memory);
        }
        let mut lost = u64::from(!line.must_stay);
        if line.must_stay {
            self.waiting.push_back(line);
            if self.waiting.len() > WAITING_LINES {
                self.waiting.pop_front();
                lost = 1;
            }
        }
        self.report.send_modify(|report| {
            report.lost += lost;
            report.waiting = self.waiting.len() as u64;
        });
    }

    fn fail(&mut self, error: &io::Error) {
        self.retry_at = Some(Instant::now() + self.retry_pause);
        self.retry_pause = (self.retry_pause * 2).min(LONGEST_RETRY);
        fail(
            &self.report,
            self.last_time,
            &words(self.settings.dir(), error),
        );
    }

    /// Opens a new file when it is time to, and writes into it what waits.
    fn reopen(&mut self, time: Millis) {
        if self.retry_at.is_some_and(|at| Instant::now() < at) {
            return;
        }
        let since = self.waiting.front().map_or(time, |line| line.time);
        match self.open_file(since) {
            Ok(mut file) => {
                self.retry_at = None;
                let mut written = Ok(());
                while let Some(line) = self.waiting.pop_front() {
                    written = written.and(file.write(line));
                }
                self.open = Some(file);
                if let Err(error) = written {
                    self.abandon(&error);
                }
            }
            Err(error) => self.fail(&error),
        }
    }

    fn open_file(&self, time: Millis) -> io::Result<OpenFile> {
        let dir = self.settings.dir();
        if !dir.is_dir() {
            fs::create_dir_all(dir)?;
            if let Some(parent) = dir.parent().filter(|parent| parent.is_dir()) {
                sync_directory(parent)?;
            }
        }
        let budget = self.settings.max_total_bytes() - self.settings.max_file_bytes();
        let deleted = make_room(dir, budget)?;
        self.report
            .send_modify(|report| report.deleted_files += deleted);
        OpenFile::create(dir, time)
    }
}

#[cfg(test)]
mod tests;
