//! Hands that follow the line plan, against hands that leave the lines alone.
//!
//!     cargo run --release --example follow -- FIRST COUNT [IMMERSION]
//!
//! IMMERSION stands for the setting `trim_immersion`: what fan and turn limits are trimmed to. The
//! moves come from the band in the plan's search and do not change with it.
//!
//! One planned turn after another, each with seeds of its own, on a rig, in an air and through
//! instruments that are drawn apart from what the settings say (as in `make.rs`). The chain hears
//! the instruments and the crew; when its most pressing advisory asks for line, hands begin after
//! their reaction time, move it at their pace, tell it in steps with 10 % of error, and look
//! again. What they do changes the scene. Printed is the share of the turn's time (from helm over
//! until 40 s after its angle has been steered) in which the bait skips: with the plan, and
//! without. All ranges are invented.

use std::error::Error;

use skimwatch::advice::{Action, Advisory};
use skimwatch::decode::{BaitState, CrewInput, encode_crew};
use skimwatch::engine::{Engine, Event, Mode};
use skimwatch::forecast::Hands;
use skimwatch::rig::{Current, Rig, RigParameters, Wind};
use skimwatch::scene::{Gusts, Instruments, Played, Script, ScriptMove, ScriptTurn, play};
use skimwatch::settings::{self, Settings};
use skimwatch::time::Millis;
use skimwatch::units::{degrees, degrees_per_second, metres};

#[path = "dice.rs"]
mod dice;

use dice::{BELIEVED, Dice, true_rig};

/// 2026-06-01T08:00:00Z, invented.
const START: Millis = Millis(1_780_300_800_000);
/// When the helm goes over.
const TURN_S: f64 = 110.0;
/// How long the rig is watched after the turn's angle has been steered.
const TAIL_S: f64 = 40.0;
/// Line moved is told after so long, while hands go on.
const TELL_S: f64 = 4.0;
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

/// Share of the turn's time in which the bait skips.
fn skipping(played: &Played) -> f64 {
    let rows: Vec<_> = played
        .truth
        .series
        .iter()
        .filter(|row| row.t_s >= TURN_S)
        .collect();
    let skips = rows
        .iter()
        .filter(|row| row.bait() == BaitState::Skipping)
        .count();
    skips as f64 / rows.len().max(1) as f64
}

/// Hands with a line under way.
struct Busy {
    hand: ScriptMove,
    told_m: f64,
}

/// The crew: what it hears, does and says.
struct Crew<'a> {
    pace: Hands,
    dice: &'a mut Dice,
    sequence: u32,
    busy: Option<Busy>,
    free_at_s: f64,
}

impl Crew<'_> {
    fn say(&mut self, engine: &mut Engine, at_s: f64, input: &CrewInput) {
        self.sequence += 1;
        let _ = engine.take(Event::Line {
            at: START.plus_seconds(at_s),
            feed: "crew",
            text: &encode_crew(input, self.sequence),
        });
    }

    /// Tells what has been moved since it last told.
    fn tell(&mut self, engine: &mut Engine, at_s: f64) {
        let Some(busy) = self.busy.as_mut() else {
            return;
        };
        let share = ((at_s - busy.hand.start_s) / busy.hand.over_s).clamp(0.0, 1.0);
        let new_m = share * busy.hand.by_m - busy.told_m;
        let due = share >= 1.0
            || new_m.abs() >= TELL_S * self.pace.pace_m_per_s(busy.hand.line, busy.hand.by_m);
        if !due {
            return;
        }
        busy.told_m += new_m;
        let line = busy.hand.line;
        if share >= 1.0 {
            self.busy = None;
            self.free_at_s = at_s + 2.0;
        }
        let by = metres(new_m * self.dice.about(1.0, 0.1));
        self.say(engine, at_s, &CrewInput::Moved { line, by });
    }

    /// The next move that the most pressing advisory asks for, when hands are free.
    fn heed(&mut self, at_s: f64, advisories: &[Advisory]) -> Option<ScriptMove> {
        if self.busy.is_some() || at_s < self.free_at_s {
            return None;
        }
        let wanted = advisories.iter().find(|a| {
            a.outcome.is_none()
                && a.actions
                    .iter()
                    .any(|x| matches!(x, Action::MoveLine { .. }))
        })?;
        let (line, by_m, start_at) = wanted.actions.iter().find_map(|action| match action {
            Action::MoveLine {
                line,
                by_m,
                start_at,
                ..
            } => Some((*line, *by_m, *start_at)),
            _ => None,
        })?;
        let start_s = start_at.seconds_since(START);
        if start_s > at_s + self.pace.reaction_s {
            return None;
        }
        let hand = ScriptMove {
            start_s: start_s.max(at_s + self.pace.reaction_s),
            line,
            by_m,
            over_s: by_m.abs() / self.pace.pace_m_per_s(line, by_m),
            told: false,
        };
        self.busy = Some(Busy { hand, told_m: 0.0 });
        Some(hand)
    }
}

/// Plays the scene with hands that follow the plan; gives the moves they made.
fn followed(settings: &Settings, script: &Script, dice: &mut Dice) -> Outcome<Vec<ScriptMove>> {
    let mut chain = settings.engine()?;
    chain.feeds.clear();
    let mut engine = Engine::new(chain, Mode::Replay);
    let mut script = script.clone();
    let mut played = play(&script)?;
    let turn = script.turns[0];
    let told_s = turn.start_s - turn.announced_s.unwrap_or_default();
    let mut crew = Crew {
        pace: settings.forecast.hands,
        dice,
        sequence: 0,
        busy: None,
        free_at_s: 0.0,
    };
    let mut next_line = 0;
    for second in 1..=script.duration_s as u32 {
        let t_s = f64::from(second);
        let now = START.plus_seconds(t_s);
        while let Some((at, line)) = played.lines.get(next_line).filter(|(at, _)| *at <= now) {
            next_line += 1;
            if !line.starts_with("$P") {
                let _ = engine.take(Event::Line {
                    at: *at,
                    feed: "instruments",
                    text: line,
                });
            }
        }
        if second == 2 {
            let input = CrewInput::LinesOut {
                kite: Some(metres(script.kite_line_m * crew.dice.about(1.0, 0.03))),
                main: Some(metres(
                    script.main_line_m.unwrap_or_default() * crew.dice.about(1.0, 0.05),
                )),
            };
            crew.say(&mut engine, t_s, &input);
        }
        if [20, 45, 70].contains(&second) {
            let state = played.truth.series[2 * second as usize].bait();
            crew.say(&mut engine, t_s, &CrewInput::Bait(state));
        }
        if (told_s..told_s + 1.0).contains(&t_s) {
            let input = CrewInput::Turn {
                by: degrees(turn.by_rad.to_degrees()),
                rate: degrees_per_second(turn.rate_rad_s.to_degrees()),
                in_s: turn.start_s - t_s,
            };
            crew.say(&mut engine, t_s, &input);
        }
        crew.tell(&mut engine, t_s);
        let Some(picture) = engine.take(Event::Tick { at: now }) else {
            continue;
        };
        if let Some(hand) = crew.heed(t_s, &picture.snapshot.advisories) {
            script.moves.push(hand);
            // What has been heard so far stays as it was: the same seed, and hands begin later.
            played = play(&script)?;
        }
    }
    Ok(script.moves)
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
        let alone = skipping(&play(&script)?);
        let moves = followed(&settings, &script, &mut dice)?;
        let told = moves
            .iter()
            .map(|m| {
                format!(
                    "{:+.0} m {:?} at {:+.0} s",
                    m.by_m,
                    m.line,
                    m.start_s - TURN_S
                )
            })
            .collect::<Vec<_>>()
            .join(", ");
        if script.turns[0].by_rad.abs() <= MODEST_RAD {
            asked.push(moves.iter().map(|m| m.by_m.abs()).sum());
        }
        let planned = match play(&Script {
            moves,
            ..script.clone()
        }) {
            Ok(played) => skipping(&played),
            // A kite brought down by hands is no time skipped.
            Err(why) => {
                println!("  {why}");
                0.0
            }
        };
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
