//! One member of the ensemble: a belief about rig and air, and its rig as it moves now.

use super::air::{AirMemory, Gusts, MemberAir, SensorError};
use super::draws::Draws;
use super::settings::{Doubt, ForecastSettings};
use crate::rig::{
    Accuracy, BoatMotion, Conditions, LinesOut, MainLine, Rig, RigParameters, Run, Sample, State,
    Timeline, Wind, settled_state,
};
use crate::turn::{MOST_TURNS, TurnDraw, YawDraw};

/// Number of traits drawn, each in prior standard deviations.
pub(super) const TRAITS: usize = 11;
/// Index of the wind profile among the traits.
pub(super) const PROFILE: usize = 2;
/// Index of the main line count among the traits.
pub(super) const MAIN_OUT: usize = 7;
/// Indices of the traits that determine where the kite stands: its lift and drag, the wind profile,
/// the angle error of the masthead sensor.
pub(super) const KITE_AND_AIR: [usize; 4] = [0, 1, PROFILE, 9];
/// Power-law exponent of the wind profile over open sea: 0.11, near-neutral (Hsu, Meindl and
/// Gilhousen 1994, J. Appl. Meteor. 33, 757-765; the value from memory).
const USUAL_EXPONENT: f64 = 0.11;

/// One belief.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Belief {
    pub z: [f64; TRAITS],
    /// Main line out beyond what count and traits give, metres: errors of corrections, and
    /// adjustments after contradicting reports.
    pub main_extra_m: f64,
}

impl Belief {
    /// The rig of this belief.
    pub fn rig(&self, base: &RigParameters, doubt: &Doubt) -> RigParameters {
        let z = &self.z;
        let mut p = base.clone();
        let lift = (doubt.kite_lift * z[0]).exp();
        let drag = (doubt.kite_drag * z[1]).exp();
        p.kite.cl *= lift;
        p.kite.cd *= drag;
        for point in &mut p.kite.trim {
            point.cl *= lift;
            point.cd *= drag;
        }
        p.bait.wet_drag_area_m2 *= (doubt.wet_drag * z[3]).exp();
        p.main_line.diameter_m *= (doubt.main_line_diameter * z[4]).exp();
        p.kite_line.diameter_m *= (doubt.kite_line_diameter * z[5]).exp();
        p.marker.diameter_m *= (doubt.marker_diameter * z[6]).exp();
        p
    }

    /// Errors of the masthead sensor according to this belief.
    pub fn sensor(&self, doubt: &Doubt) -> SensorError {
        SensorError {
            exponent: (USUAL_EXPONENT + doubt.wind_exponent * self.z[PROFILE]).clamp(0.0, 0.4),
            angle_rad: (doubt.wind_angle_deg * self.z[9]).to_radians(),
            speed: doubt.wind_speed * self.z[10],
        }
    }

    /// True line out for a count, according to this belief.
    pub fn lines(&self, counted: Counted, doubt: &Doubt, base: &RigParameters) -> LinesOut {
        let main = counted.main_m + self.count_error_m(counted, doubt) + self.main_extra_m;
        let kite = counted.kite_m + counted.kite_told_m * doubt.kite_line_out * self.z[8];
        LinesOut {
            kite_m: kite.max(base.kite_line.clip_to_kite_m + 3.0),
            main_m: main.max(base.marker.above_bait_m + 3.0),
        }
    }

    fn count_error_m(&self, counted: Counted, doubt: &Doubt) -> f64 {
        counted.main_told_m * doubt.main_line_out * self.z[MAIN_OUT]
    }
}

/// Line out by the crew's count now, and at its last full reading: only the error of that reading
/// is a share of the whole; each correction has its own error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Counted {
    pub kite_m: f64,
    pub main_m: f64,
    pub kite_told_m: f64,
    pub main_told_m: f64,
}

/// What is drawn for one future, independently of the member.
#[derive(Debug, Clone)]
pub(super) struct Slot {
    pub gusts: Gusts,
    pub yaw: YawDraw,
}

/// Stream of the draws of every turn after the first.
const LATER_TURNS: u64 = 1;

impl Slot {
    /// All slots, stratified over gusts and turns.
    pub fn draw(settings: &ForecastSettings, draws: &mut Draws) -> Vec<Self> {
        let n = settings.futures;
        let (made, extent) = (draws.stratified(n), draws.stratified(n));
        let normal: [Vec<f64>; 5] = std::array::from_fn(|_| draws.stratified_normal(n));
        let mut apart = Draws::new(settings.seed, LATER_TURNS);
        let later: [[Vec<f64>; 4]; MOST_TURNS - 1] = std::array::from_fn(|_| {
            [
                apart.stratified(n),
                apart.stratified(n),
                apart.stratified_normal(n),
                apart.stratified_normal(n),
            ]
        });
        (0..n)
            .map(|i| Self {
                gusts: Gusts::new(settings.seed, i, normal[3][i], normal[4][i]),
                yaw: YawDraw {
                    time_constant_z: normal[2][i],
                    turns: std::array::from_fn(|turn| {
                        let [made, extent, start, rate] = match turn.checked_sub(1) {
                            None => [&made, &extent, &normal[0], &normal[1]],
                            Some(turn) => later[turn].each_ref(),
                        };
                        TurnDraw {
                            made_u: made[i],
                            extent_u: extent[i],
                            start_z: start[i],
                            rate_z: rate[i],
                        }
                    }),
                },
            })
            .collect()
    }
}

/// A member.
#[derive(Debug, Clone)]
pub(super) struct Member {
    pub belief: Belief,
    pub rig: Option<Rig>,
    pub state: Option<State>,
    pub log_weight: f64,
    /// Line out as this member has it.
    pub lines: Option<Running>,
    pub air: Option<MemberAir>,
    /// What the crew could see of it in the last seconds.
    pub recent: Vec<Glimpse>,
}

/// Pace at which members follow a new count: the crew reports line after it has moved.
const RUN_M_PER_S: f64 = 4.0;

/// Line out now, and at the end of a reported correction that the members are still following.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Running {
    pub now: LinesOut,
    pub end: LinesOut,
}

impl Running {
    /// Line out that does not change.
    pub fn still(lines: LinesOut) -> Self {
        Self {
            now: lines,
            end: lines,
        }
    }

    /// So many seconds later.
    pub fn at(&self, t_s: f64) -> LinesOut {
        let most = RUN_M_PER_S * t_s.max(0.0);
        let run = |from: f64, to: f64| from + (to - from).clamp(-most, most);
        LinesOut {
            kite_m: run(self.now.kite_m, self.end.kite_m),
            main_m: run(self.now.main_m, self.end.main_m),
        }
    }
}

/// What the crew could see of a member.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Glimpse {
    pub immersion: f64,
    pub bait_height_m: f64,
    pub elevation_rad: f64,
    pub off_astern_rad: f64,
    pub marker_height_m: f64,
}

/// Members differ by metres: a position error of a few centimetres per step is enough.
const FOLLOW: Accuracy = Accuracy {
    place_m: 0.04,
    longest_step_s: 1.0,
};

/// Glimpses kept, one each half second.
const GLIMPSES: usize = 6;

/// Kite bearing off dead astern, + to starboard.
pub(super) fn off_astern_rad(sample: &Sample) -> f64 {
    crate::turn::wrap_rad(std::f64::consts::PI - (sample.kite_azimuth_rad - sample.heading_rad))
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
pub(super) struct Stretch {
    pub over_s: f64,
    pub heading_rad: (f64, f64),
    pub speed_mps: (f64, f64),
}

struct Follow {
    boat: Stretch,
    wind: (Wind, Wind),
    lines: (LinesOut, LinesOut),
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
        BoatMotion {
            heading_rad: mix(self.boat.heading_rad, share),
            yaw_rate_rad_s: (self.boat.heading_rad.1 - self.boat.heading_rad.0) / self.boat.over_s,
            speed_mps: mix(self.boat.speed_mps, share),
        }
    }

    fn wind(&self, t_s: f64) -> Wind {
        let share = self.share(t_s);
        let (a, b) = self.wind;
        Wind {
            speed_10m_mps: mix((a.speed_10m_mps, b.speed_10m_mps), share),
            from_rad: a.from_rad + share * crate::turn::wrap_rad(b.from_rad - a.from_rad),
            shear_exponent: b.shear_exponent,
        }
    }

    fn lines(&self, t_s: f64) -> LinesOut {
        let share = self.share(t_s);
        LinesOut {
            kite_m: mix((self.lines.0.kite_m, self.lines.1.kite_m), share),
            main_m: mix((self.lines.0.main_m, self.lines.1.main_m), share),
        }
    }
}

/// What all members are told of the moment.
#[derive(Debug, Clone, Copy)]
pub(super) struct Now<'a> {
    pub base: &'a RigParameters,
    pub doubt: &'a Doubt,
    pub air: &'a AirMemory,
    pub heading_rad: f64,
    pub speed_mps: f64,
    pub sensor_height_m: f64,
    pub counted: Counted,
}

impl Member {
    pub fn new(belief: Belief) -> Self {
        Self {
            belief,
            rig: None,
            state: None,
            log_weight: 0.0,
            lines: None,
            air: None,
            recent: Vec::new(),
        }
    }

    /// Replaces the belief; the moving rig keeps its position and adapts.
    pub fn believe(&mut self, belief: Belief) {
        self.belief = belief;
        self.rig = None;
    }

    /// Its rig, rebuilt after a change of belief. A member without a rig has no future.
    pub fn rig(&mut self, now: &Now<'_>) -> Option<&Rig> {
        if self.rig.is_none() {
            self.rig = Rig::new(&self.belief.rig(now.base, now.doubt)).ok();
        }
        self.rig.as_ref()
    }

    /// Builds its rig, and lets its lines run to the present count.
    pub fn run_to(&mut self, now: &Now<'_>) {
        self.rig(now);
        let end = self.belief.lines(now.counted, now.doubt, now.base);
        if let Some(lines) = &mut self.lines {
            lines.end = end;
        }
    }

    /// Propagates to the present; `stretch` is the boat's motion since the last tick. Without it,
    /// or when the motion cannot be followed, the member is settled again.
    pub fn follow(&mut self, now: &Now<'_>, stretch: Option<Stretch>) {
        let wanted = self.belief.lines(now.counted, now.doubt, now.base);
        let Some(air) = now.air.of_member(
            &self.belief.sensor(now.doubt),
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
        let running = Running {
            now: before.now,
            end: wanted,
        };
        let lines = running.at(stretch.over_s);
        let follow = Follow {
            boat: stretch,
            wind: (air_before.now, air.now),
            lines: (before.now, lines),
        };
        let mut run = Run::with_accuracy(rig, follow, state, 0.0, FOLLOW);
        let mut recent = std::mem::take(&mut self.recent);
        for share in [0.5, 1.0] {
            match run.advance_to(share * stretch.over_s) {
                Ok(sample) => recent.push(Glimpse::of(&sample)),
                Err(_) => {
                    self.settle(now, wanted);
                    return;
                }
            }
        }
        self.state = Some(run.state());
        let spare = recent.len().saturating_sub(GLIMPSES);
        recent.drain(..spare);
        self.recent = recent;
        self.lines = Some(Running {
            now: lines,
            end: wanted,
        });
    }

    /// Settled state in the wind of the last minute.
    fn settle(&mut self, now: &Now<'_>, lines: LinesOut) {
        self.recent.clear();
        self.state = None;
        self.lines = Some(Running::still(lines));
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
        }
    }
}
