//! Feeds: the boat's network in, framed sentences out.
//!
//! In: bytes from serial ports, TCP, UDP, files, standard input. Out: [`Arrival`]s down one
//! channel, in the order of each feed, and a [`FeedReport`] per feed. Must not know: what a
//! sentence means, which feed is to be believed, or what time it is to the rest of the program
//! (whoever takes the arrivals stamps them, so that live and replayed input are treated alike).

pub mod frame;
pub mod report;
pub mod settings;
pub mod tag;

pub use frame::{
    Checksum, ChecksumPolicy, Frame, FrameSettings, Framer, RawSentence, RejectCause, Rejection,
    SentenceKind, StreamEnd,
};
pub use report::{FeedCounters, FeedReport, Link};
pub use settings::{Feed, FeedName, FeedSettingsError, FeedSpec, Pace};
pub use tag::{Tag, TagGroup};

/// A sentence that has come in on a feed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Arrival {
    /// Which feed.
    pub feed: FeedName,
    /// The sentence.
    pub sentence: RawSentence,
}
