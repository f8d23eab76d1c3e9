//! `skimwatch score`: how often the advice was right, how early, how honest its chances.

use std::path::{Path, PathBuf};

use clap::Args;
use indicatif::ProgressBar;
use serde::Serialize;
use tokio_util::sync::CancellationToken;

use super::Failure;
use super::logs::{lines, open_logs};
use crate::drive::{Dated, DatedLine, Pace, Replay};
use crate::engine::{Engine, Mode};
use crate::feed::Origin;
use crate::score::{Detail, Marks, Report, Rules, Tally, Truth, reliability_svg};
use crate::settings::{self, Settings};

/// Options of `score`.
#[derive(Debug, Args)]
pub(super) struct ScoreArguments {
    /// Labelled recordings: the truth is read from LOG.truth.json beside each; without that file
    /// the crew's own taps label the day.
    #[arg(value_name = "LOG", required = true)]
    logs: Vec<PathBuf>,
    /// Settings file: the rig as the crew believes it.
    #[arg(long, value_name = "FILE")]
    settings: PathBuf,
    /// Print JSON instead of text.
    #[arg(long)]
    json: bool,
    /// Write the picture of reliability here.
    #[arg(long, value_name = "FILE.svg")]
    picture: Option<PathBuf>,
    /// Write every event, advisory and chance as it is judged here, one JSON object a line.
    #[arg(long, value_name = "FILE.jsonl")]
    details: Option<PathBuf>,
}

pub(super) fn score(arguments: &ScoreArguments) -> Result<(), Failure> {
    let settings = settings::load(&arguments.settings).map_err(Failure::settings)?;
    let rules = Rules {
        dragging_immersion: settings.forecast.dragging_immersion,
        kite_sinking_deg: settings.forecast.kite_sinking_deg,
        ..Rules::default()
    };
    let mut marks = Marks::new();
    let mut details = arguments.details.as_ref().map(|_| String::new());
    for log in &arguments.logs {
        let name = log.display().to_string();
        marks.merge(&score_one(log, &settings, &rules, |detail| {
            if let Some(details) = &mut details
                && let Ok(line) = serde_json::to_string(&Named { log: &name, detail })
            {
                details.push_str(&line);
                details.push('\n');
            }
        })?);
    }
    if let (Some(path), Some(details)) = (&arguments.details, &details) {
        write_file(path, details)?;
    }
    let report = Report::new(&marks);
    if let Some(path) = &arguments.picture {
        write_file(path, &reliability_svg(&report))?;
    }
    if arguments.json {
        let json = serde_json::to_string_pretty(&report).map_err(Failure::data)?;
        super::print_line(&json)
    } else {
        super::print_line(report.text().trim_end())
    }
}

/// A detail with the recording it is of.
#[derive(Serialize)]
struct Named<'a> {
    log: &'a str,
    #[serde(flatten)]
    detail: Detail,
}

fn write_file(path: &Path, text: &str) -> Result<(), Failure> {
    std::fs::write(path, text)
        .map_err(|error| Failure::unavailable(format!("cannot write {}: {error}", path.display())))
}

fn truth_beside(log: &Path) -> Result<Option<Truth>, Failure> {
    let mut path = log.as_os_str().to_owned();
    path.push(".truth.json");
    let path = PathBuf::from(path);
    match std::fs::read_to_string(&path) {
        Ok(text) => Truth::from_json(&text)
            .map(Some)
            .map_err(|error| Failure::data(format!("{}: {error}", path.display()))),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(Failure::unavailable(format!(
            "cannot read {}: {error}",
            path.display()
        ))),
    }
}

fn score_one(
    log: &PathBuf,
    settings: &Settings,
    rules: &Rules,
    tell: impl FnMut(Detail),
) -> Result<Marks, Failure> {
    let truth = truth_beside(log)?;
    let mut engine = settings.engine().map_err(Failure::settings)?;
    engine.feeds.clear();
    let mut tally = Tally::new();
    let read = || -> Result<_, Failure> {
        let logs = open_logs(std::slice::from_ref(log))?;
        Ok(lines(logs, ProgressBar::hidden()))
    };
    // What the crew said, with the times the replay gives it.
    let (once, reading) = read()?;
    for line in Dated::new(once) {
        match line {
            DatedLine::Sentence { at, feed, text } if engine.is_crew(Origin::split(&feed).0) => {
                tally.sentence(at, &text);
            }
            DatedLine::Part(back) => return Err(reading.goes_back(back)),
            _ => {}
        }
    }
    reading.verdict()?;
    let replay = Replay::new(Engine::new(engine, Mode::Replay), None);
    let (again, _) = read()?;
    let (_, end) =
        super::block_on(
            replay.run(again, Pace::Fastest, CancellationToken::new(), |picture| {
                for revision in &picture.revisions {
                    tally.revision(revision);
                }
                if let Ok(forecast) = &picture.snapshot.forecast {
                    tally.forecast(forecast);
                }
            }),
        )?;
    let first = end
        .first()
        .ok_or_else(|| Failure::data(format!("{}: no sentence in it", log.display())))?;
    Ok(tally.end_with(first, truth.as_ref(), rules, tell))
}
