//! One future of one member, and the trouble in it.

use super::member::{Member, Running, off_astern_rad};
use super::settings::ForecastSettings;
use super::strain::Strain;
use crate::decode::Line;
use crate::rig::{
    Accuracy, BoatMotion, LineLengths, Rig, Run, Sample, State, Structure, Timeline, Wind,
};
use crate::turn::HeadingProfile;

/// Interval of the traces.
pub(super) const TRACE_S: f64 = 1.0;

/// Position error of a decimetre per step: members differ by metres, and this halves the cost.
const ACCURACY: Accuracy = Accuracy {
    place_m: 0.12,
    longest_step_s: 2.0,
};

/// One correction as hands carry it out, at constant pace from start to end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Move {
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
pub(super) struct Course<'a> {
    pub profile: HeadingProfile,
    pub speed_mps: f64,
    pub winds: &'a [Wind],
    pub lines: Running,
    pub moves: &'a [Move],
    pub structures: &'a [Structure],
}

impl Timeline for Course<'_> {
    fn boat(&self, t_s: f64) -> BoatMotion {
        let motion = self.profile.motion(t_s);
        BoatMotion {
            heading_rad: motion.heading_rad,
            yaw_rate_rad_s: motion.yaw_rate_rad_s,
            speed_mps: self.speed_mps,
        }
    }

    fn wind(&self, t_s: f64) -> Wind {
        let x = (t_s / super::air::STEP_S).max(0.0);
        let i = (x as usize).min(self.winds.len().saturating_sub(2));
        match (self.winds.get(i), self.winds.get(i + 1)) {
            (Some(a), Some(b)) => {
                let share = (x - i as f64).clamp(0.0, 1.0);
                Wind {
                    speed_10m_mps: a.speed_10m_mps + share * (b.speed_10m_mps - a.speed_10m_mps),
                    from_rad: a.from_rad + share * (b.from_rad - a.from_rad),
                    shear_exponent: a.shear_exponent,
                }
            }
            (Some(only), None) => *only,
            // Never built without wind; a wind that is not finite ends the run with an error.
            _ => Wind {
                speed_10m_mps: f64::NAN,
                from_rad: 0.0,
                shear_exponent: 0.0,
            },
        }
    }

    fn lines(&self, t_s: f64) -> LineLengths {
        let mut lines = self.lines.at(t_s);
        for step in self.moves {
            match step.line {
                Line::Kite => lines.kite_m += step.done_m(t_s),
                Line::Main => lines.main_m += step.done_m(t_s),
            }
        }
        lines
    }
}

/// One future, sampled each [`TRACE_S`].
#[derive(Debug, Clone, Default)]
pub(super) struct Trace {
    pub immersion: Vec<f64>,
    pub bait_height_m: Vec<f64>,
    pub elevation_deg: Vec<f64>,
    pub off_astern_deg: Vec<f64>,
    pub wet: Vec<bool>,
    pub strain: Strain,
    /// The kite came down or the model gave up before the horizon: seconds.
    pub ended_s: Option<f64>,
    pub kite_down: bool,
}

impl Trace {
    fn note(&mut self, rig: &Rig, structures: &[Structure], sample: &Sample) {
        self.immersion.push(sample.immersion);
        self.bait_height_m.push(sample.bait_height_m.max(-50.0));
        self.elevation_deg
            .push(sample.kite_elevation_rad.to_degrees());
        self.off_astern_deg
            .push(off_astern_rad(sample).to_degrees());
        self.wet.push(sample.line_wet_fraction > 0.0);
        self.strain.note(rig, structures, sample);
    }

    /// Holds the last known values to the horizon.
    fn hold(&mut self, count: usize) {
        for series in [
            &mut self.immersion,
            &mut self.bait_height_m,
            &mut self.elevation_deg,
            &mut self.off_astern_deg,
        ] {
            let last = series.last().copied().unwrap_or(0.0);
            series.resize(count, last);
        }
        let last = self.wet.last().copied().unwrap_or(false);
        self.wet.resize(count, last);
        self.strain.hold(count);
    }

    /// First time that `holds` for at least `least_s`.
    pub(super) fn first_run(&self, least_s: f64, holds: impl Fn(usize) -> bool) -> Option<f64> {
        let need = (least_s / TRACE_S).round() as usize;
        let mut since = None;
        for i in 0..self.immersion.len() {
            if !holds(i) {
                since = None;
                continue;
            }
            let first = *since.get_or_insert(i);
            if i - first >= need {
                return Some(first as f64 * TRACE_S);
            }
        }
        None
    }

    pub fn airborne_at_s(&self, settings: &ForecastSettings) -> Option<f64> {
        self.first_run(settings.event_s, |i| self.immersion[i] <= 0.0)
    }

    pub fn dragging_at_s(&self, settings: &ForecastSettings) -> Option<f64> {
        self.first_run(settings.event_s, |i| {
            self.immersion[i] >= settings.dragging_immersion
        })
    }

    pub fn sinking_at_s(&self, settings: &ForecastSettings) -> Option<f64> {
        let low = self.first_run(settings.event_s, |i| {
            self.elevation_deg[i] < settings.kite_sinking_deg
        });
        match (low, self.ended_s) {
            (Some(low), _) => Some(low),
            (None, Some(end)) if self.kite_down => Some(end),
            _ => None,
        }
    }

    pub fn off_corner_at_s(&self, settings: &ForecastSettings) -> Option<f64> {
        let first = *self.off_astern_deg.first()?;
        if !settings.bite_zone.holds(first) {
            return None;
        }
        self.first_run(10.0, |i| !settings.bite_zone.holds(self.off_astern_deg[i]))
    }

    pub fn wet_at_s(&self) -> Option<f64> {
        self.first_run(2.0, |i| self.wet[i])
    }

    /// Share of the time in which the bait skips.
    pub fn skipping(&self, settings: &ForecastSettings) -> f64 {
        let skips = self
            .immersion
            .iter()
            .filter(|s| **s > 0.0 && **s < settings.dragging_immersion)
            .count();
        skips as f64 / self.immersion.len().max(1) as f64
    }
}

/// Runs a future to the horizon. `None` when the member has no rig or state to start from.
pub(super) fn run(member: &Member, course: Course<'_>, horizon_s: f64) -> Option<Trace> {
    let (rig, state) = (member.rig.as_ref()?, member.state.clone()?);
    Some(run_from(rig, state, course, horizon_s, |_, _| {}))
}

/// The same from any rig and state; `look` is called with every sample.
pub(super) fn run_from(
    rig: &Rig,
    state: State,
    course: Course<'_>,
    horizon_s: f64,
    mut look: impl FnMut(f64, &Sample),
) -> Trace {
    let count = (horizon_s / TRACE_S).floor() as usize + 1;
    let mut trace = Trace::default();
    let structures = course.structures;
    let mut run = Run::with_accuracy(rig, course, state, 0.0, ACCURACY);
    for i in 0..count {
        let t_s = i as f64 * TRACE_S;
        match run.advance_to(t_s) {
            Ok(sample) => {
                trace.note(rig, structures, &sample);
                look(t_s, &sample);
            }
            Err(end) => {
                trace.kite_down = matches!(
                    end,
                    crate::rig::RunEnd::KiteInWater { .. } | crate::rig::RunEnd::KiteFalls { .. }
                );
                trace.ended_s = Some(t_s);
                break;
            }
        }
    }
    trace.hold(count);
    trace
}
