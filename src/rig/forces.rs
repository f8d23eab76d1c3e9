//! Forces on the bodies and on one straight piece of line, each with its derivatives.
//! In: position, velocity, air and water. Out: force and matrices for Newton's method. Knows
//! nothing of how pieces hang together and nothing of time.
//!
//! Line: weight and cross-flow drag `0.5 rho Cn d |Vn| Vn` per length (independence principle:
//! Hoerner, *Fluid-Dynamic Drag*, 1965). Kite: lift and drag on its area, lift
//! in the vertical plane through the apparent wind. Bait: weight, buoyancy and water drag by
//! immersed share, air drag on the rest. Marker: drag of a sphere.

use super::air::AirField;
use super::parameters::{GRAVITY_MPS2, Rig};
use super::vector::{M3, V3, ZERO, ZERO_M, add, add_m, dot, norm, outer, scale, sub};

/// Force on a body with its derivatives with respect to position and velocity.
#[derive(Debug, Clone, Copy)]
pub(crate) struct BodyForce {
    pub(crate) force: V3,
    /// d force / d velocity.
    pub(crate) by_velocity: M3,
    /// d force / d height.
    pub(crate) by_height: V3,
}

/// `k |v| v` and its derivative over `v`.
#[inline(always)]
fn quadratic(k: f64, v: V3) -> (V3, M3) {
    let n = norm(v);
    let mut m = outer(v, v, k / n.max(1e-9));
    for (i, row) in m.iter_mut().enumerate() {
        row[i] += k * n;
    }
    (scale(v, k * n), m)
}

/// `m^T v`.
#[inline(always)]
fn transposed_mul(m: &M3, v: V3) -> V3 {
    [
        m[0][0] * v[0] + m[1][0] * v[1] + m[2][0] * v[2],
        m[0][1] * v[0] + m[1][1] * v[1] + m[2][1] * v[2],
        m[0][2] * v[0] + m[1][2] * v[1] + m[2][2] * v[2],
    ]
}

#[inline(always)]
fn slope(m: &M3, s: [f64; 2]) -> V3 {
    [
        m[0][0] * s[0] + m[0][1] * s[1],
        m[1][0] * s[0] + m[1][1] * s[1],
        m[2][0] * s[0] + m[2][1] * s[1],
    ]
}

#[inline(always)]
fn negated(m: &M3) -> M3 {
    add_m(&ZERO_M, m, -1.0)
}

impl Rig {
    /// Lift and drag coefficient at apparent wind `v_mps`, with their slopes over it.
    #[inline]
    pub(crate) fn trim_at(&self, v_mps: f64) -> (f64, f64, f64, f64) {
        let k = &self.parameters.kite;
        let (Some(first), Some(last)) = (k.trim.first(), k.trim.last()) else {
            return (k.cl, k.cd, 0.0, 0.0);
        };
        if v_mps <= first.wind_mps {
            return (first.cl, first.cd, 0.0, 0.0);
        }
        for pair in k.trim.windows(2) {
            if let [a, b] = pair
                && v_mps < b.wind_mps
            {
                let w = b.wind_mps - a.wind_mps;
                let f = (v_mps - a.wind_mps) / w;
                return (
                    a.cl + f * (b.cl - a.cl),
                    a.cd + f * (b.cd - a.cd),
                    (b.cl - a.cl) / w,
                    (b.cd - a.cd) / w,
                );
            }
        }
        (last.cl, last.cd, 0.0, 0.0)
    }

    /// Force on the kite.
    #[inline]
    pub(crate) fn kite_force(&self, air: &AirField<'_>, z: f64, velocity: V3) -> BodyForce {
        let k = &self.parameters.kite;
        let (wind, by_z) = air.at(z);
        let va = sub(wind, velocity);
        let speed = norm(va).max(1e-6);
        let (cl, cd, dcl, dcd) = self.trim_at(speed);
        let q = 0.5 * self.parameters.air_density * k.area_m2;
        let h = va[0].hypot(va[1]).max(1e-3);
        // Lift is q cl |Va| times this vector of length |Va|, upward across the wind.
        let up = [-va[0] * va[2] / h, -va[1] * va[2] / h, h];
        let d = add(scale(va, cd), scale(up, cl));
        let mut force = scale(d, q * speed);
        let h2 = h * h;
        let (cx, cy) = (va[0] / h, va[1] / h);
        let up_by = [
            [
                -va[2] * (1.0 - va[0] * va[0] / h2) / h,
                va[2] * va[0] * va[1] / (h2 * h),
                -cx,
            ],
            [
                va[2] * va[0] * va[1] / (h2 * h),
                -va[2] * (1.0 - va[1] * va[1] / h2) / h,
                -cy,
            ],
            [cx, cy, 0.0],
        ];
        let slopes = add(scale(va, dcd), scale(up, dcl));
        let mut by_va = outer(add(scale(d, 1.0 / speed), slopes), va, q);
        for (i, row) in by_va.iter_mut().enumerate() {
            for (j, v) in row.iter_mut().enumerate() {
                *v += q * speed * (cl * up_by[i][j] + if i == j { cd } else { 0.0 });
            }
        }
        force[2] -= k.mass_kg * GRAVITY_MPS2;
        BodyForce {
            force,
            by_velocity: negated(&by_va),
            by_height: slope(&by_va, by_z),
        }
    }

    /// Force on the marker.
    #[inline]
    pub(crate) fn marker_force(&self, air: &AirField<'_>, z: f64, velocity: V3) -> BodyForce {
        let (wind, by_z) = air.at(z);
        let (mut force, m) = quadratic(self.marker_drag, sub(wind, velocity));
        force[2] -= self.parameters.marker.mass_kg * GRAVITY_MPS2;
        BodyForce {
            force,
            by_velocity: negated(&m),
            by_height: slope(&m, by_z),
        }
    }

    /// Immersed share of a bait whose middle is at height `z`, and its slope over height.
    #[inline]
    pub(crate) fn immersion(&self, z: f64) -> (f64, f64) {
        let h = self.parameters.bait.height_m;
        let s = (0.5 * h - z) / h;
        if s <= 0.0 {
            (0.0, 0.0)
        } else if s >= 1.0 {
            (1.0, 0.0)
        } else {
            (s, -1.0 / h)
        }
    }

    /// Force on the bait.
    #[inline]
    pub(crate) fn bait_force(&self, air: &AirField<'_>, z: f64, velocity: V3) -> BodyForce {
        let p = &self.parameters;
        let b = &p.bait;
        let (s, s_by_z) = self.immersion(z);
        let (wind, by_z) = air.at(z);
        let (air_full, air_m) = quadratic(
            0.5 * p.air_density * b.air_drag_area_m2,
            sub(wind, velocity),
        );
        let mut force = scale(air_full, 1.0 - s);
        force[2] -= b.mass_kg * GRAVITY_MPS2;
        let mut by_velocity = add_m(&ZERO_M, &air_m, s - 1.0);
        let mut by_height = scale(slope(&air_m, by_z), 1.0 - s);
        if s > 0.0 {
            let k = 0.5 * p.water_density * b.wet_drag_area_m2;
            let (mut water_full, water_m) = quadratic(k, scale(velocity, -1.0));
            by_velocity = add_m(&by_velocity, &water_m, -s);
            let lift = k * b.planing;
            water_full[2] += lift * dot(velocity, velocity);
            for (m, v) in by_velocity[2].iter_mut().zip(velocity) {
                *m += 2.0 * s * lift * v;
            }
            water_full[2] += p.water_density * b.volume_m3 * GRAVITY_MPS2;
            force = add(force, scale(water_full, s));
            by_height = add(by_height, scale(sub(water_full, air_full), s_by_z));
        }
        BodyForce {
            force,
            by_velocity,
            by_height,
        }
    }
}

/// One straight piece of line between an outer node `a` and an inner node `b`.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Piece {
    /// Forces on its two ends: their lengths are the tensions of the line there.
    pub(crate) on_a: V3,
    pub(crate) on_b: V3,
    /// Derivatives of those over the two places (velocities follow the places).
    pub(crate) aa: M3,
    pub(crate) ab: M3,
    pub(crate) ba: M3,
    pub(crate) bb: M3,
    /// Derivatives over the length of line in the piece.
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
pub(crate) struct PieceInput {
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
}

/// Penalty stiffness of the length constraint times length, N. It only sets how fast the tension
/// converges: at a solution the excess is zero and the penalty vanishes.
pub(crate) const GUARD_STIFFNESS_N: f64 = 3e5;

/// Largest bending angle of a piece, radians: the bow is limited there, because a slack line in
/// wind is not an arc.
const MOST_TURN: f64 = 1.0;

/// Distance of the two Gauss points from the middle of a piece, as a share of its length.
const GAUSS: f64 = 0.288_675_134_594_812_9;

/// Cross-flow drag `c length |Vn| Vn` of a piece; with it derivatives over `v` and over `b - a`.
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
pub(crate) fn piece(air: &AirField<'_>, i: &PieceInput) -> Piece {
    let span_vector = sub(i.b, i.a);
    let span = norm(span_vector).max(1e-9);
    let inverse_span = 1.0 / span;
    let along = scale(span_vector, inverse_span);
    let wet = wet_share(i.a[2], i.b[2]);

    // Air on the dry share, as at the middle: gives the derivatives and how much it bows.
    let (wind, by_z) = air.at(0.5 * (i.a[2] + i.b[2]));
    let mean_velocity = scale(add(i.velocity_a, i.velocity_b), 0.5);
    let drag_factor = i.air_drag * i.length * (1.0 - wet.share);
    let (drag, by_v, by_span) =
        cross_flow(drag_factor, sub(wind, mean_velocity), along, inverse_span);
    let weight = i.weight_per_m * i.length;
    let mut load = drag;
    load[2] -= weight;

    // An arc that bends by `a` has a chord shorter by a^2/24; the bending angle of this piece is
    // its transverse load over its tension. With this correction a few pieces are enough.
    let across_load = sub(load, scale(along, dot(load, along)));
    let across2 = dot(across_load, across_load);
    let across_n = across2.sqrt();
    let bowed = i.tension * MOST_TURN > across_n && i.tension > 1e-3;
    let turn_per_load = 1.0 / i.tension.max(1e-3).max(across_n / MOST_TURN);
    let sag = across2 * turn_per_load * turn_per_load / 24.0;
    let excess_m = span - i.length * (1.0 - sag);

    // Derivatives of the excess with respect to positions, length and tension: a bowed piece is a
    // spring, and its bow depends on the wind.
    let mut excess_by_a = scale(along, -1.0);
    let mut excess_by_b = along;
    let mut excess_by_length = sag - 1.0;
    let mut give = i.length / GUARD_STIFFNESS_N;
    if bowed {
        let k = i.length * turn_per_load * turn_per_load / 12.0;
        let mut moved = scale(transposed_mul(&by_v, across_load), -0.5 * i.rate);
        moved[2] += 0.5 * dot(across_load, slope(&by_v, by_z));
        let turned = sub(
            transposed_mul(&by_span, across_load),
            scale(across_load, dot(load, along) * inverse_span),
        );
        excess_by_a = add(excess_by_a, scale(sub(moved, turned), k));
        excess_by_b = add(excess_by_b, scale(add(moved, turned), k));
        excess_by_length += 2.0 * sag;
        give += 2.0 * i.length * sag / i.tension;
    }

    // Axial force and its derivative.
    let slack = i.tension <= 0.0 && excess_m < 0.0;
    let stiffness = if slack { 0.0 } else { 1.0 / give };
    let axial_pull = scale(along, i.tension);
    let across = i.tension * inverse_span;
    let mut geometric = outer(along, along, -across);
    for (k, row) in geometric.iter_mut().enumerate() {
        row[k] += across;
    }
    let by_a = add_m(&outer(along, excess_by_a, stiffness), &geometric, -1.0);
    let by_b = add_m(&outer(along, excess_by_b, stiffness), &geometric, 1.0);

    // The load from the two Gauss points of the arc, where the line deviates from its chord,
    // distributed to the ends by the lever rule.
    let bow = scale(across_load, turn_per_load * GAUSS);
    let point = |side: f64| -> V3 {
        let t = sub(along, scale(bow, side));
        let t = scale(t, 1.0 / norm(t));
        let toward_b = 0.5 + side * GAUSS;
        let z = i.a[2] + toward_b * span_vector[2];
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
    let load_a = add(
        scale(outer_load, 0.5 + GAUSS),
        scale(inner_load, 0.5 - GAUSS),
    );
    let load_b = add(
        scale(outer_load, 0.5 - GAUSS),
        scale(inner_load, 0.5 + GAUSS),
    );
    let place = {
        let up = slope(&by_v, by_z);
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
        a_by_length: add(by_length, scale(along, stiffness * excess_by_length)),
        b_by_length: sub(by_length, scale(along, stiffness * excess_by_length)),
        excess_by_a,
        excess_by_b,
        excess_by_length,
        turn_squared: 24.0 * sag,
        stiffness,
        holding: scale(along, stiffness * excess_m),
        excess_m,
    };
    if wet.share > 0.0 {
        add_water(&mut out, i, &wet, along, inverse_span, drag, mean_velocity);
    }
    out
}

#[derive(Debug, Clone, Copy)]
struct WetShare {
    share: f64,
    /// Its derivatives over the heights of `a` and `b`.
    by_a: f64,
    by_b: f64,
    /// Place of the middle of the wet part, 0 at `a`, 1 at `b`.
    middle: f64,
}

/// The straight piece cut at the surface.
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
    i: &PieceInput,
    wet: &WetShare,
    along: V3,
    inverse_span: f64,
    air_drag: V3,
    mean_velocity: V3,
) {
    let (drag, by_v, by_span) = cross_flow(
        i.water_drag * i.length * wet.share,
        scale(mean_velocity, -1.0),
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
