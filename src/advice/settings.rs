//! Thresholds and times of advisories.

use crate::key::{Complaint, Fallback, Group, Key, Section, check, default_of, row_of};

/// `[advice]`.
pub const ADVICE: Section = Section::new("advice", "When to speak", "", KEYS);

const KEYS: &[Key] = &[
    Key::words("alertness", &["calm", "normal", "eager"])
        .or(Fallback::Word("normal"))
        .about(
            "how readily trouble is told that no turn brings: from a chance of 0.8 (calm), 0.6 \
             (normal) or 0.4 (eager) on, as if a false alarm cost as much as four, one and a half or \
             two thirds of a missed trouble; it begins as a caution, and calls for hands from a \
             chance of 0.89, 0.75 or 0.57 on",
            "begin with normal; take calm if it speaks too often, eager if it speaks too seldom",
        )
        .on_page(Group::Hands, "How readily to warn without a turn"),
    Key::number("raise_chance_planned", "", 0.05, 0.95)
        .default(0.5)
        .about(
            "bait and kite in a turn that was told ahead by crew, autopilot or route: told from this \
             chance on",
            "lower it if the crew would rather hear too much, raise it if too little",
        ),
    Key::number("raise_chance_under_way", "", 0.05, 0.95)
        .default(0.6)
        .about(
            "the same for bait and kite in a turn that is seen only under way",
            "lower it if the crew would rather hear too much, raise it if too little",
        ),
    Key::number("raise_chance_under_way_far", "", 0.05, 0.95)
        .default(0.8)
        .about(
            "the same while the trouble of such a turn is further off than least_lead_s: how far \
             the turn goes will soon be seen",
            "lower it if the crew would rather hear too much, raise it if too little",
        ),
    Key::number("least_lead_s", "s", 0.0, 120.0)
        .default(8.0)
        .about(
            "the least warning that the crew should have; trouble that one in ten of its futures \
             brings sooner is told at once, without waiting to see more",
            "add up the time to get to the reel and the time to move about 6 m of line",
        ),
    Key::number("clear_chance", "", 0.01, 0.9)
        .default(0.15)
        .about(
            "an advisory ends when the chance has fallen below this; must be below every chance \
             that raises one",
            "nothing to measure: leave the key away for the default",
        ),
    Key::number("danger_chance", "", 0.02, 0.95)
        .default(0.25)
        .about(
            "an overloaded line and a line that comes near the boat are told from this lower \
             chance on, because they can hurt somebody; they end when the chance is below 0.6 of \
             it",
            "lower it the less a false alarm disturbs",
        ),
    Key::number("raise_dwell_s", "s", 0.0, 30.0)
        .default(3.0)
        .about(
            "without a known turn, trouble must have been foreseen for so long before it is told",
            "longer if advisories come and go within seconds",
        ),
    Key::number("clear_dwell_s", "s", 0.0, 60.0)
        .default(15.0)
        .about(
            "trouble must have been absent for so long before its advisory ends; that of a turn \
             called off ends at once",
            "longer if advisories end and come back",
        ),
    Key::number("onset_step_s", "s", 0.5, 30.0)
        .default(2.0)
        .about(
            "an advisory is told anew when its onset has moved by more than this",
            "about the shortest time that matters to the hands",
        ),
    Key::number("chance_step", "", 0.01, 0.5)
        .default(0.1)
        .about(
            "an advisory is told anew when its chance has changed by more than this",
            "nothing to measure: leave the key away for the default",
        ),
    Key::number("alarm_within_s", "s", 0.0, 60.0)
        .default(8.0)
        .about(
            "an onset nearer than this makes a warning of bait or kite an alarm",
            "your reaction_s of [forecast.hands] and the time to move a few metres of line",
        ),
    Key::number("caution_beyond_s", "s", 10.0, 600.0)
        .default(90.0)
        .about("an onset further off than this makes it a caution only", "nothing to measure: leave the key away for the default"),
    Key::number("pressing_s", "s", 5.0, 120.0)
        .default(30.0)
        .about(
            "without a turn, trouble of bait or kite is more than a caution only if it is likely to \
             come within so long",
            "how far ahead the crew still wants to be called",
        ),
    Key::number("lost_after_s", "s", 1.0, 60.0)
        .default(5.0)
        .about(
            "without a forecast for so long, what it foresaw is given up",
            "nothing to measure: leave the key away for the default",
        ),
    Key::number("data_lost_s", "s", 2.0, 60.0)
        .default(10.0)
        .about("a sensor silent for so long is reported", "`skimwatch check --listen 10` tells how often each sensor sends; ten intervals or so"),
    Key::number("start_grace_s", "s", 0.0, 600.0)
        .default(15.0)
        .about(
            "silent sensors and missing lengths of line are not reported until so long after the \
             start",
            "time from power on until all instruments send",
        ),
    Key::number("alarm_silence_s", "s", 0.0, 30.0)
        .default(30.0)
        .about(
            "an alarm sounds again after so long, whatever silence was asked for; 30 s at most \
             after IMO MSC.302(87) 7.3.5",
            "nothing to measure: shorter for a stricter alarm",
        ),
    Key::number("rectified_keep_s", "s", 0.0, 3600.0)
        .default(60.0)
        .about(
            "what is over and was not acknowledged stays on view so long",
            "how long the crew may look away and still wants to know",
        ),
    Key::number("wind_shift_deg", "degrees", 2.0, 90.0)
        .default(8.0)
        .about("smaller shifts of the wind are not reported", "the least shift for which you trim"),
    Key::number("wind_shift_line_m", "m", 0.5, 100.0)
        .default(5.0)
        .about(
            "shifts of the wind that need less line than this are not reported",
            "the least length for which you go to the reel",
        ),
];

/// How readily trouble is told that no turn brings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Alertness {
    /// A false alarm is reckoned as bad as four missed troubles.
    Calm,
    /// As bad as one and a half.
    Normal,
    /// As bad as two thirds of one.
    Eager,
}

impl Alertness {
    /// Chance from which trouble is told.
    #[must_use]
    pub fn raise_chance(self) -> f64 {
        worth_it(self.false_alarm())
    }

    /// Chance from which trouble that comes soon calls for hands. Calling them for nothing is
    /// reckoned twice as bad as a caution that comes to nothing. Own judgement.
    #[must_use]
    pub fn press_chance(self) -> f64 {
        worth_it(2.0 * self.false_alarm())
    }

    /// Cost of a false alarm in missed troubles.
    fn false_alarm(self) -> f64 {
        match self {
            Self::Calm => 4.0,
            Self::Normal => 1.5,
            Self::Eager => 2.0 / 3.0,
        }
    }
}

/// Chance from which telling costs less, on the average, than not telling, if a false alarm costs as
/// much as so many missed troubles.
fn worth_it(false_alarm: f64) -> f64 {
    false_alarm / (false_alarm + 1.0)
}

/// Settings of the advice room.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct AdviceSettings {
    /// How readily trouble is told that no turn brings.
    pub alertness: Alertness,
    /// Chance from which trouble of bait and kite is told in a turn that was told ahead (crew,
    /// autopilot, route).
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
    /// Without a turn, trouble of bait or kite is more than a caution only if it is likely to come
    /// within so long.
    pub pressing_s: f64,
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
        const DEFAULT: AdviceSettings = AdviceSettings {
            alertness: Alertness::Normal,
            raise_chance_planned: default_of(KEYS, "raise_chance_planned"),
            raise_chance_under_way: default_of(KEYS, "raise_chance_under_way"),
            raise_chance_under_way_far: default_of(KEYS, "raise_chance_under_way_far"),
            least_lead_s: default_of(KEYS, "least_lead_s"),
            clear_chance: default_of(KEYS, "clear_chance"),
            danger_chance: default_of(KEYS, "danger_chance"),
            raise_dwell_s: default_of(KEYS, "raise_dwell_s"),
            clear_dwell_s: default_of(KEYS, "clear_dwell_s"),
            onset_step_s: default_of(KEYS, "onset_step_s"),
            chance_step: default_of(KEYS, "chance_step"),
            alarm_within_s: default_of(KEYS, "alarm_within_s"),
            caution_beyond_s: default_of(KEYS, "caution_beyond_s"),
            pressing_s: default_of(KEYS, "pressing_s"),
            lost_after_s: default_of(KEYS, "lost_after_s"),
            data_lost_s: default_of(KEYS, "data_lost_s"),
            start_grace_s: default_of(KEYS, "start_grace_s"),
            alarm_silence_s: default_of(KEYS, "alarm_silence_s"),
            rectified_keep_s: default_of(KEYS, "rectified_keep_s"),
            wind_shift_deg: default_of(KEYS, "wind_shift_deg"),
            wind_shift_line_m: default_of(KEYS, "wind_shift_line_m"),
        };
        DEFAULT
    }
}

impl AdviceSettings {
    /// Every complaint.
    #[must_use]
    pub fn check(&self) -> Vec<Complaint> {
        const CLEAR_CHANCE: &Key = row_of(KEYS, "clear_chance");
        let mut complaints = check(&[ADVICE], self);
        let raised = [
            ("alertness", self.alertness.raise_chance()),
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
            complaints.push(CLEAR_CHANCE.clash(
                self.clear_chance,
                format!("must be below {lowest}, the chance of {key}, or advisories flap"),
                CLEAR_CHANCE.cure(),
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
        let told: Vec<_> = complaints.iter().map(ToString::to_string).collect();
        assert!(told[0].contains("alarm_silence_s = 120: must be 0 to 30"));
        assert!(told[1].contains("flap"));
    }
}
