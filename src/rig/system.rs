//! One Newton step for the whole rig: assembles the forces chain by chain from the outer ends,
//! eliminates 3x3 blocks toward the clip, closes the ring (equal tension on both sides) and, for
//! a trim, the wanted bait height, and goes back outward.
//! In: places, tensions, line out, air, what velocities are made of. Out: the corrected places
//! and tensions and how far from balance they were. Knows no time.

use super::air::AirField;
use super::forces::{Piece, PieceInput, piece};
use super::mesh::{Chain, HANG, KITE_ABOVE, KITE_BELOW, MAX_NODES, MAX_PIECES, REEL};
use super::parameters::{CLIP_MASS_KG, GRAVITY_MPS2, MARKER_STOP_M, Rig};
use super::vector::{
    M3, V3, ZERO, ZERO_M, add, add_m, dot, invert, mul_m, mul_v, norm, scale, sub,
};

/// The world at one moment, in axes that move with the boat but do not turn with it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct World<'a> {
    pub(crate) air: AirField<'a>,
    /// Boat's velocity over the water.
    pub(crate) boat_velocity: V3,
    /// Kite rod tip and main rod tip, and how they move as the boat turns.
    pub(crate) tips: [V3; 2],
    pub(crate) tip_velocities: [V3; 2],
    pub(crate) kite_line_m: f64,
}

/// How velocity and acceleration follow from place: `v = rate x + velocity_rest` plus the boat's
/// velocity, `a = (v - velocity_before) / step_s`.
#[derive(Debug, Clone)]
pub(crate) struct Motion {
    pub(crate) rate: f64,
    pub(crate) velocity_rest: [V3; MAX_NODES],
    /// 1 over the step; 0 leaves the masses without inertia (settling).
    pub(crate) inertia_rate: f64,
    pub(crate) velocity_before: [V3; MAX_NODES],
}

impl Motion {
    pub(crate) fn still() -> Self {
        Self {
            rate: 0.0,
            velocity_rest: [ZERO; MAX_NODES],
            inertia_rate: 0.0,
            velocity_before: [ZERO; MAX_NODES],
        }
    }
}

/// What Newton's method moves.
#[derive(Debug, Clone)]
pub(crate) struct Shape {
    pub(crate) x: [V3; MAX_NODES],
    /// Tension in the middle of each piece, N.
    pub(crate) tension: [f64; MAX_PIECES],
    /// What the tension at the outer and inner end of each chain is more than in the middle of
    /// the piece there, N.
    pub(crate) end_boost: [[f64; 2]; 4],
    /// Main line between rod tip and ring.
    pub(crate) reel_leg_m: f64,
}

impl Shape {
    pub(crate) fn empty() -> Self {
        Self {
            x: [ZERO; MAX_NODES],
            tension: [0.0; MAX_PIECES],
            end_boost: [[0.0; 2]; 4],
            reel_leg_m: 0.0,
        }
    }
}

/// How far from balance a shape was before its step, and how far the step went.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Balance {
    /// Largest force left on any node (length error included at the guard stiffness), N.
    pub(crate) residual_n: f64,
    /// Largest move of any node, m.
    pub(crate) move_m: f64,
    /// Move of the bait in height, m.
    pub(crate) bait_rise_m: f64,
    /// Change of tension or slackness in any piece, N.
    pub(crate) tension_change_n: f64,
    /// Difference of main line tension across the ring, N; 0 where the marker holds the ring.
    pub(crate) ring_gap_n: f64,
    /// Share of a move that one step of Newton's method leaves as error: the derivatives leave out
    /// how the turn of a piece shifts its load (0.3 fitted to observed steps).
    pub(crate) contraction: f64,
    /// Difference to the wanted bait height, m.
    pub(crate) height_gap_m: f64,
}

impl Balance {
    pub(crate) fn is_finite(&self) -> bool {
        self.residual_n.is_finite() && self.move_m.is_finite() && self.tension_change_n.is_finite()
    }
}

/// Most columns that ride along in the elimination: constant, reel leg, main line.
const COLUMNS: usize = 3;

/// Room for one elimination; reused from step to step.
#[derive(Debug, Clone)]
pub(crate) struct Work {
    pieces: [PieceKeep; MAX_PIECES],
    gain: [M3; MAX_NODES],
    end_boost: [[f64; 2]; 4],
    columns: [[V3; COLUMNS]; MAX_NODES],
}

/// What is kept of a piece for the tension update.
#[derive(Debug, Clone, Copy)]
struct PieceKeep {
    by_a: V3,
    by_b: V3,
    by_length: f64,
    stiffness: f64,
    excess_m: f64,
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

/// Running block of the node being eliminated, with `C` columns that ride along.
#[derive(Clone, Copy)]
struct Block<const C: usize> {
    d: M3,
    r: [V3; C],
    /// The node's own force, before what the elimination carries over.
    own: V3,
}

impl<const C: usize> Block<C> {
    const EMPTY: Self = Self {
        d: ZERO_M,
        r: [ZERO; C],
        own: ZERO,
    };

    #[inline(always)]
    fn push(&mut self, d: &M3, force: V3, by_length: V3, by: [f64; 2]) {
        self.d = add_m(&self.d, d, 1.0);
        self.own = add(self.own, force);
        self.r[0] = add(self.r[0], force);
        for c in 1..C {
            self.r[c] = add(self.r[c], scale(by_length, by[c - 1]));
        }
    }
}

/// What a Newton step is to find besides the places.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Sought {
    /// Nothing: main line out is given.
    Places,
    /// Main line that puts the bait at this height.
    MainLine { bait_height_m: f64 },
}

/// Line of one chain.
#[derive(Clone, Copy)]
struct Stuff {
    weight_per_m: f64,
    air_drag: f64,
    water_drag: f64,
    buoyancy: f64,
}

/// Length of a piece and its slopes over reel leg and main line.
#[derive(Clone, Copy)]
struct Cut {
    length: f64,
    by: [f64; 2],
}

struct Assembly<'a, const C: usize> {
    rig: &'a Rig,
    world: &'a World<'a>,
    motion: &'a Motion,
    shape: &'a Shape,
    largest_own_squared: f64,
    largest_turn_squared: f64,
}

impl<const C: usize> Assembly<'_, C> {
    #[inline(always)]
    fn velocity(&self, node: usize) -> V3 {
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
    fn node_block(&self, node: usize, velocity: V3, line_mass_kg: f64) -> Block<C> {
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
            Some(self.rig.bait_force(air, z, velocity))
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
        if self.motion.inertia_rate > 0.0 {
            let m = self.motion.inertia_rate * mass;
            let gained = sub(velocity, self.motion.velocity_before[node]);
            block.own = sub(block.own, scale(gained, m));
            for k in 0..3 {
                block.d[k][k] -= m * rate;
            }
        }
        block.r[0] = block.own;
        block
    }

    /// Eliminates one chain toward the clip; returns what it adds to the clip's block.
    #[inline(always)]
    fn chain(
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
        let (mut outer_x, mut outer_v, mut block) = if let Some(t) = tip {
            (
                self.world.tips[t],
                add(self.world.tip_velocities[t], self.world.boat_velocity),
                None,
            )
        } else {
            let v = self.velocity(chain.first);
            let b = self.node_block(chain.first, v, half_mass * cut(0).length);
            (self.shape.x[chain.first], v, Some((chain.first, b)))
        };
        let pieces = chain.pieces();
        let offset = chain.first + usize::from(tip.is_none());
        for j in 0..pieces {
            let last = j + 1 == pieces;
            let node = if last { clip } else { offset + j };
            let x = self.shape.x[node];
            let v = self.velocity(node);
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
            block = Some((node, next));
        }
        block.map_or(Block::EMPTY, |(_, b)| b)
    }
}

/// One Newton step on `shape` (and on `main_line_m` when it is sought). `limit_m` bounds how far
/// any node may move.
pub(crate) fn newton_step(
    rig: &Rig,
    world: &World<'_>,
    motion: &Motion,
    shape: &mut Shape,
    main_line_m: &mut f64,
    sought: Sought,
    limit_m: f64,
    work: &mut Work,
) -> Balance {
    match sought {
        Sought::Places => step::<2>(rig, world, motion, shape, main_line_m, None, limit_m, work),
        Sought::MainLine { bait_height_m } => step::<3>(
            rig,
            world,
            motion,
            shape,
            main_line_m,
            Some(bait_height_m),
            limit_m,
            work,
        ),
    }
}

#[inline(always)]
fn step<const C: usize>(
    rig: &Rig,
    world: &World<'_>,
    motion: &Motion,
    shape: &mut Shape,
    main_line_m: &mut f64,
    bait_height_m: Option<f64>,
    limit_m: f64,
    work: &mut Work,
) -> Balance {
    let mesh = rig.mesh;
    let chains = mesh.chains();
    let p = &rig.parameters;
    let kite_stuff = Stuff {
        weight_per_m: p.kite_line.mass_per_m_kg * GRAVITY_MPS2,
        air_drag: rig.kite_line_drag,
        water_drag: rig.kite_line_water_drag,
        buoyancy: rig.kite_line_buoyancy,
    };
    let main_stuff = Stuff {
        weight_per_m: p.main_line.mass_per_m_kg * GRAVITY_MPS2,
        air_drag: rig.main_line_drag,
        water_drag: rig.main_line_water_drag,
        buoyancy: rig.main_line_buoyancy,
    };
    // Reel leg within what the marker leaves.
    let most_reel = (*main_line_m - p.marker.above_bait_m - MARKER_STOP_M).max(0.2);
    shape.reel_leg_m = shape.reel_leg_m.clamp(0.1, most_reel);
    let hang_m = (*main_line_m - p.marker.above_bait_m - shape.reel_leg_m).max(0.05);

    let kite_below = Cut {
        length: (world.kite_line_m - p.kite_line.clip_to_kite_m) / mesh.kite_below(),
        by: [0.0; 2],
    };
    let kite_above = Cut {
        length: p.kite_line.clip_to_kite_m / mesh.kite_above(),
        by: [0.0; 2],
    };
    let reel = Cut {
        length: shape.reel_leg_m / mesh.reel(),
        by: [1.0 / mesh.reel(), 0.0],
    };
    let leader = Cut {
        length: p.marker.above_bait_m / mesh.leader(),
        by: [0.0; 2],
    };
    let hang = Cut {
        length: hang_m / mesh.hang(),
        by: [-1.0 / mesh.hang(), 1.0 / mesh.hang()],
    };
    let leader_pieces = mesh.leader_pieces();

    let mut assembly = Assembly::<C> {
        rig,
        world,
        motion,
        shape,
        largest_own_squared: 0.0,
        largest_turn_squared: 0.0,
    };
    let clip = mesh.clip();
    let mut at_clip = assembly.node_block(clip, assembly.velocity(clip), 0.0);
    for (which, tip, stuff) in [
        (KITE_BELOW, Some(0), kite_stuff),
        (KITE_ABOVE, None, kite_stuff),
        (REEL, Some(1), main_stuff),
        (HANG, None, main_stuff),
    ] {
        let b = assembly.chain(
            work,
            which,
            &chains[which],
            tip,
            |j| match which {
                KITE_BELOW => kite_below,
                KITE_ABOVE => kite_above,
                REEL => reel,
                _ if j < leader_pieces => leader,
                _ => hang,
            },
            stuff,
        );
        at_clip.d = add_m(&at_clip.d, &b.d, 1.0);
        at_clip.own = add(at_clip.own, b.own);
        for c in 0..C {
            at_clip.r[c] = add(at_clip.r[c], b.r[c]);
        }
    }
    let contraction = 0.3 * assembly.largest_turn_squared;
    let residual_n = assembly
        .largest_own_squared
        .max(dot(at_clip.own, at_clip.own))
        .sqrt();

    // Back outward: `columns` become moves of every node per unit of each column.
    let inverse = invert(&at_clip.d);
    for c in 0..C {
        work.columns[clip][c] = scale(mul_v(&inverse, at_clip.r[c]), -1.0);
    }
    for chain in &chains {
        let mut inner = clip;
        for node in (chain.first..chain.first + chain.nodes).rev() {
            for c in 0..C {
                let follow = mul_v(&work.gain[node], work.columns[inner][c]);
                work.columns[node][c] = scale(add(work.columns[node][c], follow), -1.0);
            }
            inner = node;
        }
    }

    // The ring: tension at the ring from the reel side less that from the hang side.
    let mut gap = [0.0; C];
    for (which, sign, cut) in [(REEL, 1.0, reel), (HANG, -1.0, hang)] {
        let chain = &chains[which];
        let index = chain.first_piece + chain.pieces() - 1;
        let keep = &work.pieces[index];
        gap[0] += sign
            * (shape.tension[index] + keep.stiffness * keep.excess_m + work.end_boost[which][1]);
        let outer = chain.nodes.checked_sub(1).map(|n| chain.first + n);
        for c in 0..C {
            let mut change = dot(keep.by_b, work.columns[clip][c]);
            if let Some(o) = outer {
                change += dot(keep.by_a, work.columns[o][c]);
            }
            if c > 0 {
                change += keep.by_length * cut.by[c - 1];
            }
            gap[c] += sign * keep.stiffness * change;
        }
    }
    let bait = mesh.bait();
    let (mut reel_change, mut main_change) = (0.0, 0.0);
    let mut height_gap = 0.0;
    if let Some(want) = bait_height_m {
        height_gap = shape.x[bait][2] - want;
        let h = &work.columns[bait];
        // gap0 + gap1 dL1 + gap2 dLm = 0; height_gap + h0 + h1 dL1 + h2 dLm = 0.
        let (a, b, e) = (gap[1], gap[C - 1], -gap[0]);
        let (c, d, f) = (h[1][2], h[2][2], -(height_gap + h[0][2]));
        let determinant = a * d - b * c;
        reel_change = (e * d - b * f) / determinant;
        main_change = (a * f - e * c) / determinant;
    } else if gap[1] != 0.0 {
        reel_change = -gap[0] / gap[1];
    }
    // The marker stops the ring, and then the tensions need not agree.
    let mut held = false;
    if bait_height_m.is_none() {
        let most = most_reel - shape.reel_leg_m;
        held = reel_change > most;
        reel_change = reel_change.clamp(0.1 - shape.reel_leg_m, most.max(0.1 - shape.reel_leg_m));
    }

    // Moves, and how much of them is taken.
    let mut largest: f64 = 0.0;
    let nodes = mesh.nodes();
    for node in 0..nodes {
        let c = &mut work.columns[node];
        let mut m = add(c[0], scale(c[1], reel_change));
        if C > 2 {
            m = add(m, scale(c[2], main_change));
        }
        c[0] = m;
        largest = largest.max(dot(m, m));
    }
    let mut balance = Balance {
        residual_n,
        move_m: largest.sqrt(),
        bait_rise_m: work.columns[bait][0][2],
        ring_gap_n: if held { 0.0 } else { gap[0].abs() },
        height_gap_m: height_gap,
        contraction,
        tension_change_n: 0.0,
    };
    if !balance.is_finite() || !reel_change.is_finite() || !main_change.is_finite() {
        balance.residual_n = f64::NAN;
        return balance;
    }
    let mut share: f64 = 1.0;
    if balance.move_m > limit_m {
        share = limit_m / balance.move_m;
    }
    if main_change.abs() * share > limit_m {
        share = limit_m / main_change.abs();
    }

    // Tensions follow the constraint; a line cannot push.
    for (which, chain) in chains.iter().enumerate() {
        for j in 0..chain.pieces() {
            let index = chain.first_piece + j;
            let inner = if j + 1 == chain.pieces() {
                clip
            } else {
                chain.first + j + usize::from(!chain.anchored)
            };
            let keep = &work.pieces[index];
            let mut excess = keep.excess_m + dot(keep.by_b, work.columns[inner][0]);
            if !(chain.anchored && j == 0) {
                let outer = chain.first + j - usize::from(chain.anchored);
                excess += dot(keep.by_a, work.columns[outer][0]);
            }
            let by = match which {
                REEL => reel.by,
                HANG if j >= leader_pieces => hang.by,
                _ => [0.0; 2],
            };
            excess += keep.by_length * (by[0] * reel_change + by[1] * main_change);
            let change = keep.stiffness * excess;
            let old = shape.tension[index];
            let new = (old + share * change).max(0.0);
            balance.tension_change_n = balance.tension_change_n.max((new - old).abs());
            shape.tension[index] = new;
        }
    }
    for node in 0..nodes {
        shape.x[node] = add(shape.x[node], scale(work.columns[node][0], share));
    }
    shape.end_boost = work.end_boost;
    shape.reel_leg_m += share * reel_change;
    *main_line_m += share * main_change;
    balance
}
