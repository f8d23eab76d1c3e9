//! Ten minutes of a recorded boat in whose wind, with whose heading and speed, a drawn rig flies.
//!
//! A log is cut into stretches of ten minutes. Where all its wind is light, all speeds, wind and
//! boat, are multiplied by one factor. The true rig differs from the believed one as on invented
//! days and is drawn so that it trims at the start. The crew is scripted: 40 s after each turn and
//! every 150 s it trims the main line for the wind of the last 30 s. About half of the turns are
//! announced, with the angle to 5 degrees and the mean rate.

use std::path::Path;

use skimwatch::decode::{CrewInput, Line};
use skimwatch::feed::RawSentence;
use skimwatch::rig::{
    BoatMotion, Conditions, Current, LineLengths, MainLine, Rig, RigParameters, Run, RunEnd, State,
    Timeline, Wind, steady,
};
use skimwatch::scene::{ScriptMove, TruthRow};
use skimwatch::time::Millis;
use skimwatch::units::{degrees, degrees_per_second};

use crate::dice::{Dice, true_rig};
use crate::log::{HZ, Log, Moment};
use crate::{Outcome, START, TRIES};

pub const STRETCH_S: f64 = 600.0;
/// Height of the wind sensor; the settings agree.
pub const SENSOR_M: f64 = 9.0;
/// Wind profile over the sea: 0.11 (Hsu, Meindl and Gilhousen 1994; the value from memory).
const EXPONENT: f64 = 0.11;
/// A log whose median wind is lighter than this is used with greater speeds, up to that median.
const LIGHT_MPS: f64 = 5.0;
const LIFTED_MPS: f64 = 7.0;
/// Wind and boat speed of a usable stretch.
const WIND_MPS: std::ops::Range<f64> = 4.5..14.0;
const LEAST_WAY_MPS: f64 = 1.0;
/// Rate of turn from which the boat turns, least change and longest duration of a turn.
const TURNING_RAD_S: f64 = 0.0105;
const TURN_RAD: f64 = 0.349;
const TURN_S: f64 = 60.0;
/// The crew trims so long after a turn, and so often.
const AFTER_TURN_S: f64 = 40.0;
const EVERY_S: f64 = 150.0;
/// The wind that it trims for.
const LOOK_S: f64 = 30.0;
const HANDS_MPS: f64 = 1.2;
/// What it trims to.
pub const TRIMMED: MainLine = MainLine::Immersion(0.25);
/// Seeds of another rig are so far off.
const OTHER_RIG: u64 = 100_000_000;
/// Steps of the truth.
pub const ROW_S: f64 = 0.5;
const ROWS: u32 = (STRETCH_S / ROW_S) as u32;

/// What hangs there, and what the crew knows of it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Others {
    /// Which draw of the true rigs, crews and lines; each makes other days of the same stretches.
    pub rig: u32,
    /// The true rig is the believed one, and what the crew tells is exact: what a forecast then misses,
    /// it misses because of the wind and the helm to come.
    pub known: bool,
}

/// A turn in the heading.
#[derive(Debug, Clone, Copy)]
pub struct Turn {
    pub start_s: f64,
    pub over_s: f64,
    pub by_rad: f64,
    pub announced_s: Option<f64>,
}

impl Turn {
    /// From helm over until the crew would trim by the clock.
    pub fn span(&self) -> (f64, f64) {
        (self.start_s, self.start_s + self.over_s + AFTER_TURN_S)
    }

    /// As it is announced.
    pub fn told(&self, ahead_s: f64) -> CrewInput {
        CrewInput::Turn {
            by: degrees(5.0 * (self.by_rad.to_degrees() / 5.0).round()),
            rate: degrees_per_second((self.by_rad / self.over_s).abs().to_degrees()),
            in_s: ahead_s,
        }
    }
}

/// One stretch as it truly goes.
#[derive(Clone)]
pub struct Stretch<'a> {
    pub moments: &'a [Moment],
    pub kite_m: f64,
    pub main_m: f64,
    pub hands: Vec<ScriptMove>,
}

fn wind(air_mps: [f64; 2]) -> Wind {
    Wind {
        speed_10m_mps: air_mps[0].hypot(air_mps[1]) / (SENSOR_M / 10.0).powf(EXPONENT),
        from_rad: (-air_mps[0]).atan2(-air_mps[1]),
        shear_exponent: EXPONENT,
    }
}

impl Stretch<'_> {
    fn mix(&self, t_s: f64, of: impl Fn(&Moment) -> f64) -> f64 {
        let x = (t_s * HZ).clamp(0.0, (self.moments.len() - 1) as f64);
        let i = (x as usize).min(self.moments.len().saturating_sub(2));
        let (a, b) = (of(&self.moments[i]), of(&self.moments[i + 1]));
        a + (x - i as f64) * (b - a)
    }

    pub fn mean(&self, from_s: f64, to_s: f64, of: impl Fn(&Moment) -> f64) -> f64 {
        let range = (from_s.max(0.0) * HZ) as usize..=(to_s * HZ) as usize;
        let part = &self.moments[range];
        part.iter().map(of).sum::<f64>() / part.len() as f64
    }

    /// Settled surroundings between two moments; the heading is that of the end.
    pub fn settled(&self, from_s: f64, to_s: f64) -> Conditions {
        Conditions {
            wind: wind([0, 1].map(|k| self.mean(from_s, to_s, |m| m.air_mps[k]))),
            current: Current::default(),
            boat_speed_mps: self.mean(from_s, to_s, |m| m.speed_mps),
            heading_rad: self.mean((to_s - 5.0).max(from_s), to_s, |m| m.heading_rad),
            kite_line_out_m: self.kite_m,
        }
    }

    /// Line moved since the start.
    fn moved_m(&self, line: Line, t_s: f64) -> f64 {
        let of_line = self.hands.iter().filter(|hand| hand.line == line);
        let moved = of_line.map(|hand| {
            let share = (t_s - hand.start_s) / hand.over_s.max(0.1);
            hand.by_m * share.clamp(0.0, 1.0)
        });
        moved.sum()
    }

    pub fn main_at(&self, t_s: f64) -> f64 {
        self.main_m + self.moved_m(Line::Main, t_s)
    }
}

impl Timeline for Stretch<'_> {
    fn boat(&self, t_s: f64) -> BoatMotion {
        let heading = |t_s| self.mix(t_s, |m| m.heading_rad);
        BoatMotion {
            heading_rad: heading(t_s),
            yaw_rate_rad_s: heading(t_s + 0.5) - heading(t_s - 0.5),
            speed_mps: self.mix(t_s, |m| m.speed_mps),
        }
    }

    fn wind(&self, t_s: f64) -> Wind {
        wind([0, 1].map(|k| self.mix(t_s, |m| m.air_mps[k])))
    }

    fn lines(&self, t_s: f64) -> LineLengths {
        LineLengths {
            kite_m: self.kite_m + self.moved_m(Line::Kite, t_s),
            main_m: self.main_at(t_s),
        }
    }
}

/// Turns in the heading: rate of one sign, over four seconds, with a change that is large enough
/// within a minute.
fn turns(moments: &[Moment], dice: &mut Dice) -> Vec<Turn> {
    let at = |t_s: f64| {
        let i = (t_s.max(0.0) * HZ) as usize;
        moments[i.min(moments.len() - 1)].heading_rad
    };
    let rate = |t_s: f64| (at(t_s + 2.0) - at(t_s - 2.0)) / 4.0;
    let mut spans: Vec<(f64, f64)> = Vec::new();
    for step in 0..(2.0 * STRETCH_S) as usize {
        let t_s = f64::from(step as u32) / 2.0;
        if rate(t_s).abs() < TURNING_RAD_S {
            continue;
        }
        match spans.last_mut() {
            Some(last) if t_s - last.1 < 3.0 && rate(last.1) * rate(t_s) > 0.0 => last.1 = t_s,
            _ => spans.push((t_s, t_s)),
        }
    }
    spans
        .into_iter()
        .filter_map(|(start_s, end_s)| {
            let by_rad = at(end_s) - at(start_s);
            let over_s = (end_s - start_s).max(1.0);
            let within_minute = by_rad.abs() * (TURN_S / over_s).min(1.0);
            (within_minute >= TURN_RAD).then(|| Turn {
                start_s,
                over_s,
                by_rad,
                announced_s: (dice.between(0.0, 1.0) < 0.5)
                    .then(|| dice.between(15.0, 35.0))
                    .filter(|ahead_s| start_s - ahead_s > 5.0),
            })
        })
        .collect()
}

/// Trims the line as the crew does.
fn trim(stretch: &mut Stretch<'_>, rig: &Rig, turns: &[Turn]) {
    let mut wanted: Vec<f64> = turns
        .iter()
        .map(|turn| turn.start_s + turn.over_s + AFTER_TURN_S)
        .collect();
    wanted.extend(
        (1..)
            .map(|i| EVERY_S * f64::from(i))
            .take_while(|t| *t < STRETCH_S),
    );
    wanted.sort_by(f64::total_cmp);
    let mut free_s = LOOK_S;
    for at_s in wanted {
        let turning = turns
            .iter()
            .any(|turn| (turn.start_s..turn.start_s + turn.over_s).contains(&at_s));
        if turning || at_s < free_s || at_s > STRETCH_S - 20.0 {
            continue;
        }
        let conditions = stretch.settled(at_s - LOOK_S, at_s);
        let Ok(best) = steady(rig, &conditions, TRIMMED, None) else {
            continue;
        };
        let by_m = (best.main_line_m - stretch.main_at(at_s)).round();
        if by_m.abs() >= 1.0 && best.main_line_m < 300.0 {
            let hand = ScriptMove {
                start_s: at_s,
                line: Line::Main,
                by_m,
                over_s: by_m.abs() / HANDS_MPS,
                told: true,
            };
            free_s = at_s + hand.over_s + 20.0;
            stretch.hands.push(hand);
        }
    }
}

/// Rows of the truth; `None` when the kite does not stay up.
fn fly(stretch: &Stretch<'_>, rig: &Rig, state: State) -> Option<Vec<TruthRow>> {
    let (rows, end) = flown(stretch, rig, state);
    end.is_none().then_some(rows)
}

/// Rows of the truth up to the end of the stretch, or until the run of the rig ends, and why it does.
pub fn flown(stretch: &Stretch<'_>, rig: &Rig, state: State) -> (Vec<TruthRow>, Option<RunEnd>) {
    let mut run = Run::new(rig, stretch, state, 0.0);
    let mut end = None;
    let rows = (0..ROWS)
        .map_while(|i| {
            let t_s = f64::from(i) * ROW_S;
            let sample = run.advance_to(t_s).map_err(|why| end = Some(why)).ok()?;
            Some(TruthRow {
                t_s,
                bait_height_m: sample.bait_height_m,
                immersion: sample.immersion,
                kite_elevation_deg: sample.kite_elevation_rad.to_degrees(),
                heading_deg_true: sample.heading_rad.to_degrees().rem_euclid(360.0),
                main_line_out_m: stretch.main_at(t_s),
                sea: None,
            })
        })
        .collect();
    (rows, end)
}

/// A stretch with what hangs there, what is told of its turns, and how it goes with the scripted crew.
pub struct Drawn<'a> {
    pub rig: Rig,
    pub state: State,
    pub turns: Vec<Turn>,
    pub stretch: Stretch<'a>,
    pub rows: Vec<TruthRow>,
    pub dice: Dice,
    pub thrown: u64,
}

fn drawn<'a>(
    believed: &RigParameters,
    known: bool,
    moments: &'a [Moment],
    seed: u64,
) -> Option<Drawn<'a>> {
    (0..TRIES).find_map(|thrown| {
        let mut dice = Dice::new(seed * TRIES + thrown);
        let other = true_rig(believed, &mut dice);
        let rig = Rig::new(if known { believed } else { &other }).ok()?;
        let turns = turns(moments, &mut dice);
        let mut stretch = Stretch {
            moments,
            kite_m: dice.between(70.0, 110.0),
            main_m: 0.0,
            hands: Vec::new(),
        };
        let wanted = MainLine::Immersion(dice.between(0.15, 0.4));
        let start = steady(&rig, &stretch.settled(0.0, 10.0), wanted, None).ok()?;
        stretch.main_m = start.main_line_m;
        trim(&mut stretch, &rig, &turns);
        let rows = fly(&stretch, &rig, start.state.clone())?;
        Some(Drawn {
            rig,
            state: start.state,
            turns,
            stretch,
            rows,
            dice,
            thrown,
        })
    })
}

/// The sentences of one stretch, from its start.
pub fn sentences(log: &Log, first: usize) -> impl Iterator<Item = (Millis, &RawSentence)> {
    let from_s = first as f64 / HZ;
    log.sentences
        .iter()
        .filter(move |(at_s, _)| (from_s..from_s + STRETCH_S).contains(at_s))
        .map(move |(at_s, text)| (START.plus_seconds(at_s - from_s), text))
}

/// The factor for all speeds of a log.
fn speeds(log: &Log) -> f64 {
    let mut winds: Vec<f64> = log
        .moments
        .iter()
        .filter(|m| m.heard)
        .map(Moment::wind_mps)
        .collect();
    winds.sort_by(f64::total_cmp);
    match winds.get(winds.len() / 2) {
        Some(median) if *median < LIGHT_MPS => LIFTED_MPS / median.max(1.0),
        _ => 1.0,
    }
}

/// Makes something of every usable stretch of a log.
pub fn each_stretch(
    believed: &RigParameters,
    others: Others,
    path: &Path,
    mut make: impl FnMut(&Log, usize, &str, Drawn<'_>) -> Outcome<()>,
) -> Outcome<()> {
    let Others { rig, known } = others;
    let mut log = Log::open(path, 1.0)?;
    let speeds = speeds(&log);
    if speeds != 1.0 {
        log = Log::open(path, speeds)?;
    }
    let stem = path
        .file_stem()
        .map_or_else(String::new, |stem| stem.to_string_lossy().into_owned());
    println!(
        "{stem}: {:.0} s, all speeds x {speeds:.2}",
        log.moments.len() as f64 / HZ
    );
    let length = (STRETCH_S * HZ) as usize;
    let base = stem
        .bytes()
        .fold(0_u64, |sum, byte| 31 * (sum % 1_000_000) + u64::from(byte));
    let (mut first, mut number) = (0, 0_u32);
    while let Some(part) = log.moments.get(first..first + length) {
        if let Some(gap) = part.iter().rposition(|m| !m.heard) {
            first += gap + 1;
            continue;
        }
        let mean = |of: fn(&Moment) -> f64| part.iter().map(of).sum::<f64>() / length as f64;
        let usable =
            WIND_MPS.contains(&mean(Moment::wind_mps)) && mean(|m| m.speed_mps) > LEAST_WAY_MPS;
        let rigs = match rig {
            0 => String::new(),
            rig => format!("-rig{rig}"),
        };
        let name = format!("{stem}-{number:02}{rigs}.nmea");
        let seed = base + u64::from(number) + OTHER_RIG * u64::from(rig);
        let found = usable.then(|| drawn(believed, known, part, seed)).flatten();
        let Some(found) = found else {
            first += length / 5;
            continue;
        };
        make(&log, first, &name, found)?;
        first += length;
        number += 1;
    }
    Ok(())
}
