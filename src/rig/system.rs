//! One Newton step for the whole rig: assembles the forces chain by chain from the outer ends,
//! eliminates 3x3 blocks toward the clip, solves for the ring (equal tension on both sides) and,
//! for a trim, the wanted bait height, and back-substitutes outward.
//! In: positions, tensions, line out, air, the velocity relation. Out: corrected positions and
//! tensions, and the residuals. Knows no time.

use super::assembly::{Assembly, Block, Cut, Stuff, Work};
use super::mesh::{Chain, HANG, KITE_ABOVE, KITE_BELOW, REEL};
use super::parameters::{GRAVITY_MPS2, MARKER_STOP_M, Rig};
use super::shape::{Motion, Shape, World};
use super::vector::{V3, add, add_m, dot, invert, mul_v, scale};

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
    let mesh = &rig.mesh;
    let chains = mesh.chains();
    let most_reel = most_reel_leg_m(rig, *main_line_m);
    shape.reel_leg_m = shape.reel_leg_m.clamp(LEAST_REEL_LEG_M, most_reel);
    let cuts = Cuts::new(rig, world, shape.reel_leg_m, *main_line_m);

    let eliminated = eliminate::<C>(rig, world, motion, shape, &chains, &cuts, work);
    substitute_outward(mesh.clip(), &chains, &eliminated.at_clip, work);
    let gap = ring_gap::<C>(shape, &chains, mesh.clip(), &cuts, work);

    let bait = mesh.bait();
    let height_gap_m = bait_height_m.map_or(0.0, |want| shape.x[bait][2] - want);
    let change = if bait_height_m.is_some() {
        LineChange::to_height(&gap, height_gap_m, &work.columns[bait])
    } else {
        LineChange::within_marker(&gap, shape.reel_leg_m, most_reel)
    };
    let move_m = node_moves::<C>(mesh.nodes(), &change, work);
    let mut balance = Balance {
        residual_n: eliminated.residual_n,
        move_m,
        bait_rise_m: work.columns[bait][0][2],
        ring_gap_n: if change.held { 0.0 } else { gap[0].abs() },
        height_gap_m,
        contraction: eliminated.contraction,
        tension_change_n: 0.0,
    };
    if !balance.is_finite() || !change.reel_m.is_finite() || !change.main_m.is_finite() {
        balance.residual_n = f64::NAN;
        return balance;
    }
    let mut share: f64 = 1.0;
    if balance.move_m > limit_m {
        share = limit_m / balance.move_m;
    }
    if change.main_m.abs() * share > limit_m {
        share = limit_m / change.main_m.abs();
    }
    balance.tension_change_n =
        change_tensions(shape, &chains, mesh.clip(), &cuts, &change, share, work);
    for node in 0..mesh.nodes() {
        shape.x[node] = add(shape.x[node], scale(work.columns[node][0], share));
    }
    shape.end_boost = work.end_boost;
    shape.reel_leg_m += share * change.reel_m;
    *main_line_m += share * change.main_m;
    balance
}

/// Shortest reel leg, m: keeps its pieces from vanishing.
const LEAST_REEL_LEG_M: f64 = 0.1;

/// Longest reel leg, m: what the marker, which stops the ring, leaves.
#[inline(always)]
fn most_reel_leg_m(rig: &Rig, main_line_m: f64) -> f64 {
    (main_line_m - rig.parameters.marker.above_bait_m - MARKER_STOP_M).max(0.2)
}

/// Lengths of the pieces of each stretch of line.
struct Cuts {
    kite_below: Cut,
    kite_above: Cut,
    reel: Cut,
    leader: Cut,
    hang: Cut,
    /// How many pieces at the outer end of the hang are leader.
    leader_pieces: usize,
}

impl Cuts {
    #[inline(always)]
    fn new(rig: &Rig, world: &World<'_>, reel_leg_m: f64, main_line_m: f64) -> Self {
        let mesh = &rig.mesh;
        let p = &rig.parameters;
        let hang_m = (main_line_m - p.marker.above_bait_m - reel_leg_m).max(0.05);
        Self {
            kite_below: Cut {
                length: (world.kite_line_m - p.kite_line.clip_to_kite_m) / mesh.kite_below(),
                by: [0.0; 2],
            },
            kite_above: Cut {
                length: p.kite_line.clip_to_kite_m / mesh.kite_above(),
                by: [0.0; 2],
            },
            reel: Cut {
                length: reel_leg_m / mesh.reel(),
                by: [1.0 / mesh.reel(), 0.0],
            },
            leader: Cut {
                length: p.marker.above_bait_m / mesh.leader(),
                by: [0.0; 2],
            },
            hang: Cut {
                length: hang_m / mesh.hang(),
                by: [-1.0 / mesh.hang(), 1.0 / mesh.hang()],
            },
            leader_pieces: mesh.leader_pieces(),
        }
    }

    /// Piece `j` of a chain.
    #[inline(always)]
    fn of(&self, which: usize, j: usize) -> Cut {
        match which {
            KITE_BELOW => self.kite_below,
            KITE_ABOVE => self.kite_above,
            REEL => self.reel,
            _ if j < self.leader_pieces => self.leader,
            _ => self.hang,
        }
    }
}

/// What is left when every chain has been eliminated toward the clip.
struct Eliminated<const C: usize> {
    at_clip: Block<C>,
    residual_n: f64,
    contraction: f64,
}

/// Assembles all chains and eliminates their nodes up to the clip.
#[inline(always)]
fn eliminate<const C: usize>(
    rig: &Rig,
    world: &World<'_>,
    motion: &Motion,
    shape: &Shape,
    chains: &[Chain; 4],
    cuts: &Cuts,
    work: &mut Work,
) -> Eliminated<C> {
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
    let mut assembly = Assembly::<C> {
        rig,
        world,
        motion,
        shape,
        largest_own_squared: 0.0,
        largest_turn_squared: 0.0,
    };
    let clip = rig.mesh.clip();
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
            |j| cuts.of(which, j),
            stuff,
        );
        at_clip.d = add_m(&at_clip.d, &b.d, 1.0);
        at_clip.own = add(at_clip.own, b.own);
        for c in 0..C {
            at_clip.r[c] = add(at_clip.r[c], b.r[c]);
        }
    }
    Eliminated {
        residual_n: assembly
            .largest_own_squared
            .max(dot(at_clip.own, at_clip.own))
            .sqrt(),
        contraction: 0.3 * assembly.largest_turn_squared,
        at_clip,
    }
}

/// Solves the clip's block and goes back outward: `work.columns` become the moves of every node
/// per unit of each column.
#[inline(always)]
fn substitute_outward<const C: usize>(
    clip: usize,
    chains: &[Chain; 4],
    at_clip: &Block<C>,
    work: &mut Work,
) {
    let inverse = invert(&at_clip.d);
    for c in 0..C {
        work.columns[clip][c] = scale(mul_v(&inverse, at_clip.r[c]), -1.0);
    }
    for chain in chains {
        let mut inner = clip;
        for node in (chain.first..chain.first + chain.nodes).rev() {
            for c in 0..C {
                let follow = mul_v(&work.gain[node], work.columns[inner][c]);
                work.columns[node][c] = scale(add(work.columns[node][c], follow), -1.0);
            }
            inner = node;
        }
    }
}

/// Tension at the ring from the reel side less that from the hang side, per unit of each column.
#[inline(always)]
fn ring_gap<const C: usize>(
    shape: &Shape,
    chains: &[Chain; 4],
    clip: usize,
    cuts: &Cuts,
    work: &Work,
) -> [f64; C] {
    let mut gap = [0.0; C];
    for (which, sign, cut) in [(REEL, 1.0, cuts.reel), (HANG, -1.0, cuts.hang)] {
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
    gap
}

/// How the reel leg and the main line change in this step.
struct LineChange {
    reel_m: f64,
    main_m: f64,
    /// The marker holds the ring, and the tensions on its two sides need not agree.
    held: bool,
}

impl LineChange {
    /// Equal tensions at the ring, main line as given.
    #[inline(always)]
    fn within_marker<const C: usize>(gap: &[f64; C], reel_leg_m: f64, most_reel_m: f64) -> Self {
        let reel_m = if gap[1] != 0.0 { -gap[0] / gap[1] } else { 0.0 };
        let least = LEAST_REEL_LEG_M - reel_leg_m;
        let most = most_reel_m - reel_leg_m;
        Self {
            reel_m: reel_m.clamp(least, most.max(least)),
            main_m: 0.0,
            held: reel_m > most,
        }
    }

    /// Equal tensions at the ring, and as much main line as closes the bait's `height_gap_m`.
    /// `bait` holds the bait's moves per unit of each column.
    #[inline(always)]
    fn to_height<const C: usize>(gap: &[f64; C], height_gap_m: f64, bait: &[V3]) -> Self {
        // gap0 + gap1 dL1 + gap2 dLm = 0; height_gap + h0 + h1 dL1 + h2 dLm = 0.
        let (a, b, e) = (gap[1], gap[C - 1], -gap[0]);
        let (c, d, f) = (bait[1][2], bait[2][2], -(height_gap_m + bait[0][2]));
        let determinant = a * d - b * c;
        Self {
            reel_m: (e * d - b * f) / determinant,
            main_m: (a * f - e * c) / determinant,
            held: false,
        }
    }
}

/// Turns the first column into the move of every node; gives the largest, m.
#[inline(always)]
fn node_moves<const C: usize>(nodes: usize, change: &LineChange, work: &mut Work) -> f64 {
    let mut largest: f64 = 0.0;
    for columns in &mut work.columns[..nodes] {
        let mut m = add(columns[0], scale(columns[1], change.reel_m));
        if C > 2 {
            m = add(m, scale(columns[2], change.main_m));
        }
        columns[0] = m;
        largest = largest.max(dot(m, m));
    }
    largest.sqrt()
}

/// Tensions follow the length constraint; a line cannot push. Gives the largest change, N.
#[inline(always)]
fn change_tensions(
    shape: &mut Shape,
    chains: &[Chain; 4],
    clip: usize,
    cuts: &Cuts,
    change: &LineChange,
    share: f64,
    work: &Work,
) -> f64 {
    let mut largest: f64 = 0.0;
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
            let by = cuts.of(which, j).by;
            excess += keep.by_length * (by[0] * change.reel_m + by[1] * change.main_m);
            let old = shape.tension[index];
            let new = (old + share * (keep.stiffness * excess)).max(0.0);
            largest = largest.max((new - old).abs());
            shape.tension[index] = new;
        }
    }
    largest
}
