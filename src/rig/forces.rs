//! Forces on kite, marker and bait, each with its derivatives.
//! In: position, velocity, air and water. Out: force and matrices for Newton's method. Knows
//! neither lines nor time.
//!
//! Kite: lift and drag on its area, lift in the vertical plane through the apparent wind. Bait:
//! weight, buoyancy and water drag by immersed share, air drag on the rest. Marker: drag of a
//! sphere.

use super::air::AirField;
use super::parameters::{GRAVITY_MPS2, Rig};
use super::seaway::Water;
use super::vector::{M3, V3, ZERO_M, add, add_m, dot, mul_horizontal, norm, outer, scale, sub};

/// Force on a body with its derivatives with respect to position and velocity.
#[derive(Debug, Clone, Copy)]
pub(crate) struct BodyForce {
    pub(crate) force: V3,
    /// d force / d velocity.
    pub(crate) by_velocity: M3,
    /// d force / d height.
    pub(crate) by_height: V3,
}

/// `k |v| v` and its derivative with respect to `v`.
#[inline(always)]
fn quadratic(k: f64, v: V3) -> (V3, M3) {
    let n = norm(v);
    let mut m = outer(v, v, k / n.max(1e-9));
    for (i, row) in m.iter_mut().enumerate() {
        row[i] += k * n;
    }
    (scale(v, k * n), m)
}

#[inline(always)]
fn negated(m: &M3) -> M3 {
    add_m(&ZERO_M, m, -1.0)
}

impl Rig {
    /// Lift and drag coefficient at apparent wind `v_mps`, with their derivatives with respect to
    /// it.
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
            by_height: mul_horizontal(&by_va, by_z),
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
            by_height: mul_horizontal(&m, by_z),
        }
    }

    /// Immersed share of a bait whose middle is `z` above the water, and its slope over height.
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
    pub(crate) fn bait_force(
        &self,
        air: &AirField<'_>,
        water: &Water,
        z: f64,
        velocity: V3,
    ) -> BodyForce {
        let p = &self.parameters;
        let b = &p.bait;
        let (s, s_by_z) = self.immersion(z - water.level_m);
        let (wind, by_z) = air.at(z);
        let (air_full, air_m) = quadratic(
            0.5 * p.air_density * b.air_drag_area_m2,
            sub(wind, velocity),
        );
        let mut force = scale(air_full, 1.0 - s);
        force[2] -= b.mass_kg * GRAVITY_MPS2;
        let mut by_velocity = add_m(&ZERO_M, &air_m, s - 1.0);
        let mut by_height = scale(mul_horizontal(&air_m, by_z), 1.0 - s);
        if s > 0.0 {
            let k = 0.5 * p.water_density * b.wet_drag_area_m2;
            let through = sub(velocity, water.velocity);
            let (mut water_full, water_m) = quadratic(k, scale(through, -1.0));
            by_velocity = add_m(&by_velocity, &water_m, -s);
            let lift = k * b.planing;
            water_full[2] += lift * dot(through, through);
            for (m, v) in by_velocity[2].iter_mut().zip(through) {
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
