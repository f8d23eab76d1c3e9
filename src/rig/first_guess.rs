//! Where the settled solver starts.
//! In: rig, world, wanted immersion. Out: a shape near balance. Must not know how the solver goes
//! on.

use super::mesh::{HANG, KITE_ABOVE, KITE_BELOW, MAX_NODES, REEL};
use super::parameters::{GRAVITY_MPS2, Rig};
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
    let vb = world.boat_velocity;
    let kite_line = world.kite_line_m;
    let below = kite_line - p.kite_line.clip_to_kite_m;
    let z_bait = p.bait.height_m * (0.5 - immersion);
    let bait_pull = scale(rig.bait_force(&world.air, z_bait, vb).force, -1.0);

    // Load of a piece of main line in direction `along` at height z.
    let load = |along: V3, z: f64, length: f64| -> V3 {
        let (wind, _) = world.air.at(z);
        let v = sub(wind, vb);
        let vn = sub(v, scale(along, dot(v, along)));
        let mut f = scale(vn, rig.main_line_drag * length * norm(vn));
        f[2] -= p.main_line.mass_per_m_kg * GRAVITY_MPS2 * length;
        f
    };
    // One march from the bait up; calls back with place and force at every node.
    let march =
        |hang_piece: f64, most: usize, stop_z: f64, each: &mut dyn FnMut(usize, V3, f64)| {
            let mut x = [0.0, 0.0, z_bait];
            let mut pull = bait_pull;
            let mut length = 0.0;
            each(0, x, norm(pull));
            for j in 0..most {
                let l = if j < mesh.leader_pieces() {
                    p.marker.above_bait_m / mesh.leader()
                } else {
                    hang_piece
                };
                if j == mesh.leader_pieces() {
                    pull = sub(pull, rig.marker_force(&world.air, x[2], vb).force);
                }
                let t = norm(pull).max(1e-3);
                let mut along = scale(pull, 1.0 / t);
                let half = load(along, x[2], 0.5 * l);
                let middle = sub(pull, half);
                along = scale(middle, 1.0 / norm(middle).max(1e-3));
                x = add(x, scale(along, l));
                pull = sub(pull, load(along, x[2], l));
                length += l;
                each(j + 1, x, norm(middle));
                if x[2] > stop_z {
                    break;
                }
            }
            (x, pull, length)
        };

    let mut kite_pull = rig
        .kite_force(&world.air, world.tips[0][2] + 0.75 * kite_line, vb)
        .force;
    let mut clip = world.tips[0];
    let mut reach = (0.0, [0.0; 3], 1.0);
    let mut low_pull = kite_pull;
    for _ in 0..3 {
        let n = norm(low_pull).max(1e-6);
        let mut along = scale(low_pull, 1.0 / n);
        along[2] = along[2].max(0.2);
        clip = add(world.tips[0], scale(along, below / norm(along)));
        let (top, pull, length) = march(2.0, 400, clip[2], &mut |_, _, _| {});
        reach = (length, top, norm(pull));
        let reel = sub(world.tips[1], clip);
        let load = sub(scale(reel, norm(pull) / norm(reel).max(1e-6)), pull);
        let kite_z =
            clip[2] + p.kite_line.clip_to_kite_m * kite_pull[2] / norm(kite_pull).max(1e-6);
        kite_pull = rig.kite_force(&world.air, kite_z, vb).force;
        low_pull = add(kite_pull, load);
    }
    let (mut length, top, ring_tension) = reach;
    // The march overshoots by part of a piece; a line that never got up there is taken straight.
    if top[2] > clip[2] {
        length -= (top[2] - clip[2]).min(2.0);
    } else {
        length = 2.0 * clip[2];
    }
    let hang_m = (length - p.marker.above_bait_m).max(5.0);
    let mut shape = Shape::empty();
    let hang = &chains[HANG];
    let mut places = [[0.0; 3]; MAX_NODES + 1];
    let mut tensions = [0.0; MAX_NODES + 1];
    let mut top_node = [0.0; 3];
    march(
        hang_m / mesh.hang(),
        hang.nodes,
        f64::INFINITY,
        &mut |j, x, t| {
            if let (Some(place), Some(tension)) = (places.get_mut(j), tensions.get_mut(j)) {
                *place = x;
                *tension = t;
            }
            top_node = x;
        },
    );
    let shift = sub(clip, top_node);
    for j in 0..hang.nodes {
        // Shifted sideways as a whole, stretched in height to meet the clip.
        let share = (places[j][2] - z_bait) / (top_node[2] - z_bait).max(1.0);
        shape.x[hang.first + j] = [
            places[j][0] + shift[0],
            places[j][1] + shift[1],
            places[j][2] + shift[2] * share,
        ];
        shape.tension[hang.first_piece + j] = tensions[j + 1];
    }
    let straight = |shape: &mut Shape, which: usize, from: V3, to: V3, tension: f64| {
        let c = &chains[which];
        let pieces = c.pieces();
        for j in 0..c.nodes {
            let share = (j + usize::from(c.anchored)) as f64 / pieces as f64;
            shape.x[c.first + j] = add(from, scale(sub(to, from), share));
        }
        for t in &mut shape.tension[c.first_piece..c.first_piece + pieces] {
            *t = tension;
        }
    };
    let up = norm(kite_pull).max(1e-6);
    let kite = add(clip, scale(kite_pull, p.kite_line.clip_to_kite_m / up));
    shape.x[mesh.clip()] = clip;
    straight(&mut shape, KITE_BELOW, world.tips[0], clip, norm(low_pull));
    straight(&mut shape, KITE_ABOVE, kite, clip, up);
    straight(&mut shape, REEL, world.tips[1], clip, ring_tension);
    shape.reel_leg_m = norm(sub(clip, world.tips[1])) * 1.003;
    Guess {
        main_line_m: shape.reel_leg_m + hang_m + p.marker.above_bait_m,
        shape,
    }
}
