//! A hull in a seaway: where the boat is over the water, and how the waves heave, pitch and roll it.
//! In: a seaway, headings and speeds over time. Out: rod tips that move. Knows no lines.
//!
//! A rectangle that follows the water under it: heave is the level averaged over it, pitch its
//! averaged slope along the boat. Roll answers the averaged slope athwart like a pendulum of its
//! natural period. Small angles about the hull's middle at the waterline. The waves change neither
//! speed nor course. Starboard down is positive roll, bow up positive pitch.

use super::seaway::{Component, STILL, Seaway, Water};
use super::shape::World;
use super::vector::V3;

/// What the boat does at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoatMotion {
    /// Heading, radians true.
    pub heading_rad: f64,
    /// Rate of turn, radians a second, to starboard positive.
    pub yaw_rate_rad_s: f64,
    /// Speed through the water, m/s.
    pub speed_mps: f64,
}

/// What a hull does in waves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hull {
    /// Length of the rectangle at the waterline, m.
    pub length_m: f64,
    /// Beam of it, m.
    pub beam_m: f64,
    /// Its middle, ahead of the middle of the transom, m.
    pub middle_ahead_m: f64,
    /// Natural period of roll, s.
    pub roll_period_s: f64,
    /// Damping of roll as a share of the critical.
    pub roll_damping: f64,
}

impl Default for Hull {
    /// A boat of 12 m (invented, typical; that of the reference cases).
    fn default() -> Self {
        Self {
            length_m: 12.0,
            beam_m: 4.0,
            middle_ahead_m: 6.0,
            roll_period_s: 4.0,
            roll_damping: 0.2,
        }
    }
}

fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-6 { 1.0 } else { x.sin() / x }
}

impl Hull {
    /// What is left of a wave's height when averaged over the rectangle; wave numbers along and
    /// athwart, 1/m.
    pub(super) fn averaged(&self, along: f64, athwart: f64) -> f64 {
        sinc(0.5 * self.length_m * along) * sinc(0.5 * self.beam_m * athwart)
    }

    /// Amplification of roll at an encounter frequency, rad/s: how much of the slope, and its phase
    /// as real and imaginary parts.
    pub(super) fn roll_response(&self, encounter: f64) -> [f64; 2] {
        let r = encounter * self.roll_period_s / std::f64::consts::TAU;
        let (re, im) = (1.0 - r * r, 2.0 * self.roll_damping * r);
        let n = re * re + im * im;
        [re / n, -im / n]
    }
}

/// Heave and angles of a hull.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Pose {
    /// Up, m.
    pub heave_m: f64,
    /// Bow up, radians.
    pub pitch_rad: f64,
    /// Starboard down, radians.
    pub roll_rad: f64,
}

/// Place over the water (east, north), then heave, pitch, roll.
const PLACES: usize = 5;
/// Interval of the table, s: a twentieth of the shortest wave that moves a hull.
const STEP_S: f64 = 0.05;

/// Length of a piece of line near the water, m.
const LONGEST_PIECE_M: f64 = 4.0;

/// One row of the table: values and their rates.
type Row = [[f64; PLACES]; 2];

/// A boat's way through a seaway, worked out beforehand.
#[derive(Debug, Clone)]
pub struct Ride {
    pub(super) sea: Seaway,
    hull: Hull,
    start_s: f64,
    rows: Vec<Row>,
    /// No piece of line whose outer end is higher reaches the water.
    highest_m: f64,
}

impl Ride {
    /// Follows a boat from `start_s` to `end_s`. At 0 s the middle of the transom is where the
    /// waves' places begin. `rigid` rod tips stay at their height.
    #[must_use]
    pub fn new(
        sea: Seaway,
        hull: Hull,
        rigid: bool,
        boat: impl Fn(f64) -> BoatMotion,
        start_s: f64,
        end_s: f64,
    ) -> Self {
        let count = ((end_s - start_s) / STEP_S).ceil().max(1.0) as usize + 2;
        let mut rows: Vec<Row> = Vec::with_capacity(count);
        let way = |t: f64| -> [f64; 2] {
            let b = boat(t);
            let (s, c) = b.heading_rad.sin_cos();
            [b.speed_mps * s, b.speed_mps * c]
        };
        let mut place = [0.0; 2];
        for i in 0..count {
            let t = start_s + STEP_S * i as f64;
            let here = way(t);
            rows.push([
                [place[0], place[1], 0.0, 0.0, 0.0],
                [here[0], here[1], 0.0, 0.0, 0.0],
            ]);
            // Simpson's rule.
            let (middle, end) = (way(t + 0.5 * STEP_S), way(t + STEP_S));
            for k in 0..2 {
                place[k] += STEP_S / 6.0 * (here[k] + 4.0 * middle[k] + end[k]);
            }
        }
        let mut ride = Self {
            highest_m: 8.0 * sea.deviation_m() + LONGEST_PIECE_M,
            sea,
            hull,
            start_s,
            rows,
        };
        let (origin, _) = ride.at(0.0);
        for row in &mut ride.rows {
            row[0][0] -= origin[0];
            row[0][1] -= origin[1];
        }
        if !rigid {
            ride.rock(boat);
        }
        ride
    }

    /// Fills in heave, pitch and roll.
    fn rock(&mut self, boat: impl Fn(f64) -> BoatMotion) {
        let omega = std::f64::consts::TAU / self.hull.roll_period_s;
        let (mut roll, mut rate) = (0.0, 0.0);
        for i in 0..self.rows.len() {
            let t = self.start_s + STEP_S * i as f64;
            let boat = boat(t);
            let place = [self.rows[i][0][0], self.rows[i][0][1]];
            let [heave, pitch, slope] = self.under_hull(&boat, place, t);
            let row = &mut self.rows[i];
            (row[0][2], row[1][2]) = (heave[0], heave[1]);
            (row[0][3], row[1][3]) = (pitch[0], pitch[1]);
            (row[0][4], row[1][4]) = (roll, rate);
            // The slope goes on evenly over the step; four short steps of it.
            let mut tilt = -slope[0];
            let h = 0.25 * STEP_S;
            for _ in 0..4 {
                tilt -= 0.5 * h * slope[1];
                rate += h
                    * (omega * omega * (tilt - roll) - 2.0 * self.hull.roll_damping * omega * rate);
                roll += h * rate;
                tilt -= 0.5 * h * slope[1];
            }
        }
    }

    /// Averages over the hull with their rates: level, slope along, slope athwart (to starboard).
    fn under_hull(&self, boat: &BoatMotion, place: [f64; 2], t_s: f64) -> [[f64; 2]; 3] {
        let (s, c) = boat.heading_rad.sin_cos();
        let ahead = self.hull.middle_ahead_m;
        let middle = [place[0] + ahead * s, place[1] + ahead * c];
        let turning = ahead * boat.yaw_rate_rad_s;
        let moving = [
            boat.speed_mps * s + turning * c,
            boat.speed_mps * c - turning * s,
        ];
        let grown = self.sea.grown(t_s);
        let mut out = [[0.0; 2]; 3];
        for w in &self.sea.components {
            let [along, athwart] = in_boat(w, s, c);
            let size = grown * w.amplitude_m * self.hull.averaged(along, athwart);
            let at = w.k[0] * middle[0] + w.k[1] * middle[1] - w.omega * t_s + w.phase;
            let pace = w.k[0] * moving[0] + w.k[1] * moving[1] - w.omega;
            let (sin, cos) = at.sin_cos();
            out[0][0] += size * cos;
            out[0][1] -= size * pace * sin;
            for (o, k) in [(1, along), (2, athwart)] {
                out[o][0] -= size * k * sin;
                out[o][1] -= size * k * pace * cos;
            }
        }
        out
    }

    /// Values and rates at a moment, by the cubics through rows and rates.
    fn at(&self, t_s: f64) -> ([f64; PLACES], [f64; PLACES]) {
        let x = ((t_s - self.start_s) / STEP_S).max(0.0);
        let i = (x as usize).min(self.rows.len() - 2);
        let u = x - i as f64;
        let [[p0, v0], [p1, v1]] = [self.rows[i], self.rows[i + 1]];
        let (mut place, mut rate) = ([0.0; PLACES], [0.0; PLACES]);
        for k in 0..PLACES {
            let (d0, d1) = (STEP_S * v0[k], STEP_S * v1[k]);
            let (a, b) = (
                3.0 * (p1[k] - p0[k]) - 2.0 * d0 - d1,
                2.0 * (p0[k] - p1[k]) + d0 + d1,
            );
            place[k] = p0[k] + u * (d0 + u * (a + u * b));
            rate[k] = (d0 + u * (2.0 * a + 3.0 * u * b)) / STEP_S;
        }
        (place, rate)
    }

    /// How the hull lies at a moment.
    #[must_use]
    pub fn pose(&self, t_s: f64) -> Pose {
        let ([_, _, heave_m, pitch_rad, roll_rad], _) = self.at(t_s);
        Pose {
            heave_m,
            pitch_rad,
            roll_rad,
        }
    }

    /// Moves the rod tips with the hull.
    pub(crate) fn move_tips(&self, world: &mut World<'_>, heading_rad: f64, t_s: f64) {
        let (place, rate) = self.at(t_s);
        let (s, c) = heading_rad.sin_cos();
        for (tip, velocity) in world.tips.iter_mut().zip(&mut world.tip_velocities) {
            let still = *tip;
            let shifted = |p: &[f64; PLACES]| self.shift(still, [p[2], p[3], p[4]], s, c);
            for (x, d) in tip.iter_mut().zip(shifted(&place)) {
                *x += d;
            }
            for (v, d) in velocity.iter_mut().zip(shifted(&rate)) {
                *v += d;
            }
        }
    }

    /// By how much heave, pitch and roll shift what is at `still` from the middle of the transom
    /// (east, north, up).
    fn shift(&self, still: V3, [heave, pitch, roll]: [f64; 3], s: f64, c: f64) -> V3 {
        let ahead = still[0] * s + still[1] * c - self.hull.middle_ahead_m;
        let starboard = still[0] * c - still[1] * s;
        let (forward, athwart) = (-still[2] * pitch, still[2] * roll);
        [
            forward * s + athwart * c,
            forward * c - athwart * s,
            heave + ahead * pitch - starboard * roll,
        ]
    }

    /// The water at a place beside the boat (east, north, up). Far above it, flat water stands for it.
    pub(crate) fn water(&self, place: V3, t_s: f64) -> Water {
        if place[2] > self.highest_m {
            return STILL;
        }
        let (boat, _) = self.at(t_s);
        let over = [boat[0] + place[0], boat[1] + place[1]];
        self.sea.water(over, place[2], t_s)
    }
}

/// Wave number along and athwart (to starboard) for a heading's sine and cosine.
fn in_boat(w: &Component, s: f64, c: f64) -> [f64; 2] {
    [w.k[0] * s + w.k[1] * c, w.k[0] * c - w.k[1] * s]
}

#[cfg(test)]
mod tests {
    use serde_json::Value;

    use super::*;
    use crate::rig::{Scenario, ScenarioTimeline, Timeline};

    fn case(kind: &str) -> String {
        let dir = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/sea");
        std::fs::read_to_string(format!("{dir}/sea_steady_02.{kind}.json")).unwrap()
    }

    /// The very waves of a reference run: level, heave, pitch and roll at the same moments.
    #[test]
    fn hull_rides_as_in_the_reference() {
        let scenario = Scenario::from_json(&case("input")).unwrap();
        let want: Value = serde_json::from_str(&case("output")).unwrap();
        let waves = want["components_first_seed"]["rows"].as_array().unwrap();
        let sea = Seaway::of(
            waves
                .iter()
                .map(|row| {
                    let n = |i: usize| row[i].as_f64().unwrap();
                    Component {
                        k: [n(0), n(1)],
                        number: n(2),
                        omega: n(3),
                        amplitude_m: n(4),
                        phase: n(5),
                    }
                })
                .collect(),
        );
        let timeline = ScenarioTimeline {
            scenario: &scenario,
            main_line_m: 142.0,
        };
        let sea = sea.growing(-30.0, -20.0);
        let ride = Ride::new(
            sea,
            Hull::default(),
            false,
            |t| timeline.boat(t),
            -30.0,
            30.0,
        );
        let rows = want["series_first_seed"]["rows"].as_array().unwrap();
        assert!(rows.len() > 40);
        for row in rows {
            let n = |i: usize| row[i].as_f64().unwrap();
            let pose = ride.pose(n(0));
            // Columns: time, ..., heave, pitch and roll in degrees; rounded to 0.1 mm and 0.001.
            assert!((pose.heave_m - n(5)).abs() < 2e-3, "heave at {} s", n(0));
            let pitch = pose.pitch_rad.to_degrees();
            assert!((pitch - n(6)).abs() < 0.02, "pitch at {} s", n(0));
            // The reference follows roll with a method of its own and a start of its own.
            let roll = pose.roll_rad.to_degrees();
            assert!((roll - n(7)).abs() < 0.15, "roll {roll} at {} s", n(0));
        }
    }

    #[test]
    fn rod_tips_go_with_the_hull() {
        // A seaway of one wave so long that the boat only heaves and tilts with its slope.
        let long = Component {
            k: [0.0, -1e-3],
            number: 1e-3,
            omega: (1e-3 * crate::rig::parameters::GRAVITY_MPS2).sqrt(),
            amplitude_m: 50.0,
            phase: -std::f64::consts::FRAC_PI_2,
        };
        let scenario = Scenario::default();
        let timeline = ScenarioTimeline {
            scenario: &scenario,
            main_line_m: 100.0,
        };
        let ride = Ride::new(
            Seaway::of(vec![long]),
            Hull::default(),
            false,
            |t| timeline.boat(t),
            -40.0,
            10.0,
        );
        let pose = ride.pose(0.0);
        // sin(-k y) at y = 6 m, slope -a k (own arithmetic): the bow goes down.
        assert!((pose.heave_m + 0.3).abs() < 1e-3, "{pose:?}");
        assert!((pose.pitch_rad + 0.05).abs() < 1e-3, "{pose:?}");
        let shift = ride.shift([0.0, -0.3, 2.8], [0.0, pose.pitch_rad, 0.0], 0.0, 1.0);
        // Tip 6.3 m abaft the middle and 2.8 m up: rises 0.315 m, goes 0.14 m forward.
        assert!((shift[2] - 0.315).abs() < 0.01 && (shift[1] - 0.14).abs() < 0.01);
        // Starboard down: what is to starboard goes down, what is high goes to starboard.
        let shift = ride.shift([2.0, -6.0, 3.0], [0.0, 0.0, 0.1], 0.0, 1.0);
        assert!((shift[2] + 0.2).abs() < 1e-9 && (shift[0] - 0.3).abs() < 1e-9);
    }
}
