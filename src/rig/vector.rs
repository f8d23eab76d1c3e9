//! Three-dimensional vectors and 3x3 matrices as plain arrays, just what the rig model needs.
//! In: numbers. Out: numbers. Knows nothing of rigs.

/// A vector: east, north, up.
pub(crate) type V3 = [f64; 3];
/// A matrix by rows.
pub(crate) type M3 = [[f64; 3]; 3];

pub(crate) const ZERO: V3 = [0.0; 3];
pub(crate) const ZERO_M: M3 = [[0.0; 3]; 3];

#[inline(always)]
pub(crate) fn add(a: V3, b: V3) -> V3 {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}

#[inline(always)]
pub(crate) fn sub(a: V3, b: V3) -> V3 {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

#[inline(always)]
pub(crate) fn scale(a: V3, k: f64) -> V3 {
    [a[0] * k, a[1] * k, a[2] * k]
}

#[inline(always)]
pub(crate) fn dot(a: V3, b: V3) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

#[inline(always)]
pub(crate) fn norm(a: V3) -> f64 {
    dot(a, a).sqrt()
}

/// `m v`.
#[inline(always)]
pub(crate) fn mul_v(m: &M3, v: V3) -> V3 {
    [dot(m[0], v), dot(m[1], v), dot(m[2], v)]
}

/// `m^T v`.
#[inline(always)]
pub(crate) fn transposed_mul(m: &M3, v: V3) -> V3 {
    [
        m[0][0] * v[0] + m[1][0] * v[1] + m[2][0] * v[2],
        m[0][1] * v[0] + m[1][1] * v[1] + m[2][1] * v[2],
        m[0][2] * v[0] + m[1][2] * v[1] + m[2][2] * v[2],
    ]
}

/// `m` times a vector without a vertical part.
#[inline(always)]
pub(crate) fn mul_horizontal(m: &M3, s: [f64; 2]) -> V3 {
    [
        m[0][0] * s[0] + m[0][1] * s[1],
        m[1][0] * s[0] + m[1][1] * s[1],
        m[2][0] * s[0] + m[2][1] * s[1],
    ]
}

/// `a b`.
#[inline(always)]
pub(crate) fn mul_m(a: &M3, b: &M3) -> M3 {
    let mut c = ZERO_M;
    for i in 0..3 {
        for j in 0..3 {
            c[i][j] = a[i][0] * b[0][j] + a[i][1] * b[1][j] + a[i][2] * b[2][j];
        }
    }
    c
}

/// `a + k b`.
#[inline(always)]
pub(crate) fn add_m(a: &M3, b: &M3, k: f64) -> M3 {
    let mut c = ZERO_M;
    for i in 0..3 {
        for j in 0..3 {
            c[i][j] = a[i][j] + k * b[i][j];
        }
    }
    c
}

/// `a b^T`, times `k`.
#[inline(always)]
pub(crate) fn outer(a: V3, b: V3, k: f64) -> M3 {
    let ka = scale(a, k);
    [
        [ka[0] * b[0], ka[0] * b[1], ka[0] * b[2]],
        [ka[1] * b[0], ka[1] * b[1], ka[1] * b[2]],
        [ka[2] * b[0], ka[2] * b[1], ka[2] * b[2]],
    ]
}

/// Inverse by cofactors; a singular matrix gives values that are not finite, which the callers
/// treat as a failed solve.
#[inline(always)]
pub(crate) fn invert(m: &M3) -> M3 {
    let c00 = m[1][1] * m[2][2] - m[1][2] * m[2][1];
    let c01 = m[1][2] * m[2][0] - m[1][0] * m[2][2];
    let c02 = m[1][0] * m[2][1] - m[1][1] * m[2][0];
    let d = 1.0 / (m[0][0] * c00 + m[0][1] * c01 + m[0][2] * c02);
    [
        [
            c00 * d,
            (m[0][2] * m[2][1] - m[0][1] * m[2][2]) * d,
            (m[0][1] * m[1][2] - m[0][2] * m[1][1]) * d,
        ],
        [
            c01 * d,
            (m[0][0] * m[2][2] - m[0][2] * m[2][0]) * d,
            (m[0][2] * m[1][0] - m[0][0] * m[1][2]) * d,
        ],
        [
            c02 * d,
            (m[0][1] * m[2][0] - m[0][0] * m[2][1]) * d,
            (m[0][0] * m[1][1] - m[0][1] * m[1][0]) * d,
        ],
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inverse_times_matrix_is_identity() {
        let m = [[4.0, 1.0, 0.5], [-1.0, 3.0, 0.25], [0.5, 0.125, 2.0]];
        let i = mul_m(&invert(&m), &m);
        for (r, row) in i.iter().enumerate() {
            for (c, v) in row.iter().enumerate() {
                let want = if r == c { 1.0 } else { 0.0 };
                assert!((v - want).abs() < 1e-14);
            }
        }
    }
}
