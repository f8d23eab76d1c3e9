//! Waves, cheaply: what a sea makes of a flat-water answer, without following it in time.
//! In: a sample of the rig on flat water, waves, course and speed. Out: loads that 1 % of the time
//! exceeds, the spread of the bait's height, shares of time in each state. Knows no lines.
//!
//! [`SeaMotion`] is made once for waves, course and speed and asked for every sample ([`SeaSpread`]).
//! The tip of the kite rod is moved linearly by the hull (heave, pitch, roll: `hull.rs`). What it
//! pulls along the line, the kite must follow. It keeps its angle to its apparent wind, so that wind
//! grows by the share `u / (V cos elevation)`, its force by the square. The numbers that no such
//! argument gives are fitted to 80 runs in waves (`rough.rs`) of rigs of 60 to 110 m of kite line in
//! 5 to 10 m/s of wind and 0.3 to 1.8 m of sea, a quarter of them with a swell.
//!
//! Against 47 further runs of the same kind, two seeds each, the loads differ by -4 to +7 % (kite
//! line) and -6 to +5 % (main line). The shares airborne and dragging differ by less than 0.1 in 43 and
//! 44 of them. The others lie at the ends of the band (flat immersion 0.01 to 0.02 and 0.8), where
//! they depend on little: by up to 0.19 and 0.53. The deviation of the height is a guide
//! only, within 35 % of the run in the reference cases.

use std::f64::consts::{PI, TAU};

use super::hull::Hull;
use super::parameters::{CLIP_MASS_KG, GRAVITY_MPS2, Rig, RodTip};
use super::rough::{DRAGGING_IMMERSION, window_s};
use super::sample::Sample;
use super::seaway::Waves;
use super::vector::{V3, norm, scale, sub};

/// A complex amplitude, real and imaginary part, for a metre of wave.
type Phasor = [f64; 2];

fn plus(a: Phasor, b: Phasor) -> Phasor {
    [a[0] + b[0], a[1] + b[1]]
}

fn times(a: Phasor, k: f64) -> Phasor {
    [a[0] * k, a[1] * k]
}

/// How a boat moves in a seaway on one course at one speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeaMotion {
    /// Covariance of the velocity of the kite rod's tip (forward, starboard, up), m2/s2.
    tip_velocity: [[f64; 3]; 3],
    /// Standard deviation of the surface, m, and of the part that the bait does not ride.
    water_m: f64,
    short_m: f64,
    window_s: f64,
}

/// Directions that stand for a spread system.
const DIRECTIONS: usize = 5;

impl SeaMotion {
    /// In these waves, on a heading at a speed through the water.
    #[must_use]
    pub fn new(waves: &[Waves], hull: &Hull, rig: &Rig, heading_rad: f64, speed_mps: f64) -> Self {
        let tip = &rig.parameters().rod_tips.kite;
        let mut tip_velocity = [[0.0; 3]; 3];
        let (mut variance, mut short) = (0.0, 0.0);
        each_wave(waves, heading_rad, |part, omega, k| {
            let met = omega - k[0] * speed_mps;
            let moved = tip_motion(hull, tip, k, met);
            variance += part;
            if omega > TAU / RIDDEN_S {
                short += part;
            }
            for (row, a) in tip_velocity.iter_mut().zip(moved) {
                for (c, b) in row.iter_mut().zip(moved) {
                    *c += part * met * met * (a[0] * b[0] + a[1] * b[1]);
                }
            }
        });
        Self {
            tip_velocity,
            water_m: variance.sqrt(),
            short_m: short.sqrt(),
            window_s: window_s(waves),
        }
    }

    /// Length of the window that decides the state, s.
    #[must_use]
    pub fn window_s(&self) -> f64 {
        self.window_s
    }

    /// Clearance of the bait above the mean level at which half of the windows are airborne, m.
    #[must_use]
    pub fn lift_off_m(&self) -> f64 {
        self.water_m * (2.0 * (1.0 - AT_THE_EDGE)).ln()
    }

    /// Standard deviation of the surface, m.
    #[must_use]
    pub fn water_m(&self) -> f64 {
        self.water_m
    }

    /// What the sea makes of the rig as it hangs on flat water.
    #[must_use]
    pub fn spread(&self, rig: &Rig, flat: &Sample) -> SeaSpread {
        let p = rig.parameters();
        let tip = flat.shape.kite_line().next().unwrap_or_default();
        let away = sub(flat.shape.clip(), tip);
        let away = scale(away, 1.0 / norm(away).max(1e-9));
        let pull_mps = self.along([-away[0], away[1], away[2]]);
        let wind_mps = flat.apparent_wind_at_kite_mps * flat.kite_elevation_rad.cos();
        let gain = pull_mps / wind_mps.max(0.5);
        // The kite carries itself, the clip and the main line: of its force the line has what is
        // left, so that its share grows more.
        let carried_n = GRAVITY_MPS2 * (p.kite.mass_kg + CLIP_MASS_KG) + flat.ring_load_n;
        let kite_line_n = flat.kite_line_tension_n;
        let force_n = kite_line_n + CARRIED * carried_n;
        let kite_line_p99_n = kite_line_n + force_n * ((1.0 + P99 * gain).powi(2) - 1.0);
        let wet = flat.immersion;
        // On flat water there is no gain, nor anything added to it.
        let main = 1.0 + gain * (REEL_PER_GAIN + REEL_UNDER * (wet - 0.6).max(0.0));
        let clear_m = flat.bait_height_m - 0.5 * p.bait.height_m;
        let calm = self.water_m < 1e-6;
        let airborne = match (wet > 0.0, calm) {
            (true, true) => 0.0,
            (false, true) => 1.0,
            (true, false) => AT_THE_EDGE * (-wet / EDGE_IMMERSION).exp(),
            (false, false) => 1.0 - (1.0 - AT_THE_EDGE) * (-clear_m / self.water_m).exp(),
        };
        let spread = (DRAG_SPREAD[0] + DRAG_SPREAD[1] * gain).max(1e-6);
        let dragging = match calm {
            true => f64::from(u8::from(wet >= DRAGGING_IMMERSION)),
            false => upper_tail((DRAG_CENTRE - wet) / spread),
        };
        let dragging = dragging.min(1.0 - airborne);
        let bounce = (1.0 + BOUNCE * (-wet / BOUNCE_IMMERSION).exp()).powi(2) - 1.0;
        SeaSpread {
            kite_line_p99_n,
            main_line_p99_n: flat.main_line_tension_n * main,
            bait_height_sd_m: self.water_m.hypot(bounce.sqrt() * self.short_m),
            share_airborne: airborne,
            share_skipping: 1.0 - airborne - dragging,
            share_dragging: dragging,
        }
    }

    /// Standard deviation of the tip's velocity along a direction, m/s.
    fn along(&self, e: V3) -> f64 {
        let mut variance = 0.0;
        for (row, a) in self.tip_velocity.iter().zip(e) {
            for (c, b) in row.iter().zip(e) {
                variance += a * b * c;
            }
        }
        variance.max(0.0).sqrt()
    }
}

/// How a hull moves in a seaway: standard deviations.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HullResponse {
    /// Of her middle.
    pub heave_sd_m: f64,
    /// Bow against stern.
    pub pitch_sd_rad: f64,
    /// To one side.
    pub roll_sd_rad: f64,
    /// Mean time between upward crossings of heave, pitch and roll, s (S. O. Rice, 1944: the root
    /// of the ratio of the moments of order 0 and 2 of a Gaussian record's spectrum).
    pub met_every_s: [f64; 3],
}

impl HullResponse {
    /// In these waves, on a heading at a speed through the water.
    #[must_use]
    pub fn new(waves: &[Waves], hull: &Hull, heading_rad: f64, speed_mps: f64) -> Self {
        let (mut variance, mut of_rates) = ([0.0; 3], [0.0; 3]);
        each_wave(waves, heading_rad, |part, omega, k| {
            let met = omega - k[0] * speed_mps;
            let size = hull.averaged(k[0], k[1]);
            let [re, im] = hull.roll_response(met);
            let squares = [1.0, k[0] * k[0], k[1] * k[1] * (re * re + im * im)];
            for (i, square) in squares.into_iter().enumerate() {
                let added = part * size * size * square;
                variance[i] += added;
                of_rates[i] += added * met * met;
            }
        });
        let met_every_s =
            std::array::from_fn(|i| TAU * (variance[i] / f64::max(of_rates[i], 1e-12)).sqrt());
        let [heave_sd_m, pitch_sd_rad, roll_sd_rad] = variance.map(f64::sqrt);
        Self {
            heave_sd_m,
            pitch_sd_rad,
            roll_sd_rad,
            met_every_s,
        }
    }
}

/// Goes over the waves of all systems: variance of the surface, frequency, and wave number along and
/// athwart a heading.
fn each_wave(waves: &[Waves], heading_rad: f64, mut take: impl FnMut(f64, f64, [f64; 2])) {
    for system in waves.iter().filter(|w| w.height_m > 0.0) {
        let directions = match system.spreading {
            Some(_) => DIRECTIONS,
            None => 1,
        };
        let bins = system.bins();
        for d in 0..directions {
            let p = (d as f64 + 0.5) / directions as f64;
            let toward = system.from_rad + PI + system.spread_rad(p) - heading_rad;
            for ([low, high], energy) in &bins {
                let omega = TAU * (low * high).sqrt() / system.period_s;
                let number = omega * omega / GRAVITY_MPS2;
                let k = [number * toward.cos(), number * toward.sin()];
                take(energy / directions as f64, omega, k);
            }
        }
    }
}

/// What a sea makes of a rig that hangs still on flat water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeaSpread {
    /// Load of the kite line at its rod tip that 1 % of the time exceeds, N.
    pub kite_line_p99_n: f64,
    /// The same of the main line.
    pub main_line_p99_n: f64,
    /// Standard deviation of the bait's height above the mean level, m.
    pub bait_height_sd_m: f64,
    /// Shares of the moments in each state, told by windows of [`SeaMotion::window_s`].
    pub share_airborne: f64,
    /// See above.
    pub share_skipping: f64,
    /// See above.
    pub share_dragging: f64,
}

/// Standard deviations of a normal number that 1 % exceeds (standard table).
const P99: f64 = 2.33;
/// How much of what the kite carries comes back in the line's peaks; 1 if nothing bowed or swung
/// (fitted).
const CARRIED: f64 = 1.7;
/// Peak of the main line by the kite's gain, and more of it the deeper the bait (fitted).
const REEL_PER_GAIN: f64 = 5.0;
const REEL_UNDER: f64 = 8.0;
/// Share of the time airborne just at lift-off, and the flat immersion over which it fades (fitted).
const AT_THE_EDGE: f64 = 0.25;
const EDGE_IMMERSION: f64 = 0.014;
/// Flat immersion at which half of the windows drag (fitted).
pub const DRAG_CENTRE: f64 = 0.755;
/// Its spread on flat water and by the gain (fitted).
const DRAG_SPREAD: [f64; 2] = [0.02, 0.3];

/// How much higher than the short waves a bait bounces that hardly touches, and the flat immersion
/// over which that fades (fitted). It rides waves of longer periods, s.
const BOUNCE: f64 = 1.2;
const BOUNCE_IMMERSION: f64 = 0.15;
const RIDDEN_S: f64 = 8.0;

/// How a rod tip moves for a metre of a wave with its crest at the hull's middle: forward,
/// starboard, up. In time it goes as `exp(-i omega t)`.
fn tip_motion(hull: &Hull, tip: &RodTip, k: [f64; 2], omega: f64) -> [Phasor; 3] {
    let size = hull.averaged(k[0], k[1]);
    let pitch = [0.0, size * k[0]];
    let [re, im] = hull.roll_response(-omega);
    // Roll follows the slope athwart, `-i size k`.
    let tilt = size * k[1];
    let roll = [im * tilt, -re * tilt];
    let ahead = -tip.aft_m - hull.middle_ahead_m;
    [
        times(pitch, -tip.height_m),
        times(roll, tip.height_m),
        plus(
            plus([size, 0.0], times(pitch, ahead)),
            times(roll, -tip.starboard_m),
        ),
    ]
}

/// Share of a standard Gaussian above `x`: Abramowitz and Stegun 26.2.17 (from memory), absolute
/// error below 1e-7.
fn upper_tail(x: f64) -> f64 {
    let a = x.abs();
    let t = 1.0 / (1.0 + 0.231_641_9 * a);
    let p = t
        * (0.319_381_530
            + t * (-0.356_563_782
                + t * (1.781_477_937 + t * (-1.821_255_978 + t * 1.330_274_429))));
    let tail = (-0.5 * a * a).exp() / std::f64::consts::TAU.sqrt() * p;
    if x >= 0.0 { tail } else { 1.0 - tail }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::{
        MainLine, Ride, RigParameters, Scenario, ScenarioTimeline, Seaway, Timeline, settled_state,
    };

    #[test]
    fn gaussian_tail() {
        // Standard normal table, from memory: 1, 1.959964 and -1 standard deviations.
        assert!((upper_tail(0.0) - 0.5).abs() < 1e-7);
        assert!((upper_tail(1.0) - 0.158_655_25).abs() < 1e-7);
        assert!((upper_tail(1.959_964) - 0.025).abs() < 1e-7);
        assert!((upper_tail(-1.0) - 0.841_344_75).abs() < 1e-7);
    }

    #[test]
    fn flat_water_spreads_nothing() {
        let rig = Rig::new(&RigParameters::default()).unwrap();
        let motion = SeaMotion::new(&[], &Hull::default(), &rig, 1.0, 3.0);
        for immersion in [0.02, 0.25, 0.6, 0.9] {
            let flat = trimmed(&rig, immersion);
            let spread = motion.spread(&rig, &flat);
            assert_eq!(spread.kite_line_p99_n, flat.kite_line_tension_n);
            assert_eq!(spread.main_line_p99_n, flat.main_line_tension_n);
            assert_eq!(spread.bait_height_sd_m, 0.0);
            let dragging = f64::from(u8::from(immersion >= DRAGGING_IMMERSION));
            assert_eq!(spread.share_dragging, dragging);
            assert_eq!(spread.share_skipping, 1.0 - dragging);
        }
    }

    #[test]
    fn higher_seas_load_more_and_leave_less_of_the_band() {
        let rig = Rig::new(&RigParameters::default()).unwrap();
        let at = |height_m: f64, immersion: f64| {
            let waves = [Waves::wind_sea(height_m, 4.4 * height_m.sqrt(), 0.0)];
            let motion = SeaMotion::new(&waves, &Hull::default(), &rig, 1.0, 3.0);
            motion.spread(&rig, &trimmed(&rig, immersion))
        };
        for (low, high) in [(0.4, 0.8), (0.8, 1.6)] {
            let (a, b) = (at(low, 0.25), at(high, 0.25));
            assert!(a.kite_line_p99_n < b.kite_line_p99_n);
            assert!(a.main_line_p99_n < b.main_line_p99_n);
            assert!(a.bait_height_sd_m < b.bait_height_sd_m);
            assert!(at(low, 0.68).share_dragging < at(high, 0.68).share_dragging);
        }
        for immersion in [0.0, 0.02, 0.25, 0.7, 0.9] {
            let s = at(1.2, immersion);
            let sum = s.share_airborne + s.share_skipping + s.share_dragging;
            assert!((sum - 1.0).abs() < 1e-12 && s.share_skipping >= 0.0);
        }
        assert!(at(0.8, 0.02).share_airborne > 0.03 && at(0.8, 0.25).share_airborne < 0.01);
        assert!(at(0.8, 0.25).share_skipping > 0.99 && at(0.8, 0.9).share_dragging > 0.95);
    }

    /// The linear sum over waves against a boat that rides drawn ones.
    #[test]
    fn tips_move_as_on_a_boat_that_rides_the_waves() {
        let rig = Rig::new(&RigParameters::default()).unwrap();
        let scenario = Scenario::default();
        let timeline = ScenarioTimeline {
            scenario: &scenario,
            main_line_m: 100.0,
        };
        let tip = rig.parameters().rod_tips.kite;
        for from_rad in [0.3, 1.6, 2.8] {
            let waves = [Waves::wind_sea(1.0, 4.5, from_rad)];
            let heading = scenario.boat.heading_deg_true.to_radians();
            let speed = scenario.boat.speed_through_water_mps;
            let motion = SeaMotion::new(&waves, &Hull::default(), &rig, heading, speed);
            let (mut square, mut count) = (0.0, 0.0);
            for seed in 0..4 {
                let sea = Seaway::new(&waves, seed);
                let ride = Ride::new(
                    sea,
                    Hull::default(),
                    false,
                    |t| timeline.boat(t),
                    -40.0,
                    400.0,
                );
                let height = |t: f64| {
                    let p = ride.pose(t);
                    let ahead = -tip.aft_m - Hull::default().middle_ahead_m;
                    p.heave_m + ahead * p.pitch_rad - tip.starboard_m * p.roll_rad
                };
                for i in 0..2000 {
                    let t = 0.2 * f64::from(i);
                    let rise = (height(t + 0.01) - height(t - 0.01)) / 0.02;
                    square += rise * rise;
                    count += 1.0;
                }
            }
            let (linear, ridden) = (motion.along([0.0, 0.0, 1.0]), f64::sqrt(square / count));
            // Four seeds of 400 s vary by a few per cent.
            assert!((linear / ridden - 1.0).abs() < 0.12, "{linear} {ridden}");
        }
    }

    fn trimmed(rig: &Rig, immersion: f64) -> Sample {
        let conditions = Scenario::default().conditions(60.0);
        let want = MainLine::Immersion(immersion);
        settled_state(rig, &conditions, want, None).unwrap().sample
    }
}
