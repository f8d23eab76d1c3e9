//! Runs a scenario and gives the result in the format of the reference cases.
//! In: a scenario. Out: settled state, series, events, last state and the line that the new heading
//! needs. Knows no files.

use super::conditions::{Conditions, Timeline};
use super::mesh::Mesh;
use super::output::{AfterTurn, EndReason, Events, Row, SimulationOutput, TurnSense, row, told};
use super::parameters::Rig;
use super::run::{Run, RunEnd};
use super::sample::Sample;
use super::scenario::Scenario;
use super::scenario_timeline::ScenarioTimeline;
use super::steady::settled_state;
use super::trim::{MainLine, NoTrim, Steady, TRIM_IMMERSION, unusable};
use super::vector::{V3, norm, scale, sub};
use crate::angles::{wrap_positive_deg, wrap_signed_deg};

/// Immersed share from which the bait counts as dragged under.
const UNDER: f64 = 0.9;
/// Out of the water for longer than the first the bait has left it; under for longer than the
/// second it is dragged.
const LEAVES_AFTER_S: f64 = 0.5;
const DRAGGED_AFTER_S: f64 = 1.0;
/// Interval of the samples from which events are read, and number of samples to a row of the
/// series.
const EVENT_STEP_S: f64 = 0.02;
const ROWS_EVERY: u32 = 25;

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
    let before = wrap_signed_deg(scenario.boat.heading_deg_true - scenario.wind.from_deg_true);
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
        rel_heading_deg: None,
        rel_heading_before_deg: None,
        rel_heading_after_deg: None,
        turn_sense: None,
    };
    if scenario.boat.turn.is_some() {
        let after = wrap_signed_deg(scenario.final_heading_deg() - scenario.wind.from_deg_true);
        out.rel_heading_before_deg = Some(before);
        out.rel_heading_after_deg = Some(after);
        let nearer = before.abs() - after.abs();
        out.turn_sense = Some(if nearer.abs() < 1e-9 {
            TurnSense::Across
        } else if nearer > 0.0 {
            TurnSense::Toward
        } else {
            TurnSense::Away
        });
    } else {
        out.rel_heading_deg = Some(before);
    }
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
    // A duration of 0 gives one row, that of the settled start.
    play(scenario, &rig, &start, &mut out);
    if let Some(turn) = &scenario.boat.turn {
        let after_deg = scenario.final_heading_deg();
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
    out.line_wet_first_s = Some(watch.wet_first_s);
    out.events = Some(watch.events);
    out.ok = reason != EndReason::Diverged;
    out.end_reason = Some(reason);
}

/// The settled state as the equations give it, on a finer mesh where the shipped one finds none.
pub(super) fn formal(
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

pub(super) fn after_turn(
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
        heading_deg_true: wrap_positive_deg(heading_deg),
        trimmed_main_line_m: trimmed.as_ref().map(|t| t.main_line_m),
        correction_m: trimmed
            .as_ref()
            .and_then(|t| before.map(|b| t.main_line_m - b)),
        trimmed_steady: trimmed.as_ref().map(|t| told(t, no_trim.clone())),
        steady_same_line: same.ok().as_ref().map(|s| told(s, None)),
        no_trim,
    }
}
