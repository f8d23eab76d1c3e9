//! Who winds the kite in, and with what reel.
//! In: a load. Out: pace and force at the handle.

/// Who winds, and with what. All invented, typical: no reel of this boat is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Winder {
    /// What one person gives at the handle for minutes, W (from memory: 50 to 100 W by hand).
    pub power_w: f64,
    /// Fastest line that a hand winds without load, m/s (invented).
    pub fastest_mps: f64,
    /// Line wound by one turn of the handle, m (invented, typical).
    pub line_a_turn_m: f64,
    /// Length of the handle, m (invented, typical).
    pub handle_m: f64,
    /// Share of the work that reaches the line (invented, typical).
    pub efficiency: f64,
}

impl Default for Winder {
    fn default() -> Self {
        Self {
            power_w: 70.0,
            fastest_mps: 1.0,
            line_a_turn_m: 0.6,
            handle_m: 0.09,
            efficiency: 0.85,
        }
    }
}

impl Winder {
    /// Pace against a load, m/s.
    #[must_use]
    pub fn pace_mps(&self, load_n: f64) -> f64 {
        (self.power_w * self.efficiency / load_n.max(1e-9)).min(self.fastest_mps)
    }

    /// Force at the handle, N.
    #[must_use]
    pub fn handle_n(&self, load_n: f64) -> f64 {
        load_n * self.line_a_turn_m / (std::f64::consts::TAU * self.handle_m * self.efficiency)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn handle_and_pace_are_the_work_of_one_turn() {
        // Own arithmetic: 60 N over 0.6 m is 36 J a turn; the handle goes 0.5655 m round, 63.7 N
        // without loss, 74.9 N at 85 %.
        let winder = Winder::default();
        assert!((winder.handle_n(60.0) - 74.9).abs() < 0.1);
        // 70 W at 85 % against 85 N: 0.7 m/s; never faster than 1 m/s.
        assert!((winder.pace_mps(85.0) - 0.7).abs() < 1e-9);
        assert!((winder.pace_mps(5.0) - 1.0).abs() < 1e-9);
    }
}
