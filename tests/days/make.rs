//! Makes labelled recordings of invented days for `skimwatch score`.
//!
//!     cargo run --release --example days -- tuning|testing|calm FIRST COUNT DIR
//!     cargo run --release --example days -- --drive [--rig N] [--known] LOG... --into DIR
//!     cargo run --release --example days -- --drive --follow [--rig N] LOG...
//!     cargo run --release --example days -- --air LOG...
//!     cargo run --release --example days -- demo DIR
//!
//! Every day has a seed of its own; those for tuning and those for testing never meet. The rig
//! that the crew believes (`DIR/believed.toml`, a copy of config/demo.toml) is the same on all
//! days; what truly hangs there, the air, the instruments, the turns and the crew are drawn anew
//! for each day, apart from it. All ranges below are invented, those of what a crew gets wrong too:
//! kite by 20 %, wind profile, line, masthead bias.
//!
//! A day is 11 minutes with up to five turns, told ahead or not. A crew "by the clock" trims the
//! main line some time after each turn, whatever the bait does; the other crews never touch it.
//! What they tell is wrong: line counts by 5 %, moves by 10 %, one tap in twenty. On calm days, for
//! measuring cost, the boat never turns, the wind never shifts and gusts are a third as strong.

use std::error::Error;
use std::fmt::Write as _;
use std::path::Path;

use skimwatch::decode::{BaitState, CrewInput, Line, encode_crew};
use skimwatch::feed::{FeedName, RawSentence};
use skimwatch::record::recorded_line;
use skimwatch::rig::{Current, Rig, RigParameters, Waves, Wind};
use skimwatch::scene::{
    Gusts, Instruments, Played, Script, ScriptMove, ScriptTurn, Shift, demo_day, play,
};
use skimwatch::settings;
use skimwatch::time::Millis;
use skimwatch::units::{degrees, degrees_per_second, metres};

/// 2026-06-01T08:00:00Z, invented.
const START: Millis = Millis(1_780_300_800_000);
const DAY_S: f64 = 660.0;
/// Draws of a day that cannot be fished are thrown away, so many at most.
const TRIES: u64 = 40;
/// Pace of hands with the main line, m/s.
const HANDS_MPS: f64 = 0.8;

#[path = "coverage.rs"]
mod coverage;
#[path = "dice.rs"]
mod dice;
#[path = "drive.rs"]
mod drive;
#[path = "driven.rs"]
mod driven;
#[path = "hands.rs"]
mod hands;
#[path = "log.rs"]
mod log;
#[path = "stretch.rs"]
mod stretch;

use dice::{BELIEVED, Dice, true_rig};

type Outcome<T> = Result<T, Box<dyn Error>>;

/// A day as it truly goes, and what is told of its turns.
fn script(believed: &RigParameters, seed: u64, dice: &mut Dice) -> Option<Script> {
    let wind_from_rad = dice.between(0.0, std::f64::consts::TAU);
    let off_bow_rad = dice.between(65.0, 120.0).to_radians() * dice.one_of(&[-1.0, 1.0]);
    let wind = Wind {
        speed_10m_mps: dice.between(6.0, 10.5),
        from_rad: wind_from_rad,
        shear_exponent: dice.between(0.06, 0.17),
    };
    let mut turns = Vec::new();
    let (mut at_s, mut off_rad) = (dice.between(60.0, 95.0), 0.0_f64);
    let many = dice.one_of(&[3, 4, 4, 5]);
    while turns.len() < many && at_s < DAY_S - 110.0 {
        let size = dice
            .one_of(&[15.0, 25.0, 40.0, 60.0, 75.0, 90.0_f64])
            .to_radians();
        // Back toward the day's course sooner or later.
        let by_rad = if off_rad.abs() > 0.6 {
            -size.copysign(off_rad)
        } else {
            size * dice.one_of(&[-1.0, 1.0])
        };
        off_rad += by_rad;
        let rate_rad_s = dice.one_of(&[1.5, 2.0, 3.0, 4.0, 6.0_f64]).to_radians();
        turns.push(ScriptTurn {
            start_s: at_s,
            by_rad,
            rate_rad_s,
            yaw_time_s: dice.between(1.5, 4.0),
            announced_s: (dice.between(0.0, 1.0) < 0.55).then(|| dice.between(15.0, 35.0)),
        });
        at_s += size / rate_rad_s + dice.between(90.0, 150.0);
    }
    let gusty = dice.between(0.0, 1.0);
    let script = Script {
        start: START,
        duration_s: DAY_S,
        seed,
        rig: true_rig(believed, dice),
        wind,
        gusts: Gusts {
            speed_share: 0.03 + 0.07 * gusty,
            speed_time_s: dice.between(6.0, 12.0),
            direction_rad: (1.5 + 3.0 * gusty).to_radians(),
            direction_time_s: dice.between(15.0, 25.0),
        },
        shifts: if dice.between(0.0, 1.0) < 0.5 {
            vec![Shift {
                start_s: dice.between(100.0, 500.0),
                over_s: dice.between(20.0, 90.0),
                by_rad: dice.between(-15.0, 15.0).to_radians(),
                speed_factor: dice.between(0.88, 1.14),
            }]
        } else {
            Vec::new()
        },
        waves: Vec::new(),
        current: Current {
            set_rad: dice.between(0.0, std::f64::consts::TAU),
            drift_mps: dice.between(0.0, 0.3),
        },
        boat_speed_mps: dice.between(2.3, 3.6),
        heading_rad: wind_from_rad + off_bow_rad,
        kite_line_m: dice.between(70.0, 110.0),
        main_line_m: None,
        turns,
        moves: Vec::new(),
        says: Vec::new(),
        bait_reports_every_s: None,
        instruments: Instruments {
            // As in the settings: a crew measures it once, with a tape.
            sensor_height_m: 9.0,
            wind_angle_bias_rad: dice.between(-5.0, 5.0).to_radians(),
            wind_angle_noise_rad: dice.between(0.5, 2.0).to_radians(),
            wind_speed_noise_share: dice.between(0.01, 0.04),
            heading_noise_rad: dice.between(0.2, 0.8).to_radians(),
            rate_noise_rad_s: dice.between(0.1, 0.5).to_radians(),
            rate_hz: dice.one_of(&[1.0, 1.0, 5.0]),
        },
    };
    trimmed(script, dice)
}

/// The same, trimmed at the start and, by a crew that works by the clock, after each turn. `None`
/// when one of the headings cannot be fished.
fn trimmed(mut script: Script, dice: &mut Dice) -> Option<Script> {
    let rig = Rig::new(&script.rig).ok()?;
    let trim_m = |heading_rad: f64, at_s: f64, immersion: f64| {
        script
            .trimmed_main_line_m(&rig, heading_rad, at_s, immersion)
            .ok()
            .filter(|m| *m < 260.0)
    };
    let first_m = trim_m(script.heading_rad, 0.0, dice.between(0.15, 0.4))?;
    let mut out_m = first_m;
    let by_the_clock = dice.between(0.0, 1.0) < 0.7;
    let mut heading_rad = script.heading_rad;
    let mut moves = Vec::new();
    for (i, turn) in script.turns.iter().enumerate() {
        heading_rad += turn.by_rad;
        let until_s = script.turns.get(i + 1).map_or(DAY_S, |next| next.start_s);
        let wanted_m = trim_m(heading_rad, turn.start_s, dice.between(0.15, 0.4))?;
        let start_s = turn.start_s
            + (turn.by_rad / turn.rate_rad_s).abs()
            + dice.one_of(&[5.0, 25.0, 45.0, 60.0]);
        let by_m = (wanted_m - out_m).round();
        let over_s = by_m.abs() / HANDS_MPS;
        if by_the_clock && by_m != 0.0 && start_s + over_s < until_s - 10.0 {
            out_m += by_m;
            moves.push(ScriptMove {
                start_s,
                line: Line::Main,
                by_m,
                over_s,
                told: true,
            });
        }
    }
    script.main_line_m = Some(first_m);
    script.moves = moves;
    Some(script)
}

/// What the crew says, with its errors.
fn said(script: &Script, played: &Played, dice: &mut Dice) -> Vec<(f64, CrewInput)> {
    let main_m = script.main_line_m.unwrap_or_default();
    let mut said = vec![(
        2.0,
        CrewInput::LinesOut {
            kite: Some(metres(script.kite_line_m * dice.about(1.0, 0.03))),
            main: Some(metres(main_m * dice.about(1.0, 0.05))),
        },
    )];
    for turn in &script.turns {
        if let Some(ahead_s) = turn.announced_s {
            said.push((
                turn.start_s - ahead_s,
                CrewInput::Turn {
                    by: degrees(turn.by_rad.to_degrees()),
                    rate: degrees_per_second(turn.rate_rad_s.to_degrees()),
                    in_s: ahead_s + dice.about(0.0, 1.5),
                },
            ));
        }
    }
    for hand in &script.moves {
        said.push((
            hand.start_s + hand.over_s,
            CrewInput::Moved {
                line: hand.line,
                by: metres(hand.by_m * dice.about(1.0, 0.1)),
            },
        ));
    }
    let mut at_s = dice.between(15.0, 30.0);
    while at_s < DAY_S {
        // Hands on the reel do not tap.
        if let Some(busy) = script
            .moves
            .iter()
            .find(|hand| (hand.start_s - 2.0..=hand.start_s + hand.over_s + 5.0).contains(&at_s))
        {
            at_s = busy.start_s + busy.over_s + dice.between(10.0, 40.0);
            continue;
        }
        let Some(row) = played.truth.series.get((2.0 * at_s) as usize) else {
            break;
        };
        said.push((at_s, CrewInput::Bait(seen(row.bait(), dice))));
        if dice.between(0.0, 1.0) < 0.5 {
            said.push((
                at_s + 1.0,
                CrewInput::Elevation(degrees(dice.about(row.kite_elevation_deg, 4.0).round())),
            ));
        }
        at_s += dice.between(45.0, 140.0);
    }
    said.sort_by(|a, b| a.0.total_cmp(&b.0));
    said
}

/// What the bait does as a crew names it, one time in twenty wrongly.
pub fn seen(truth: BaitState, dice: &mut Dice) -> BaitState {
    let wrong = match truth {
        BaitState::Airborne => [BaitState::Skipping, BaitState::Dragging],
        BaitState::Dragging => [BaitState::Skipping, BaitState::Airborne],
        BaitState::Skipping => [BaitState::Airborne, BaitState::Dragging],
    };
    if dice.between(0.0, 1.0) < 0.05 {
        dice.one_of(&wrong)
    } else {
        truth
    }
}

fn recording(script: &Script, played: &Played, dice: &mut Dice) -> Outcome<String> {
    let (crew, instruments) = (FeedName::crew(), FeedName::new("instruments")?);
    let mut lines: Vec<(Millis, &FeedName, String)> = played
        .lines
        .iter()
        .filter(|(_, line)| !line.starts_with("$P"))
        .map(|(at, line)| (*at, &instruments, line.clone()))
        .collect();
    for (sequence, (t_s, input)) in (1..).zip(said(script, played, dice)) {
        lines.push((
            script.start.plus_seconds(t_s),
            &crew,
            encode_crew(&input, sequence),
        ));
    }
    lines.sort_by_key(|line| line.0);
    Ok(lines
        .into_iter()
        .map(|(at, feed, line)| recorded_line(at, feed.as_str(), &RawSentence::own(line)))
        .collect())
}

/// The day with no turns, no shift and gusts a third as strong.
fn calmed(script: Script) -> Script {
    let gusts = Gusts {
        speed_share: script.gusts.speed_share / 3.0,
        direction_rad: script.gusts.direction_rad / 3.0,
        ..script.gusts
    };
    Script {
        turns: Vec::new(),
        moves: Vec::new(),
        shifts: Vec::new(),
        gusts,
        ..script
    }
}

/// The day in 0.5 to 1.5 m of wind sea, every second time with a swell.
fn rough(script: Script, dice: &mut Dice) -> Script {
    let height_m: f64 = dice.between(0.5, 1.5);
    // A steep, short sea of a small area: period by the root of the height (common practice, no
    // source).
    let period_s = 4.4 * height_m.sqrt() * dice.between(0.92, 1.12);
    let from_rad = script.wind.from_rad + dice.about(0.0, 12.0).to_radians();
    let mut waves = vec![Waves {
        spreading: dice.one_of(&[None, Some(8.0), Some(15.0)]),
        peak_factor: dice.one_of(&[1.0, 3.3]),
        ..Waves::wind_sea(height_m, period_s, from_rad)
    }];
    if dice.between(0.0, 1.0) < 0.5 {
        let from_rad = script.wind.from_rad + dice.between(-60.0, 60.0).to_radians();
        waves.push(Waves::swell(
            dice.between(0.3, 0.8),
            dice.between(7.0, 10.0),
            from_rad,
        ));
    }
    Script { waves, ..script }
}

/// What is made of each draw.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Weather {
    Flat,
    Calm,
    Rough,
}

/// The first draw of this seed that can be fished to the end.
fn day(
    believed: &RigParameters,
    seed: u64,
    weather: Weather,
) -> Outcome<(Script, Played, Dice, u64)> {
    for attempt in 0..TRIES {
        let mut dice = Dice::new(seed * TRIES + attempt);
        let script = script(believed, seed, &mut dice).map(|script| match weather {
            Weather::Flat => script,
            Weather::Calm => calmed(script),
            Weather::Rough => rough(script, &mut dice),
        });
        if let Some(script) = script
            && let Ok(played) = play(&script)
        {
            return Ok((script, played, dice, attempt));
        }
    }
    Err(format!("seed {seed}: {TRIES} draws, none can be fished").into())
}

/// The day of the demo as a recording, `DIR/demo.nmea`.
fn demo(believed: &RigParameters, dir: &Path) -> Outcome<()> {
    let (crew, instruments) = (FeedName::crew(), FeedName::new("instruments")?);
    let played = play(&demo_day(START, believed)?)?;
    let lines = played.lines.into_iter().map(|(at, line)| {
        let feed = if line.starts_with("$P") {
            &crew
        } else {
            &instruments
        };
        recorded_line(at, feed.as_str(), &RawSentence::own(line))
    });
    std::fs::create_dir_all(dir)?;
    std::fs::write(dir.join("demo.nmea"), lines.collect::<String>())?;
    Ok(())
}

/// Tells how often the wind of logs stays in the bands of the wind ahead.
fn air(logs: &[String]) -> Outcome<()> {
    println!(
        "share within the 50 % and 90 % bands, mean absolute error of median and of persistence \
         (% of speed, degrees), {:?} s ahead",
        coverage::AHEAD_S
    );
    let mut all = coverage::Coverage::default();
    for path in logs {
        let path = Path::new(path);
        let counts = coverage::coverage(&log::Log::open(path, 1.0)?);
        let name = path.file_stem().unwrap_or_default().to_string_lossy();
        print!("{}", coverage::table(&name, &counts));
        coverage::add(&mut all, &counts);
    }
    print!("{}", coverage::table("all", &all));
    Ok(())
}

/// Which rigs, and the logs: `[--rig N] [--known] LOG...`.
fn others(what: &[String]) -> Outcome<(stretch::Others, Vec<&Path>)> {
    let mut others = stretch::Others::default();
    let mut what = what.iter();
    let mut logs = Vec::new();
    while let Some(word) = what.next() {
        match word.as_str() {
            "--rig" => {
                let number = what.next().and_then(|number| number.parse().ok());
                others.rig = number.ok_or("--rig: give a whole number after it, 0 or more")?;
            }
            "--known" => others.known = true,
            log => logs.push(Path::new(log)),
        }
    }
    Ok((others, logs))
}

/// Days from recorded boats.
fn drive_all(believed: &RigParameters, what: &[String], dir: &Path) -> Outcome<()> {
    let (others, logs) = others(what)?;
    std::fs::create_dir_all(dir)?;
    let doubt = if others.known { drive::NO_DOUBT } else { "" };
    std::fs::write(dir.join("believed.toml"), format!("{BELIEVED}{doubt}"))?;
    (logs.into_iter()).try_for_each(|log| drive::drive(believed, others, log, dir))
}

fn main() -> Outcome<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let settings = settings::parse(BELIEVED, "config/demo.toml")?;
    if let [set, hands, what @ ..] = arguments.as_slice()
        && (set.as_str(), hands.as_str()) == ("--drive", "--follow")
    {
        let (others, logs) = others(what)?;
        return driven::follow_all(&settings, others, &logs);
    }
    let believed = settings.rig.parameters;
    if let [set, dir] = arguments.as_slice()
        && set == "demo"
    {
        return demo(&believed, Path::new(dir));
    }
    if let [set, what @ .., into, dir] = arguments.as_slice()
        && (set.as_str(), into.as_str()) == ("--drive", "--into")
    {
        return drive_all(&believed, what, Path::new(dir));
    }
    if let [set, logs @ ..] = arguments.as_slice()
        && set == "--air"
    {
        return air(logs);
    }
    let [set, first, count, dir] = arguments.as_slice() else {
        let give = "tuning|testing|calm|sea-tuning|sea-testing FIRST COUNT DIR, --drive [--rig N] [--known] LOG... --into DIR, --drive --follow [--rig N] LOG..., --air LOG..., or demo DIR";
        return Err(format!("give: {give}").into());
    };
    let (base, weather) = match set.as_str() {
        "tuning" => (1_000, Weather::Flat),
        "testing" => (500_000, Weather::Flat),
        "calm" => (900_000, Weather::Calm),
        "sea-tuning" => (2_000, Weather::Rough),
        "sea-testing" => (700_000, Weather::Rough),
        other => {
            let known = "tuning, testing, calm, sea-tuning or sea-testing";
            return Err(format!("set {other:?}: {known}").into());
        }
    };
    let (first, count): (u64, u64) = (first.parse()?, count.parse()?);
    let dir = Path::new(dir);
    std::fs::create_dir_all(dir)?;
    std::fs::write(dir.join("believed.toml"), BELIEVED)?;
    for number in first..first + count {
        let (script, played, mut dice, thrown) = day(&believed, base + number, weather)?;
        let name = format!("{set}-{number:03}.nmea");
        std::fs::write(dir.join(&name), recording(&script, &played, &mut dice)?)?;
        std::fs::write(
            dir.join(format!("{name}.truth.json")),
            serde_json::to_string(&played.truth)?,
        )?;
        let mut words = format!(
            "{name}: wind {:.1} m/s, {} Hz, {} moves, {thrown} draws thrown away;",
            script.wind.speed_10m_mps,
            script.instruments.rate_hz,
            script.moves.len(),
        );
        for waves in &script.waves {
            write!(words, " {:.1} m {:.0} s", waves.height_m, waves.period_s)?;
        }
        words.push_str(" turns");
        for turn in &script.turns {
            let told = if turn.announced_s.is_some() {
                ""
            } else {
                " untold"
            };
            write!(words, " {:+.0}{told}", turn.by_rad.to_degrees())?;
        }
        println!("{words}");
    }
    Ok(())
}
