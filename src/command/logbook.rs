//! `skimwatch logbook`: days out of the logbook, for other programs and on paper.

use std::path::{Path, PathBuf};

use chrono::NaiveDate;
use clap::{Args, Subcommand, ValueEnum};

use super::Failure;
use super::day_report::report;
use super::rig::Units;
use crate::logbook::{
    DayRows, Positions, Reader, columns_text, csv, geojson, gpx, parquet, tables,
};
use crate::settings::{self, CrewUnits, Settings};

/// What to do with the logbook.
#[derive(Debug, Subcommand)]
pub(super) enum LogbookCommand {
    /// Writes days as GPX 1.1, GeoJSON (RFC 7946), CSV or Apache Parquet. The daemon may go on writing
    /// meanwhile.
    #[command(
        after_help = "Examples:\n  skimwatch logbook export --settings FILE --day 2026-06-01 --format gpx -o day.gpx\n  skimwatch logbook export --logbook boat.sqlite --from 2026-06-01 --to 2026-06-30 --format parquet --without-positions -o june/"
    )]
    Export(ExportArguments),
    /// Prints what the columns of CSV and Parquet mean.
    Columns,
    /// Writes one day as a page to print: one HTML file that needs nothing else, in the units of
    /// [crew].
    #[command(
        after_help = "Example:\n  skimwatch logbook report --settings FILE --day 2026-06-01 -o day.html"
    )]
    Report(ReportArguments),
}

/// Which logbook.
#[derive(Debug, Args)]
struct BookArguments {
    /// Settings file, which names the logbook.
    #[arg(long, value_name = "FILE", required_unless_present = "logbook")]
    settings: Option<PathBuf>,
    /// The logbook itself; with settings, instead of the one that they name.
    #[arg(long, value_name = "FILE")]
    logbook: Option<PathBuf>,
}

/// What is told of positions.
#[derive(Debug, Args)]
struct PositionArguments {
    /// Leave positions out, and names of marks.
    #[arg(long, conflicts_with = "coarse_positions")]
    without_positions: bool,
    /// Round positions to a tenth of a degree, about 11 km; leave out where the bait was, and names of
    /// marks.
    #[arg(long)]
    coarse_positions: bool,
}

/// Options of `logbook export`.
#[derive(Debug, Args)]
pub(super) struct ExportArguments {
    #[command(flatten)]
    book: BookArguments,
    /// The day, as the date where the boat was; without it all days.
    #[arg(long, value_name = "DATE", conflicts_with_all = ["from", "to"])]
    day: Option<NaiveDate>,
    /// The first day.
    #[arg(long, value_name = "DATE")]
    from: Option<NaiveDate>,
    /// The last day.
    #[arg(long, value_name = "DATE")]
    to: Option<NaiveDate>,
    /// The format.
    #[arg(long)]
    format: Format,
    /// Where to: a file, or for CSV and Parquet a directory, which gets one file for each table.
    #[arg(short, long, value_name = "PATH")]
    output: PathBuf,
    #[command(flatten)]
    positions: PositionArguments,
}

/// Options of `logbook report`.
#[derive(Debug, Args)]
pub(super) struct ReportArguments {
    #[command(flatten)]
    book: BookArguments,
    /// The day, as the date where the boat was.
    #[arg(long, value_name = "DATE")]
    day: NaiveDate,
    /// The file to write.
    #[arg(short, long, value_name = "FILE.html")]
    output: PathBuf,
    #[command(flatten)]
    positions: PositionArguments,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// Tracks of boat and bait, bites and marks as waypoints.
    Gpx,
    /// The same as features, with what was known at each bite, and passes.
    Geojson,
    /// One table a file; `logbook columns` tells what is in it.
    Csv,
    /// The same for columnar engines.
    Parquet,
}

pub(super) fn logbook(command: &LogbookCommand) -> Result<(), Failure> {
    match command {
        LogbookCommand::Export(arguments) => export(arguments),
        LogbookCommand::Columns => super::print_line(columns_text().trim_end()),
        LogbookCommand::Report(arguments) => write_report(arguments),
    }
}

impl PositionArguments {
    fn positions(&self) -> Positions {
        match (self.without_positions, self.coarse_positions) {
            (true, _) => Positions::Without,
            (_, true) => Positions::Coarse,
            _ => Positions::Exact,
        }
    }
}

impl BookArguments {
    /// The settings, where they are named.
    fn settings(&self) -> Result<Option<Settings>, Failure> {
        let load = |path: &PathBuf| settings::load(path).map_err(Failure::settings);
        self.settings.as_ref().map(load).transpose()
    }

    fn file(&self, settings: Option<&Settings>) -> Result<PathBuf, Failure> {
        match (&self.logbook, &self.settings, settings) {
            (Some(file), ..) => Ok(file.clone()),
            (None, Some(path), Some(settings)) => Ok(settings.logbook_file(path)),
            _ => Err(Failure::settings("name the settings or the logbook")),
        }
    }
}

fn export(arguments: &ExportArguments) -> Result<(), Failure> {
    let positions = arguments.positions.positions();
    if (arguments.format, positions) == (Format::Gpx, Positions::Without) {
        let why = "a GPX file is made of positions: export another format without them";
        return Err(Failure::data(why));
    }
    let settings = arguments.book.settings()?;
    let file = arguments.book.file(settings.as_ref())?;
    let days: Vec<DayRows> = read(&file, arguments)?
        .into_iter()
        .map(|day| positions.of(day))
        .collect();
    let out = &arguments.output;
    match arguments.format {
        Format::Gpx => write(out, gpx(&days).map_err(Failure::data)?),
        Format::Geojson => write(out, geojson(&days)),
        Format::Csv | Format::Parquet => {
            std::fs::create_dir_all(out).map_err(|error| failed(out, &error))?;
            for table in tables(&days) {
                let (ending, bytes) = match arguments.format {
                    Format::Parquet => ("parquet", parquet(&table).map_err(Failure::data)?),
                    _ => ("csv", csv(&table).into_bytes()),
                };
                write(&out.join(format!("{}.{ending}", table.name)), bytes)?;
            }
            Ok(())
        }
    }
}

fn write_report(arguments: &ReportArguments) -> Result<(), Failure> {
    let settings = arguments.book.settings()?;
    let file = arguments.book.file(settings.as_ref())?;
    let reader = Reader::open(&file).map_err(Failure::unavailable)?;
    let day = one(&reader, &file, arguments.day)?;
    let day = arguments.positions.positions().of(day);
    let units = settings.map_or_else(CrewUnits::default, |settings| settings.units);
    let html = report(&day, Units(units)).map_err(Failure::fault)?;
    write(&arguments.output, html)
}

fn read(file: &Path, arguments: &ExportArguments) -> Result<Vec<DayRows>, Failure> {
    let reader = Reader::open(file).map_err(Failure::unavailable)?;
    if let Some(day) = arguments.day {
        return Ok(vec![one(&reader, file, day)?]);
    }
    let within = |date: &NaiveDate| {
        arguments.from.is_none_or(|from| *date >= from) && arguments.to.is_none_or(|to| *date <= to)
    };
    let found = reader.days().map_err(Failure::unavailable)?;
    let dates: Vec<NaiveDate> = found.iter().rev().map(|day| day.date).collect();
    let dates: Vec<NaiveDate> = dates.into_iter().filter(within).collect();
    if dates.is_empty() {
        let file = file.display();
        return Err(Failure::data(format!("{file}: nothing of these days")));
    }
    dates
        .into_iter()
        .map(|date| one(&reader, file, date))
        .collect()
}

fn one(reader: &Reader, file: &Path, date: NaiveDate) -> Result<DayRows, Failure> {
    let found = reader.day(date).map_err(Failure::unavailable)?;
    let none = || Failure::data(format!("{}: nothing of {date}", file.display()));
    found.ok_or_else(none)
}

fn write(path: &Path, bytes: impl AsRef<[u8]>) -> Result<(), Failure> {
    std::fs::write(path, bytes).map_err(|error| failed(path, &error))
}

fn failed(path: &Path, error: &std::io::Error) -> Failure {
    Failure::unavailable(format!("cannot write {}: {error}", path.display()))
}
