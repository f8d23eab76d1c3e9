//! `skimwatch pass`: the passes that a recording would have been offered, as JSON.

use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use clap::Args;
use serde::Serialize;
use tokio_util::sync::CancellationToken;

use super::lines_out::LinesOut;
use super::logs::{lines, open_logs, progress};
use super::{Failure, number_within};
use crate::decode::{CrewInput, GeoPosition, MarkHow, MarkSaid, PassWord, encode_crew};
use crate::drive::{Dated, DatedLine, LogLine, Pace, Replay, TimeSource};
use crate::engine::{Engine, Mode, Snapshot};
use crate::feed::CREW_FEED;
use crate::geodesy::{Offset, Position};
use crate::pass::{PassNow, PassState};
use crate::settings;
use crate::time::Millis;
use crate::units::metres;

/// What this command says for the crew is numbered from here on: above what a recording holds.
const FIRST_SEQUENCE: u32 = 900_000;

/// Options of `pass`.
#[derive(Debug, Args)]
pub(super) struct PassArguments {
    /// Recordings, in order of time, as for `replay`.
    #[arg(value_name = "LOG", required = true)]
    logs: Vec<PathBuf>,
    /// Settings file.
    #[arg(long, value_name = "FILE")]
    settings: PathBuf,
    /// Make a mark in this true direction from the boat, in degrees. Without it the recording's own
    /// marks are looked at.
    #[arg(long, value_name = "DEGREES", requires = "range", allow_negative_numbers = true, value_parser = bearing)]
    bearing: Option<f64>,
    /// How far from the boat the mark is, in metres.
    #[arg(long, value_name = "METRES", requires = "bearing", allow_negative_numbers = true, value_parser = range)]
    range: Option<f64>,
    /// Make it so many seconds after the beginning of the recording.
    #[arg(long, value_name = "SECONDS", default_value_t = 60.0, requires = "bearing", allow_negative_numbers = true, value_parser = after)]
    after: f64,
    /// Accept the first pass that is offered. The boat of the recording does not steer by it.
    #[arg(long)]
    accept: bool,
}

fn bearing(text: &str) -> Result<f64, String> {
    number_within(text, 0.0, 360.0, " degrees")
}

fn range(text: &str) -> Result<f64, String> {
    number_within(text, 1.0, 10_000.0, " metres")
}

fn after(text: &str) -> Result<f64, String> {
    number_within(text, 0.0, 86_400.0, " seconds")
}

/// A line of the output.
#[derive(Debug, Serialize)]
struct Shown<'a> {
    at: Millis,
    pass: &'a PassNow,
}

/// The closing line.
#[derive(Debug, Serialize)]
struct Summary {
    summary: bool,
    /// Pictures with a pass.
    pictures: u64,
    /// How near the bait came to the mark, by the model; `null` where there was no forecast.
    bait_closest_m: Option<f64>,
    /// When.
    bait_closest_at: Option<Millis>,
}

/// What the pictures have shown so far.
#[derive(Debug, Default)]
struct Seen {
    here: Option<Position>,
    /// Whether there was ever a mark.
    marked: bool,
    offered: Option<u32>,
    pictures: u64,
    closest: Option<(f64, Millis)>,
    last: Option<PassNow>,
}

impl Seen {
    /// Takes in a picture; its pass, if that is another one than before.
    fn note(&mut self, now: &Snapshot) -> Option<PassNow> {
        self.here = (now.vessel.position.as_ref()).and_then(|here| here.value.usable().ok());
        self.marked |= !now.marks.is_empty();
        let pass = now.pass.as_ref()?;
        self.pictures += 1;
        let offered = pass.state == PassState::Offered && pass.refused.is_none();
        self.offered = offered.then_some(pass.mark);
        self.note_bait(now, pass.mark);
        let same = |last: &PassNow| {
            (
                last.mark,
                last.number,
                last.state,
                &last.refused,
                last.legs.len(),
            ) == (
                pass.mark,
                pass.number,
                pass.state,
                &pass.refused,
                pass.legs.len(),
            ) && last.chance == pass.chance
        };
        if self.last.as_ref().is_some_and(same) {
            return None;
        }
        self.last = Some(pass.clone());
        self.last.clone()
    }

    fn note_bait(&mut self, now: &Snapshot, mark: u32) {
        let fresh = (now.forecast.as_ref().ok()).filter(|forecast| forecast.made_at == now.at);
        let mark = now.marks.iter().find(|one| one.number == mark);
        let (Some(bait), Some(mark), Some(here)) =
            (fresh.and_then(|f| f.bait_track.first()), mark, self.here)
        else {
            return;
        };
        let Some(seen) = mark.from_boat(now.at, here) else {
            return;
        };
        let off_m = (bait.east_m - seen.way.east_m).hypot(bait.north_m - seen.way.north_m);
        if self.closest.is_none_or(|(least, _)| off_m < least) {
            self.closest = Some((off_m, now.at));
        }
    }
}

fn lock(seen: &Mutex<Seen>) -> MutexGuard<'_, Seen> {
    seen.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The lines of a recording, and what this command says for the crew between them.
struct WithWords<I: Iterator<Item = LogLine>> {
    lines: Dated<I>,
    seen: Arc<Mutex<Seen>>,
    /// Direction and distance, and how long after the beginning.
    mark: Option<(f64, f64, f64)>,
    accept: bool,
    begin: Option<Millis>,
    said: u32,
    next: Option<LogLine>,
}

impl<I: Iterator<Item = LogLine>> WithWords<I> {
    /// A word that is due before the line of this moment.
    fn due(&mut self, at: Millis) -> Option<CrewInput> {
        let begin = *self.begin.get_or_insert(at);
        let seen = lock(&self.seen);
        if let Some((bearing_deg, range_m, after_s)) = self.mark
            && at.seconds_since(begin) >= after_s
            && let Some(here) = seen.here
        {
            let way = Offset::polar(bearing_deg.to_radians(), range_m);
            let there = here.moved(way).ok()?;
            self.mark = None;
            return Some(CrewInput::Mark(MarkSaid {
                name: None,
                position: Some(GeoPosition::from(there)),
                how: MarkHow::ByEye {
                    range: metres(range_m),
                },
                number: None,
            }));
        }
        let mark = seen.offered.filter(|_| self.accept)?;
        self.accept = false;
        Some(CrewInput::Pass {
            mark,
            said: PassWord::Accept,
        })
    }
}

impl<I: Iterator<Item = LogLine>> Iterator for WithWords<I> {
    type Item = LogLine;

    fn next(&mut self) -> Option<LogLine> {
        if let Some(line) = self.next.take() {
            return Some(line);
        }
        loop {
            let (at, feed, text) = match self.lines.next()? {
                DatedLine::Refused { feed, cause } => {
                    return Some(LogLine::Refused { feed, cause });
                }
                // The times say so again.
                DatedLine::Part(_) => continue,
                DatedLine::Sentence { at, feed, text } => (at, feed, text),
            };
            let stamped = Some((at, TimeSource::Tag));
            let line = LogLine::Sentence {
                stamped,
                feed,
                text,
            };
            let Some(word) = self.due(at) else {
                return Some(line);
            };
            self.next = Some(line);
            self.said += 1;
            return Some(LogLine::Sentence {
                stamped,
                feed: CREW_FEED.into(),
                text: encode_crew(&word, FIRST_SEQUENCE + self.said),
            });
        }
    }
}

/// Why there was nothing to pass.
fn no_mark(arguments: &PassArguments) -> Failure {
    Failure::data(match arguments.bearing {
        Some(_) => format!(
            "no mark could be made: the recording ends, or has no position, before --after {} s; give less",
            arguments.after
        ),
        None => "the recording holds no mark; give --bearing and --range to make one".to_owned(),
    })
}

pub(super) fn pass(arguments: &PassArguments) -> Result<(), Failure> {
    let settings = settings::load(&arguments.settings).map_err(Failure::settings)?;
    let logs = open_logs(&arguments.logs)?;
    let bar = progress(logs.iter().map(|log| log.bytes).sum());
    let (lines, reading) = lines(logs, bar.clone());
    let mut engine_settings = settings.engine().map_err(Failure::settings)?;
    // A log names its own feeds.
    engine_settings.feeds.clear();
    let seen = Arc::new(Mutex::new(Seen::default()));
    let lines = WithWords {
        lines: Dated::new(lines),
        seen: Arc::clone(&seen),
        mark: (arguments.bearing.zip(arguments.range))
            .map(|(bearing_deg, range_m)| (bearing_deg, range_m, arguments.after)),
        accept: arguments.accept,
        begin: None,
        said: 0,
        next: None,
    };
    let shutdown = CancellationToken::new();
    let mut out = LinesOut::new(shutdown.clone());
    let publish = |picture: crate::engine::Picture| {
        let at = picture.snapshot.at;
        if let Some(pass) = lock(&seen).note(&picture.snapshot) {
            out.print(&Shown { at, pass: &pass });
        }
    };
    let replay = Replay::new(Engine::new(engine_settings, Mode::Replay), None);
    super::block_on(replay.run(lines, Pace::Fastest, shutdown, publish))?;
    bar.finish_and_clear();
    let summary = {
        let seen = lock(&seen);
        Summary {
            summary: true,
            pictures: seen.pictures,
            bait_closest_m: seen.closest.map(|(off_m, _)| (off_m * 10.0).round() / 10.0),
            bait_closest_at: seen.closest.map(|(_, at)| at),
        }
    };
    let marked = lock(&seen).marked;
    if out.finish(&summary)? {
        reading.verdict()?;
        return if marked {
            Ok(())
        } else {
            Err(no_mark(arguments))
        };
    }
    Ok(())
}
