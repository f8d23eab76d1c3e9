//! Status of a feed: its counters and the state of its connection.

use std::collections::BTreeMap;
use std::fmt;

use serde::Serialize;

use super::frame::{Checksum, Frame, SentenceKind};
use super::settings::MAX_PEERS;
use crate::cause::Cause;
use crate::time::Millis;

/// What a feed has brought so far.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct FeedCounters {
    /// Bytes received.
    pub bytes: u64,
    /// Accepted `$` sentences.
    pub good: u64,
    /// Of `good`, those that came without a checksum.
    pub unchecked: u64,
    /// Accepted `!` sentences (AIS and the like).
    pub encapsulated: u64,
    /// Rejected, by cause.
    pub rejected: BTreeMap<Cause, u64>,
    /// Accepted sentences lost because the daemon was busy.
    pub dropped: u64,
    /// Times the connection was opened again.
    pub reconnects: u64,
    /// Callers refused, or disconnected to make room, because too many were connected.
    pub refused_peers: u64,
    /// When bytes last came.
    pub last_seen: Option<Millis>,
}

impl FeedCounters {
    /// Counts one frame.
    pub fn count(&mut self, frame: &Frame) {
        let counter = match frame {
            Frame::Sentence(sentence) => match sentence.kind {
                SentenceKind::Encapsulated => &mut self.encapsulated,
                SentenceKind::Parametric => {
                    self.unchecked += u64::from(sentence.checksum == Checksum::Missing);
                    &mut self.good
                }
            },
            Frame::Rejected(rejection) => self.rejected.entry(rejection.cause).or_default(),
        };
        *counter += 1;
    }

    /// Adds what `more` has counted; `last_seen` stays.
    pub(super) fn add(&mut self, more: &Self) {
        self.bytes += more.bytes;
        self.good += more.good;
        self.unchecked += more.unchecked;
        self.encapsulated += more.encapsulated;
        for (cause, count) in &more.rejected {
            *self.rejected.entry(*cause).or_default() += count;
        }
    }

    /// All rejections together.
    #[must_use]
    pub fn rejections(&self) -> u64 {
        self.rejected.values().sum()
    }

    /// Everything that is not decoded, by cause: the rejections, and what was accepted but then
    /// skipped or dropped.
    pub fn refused(&self) -> impl Iterator<Item = (Cause, u64)> + '_ {
        let accepted = [
            (Cause::Encapsulated, self.encapsulated),
            (Cause::Dropped, self.dropped),
        ];
        let rejected = self.rejected.iter().map(|(cause, count)| (*cause, *count));
        rejected.chain(accepted.into_iter().filter(|(_, count)| *count > 0))
    }
}

/// Where the feed's connection stands.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum Link {
    /// Being opened.
    Opening,
    /// Open. Says nothing about data coming: see `last_seen`.
    Open {
        /// Callers connected to a TCP server; 1 for every other feed.
        peers: usize,
    },
    /// Connected to a TCP server that sends nothing.
    Silent {
        /// How long it has sent nothing, seconds.
        for_s: f64,
        /// The connection is opened again after so much silence, seconds.
        redial_after_s: f64,
    },
    /// Failed; tried again after a pause.
    Waiting {
        /// What went wrong, and the cure where one is known.
        cause: String,
        /// Length of the pause, seconds.
        retry_in_s: f64,
    },
    /// Over for good: end of the file or input, or shut down.
    Ended {
        /// Why.
        cause: String,
    },
}

impl fmt::Display for Link {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Opening => f.write_str("opening"),
            Self::Open { peers } if *peers >= MAX_PEERS => write!(
                f,
                "open ({peers} connected, as many as can be: a new caller takes the place of the one \
                 that has said nothing for longest)"
            ),
            Self::Open { peers } => write!(f, "open ({peers} connected)"),
            Self::Silent {
                for_s,
                redial_after_s,
            } => write!(
                f,
                "connected, but not a byte for {for_s:.0} s (called again after {redial_after_s:.0} s): \
                 does the other end send anything?"
            ),
            Self::Waiting { cause, .. } => write!(f, "not there, trying again: {cause}"),
            Self::Ended { cause } => write!(f, "ended: {cause}"),
        }
    }
}

/// A snapshot of a feed's status.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FeedReport {
    /// The connection.
    pub link: Link,
    /// What came.
    pub counters: FeedCounters,
}
