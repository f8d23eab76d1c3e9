//! `skimwatch simulate`: a scenario through the rig model.

use std::fs;
use std::path::{Path, PathBuf};

use clap::Args;

use super::Failure;
use crate::feed::{FeedName, RawSentence};
use crate::record::recorded_line;
use crate::rig::{Scenario, simulate as simulate_rig, simulate_at_sea};
use crate::scene::{Gusts, Instruments, Script, play};
use crate::time::Millis;

/// Options of `simulate`.
#[derive(Debug, Args)]
pub(super) struct SimulateArguments {
    /// Scenario, JSON; --help lists its keys and units. `-` reads standard input.
    #[arg(value_name = "SCENARIO.json")]
    scenario: PathBuf,
    /// Seeds of the waves, for a scenario with a sea.
    #[arg(long, default_value_t = 8, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=200))]
    seeds: u32,
    /// Also write what that boat's instruments and crew would have said, as a recording with
    /// TAG block times, and the true bait state beside it (FILE with `.truth.json` added).
    #[arg(long, value_name = "FILE")]
    nmea: Option<PathBuf>,
    /// Seed of gusts and instrument noise.
    #[arg(long, default_value_t = 1, value_name = "N", requires = "nmea")]
    seed: u64,
    /// Instruments without noise.
    #[arg(long, requires = "nmea")]
    no_noise: bool,
    /// Gusts: standard deviation of wind speed in percent (8 s) ...
    #[arg(long, default_value_t = 0.0, value_name = "PERCENT", requires = "nmea")]
    gust_percent: f64,
    /// ... and of wind direction in degrees (20 s).
    #[arg(long, default_value_t = 0.0, value_name = "DEG", requires = "nmea")]
    gust_deg: f64,
    /// Sentences of each kind a second.
    #[arg(long, default_value_t = 1.0, value_name = "HZ", requires = "nmea")]
    rate_hz: f64,
    /// How long before it the crew announces the scenario's turn, seconds; 0: not at all.
    #[arg(long, default_value_t = 20.0, value_name = "S", requires = "nmea")]
    announce_s: f64,
}

impl SimulateArguments {
    fn check(&self) -> Result<(), Failure> {
        for (key, value, least, most) in [
            ("rate-hz", self.rate_hz, 0.1, 2.0),
            ("gust-percent", self.gust_percent, 0.0, 40.0),
            ("gust-deg", self.gust_deg, 0.0, 45.0),
            ("announce-s", self.announce_s, 0.0, 600.0),
        ] {
            if !(least..=most).contains(&value) {
                return Err(Failure::data(format!(
                    "--{key} is {value}, allowed is {least} to {most}"
                )));
            }
        }
        Ok(())
    }
}

pub(super) fn simulate(arguments: &SimulateArguments) -> Result<(), Failure> {
    arguments.check()?;
    let name = arguments.scenario.display().to_string();
    let text = read(&arguments.scenario)?;
    let scenario =
        Scenario::from_json(&text).map_err(|error| Failure::data(format!("{name}: {error}")))?;
    if !scenario.waves().is_empty() {
        return at_sea(arguments, &scenario, &name);
    }
    let output = simulate_rig(&scenario);
    let json = serde_json::to_string_pretty(&output)
        .map_err(|error| Failure::data(format!("{name}: {error}")))?;
    super::print_line(&json)?;
    if !output.ok {
        let why = output
            .no_trim
            .unwrap_or_else(|| "it diverged on the way (end_reason)".to_owned());
        let unwritten = match &arguments.nmea {
            Some(file) => format!("; {} is not written", file.display()),
            None => String::new(),
        };
        return Err(Failure::data(format!(
            "{name}: the model has no answer: {why}{unwritten}"
        )));
    }
    if let Some(file) = &arguments.nmea {
        write_recording(arguments, &scenario, file)?;
    }
    Ok(())
}

/// A scenario with waves: statistics over seeds.
fn at_sea(arguments: &SimulateArguments, scenario: &Scenario, name: &str) -> Result<(), Failure> {
    if arguments.nmea.is_some() {
        return Err(Failure::data(format!(
            "{name}: --nmea writes recordings of flat water only; leave out the key sea"
        )));
    }
    let output = simulate_at_sea(scenario, arguments.seeds);
    let json = serde_json::to_string_pretty(&output)
        .map_err(|error| Failure::data(format!("{name}: {error}")))?;
    super::print_line(&json)?;
    if output.ok {
        return Ok(());
    }
    let why = output
        .no_trim
        .unwrap_or_else(|| "a seed ended early (end_reason)".to_owned());
    Err(Failure::data(format!(
        "{name}: the model has no answer: {why}"
    )))
}

fn read(path: &Path) -> Result<String, Failure> {
    let read = if path == Path::new("-") {
        std::io::read_to_string(std::io::stdin())
    } else {
        fs::read_to_string(path)
    };
    read.map_err(|error| {
        Failure::unavailable(format!(
            "cannot read the scenario {}: {error}",
            path.display()
        ))
    })
}

fn write_recording(
    arguments: &SimulateArguments,
    scenario: &Scenario,
    file: &Path,
) -> Result<(), Failure> {
    let mut script = Script::from_scenario(scenario);
    script.start = Millis(1_780_300_800_000); // 2026-06-01T08:00:00Z, invented
    script.seed = arguments.seed;
    script.gusts = Gusts {
        speed_share: arguments.gust_percent / 100.0,
        speed_time_s: 8.0,
        direction_rad: arguments.gust_deg.to_radians(),
        direction_time_s: 20.0,
    };
    let instruments = Instruments {
        rate_hz: arguments.rate_hz,
        ..Instruments::default()
    };
    script.instruments = if arguments.no_noise {
        instruments.without_noise()
    } else {
        instruments
    };
    for turn in &mut script.turns {
        turn.announced_s = (arguments.announce_s > 0.0).then_some(arguments.announce_s);
    }
    let played = play(&script).map_err(Failure::data)?;

    let crew = FeedName::crew();
    let scene = FeedName::new("scene").map_err(Failure::data)?;
    let mut recording = String::new();
    for (at, line) in played.lines {
        let feed = if line.starts_with("$P") {
            &crew
        } else {
            &scene
        };
        recording.push_str(&recorded_line(at, feed.as_str(), &RawSentence::own(line)));
    }
    let write = |path: &Path, text: &str| {
        fs::write(path, text).map_err(|error| {
            Failure::unavailable(format!("cannot write {}: {error}", path.display()))
        })
    };
    write(file, &recording)?;
    let mut truth_path = file.as_os_str().to_owned();
    truth_path.push(".truth.json");
    let truth = serde_json::to_string(&played.truth).map_err(Failure::data)?;
    write(Path::new(&truth_path), &truth)
}
