//! Where the settled solver starts.
//! In: rig, world, wanted immersion. Out: a shape near balance. Must not know how the solver goes
//! on.

use super::mesh::{Chain, HANG, KITE_ABOVE, KITE_BELOW, MAX_NODES, REEL};
use super::parameters::{GRAVITY_MPS2, Rig};
use super::seaway::STILL;
use super::shape::{Shape, World};
use super::vector::{V3, add, dot, norm, scale, sub};

/// A shape and the main line that goes with it.
#[derive(Clone)]
pub(crate) struct Guess {
    pub(crate) shape: Shape,
    pub(crate) main_line_m: f64,
}

/// A shape near balance: the hanging leg marched up from the bait, straight lines elsewhere.
pub(crate) fn first_guess(rig: &Rig, world: &World<'_>, immersion: f64) -> Guess {
    let p = rig.parameters();
    let mesh = rig.mesh;
    let chains = mesh.chains();
    let leg = HangingLeg::new(rig, world, immersion);
    let clip = leg.find_clip();
    let hang_m = (clip.hang_and_leader_m() - p.marker.above_bait_m).max(5.0);
    let mut shape = Shape::empty();
    leg.lay(&mut shape, &chains[HANG], hang_m, clip.at);
    let up = norm(clip.kite_pull).max(1e-6);
    let kite = add(
        clip.at,
        scale(clip.kite_pull, p.kite_line.clip_to_kite_m / up),
    );
    let [kite_tip, main_tip] = world.tips;
    shape.x[mesh.clip()] = clip.at;
    for (which, from, tension) in [
        (KITE_BELOW, kite_tip, norm(clip.low_pull)),
        (KITE_ABOVE, kite, up),
        (REEL, main_tip, clip.ring_tension),
    ] {
        lay_straight(&mut shape, &chains[which], from, clip.at, tension);
    }
    shape.reel_leg_m = norm(sub(clip.at, main_tip)) * 1.003;
    Guess {
        main_line_m: shape.reel_leg_m + hang_m + p.marker.above_bait_m,
        shape,
    }
}

/// The clip where the pulls of kite, hanging leg and reel leg about agree.
struct FoundClip {
    at: V3,
    kite_pull: V3,
    /// Pull of the clip on the kite line below it.
    low_pull: V3,
    /// Main line marched from the bait up to `top`, where the march ended, and its tension there.
    marched_m: f64,
    top: V3,
    ring_tension: f64,
}

impl FoundClip {
    /// Main line from bait to clip. The march overshoots by part of a piece; a line that never got
    /// up there is taken straight.
    fn hang_and_leader_m(&self) -> f64 {
        if self.top[2] > self.at[2] {
            self.marched_m - (self.top[2] - self.at[2]).min(2.0)
        } else {
            2.0 * self.at[2]
        }
    }
}

/// Main line from the bait upward, where the force at the outer end is known.
struct HangingLeg<'a> {
    rig: &'a Rig,
    world: &'a World<'a>,
    z_bait: f64,
    bait_pull: V3,
}

/// Where a march ended: place, pull on the rest of the line, length of line marched.
type MarchEnd = (V3, V3, f64);

impl<'a> HangingLeg<'a> {
    fn new(rig: &'a Rig, world: &'a World<'a>, immersion: f64) -> Self {
        let z_bait = rig.parameters().bait.height_m * (0.5 - immersion);
        let on_bait = rig.bait_force(&world.air, &STILL, z_bait, world.boat_velocity);
        Self {
            rig,
            world,
            z_bait,
            bait_pull: scale(on_bait.force, -1.0),
        }
    }

    /// Load of a piece of main line in direction `along` at height `z`.
    fn load(&self, along: V3, z: f64, length: f64) -> V3 {
        let (wind, _) = self.world.air.at(z);
        let v = sub(wind, self.world.boat_velocity);
        let vn = sub(v, scale(along, dot(v, along)));
        let mut f = scale(vn, self.rig.main_line_drag * length * norm(vn));
        f[2] -= self.rig.parameters.main_line.mass_per_m_kg * GRAVITY_MPS2 * length;
        f
    }

    /// Marches from the bait up: the leader, then pieces of `hang_piece`, until `most` pieces are
    /// laid or the height `stop_z` is exceeded. Gives every node with its place and the tension in
    /// the piece before it to `each`.
    fn march(
        &self,
        hang_piece: f64,
        most: usize,
        stop_z: f64,
        mut each: impl FnMut(usize, V3, f64),
    ) -> MarchEnd {
        let mesh = self.rig.mesh;
        let (air, vb) = (&self.world.air, self.world.boat_velocity);
        let mut x = [0.0, 0.0, self.z_bait];
        let mut pull = self.bait_pull;
        let mut length = 0.0;
        each(0, x, norm(pull));
        for j in 0..most {
            let l = if j < mesh.leader_pieces() {
                self.rig.parameters.marker.above_bait_m / mesh.leader()
            } else {
                hang_piece
            };
            if j == mesh.leader_pieces() {
                pull = sub(pull, self.rig.marker_force(air, x[2], vb).force);
            }
            let t = norm(pull).max(1e-3);
            let mut along = scale(pull, 1.0 / t);
            let half = self.load(along, x[2], 0.5 * l);
            let middle = sub(pull, half);
            along = scale(middle, 1.0 / norm(middle).max(1e-3));
            x = add(x, scale(along, l));
            pull = sub(pull, self.load(along, x[2], l));
            length += l;
            each(j + 1, x, norm(middle));
            if x[2] > stop_z {
                break;
            }
        }
        (x, pull, length)
    }

    /// Three rounds of: clip in the direction of the pull on it, march up to its height, pull anew.
    fn find_clip(&self) -> FoundClip {
        let (rig, world) = (self.rig, self.world);
        let vb = world.boat_velocity;
        let above = rig.parameters.kite_line.clip_to_kite_m;
        let below = world.kite_line_m - above;
        let [kite_tip, main_tip] = world.tips;
        let kite_z = kite_tip[2] + 0.75 * world.kite_line_m;
        let kite_pull = rig.kite_force(&world.air, kite_z, vb).force;
        let mut found = FoundClip {
            at: kite_tip,
            kite_pull,
            low_pull: kite_pull,
            marched_m: 0.0,
            top: [0.0; 3],
            ring_tension: 1.0,
        };
        for _ in 0..3 {
            let n = norm(found.low_pull).max(1e-6);
            let mut along = scale(found.low_pull, 1.0 / n);
            along[2] = along[2].max(0.2);
            let clip = add(kite_tip, scale(along, below / norm(along)));
            let (top, pull, marched_m) = self.march(2.0, 400, clip[2], |_, _, _| {});
            let ring_tension = norm(pull);
            let reel = sub(main_tip, clip);
            let load = sub(scale(reel, ring_tension / norm(reel).max(1e-6)), pull);
            let kite_z = clip[2] + above * found.kite_pull[2] / norm(found.kite_pull).max(1e-6);
            let kite_pull = rig.kite_force(&world.air, kite_z, vb).force;
            found = FoundClip {
                at: clip,
                kite_pull,
                low_pull: add(kite_pull, load),
                marched_m,
                top,
                ring_tension,
            };
        }
        found
    }

    /// Lays the leg into its chain: shifted sideways as a whole, stretched in height to meet the
    /// clip.
    fn lay(&self, shape: &mut Shape, chain: &Chain, hang_m: f64, clip: V3) {
        let mut places = [[0.0; 3]; MAX_NODES + 1];
        let mut tensions = [0.0; MAX_NODES + 1];
        let hang_piece = hang_m / self.rig.mesh.hang();
        let (top, ..) = self.march(hang_piece, chain.nodes, f64::INFINITY, |j, x, t| {
            if let (Some(place), Some(tension)) = (places.get_mut(j), tensions.get_mut(j)) {
                *place = x;
                *tension = t;
            }
        });
        let shift = sub(clip, top);
        for j in 0..chain.nodes {
            let share = (places[j][2] - self.z_bait) / (top[2] - self.z_bait).max(1.0);
            shape.x[chain.first + j] = [
                places[j][0] + shift[0],
                places[j][1] + shift[1],
                places[j][2] + shift[2] * share,
            ];
            shape.tension[chain.first_piece + j] = tensions[j + 1];
        }
    }
}

/// Lays a chain straight between two points.
fn lay_straight(shape: &mut Shape, chain: &Chain, from: V3, to: V3, tension: f64) {
    let pieces = chain.pieces();
    for j in 0..chain.nodes {
        let share = (j + usize::from(chain.anchored)) as f64 / pieces as f64;
        shape.x[chain.first + j] = add(from, scale(sub(to, from), share));
    }
    for t in &mut shape.tension[chain.first_piece..chain.first_piece + pieces] {
        *t = tension;
    }
}
