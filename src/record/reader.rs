//! Reading logs: recordings of ours, plain or ISO-timed text, dumps of IEC 61162-450 datagrams.

use std::collections::VecDeque;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use std::sync::Arc;

use crate::feed::{Frame, FrameSettings, Framer, StreamEnd};
use crate::time::Millis;

const READ_BYTES: usize = 64 * 1024;

/// One thing found in a log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LogItem {
    /// When the log says it came: from the outermost TAG block, else from an ISO prefix, else
    /// unknown.
    pub time: Option<Millis>,
    /// The source named by the outermost TAG block; in a recording of ours, the feed, with the sender
    /// where that is known ([`Origin::label`](crate::feed::Origin::label)).
    pub feed: Option<Arc<str>>,
    /// The sentence as it was when it arrived (the log's own TAG block and prefix taken off), or
    /// what had to be rejected.
    pub frame: Frame,
}

/// Iterates over a log of any size in constant memory.
#[derive(Debug)]
pub struct LogReader<R> {
    source: R,
    framer: Framer,
    buffer: Vec<u8>,
    bytes_read: u64,
    pending: VecDeque<LogItem>,
    last_feed: Option<Arc<str>>,
    ended: bool,
}

impl LogReader<File> {
    /// Opens a log file.
    ///
    /// # Errors
    /// When it cannot be opened; the caller knows the path.
    pub fn open(path: &Path, settings: FrameSettings) -> io::Result<Self> {
        Ok(Self::new(File::open(path)?, settings))
    }
}

impl<R: Read> LogReader<R> {
    /// Reads from anything.
    pub fn new(source: R, settings: FrameSettings) -> Self {
        Self {
            source,
            framer: Framer::for_log(settings),
            buffer: vec![0; READ_BYTES],
            bytes_read: 0,
            pending: VecDeque::new(),
            last_feed: None,
            ended: false,
        }
    }

    /// Bytes read so far, for showing progress.
    #[must_use]
    pub fn bytes_read(&self) -> u64 {
        self.bytes_read
    }

    fn read_more(&mut self) -> io::Result<()> {
        let count = match self.source.read(&mut self.buffer) {
            Err(error) if error.kind() == io::ErrorKind::Interrupted => return Ok(()),
            other => other?,
        };
        self.bytes_read += count as u64;
        let Self {
            framer,
            pending,
            last_feed,
            ..
        } = self;
        let mut out = |frame| pending.push_back(unwrap_log(frame, last_feed));
        if count == 0 {
            self.ended = true;
            framer.flush(StreamEnd::Whole, &mut out);
        } else {
            framer.push(self.buffer.get(..count).unwrap_or_default(), &mut out);
        }
        Ok(())
    }
}

impl<R: Read> Iterator for LogReader<R> {
    type Item = io::Result<LogItem>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            if let Some(item) = self.pending.pop_front() {
                return Some(Ok(item));
            }
            if self.ended {
                return None;
            }
            if let Err(error) = self.read_more() {
                self.ended = true;
                return Some(Err(error));
            }
        }
    }
}

/// Takes the log's wrapping off a sentence.
fn unwrap_log(frame: Frame, last_feed: &mut Option<Arc<str>>) -> LogItem {
    match frame {
        Frame::Rejected(_) => LogItem {
            time: None,
            feed: None,
            frame,
        },
        Frame::Sentence(mut sentence) => {
            let time = sentence.logged_time();
            sentence.prefix = None;
            let stamp = match sentence.outer_tag.take() {
                Some(outer) => Some(outer),
                None => sentence.tag.take(),
            };
            let feed = stamp
                .and_then(|tag| tag.source)
                .map(|source| match last_feed {
                    Some(last) if **last == *source => Arc::clone(last),
                    _ => {
                        let feed: Arc<str> = source.into();
                        *last_feed = Some(Arc::clone(&feed));
                        feed
                    }
                });
            LogItem {
                time,
                feed,
                frame: Frame::Sentence(sentence),
            }
        }
    }
}
