//! The script of a scene, and playing it through the rig model.

use std::f64::consts::TAU;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde::Serialize;

use super::instruments::{Instant, Panel};
use crate::decode::{CrewInput, Line, encode_crew};
use crate::rig::{
    BoatMotion, Conditions, Current, LinesOut, MainLine, Rig, RigError, RigParameters, Run,
    Scenario, Timeline, Wind, steady,
};
use crate::time::Millis;

/// Step of the gust record and of the truth, seconds.
const STEP_S: f64 = 0.5;

/// First-order autoregressive gusts (Ornstein-Uhlenbeck), as physics of the air near the sea
/// is commonly simulated; all zero for still conditions.
#[derive(Debug, Clone, Copy, Default)]
pub struct Gusts {
    /// Standard deviation of speed as a share of the mean.
    pub speed_share: f64,
    /// Correlation time of speed.
    pub speed_time_s: f64,
    /// Standard deviation of direction.
    pub direction_rad: f64,
    /// Correlation time of direction.
    pub direction_time_s: f64,
}

/// A lasting change of the wind.
#[derive(Debug, Clone, Copy)]
pub struct Shift {
    /// When it begins.
    pub start_s: f64,
    /// How long it takes.
    pub over_s: f64,
    /// Change of direction, + clockwise.
    pub by_rad: f64,
    /// Change of speed, as a factor on the mean.
    pub speed_factor: f64,
}

/// A turn of the boat.
#[derive(Debug, Clone, Copy)]
pub struct ScriptTurn {
    /// When the helm goes over.
    pub start_s: f64,
    /// Change of heading, + to starboard.
    pub by_rad: f64,
    /// Commanded rate, positive.
    pub rate_rad_s: f64,
    /// Time constant of the boat's yaw.
    pub yaw_time_s: f64,
    /// How long before it the crew announces it; `None` when it is only seen under way.
    pub announced_s: Option<f64>,
}

impl ScriptTurn {
    /// Heading change and yaw rate at `t_s`: the response of a first-order lag to a box.
    fn at(&self, t_s: f64) -> (f64, f64) {
        let rate = self.rate_rad_s.copysign(self.by_rad);
        let length = (self.by_rad / rate).abs();
        let ramp = |t: f64| {
            if t <= 0.0 {
                (0.0, 0.0)
            } else {
                let decay = (-t / self.yaw_time_s).exp();
                (
                    rate * (t - self.yaw_time_s * (1.0 - decay)),
                    rate * (1.0 - decay),
                )
            }
        };
        let t = t_s - self.start_s;
        let (up, down) = (ramp(t), ramp(t - length));
        (up.0 - down.0, up.1 - down.1)
    }
}

/// Line given or taken at a steady pace.
#[derive(Debug, Clone, Copy)]
pub struct ScriptMove {
    /// When hands begin.
    pub start_s: f64,
    /// Which line.
    pub line: Line,
    /// + given, - taken.
    pub by_m: f64,
    /// How long it takes.
    pub over_s: f64,
    /// Whether the crew tells; told when done.
    pub told: bool,
}

/// Errors and habits of the boat's instruments.
#[derive(Debug, Clone, Copy)]
pub struct Instruments {
    /// Height of the wind sensor.
    pub sensor_height_m: f64,
    /// Constant error of the wind angle.
    pub wind_angle_bias_rad: f64,
    /// Noise of the wind angle, standard deviation.
    pub wind_angle_noise_rad: f64,
    /// Noise of the wind speed, share of it.
    pub wind_speed_noise_share: f64,
    /// Noise of the heading.
    pub heading_noise_rad: f64,
    /// Noise of the rate of turn.
    pub rate_noise_rad_s: f64,
    /// Sentences of a kind a second.
    pub rate_hz: f64,
}

impl Default for Instruments {
    /// Invented, typical of small-boat instruments at 1 Hz.
    fn default() -> Self {
        Self {
            sensor_height_m: 6.0,
            wind_angle_bias_rad: 0.0,
            wind_angle_noise_rad: 1.0_f64.to_radians(),
            wind_speed_noise_share: 0.02,
            heading_noise_rad: 0.4_f64.to_radians(),
            rate_noise_rad_s: 0.3_f64.to_radians(),
            rate_hz: 1.0,
        }
    }
}

impl Instruments {
    /// Instruments without error, at the same height and rate.
    #[must_use]
    pub fn without_noise(self) -> Self {
        Self {
            wind_angle_bias_rad: 0.0,
            wind_angle_noise_rad: 0.0,
            wind_speed_noise_share: 0.0,
            heading_noise_rad: 0.0,
            rate_noise_rad_s: 0.0,
            ..self
        }
    }
}

/// A whole scene.
#[derive(Debug, Clone)]
pub struct Script {
    /// Moment of second 0.
    pub start: Millis,
    /// How long it lasts.
    pub duration_s: f64,
    /// Seed of gusts and noise.
    pub seed: u64,
    /// The true rig.
    pub rig: RigParameters,
    /// Mean wind over the ground.
    pub wind: Wind,
    /// Gusts on it.
    pub gusts: Gusts,
    /// Lasting changes of it.
    pub shifts: Vec<Shift>,
    /// Current.
    pub current: Current,
    /// Speed through the water.
    pub boat_speed_mps: f64,
    /// Heading at the start, true.
    pub heading_rad: f64,
    /// Kite line out at the start.
    pub kite_line_m: f64,
    /// Main line out at the start; `None` to trim for immersion 0.25.
    pub main_line_m: Option<f64>,
    /// Turns, in order, not overlapping.
    pub turns: Vec<ScriptTurn>,
    /// What hands do.
    pub moves: Vec<ScriptMove>,
    /// What the crew says besides turns and moves, with the second at which it is said.
    pub says: Vec<(f64, CrewInput)>,
    /// Whether the crew also says what the bait truly does, every so many seconds.
    pub bait_reports_every_s: Option<f64>,
    /// Instruments.
    pub instruments: Instruments,
}

/// True state at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TruthRow {
    /// Seconds from the start.
    pub t_s: f64,
    /// Bait above the water.
    pub bait_height_m: f64,
    /// Immersion of the bait.
    pub immersion: f64,
    /// Kite elevation.
    pub kite_elevation_deg: f64,
    /// True heading.
    pub heading_deg_true: f64,
    /// Main line out.
    pub main_line_out_m: f64,
}

/// A turn as it truly was.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TurnTruth {
    /// When the helm went over.
    pub start_s: f64,
    /// Change of heading, + to starboard.
    pub by_deg: f64,
    /// Commanded rate.
    pub rate_deg_s: f64,
    /// How long before it it was told; `null` when not.
    pub told_ahead_s: Option<f64>,
}

/// The truth beside a recording, for scoring.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Truth {
    /// Turns.
    pub turns: Vec<TurnTruth>,
    /// Height of the wind sensor.
    pub mast_height_m: f64,
    /// Names of the columns of `series`.
    pub columns: [&'static str; 6],
    /// One row every half second.
    pub series: Vec<[f64; 6]>,
}

impl Script {
    /// A boat on a straight course in a still beam wind, trimmed, with exact instruments and a
    /// crew that says what the bait does.
    #[must_use]
    pub fn straight(start: Millis, rig: RigParameters, duration_s: f64) -> Self {
        Self {
            start,
            duration_s,
            seed: 1,
            rig,
            wind: Wind {
                speed_10m_mps: 8.0,
                from_rad: 0.0,
                shear_exponent: 0.11,
            },
            gusts: Gusts::default(),
            shifts: Vec::new(),
            current: Current {
                set_rad: 0.0,
                drift_mps: 0.0,
            },
            boat_speed_mps: 3.0,
            heading_rad: std::f64::consts::FRAC_PI_2,
            kite_line_m: 90.0,
            main_line_m: None,
            turns: Vec::new(),
            moves: Vec::new(),
            says: Vec::new(),
            bait_reports_every_s: Some(60.0),
            instruments: Instruments::default().without_noise(),
        }
    }

    /// A scenario of the rig model as a scene: its boat, air and rig, one turn at most, still
    /// air, exact instruments.
    #[must_use]
    pub fn from_scenario(scenario: &Scenario) -> Self {
        Self {
            wind: scenario.wind(),
            current: scenario.current(),
            boat_speed_mps: scenario.boat.speed_through_water_mps,
            heading_rad: scenario.boat.heading_deg_true.to_radians(),
            kite_line_m: scenario.kite_line.out_m,
            main_line_m: scenario.main_line.out_m,
            turns: scenario
                .boat
                .turn
                .iter()
                .map(|turn| ScriptTurn {
                    start_s: turn.start_s,
                    by_rad: turn.by_deg.to_radians(),
                    rate_rad_s: turn.rate_deg_s.to_radians(),
                    yaw_time_s: turn.yaw_time_constant_s,
                    announced_s: None,
                })
                .collect(),
            ..Self::straight(Millis(0), scenario.rig_parameters(), scenario.duration_s)
        }
    }
}

/// What a scene gives.
#[derive(Debug, Clone)]
pub struct Played {
    /// Sentences with the moments of their arrival, in order. No line ends.
    pub lines: Vec<(Millis, String)>,
    /// The truth.
    pub truth: Truth,
}

/// Why a scene cannot be played.
#[derive(Debug, thiserror::Error)]
pub enum SceneError {
    /// The rig's parameters are not acceptable.
    #[error("the rig of the scene: {0}")]
    Rig(String),
    /// There is no settled state to start from.
    #[error("the scene cannot start: {0}")]
    Start(String),
    /// The run ended early.
    #[error("the scene ended at {t_s:.1} s: {why}")]
    Ended {
        /// When.
        t_s: f64,
        /// Why.
        why: String,
    },
}

impl SceneError {
    #[allow(clippy::needless_pass_by_value, reason = "fits map_err")]
    pub(super) fn from_rig(errors: Vec<RigError>) -> Self {
        let words: Vec<_> = errors.iter().map(ToString::to_string).collect();
        Self::Rig(words.join("; "))
    }
}

struct ScriptTimeline<'a> {
    script: &'a Script,
    main_at_start_m: f64,
    gusts: Vec<(f64, f64)>,
}

impl ScriptTimeline<'_> {
    fn gust(&self, t_s: f64) -> (f64, f64) {
        let x = (t_s / STEP_S).max(0.0);
        let i = (x as usize).min(self.gusts.len().saturating_sub(2));
        let (Some(a), Some(b)) = (self.gusts.get(i), self.gusts.get(i + 1)) else {
            return (0.0, 0.0);
        };
        let f = (x - i as f64).clamp(0.0, 1.0);
        (a.0 + f * (b.0 - a.0), a.1 + f * (b.1 - a.1))
    }
}

impl Timeline for ScriptTimeline<'_> {
    fn boat(&self, t_s: f64) -> BoatMotion {
        let (by, rate) = self
            .script
            .turns
            .iter()
            .map(|turn| turn.at(t_s))
            .fold((0.0, 0.0), |sum, turn| (sum.0 + turn.0, sum.1 + turn.1));
        BoatMotion {
            heading_rad: self.script.heading_rad + by,
            yaw_rate_rad_s: rate,
            speed_mps: self.script.boat_speed_mps,
        }
    }

    fn wind(&self, t_s: f64) -> Wind {
        let mut wind = self.script.wind;
        for shift in &self.script.shifts {
            let f = ((t_s - shift.start_s) / shift.over_s.max(STEP_S)).clamp(0.0, 1.0);
            wind.from_rad += f * shift.by_rad;
            wind.speed_10m_mps *= 1.0 + f * (shift.speed_factor - 1.0);
        }
        let (speed, direction) = self.gust(t_s);
        wind.speed_10m_mps *= (1.0 + self.script.gusts.speed_share * speed).max(0.2);
        wind.from_rad += self.script.gusts.direction_rad * direction;
        wind
    }

    fn lines(&self, t_s: f64) -> LinesOut {
        let mut lines = LinesOut {
            kite_m: self.script.kite_line_m,
            main_m: self.main_at_start_m,
        };
        for hand in &self.script.moves {
            let f = ((t_s - hand.start_s) / hand.over_s.max(STEP_S)).clamp(0.0, 1.0);
            match hand.line {
                Line::Kite => lines.kite_m += f * hand.by_m,
                Line::Main => lines.main_m += f * hand.by_m,
            }
        }
        lines
    }
}

/// Standard normal variate (Box and Muller, 1958).
pub(super) fn normal(rng: &mut ChaCha8Rng) -> f64 {
    let u: f64 = 1.0 - rng.random::<f64>();
    let v: f64 = rng.random();
    (-2.0 * u.ln()).sqrt() * (TAU * v).cos()
}

fn gust_record(script: &Script, rng: &mut ChaCha8Rng) -> Vec<(f64, f64)> {
    let n = (script.duration_s / STEP_S) as usize + 2;
    let step = |time_s: f64| {
        let keep = if time_s > 0.0 {
            (-STEP_S / time_s).exp()
        } else {
            0.0
        };
        (keep, (1.0 - keep * keep).sqrt())
    };
    let (a, b) = step(script.gusts.speed_time_s);
    let (c, d) = step(script.gusts.direction_time_s);
    let mut state = (0.0, 0.0);
    (0..n)
        .map(|_| {
            let now = state;
            state = (a * state.0 + b * normal(rng), c * state.1 + d * normal(rng));
            now
        })
        .collect()
}

/// Plays a script through the rig model.
///
/// # Errors
/// When the rig is not acceptable, no settled state exists at the start, or the run ends early.
pub fn play(script: &Script) -> Result<Played, SceneError> {
    let rig = Rig::new(&script.rig).map_err(SceneError::from_rig)?;
    let conditions = Conditions {
        wind: script.wind,
        current: script.current,
        boat_speed_mps: script.boat_speed_mps,
        heading_rad: script.heading_rad,
        kite_line_out_m: script.kite_line_m,
    };
    let main_line = script
        .main_line_m
        .map_or(MainLine::Immersion(0.25), MainLine::Out);
    let settled = steady(&rig, &conditions, main_line, None)
        .map_err(|none| SceneError::Start(none.to_string()))?;

    let mut rng = ChaCha8Rng::seed_from_u64(script.seed);
    let timeline = ScriptTimeline {
        script,
        main_at_start_m: settled.main_line_m,
        gusts: gust_record(script, &mut rng),
    };
    let mut run = Run::new(&rig, &timeline, settled.state, 0.0);
    let mut panel = Panel::new(script);
    let mut lines = Vec::new();
    let mut series = Vec::new();
    let mut crew = crew_schedule(script, settled.main_line_m);
    let mut next_report_s = script.bait_reports_every_s.map(|_| 4.0);

    let steps = (script.duration_s / STEP_S).floor() as usize;
    for i in 0..=steps {
        let t_s = i as f64 * STEP_S;
        let sample = run.advance_to(t_s).map_err(|end| SceneError::Ended {
            t_s,
            why: end.to_string(),
        })?;
        let out = timeline.lines(t_s);
        series.push([
            t_s,
            round(sample.bait_height_m, 1000.0),
            round(sample.immersion, 1000.0),
            round(sample.kite_elevation_rad.to_degrees(), 100.0),
            round(sample.heading_rad.to_degrees().rem_euclid(360.0), 100.0),
            round(out.main_m, 1000.0),
        ]);
        if let (Some(at_s), Some(every_s)) = (next_report_s, script.bait_reports_every_s)
            && t_s >= at_s
        {
            crew.push((t_s, CrewInput::Bait(bait_state(sample.immersion))));
            next_report_s = Some(at_s + every_s);
        }
        // Instruments quicker than the truth's rows write in between.
        let looks = (STEP_S * script.instruments.rate_hz).ceil().max(1.0) as u32;
        for look in 0..looks {
            let t_s = t_s + STEP_S * f64::from(look) / f64::from(looks);
            panel.write(
                &Instant {
                    t_s,
                    boat: timeline.boat(t_s),
                    wind: timeline.wind(t_s),
                },
                &mut rng,
                &mut lines,
            );
        }
    }
    crew.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (sequence, (t_s, input)) in (1..).zip(crew) {
        lines.push((
            script.start.plus_seconds(t_s),
            encode_crew(&input, sequence),
        ));
    }
    lines.sort_by_key(|line| line.0);
    Ok(Played {
        lines,
        truth: Truth {
            turns: script.turns.iter().map(turn_truth).collect(),
            mast_height_m: script.instruments.sensor_height_m,
            columns: [
                "t_s",
                "bait_height_m",
                "immersion",
                "kite_elevation_deg",
                "heading_deg_true",
                "main_line_out_m",
            ],
            series,
        },
    })
}

fn round(value: f64, per_unit: f64) -> f64 {
    (value * per_unit).round() / per_unit
}

fn turn_truth(turn: &ScriptTurn) -> TurnTruth {
    TurnTruth {
        start_s: turn.start_s,
        by_deg: turn.by_rad.to_degrees(),
        rate_deg_s: turn.rate_rad_s.to_degrees(),
        told_ahead_s: turn.announced_s,
    }
}

/// The state a crew would name: 0 is airborne, 0.7 and more dragging, else skipping.
fn bait_state(immersion: f64) -> crate::decode::BaitState {
    use crate::decode::BaitState;
    if immersion <= 0.0 {
        BaitState::Airborne
    } else if immersion >= 0.7 {
        BaitState::Dragging
    } else {
        BaitState::Skipping
    }
}

fn crew_schedule(script: &Script, main_line_m: f64) -> Vec<(f64, CrewInput)> {
    use crate::units::{degrees, degrees_per_second, metres};
    let mut crew = script.says.clone();
    crew.push((
        1.0,
        CrewInput::LinesOut {
            kite: Some(metres(script.kite_line_m)),
            main: Some(metres(round(main_line_m, 10.0))),
        },
    ));
    for turn in &script.turns {
        if let Some(ahead_s) = turn.announced_s {
            let told_s = (turn.start_s - ahead_s).max(1.5);
            crew.push((
                told_s,
                CrewInput::Turn {
                    by: degrees(turn.by_rad.to_degrees()),
                    rate: degrees_per_second(turn.rate_rad_s.to_degrees()),
                    in_s: turn.start_s - told_s,
                },
            ));
        }
    }
    for hand in script.moves.iter().filter(|hand| hand.told) {
        crew.push((
            hand.start_s + hand.over_s,
            CrewInput::Moved {
                line: hand.line,
                by: metres(hand.by_m),
            },
        ));
    }
    crew
}
