//! A scenario in a seaway: contact with the water comes and goes, so what is told are statistics
//! over several seeds of waves.
//! In: a scenario with waves. Out: statistics of a steady stretch, or what a turn does. Knows no
//! files.
//!
//! # Definitions
//!
//! Samples every 0.02 s. Every run starts 30 s before time 0 from the settled rig on flat water; the
//! sea grows over the first 10 s of these. A steady stretch lasts 240 s.
//!
//! The state at a moment is that of the window that ends there, of 3 s or one and a half peak periods
//! (of the higher system), whichever is longer: *airborne* without contact in it, *dragging* with
//! the bait at least seven tenths under for seven tenths of it, else *skipping*. Turns count only
//! windows that begin at or after helm over; times are from helm over.

use std::collections::VecDeque;

use rayon::prelude::*;

use super::accuracy::Accuracy;
use super::at_sea::{AtSea, SEA_BEFORE_S};
use super::mesh::Mesh;
use super::output::{EndReason, told};
use super::parameters::Rig;
use super::rough_output::{SeaEvent, SeaEvents, SeaOutput, SeaSeed, SeaStats, SeaSummary, SeaTurn};
use super::run::{Run, RunEnd};
use super::scenario::Scenario;
use super::scenario_timeline::ScenarioTimeline;
use super::seaway::{Seaway, Waves};
use super::simulate::{after_turn, formal};
use super::trim::{MainLine, NoTrim, Steady, TRIM_IMMERSION, unusable};
use crate::angles::wrap_signed_deg;

/// Interval of the samples that decide the state, s.
pub const SEA_SAMPLE_S: f64 = 0.02;
/// Length of a steady stretch, s.
const STEADY_S: f64 = 240.0;
/// Immersed share from which the bait is under: on flat water it drags then.
pub const DRAGGING_IMMERSION: f64 = 0.7;
/// Share of a window under water that makes it dragging.
pub(super) const DRAGGING_SHARE: f64 = 0.7;
/// A contact counts as a touch after this long out of the water, s.
const OUT_BEFORE_TOUCH_S: f64 = 0.2;
/// Pieces of which the longest time out of the water is told, s.
const PIECE_S: f64 = 60.0;

/// Length of the window that decides the state in these waves, s.
#[must_use]
pub(super) fn window_s(waves: &[Waves]) -> f64 {
    let highest = waves
        .iter()
        .max_by(|a, b| a.height_m.total_cmp(&b.height_m));
    highest.map_or(3.0, |w| (1.5 * w.period_s).max(3.0))
}

/// Runs a scenario with `seeds` seeds of its waves, the first being the scenario's.
#[must_use]
pub fn simulate_at_sea(scenario: &Scenario, seeds: u32) -> SeaOutput {
    let waves = scenario.waves();
    let mut out = SeaOutput {
        ok: false,
        no_trim: None,
        steady: None,
        main_line_out_m: None,
        trimmed_main_line_m: None,
        main_line_flat_immersion: None,
        rel_heading_deg: wrap_signed_deg(
            scenario.boat.heading_deg_true - scenario.wind.from_deg_true,
        ),
        window_s: window_s(&waves),
        stats: None,
        stats_seed_sd: None,
        events: None,
        flat_sea_events: None,
        after_turn: None,
        per_seed: Vec::new(),
    };
    let (rig, start) = match settled(scenario) {
        Ok(found) => found,
        Err(e) => {
            out.no_trim = Some(e.to_string());
            return out;
        }
    };
    let wanted = wanted(scenario);
    let why = unusable(&start, wanted).map(|e| e.to_string());
    out.steady = Some(told(&start, why));
    out.main_line_out_m = Some(start.main_line_m);
    out.main_line_flat_immersion = Some(start.sample.immersion);
    out.trimmed_main_line_m = match wanted {
        MainLine::Immersion(_) => Some(start.main_line_m),
        MainLine::Out(_) => {
            let conditions = scenario.conditions(scenario.boat.heading_deg_true);
            let trim = MainLine::Immersion(TRIM_IMMERSION);
            formal(scenario, &rig, &conditions, trim)
                .ok()
                .map(|s| s.main_line_m)
        }
    };
    let first = scenario.sea.as_ref().map_or(0, |s| s.seed);
    let case = Case {
        scenario,
        rig: &rig,
        start: &start,
        waves: &waves,
    };
    out.per_seed = (0..u64::from(seeds.max(1)))
        .into_par_iter()
        .map(|i| case.seed(first.wrapping_add(i)))
        .collect();
    out.ok = out
        .per_seed
        .iter()
        .all(|s| s.end_reason == EndReason::Duration);
    if scenario.boat.turn.is_some() {
        out.events = Some(events(&out.per_seed));
        let flat = case.play(Seaway::new(&[], 0));
        out.flat_sea_events = case.turn(&flat.0);
        let after_deg = scenario.final_heading_deg();
        let before = out.trimmed_main_line_m;
        out.after_turn = Some(after_turn(scenario, &rig, &start, before, after_deg));
    } else {
        let stats = out.per_seed.iter().filter_map(|s| s.stats.as_ref());
        let mut longest: Vec<f64> = out
            .per_seed
            .iter()
            .flat_map(|s| s.longest_out_s.iter().copied())
            .collect();
        longest.sort_by(f64::total_cmp);
        out.stats = Some(SeaSummary {
            mean: SeaStats::over(stats.clone(), |v| mean_and_deviation(v).0),
            longest_out_p50_s: quantile(&longest, 0.5).unwrap_or(0.0),
            longest_out_p90_s: quantile(&longest, 0.9).unwrap_or(0.0),
        });
        out.stats_seed_sd = Some(SeaStats::over(stats, |v| mean_and_deviation(v).1));
    }
    out
}

fn wanted(scenario: &Scenario) -> MainLine {
    scenario
        .main_line
        .out_m
        .map_or(MainLine::Immersion(TRIM_IMMERSION), MainLine::Out)
}

fn settled(scenario: &Scenario) -> Result<(Rig, Steady), NoTrim> {
    scenario.check().map_err(NoTrim::Refused)?;
    let conditions = scenario.conditions(scenario.boat.heading_deg_true);
    let with_mesh =
        |mesh| Rig::with_mesh(&scenario.rig_parameters(), mesh).map_err(NoTrim::Refused);
    let rig = with_mesh(Mesh::SHIPPED)?;
    let start = formal(scenario, &rig, &conditions, wanted(scenario))?;
    Ok((with_mesh(start.state.mesh)?, start))
}

/// What the samples of the last window show of the bait.
#[derive(Debug, Clone)]
pub struct BaitWindow {
    length: usize,
    samples: VecDeque<f64>,
    touching: usize,
    under: usize,
}

/// The bait in one full window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WindowState {
    /// Whether it touched the water.
    pub touched: bool,
    /// Share of the window in which it was under.
    pub under_share: f64,
}

impl WindowState {
    /// Whether the bait is airborne.
    #[must_use]
    pub fn airborne(&self) -> bool {
        !self.touched
    }

    /// Whether it drags.
    #[must_use]
    pub fn dragging(&self) -> bool {
        self.under_share >= DRAGGING_SHARE
    }
}

impl BaitWindow {
    /// For these waves.
    #[must_use]
    pub fn new(waves: &[Waves]) -> Self {
        Self {
            length: (window_s(waves) / SEA_SAMPLE_S).round() as usize,
            samples: VecDeque::new(),
            touching: 0,
            under: 0,
        }
    }

    /// Length, s.
    #[must_use]
    pub fn length_s(&self) -> f64 {
        self.length as f64 * SEA_SAMPLE_S
    }

    /// Takes in the immersion of the next sample, [`SEA_SAMPLE_S`] after the one before. `None`
    /// until the window is full.
    pub fn push(&mut self, immersion: f64) -> Option<WindowState> {
        if self.samples.len() == self.length
            && let Some(left) = self.samples.pop_front()
        {
            self.touching -= usize::from(left > 0.0);
            self.under -= usize::from(left >= DRAGGING_IMMERSION);
        }
        self.samples.push_back(immersion);
        self.touching += usize::from(immersion > 0.0);
        self.under += usize::from(immersion >= DRAGGING_IMMERSION);
        (self.samples.len() == self.length).then(|| WindowState {
            touched: self.touching > 0,
            under_share: self.under as f64 / self.length as f64,
        })
    }
}

/// What is kept of a sample.
#[derive(Debug, Clone, Copy)]
struct Kept {
    immersion: f64,
    bait_height_m: f64,
    over_water_m: f64,
    elevation_rad: f64,
    reel_n: f64,
    kite_line_n: f64,
    pose: [f64; 3],
    tip_height_m: f64,
}

/// One scenario with its settled start.
struct Case<'a> {
    scenario: &'a Scenario,
    rig: &'a Rig,
    start: &'a Steady,
    waves: &'a [Waves],
}

impl Case<'_> {
    fn seed(&self, seed: u64) -> SeaSeed {
        let (kept, end_reason) = self.play(Seaway::new(self.waves, seed));
        let turn = self.turn(&kept);
        let steady = (turn.is_none() && !kept.is_empty()).then(|| self.stats(&kept));
        SeaSeed {
            seed,
            end_reason,
            stats: steady.as_ref().map(|s| s.0),
            longest_out_s: steady.map(|s| s.1).unwrap_or_default(),
            turn,
        }
    }

    /// Samples from time 0 on.
    fn play(&self, sea: Seaway) -> (Vec<Kept>, EndReason) {
        let timeline = ScenarioTimeline {
            scenario: self.scenario,
            main_line_m: self.start.main_line_m,
        };
        let duration_s = match self.scenario.boat.turn {
            Some(_) => self.scenario.duration_s,
            None => STEADY_S,
        };
        let rigid = !self.scenario.numerics.boat_motion;
        let at_sea = AtSea::growing(timeline, sea, rigid, duration_s);
        let mut run = Run::with_accuracy(
            self.rig,
            &at_sea,
            self.start.state.clone(),
            -SEA_BEFORE_S,
            Accuracy::WAVES,
        );
        let count = (duration_s / SEA_SAMPLE_S).round() as usize;
        let mut kept = Vec::with_capacity(count + 1);
        for i in 0..=count {
            let t_s = SEA_SAMPLE_S * i as f64;
            let s = match run.advance_to(t_s) {
                Ok(s) => s,
                Err(end) => {
                    let reason = match end {
                        RunEnd::KiteInWater { .. } => EndReason::KiteInWater,
                        RunEnd::KiteFalls { .. } => EndReason::KiteFalls,
                        RunEnd::Diverged { .. } | RunEnd::BadTimeline { .. } => EndReason::Diverged,
                    };
                    return (kept, reason);
                }
            };
            let pose = at_sea.ride.pose(t_s);
            kept.push(Kept {
                immersion: s.immersion,
                bait_height_m: s.bait_height_m,
                over_water_m: s.bait_height_m - s.water_at_bait_m,
                elevation_rad: s.kite_elevation_rad,
                reel_n: s.main_line_tension_n,
                kite_line_n: s.kite_line_tension_n,
                pose: [pose.heave_m, pose.pitch_rad, pose.roll_rad],
                tip_height_m: s.shape.main_line().next().map_or(0.0, |tip| tip[2]),
            });
        }
        (kept, EndReason::Duration)
    }

    /// For every full window, by its first sample: contact, and share of it under.
    fn windows(&self, kept: &[Kept]) -> Vec<WindowState> {
        let mut window = BaitWindow::new(self.waves);
        let states = kept.iter().filter_map(|k| window.push(k.immersion));
        states.collect()
    }

    /// Shares airborne, skipping and dragging of these windows.
    fn shares(windows: &[WindowState]) -> [f64; 3] {
        let n = windows.len().max(1) as f64;
        let airborne = windows.iter().filter(|w| w.airborne()).count() as f64 / n;
        let dragging = windows.iter().filter(|w| w.dragging()).count() as f64 / n;
        [airborne, 1.0 - airborne - dragging, dragging]
    }

    fn stats(&self, kept: &[Kept]) -> (SeaStats, Vec<f64>) {
        let n = kept.len() as f64;
        let of = |f: fn(&Kept) -> f64| -> Vec<f64> { kept.iter().map(f).collect() };
        let share = |f: fn(&Kept) -> bool| kept.iter().filter(|k| f(k)).count() as f64 / n;
        let high = |mut values: Vec<f64>| {
            values.sort_by(f64::total_cmp);
            quantile(&values, 0.99).unwrap_or(0.0)
        };
        let (height, height_sd) = mean_and_deviation(&of(|k| k.bait_height_m));
        let (elevation, elevation_sd) = mean_and_deviation(&of(|k| k.elevation_rad));
        let deviation = |f: fn(&Kept) -> f64| mean_and_deviation(&of(f)).1;
        let mean = |f: fn(&Kept) -> f64| mean_and_deviation(&of(f)).0;
        let [airborne, skipping, dragging] = Self::shares(&self.windows(kept));
        let (mut touches, mut out_for) = (0_usize, 0_usize);
        for k in kept {
            if k.immersion > 0.0 {
                let long = out_for as f64 * SEA_SAMPLE_S >= OUT_BEFORE_TOUCH_S - 1e-9;
                touches += usize::from(long);
                out_for = 0;
            } else {
                out_for += 1;
            }
        }
        let piece = (PIECE_S / SEA_SAMPLE_S).round() as usize;
        let longest = kept
            .chunks_exact(piece)
            .map(|piece| {
                let runs = piece.split(|k| k.immersion > 0.0);
                runs.map(<[Kept]>::len).max().unwrap_or(0) as f64 * SEA_SAMPLE_S
            })
            .collect();
        let stats = SeaStats {
            contact_share: share(|k| k.immersion > 0.0),
            under_share: share(|k| k.immersion >= DRAGGING_IMMERSION),
            immersion_mean: mean(|k| k.immersion),
            touches_per_min: touches as f64 * 60.0 / (n * SEA_SAMPLE_S),
            bait_height_mean_m: height,
            bait_height_std_m: height_sd,
            bait_over_water_max_m: kept.iter().fold(f64::MIN, |a, k| a.max(k.over_water_m)),
            kite_elevation_mean_deg: elevation.to_degrees(),
            kite_elevation_std_deg: elevation_sd.to_degrees(),
            reel_tension_mean_N: mean(|k| k.reel_n),
            reel_tension_p99_N: high(of(|k| k.reel_n)),
            kite_line_tension_mean_N: mean(|k| k.kite_line_n),
            kite_line_tension_p99_N: high(of(|k| k.kite_line_n)),
            reel_slack_share: share(|k| k.reel_n <= 0.0),
            heave_std_m: deviation(|k| k.pose[0]),
            pitch_std_deg: deviation(|k| k.pose[1]).to_degrees(),
            roll_std_deg: deviation(|k| k.pose[2]).to_degrees(),
            main_tip_height_std_m: deviation(|k| k.tip_height_m),
            water_at_bait_std_m: deviation(|k| k.bait_height_m - k.over_water_m),
            share_airborne: airborne,
            share_skipping: skipping,
            share_dragging: dragging,
        };
        (stats, longest)
    }

    /// What the scenario's turn did; none without a turn, or when the run ended before it.
    fn turn(&self, kept: &[Kept]) -> Option<SeaTurn> {
        let turn = self.scenario.boat.turn?;
        let helm = (turn.start_s / SEA_SAMPLE_S).round() as usize;
        let (before, after) = (kept.get(..helm)?, kept.get(helm..)?);
        let windows = self.windows(kept);
        let windows = windows.get(helm..).unwrap_or_default();
        let since_helm = |sample: usize| (sample as f64 - helm as f64) * SEA_SAMPLE_S;
        let last_touch = windows.iter().position(|w| w.airborne()).map(|i| {
            let touched = kept[..helm + i].iter().rposition(|k| k.immersion > 0.0);
            touched.map_or(-turn.start_s, since_helm)
        });
        let dragging = windows.iter().position(|w| w.dragging());
        let most = |f: fn(&Kept) -> f64| after.iter().map(f).fold(f64::MIN, f64::max);
        let [airborne, skipping, dragged] = Self::shares(windows);
        let contacts = before.iter().filter(|k| k.immersion > 0.0).count();
        (!after.is_empty()).then(|| SeaTurn {
            last_touch_before_airborne_s: last_touch,
            dragging_from_s: dragging.map(|i| since_helm(helm + i)),
            largest_height_m: most(|k| k.bait_height_m),
            largest_height_over_water_m: most(|k| k.over_water_m),
            share_airborne_after: airborne,
            share_skipping_after: skipping,
            share_dragging_after: dragged,
            contact_share_before: contacts as f64 / before.len().max(1) as f64,
            reel_tension_max_N: most(|k| k.reel_n),
            kite_line_tension_max_N: most(|k| k.kite_line_n),
        })
    }
}

fn events(seeds: &[SeaSeed]) -> SeaEvents {
    let event = |f: fn(&SeaTurn) -> Option<f64>| {
        let mut values: Vec<f64> = seeds
            .iter()
            .filter_map(|s| s.turn.as_ref().and_then(f))
            .collect();
        values.sort_by(f64::total_cmp);
        SeaEvent {
            share_of_seeds: values.len() as f64 / seeds.len().max(1) as f64,
            median: quantile(&values, 0.5),
            p10: quantile(&values, 0.1),
            p90: quantile(&values, 0.9),
        }
    };
    SeaEvents {
        last_touch_before_airborne_s: event(|t| t.last_touch_before_airborne_s),
        dragging_from_s: event(|t| t.dragging_from_s),
        largest_height_m: event(|t| Some(t.largest_height_m)),
        largest_height_over_water_m: event(|t| Some(t.largest_height_over_water_m)),
        share_airborne_after: event(|t| Some(t.share_airborne_after)),
        share_skipping_after: event(|t| Some(t.share_skipping_after)),
        share_dragging_after: event(|t| Some(t.share_dragging_after)),
        reel_tension_max_N: event(|t| Some(t.reel_tension_max_N)),
        kite_line_tension_max_N: event(|t| Some(t.kite_line_tension_max_N)),
    }
}

/// Mean and standard deviation.
fn mean_and_deviation(values: &[f64]) -> (f64, f64) {
    let n = values.len().max(1) as f64;
    let mean = values.iter().sum::<f64>() / n;
    let square = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / n;
    (mean, square.sqrt())
}

/// Quantile of sorted values, linear between them.
fn quantile(sorted: &[f64], p: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let x = p * last as f64;
    let i = x as usize;
    let (a, b) = (sorted.get(i)?, sorted.get((i + 1).min(last))?);
    Some(a + (x - i as f64) * (b - a))
}
