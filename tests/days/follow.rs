//! Hands that follow the line plan, against hands that leave the lines alone.
//!
//!     cargo run --release --example follow -- FIRST COUNT [IMMERSION]
//!
//! IMMERSION stands for the setting `trim_immersion`: what fan and turn limits are trimmed to. The
//! moves come from the band in the plan's search and do not change with it.
//!
//! One planned turn after another, each with seeds of its own, on a rig, in an air and through
//! instruments that are drawn apart from what the settings say (as in `make.rs`). The chain hears
//! the instruments and the crew, and hands follow its advice (`hands.rs`). Printed is the share of the turn's time (from helm over
//! until 40 s after its angle has been steered) in which the bait skips: with the plan, and
//! without. All ranges are invented.

use std::error::Error;

use skimwatch::decode::CrewInput;
use skimwatch::rig::{Current, Rig, RigParameters, Wind};
use skimwatch::scene::{
    Gusts, Instruments, Played, Script, ScriptMove, ScriptTurn, TruthRow, play,
};
use skimwatch::settings;
use skimwatch::time::Millis;
use skimwatch::units::{degrees, degrees_per_second, metres};

#[path = "dice.rs"]
mod dice;
#[path = "hands.rs"]
mod hands;

use dice::{BELIEVED, Dice, true_rig};
use hands::{Stage, Word, follow};

/// 2026-06-01T08:00:00Z, invented.
const START: Millis = Millis(1_780_300_800_000);
/// When the helm goes over.
const TURN_S: f64 = 110.0;
/// How long the rig is watched after the turn's angle has been steered.
const TAIL_S: f64 = 40.0;
/// Turns up to this angle are counted by the line they ask for.
const MODEST_RAD: f64 = 61.0 * std::f64::consts::PI / 180.0;
/// Seeds apart from those of the days.
const SEEDS: u64 = 9_000_000;

type Outcome<T> = Result<T, Box<dyn Error>>;

/// One turn that can be fished on both headings.
fn scene(believed: &RigParameters, dice: &mut Dice, seed: u64) -> Option<Script> {
    let wind_from_rad = dice.between(0.0, std::f64::consts::TAU);
    let off_bow_rad = dice.between(65.0, 120.0).to_radians() * dice.one_of(&[-1.0, 1.0]);
    let size = dice
        .one_of(&[25.0, 40.0, 60.0, 75.0, 90.0_f64])
        .to_radians();
    let turn = ScriptTurn {
        start_s: TURN_S,
        by_rad: size * dice.one_of(&[-1.0, 1.0]),
        rate_rad_s: dice.one_of(&[1.5, 2.0, 3.0, 4.0_f64]).to_radians(),
        yaw_time_s: dice.between(1.5, 4.0),
        announced_s: Some(dice.between(20.0, 40.0)),
    };
    let gusty = dice.between(0.0, 1.0);
    let mut script = Script {
        wind: Wind {
            speed_10m_mps: dice.between(6.0, 10.5),
            from_rad: wind_from_rad,
            shear_exponent: dice.between(0.06, 0.17),
        },
        gusts: Gusts {
            speed_share: 0.03 + 0.05 * gusty,
            speed_time_s: dice.between(6.0, 12.0),
            direction_rad: (1.5 + 2.0 * gusty).to_radians(),
            direction_time_s: dice.between(15.0, 25.0),
        },
        current: Current::default(),
        boat_speed_mps: dice.between(2.3, 3.6),
        heading_rad: wind_from_rad + off_bow_rad,
        kite_line_m: dice.between(70.0, 110.0),
        turns: vec![turn],
        seed,
        instruments: Instruments {
            sensor_height_m: 9.0,
            wind_angle_bias_rad: dice.between(-5.0, 5.0).to_radians(),
            ..Instruments::default()
        },
        ..Script::straight(
            START,
            true_rig(believed, dice),
            TURN_S + size / turn.rate_rad_s + TAIL_S,
        )
    };
    let rig = Rig::new(&script.rig).ok()?;
    let trim_m = |heading_rad: f64| {
        script
            .trimmed_main_line_m(&rig, heading_rad, 0.0, 0.25)
            .ok()
            .filter(|m| *m < 260.0)
    };
    let (before_m, _) = (
        trim_m(script.heading_rad)?,
        trim_m(script.heading_rad + turn.by_rad)?,
    );
    script.main_line_m = Some(before_m);
    Some(script)
}

/// One scene, played anew with every move.
struct Scripted {
    script: Script,
    played: Played,
}

impl Scripted {
    fn new(script: &Script) -> Outcome<Self> {
        let script = script.clone();
        let mut played = play(&script)?;
        played.lines.retain(|(_, line)| !line.starts_with("$P"));
        Ok(Self { script, played })
    }

    /// Share of the turn's time in which the bait skips.
    fn skipping(&self) -> f64 {
        let turn = [(TURN_S, f64::INFINITY)];
        hands::skipping(&self.played.truth.series, &turn, self.script.duration_s).0
    }
}

impl Stage for Scripted {
    fn duration_s(&self) -> f64 {
        self.script.duration_s
    }

    fn lines(&self) -> &[(Millis, String)] {
        &self.played.lines
    }

    fn row(&self, t_s: f64) -> Option<&TruthRow> {
        self.played.truth.series.get((2.0 * t_s) as usize)
    }

    /// What has been heard so far stays as it was: the same seed, and hands begin later.
    fn moved(&mut self, hand: ScriptMove) -> Outcome<()> {
        self.script.moves.push(hand);
        *self = Self::new(&self.script)?;
        Ok(())
    }
}

/// What the crew says besides: line out, what the bait does, the turn.
fn says(script: &Script, dice: &mut Dice) -> Vec<(f64, Word)> {
    let input = CrewInput::LinesOut {
        kite: Some(metres(script.kite_line_m * dice.about(1.0, 0.03))),
        main: Some(metres(
            script.main_line_m.unwrap_or_default() * dice.about(1.0, 0.05),
        )),
    };
    let turn = script.turns[0];
    let told_s = (turn.start_s - turn.announced_s.unwrap_or_default()).ceil();
    let announced = CrewInput::Turn {
        by: degrees(turn.by_rad.to_degrees()),
        rate: degrees_per_second(turn.rate_rad_s.to_degrees()),
        in_s: turn.start_s - told_s,
    };
    let mut says = vec![(2.0, Word::Input(input)), (told_s, Word::Input(announced))];
    says.extend([20.0, 45.0, 70.0].map(|t_s| (t_s, Word::Look)));
    says.sort_by(|a, b| a.0.total_cmp(&b.0));
    says
}

fn main() -> Outcome<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (first, count, immersion) = match arguments.as_slice() {
        [first, count] => (first, count, None),
        [first, count, immersion] => (first, count, Some(immersion.parse()?)),
        _ => return Err("give: FIRST COUNT [IMMERSION]".into()),
    };
    let (first, count): (u64, u64) = (first.parse()?, count.parse()?);
    let mut settings = settings::parse(BELIEVED, "config/demo.toml")?;
    if let Some(immersion) = immersion {
        settings.forecast.trim_immersion = immersion;
    }
    let (mut with, mut without) = (Vec::new(), Vec::new());
    // Metres asked for in a turn of up to 60 degrees, either line.
    let mut asked: Vec<f64> = Vec::new();
    for number in first..first + count {
        let (mut dice, script) = (0..40)
            .find_map(|attempt| {
                let mut dice = Dice::new(SEEDS + 40 * number + attempt);
                let script = scene(&settings.rig.parameters, &mut dice, number)?;
                Some((dice, script))
            })
            .ok_or("no scene that can be fished")?;
        let mut stage = Scripted::new(&script)?;
        let alone = stage.skipping();
        let says = says(&script, &mut dice);
        let (planned, told) = match follow(&settings, &mut stage, &says, &mut dice) {
            Ok(moves) => (stage.skipping(), hands::told(&moves, TURN_S)),
            // A kite brought down by hands is no time skipped.
            Err(why) => (0.0, why.to_string()),
        };
        if script.turns[0].by_rad.abs() <= MODEST_RAD {
            asked.push(stage.script.moves.iter().map(|m| m.by_m.abs()).sum());
        }
        println!(
            "{number:3}: {:+3.0} deg at {:.1} deg/s, wind {:4.1} m/s: skips {:3.0} % left alone, {:3.0} % by the plan; {told}",
            script.turns[0].by_rad.to_degrees(),
            script.turns[0].rate_rad_s.to_degrees(),
            script.wind.speed_10m_mps,
            100.0 * alone,
            100.0 * planned,
        );
        with.push(planned);
        without.push(alone);
    }
    let mean = |list: &[f64]| 100.0 * list.iter().sum::<f64>() / list.len().max(1) as f64;
    println!(
        "{} turns: bait skips {:.0} % of the time left alone, {:.0} % by the plan",
        with.len(),
        mean(&without),
        mean(&with)
    );
    asked.sort_by(f64::total_cmp);
    if let Some(median) = asked.get(asked.len() / 2) {
        println!(
            "{} turns of up to 60 degrees: {median:.0} m of line moved in the median turn",
            asked.len()
        );
    }
    Ok(())
}
