//! How finely a run is resolved in time.

/// Shortest step: no motion of the bait is faster, and in shorter steps the tensions of an
/// inextensible line only pick up noise.
pub(super) const FINEST_STEP_S: f64 = 0.02;

/// Time resolution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Accuracy {
    /// Error in place allowed for one step, m.
    pub place_m: f64,
    /// Longest step, s.
    pub longest_step_s: f64,
}

impl Accuracy {
    /// The accuracy in use; see the table in the module head of `rig`.
    pub const SHIPPED: Self = Self {
        place_m: 0.003,
        longest_step_s: 1.0,
    };

    /// For waves, in which the bait goes in and out of the water within tenths of a second.
    pub const WAVES: Self = Self {
        place_m: 0.00001,
        longest_step_s: 0.02,
    };

    /// Steps of one length, whatever the error in place: then the inertia is of second order, and
    /// waves lose no height to the method.
    pub(super) fn even(&self) -> bool {
        self.longest_step_s <= FINEST_STEP_S
    }

    /// For many runs that differ by metres: futures. Halves the cost.
    pub const COARSE: Self = Self {
        place_m: 0.12,
        longest_step_s: 2.0,
    };
}
