//! One Newton step for the whole rig: assembles the forces chain by chain from the outer ends,
//! eliminates 3x3 blocks toward the clip, solves for the ring (equal tension on both sides) and,
//! for a trim, the wanted bait height, and back-substitutes outward.
//! In: positions, tensions, line out, air, the velocity relation. Out: corrected positions and
//! tensions, and the residuals. Knows no time.

use super::assembly::{Assembly, Cut, Stuff, Work};
use super::mesh::{HANG, KITE_ABOVE, KITE_BELOW, REEL};
use super::parameters::{GRAVITY_MPS2, MARKER_STOP_M, Rig};
use super::shape::{Motion, Shape, World};
use super::vector::{add, add_m, dot, invert, mul_v, scale};

/// Residuals of a shape before its step, and the size of the step.
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
    /// Contraction rate of Newton's method: the derivatives neglect how the bending of a piece
    /// shifts its load (0.3 fitted to observed steps).
    pub(crate) contraction: f64,
    /// Difference to the wanted bait height, m.
    pub(crate) height_gap_m: f64,
}

impl Balance {
    pub(crate) fn is_finite(&self) -> bool {
        self.residual_n.is_finite() && self.move_m.is_finite() && self.tension_change_n.is_finite()
    }
}

/// Unknowns of a Newton step besides the positions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Sought {
    /// Nothing: main line out is given.
    Places,
    /// Main line that puts the bait at this height.
    MainLine { bait_height_m: f64 },
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
