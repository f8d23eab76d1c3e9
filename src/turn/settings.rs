//! Prior values of the turn room, until this boat's own turns replace them.

/// Settings of the turn room.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct TurnSettings {
    /// First-order yaw time constant (Nomoto's T) until one is fitted on line. 6-12 m boats:
    /// 0.5 to 3 s (from memory).
    pub yaw_time_constant_s: f64,
    /// Rate of turn assumed when none is stated. Invented, typical.
    pub usual_rate_deg_s: f64,
    /// Size assumed for a turn that is seen only under way, until today's turns are known.
    /// Invented, typical.
    pub usual_turn_deg: f64,
    /// Least rate that counts as turning, above the yaw from waves. Invented, typical.
    pub least_rate_deg_s: f64,
    /// An announced turn that has not begun so long after its time is forgotten.
    pub overdue_s: f64,
    /// A route or autopilot sentence older than this is not believed.
    pub stale_s: f64,
}

impl Default for TurnSettings {
    fn default() -> Self {
        Self {
            yaw_time_constant_s: 2.5,
            usual_rate_deg_s: 3.0,
            usual_turn_deg: 60.0,
            least_rate_deg_s: 0.6,
            overdue_s: 45.0,
            stale_s: 10.0,
        }
    }
}

impl TurnSettings {
    /// Every complaint, each with the key, the value and the allowed range.
    #[must_use]
    pub fn check(&self) -> Vec<String> {
        let rules = [
            ("yaw_time_constant_s", self.yaw_time_constant_s, 0.2, 60.0),
            ("usual_rate_deg_s", self.usual_rate_deg_s, 0.2, 30.0),
            ("usual_turn_deg", self.usual_turn_deg, 10.0, 180.0),
            ("least_rate_deg_s", self.least_rate_deg_s, 0.1, 5.0),
            ("overdue_s", self.overdue_s, 5.0, 600.0),
            ("stale_s", self.stale_s, 2.0, 120.0),
        ];
        rules
            .iter()
            .filter(|(_, value, low, high)| !(low..=high).contains(&value))
            .map(|(key, value, low, high)| format!("{key} = {value}: must be {low} to {high}"))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn defaults_pass_and_nonsense_is_named() {
        assert!(TurnSettings::default().check().is_empty());
        let bad = TurnSettings {
            usual_rate_deg_s: f64::NAN,
            overdue_s: 0.0,
            ..TurnSettings::default()
        };
        let complaints = bad.check();
        assert_eq!(complaints.len(), 2, "{complaints:?}");
        assert!(complaints[0].contains("usual_rate_deg_s"));
        assert!(complaints[1].contains("5 to 600"));
    }
}
