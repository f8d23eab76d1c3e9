//! Lines of the journal and how its file is read.

use std::fs::File;
use std::io::{self, Read as _};
use std::path::Path;

use super::before::Told;
use crate::decode::{CrewInput, Decoder, Observation, crew_sentence};
use crate::feed::{CREW_FEED, FeedName, Frame, FrameSettings, RawSentence};
use crate::record::{LogReader, recorded_line};
use crate::time::Millis;

/// A file larger than this is none of ours: it is written anew long before.
const LARGEST_BYTES: u64 = 8 * 1024 * 1024;

/// One line.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Entry {
    pub at: Millis,
    /// Whether the pages said it, whose numbers are ours.
    ours: bool,
    text: String,
    /// As it stands in the file.
    pub line: String,
}

impl Entry {
    pub fn new(at: Millis, feed: &FeedName, sentence: &RawSentence) -> Self {
        Self {
            at,
            ours: feed.as_str() == CREW_FEED,
            text: sentence.text.clone(),
            line: recorded_line(at, feed.as_str(), sentence),
        }
    }

    /// A sentence that the journal itself writes.
    pub fn own(at: Millis, text: String) -> Self {
        Self::new(at, &FeedName::crew(), &RawSentence::own(text))
    }

    /// What the crew says in it, with its number.
    pub fn said(&self) -> Option<(u32, CrewInput)> {
        match self.observation()? {
            Observation::Crew { seq, input } => Some((seq, input)),
            _ => None,
        }
    }

    pub fn is_clock(&self) -> bool {
        !crew_sentence::is_one(&self.text)
    }

    /// Tells it, and what number was given last.
    pub fn tell(&self, told: &mut Told, last_sequence: &mut u32) {
        match self.observation() {
            Some(Observation::Crew { seq, input }) => {
                if self.ours {
                    *last_sequence = seq.max(*last_sequence);
                }
                told.take(self.at, seq, &input);
            }
            Some(Observation::Utc {
                date: Some(date),
                time,
            }) => {
                let wall = date.and_time(time).and_utc().timestamp_millis();
                told.clock(self.at, Millis(wall));
            }
            _ => {}
        }
    }

    fn observation(&self) -> Option<Observation> {
        let decoded = Decoder::new().decode(&self.text).ok()?;
        decoded.observations.into_iter().next()
    }
}

/// The system's clock as a sentence; `ZQ` is the talker of a quartz clock.
pub(super) fn clock_sentence(wall: Millis) -> String {
    let moment = wall.to_utc().unwrap_or_default();
    let body = moment.format("ZQZDA,%H%M%S%.3f,%d,%m,%Y,00,00").to_string();
    let checksum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{checksum:02X}")
}

/// What a file holds.
#[derive(Debug, PartialEq)]
pub(super) struct Read {
    pub entries: Vec<Entry>,
    /// Lines that could not be read.
    pub skipped: u64,
    /// What is wrong with the file beyond an end that was cut off.
    pub damaged: Option<String>,
}

/// Reads a file; `None` when there is none.
pub(super) fn read(path: &Path) -> io::Result<Option<Read>> {
    let file = match File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(error),
    };
    let mut read = Read {
        entries: Vec::new(),
        skipped: 0,
        damaged: None,
    };
    if file.metadata()?.len() > LARGEST_BYTES {
        read.damaged = Some(format!(
            "is larger than {LARGEST_BYTES} bytes, so it is not what the crew told"
        ));
        return Ok(Some(read));
    }
    let mut skipped_before_the_last = 0;
    for item in LogReader::new(file.take(LARGEST_BYTES), FrameSettings::default()) {
        let item = item?;
        let entry = match (item.time, item.feed, item.frame) {
            (Some(at), Some(feed), Frame::Sentence(sentence)) => Some(Entry {
                at,
                ours: *feed == *CREW_FEED,
                line: FeedName::new(&feed)
                    .map(|feed| recorded_line(at, feed.as_str(), &sentence))
                    .unwrap_or_default(),
                text: sentence.text,
            }),
            _ => None,
        };
        match entry {
            Some(entry) if entry.is_clock() && !entry.text.starts_with("$ZQZDA,") => {
                return Ok(Some(Read {
                    entries: Vec::new(),
                    skipped: 0,
                    damaged: Some("holds something else than what the crew told".to_owned()),
                }));
            }
            Some(entry) if entry.observation().is_some() => {
                skipped_before_the_last = read.skipped;
                read.entries.push(entry);
            }
            _ => read.skipped += 1,
        }
    }
    if skipped_before_the_last > 0 || read.entries.is_empty() && read.skipped > 0 {
        read.damaged = Some("is damaged in the middle".to_owned());
    }
    Ok(Some(read))
}
