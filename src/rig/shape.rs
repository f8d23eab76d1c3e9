//! What a Newton step works on: the world at one moment, velocity as a function of position, and
//! the unknowns.

use super::air::AirField;
use super::mesh::{MAX_NODES, MAX_PIECES};
use super::seaway::{STILL, Water};
use super::vector::{V3, ZERO};

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
    /// The water at every node; none on flat water.
    pub(crate) waters: &'a [Water],
}

impl World<'_> {
    /// The water at a node.
    #[inline(always)]
    pub(crate) fn water(&self, node: usize) -> &Water {
        self.waters.get(node).unwrap_or(&STILL)
    }
}

/// Discretised velocity and acceleration as functions of position: `v = rate x + velocity_rest`
/// plus the boat's velocity, `a = (v - velocity_before) / step_s`.
#[derive(Debug, Clone)]
pub(crate) struct Motion {
    pub(crate) rate: f64,
    pub(crate) velocity_rest: [V3; MAX_NODES],
    /// 1 over the step; 0 leaves the masses without inertia (settling).
    pub(crate) inertia_rate: f64,
    /// The same for kite, bait and marker.
    pub(crate) body_inertia_rate: f64,
    pub(crate) velocity_before: [V3; MAX_NODES],
}

impl Motion {
    pub(crate) fn still() -> Self {
        Self {
            rate: 0.0,
            velocity_rest: [ZERO; MAX_NODES],
            inertia_rate: 0.0,
            body_inertia_rate: 0.0,
            velocity_before: [ZERO; MAX_NODES],
        }
    }
}

/// The unknowns of Newton's method.
#[derive(Debug, Clone)]
pub(crate) struct Shape {
    pub(crate) x: [V3; MAX_NODES],
    /// Tension in the middle of each piece, N.
    pub(crate) tension: [f64; MAX_PIECES],
    /// Excess of the tension at the outer and inner end of each chain over that in the middle of
    /// its end piece, N.
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
