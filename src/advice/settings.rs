//! Thresholds and times of advisories.

/// Settings of the advice room.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct AdviceSettings {
    /// An advisory is raised from this chance on.
    pub raise_chance: f64,
    /// The same for bait and kite in a turn that was told ahead (crew, autopilot, route).
    pub raise_chance_planned: f64,
    /// The same in a turn seen only under way, whose extent is estimated.
    pub raise_chance_under_way: f64,
    /// The same in such a turn while the trouble is further off than `least_lead_s`: the extent of
    /// the turn will soon be known.
    pub raise_chance_under_way_far: f64,
    /// The least lead the crew should have. Trouble whose onset is sooner in one of ten of its
    /// futures is raised without waiting for `raise_dwell_s` or for the size of a turn to become
    /// clear.
    pub least_lead_s: f64,
    /// An advisory ends when the chance has fallen below this (hysteresis).
    pub clear_chance: f64,
    /// Dangers to people (overload, a line close to the boat) are raised from this chance on, and
    /// end when the chance has fallen below 0.6 of it.
    pub danger_chance: f64,
    /// Dwell: without a known turn, trouble must have been foreseen for so long before an advisory
    /// is raised.
    pub raise_dwell_s: f64,
    /// Dwell: trouble must have been absent for so long before its advisory ends (a called-off
    /// turn: at once).
    pub clear_dwell_s: f64,
    /// An onset that moves by more than this makes a new revision.
    pub onset_step_s: f64,
    /// A chance that changes by more than this makes a new revision.
    pub chance_step: f64,
    /// Onset nearer than this makes a warning of the bait or the kite an alarm.
    pub alarm_within_s: f64,
    /// Onset further than this makes it a caution.
    pub caution_beyond_s: f64,
    /// After so long without a forecast, nobody watches what was foreseen.
    pub lost_after_s: f64,
    /// A sensor silent for so long is reported.
    pub data_lost_s: f64,
    /// Silent sensors and missing line lengths are not reported until so long after the start.
    pub start_grace_s: f64,
    /// An alarm sounds again after so long, whatever silence was asked for: 30 s at most after
    /// IMO MSC.302(87) 7.3.5.
    pub alarm_silence_s: f64,
    /// What is over and was not acknowledged stays on the list for so long.
    pub rectified_keep_s: f64,
    /// Smaller wind shifts are not reported.
    pub wind_shift_deg: f64,
    /// Wind shifts that need less line than this are not reported.
    pub wind_shift_line_m: f64,
}

impl Default for AdviceSettings {
    fn default() -> Self {
        Self {
            raise_chance: 0.6,
            raise_chance_planned: 0.5,
            raise_chance_under_way: 0.6,
            raise_chance_under_way_far: 0.8,
            least_lead_s: 8.0,
            clear_chance: 0.2,
            danger_chance: 0.25,
            raise_dwell_s: 3.0,
            clear_dwell_s: 15.0,
            onset_step_s: 2.0,
            chance_step: 0.10,
            alarm_within_s: 8.0,
            caution_beyond_s: 90.0,
            lost_after_s: 5.0,
            data_lost_s: 10.0,
            start_grace_s: 15.0,
            alarm_silence_s: 30.0,
            rectified_keep_s: 60.0,
            wind_shift_deg: 8.0,
            wind_shift_line_m: 5.0,
        }
    }
}

impl AdviceSettings {
    /// Every complaint, each with the key, the value and the allowed range.
    #[must_use]
    pub fn check(&self) -> Vec<String> {
        let rules = [
            ("raise_chance", self.raise_chance, 0.05, 0.95),
            (
                "raise_chance_planned",
                self.raise_chance_planned,
                0.05,
                0.95,
            ),
            (
                "raise_chance_under_way",
                self.raise_chance_under_way,
                0.05,
                0.95,
            ),
            (
                "raise_chance_under_way_far",
                self.raise_chance_under_way_far,
                0.05,
                0.95,
            ),
            ("least_lead_s", self.least_lead_s, 0.0, 120.0),
            ("clear_chance", self.clear_chance, 0.01, 0.9),
            ("danger_chance", self.danger_chance, 0.02, 0.95),
            ("raise_dwell_s", self.raise_dwell_s, 0.0, 30.0),
            ("clear_dwell_s", self.clear_dwell_s, 0.0, 60.0),
            ("onset_step_s", self.onset_step_s, 0.5, 30.0),
            ("chance_step", self.chance_step, 0.01, 0.5),
            ("alarm_within_s", self.alarm_within_s, 0.0, 60.0),
            ("caution_beyond_s", self.caution_beyond_s, 10.0, 600.0),
            ("lost_after_s", self.lost_after_s, 1.0, 60.0),
            ("data_lost_s", self.data_lost_s, 2.0, 60.0),
            ("start_grace_s", self.start_grace_s, 0.0, 600.0),
            ("alarm_silence_s", self.alarm_silence_s, 0.0, 30.0),
            ("rectified_keep_s", self.rectified_keep_s, 0.0, 3600.0),
            ("wind_shift_deg", self.wind_shift_deg, 2.0, 90.0),
            ("wind_shift_line_m", self.wind_shift_line_m, 0.5, 100.0),
        ];
        let mut complaints: Vec<String> = rules
            .iter()
            .filter(|(_, value, low, high)| !(low..=high).contains(&value))
            .map(|(key, value, low, high)| format!("{key} = {value}: must be {low} to {high}"))
            .collect();
        let raised = [
            ("raise_chance", self.raise_chance),
            ("raise_chance_planned", self.raise_chance_planned),
            ("raise_chance_under_way", self.raise_chance_under_way),
            (
                "raise_chance_under_way_far",
                self.raise_chance_under_way_far,
            ),
        ];
        let lowest = raised.into_iter().min_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((key, lowest)) = lowest
            && self.clear_chance >= lowest
        {
            complaints.push(format!(
                "clear_chance = {}: must be below {key} = {lowest}, or advisories flap",
                self.clear_chance
            ));
        }
        complaints
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn defaults_pass_and_nonsense_is_named() {
        assert!(AdviceSettings::default().check().is_empty());
        let bad = AdviceSettings {
            alarm_silence_s: 120.0,
            clear_chance: 0.6,
            ..AdviceSettings::default()
        };
        let complaints = bad.check();
        assert_eq!(complaints.len(), 2, "{complaints:?}");
        assert!(complaints[0].contains("alarm_silence_s = 120: must be 0 to 30"));
        assert!(complaints[1].contains("flap"));
    }
}
