//! What the crew's hands can do with the two reels: pace, and how much between two looks at the bait.

use crate::decode::Line;
use crate::key::{Group, Key, default_of};

/// The most portions of one correction, and how much longer than the crew's own they may be.
const MOST_PORTIONS: f64 = 6.0;
const LONGEST: f64 = 1.25;
/// Portions are whole multiples of this: hands measure no finer.
const FINEST_M: f64 = 0.5;
/// A single move longer than so many portions counts as one go.
const ONE_GO: f64 = 1.5;

pub(super) const HANDS: &[Key] = &[
    Key::number("reaction_s", "s", 0.0, 30.0)
        .default(4.0)
        .about(
            "time to get to the reel, from reading what to do until the handle turns",
            "time it once",
        )
        .on_page(Group::Hands, "Time to get to the reel"),
    Key::number("give_m_per_s", "m/s", 0.05, 10.0)
        .default(1.5)
        .about("how fast main line runs out under the hand", "time 10 m")
        .on_page(Group::Hands, "Main line let out a second"),
    Key::number("take_m_per_crank", "m", 0.05, 3.0)
        .default(0.9)
        .about(
            "main line wound in by one turn of the handle",
            "mark the line, turn the handle ten times, measure, divide by ten",
        )
        .on_page(Group::Hands, "Main reel: line per crank"),
    Key::number("cranks_per_s", "/s", 0.1, 5.0)
        .default(1.2)
        .about(
            "turns of the main reel's handle in a second, with the rig's load on",
            "count while you wind in 10 m",
        )
        .on_page(Group::Hands, "Main reel: cranks a second"),
    Key::number("kite_give_m_per_s", "m/s", 0.05, 10.0)
        .default(1.5)
        .about(
            "how fast the kite draws line off against the drag",
            "time 10 m",
        )
        .on_page(Group::Hands, "Kite line let out a second"),
    Key::number("kite_m_per_crank", "m", 0.05, 3.0)
        .default(0.7)
        .about(
            "kite line wound in by one turn of the handle",
            "mark the kite line, turn the handle ten times, measure, divide by ten",
        )
        .on_page(Group::Hands, "Kite reel: line per crank"),
    Key::number("kite_cranks_per_s", "/s", 0.1, 5.0)
        .default(1.5)
        .about(
            "turns of the kite reel's handle in a second, with the kite up",
            "count while you wind in 10 m",
        )
        .on_page(Group::Hands, "Kite reel: cranks a second"),
    Key::number("portion_m", "m", 1.0, 30.0)
        .default(4.0)
        .about(
            "line moved at a time, with a look at the bait before more: 3 to 5 m (common practice, \
             no source); more at once is asked for only where a turn leaves no time",
            "what your crew moves before it looks",
        )
        .on_page(Group::Hands, "Line moved between two looks"),
    Key::number("look_s", "s", 0.0, 60.0)
        .default(5.0)
        .about(
            "how long hands look at the bait before they move more (invented)",
            "time from the last crank until you see what the bait does",
        )
        .on_page(Group::Hands, "Time of such a look"),
];

/// Pace of hands with the two reels. Line is given by the drag, so only taking it turns a handle.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize, utoipa::ToSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Hands {
    /// From hearing the advice to the first metre.
    pub reaction_s: f64,
    /// Main line given slowly against the drag.
    pub give_m_per_s: f64,
    /// Main line wound in by one turn of the handle.
    pub take_m_per_crank: f64,
    /// Turns of the main reel's handle a second.
    pub cranks_per_s: f64,
    /// Kite line given slowly against the drag.
    pub kite_give_m_per_s: f64,
    /// Kite line wound in by one turn of the handle.
    pub kite_m_per_crank: f64,
    /// Turns of the kite reel's handle a second.
    pub kite_cranks_per_s: f64,
    /// Line moved at a time, with a look at the bait before more.
    pub portion_m: f64,
    /// How long such a look takes.
    pub look_s: f64,
}

impl Default for Hands {
    /// A large main reel, and a smaller one for the kite whose handle turns easier.
    fn default() -> Self {
        const DEFAULT: Hands = Hands {
            reaction_s: default_of(HANDS, "reaction_s"),
            give_m_per_s: default_of(HANDS, "give_m_per_s"),
            take_m_per_crank: default_of(HANDS, "take_m_per_crank"),
            cranks_per_s: default_of(HANDS, "cranks_per_s"),
            kite_give_m_per_s: default_of(HANDS, "kite_give_m_per_s"),
            kite_m_per_crank: default_of(HANDS, "kite_m_per_crank"),
            kite_cranks_per_s: default_of(HANDS, "kite_cranks_per_s"),
            portion_m: default_of(HANDS, "portion_m"),
            look_s: default_of(HANDS, "look_s"),
        };
        DEFAULT
    }
}

impl Hands {
    /// Pace of a correction, positive.
    #[must_use]
    pub fn pace_m_per_s(&self, line: Line, by_m: f64) -> f64 {
        match (line, by_m >= 0.0) {
            (Line::Main, true) => self.give_m_per_s,
            (Line::Main, false) => self.take_m_per_crank * self.cranks_per_s,
            (Line::Kite, true) => self.kite_give_m_per_s,
            (Line::Kite, false) => self.kite_m_per_crank * self.kite_cranks_per_s,
        }
    }

    /// How long a correction takes, s.
    #[must_use]
    pub fn over_s(&self, line: Line, by_m: f64) -> f64 {
        by_m.abs() / self.pace_m_per_s(line, by_m)
    }

    /// A correction in portions of about the crew's own: how many, and the line of each; as much of
    /// it as the most portions make.
    #[must_use]
    pub fn portions(&self, by_m: f64) -> (usize, f64) {
        let count = (by_m.abs() / self.portion_m)
            .round()
            .clamp(1.0, MOST_PORTIONS);
        if count < 2.0 {
            return (1, by_m);
        }
        let each_m = (by_m.abs() / count).min(LONGEST * self.portion_m);
        let each_m = (each_m / FINEST_M).round().max(1.0) * FINEST_M;
        (count as usize, each_m.copysign(by_m))
    }

    /// Whether the most portions do not make so much.
    #[must_use]
    pub fn is_too_much(&self, by_m: f64) -> bool {
        by_m.abs() > LONGEST * MOST_PORTIONS * self.portion_m + FINEST_M
    }

    /// Whether this is more than hands move between two looks.
    #[must_use]
    pub fn is_one_go(&self, by_m: f64) -> bool {
        by_m.abs() > ONE_GO * self.portion_m
    }

    /// Turns of that reel's handle for a correction; `None` when giving.
    #[must_use]
    pub fn cranks(&self, line: Line, by_m: f64) -> Option<f64> {
        let per_crank_m = match line {
            Line::Main => self.take_m_per_crank,
            Line::Kite => self.kite_m_per_crank,
        };
        (by_m < 0.0).then(|| (by_m.abs() / per_crank_m).round())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_reel_has_its_own_pace_and_cranks() {
        let hands = Hands {
            take_m_per_crank: 0.8,
            cranks_per_s: 1.0,
            kite_give_m_per_s: 3.0,
            kite_m_per_crank: 0.5,
            kite_cranks_per_s: 2.0,
            ..Hands::default()
        };
        // Own arithmetic.
        assert_eq!(hands.cranks(Line::Main, -12.0), Some(15.0));
        assert_eq!(hands.cranks(Line::Kite, -12.0), Some(24.0));
        assert_eq!(hands.cranks(Line::Kite, 12.0), None);
        assert_eq!(hands.pace_m_per_s(Line::Main, -12.0), 0.8);
        assert_eq!(hands.pace_m_per_s(Line::Kite, -12.0), 1.0);
        assert_eq!(hands.pace_m_per_s(Line::Kite, 12.0), 3.0);
        assert_eq!(hands.pace_m_per_s(Line::Main, 12.0), hands.give_m_per_s);
    }

    #[test]
    fn portions_are_of_the_crews_own_size() {
        let hands = Hands {
            portion_m: 4.0,
            ..Hands::default()
        };
        // Own arithmetic: 13 m in three portions of 4.33 m, 29 m in six of 4.83 m, to half a metre.
        for (by_m, portions) in [
            (2.0, (1, 2.0)),
            (-13.0, (3, -4.5)),
            (29.0, (6, 5.0)),
            (40.0, (6, 5.0)),
        ] {
            assert_eq!(hands.portions(by_m), portions);
        }
        assert!(hands.is_too_much(-40.0) && !hands.is_too_much(30.0));
        assert!(hands.is_one_go(-40.0) && !hands.is_one_go(5.0));
    }
}
