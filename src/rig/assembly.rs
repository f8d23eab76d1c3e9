//! Assembles the forces of one chain from its outer end and eliminates it toward the clip.
//! In: positions, tensions, the velocity relation. Out: the chain's contribution to the clip's
//! block, and what back-substitution needs. Knows neither ring nor trim.

use super::mesh::{Chain, MAX_NODES, MAX_PIECES};
use super::parameters::{CLIP_MASS_KG, GRAVITY_MPS2, Rig};
use super::piece::{Piece, PieceInput, piece};
use super::seaway::STILL;
use super::shape::{Motion, Shape, World};
use super::vector::{
    M3, V3, ZERO, ZERO_M, add, add_m, dot, invert, mul_m, mul_v, norm, scale, sub,
};

/// Right-hand-side columns of the elimination: constant, reel leg, main line.
const COLUMNS: usize = 3;

/// Room for one elimination; reused from step to step.
#[derive(Debug, Clone)]
pub(crate) struct Work {
    pub(crate) pieces: [PieceKeep; MAX_PIECES],
    pub(crate) gain: [M3; MAX_NODES],
    pub(crate) end_boost: [[f64; 2]; 4],
    pub(crate) columns: [[V3; COLUMNS]; MAX_NODES],
}

/// What is kept of a piece for the tension update.
#[derive(Debug, Clone, Copy)]
pub(crate) struct PieceKeep {
    pub(crate) by_a: V3,
    pub(crate) by_b: V3,
    pub(crate) by_length: f64,
    pub(crate) stiffness: f64,
    pub(crate) excess_m: f64,
}

impl Work {
    pub(crate) fn new() -> Self {
        Self {
            pieces: [PieceKeep {
                by_a: ZERO,
                by_b: ZERO,
                by_length: 0.0,
                stiffness: 0.0,
                excess_m: 0.0,
            }; MAX_PIECES],
            gain: [ZERO_M; MAX_NODES],
            end_boost: [[0.0; 2]; 4],
            columns: [[ZERO; COLUMNS]; MAX_NODES],
        }
    }
}

/// Running block of the node being eliminated, with `C` right-hand-side columns.
#[derive(Clone, Copy)]
pub(crate) struct Block<const C: usize> {
    pub(crate) d: M3,
    pub(crate) r: [V3; C],
    /// The node's own force, before the elimination adds its part.
    pub(crate) own: V3,
}

impl<const C: usize> Block<C> {
    pub(crate) const EMPTY: Self = Self {
        d: ZERO_M,
        r: [ZERO; C],
        own: ZERO,
    };

    #[inline(always)]
    pub(crate) fn push(&mut self, d: &M3, force: V3, by_length: V3, by: [f64; 2]) {
        self.d = add_m(&self.d, d, 1.0);
        self.own = add(self.own, force);
        self.r[0] = add(self.r[0], force);
        for c in 1..C {
            self.r[c] = add(self.r[c], scale(by_length, by[c - 1]));
        }
    }
}

/// Properties of the line of one chain.
#[derive(Clone, Copy)]
pub(crate) struct Stuff {
    pub(crate) weight_per_m: f64,
    pub(crate) air_drag: f64,
    pub(crate) water_drag: f64,
    pub(crate) buoyancy: f64,
}

/// Length of a piece and its slopes over reel leg and main line.
#[derive(Clone, Copy)]
pub(crate) struct Cut {
    pub(crate) length: f64,
    pub(crate) by: [f64; 2],
}

pub(crate) struct Assembly<'a, const C: usize> {
    pub(crate) rig: &'a Rig,
    pub(crate) world: &'a World<'a>,
    pub(crate) motion: &'a Motion,
    pub(crate) shape: &'a Shape,
    pub(crate) largest_own_squared: f64,
    pub(crate) largest_turn_squared: f64,
}

impl<const C: usize> Assembly<'_, C> {
    #[inline(always)]
    pub(crate) fn velocity(&self, node: usize) -> V3 {
        add(
            add(
                scale(self.shape.x[node], self.motion.rate),
                self.motion.velocity_rest[node],
            ),
            self.world.boat_velocity,
        )
    }

    /// Block of a node's own forces: body, weight, inertia.
    #[inline(always)]
    pub(crate) fn node_block(&self, node: usize, velocity: V3, line_mass_kg: f64) -> Block<C> {
        let mesh = &self.rig.mesh;
        let p = &self.rig.parameters;
        let z = self.shape.x[node][2];
        let air = &self.world.air;
        let rate = self.motion.rate;
        let mut block = Block::EMPTY;
        let mut mass = line_mass_kg;
        let body = if node == mesh.kite() {
            mass += p.kite.mass_kg;
            Some(self.rig.kite_force(air, z, velocity))
        } else if node == mesh.bait() {
            mass += p.bait.mass_kg;
            Some(
                self.rig
                    .bait_force(air, self.world.water(node), z, velocity),
            )
        } else if node == mesh.marker() {
            mass += p.marker.mass_kg;
            Some(self.rig.marker_force(air, z, velocity))
        } else if node == mesh.clip() {
            mass += CLIP_MASS_KG;
            block.own[2] = -CLIP_MASS_KG * GRAVITY_MPS2;
            None
        } else {
            None
        };
        if let Some(f) = body {
            block.d = add_m(&ZERO_M, &f.by_velocity, rate);
            for k in 0..3 {
                block.d[k][2] += f.by_height[k];
            }
            block.own = f.force;
        }
        let inertia_rate = if body.is_some() {
            self.motion.body_inertia_rate
        } else {
            self.motion.inertia_rate
        };
        if inertia_rate > 0.0 {
            let m = inertia_rate * mass;
            let gained = sub(velocity, self.motion.velocity_before[node]);
            block.own = sub(block.own, scale(gained, m));
            for k in 0..3 {
                block.d[k][k] -= m * rate;
            }
        }
        block.r[0] = block.own;
        block
    }

    /// Eliminates one chain toward the clip; returns its contribution to the clip's block.
    #[inline(always)]
    pub(crate) fn chain(
        &mut self,
        work: &mut Work,
        which: usize,
        chain: &Chain,
        tip: Option<usize>,
        cut: impl Fn(usize) -> Cut,
        stuff: Stuff,
    ) -> Block<C> {
        let clip = self.rig.mesh.clip();
        let half_mass = 0.5 * stuff.weight_per_m / GRAVITY_MPS2;
        let (mut outer_x, mut outer_v, mut outer_water, mut block) = if let Some(t) = tip {
            (
                self.world.tips[t],
                add(self.world.tip_velocities[t], self.world.boat_velocity),
                &STILL,
                None,
            )
        } else {
            let v = self.velocity(chain.first);
            let b = self.node_block(chain.first, v, half_mass * cut(0).length);
            (
                self.shape.x[chain.first],
                v,
                self.world.water(chain.first),
                Some((chain.first, b)),
            )
        };
        let pieces = chain.pieces();
        let offset = chain.first + usize::from(tip.is_none());
        for j in 0..pieces {
            let last = j + 1 == pieces;
            let node = if last { clip } else { offset + j };
            let x = self.shape.x[node];
            let v = self.velocity(node);
            let water = self.world.water(node);
            let index = chain.first_piece + j;
            let Cut { length, by } = cut(j);
            let p: Piece = piece(
                &self.world.air,
                &PieceInput {
                    a: outer_x,
                    b: x,
                    velocity_a: outer_v,
                    velocity_b: v,
                    rate: self.motion.rate,
                    tension: self.shape.tension[index],
                    length,
                    weight_per_m: stuff.weight_per_m,
                    air_drag: stuff.air_drag,
                    water_drag: stuff.water_drag,
                    buoyancy: stuff.buoyancy,
                    waters: [outer_water, water],
                },
            );
            self.largest_turn_squared = self.largest_turn_squared.max(p.turn_squared);
            if j == 0 {
                work.end_boost[which][0] = norm(p.on_a) - self.shape.tension[index];
            }
            if last {
                work.end_boost[which][1] = norm(p.on_b) - self.shape.tension[index];
            }
            work.pieces[index] = PieceKeep {
                by_a: p.excess_by_a,
                by_b: p.excess_by_b,
                by_length: p.excess_by_length,
                stiffness: p.stiffness,
                excess_m: p.excess_m,
            };
            let mut next = if last {
                Block::EMPTY
            } else {
                self.node_block(node, v, half_mass * (length + cut(j + 1).length))
            };
            next.push(&p.bb, sub(p.on_b, p.holding), p.b_by_length, by);
            if let Some((o, mut b)) = block {
                b.push(&p.aa, add(p.on_a, p.holding), p.a_by_length, by);
                self.largest_own_squared = self.largest_own_squared.max(dot(b.own, b.own));
                let inverse = invert(&b.d);
                let gain = mul_m(&inverse, &p.ab);
                next.d = add_m(&next.d, &mul_m(&p.ba, &gain), -1.0);
                for c in 0..C {
                    let column = mul_v(&inverse, b.r[c]);
                    next.r[c] = sub(next.r[c], mul_v(&p.ba, column));
                    work.columns[o][c] = column;
                }
                work.gain[o] = gain;
            }
            outer_x = x;
            outer_v = v;
            outer_water = water;
            block = Some((node, next));
        }
        block.map_or(Block::EMPTY, |(_, b)| b)
    }
}
