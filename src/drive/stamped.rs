//! An event that owns its text, on its way to the engine.

use std::sync::Arc;

use crate::engine::Event;
use crate::time::Millis;

/// See [`Event`]; this one can cross a channel.
#[derive(Debug, Clone, PartialEq)]
pub enum Stamped {
    /// An accepted sentence.
    Line {
        /// When it arrived.
        at: Millis,
        /// Which feed brought it.
        feed: Arc<str>,
        /// `$...`.
        text: String,
    },
    /// Something refused.
    Refused {
        /// Which feed brought it.
        feed: Arc<str>,
        /// Cause, as counted.
        cause: &'static str,
    },
    /// A whole second.
    Tick {
        /// The moment.
        at: Millis,
    },
}

impl Stamped {
    /// As the engine takes it.
    #[must_use]
    pub fn as_event(&self) -> Event<'_> {
        match self {
            Self::Line { at, feed, text } => Event::Line {
                at: *at,
                feed,
                text,
            },
            Self::Refused { feed, cause } => Event::Refused { feed, cause },
            Self::Tick { at } => Event::Tick { at: *at },
        }
    }
}
