//! A line of a log, or of a scene, before its time is decided.

use std::sync::Arc;

use super::timebase::TimeSource;
use crate::cause::Cause;
use crate::decode::crew_sentence;
use crate::feed::{CREW_FEED, Frame, SentenceKind};
use crate::record::LogItem;
use crate::time::Millis;

/// One item of a log, or of a scene.
#[derive(Debug, Clone, PartialEq)]
pub enum LogLine {
    /// An accepted sentence.
    Sentence {
        /// The time the log itself gives it.
        stamped: Option<(Millis, TimeSource)>,
        /// Which feed brought it, with the sender where that is known.
        feed: Arc<str>,
        /// `$...`.
        text: String,
    },
    /// Something refused or skipped.
    Refused {
        /// Which feed brought it.
        feed: Arc<str>,
        /// Cause, as counted.
        cause: Cause,
    },
}

impl LogLine {
    /// From what the framer found in a log; `log` names the feed where the log names none, but
    /// for what the crew says.
    #[must_use]
    pub fn from_log(item: LogItem, log: &Arc<str>) -> Self {
        let named = item.feed.is_some();
        let feed = match (item.feed, &item.frame) {
            (Some(feed), _) => feed,
            // A log that names no feeds has no other way to say that the crew spoke.
            (None, Frame::Sentence(sentence)) if crew_sentence::is_one(&sentence.text) => {
                CREW_FEED.into()
            }
            (None, _) => Arc::clone(log),
        };
        match item.frame {
            Frame::Sentence(sentence) if sentence.kind == SentenceKind::Parametric => {
                // A log that stamps its lines names their feed in the same TAG block.
                let source = if named {
                    TimeSource::Tag
                } else {
                    TimeSource::Prefix
                };
                Self::Sentence {
                    stamped: item.time.map(|time| (time, source)),
                    feed,
                    text: sentence.text,
                }
            }
            Frame::Sentence(_) => Self::Refused {
                feed,
                cause: Cause::Encapsulated,
            },
            Frame::Rejected(rejection) => Self::Refused {
                feed,
                cause: rejection.cause,
            },
        }
    }
}
