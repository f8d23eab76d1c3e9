//! The rig at one moment: the state to continue from, and the sample for others.
//! In: a solved shape. Out: heights, angles, tensions, positions in boat axes. Knows no solver.

use super::conditions::Moment;
use super::mesh::{Chain, HANG, KITE_ABOVE, KITE_BELOW, MAX_NODES, MAX_PIECES, Mesh, REEL};
use super::parameters::Rig;
use super::shape::{Shape, World};
use super::vector::{V3, ZERO, add, norm, scale, sub};
use crate::angles::wrap_positive;

/// State of the moving rig at one moment, sufficient to continue. Opaque; positions are relative to
/// the boat, in axes that do not rotate.
#[derive(Debug, Clone)]
pub struct State {
    pub(crate) shape: Shape,
    /// Places one and two steps before, and how long those steps were.
    pub(crate) before: [[V3; MAX_NODES]; 2],
    pub(crate) gaps_s: [f64; 2],
    /// Velocities over the water now and one step before.
    pub(crate) velocity: [[V3; MAX_NODES]; 2],
    pub(crate) main_line_m: f64,
    pub(crate) mesh: Mesh,
}

impl State {
    /// A rig that has hung still beside a steadily moving boat.
    pub(crate) fn settled(shape: Shape, main_line_m: f64, boat_velocity: V3, mesh: Mesh) -> Self {
        Self {
            before: [shape.x, shape.x],
            gaps_s: [1.0, 1.0],
            velocity: [[boat_velocity; MAX_NODES]; 2],
            main_line_m,
            shape,
            mesh,
        }
    }

    /// Main line out, m.
    #[must_use]
    pub fn main_line_m(&self) -> f64 {
        self.main_line_m
    }
}

/// Places of rod tips and line nodes in boat axes (aft, starboard, height), m.
#[derive(Debug, Clone)]
pub struct LineShape {
    tips: [V3; 2],
    nodes: [V3; MAX_NODES],
    mesh: Mesh,
}

impl LineShape {
    /// Kite line from its rod tip over the clip to the kite.
    pub fn kite_line(&self) -> impl Iterator<Item = [f64; 3]> + '_ {
        let [below, above, ..] = self.mesh.chains();
        std::iter::once(self.tips[0])
            .chain(self.outward(below))
            .chain(std::iter::once(self.clip()))
            .chain(self.inward(above))
    }

    /// Main line from its rod tip through the ring and the marker to the bait.
    pub fn main_line(&self) -> impl Iterator<Item = [f64; 3]> + '_ {
        let [.., reel, hang] = self.mesh.chains();
        std::iter::once(self.tips[1])
            .chain(self.outward(reel))
            .chain(std::iter::once(self.clip()))
            .chain(self.inward(hang))
    }

    fn outward(&self, c: Chain) -> impl Iterator<Item = V3> + '_ {
        self.nodes[c.first..c.first + c.nodes].iter().copied()
    }

    fn inward(&self, c: Chain) -> impl Iterator<Item = V3> + '_ {
        self.nodes[c.first..c.first + c.nodes].iter().rev().copied()
    }

    /// The kite.
    #[must_use]
    pub fn kite(&self) -> [f64; 3] {
        self.nodes[self.mesh.kite()]
    }

    /// Clip and ring.
    #[must_use]
    pub fn clip(&self) -> [f64; 3] {
        self.nodes[self.mesh.clip()]
    }

    /// The marker.
    #[must_use]
    pub fn marker(&self) -> [f64; 3] {
        self.nodes[self.mesh.marker()]
    }

    /// The bait.
    #[must_use]
    pub fn bait(&self) -> [f64; 3] {
        self.nodes[self.mesh.bait()]
    }
}

/// What the rig looks like at one moment.
#[derive(Debug, Clone)]
pub struct Sample {
    /// Time on the timeline, s.
    pub t_s: f64,
    /// Boat's heading, radians true.
    pub heading_rad: f64,
    /// Rate of turn, rad/s.
    pub yaw_rate_rad_s: f64,
    /// Kite above the horizontal of the kite rod tip, radians.
    pub kite_elevation_rad: f64,
    /// Bearing of the kite from the kite rod tip, radians true, 0 to 2 pi.
    pub kite_azimuth_rad: f64,
    /// Kite above the sea, m.
    pub kite_height_m: f64,
    /// Clip above the sea, m.
    pub clip_height_m: f64,
    /// Marker above the sea, m.
    pub marker_height_m: f64,
    /// Middle of the bait above the sea, m.
    pub bait_height_m: f64,
    /// Surface above its mean at the bait, m; 0 on flat water.
    pub water_at_bait_m: f64,
    /// Share of the bait under water, 0 to 1.
    pub immersion: f64,
    /// Bait astern of the main rod tip, m; negative is ahead.
    pub bait_aft_m: f64,
    /// Bait to starboard of the main rod tip, m.
    pub bait_starboard_m: f64,
    /// Apparent wind at the kite as it moves, m/s.
    pub apparent_wind_at_kite_mps: f64,
    /// Where that wind comes from, radians from the bow, starboard positive.
    pub apparent_wind_at_kite_from_bow_rad: f64,
    /// Kite line at its rod tip, N.
    pub kite_line_tension_n: f64,
    /// Kite line just above the clip, N: the greatest below the kite.
    pub kite_line_tension_above_clip_n: f64,
    /// Main line at its rod tip, N.
    pub main_line_tension_n: f64,
    /// Main line at the ring, N.
    pub main_line_tension_at_ring_n: f64,
    /// Line at the bait, N.
    pub bait_line_tension_n: f64,
    /// Load of the main line on clip and band, N.
    pub ring_load_n: f64,
    /// Main line between rod tip and ring, m.
    pub reel_leg_m: f64,
    /// Main line between ring and bait, m.
    pub hang_leg_m: f64,
    /// Main line out, m.
    pub main_line_m: f64,
    /// Kite line out, m.
    pub kite_line_m: f64,
    /// Largest share under water of any piece of line but the one at the bait.
    pub line_wet_fraction: f64,
    /// Where everything is, in boat axes.
    pub shape: LineShape,
}

fn wet(a: f64, b: f64) -> f64 {
    if a >= 0.0 && b >= 0.0 {
        0.0
    } else if a <= 0.0 && b <= 0.0 {
        1.0
    } else {
        a.min(b) / (a.min(b) - a.max(b))
    }
}

/// Everything a sample says, from a shape.
pub(crate) fn sample(
    rig: &Rig,
    t_s: f64,
    moment: &Moment,
    world: &World<'_>,
    shape: &Shape,
    kite_velocity: V3,
) -> Sample {
    let mesh = rig.mesh;
    let chains = mesh.chains();
    let (s, c) = moment.boat.heading_rad.sin_cos();
    let to_boat = |v: V3| -> V3 { [-v[0] * s - v[1] * c, v[0] * c - v[1] * s, v[2]] };
    let x = &shape.x;
    let (kite, clip, marker, bait) = (mesh.kite(), mesh.clip(), mesh.marker(), mesh.bait());
    let seen = sub(x[kite], world.tips[0]);
    let azimuth = seen[0].atan2(seen[1]);
    let (wind, _) = world.air.at(x[kite][2]);
    let va = sub(wind, kite_velocity);
    let va_boat = to_boat(va);
    let behind = to_boat(sub(x[bait], world.tips[1]));

    // Tension at the outer or inner end of a chain, and where the line comes from at the clip.
    let end = |which: usize, inner: usize| -> f64 {
        let ch = &chains[which];
        let index = ch.first_piece + if inner == 1 { ch.pieces() - 1 } else { 0 };
        shape.tension[index] + shape.end_boost[which][inner]
    };
    let toward_clip = |which: usize| -> V3 {
        let ch = &chains[which];
        let from = match ch.nodes.checked_sub(1) {
            Some(n) => x[ch.first + n],
            None => world.tips[usize::from(which == REEL)],
        };
        let d = sub(x[clip], from);
        scale(d, 1.0 / norm(d).max(1e-9))
    };
    let hang_m = moment.lines.main_m - shape.reel_leg_m;
    let at_ring = end(REEL, 1);
    let pull = add(
        scale(toward_clip(REEL), at_ring),
        scale(toward_clip(HANG), end(HANG, 1)),
    );

    let mut nodes = [ZERO; MAX_NODES];
    for (n, place) in nodes.iter_mut().zip(x).take(mesh.nodes()) {
        *n = to_boat(*place);
    }
    let mut wet_most: f64 = 0.0;
    for (which, ch) in chains.iter().enumerate() {
        let over_water = |n: usize| x[n][2] - world.water(n).level_m;
        let mut outer = match (ch.anchored, which) {
            (true, KITE_BELOW) => world.tips[0][2],
            (true, _) => world.tips[1][2],
            (false, _) => over_water(ch.first),
        };
        let from = ch.first + usize::from(!ch.anchored);
        let inner = (from..ch.first + ch.nodes).chain(std::iter::once(clip));
        for (j, n) in inner.enumerate() {
            if !(which == HANG && j == 0) {
                wet_most = wet_most.max(wet(outer, over_water(n)));
            }
            outer = over_water(n);
        }
    }
    Sample {
        t_s,
        heading_rad: moment.boat.heading_rad,
        yaw_rate_rad_s: moment.boat.yaw_rate_rad_s,
        kite_elevation_rad: seen[2].atan2(seen[0].hypot(seen[1])),
        kite_azimuth_rad: wrap_positive(azimuth),
        kite_height_m: x[kite][2],
        clip_height_m: x[clip][2],
        marker_height_m: x[marker][2],
        bait_height_m: x[bait][2],
        water_at_bait_m: world.water(bait).level_m,
        immersion: rig.immersion(x[bait][2] - world.water(bait).level_m).0,
        bait_aft_m: behind[0],
        bait_starboard_m: behind[1],
        apparent_wind_at_kite_mps: norm(va),
        apparent_wind_at_kite_from_bow_rad: (-va_boat[1]).atan2(va_boat[0]),
        kite_line_tension_n: end(KITE_BELOW, 0),
        kite_line_tension_above_clip_n: end(KITE_ABOVE, 1),
        main_line_tension_n: end(REEL, 0),
        main_line_tension_at_ring_n: at_ring,
        bait_line_tension_n: end(HANG, 0),
        ring_load_n: norm(pull),
        reel_leg_m: shape.reel_leg_m,
        hang_leg_m: hang_m,
        main_line_m: moment.lines.main_m,
        kite_line_m: moment.lines.kite_m,
        line_wet_fraction: wet_most,
        shape: LineShape {
            tips: [to_boat(world.tips[0]), to_boat(world.tips[1])],
            nodes,
            mesh,
        },
    }
}

/// Linear interpolation between two shapes, `share` of the second.
pub(crate) fn mix(mesh: &Mesh, a: &Shape, b: &Shape, share: f64) -> [f64; MAX_PIECES] {
    let mut t = [0.0; MAX_PIECES];
    for i in 0..mesh.pieces() {
        t[i] = a.tension[i] + share * (b.tension[i] - a.tension[i]);
    }
    t
}
