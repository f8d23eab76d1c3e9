//! The kite on its line alone: the band has let go and the main line is away.
//! In: rig, conditions, how fast the line is wound in. Out: the line from rod tip to kite in boat
//! axes, and its load at the rod. Knows no time: the kite follows a line that is wound at a steady
//! pace within seconds, so each length is a settled state of its own.
//!
//! Method: the force of a kite at a given height is known, and with it the direction of its line
//! there. From the kite down, each piece of line adds its weight and cross-flow drag. The height of
//! the kite is moved until the line ends at the height of the rod tip. Same laws and coefficients
//! as the rest of the model.

use super::air::{AirField, Profile};
use super::conditions::Conditions;
use super::parameters::{CLIP_MASS_KG, GRAVITY_MPS2, Rig, RodTip};
use super::vector::{V3, add, dot, norm, scale, sub};

/// Pieces of the line. With 64 instead the kite moves by less than 0.02 m (tested).
const PIECES: usize = 16;
const MOST_ROUNDS: u32 = 40;
/// Height of the line's end over the rod tip that is let pass, m.
const CLOSE_M: f64 = 1e-3;

/// A kite that flies on its line alone.
#[derive(Debug, Clone, PartialEq)]
pub struct KiteAlone {
    /// Line from rod tip to kite in boat axes: aft, starboard, height, m.
    pub line_m: Vec<[f64; 3]>,
    /// Load of the line at the rod tip, N.
    pub load_n: f64,
    /// Kite above the horizontal of the rod tip, radians; negative when it is below.
    pub elevation_rad: f64,
    /// Kite off dead astern of the rod, to starboard positive, radians.
    pub off_astern_rad: f64,
}

impl KiteAlone {
    /// The kite in boat axes, m.
    #[must_use]
    pub fn kite_m(&self) -> [f64; 3] {
        self.line_m.last().copied().unwrap_or_default()
    }
}

/// What the wind makes of one line length.
#[derive(Debug)]
pub struct KiteAloneIn<'a> {
    rig: &'a Rig,
    profile: Profile,
    pieces: usize,
}

impl<'a> KiteAloneIn<'a> {
    /// For many lengths and headings in air of one height law.
    #[must_use]
    pub fn new(rig: &'a Rig, shear_exponent: f64) -> Self {
        Self {
            rig,
            profile: Profile::new(shear_exponent),
            pieces: PIECES,
        }
    }

    /// The kite with `conditions.kite_line_out_m` out, wound in at `pace_mps`. `None` when it does
    /// not hold its line up: it falls, or would hang below the rod tip.
    #[must_use]
    pub fn fly(&self, conditions: &Conditions, pace_mps: f64) -> Option<KiteAlone> {
        let tip = &self.rig.parameters.rod_tips.kite;
        let length_m = conditions.kite_line_out_m;
        let mut kite_height_m = tip.height_m + 0.7 * length_m;
        for _ in 0..MOST_ROUNDS {
            let (nodes, load_n) = self.hang(conditions, pace_mps, kite_height_m)?;
            let end = *nodes.last()?;
            let over_m = end[2] - tip.height_m;
            if !over_m.is_finite() {
                return None;
            }
            if over_m.abs() < CLOSE_M {
                return laid_out(&nodes, tip, conditions.heading_rad, load_n);
            }
            // Higher air is a little faster and lifts a little steeper: the slope is near 1.
            kite_height_m -= over_m;
            if kite_height_m < 0.0 {
                return None;
            }
        }
        None
    }

    /// Line from a kite at this height down to its end, east, north, up, and the load there.
    fn hang(&self, c: &Conditions, pace_mps: f64, height_m: f64) -> Option<(Vec<V3>, f64)> {
        let rig = self.rig;
        let air = AirField {
            profile: &self.profile,
            wind_10m: c.wind.vector_10m_mps(),
            current: c.current.vector_mps(),
        };
        let (s, co) = c.heading_rad.sin_cos();
        let boat = [c.boat_speed_mps * s, c.boat_speed_mps * co, 0.0];
        // Winding moves the kite along its line to the rod.
        let mut pull = rig.kite_force(&air, height_m, boat).force;
        for _ in 0..4 {
            let toward = scale(pull, -pace_mps / norm(pull).max(1e-9));
            pull = rig.kite_force(&air, height_m, add(boat, toward)).force;
        }
        if pull[2] <= 0.0 {
            return None;
        }
        let step_m = c.kite_line_out_m / self.pieces as f64;
        let clip_m = rig.parameters.kite_line.clip_to_kite_m;
        let weight_n = rig.parameters.kite_line.mass_per_m_kg * GRAVITY_MPS2 * step_m;
        let mut at = [0.0, 0.0, height_m];
        let mut nodes = Vec::with_capacity(self.pieces + 1);
        nodes.push(at);
        let on_piece = |middle_m: f64, along: V3| -> V3 {
            let (wind, _) = air.at(middle_m.max(0.0));
            let flow = sub(wind, boat);
            let across = sub(flow, scale(along, dot(flow, along)));
            let drag = scale(across, rig.kite_line_drag * norm(across) * step_m);
            [drag[0], drag[1], drag[2] - weight_n]
        };
        for i in 0..self.pieces {
            let before_m = i as f64 * step_m;
            if (before_m..before_m + step_m).contains(&clip_m) {
                pull[2] -= CLIP_MASS_KG * GRAVITY_MPS2;
            }
            let first = scale(pull, -1.0 / norm(pull).max(1e-9));
            let half = add(
                pull,
                scale(on_piece(at[2] + 0.5 * first[2] * step_m, first), 0.5),
            );
            let along = scale(half, -1.0 / norm(half).max(1e-9));
            let load = on_piece(at[2] + 0.5 * along[2] * step_m, along);
            pull = add(pull, load);
            at = add(at, scale(along, step_m));
            nodes.push(at);
        }
        Some((nodes, norm(pull)))
    }
}

/// Nodes from kite to rod tip as a line from rod tip to kite in boat axes.
fn laid_out(nodes: &[V3], tip: &RodTip, heading_rad: f64, load_n: f64) -> Option<KiteAlone> {
    let end = *nodes.last()?;
    let (s, c) = heading_rad.sin_cos();
    let line_m: Vec<[f64; 3]> = nodes
        .iter()
        .rev()
        .map(|node| {
            let d = sub(*node, end);
            [
                tip.aft_m - (d[0] * s + d[1] * c),
                tip.starboard_m + d[0] * c - d[1] * s,
                tip.height_m + d[2],
            ]
        })
        .collect();
    let kite = *line_m.last()?;
    let (aft, starboard) = (kite[0] - tip.aft_m, kite[1] - tip.starboard_m);
    Some(KiteAlone {
        load_n,
        elevation_rad: (kite[2] - tip.height_m).atan2(aft.hypot(starboard)),
        off_astern_rad: starboard.atan2(aft),
        line_m,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::{Current, RigParameters, Wind};

    fn conditions(heading_deg: f64, kite_line_out_m: f64) -> Conditions {
        Conditions {
            wind: Wind {
                speed_10m_mps: 8.0,
                from_rad: 0.3,
                shear_exponent: 0.11,
            },
            current: Current::default(),
            boat_speed_mps: 3.0,
            heading_rad: heading_deg.to_radians(),
            kite_line_out_m,
        }
    }

    #[test]
    fn sixteen_pieces_are_enough() {
        let rig = Rig::new(&RigParameters::default()).unwrap();
        let coarse = KiteAloneIn::new(&rig, 0.11);
        let fine = KiteAloneIn {
            pieces: 64,
            ..KiteAloneIn::new(&rig, 0.11)
        };
        let mut worst: f64 = 0.0;
        for heading in [0.0, 60.0, 110.0, 250.0] {
            for length in [6.0, 30.0, 90.0, 150.0] {
                let c = conditions(heading, length);
                let (a, b) = (coarse.fly(&c, 0.6).unwrap(), fine.fly(&c, 0.6).unwrap());
                worst = worst.max(norm(sub(a.kite_m(), b.kite_m())));
                // The line is as long as it is.
                let sum: f64 = a.line_m.windows(2).map(|w| norm(sub(w[1], w[0]))).sum();
                assert!((sum - length).abs() < 1e-6);
            }
        }
        println!("kite moves by at most {worst:.4} m");
        assert!(worst < 0.02, "{worst}");
    }

    #[test]
    fn a_weightless_line_without_drag_is_the_force_triangle() {
        // Own arithmetic: no shear, boat at rest, line as thin as allowed: the elevation is the
        // angle of lift less weight over drag, the load their resultant.
        let mut p = RigParameters::default();
        p.kite_line.diameter_m = 1e-4;
        p.kite_line.mass_per_m_kg = 1e-5;
        let rig = Rig::new(&p).unwrap();
        let mut c = conditions(0.0, 12.0);
        c.wind.shear_exponent = 0.0;
        c.boat_speed_mps = 0.0;
        let q: f64 = 0.5 * 1.225 * 1.3 * 64.0;
        let (up, along): (f64, f64) = (q * 0.75 - 0.35 * 9.81, q * 0.45);
        let found = KiteAloneIn::new(&rig, 0.0).fly(&c, 0.0).unwrap();
        assert!((found.elevation_rad - up.atan2(along)).abs() < 0.005);
        assert!((found.load_n - up.hypot(along)).abs() < 0.1);
    }

    #[test]
    fn a_kite_without_wind_does_not_fly() {
        let rig = Rig::new(&RigParameters::default()).unwrap();
        let mut c = conditions(0.0, 80.0);
        c.wind.speed_10m_mps = 0.5;
        c.boat_speed_mps = 0.5;
        assert!(KiteAloneIn::new(&rig, 0.11).fly(&c, 0.0).is_none());
    }
}
