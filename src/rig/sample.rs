//! The rig at one moment: what is kept to go on from, and what is told to others.
//! In: a solved shape. Out: heights, angles, tensions, places in boat axes. Knows no solver.

use super::conditions::Moment;
use super::mesh::{Chain, HANG, KITE_BELOW, MAX_NODES, MAX_PIECES, Mesh, REEL};
use super::parameters::{GRAVITY_MPS2, Rig};
use super::system::{Shape, World};
use super::vector::{V3, ZERO, add, norm, scale, sub};

/// The moving rig at one moment, enough to go on from. Opaque; places are relative to the boat,
/// in axes that do not turn.
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
    let p = rig.parameters();
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

    // Ends of a chain's first and last piece: direction and half weight along it.
    let end = |which: usize, last: bool, length: f64, per_m: f64| -> (f64, V3, f64) {
        let ch = &chains[which];
        let (a, b, index) = if last {
            let a = match ch.nodes.checked_sub(1) {
                Some(n) => x[ch.first + n],
                None => world.tips[usize::from(which == REEL)],
            };
            (a, x[clip], ch.first_piece + ch.pieces() - 1)
        } else {
            let (a, inner) = if ch.anchored {
                (world.tips[usize::from(which == REEL)], 0)
            } else {
                (x[ch.first], 1)
            };
            let b = if inner < ch.nodes {
                x[ch.first + inner]
            } else {
                x[clip]
            };
            (a, b, ch.first_piece)
        };
        let d = sub(b, a);
        let along = scale(d, 1.0 / norm(d).max(1e-9));
        (
            shape.tension[index] + shape.end_boost[index],
            along,
            0.5 * per_m * GRAVITY_MPS2 * length * along[2],
        )
    };
    let hang_m = moment.lines.main_m - shape.reel_leg_m;
    let w_kite = p.kite_line.mass_per_m_kg;
    let w_main = p.main_line.mass_per_m_kg;
    let reel_piece = shape.reel_leg_m / mesh.reel();
    let hang_piece = (hang_m - p.marker.above_bait_m) / mesh.hang();
    let leader_piece = p.marker.above_bait_m / mesh.leader();
    let below_piece = (moment.lines.kite_m - p.kite_line.clip_to_kite_m) / mesh.kite_below();
    let (kite_low, _, kite_low_w) = end(KITE_BELOW, false, below_piece, w_kite);
    let (kite_high, _, kite_high_w) = end(
        super::mesh::KITE_ABOVE,
        true,
        p.kite_line.clip_to_kite_m / mesh.kite_above(),
        w_kite,
    );
    let (reel_low, _, reel_low_w) = end(REEL, false, reel_piece, w_main);
    let (reel_high, reel_along, reel_high_w) = end(REEL, true, reel_piece, w_main);
    let (bait_t, _, bait_w) = end(HANG, false, leader_piece, w_main);
    let (hang_high, hang_along, hang_high_w) = end(HANG, true, hang_piece, w_main);
    let at_ring = reel_high + reel_high_w;
    let pull = add(
        scale(reel_along, at_ring),
        scale(hang_along, hang_high + hang_high_w),
    );

    let mut nodes = [ZERO; MAX_NODES];
    for (n, place) in nodes.iter_mut().zip(x).take(mesh.nodes()) {
        *n = to_boat(*place);
    }
    let mut wet_most: f64 = 0.0;
    for (which, ch) in chains.iter().enumerate() {
        let mut outer = match (ch.anchored, which) {
            (true, KITE_BELOW) => world.tips[0][2],
            (true, _) => world.tips[1][2],
            (false, _) => x[ch.first][2],
        };
        let from = ch.first + usize::from(!ch.anchored);
        let inner = (from..ch.first + ch.nodes).chain(std::iter::once(clip));
        for (j, n) in inner.enumerate() {
            if !(which == HANG && j == 0) {
                wet_most = wet_most.max(wet(outer, x[n][2]));
            }
            outer = x[n][2];
        }
    }
    Sample {
        t_s,
        heading_rad: moment.boat.heading_rad,
        yaw_rate_rad_s: moment.boat.yaw_rate_rad_s,
        kite_elevation_rad: seen[2].atan2(seen[0].hypot(seen[1])),
        kite_azimuth_rad: azimuth.rem_euclid(std::f64::consts::TAU),
        kite_height_m: x[kite][2],
        clip_height_m: x[clip][2],
        marker_height_m: x[marker][2],
        bait_height_m: x[bait][2],
        immersion: rig.immersion(x[bait][2]).0,
        bait_aft_m: behind[0],
        bait_starboard_m: behind[1],
        apparent_wind_at_kite_mps: norm(va),
        apparent_wind_at_kite_from_bow_rad: (-va_boat[1]).atan2(va_boat[0]),
        kite_line_tension_n: kite_low - kite_low_w,
        kite_line_tension_above_clip_n: kite_high - kite_high_w.abs(),
        main_line_tension_n: reel_low - reel_low_w,
        main_line_tension_at_ring_n: at_ring,
        bait_line_tension_n: bait_t - bait_w,
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

/// Straight mix of two shapes, `share` of the second.
pub(crate) fn mix(mesh: &Mesh, a: &Shape, b: &Shape, share: f64) -> [f64; MAX_PIECES] {
    let mut t = [0.0; MAX_PIECES];
    for i in 0..mesh.pieces() {
        t[i] = a.tension[i] + share * (b.tension[i] - a.tension[i]);
    }
    t
}
