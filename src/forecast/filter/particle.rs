//! One particle of the filter: a belief about rig and air, and its rig as it moves now.

use super::belief::{Belief, Counted};
use crate::forecast::air::{AirMemory, ParticleAir};
use crate::forecast::settings::{Doubt, ForecastSettings};
use crate::rig::{
    Accuracy, BoatMotion, Conditions, LineLengths, MainLine, Mesh, Rig, RigParameters, Run, Sample,
    State, Timeline, Wind, settled_state,
};

/// A particle.
#[derive(Debug, Clone)]
pub struct Particle {
    pub belief: Belief,
    mesh: Mesh,
    pub rig: Option<Rig>,
    pub state: Option<State>,
    /// Whether it has hung and now hangs in no way: its kite has come down.
    pub fell: bool,
    pub log_weight: f64,
    /// Line out as this particle has it.
    pub lines: Option<LineLengths>,
    pub air: Option<ParticleAir>,
    /// What the crew could see of it in the last seconds.
    pub recent: Vec<Glimpse>,
}

/// The crew reports line after it has moved. Hands moved it at this pace until now, though not for
/// longer than this. Own judgement.
const HANDS_M_PER_S: f64 = 0.8;
const HANDS_MOST_S: f64 = 60.0;

/// What the crew could see of a particle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Glimpse {
    pub immersion: f64,
    pub bait_height_m: f64,
    pub elevation_rad: f64,
    pub off_astern_rad: f64,
    pub marker_height_m: f64,
}

/// Particles differ by metres: a position error of a few centimetres per step is enough.
const FOLLOW: Accuracy = Accuracy {
    place_m: 0.04,
    longest_step_s: 2.0,
};

/// Interval of the glimpses, and how many are kept.
const GLIMPSE_S: f64 = 0.5;
const GLIMPSES: usize = 6;

/// Kite bearing off dead astern, + to starboard.
pub fn off_astern_rad(sample: &Sample) -> f64 {
    crate::angles::wrap_signed(
        std::f64::consts::PI - (sample.kite_azimuth_rad - sample.heading_rad),
    )
}

impl Glimpse {
    fn of(sample: &Sample) -> Self {
        Self {
            immersion: sample.immersion,
            bait_height_m: sample.bait_height_m,
            elevation_rad: sample.kite_elevation_rad,
            off_astern_rad: off_astern_rad(sample),
            marker_height_m: sample.marker_height_m,
        }
    }
}

/// The boat between two ticks, interpolated linearly.
#[derive(Debug, Clone, Copy)]
pub struct Stretch {
    pub over_s: f64,
    pub heading_rad: (f64, f64),
    pub speed_mps: (f64, f64),
}

struct Follow {
    boat: Stretch,
    wind: (Wind, Wind),
    lines: (LineLengths, LineLengths),
    /// How long before the stretch hands began with the line, on the course and in the wind with
    /// which the stretch begins.
    hands_before_s: f64,
}

/// How long hands took to move line, s.
fn hands_s(from: LineLengths, to: LineLengths) -> f64 {
    let by_m = (to.kite_m - from.kite_m)
        .abs()
        .max((to.main_m - from.main_m).abs());
    (by_m / HANDS_M_PER_S).min(HANDS_MOST_S)
}

fn mix(pair: (f64, f64), share: f64) -> f64 {
    pair.0 + share * (pair.1 - pair.0)
}

impl Follow {
    fn share(&self, t_s: f64) -> f64 {
        (t_s / self.boat.over_s).clamp(0.0, 1.0)
    }
}

impl Timeline for Follow {
    fn boat(&self, t_s: f64) -> BoatMotion {
        let share = self.share(t_s);
        let turned_rad = self.boat.heading_rad.1 - self.boat.heading_rad.0;
        let yaw_rate_rad_s = turned_rad / self.boat.over_s;
        BoatMotion {
            heading_rad: mix(self.boat.heading_rad, share),
            yaw_rate_rad_s: if t_s < 0.0 { 0.0 } else { yaw_rate_rad_s },
            speed_mps: mix(self.boat.speed_mps, share),
        }
    }

    fn wind(&self, t_s: f64) -> Wind {
        let share = self.share(t_s);
        let (a, b) = self.wind;
        Wind {
            speed_10m_mps: mix((a.speed_10m_mps, b.speed_10m_mps), share),
            from_rad: a.from_rad + share * crate::angles::wrap_signed(b.from_rad - a.from_rad),
            shear_exponent: b.shear_exponent,
        }
    }

    fn lines(&self, t_s: f64) -> LineLengths {
        let moving_s = self.hands_before_s + self.boat.over_s;
        let share = ((t_s + self.hands_before_s) / moving_s).clamp(0.0, 1.0);
        LineLengths {
            kite_m: mix((self.lines.0.kite_m, self.lines.1.kite_m), share),
            main_m: mix((self.lines.0.main_m, self.lines.1.main_m), share),
        }
    }
}

/// What all particles are told of the moment.
#[derive(Debug, Clone, Copy)]
pub struct Now<'a> {
    pub base: &'a RigParameters,
    pub settings: &'a ForecastSettings,
    pub air: &'a AirMemory,
    pub heading_rad: f64,
    pub speed_mps: f64,
    pub sensor_height_m: f64,
    pub counted: Counted,
    /// Whether a plan asks hands to move line.
    pub asked: bool,
}

impl<'a> Now<'a> {
    pub fn doubt(&self) -> &'a Doubt {
        &self.settings.doubt
    }
}

impl Particle {
    pub fn new(belief: Belief) -> Self {
        Self {
            belief,
            mesh: Mesh::COARSE,
            rig: None,
            state: None,
            fell: false,
            log_weight: 0.0,
            lines: None,
            air: None,
            recent: Vec::new(),
        }
    }

    /// The one that is drawn, on a mesh fine enough to look at.
    pub fn to_draw() -> Self {
        Self {
            mesh: Mesh::SHIPPED,
            ..Self::new(Belief::default())
        }
    }

    /// Replaces the belief; the moving rig keeps its position and adapts.
    pub fn believe(&mut self, belief: Belief) {
        self.belief = belief;
        self.rig = None;
    }

    /// A rig of its belief; `None` when the belief makes none.
    pub fn build(&self, now: &Now<'_>) -> Option<Rig> {
        Rig::with_mesh(&self.belief.rig(now.base, now.doubt()), self.mesh).ok()
    }

    /// Its rig, rebuilt after a change of belief. A particle without a rig has no future.
    pub fn rig(&mut self, now: &Now<'_>) -> Option<&Rig> {
        if self.rig.is_none() {
            self.rig = self.build(now);
        }
        self.rig.as_ref()
    }

    /// Propagates to the present; `stretch` is the boat's motion since the last tick. Without it,
    /// or when the motion cannot be followed, the particle is settled again.
    pub fn follow(&mut self, now: &Now<'_>, stretch: Option<Stretch>) {
        let wanted = self.belief.lines(now.counted, now.doubt(), now.base);
        let Some(air) = now.air.of_particle(
            &self.belief.sensor(now.doubt()),
            now.heading_rad,
            now.speed_mps,
            now.sensor_height_m,
        ) else {
            self.state = None;
            return;
        };
        let air_before = self.air.replace(air);
        if self.rig(now).is_none() {
            self.state = None;
            return;
        }
        self.fell |= self.state.is_some();
        let (Some(rig), Some(stretch), Some(state), Some(before), Some(air_before)) = (
            self.rig.as_ref(),
            stretch,
            self.state.take(),
            self.lines,
            air_before,
        ) else {
            self.settle(now, wanted);
            return;
        };
        let hands_before_s = (hands_s(before, wanted) - stretch.over_s).max(0.0);
        let follow = Follow {
            boat: stretch,
            wind: (air_before.now, air.now),
            lines: (before, wanted),
            hands_before_s,
        };
        let mut run = Run::with_accuracy(rig, follow, state, -hands_before_s, FOLLOW);
        let mut recent = std::mem::take(&mut self.recent);
        let steps = (stretch.over_s / GLIMPSE_S).round().max(1.0);
        let first = (steps - GLIMPSES as f64).max(0.0) as u32 + 1;
        for step in first..=steps as u32 {
            match run.advance_to(f64::from(step) / steps * stretch.over_s) {
                Ok(sample) => recent.push(Glimpse::of(&sample)),
                Err(_) => {
                    self.settle(now, wanted);
                    return;
                }
            }
        }
        self.state = Some(run.state());
        self.fell = false;
        let spare = recent.len().saturating_sub(GLIMPSES);
        recent.drain(..spare);
        self.recent = recent;
        self.lines = Some(wanted);
    }

    /// Settled state in the wind of the last minute.
    fn settle(&mut self, now: &Now<'_>, lines: LineLengths) {
        self.recent.clear();
        self.state = None;
        self.lines = Some(lines);
        let (Some(rig), Some(air)) = (self.rig.as_ref(), self.air) else {
            return;
        };
        let conditions = Conditions {
            wind: air.mean,
            current: crate::rig::Current::default(),
            boat_speed_mps: now.speed_mps.max(0.0),
            heading_rad: now.heading_rad,
            kite_line_out_m: lines.kite_m,
        };
        if let Ok(steady) = settled_state(rig, &conditions, MainLine::Out(lines.main_m), None) {
            self.recent.push(Glimpse::of(&steady.sample));
            self.state = Some(steady.state);
            self.fell = false;
        }
    }
}
