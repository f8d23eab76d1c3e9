//! `skimwatch logbook`: days out of the logbook, as other programs read them.

use std::path::{Path, PathBuf};

use chrono::NaiveDate;
use clap::{Args, Subcommand, ValueEnum};

use super::Failure;
use crate::logbook::{DayRows, Positions, Reader, geojson, gpx, tables};
use crate::settings;

/// What to do with the logbook.
#[derive(Debug, Subcommand)]
pub(super) enum LogbookCommand {
    /// Writes days as GPX 1.1, GeoJSON (RFC 7946) or CSV. The daemon may go on writing meanwhile.
    #[command(
        after_help = "Examples:\n  skimwatch logbook export --settings FILE --day 2026-06-01 --format gpx -o day.gpx\n  skimwatch logbook export --logbook boat.sqlite --format csv --without-positions -o season/"
    )]
    Export(ExportArguments),
}

/// Options of `logbook export`.
#[derive(Debug, Args)]
pub(super) struct ExportArguments {
    /// Settings file, which names the logbook.
    #[arg(long, value_name = "FILE", required_unless_present = "logbook")]
    settings: Option<PathBuf>,
    /// The logbook itself, instead.
    #[arg(long, value_name = "FILE", conflicts_with = "settings")]
    logbook: Option<PathBuf>,
    /// The day, as the date where the boat was; without it all days.
    #[arg(long, value_name = "DATE")]
    day: Option<NaiveDate>,
    /// The format.
    #[arg(long)]
    format: Format,
    /// Where to: a file, or for CSV a directory, which gets one file for each table.
    #[arg(short, long, value_name = "PATH")]
    output: PathBuf,
    /// Leave positions out.
    #[arg(long, conflicts_with = "coarse_positions")]
    without_positions: bool,
    /// Round positions to a tenth of a degree, about 11 km, and leave out where the bait was.
    #[arg(long)]
    coarse_positions: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// Tracks of boat and bait, bites as waypoints.
    Gpx,
    /// The same as features, with what was known at each bite.
    Geojson,
    /// One table a file.
    Csv,
}

pub(super) fn logbook(command: &LogbookCommand) -> Result<(), Failure> {
    match command {
        LogbookCommand::Export(arguments) => export(arguments),
    }
}

fn export(arguments: &ExportArguments) -> Result<(), Failure> {
    let positions = match (arguments.without_positions, arguments.coarse_positions) {
        (true, _) => Positions::Without,
        (_, true) => Positions::Coarse,
        _ => Positions::Exact,
    };
    if (arguments.format, positions) == (Format::Gpx, Positions::Without) {
        let why = "a GPX file is made of positions: export GeoJSON or CSV without them";
        return Err(Failure::data(why));
    }
    let days: Vec<DayRows> = read(&file(arguments)?, arguments.day)?
        .into_iter()
        .map(|day| positions.of(day))
        .collect();
    let out = &arguments.output;
    match arguments.format {
        Format::Gpx => write(out, &gpx(&days).map_err(Failure::data)?),
        Format::Geojson => write(out, &geojson(&days)),
        Format::Csv => {
            std::fs::create_dir_all(out).map_err(|error| failed(out, &error))?;
            tables(&days)
                .iter()
                .try_for_each(|table| write(&out.join(format!("{}.csv", table.name)), &table.text))
        }
    }
}

fn file(arguments: &ExportArguments) -> Result<PathBuf, Failure> {
    match (&arguments.logbook, &arguments.settings) {
        (Some(file), _) => Ok(file.clone()),
        (None, Some(path)) => {
            let settings = settings::load(path).map_err(Failure::settings)?;
            Ok(settings.logbook_file(path))
        }
        (None, None) => Err(Failure::settings("name the settings or the logbook")),
    }
}

fn read(file: &Path, day: Option<NaiveDate>) -> Result<Vec<DayRows>, Failure> {
    let reader = Reader::open(file).map_err(Failure::unavailable)?;
    let dates = match day {
        Some(day) => vec![day],
        None => {
            let days = reader.days().map_err(Failure::unavailable)?;
            days.iter().rev().map(|day| day.date).collect()
        }
    };
    let mut days = Vec::new();
    for date in dates {
        let found = reader.day(date).map_err(Failure::unavailable)?;
        let none = || Failure::data(format!("{}: nothing of {date}", file.display()));
        days.push(found.ok_or_else(none)?);
    }
    Ok(days)
}

fn write(path: &Path, text: &str) -> Result<(), Failure> {
    std::fs::write(path, text).map_err(|error| failed(path, &error))
}

fn failed(path: &Path, error: &std::io::Error) -> Failure {
    Failure::unavailable(format!("cannot write {}: {error}", path.display()))
}
