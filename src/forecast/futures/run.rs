//! Runs one future of one particle.

use super::noise::STEP_S;
use super::trace::{TRACE_S, Trace};
use super::ways::Way;
use crate::decode::Line;
use crate::forecast::filter::Particle;
use crate::forecast::sea::SeaAhead;
use crate::rig::{
    Accuracy, BoatMotion, LineLengths, Rig, Run, RunEnd, Sample, State, Structure, Timeline, Wind,
};
use crate::turn::HeadingProfile;

/// One correction as hands carry it out, at constant pace from start to end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Move {
    pub line: Line,
    pub by_m: f64,
    pub start_s: f64,
    pub over_s: f64,
}

impl Move {
    fn done_m(&self, t_s: f64) -> f64 {
        self.by_m * ((t_s - self.start_s) / self.over_s.max(0.1)).clamp(0.0, 1.0)
    }
}

/// Boat, air and hands from now on.
#[derive(Debug, Clone)]
pub struct Course<'a> {
    pub profile: HeadingProfile,
    pub speed_mps: f64,
    /// Heading about the profile and speed, every [`STEP_S`]; empty for neither wander nor drift.
    pub ways: &'a [Way],
    pub winds: &'a [Wind],
    pub lines: LineLengths,
    pub moves: &'a [Move],
    pub structures: &'a [Structure],
    pub sea: Option<SeaAhead>,
}

/// The two steps of a path (one every [`STEP_S`]) on either side of a moment, and the share of the
/// way from the first to the second. `None` when there are not two.
fn between<T>(path: &[T], t_s: f64) -> Option<(&T, &T, f64)> {
    let x = (t_s / STEP_S).max(0.0);
    let i = (x as usize).min(path.len().saturating_sub(2));
    let share = (x - i as f64).clamp(0.0, 1.0);
    Some((path.get(i)?, path.get(i + 1)?, share))
}

impl Timeline for Course<'_> {
    fn boat(&self, t_s: f64) -> BoatMotion {
        let motion = self.profile.motion(t_s);
        let Some((a, b, share)) = between(self.ways, t_s) else {
            return BoatMotion {
                heading_rad: motion.heading_rad,
                yaw_rate_rad_s: motion.yaw_rate_rad_s,
                speed_mps: self.speed_mps,
            };
        };
        let off_by = b.off_rad - a.off_rad;
        BoatMotion {
            heading_rad: motion.heading_rad + a.off_rad + share * off_by,
            yaw_rate_rad_s: motion.yaw_rate_rad_s + off_by / STEP_S,
            speed_mps: self.speed_mps * (a.speed_share + share * (b.speed_share - a.speed_share)),
        }
    }

    fn wind(&self, t_s: f64) -> Wind {
        match (between(self.winds, t_s), self.winds.first()) {
            (Some((a, b, share)), _) => Wind {
                speed_10m_mps: a.speed_10m_mps + share * (b.speed_10m_mps - a.speed_10m_mps),
                from_rad: a.from_rad + share * (b.from_rad - a.from_rad),
                shear_exponent: a.shear_exponent,
            },
            (None, Some(only)) => *only,
            // Never built without wind; a wind that is not finite ends the run with an error.
            (None, None) => Wind {
                speed_10m_mps: f64::NAN,
                from_rad: 0.0,
                shear_exponent: 0.0,
            },
        }
    }

    fn lines(&self, t_s: f64) -> LineLengths {
        let mut lines = self.lines;
        for step in self.moves {
            match step.line {
                Line::Kite => lines.kite_m += step.done_m(t_s),
                Line::Main => lines.main_m += step.done_m(t_s),
            }
        }
        lines
    }
}

/// Where the boat goes over the water, east and north, every [`TRACE_S`].
fn boat_path(course: &Course<'_>, count: usize) -> Vec<[f64; 2]> {
    let mut place = [0.0, 0.0];
    let step = |i: usize| {
        let here = place;
        let motion = course.boat((i as f64 + 0.5) * TRACE_S);
        let (sin, cos) = motion.heading_rad.sin_cos();
        place[0] += motion.speed_mps * sin * TRACE_S;
        place[1] += motion.speed_mps * cos * TRACE_S;
        here
    };
    (0..count).map(step).collect()
}

/// Runs a future to the horizon. `None` when the particle has no rig or state to start from.
pub fn run(particle: &Particle, course: Course<'_>, horizon_s: f64) -> Option<Trace> {
    let (rig, state) = (particle.rig.as_ref()?, particle.state.clone()?);
    Some(run_from(rig, state, course, horizon_s, |_, _| {}))
}

/// The same from any rig and state; `look` is called with every sample.
pub fn run_from(
    rig: &Rig,
    state: State,
    course: Course<'_>,
    horizon_s: f64,
    mut look: impl FnMut(f64, &Sample),
) -> Trace {
    let count = (horizon_s / TRACE_S).floor() as usize + 1;
    let mut trace = Trace::in_sea(rig, course.sea);
    let structures = course.structures;
    let boat_path_m = boat_path(&course, count);
    let mut run = Run::with_accuracy(rig, course, state, 0.0, Accuracy::COARSE);
    for (i, boat_m) in boat_path_m.into_iter().enumerate() {
        let t_s = i as f64 * TRACE_S;
        match run.advance_to(t_s) {
            Ok(sample) => {
                trace.note(rig, structures, &sample, boat_m);
                look(t_s, &sample);
            }
            Err(end) => {
                trace.kite_down =
                    matches!(end, RunEnd::KiteInWater { .. } | RunEnd::KiteFalls { .. });
                trace.ended_s = Some(t_s);
                break;
            }
        }
    }
    let (steps, newton_steps) = run.effort();
    tracing::trace!(steps, newton_steps, "run");
    trace.hold(count);
    trace
}
