//! Forces on one straight piece of line, with their derivatives.
//! In: the two ends, tension, air and water. Out: forces and matrices for Newton's method. Knows
//! nothing of how pieces hang together and nothing of time.
//!
//! Weight and cross-flow drag `0.5 rho Cn d |Vn| Vn` per length (independence principle: Hoerner,
//! *Fluid-Dynamic Drag*, 1965).

use super::air::AirField;
use super::seaway::Water;
use super::vector::{
    M3, V3, ZERO, ZERO_M, add, add_m, dot, mul_horizontal, norm, outer, scale, sub, transposed_mul,
};

/// One straight piece of line between an outer node `a` and an inner node `b`.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Piece {
    /// Forces on its two ends: their lengths are the tensions of the line there.
    pub(crate) on_a: V3,
    pub(crate) on_b: V3,
    /// Derivatives of those with respect to the two places (velocities follow the places).
    pub(crate) aa: M3,
    pub(crate) ab: M3,
    pub(crate) ba: M3,
    pub(crate) bb: M3,
    /// Derivatives with respect to the length of line in the piece.
    pub(crate) a_by_length: V3,
    pub(crate) b_by_length: V3,
    /// Derivatives of its excess with respect to the two positions and the length.
    pub(crate) excess_by_a: V3,
    pub(crate) excess_by_b: V3,
    pub(crate) excess_by_length: f64,
    /// Square of the angle by which its load bends it.
    pub(crate) turn_squared: f64,
    /// Tension per unit of excess within a Newton step, N/m; 0 when slack.
    pub(crate) stiffness: f64,
    /// Force on `a` (and, reversed, on `b`) that the length constraint adds in this Newton step.
    pub(crate) holding: V3,
    /// How far the piece is too long (+) for its line, m.
    pub(crate) excess_m: f64,
}

/// Properties of a piece and of the fluid around it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct PieceInput<'a> {
    pub(crate) a: V3,
    pub(crate) b: V3,
    /// Velocities of its ends.
    pub(crate) velocity_a: V3,
    pub(crate) velocity_b: V3,
    /// d velocity of an end / d its place.
    pub(crate) rate: f64,
    pub(crate) tension: f64,
    pub(crate) length: f64,
    pub(crate) weight_per_m: f64,
    /// Half density, coefficient, diameter in air and water; buoyancy per length.
    pub(crate) air_drag: f64,
    pub(crate) water_drag: f64,
    pub(crate) buoyancy: f64,
    /// The water at its ends.
    pub(crate) waters: [&'a Water; 2],
}

/// Penalty stiffness of the length constraint times length, N. It only sets how fast the tension
/// converges: at a solution the excess is zero and the penalty vanishes.
pub(crate) const GUARD_STIFFNESS_N: f64 = 3e5;

/// Largest bending angle of a piece, radians: the bow is limited there, because a slack line in
/// wind is not an arc.
const MOST_TURN: f64 = 1.0;

/// Distance of the two Gauss points from the middle of a piece, as a share of its length.
const GAUSS: f64 = 0.288_675_134_594_812_9;

/// Cross-flow drag `c length |Vn| Vn` of a piece; with it its derivatives with respect to `v` and
/// to `b - a`.
#[inline(always)]
fn cross_flow(c: f64, v: V3, along: V3, inverse_span: f64) -> (V3, M3, M3) {
    let q = dot(v, along);
    let vn = sub(v, scale(along, q));
    let n = norm(vn).max(1e-9);
    let mut by_v = outer(vn, vn, c / n);
    for i in 0..3 {
        for j in 0..3 {
            let p = if i == j { 1.0 } else { 0.0 } - along[i] * along[j];
            by_v[i][j] += c * n * p;
        }
    }
    let mut by_span = outer(along, vn, -c * n * inverse_span);
    for i in 0..3 {
        for j in 0..3 {
            by_span[i][j] -= q * inverse_span * by_v[i][j];
        }
    }
    (scale(vn, c * n), by_v, by_span)
}

/// Forces of one piece.
#[inline]
pub(crate) fn piece(air: &AirField<'_>, i: &PieceInput<'_>) -> Piece {
    let span_vector = sub(i.b, i.a);
    let span = norm(span_vector).max(1e-9);
    let inverse_span = 1.0 / span;
    let along = scale(span_vector, inverse_span);
    let [water_a, water_b] = i.waters;
    let wet = wet_share(i.a[2] - water_a.level_m, i.b[2] - water_b.level_m);

    // Air on the dry share, as at the middle: gives the derivatives and how much it bows.
    let (wind, by_z) = air.at(0.5 * (i.a[2] + i.b[2]));
    let mean_velocity = scale(add(i.velocity_a, i.velocity_b), 0.5);
    let drag_factor = i.air_drag * i.length * (1.0 - wet.share);
    let (drag, by_v, by_span) =
        cross_flow(drag_factor, sub(wind, mean_velocity), along, inverse_span);
    let weight = i.weight_per_m * i.length;
    let mut load = drag;
    load[2] -= weight;

    let bow = Bow::new(i.tension, along, load);
    let excess_m = span - i.length * (1.0 - bow.sag);
    let excess = excess_slopes(i, &bow, along, inverse_span, load, (&by_v, &by_span), by_z);

    // Axial force and its derivative.
    let slack = i.tension <= 0.0 && excess_m < 0.0;
    let stiffness = if slack { 0.0 } else { 1.0 / excess.give };
    let axial_pull = scale(along, i.tension);
    let across = i.tension * inverse_span;
    let mut geometric = outer(along, along, -across);
    for (k, row) in geometric.iter_mut().enumerate() {
        row[k] += across;
    }
    let by_a = add_m(&outer(along, excess.by_a, stiffness), &geometric, -1.0);
    let by_b = add_m(&outer(along, excess.by_b, stiffness), &geometric, 1.0);

    let (load_a, load_b) = end_loads(air, i, &bow, along, span_vector[2], drag_factor, weight);
    let place = {
        let up = mul_horizontal(&by_v, by_z);
        let mut m = add_m(&ZERO_M, &by_v, -0.25 * i.rate);
        for k in 0..3 {
            m[k][2] += 0.25 * up[k];
        }
        m
    };
    let turn = add_m(&ZERO_M, &by_span, 0.5);
    let (from_a, from_b) = (add_m(&place, &turn, -1.0), add_m(&place, &turn, 1.0));
    // d/d length: the constraint (pull = stiffness (excess - d length)) and the load.
    let by_length = scale(load, 0.5 / i.length);
    let mut out = Piece {
        on_a: add(load_a, axial_pull),
        on_b: sub(load_b, axial_pull),
        aa: add_m(&from_a, &by_a, 1.0),
        ab: add_m(&from_b, &by_b, 1.0),
        ba: add_m(&from_a, &by_a, -1.0),
        bb: add_m(&from_b, &by_b, -1.0),
        a_by_length: add(by_length, scale(along, stiffness * excess.by_length)),
        b_by_length: sub(by_length, scale(along, stiffness * excess.by_length)),
        excess_by_a: excess.by_a,
        excess_by_b: excess.by_b,
        excess_by_length: excess.by_length,
        turn_squared: 24.0 * bow.sag,
        stiffness,
        holding: scale(along, stiffness * excess_m),
        excess_m,
    };
    if wet.share > 0.0 {
        add_water(&mut out, i, &wet, along, inverse_span, drag, mean_velocity);
    }
    out
}

/// The arc of a piece in its load. An arc that bends by `a` has a chord shorter by a^2/24; the
/// bending angle of a piece is its transverse load over its tension. With this correction a few
/// pieces are enough.
struct Bow {
    across_load: V3,
    turn_per_load: f64,
    /// Share of its length by which the chord is shorter.
    sag: f64,
    /// Tight enough to be an arc.
    bowed: bool,
}

impl Bow {
    #[inline(always)]
    fn new(tension: f64, along: V3, load: V3) -> Self {
        let across_load = sub(load, scale(along, dot(load, along)));
        let across2 = dot(across_load, across_load);
        let across_n = across2.sqrt();
        let turn_per_load = 1.0 / tension.max(1e-3).max(across_n / MOST_TURN);
        Self {
            across_load,
            turn_per_load,
            sag: across2 * turn_per_load * turn_per_load / 24.0,
            bowed: tension * MOST_TURN > across_n && tension > 1e-3,
        }
    }
}

/// Derivatives of a piece's excess with respect to its two places and its length, and its
/// compliance (excess per tension).
struct ExcessSlopes {
    by_a: V3,
    by_b: V3,
    by_length: f64,
    give: f64,
}

/// A bowed piece is a spring, and its bow depends on the wind. `drag_by` holds the derivatives of
/// the drag with respect to the velocity of the air and to `b - a`; `by_z` is that of the wind with
/// respect to height.
#[inline(always)]
fn excess_slopes(
    i: &PieceInput<'_>,
    bow: &Bow,
    along: V3,
    inverse_span: f64,
    load: V3,
    drag_by: (&M3, &M3),
    by_z: [f64; 2],
) -> ExcessSlopes {
    let mut slopes = ExcessSlopes {
        by_a: scale(along, -1.0),
        by_b: along,
        by_length: bow.sag - 1.0,
        give: i.length / GUARD_STIFFNESS_N,
    };
    if bow.bowed {
        let (by_v, by_span) = drag_by;
        let across_load = bow.across_load;
        let k = i.length * bow.turn_per_load * bow.turn_per_load / 12.0;
        let mut moved = scale(transposed_mul(by_v, across_load), -0.5 * i.rate);
        moved[2] += 0.5 * dot(across_load, mul_horizontal(by_v, by_z));
        let turned = sub(
            transposed_mul(by_span, across_load),
            scale(across_load, dot(load, along) * inverse_span),
        );
        slopes.by_a = add(slopes.by_a, scale(sub(moved, turned), k));
        slopes.by_b = add(slopes.by_b, scale(add(moved, turned), k));
        slopes.by_length += 2.0 * bow.sag;
        slopes.give += 2.0 * i.length * bow.sag / i.tension;
    }
    slopes
}

/// The load from the two Gauss points of the arc, where the line deviates from its chord,
/// distributed to the ends `a` and `b` by the lever rule.
#[inline(always)]
fn end_loads(
    air: &AirField<'_>,
    i: &PieceInput<'_>,
    bow: &Bow,
    along: V3,
    rise_m: f64,
    drag_factor: f64,
    weight: f64,
) -> (V3, V3) {
    let bend = scale(bow.across_load, bow.turn_per_load * GAUSS);
    let point = |side: f64| -> V3 {
        let t = sub(along, scale(bend, side));
        let t = scale(t, 1.0 / norm(t));
        let toward_b = 0.5 + side * GAUSS;
        let z = i.a[2] + toward_b * rise_m;
        let v = add(
            i.velocity_a,
            scale(sub(i.velocity_b, i.velocity_a), toward_b),
        );
        let v = sub(air.at(z).0, v);
        let vn = sub(v, scale(t, dot(v, t)));
        let mut f = scale(vn, 0.5 * drag_factor * norm(vn));
        f[2] -= 0.5 * weight;
        f
    };
    let (outer_load, inner_load) = (point(-1.0), point(1.0));
    let share = |near: V3, far: V3| add(scale(near, 0.5 + GAUSS), scale(far, 0.5 - GAUSS));
    (share(outer_load, inner_load), share(inner_load, outer_load))
}

#[derive(Debug, Clone, Copy)]
struct WetShare {
    share: f64,
    /// Its derivatives with respect to the heights of `a` and `b`.
    by_a: f64,
    by_b: f64,
    /// Place of the middle of the wet part, 0 at `a`, 1 at `b`.
    middle: f64,
}

/// The straight piece cut at the surface; heights of its ends above the water there.
#[inline(always)]
fn wet_share(za: f64, zb: f64) -> WetShare {
    let (share, by_a, by_b, middle) = if za >= 0.0 && zb >= 0.0 {
        (0.0, 0.0, 0.0, 0.5)
    } else if za <= 0.0 && zb <= 0.0 {
        (1.0, 0.0, 0.0, 0.5)
    } else {
        let d = 1.0 / (zb - za);
        let a_end = -za * d;
        if za < 0.0 {
            (a_end, -zb * d * d, za * d * d, 0.5 * a_end)
        } else {
            (1.0 - a_end, zb * d * d, -za * d * d, 0.5 * (1.0 + a_end))
        }
    };
    WetShare {
        share,
        by_a,
        by_b,
        middle,
    }
}

/// Water drag and buoyancy on the wet share of a piece.
#[cold]
fn add_water(
    out: &mut Piece,
    i: &PieceInput<'_>,
    wet: &WetShare,
    along: V3,
    inverse_span: f64,
    air_drag: V3,
    mean_velocity: V3,
) {
    let [water_a, water_b] = i.waters;
    let water_velocity = add(
        scale(water_a.velocity, 1.0 - wet.middle),
        scale(water_b.velocity, wet.middle),
    );
    let (drag, by_v, by_span) = cross_flow(
        i.water_drag * i.length * wet.share,
        sub(water_velocity, mean_velocity),
        along,
        inverse_span,
    );
    let mut load = drag;
    load[2] += i.buoyancy * i.length * wet.share;
    let (to_a, to_b) = (1.0 - wet.middle, wet.middle);
    out.on_a = add(out.on_a, scale(load, to_a));
    out.on_b = add(out.on_b, scale(load, to_b));
    // Derivative with respect to the wet share: water load added less air load removed.
    let per_share = sub(
        scale(load, 1.0 / wet.share),
        if wet.share < 1.0 {
            scale(air_drag, 1.0 / (1.0 - wet.share))
        } else {
            ZERO
        },
    );
    for (share, ma, mb) in [
        (to_a, &mut out.aa, &mut out.ab),
        (to_b, &mut out.ba, &mut out.bb),
    ] {
        for k in 0..3 {
            for j in 0..3 {
                let v = -0.5 * i.rate * by_v[k][j];
                ma[k][j] += share * (v - by_span[k][j]);
                mb[k][j] += share * (v + by_span[k][j]);
            }
            ma[k][2] += share * per_share[k] * wet.by_a;
            mb[k][2] += share * per_share[k] * wet.by_b;
        }
    }
    out.a_by_length = add(out.a_by_length, scale(load, to_a / i.length));
    out.b_by_length = add(out.b_by_length, scale(load, to_b / i.length));
}
