//! Plays a script through the rig model: what instruments and crew say, and the truth.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

use super::instruments::{Instant, Panel};
use super::noise::normal;
use super::script::Script;
use super::truth::{Truth, TruthAtSea, TruthRow, round};
use crate::angles::wrap_positive_deg;
use crate::decode::{BaitState, CrewInput, Line, encode_crew};
use crate::rig::{
    Accuracy, AtSea, BaitWindow, BoatMotion, Conditions, LineLengths, MainLine, Rig, RigError, Run,
    RunEnd, SEA_BEFORE_S, SEA_SAMPLE_S, Sample, Seaway, State, Timeline, Wind, WindowState, steady,
};
use crate::time::Millis;

/// Step of the gust record and of the truth, seconds.
const STEP_S: f64 = 0.5;

/// A move is told in steps not longer than this.
const TELL_S: f64 = 4.0;

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

    fn lines(&self, t_s: f64) -> LineLengths {
        let mut lines = LineLengths {
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
    let at_sea = (!script.waves.is_empty()).then(|| {
        let sea = Seaway::new(&script.waves, script.seed);
        AtSea::growing(&timeline, sea, false, script.duration_s)
    });
    let mut bait = Bait::begin(&rig, &timeline, at_sea.as_ref(), script, settled.state);
    let mut panel = Panel::new(script, at_sea.as_ref().map(|at_sea| &at_sea.ride));
    let mut lines = Vec::new();
    let mut series = Vec::new();
    let mut crew = crew_schedule(script, settled.main_line_m);
    let mut next_report_s = script.bait_reports_every_s.map(|_| 4.0);

    let steps = (script.duration_s / STEP_S).floor() as usize;
    for i in 0..=steps {
        let t_s = i as f64 * STEP_S;
        let (sample, window) = bait.advance_to(t_s)?;
        let out = timeline.lines(t_s);
        let row = TruthRow {
            t_s,
            bait_height_m: sample.bait_height_m,
            immersion: sample.immersion,
            kite_elevation_deg: sample.kite_elevation_rad.to_degrees(),
            heading_deg_true: wrap_positive_deg(sample.heading_rad.to_degrees()),
            main_line_out_m: out.main_m,
            sea: at_sea.as_ref().map(|_| TruthAtSea {
                water_at_bait_m: sample.water_at_bait_m,
                state: window.map(bait_state),
            }),
        };
        series.push(row);
        if let (Some(at_s), Some(every_s)) = (next_report_s, script.bait_reports_every_s)
            && t_s >= at_s
        {
            crew.push((t_s, CrewInput::Bait(row.bait())));
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
        truth: Truth::new(
            script.turns.iter().map(Into::into).collect(),
            script.instruments.sensor_height_m,
            bait.window.map(|window| window.length_s()),
            series,
        ),
    })
}

/// The rig on its way, and in a sea what the last samples show of its bait.
struct Bait<'a> {
    run: Run<'a, &'a dyn Timeline>,
    window: Option<BaitWindow>,
    last: Option<WindowState>,
    t_s: f64,
}

impl<'a> Bait<'a> {
    /// At second 0, or in a sea so long before it that the rig has got used to the waves.
    fn begin(
        rig: &'a Rig,
        flat: &'a ScriptTimeline<'a>,
        at_sea: Option<&'a AtSea<&'a ScriptTimeline<'a>>>,
        script: &Script,
        state: State,
    ) -> Self {
        let Some(at_sea) = at_sea else {
            let timeline: &dyn Timeline = flat;
            return Self {
                run: Run::new(rig, timeline, state, 0.0),
                window: None,
                last: None,
                t_s: 0.0,
            };
        };
        Self {
            run: Run::with_accuracy(rig, at_sea, state, -SEA_BEFORE_S, Accuracy::WAVES),
            window: Some(BaitWindow::new(&script.waves)),
            last: None,
            t_s: -SEA_BEFORE_S,
        }
    }

    fn advance_to(&mut self, t_s: f64) -> Result<(Sample, Option<WindowState>), SceneError> {
        let ended = |end: RunEnd| SceneError::Ended {
            t_s,
            why: end.to_string(),
        };
        if let Some(window) = &mut self.window {
            let steps = ((t_s - self.t_s) / SEA_SAMPLE_S).round() as usize;
            for i in 1..steps {
                let at_s = self.t_s + i as f64 * SEA_SAMPLE_S;
                self.last = window.push(self.run.advance_to(at_s).map_err(ended)?.immersion);
            }
        }
        self.t_s = t_s;
        let sample = self.run.advance_to(t_s).map_err(ended)?;
        if let Some(window) = &mut self.window {
            self.last = window.push(sample.immersion);
        }
        Ok((sample, self.last))
    }
}

fn bait_state(window: WindowState) -> BaitState {
    if window.airborne() {
        BaitState::Airborne
    } else if window.dragging() {
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
        let steps = (hand.over_s / TELL_S).ceil().max(1.0);
        for step in 1..=steps as u32 {
            crew.push((
                hand.start_s + hand.over_s * f64::from(step) / steps,
                CrewInput::Moved {
                    line: hand.line,
                    by: metres(hand.by_m / steps),
                },
            ));
        }
    }
    crew
}
