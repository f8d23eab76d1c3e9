//! `skimwatch replay`: recorded input through the same code.

use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use clap::Args;
use indicatif::ProgressBar;
use serde::Serialize;
use tokio_util::sync::CancellationToken;

use super::Failure;
use super::lines_out::LinesOut;
use super::logs::{Log, lines, open_logs, progress};
use super::page::{Page, open_page};
use crate::advice::Kind;
use crate::drive::{Pace, Part, Replay, TimeSource, read_memory};
use crate::engine::{Engine, FeedTotals, Mode, Picture};
use crate::forecast::Forecaster;
use crate::logbook::Rebuild;
use crate::settings::{self, Settings};
use crate::time::Millis;

/// Options of `replay`.
#[derive(Debug, Args)]
pub(super) struct ReplayArguments {
    /// Recordings, in order of time: our own, plain NMEA text, or with a time before each line.
    #[arg(value_name = "LOG", required = true)]
    logs: Vec<PathBuf>,
    /// Settings file.
    #[arg(long, value_name = "FILE")]
    settings: PathBuf,
    /// Begin from what was learnt, as kept in this file; it is not written. Without it a replay
    /// begins from the settings alone.
    #[arg(long, value_name = "FILE")]
    learnt: Option<PathBuf>,
    /// Make a logbook of it in this file, which must not exist yet.
    #[arg(long, value_name = "FILE", conflicts_with = "serve")]
    logbook: Option<PathBuf>,
    /// Show it on the page instead of printing it, paced by --speed.
    #[arg(long)]
    serve: bool,
    /// Seconds of log time a second, with --serve.
    #[arg(long, default_value_t = 1.0, value_name = "N", requires = "serve", value_parser = super::speed)]
    speed: f64,
    /// Address and port of the page, with --serve, instead of [serve] bind in the settings.
    #[arg(long, value_name = "ADDRESS:PORT", requires = "serve")]
    bind: Option<SocketAddr>,
}

/// The closing line.
#[derive(Debug, Serialize)]
struct Summary {
    summary: bool,
    from: Option<Millis>,
    to: Option<Millis>,
    time_source: TimeSource,
    /// Sentences before the first time, dated back from it at ten a second.
    dated_back: u64,
    /// Where the times go back a new part begins.
    parts: Vec<Part>,
    feeds: BTreeMap<String, FeedTotals>,
    advisories: BTreeMap<Kind, u64>,
}

pub(super) fn replay(arguments: &ReplayArguments) -> Result<(), Failure> {
    let settings = settings::load(&arguments.settings).map_err(Failure::settings)?;
    let logs = open_logs(&arguments.logs)?;
    if arguments.serve {
        return show(&settings, logs, arguments);
    }
    let bar = progress(logs.iter().map(|log| log.bytes).sum());
    let (lines, reading) = lines(logs, bar.clone());
    let mut engine_settings = settings.engine().map_err(Failure::settings)?;
    // A log names its own feeds.
    engine_settings.feeds.clear();
    recall(arguments, &mut engine_settings.forecaster)?;
    let mut replay = Replay::new(Engine::new(engine_settings, Mode::Replay), None);
    let logbook = match arguments.logbook.clone() {
        Some(path) => Some(Rebuild::new(path).map_err(Failure::unavailable)?),
        None => None,
    };
    let logbook = Arc::new(Mutex::new(logbook));
    if arguments.logbook.is_some() {
        let logbook = Arc::clone(&logbook);
        replay = replay.telling(move |item| {
            if let Some(logbook) = lock(&logbook).as_mut() {
                logbook.take(item);
            }
        });
    }

    let shutdown = CancellationToken::new();
    let mut out = LinesOut::new(shutdown.clone());
    let mut advisories = BTreeMap::new();
    let publish = |picture: Picture| {
        for revision in &picture.revisions {
            if revision.revision == 1 {
                *advisories.entry(revision.kind).or_insert(0) += 1;
            }
            out.print(revision);
        }
    };
    let playing = replay.run(lines, Pace::Fastest, shutdown, publish);
    let (engine, end) = super::block_on(playing)?;
    bar.finish_and_clear();
    let logbook = lock(&logbook).take();
    if let Some(logbook) = logbook {
        logbook.finish().map_err(Failure::unavailable)?;
    }
    let summary = Summary {
        summary: true,
        from: end.first(),
        to: end.last(),
        time_source: end.time_source,
        dated_back: end.dated_back,
        parts: end.parts,
        feeds: engine.inputs().totals(),
        advisories,
    };
    if out.finish(&summary)? {
        return reading.verdict();
    }
    Ok(())
}

fn lock(logbook: &Mutex<Option<Rebuild>>) -> MutexGuard<'_, Option<Rebuild>> {
    logbook.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Unlike a daemon, a replay that was told to recall something must not go on without it.
fn recall(arguments: &ReplayArguments, forecaster: &mut Forecaster) -> Result<(), Failure> {
    let Some(path) = &arguments.learnt else {
        return Ok(());
    };
    let refused = |why: String| Failure::data(format!("--learnt {}: {why}", path.display()));
    let memory = read_memory(path)
        .map_err(Failure::data)?
        .ok_or_else(|| refused("there is no such file".to_owned()))?;
    forecaster
        .remember(memory)
        .map_err(|why| refused(why.to_string()))
}

fn show(settings: &Settings, logs: Vec<Log>, arguments: &ReplayArguments) -> Result<(), Failure> {
    let (lines, reading) = lines(logs, ProgressBar::hidden());
    let mut page = Page::new(settings, Mode::Replay)?;
    page.engine.feeds.clear();
    if let Some(bind) = arguments.bind {
        page.serve.bind = bind;
    }
    recall(arguments, &mut page.engine.forecaster)?;
    open_page(page, arguments.speed, lines, move || reading.verdict())
}
