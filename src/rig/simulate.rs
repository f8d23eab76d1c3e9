//! Runs a scenario and tells it in the shape of the reference cases.
//! In: a scenario. Out: settled state, series, events, last state and what the new heading asks.
//! Knows no files.

use serde::Serialize;

use super::conditions::{Conditions, Timeline};
use super::mesh::Mesh;
use super::parameters::Rig;
use super::run::{Run, RunEnd};
use super::sample::Sample;
use super::scenario::{Scenario, ScenarioTimeline};
use super::steady::{MainLine, NoTrim, Steady, TRIM_IMMERSION, settled_state, unusable};
use super::vector::{V3, norm, scale, sub};

/// Shares from which on the bait counts as dragged under.
const UNDER: f64 = 0.9;
/// Out of the water longer than this it has left, under longer than the second it is dragged.
const LEAVES_AFTER_S: f64 = 0.5;
const DRAGGED_AFTER_S: f64 = 1.0;
/// Spacing of the samples events are read from, and samples to one row of the series.
const EVENT_STEP_S: f64 = 0.02;
const ROWS_EVERY: u32 = 25;

/// A settled state.
#[derive(Debug, Clone, Serialize)]
#[allow(non_snake_case, reason = "field names of the published format")]
pub struct SteadyOut {
    /// Largest force left on any body, N.
    pub residual_N: f64,
    /// From the kite rod tip.
    pub kite_elevation_deg: f64,
    /// From the kite rod tip.
    pub kite_azimuth_deg_true: f64,
    /// Above the sea.
    pub kite_height_m: f64,
    /// Above the sea.
    pub clip_height_m: f64,
    /// At the rod tip.
    pub kite_line_tension_at_tip_N: f64,
    /// At the kite.
    pub apparent_wind_at_kite_mps: f64,
    /// At the kite, starboard positive.
    pub apparent_wind_from_rel_bow_deg: f64,
    /// Middle of the bait above the sea.
    pub bait_height_m: f64,
    /// Share under water.
    pub immersion: f64,
    /// Behind the main rod tip.
    pub bait_aft_m: f64,
    /// To starboard of the main rod tip.
    pub bait_starboard_m: f64,
    /// At the rod tip.
    pub main_line_tension_at_reel_N: f64,
    /// At the ring.
    pub main_line_tension_at_ring_N: f64,
    /// At the bait.
    pub bait_line_tension_N: f64,
    /// Above the sea.
    pub marker_height_m: f64,
    /// Rod tip to ring.
    pub reel_leg_m: f64,
    /// Ring to bait.
    pub hang_leg_m: f64,
    /// Any line but the piece at the bait in the water.
    pub line_wet: bool,
    /// Rod tip to bait.
    pub main_line_out_m: f64,
    /// Why no crew could use this trim; absent when one could.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unusable: Option<String>,
}

/// One row of the series.
#[derive(Debug, Clone, Serialize)]
#[allow(non_snake_case, reason = "field names of the published format")]
pub struct Row {
    /// Time.
    pub t_s: f64,
    /// Heading.
    pub heading_deg_true: f64,
    /// Rate of turn.
    pub yaw_rate_deg_s: f64,
    /// From the kite rod tip.
    pub kite_elevation_deg: f64,
    /// From the kite rod tip.
    pub kite_azimuth_deg_true: f64,
    /// Above the sea.
    pub kite_height_m: f64,
    /// Above the sea.
    pub clip_height_m: f64,
    /// Middle of the bait above the sea.
    pub bait_height_m: f64,
    /// Share under water.
    pub immersion: f64,
    /// Behind the main rod tip.
    pub bait_aft_m: f64,
    /// To starboard of the main rod tip.
    pub bait_starboard_m: f64,
    /// At the rod tip.
    pub kite_line_tension_at_tip_N: f64,
    /// At the rod tip.
    pub main_line_tension_at_reel_N: f64,
    /// Rod tip to ring.
    pub reel_leg_m: f64,
    /// Boat over the ground, east.
    pub boat_x_m: f64,
    /// Boat over the ground, north.
    pub boat_y_m: f64,
    /// Fastest body relative to the boat; in the last row only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max_node_speed_rel_boat_mps: Option<f64>,
}

/// What happened.
#[derive(Debug, Clone, Default, Serialize)]
#[allow(non_snake_case, reason = "field names of the published format")]
pub struct Events {
    /// Out of the water for more than half a second.
    pub bait_leaves_water: bool,
    /// Start of the first such time.
    pub bait_leaves_at_s: Option<f64>,
    /// The same from helm over.
    pub bait_leaves_after_turn_start_s: Option<f64>,
    /// Nine tenths under for more than a second.
    pub bait_dragged: bool,
    /// Start of the first such time.
    pub bait_dragged_at_s: Option<f64>,
    /// The same from helm over.
    pub bait_dragged_after_turn_start_s: Option<f64>,
    /// In all.
    pub seconds_out_of_water: f64,
    /// In all.
    pub seconds_fully_under: f64,
    /// Greatest.
    pub max_bait_height_m: f64,
    /// When.
    pub max_bait_height_at_s: f64,
    /// Least.
    pub min_bait_height_m: f64,
    /// When.
    pub min_bait_height_at_s: f64,
    /// Least.
    pub kite_elevation_min_deg: f64,
    /// Greatest.
    pub kite_elevation_max_deg: f64,
    /// Least.
    pub clip_height_min_m: f64,
    /// Greatest.
    pub clip_height_max_m: f64,
    /// Least.
    pub kite_line_tension_min_N: f64,
    /// Greatest.
    pub kite_line_tension_max_N: f64,
    /// Least.
    pub main_line_tension_min_N: f64,
    /// Greatest.
    pub main_line_tension_max_N: f64,
}

/// What the new heading asks.
#[derive(Debug, Clone, Serialize)]
pub struct AfterTurn {
    /// New heading.
    pub heading_deg_true: f64,
    /// Main line that trims it there.
    pub trimmed_main_line_m: Option<f64>,
    /// Trimmed there less trimmed before; positive is pay out.
    pub correction_m: Option<f64>,
    /// Settled with that line.
    pub trimmed_steady: Option<SteadyOut>,
    /// Settled with the old line.
    pub steady_same_line: Option<SteadyOut>,
    /// Why there is no trim, or none a crew could use.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_trim: Option<String>,
}

/// Why a run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum EndReason {
    /// All of the time asked for.
    Duration,
    /// Kite in the water.
    KiteInWater,
    /// Kite line slack: the kite is on its way into the water.
    KiteFalls,
    /// No solution.
    Diverged,
    /// Nothing to start from.
    NoSteady,
}

/// Everything `simulate` prints.
#[derive(Debug, Clone, Serialize)]
pub struct SimulationOutput {
    /// A settled start was found and the run went through.
    pub ok: bool,
    /// Why it ended; absent when there was no run.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub end_reason: Option<EndReason>,
    /// Why there is no settled start.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_trim: Option<String>,
    /// Settled on the heading at the start.
    pub steady: Option<SteadyOut>,
    /// Main line that puts a quarter of the bait under on the heading at the start.
    pub trimmed_main_line_m: Option<f64>,
    /// Any line but the piece at the bait in the water.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line_wet: Option<bool>,
    /// Largest wet share of a piece.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line_wet_max_fraction: Option<f64>,
    /// First wet.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line_wet_first_s: Option<f64>,
    /// What happened.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub events: Option<Events>,
    /// Last row.
    #[serde(rename = "final", skip_serializing_if = "Option::is_none")]
    pub last: Option<Row>,
    /// Every half second.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub series: Vec<Row>,
    /// What the new heading asks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after_turn: Option<AfterTurn>,
    /// Heading from the wind's eye before the turn, -180 to 180.
    pub rel_heading_before_deg: f64,
    /// And after.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rel_heading_after_deg: Option<f64>,
}

fn wrapped_deg(a: f64) -> f64 {
    (a + 180.0).rem_euclid(360.0) - 180.0
}

fn told(s: &Steady, unusable: Option<String>) -> SteadyOut {
    let p = &s.sample;
    SteadyOut {
        residual_N: s.residual_n,
        kite_elevation_deg: p.kite_elevation_rad.to_degrees(),
        kite_azimuth_deg_true: p.kite_azimuth_rad.to_degrees(),
        kite_height_m: p.kite_height_m,
        clip_height_m: p.clip_height_m,
        kite_line_tension_at_tip_N: p.kite_line_tension_n,
        apparent_wind_at_kite_mps: p.apparent_wind_at_kite_mps,
        apparent_wind_from_rel_bow_deg: p.apparent_wind_at_kite_from_bow_rad.to_degrees(),
        bait_height_m: p.bait_height_m,
        immersion: p.immersion,
        bait_aft_m: p.bait_aft_m,
        bait_starboard_m: p.bait_starboard_m,
        main_line_tension_at_reel_N: p.main_line_tension_n,
        main_line_tension_at_ring_N: p.main_line_tension_at_ring_n,
        bait_line_tension_N: p.bait_line_tension_n,
        marker_height_m: p.marker_height_m,
        reel_leg_m: p.reel_leg_m,
        hang_leg_m: p.hang_leg_m,
        line_wet: p.line_wet_fraction > 0.0,
        main_line_out_m: s.main_line_m,
        unusable,
    }
}

fn row(s: &Sample, boat: [f64; 2]) -> Row {
    Row {
        t_s: s.t_s,
        heading_deg_true: s.heading_rad.to_degrees().rem_euclid(360.0),
        yaw_rate_deg_s: s.yaw_rate_rad_s.to_degrees(),
        kite_elevation_deg: s.kite_elevation_rad.to_degrees(),
        kite_azimuth_deg_true: s.kite_azimuth_rad.to_degrees(),
        kite_height_m: s.kite_height_m,
        clip_height_m: s.clip_height_m,
        bait_height_m: s.bait_height_m,
        immersion: s.immersion,
        bait_aft_m: s.bait_aft_m,
        bait_starboard_m: s.bait_starboard_m,
        kite_line_tension_at_tip_N: s.kite_line_tension_n,
        main_line_tension_at_reel_N: s.main_line_tension_n,
        reel_leg_m: s.reel_leg_m,
        boat_x_m: boat[0],
        boat_y_m: boat[1],
        max_node_speed_rel_boat_mps: None,
    }
}

/// Watches samples for events.
struct Watch {
    events: Events,
    out_since: Option<f64>,
    under_since: Option<f64>,
    wet_first_s: Option<f64>,
    wet_most: f64,
}

impl Watch {
    fn new() -> Self {
        Self {
            events: Events {
                max_bait_height_m: f64::NEG_INFINITY,
                min_bait_height_m: f64::INFINITY,
                kite_elevation_min_deg: f64::INFINITY,
                kite_elevation_max_deg: f64::NEG_INFINITY,
                clip_height_min_m: f64::INFINITY,
                clip_height_max_m: f64::NEG_INFINITY,
                kite_line_tension_min_N: f64::INFINITY,
                kite_line_tension_max_N: f64::NEG_INFINITY,
                main_line_tension_min_N: f64::INFINITY,
                main_line_tension_max_N: f64::NEG_INFINITY,
                ..Events::default()
            },
            out_since: None,
            under_since: None,
            wet_first_s: None,
            wet_most: 0.0,
        }
    }

    fn see(&mut self, s: &Sample) {
        let e = &mut self.events;
        let t = s.t_s;
        if s.immersion <= 0.0 {
            let since = *self.out_since.get_or_insert(t);
            e.seconds_out_of_water += EVENT_STEP_S;
            if t - since > LEAVES_AFTER_S && !e.bait_leaves_water {
                e.bait_leaves_water = true;
                e.bait_leaves_at_s = Some(since);
            }
        } else {
            self.out_since = None;
        }
        if s.immersion >= UNDER {
            let since = *self.under_since.get_or_insert(t);
            if t - since > DRAGGED_AFTER_S && !e.bait_dragged {
                e.bait_dragged = true;
                e.bait_dragged_at_s = Some(since);
            }
        } else {
            self.under_since = None;
        }
        if s.immersion >= UNDER {
            e.seconds_fully_under += EVENT_STEP_S;
        }
        if s.bait_height_m > e.max_bait_height_m {
            e.max_bait_height_m = s.bait_height_m;
            e.max_bait_height_at_s = t;
        }
        if s.bait_height_m < e.min_bait_height_m {
            e.min_bait_height_m = s.bait_height_m;
            e.min_bait_height_at_s = t;
        }
        let elevation = s.kite_elevation_rad.to_degrees();
        e.kite_elevation_min_deg = e.kite_elevation_min_deg.min(elevation);
        e.kite_elevation_max_deg = e.kite_elevation_max_deg.max(elevation);
        e.clip_height_min_m = e.clip_height_min_m.min(s.clip_height_m);
        e.clip_height_max_m = e.clip_height_max_m.max(s.clip_height_m);
        e.kite_line_tension_min_N = e.kite_line_tension_min_N.min(s.kite_line_tension_n);
        e.kite_line_tension_max_N = e.kite_line_tension_max_N.max(s.kite_line_tension_n);
        e.main_line_tension_min_N = e.main_line_tension_min_N.min(s.main_line_tension_n);
        e.main_line_tension_max_N = e.main_line_tension_max_N.max(s.main_line_tension_n);
        self.wet_most = self.wet_most.max(s.line_wet_fraction);
        if s.line_wet_fraction > 0.0 {
            self.wet_first_s.get_or_insert(t);
        }
    }
}

/// Runs a scenario: settled start, the turn in time, and the settled states on the new heading.
#[must_use]
pub fn simulate(scenario: &Scenario) -> SimulationOutput {
    let before = wrapped_deg(scenario.boat.heading_deg_true - scenario.wind.from_deg_true);
    let mut out = SimulationOutput {
        ok: false,
        end_reason: None,
        no_trim: None,
        steady: None,
        trimmed_main_line_m: None,
        line_wet: None,
        line_wet_max_fraction: None,
        line_wet_first_s: None,
        events: None,
        last: None,
        series: Vec::new(),
        after_turn: None,
        rel_heading_before_deg: before,
        rel_heading_after_deg: None,
    };
    if let Err(e) = scenario.check() {
        out.end_reason = Some(EndReason::NoSteady);
        out.no_trim = Some(NoTrim::Refused(e).to_string());
        return out;
    }
    let wanted = scenario
        .main_line
        .out_m
        .map_or(MainLine::Immersion(TRIM_IMMERSION), MainLine::Out);
    let conditions = scenario.conditions(scenario.boat.heading_deg_true);
    let with_mesh =
        |mesh| Rig::with_mesh(&scenario.rig_parameters(), mesh).map_err(NoTrim::Refused);
    let found = with_mesh(Mesh::SHIPPED)
        .and_then(|rig| formal(scenario, &rig, &conditions, wanted))
        .and_then(|start| with_mesh(start.state.mesh).map(|rig| (rig, start)));
    let (rig, start) = match found {
        Ok(found) => found,
        Err(e) => {
            out.end_reason = Some(EndReason::NoSteady);
            out.no_trim = Some(e.to_string());
            return out;
        }
    };
    let why = unusable(&start, wanted).map(|e| e.to_string());
    out.steady = Some(told(&start, why));
    let trimmed = if scenario.main_line.out_m.is_none() {
        Ok(start.main_line_m)
    } else {
        let trim = MainLine::Immersion(TRIM_IMMERSION);
        formal(scenario, &rig, &conditions, trim).map(|s| s.main_line_m)
    };
    out.trimmed_main_line_m = trimmed.ok();
    out.ok = true;
    if scenario.duration_s > 0.0 {
        play(scenario, &rig, &start, &mut out);
    }
    if let Some(turn) = &scenario.boat.turn {
        let after_deg = scenario.final_heading_deg();
        out.rel_heading_after_deg = Some(wrapped_deg(after_deg - scenario.wind.from_deg_true));
        out.after_turn = Some(after_turn(
            scenario,
            &rig,
            &start,
            out.trimmed_main_line_m,
            after_deg,
        ));
        if let Some(e) = &mut out.events {
            e.bait_leaves_after_turn_start_s = e.bait_leaves_at_s.map(|t| t - turn.start_s);
            e.bait_dragged_after_turn_start_s = e.bait_dragged_at_s.map(|t| t - turn.start_s);
        }
    }
    out
}

fn play(scenario: &Scenario, rig: &Rig, start: &Steady, out: &mut SimulationOutput) {
    let timeline = ScenarioTimeline {
        scenario,
        main_line_m: start.main_line_m,
    };
    let mut run = Run::new(rig, timeline, start.state.clone(), 0.0);
    let mut watch = Watch::new();
    let mut boat = [0.0; 2];
    let current = {
        let c = timeline.current(0.0);
        c.vector_mps()
    };
    let count = (scenario.duration_s / EVENT_STEP_S).round() as u32;
    let mut reason = EndReason::Duration;
    let mut bodies: Option<[V3; 4]> = None;
    let mut last: Option<Row> = None;
    for i in 0..=count {
        let t = f64::from(i) * EVENT_STEP_S;
        if i > 0 {
            // Boat over the ground by the middle of each short step.
            let m = timeline.boat(t - 0.5 * EVENT_STEP_S);
            let (s, c) = m.heading_rad.sin_cos();
            boat[0] += (m.speed_mps * s + current[0]) * EVENT_STEP_S;
            boat[1] += (m.speed_mps * c + current[1]) * EVENT_STEP_S;
        }
        let sample = match run.advance_to(t) {
            Ok(s) => s,
            Err(e) => {
                reason = match e {
                    RunEnd::KiteInWater { .. } => EndReason::KiteInWater,
                    RunEnd::KiteFalls { .. } => EndReason::KiteFalls,
                    RunEnd::Diverged { .. } | RunEnd::BadTimeline { .. } => EndReason::Diverged,
                };
                break;
            }
        };
        watch.see(&sample);
        let shape = &sample.shape;
        let now = [shape.kite(), shape.clip(), shape.marker(), shape.bait()];
        let mut r = row(&sample, boat);
        if i % ROWS_EVERY == 0 {
            out.series.push(r.clone());
        }
        if let Some(b) = bodies {
            let fastest = now
                .iter()
                .zip(&b)
                .map(|(n, o)| norm(scale(sub(*n, *o), 1.0 / EVENT_STEP_S)))
                .fold(0.0, f64::max);
            r.max_node_speed_rel_boat_mps = Some(fastest);
        }
        bodies = Some(now);
        last = Some(r);
    }
    out.last = last;
    out.line_wet = Some(watch.wet_first_s.is_some());
    out.line_wet_max_fraction = Some(watch.wet_most);
    out.line_wet_first_s = watch.wet_first_s;
    out.events = Some(watch.events);
    out.ok = reason != EndReason::Diverged;
    out.end_reason = Some(reason);
}

/// The settled state as the equations give it, cut finer where the shipped cut finds none.
fn formal(
    scenario: &Scenario,
    rig: &Rig,
    conditions: &Conditions,
    main_line: MainLine,
) -> Result<Steady, NoTrim> {
    settled_state(rig, conditions, main_line, None).or_else(|e| {
        let Ok(fine) = Rig::with_mesh(&scenario.rig_parameters(), Mesh::FINE) else {
            return Err(e);
        };
        settled_state(&fine, conditions, main_line, None).map_err(|_| e)
    })
}

fn after_turn(
    scenario: &Scenario,
    rig: &Rig,
    start: &Steady,
    before: Option<f64>,
    heading_deg: f64,
) -> AfterTurn {
    let conditions = scenario.conditions(heading_deg);
    let wanted = MainLine::Immersion(TRIM_IMMERSION);
    let trimmed = formal(scenario, rig, &conditions, wanted);
    let same = formal(scenario, rig, &conditions, MainLine::Out(start.main_line_m));
    let (trimmed, no_trim) = match trimmed {
        Ok(t) => {
            let why = unusable(&t, wanted).map(|e| e.to_string());
            (Some(t), why)
        }
        Err(e) => (None, Some(e.to_string())),
    };
    AfterTurn {
        heading_deg_true: heading_deg.rem_euclid(360.0),
        trimmed_main_line_m: trimmed.as_ref().map(|t| t.main_line_m),
        correction_m: trimmed
            .as_ref()
            .and_then(|t| before.map(|b| t.main_line_m - b)),
        trimmed_steady: trimmed.as_ref().map(|t| told(t, no_trim.clone())),
        steady_same_line: same.ok().as_ref().map(|s| told(s, None)),
        no_trim,
    }
}
