//! The command line: arguments in, an exit status out. Each command connects the rooms and holds no
//! logic of its own that another could need.
//!
//! # Decisions
//!
//! - **An engine that dies** ends the daemon with status 70, because a page with an old picture is
//!   worse than none; the service manager restarts it. An engine that hangs makes no pictures, so
//!   the service manager gets no `WATCHDOG=1` and restarts it too.

mod check;
mod crew;
mod daemon;
mod day_report;
mod demo;
mod doctor;
mod forget;
mod join;
mod lines_out;
mod logbook;
mod logging;
mod logs;
mod page;
mod pass;
mod replay;
mod rig;
mod run;
mod score;
mod service;
mod settings;
mod simulate;
mod tls;

use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

use clap::{Parser, Subcommand};

/// Settings are wrong, as `sysexits.h` calls it (EX_CONFIG).
const EXIT_SETTINGS: u8 = 78;
/// Input is wrong (EX_DATAERR).
const EXIT_DATA: u8 = 65;
/// A file, device or port cannot be had (EX_UNAVAILABLE).
const EXIT_UNAVAILABLE: u8 = 69;
/// The program itself is at fault (EX_SOFTWARE).
const EXIT_FAULT: u8 = 70;

/// Tells a kite-fishing crew what to do with which line, how much and when, before the turn
/// does it to the bait. Advice, not control: keep a look-out, and your own judgement.
#[derive(Debug, Parser)]
#[command(name = "skimwatch", version, propagate_version = true)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Plays an embedded, invented day on the water; open http://127.0.0.1:8477/ to watch.
    #[command(after_help = "Example:\n  skimwatch demo --speed 2")]
    Demo(demo::DemoArguments),
    /// Runs the daemon on the boat's network.
    #[command(
        after_help = "Example:\n  skimwatch run --settings /var/lib/skimwatch/skimwatch.toml"
    )]
    Run {
        /// Settings file; `skimwatch settings` prints a commented one.
        #[arg(long, value_name = "FILE")]
        settings: PathBuf,
    },
    /// Sends recorded input through the same code; prints one JSON object a line.
    #[command(
        after_help = "Examples:\n  skimwatch replay day.nmea --settings config/skimwatch.toml\n  skimwatch replay day.nmea --settings config/skimwatch.toml --serve --speed 10"
    )]
    Replay(replay::ReplayArguments),
    /// Prints a settings file for a typical boat, with a comment for every key: what it is, its unit,
    /// its range, its default and where to measure it.
    #[command(after_help = "Example:\n  skimwatch settings > skimwatch.toml")]
    Settings,
    /// Checks the settings, lists serial devices, tries whether recordings can be written, and
    /// listens what each feed sends.
    #[command(
        after_help = "Example:\n  skimwatch check --settings config/skimwatch.toml --listen 10"
    )]
    Check(check::CheckArguments),
    /// Says how this computer and the daemon on it fare, for somebody who helps from afar: nothing of
    /// it is secret. Exit status 0: all is well; 78: the settings are wrong; 69: something else is.
    #[command(after_help = "Example:\n  sudo skimwatch doctor")]
    Doctor(doctor::DoctorArguments),
    /// Says which kite and tackle of the settings suit a day, and why.
    #[command(
        after_help = "Example:\n  skimwatch rig --settings config/skimwatch.toml --wind 14 --gust 19 --speed 6"
    )]
    Rig(rig::RigArguments),
    /// Forgets what the crew's reports have taught of the kite of the settings: told to the daemon
    /// when one runs at [serve] bind, else done in the file of forecast.learnt_file.
    #[command(
        after_help = "Example:\n  skimwatch forget --settings /var/lib/skimwatch/skimwatch.toml"
    )]
    Forget {
        /// Settings file.
        #[arg(long, value_name = "FILE")]
        settings: PathBuf,
    },
    /// Phones that may touch: a code to join with, the list, taking one out.
    Crew {
        /// What to do.
        #[command(subcommand)]
        command: crew::CrewCommand,
    },
    /// Says whether the pages are encrypted, and how a phone is made to trust them.
    #[command(
        after_help = "Example:\n  sudo skimwatch tls --settings /var/lib/skimwatch/skimwatch.toml"
    )]
    Tls {
        /// Settings file.
        #[arg(long, value_name = "FILE")]
        settings: PathBuf,
    },
    /// Days out of the logbook, as other programs read them.
    Logbook {
        /// What to do.
        #[command(subcommand)]
        command: logbook::LogbookCommand,
    },
    /// Says which passes of the bait over a mark a recording would have been offered, as JSON: one
    /// object a line whenever the plan changes.
    #[command(
        after_help = "Example:\n  skimwatch pass fixtures/turn-toward.nmea --settings config/demo.toml --after 60 --bearing 40 --range 400"
    )]
    Pass(pass::PassArguments),
    /// Runs the rig model on a scenario and prints what it gives as JSON.
    #[command(
        after_help = "See --help for the keys of a scenario.",
        after_long_help = include_str!("scenario_help.txt")
    )]
    Simulate(simulate::SimulateArguments),
    /// Replays labelled recordings and says how often the advice was right, how early, and how
    /// honest its chances.
    #[command(
        after_help = "Example:\n  skimwatch score fixtures/turn-toward.nmea --settings config/demo.toml --picture reliability.svg"
    )]
    Score(score::ScoreArguments),
}

/// Why a command failed: the message for the terminal and the exit status.
#[derive(Debug, thiserror::Error)]
#[error("{message}")]
struct Failure {
    message: String,
    status: u8,
}

impl Failure {
    fn settings(message: impl ToString) -> Self {
        Self {
            message: message.to_string(),
            status: EXIT_SETTINGS,
        }
    }

    fn data(message: impl ToString) -> Self {
        Self {
            message: message.to_string(),
            status: EXIT_DATA,
        }
    }

    fn unavailable(message: impl ToString) -> Self {
        Self {
            message: message.to_string(),
            status: EXIT_UNAVAILABLE,
        }
    }

    fn fault(message: impl ToString) -> Self {
        Self {
            message: message.to_string(),
            status: EXIT_FAULT,
        }
    }
}

/// Longest wait for work that is still under way when a command is done: a forecast that nobody
/// will see, a disk that does not answer.
const PARTING: Duration = Duration::from_millis(500);

/// Runs a command's work.
fn block_on<T>(work: impl Future<Output = T>) -> Result<T, Failure> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(|error| Failure::unavailable(format!("cannot start threads: {error}")))?;
    let done = runtime.block_on(work);
    runtime.shutdown_timeout(PARTING);
    Ok(done)
}

/// Prints on standard output; a closed pipe (`head`) is no failure.
fn print_line(text: &str) -> Result<(), Failure> {
    use std::io::Write as _;
    match writeln!(std::io::stdout().lock(), "{text}") {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(Failure::unavailable(format!("standard output: {error}")))
        }
        _ => Ok(()),
    }
}

/// A factor on the passing of time.
fn speed(text: &str) -> Result<f64, String> {
    number_within(text, 0.1, 1000.0, "")
}

/// A number of the command line with its bounds; `unit` stands behind them.
fn number_within(text: &str, least: f64, most: f64, unit: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(number) if (least..=most).contains(&number) => Ok(number),
        _ => Err(format!("allowed is {least} to {most}{unit}")),
    }
}

/// Reads the command line and does what it says.
#[must_use]
pub fn main() -> ExitCode {
    let arguments = Arguments::parse();
    logging::start();
    let done = match arguments.command {
        Command::Demo(arguments) => demo::demo(&arguments),
        Command::Run { settings } => run::run(&settings),
        Command::Replay(arguments) => replay::replay(&arguments),
        Command::Settings => settings::settings(),
        Command::Check(arguments) => check::check(&arguments),
        Command::Doctor(arguments) => doctor::doctor(&arguments),
        Command::Rig(arguments) => rig::rig(&arguments),
        Command::Forget { settings } => forget::forget(&settings),
        Command::Crew { command } => crew::crew(&command),
        Command::Tls { settings } => tls::tls(&settings),
        Command::Logbook { command } => logbook::logbook(&command),
        Command::Pass(arguments) => pass::pass(&arguments),
        Command::Simulate(arguments) => simulate::simulate(&arguments),
        Command::Score(arguments) => score::score(&arguments),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("skimwatch: {failure}");
            ExitCode::from(failure.status)
        }
    }
}
