//! Angles kept in range.

use std::f64::consts::{PI, TAU};

/// The same direction in `0 <= x < 2 pi`.
#[must_use]
pub fn wrap_positive(angle_rad: f64) -> f64 {
    let wrapped = angle_rad.rem_euclid(TAU);
    // A tiny negative angle rounds to the full circle.
    if wrapped < TAU { wrapped } else { 0.0 }
}

/// The same direction in `-pi < x <= pi`.
#[must_use]
pub fn wrap_signed(angle_rad: f64) -> f64 {
    let wrapped = wrap_positive(angle_rad);
    if wrapped > PI { wrapped - TAU } else { wrapped }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_ranges_hold_at_their_edges() {
        assert_eq!(wrap_positive(-1e-18), 0.0);
        assert_eq!(wrap_positive(TAU), 0.0);
        assert_eq!(wrap_signed(-PI), PI);
        assert!((wrap_signed(3.5) - (3.5 - TAU)).abs() < 1e-15);
        assert!((wrap_positive(-0.5) - (TAU - 0.5)).abs() < 1e-15);
    }
}
