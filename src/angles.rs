//! Angles wrapped into one turn: the one place where it is decided which end of the range counts.

use std::f64::consts::{PI, TAU};

/// One degree, radians.
pub const DEG: f64 = PI / 180.0;

/// The same direction in `0 <= x < 2 pi`; 0 for what is not a number.
#[must_use]
pub fn wrap_positive(angle_rad: f64) -> f64 {
    within_turn(angle_rad, TAU)
}

/// The same direction in `-pi <= x < pi`; 0 for what is not a number.
#[must_use]
pub fn wrap_signed(angle_rad: f64) -> f64 {
    around_zero(angle_rad, TAU)
}

/// The same direction in `0 <= x < 360` degrees; 0 for what is not a number.
#[must_use]
pub fn wrap_positive_deg(angle_deg: f64) -> f64 {
    within_turn(angle_deg, 360.0)
}

/// The same direction in `-180 <= x < 180` degrees; 0 for what is not a number.
#[must_use]
pub fn wrap_signed_deg(angle_deg: f64) -> f64 {
    around_zero(angle_deg, 360.0)
}

fn within_turn(angle: f64, turn: f64) -> f64 {
    let wrapped = angle.rem_euclid(turn);
    // A tiny negative angle rounds to the whole turn.
    if wrapped < turn { wrapped } else { 0.0 }
}

fn around_zero(angle: f64, turn: f64) -> f64 {
    let half = 0.5 * turn;
    if angle.is_finite() {
        within_turn(angle + half, turn) - half
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    #[test]
    fn the_ranges_hold_at_their_edges() {
        assert_eq!(wrap_positive(-1e-18), 0.0);
        assert_eq!(wrap_positive(TAU), 0.0);
        assert_eq!(wrap_positive_deg(-1e-18), 0.0);
        assert_eq!(wrap_positive_deg(720.0), 0.0);
        assert_eq!(wrap_signed(PI), -PI);
        assert_eq!(wrap_signed(-PI), -PI);
        assert_eq!(wrap_signed((-PI).next_down()), -PI);
        assert_eq!(wrap_signed_deg(180.0), -180.0);
        assert_eq!(wrap_signed_deg(-540.0), -180.0);
    }

    #[test]
    fn other_angles_keep_their_direction() {
        assert!((wrap_positive(-0.5) - (TAU - 0.5)).abs() < 1e-15);
        assert!((wrap_signed(3.5) - (3.5 - TAU)).abs() < 1e-15);
        assert_eq!(wrap_positive_deg(-90.0), 270.0);
        assert_eq!(wrap_signed_deg(350.0), -10.0);
    }

    #[test]
    fn what_is_not_a_number_is_no_angle() {
        for wrap in [
            wrap_positive,
            wrap_signed,
            wrap_positive_deg,
            wrap_signed_deg,
        ] {
            assert_eq!(wrap(f64::NAN), 0.0);
            assert_eq!(wrap(f64::INFINITY), 0.0);
        }
    }
}
