//! Prior values of the turn room, until this boat's own turns replace them.

use crate::key::{Complaint, Key, Section, check, default_of};

/// `[turn]`.
pub const TURN: Section = Section::new(
    "turn",
    "Turning",
    "Used until the boat's own turns have taught better.",
    KEYS,
);

const KEYS: &[Key] = &[
    // 6 to 12 m boats: 0.5 to 3 s (Nomoto's T, from memory).
    Key::number("yaw_time_constant_s", "s", 0.2, 60.0)
        .default(2.5)
        .about(
            "how slowly the boat takes up a turn: time until 63 % of the rate of turn is reached",
            "put the helm over at fishing speed and time how long the turn takes to become steady; \
             a third of that",
        ),
    // Invented, typical.
    Key::number("usual_rate_deg_s", "degrees/s", 0.2, 30.0)
        .default(3.0)
        .about(
            "rate of turn assumed when nobody states one",
            "time a usual turn of 90 degrees and divide 90 by the seconds",
        ),
    // Invented, typical.
    Key::number("usual_turn_deg", "degrees", 10.0, 180.0)
        .default(60.0)
        .about("median size of turns that nobody tells ahead, small corrections of the course left out, \
             until this helm's own are known", "read the heading before and after ten usual turns and take the middle one"),
    // Invented, typical.
    Key::number("least_rate_deg_s", "degrees/s", 0.1, 5.0)
        .default(0.6)
        .about(
            "least rate that counts as turning; anything slower is the yaw of the sea",
            "watch the heading on a straight course: a little more than it swings in a second",
        ),
    Key::number("overdue_s", "s", 5.0, 600.0)
        .default(45.0)
        .about(
            "an announced turn that has not begun so long after its time is forgotten",
            "about the longest that the helm is ever late after an announcement",
        ),
    Key::number("stale_s", "s", 2.0, 120.0).default(10.0).about(
        "a route or autopilot sentence older than this is not used",
        "`skimwatch check --listen 10` tells how often the plotter sends; three intervals at least",
    ),
];

/// Settings of the turn room.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct TurnSettings {
    /// First-order yaw time constant (Nomoto's T) until one is fitted on line.
    pub yaw_time_constant_s: f64,
    /// Rate of turn assumed when none is stated.
    pub usual_rate_deg_s: f64,
    /// Size assumed for a turn that is seen only under way, until today's turns are known.
    pub usual_turn_deg: f64,
    /// Least rate that counts as turning, above the yaw from waves.
    pub least_rate_deg_s: f64,
    /// An announced turn that has not begun so long after its time is forgotten.
    pub overdue_s: f64,
    /// A route or autopilot sentence older than this is not believed.
    pub stale_s: f64,
}

impl Default for TurnSettings {
    fn default() -> Self {
        const DEFAULT: TurnSettings = TurnSettings {
            yaw_time_constant_s: default_of(KEYS, "yaw_time_constant_s"),
            usual_rate_deg_s: default_of(KEYS, "usual_rate_deg_s"),
            usual_turn_deg: default_of(KEYS, "usual_turn_deg"),
            least_rate_deg_s: default_of(KEYS, "least_rate_deg_s"),
            overdue_s: default_of(KEYS, "overdue_s"),
            stale_s: default_of(KEYS, "stale_s"),
        };
        DEFAULT
    }
}

impl TurnSettings {
    /// Every complaint.
    #[must_use]
    pub fn check(&self) -> Vec<Complaint> {
        check(&[TURN], self)
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
        assert_eq!(complaints[0].key, "usual_rate_deg_s");
        assert!(complaints[1].to_string().contains("5 to 600"));
    }
}
