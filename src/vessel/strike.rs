//! A fish on, or the kite on its way home: steps that the crew answers one at a time.
//!
//! In: what the crew has said of it, each with its moment. Out: which step is asked for now, and how
//! it ended. It must not know the rig: what a step asks in metres and degrees is told elsewhere.
//!
//! - A word answers its step and those before it that nobody has answered: on deck nobody taps while
//!   both hands are needed. A word for a step that is answered already changes nothing, so that two
//!   phones cannot answer one step twice.
//! - The fish may be pointed out anew until the kite is in; then the heading is asked for anew.
//! - What has ended stands until the bait is out again, so that nothing is said of a bait that is
//!   not in the water. Only a bite that was none, with the kite up, leaves all as it was.

use serde::Serialize;
use utoipa::ToSchema;

use super::told::{BaitSeen, LinesOut};
use crate::decode::StrikeWord;
use crate::time::Millis;
use crate::units::in_radians;

/// Why the steps are asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum StrikeCause {
    /// A fish has taken the bait.
    Bite,
    /// The crew wants the kite home, with no fish on.
    Home,
}

/// One step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum StrikeStep {
    /// Watch the marker.
    Watch,
    /// Wind until the line is tight.
    Tighten,
    /// Drag to its hooked setting.
    Drag,
    /// Say where the fish is.
    Fish,
    /// Break the band and wind the bait in.
    BaitIn,
    /// Turn to the heading on which the kite comes in.
    Turn,
    /// Wind the kite in.
    KiteIn,
    /// The angler takes the rod.
    Angler,
    /// The fight.
    Fight,
}

/// How it ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum StrikeEnd {
    /// Nothing was on.
    Missed,
    /// The fish is off the hook.
    FishOff,
    /// The line is cut or parted.
    CutOff,
    /// The fish is landed.
    Landed,
    /// The fish is let go.
    Released,
    /// The kite is in, without a fish.
    KiteHome,
}

const OF_BITE: &[StrikeStep] = &[
    StrikeStep::Watch,
    StrikeStep::Tighten,
    StrikeStep::Drag,
    StrikeStep::Fish,
    StrikeStep::Turn,
    StrikeStep::KiteIn,
    StrikeStep::Angler,
    StrikeStep::Fight,
];
const OF_HOME: &[StrikeStep] = &[StrikeStep::BaitIn, StrikeStep::Turn, StrikeStep::KiteIn];

impl StrikeCause {
    /// Its steps in order.
    #[must_use]
    pub fn steps(self) -> &'static [StrikeStep] {
        match self {
            Self::Bite => OF_BITE,
            Self::Home => OF_HOME,
        }
    }
}

/// What a word does.
enum Does {
    Begins,
    Answers(StrikeStep),
    Ends(Option<StrikeEnd>),
}

fn does(word: StrikeWord) -> Does {
    match word {
        StrikeWord::Home => Does::Begins,
        StrikeWord::BaitIn => Does::Answers(StrikeStep::BaitIn),
        StrikeWord::MarkerDown => Does::Answers(StrikeStep::Watch),
        StrikeWord::Tight => Does::Answers(StrikeStep::Tighten),
        StrikeWord::DragSet => Does::Answers(StrikeStep::Drag),
        StrikeWord::Fish { .. } => Does::Answers(StrikeStep::Fish),
        StrikeWord::Turned => Does::Answers(StrikeStep::Turn),
        StrikeWord::KiteIn => Does::Answers(StrikeStep::KiteIn),
        StrikeWord::AnglerOn => Does::Answers(StrikeStep::Angler),
        StrikeWord::Missed => Does::Ends(Some(StrikeEnd::Missed)),
        StrikeWord::FishOff => Does::Ends(Some(StrikeEnd::FishOff)),
        StrikeWord::CutOff => Does::Ends(Some(StrikeEnd::CutOff)),
        StrikeWord::Landed => Does::Ends(Some(StrikeEnd::Landed)),
        StrikeWord::Released => Does::Ends(Some(StrikeEnd::Released)),
        StrikeWord::StaysOut => Does::Ends(None),
    }
}

/// A strike, or the kite on its way home.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Strike {
    /// The bite, or when the kite was called home.
    pub at: Millis,
    /// Which of the two.
    pub cause: StrikeCause,
    /// The step asked for now; the last one when it has ended.
    pub step: StrikeStep,
    /// Lines out at that moment, by the crew's count.
    pub lines: LinesOut,
    /// What the bait was last seen to do before it.
    pub bait: Option<BaitSeen>,
    /// Where the fish was last pointed out, off the bow then, to starboard positive, and when.
    pub fish_off_bow_rad: Option<(f64, Millis)>,
    /// Whether the kite is in and secured.
    pub kite_in: bool,
    /// How it ended, and when.
    pub ended: Option<(StrikeEnd, Millis)>,
    /// The words that made it so, in order; of the fish only the last.
    #[serde(skip)]
    pub said: Vec<(Millis, StrikeWord)>,
}

impl Strike {
    pub(super) fn new(
        at: Millis,
        cause: StrikeCause,
        lines: LinesOut,
        bait: Option<BaitSeen>,
    ) -> Self {
        let said = match cause {
            StrikeCause::Bite => Vec::new(),
            StrikeCause::Home => vec![(at, StrikeWord::Home)],
        };
        Self {
            at,
            cause,
            step: cause.steps()[0],
            lines,
            bait,
            fish_off_bow_rad: None,
            kite_in: false,
            ended: None,
            said,
        }
    }

    /// Whether hands are on it: past its first step and not ended.
    #[must_use]
    pub fn under_way(&self) -> bool {
        self.ended.is_none() && self.step != self.cause.steps()[0]
    }

    /// Place of a step in the order; `None` when it is not asked for here.
    fn place(&self, step: StrikeStep) -> Option<usize> {
        self.cause.steps().iter().position(|one| *one == step)
    }

    /// Whether a step is answered.
    #[must_use]
    pub fn is_answered(&self, step: StrikeStep) -> bool {
        self.ended.is_some() || self.place(step) < self.place(self.step)
    }

    /// When a step was answered; `None` when it was not, or was passed over.
    #[must_use]
    pub fn answered_at(&self, step: StrikeStep) -> Option<Millis> {
        self.said
            .iter()
            .rev()
            .find(|(_, word)| matches!(does(*word), Does::Answers(of) if of == step))
            .filter(|_| self.is_answered(step))
            .map(|(at, _)| *at)
    }

    /// Whether the word fits what is so now.
    #[must_use]
    pub fn takes(&self, word: StrikeWord) -> bool {
        match does(word) {
            Does::Begins => self.ended.is_some() && !self.kite_in,
            _ if self.ended.is_some() => false,
            Does::Answers(StrikeStep::Fish) => {
                self.place(StrikeStep::Fish).is_some() && !self.kite_in
            }
            Does::Answers(step) => self
                .place(step)
                .is_some_and(|place| Some(place) >= self.place(self.step)),
            Does::Ends(Some(_)) => self.cause == StrikeCause::Bite,
            Does::Ends(None) => self.cause == StrikeCause::Home,
        }
    }

    /// Takes a word that fits. False when all is as it was before.
    pub(super) fn say(&mut self, at: Millis, word: StrikeWord) -> bool {
        if let StrikeWord::Fish { off_bow } = word {
            self.fish_off_bow_rad = Some((in_radians(off_bow), at));
            self.said
                .retain(|(_, said)| !matches!(said, StrikeWord::Fish { .. }));
        }
        self.said.push((at, word));
        match does(word) {
            Does::Begins => {}
            Does::Answers(step) => {
                self.kite_in |= self.place(step) >= self.place(StrikeStep::KiteIn);
                let steps = self.cause.steps();
                match self.place(step).and_then(|place| steps.get(place + 1)) {
                    Some(next) => self.step = *next,
                    None => self.ended = Some((StrikeEnd::KiteHome, at)),
                }
            }
            Does::Ends(Some(StrikeEnd::Missed)) if !self.kite_in => return false,
            Does::Ends(Some(end)) => self.ended = Some((end, at)),
            Does::Ends(None) => return false,
        }
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::degrees;

    const LINES: LinesOut = LinesOut {
        kite_m: Some(80.0),
        main_m: Some(110.0),
    };

    fn s(t: f64) -> Millis {
        Millis(0).plus_seconds(t)
    }

    fn fish(off_bow_deg: f64) -> StrikeWord {
        StrikeWord::Fish {
            off_bow: degrees(off_bow_deg),
        }
    }

    fn bite() -> Strike {
        Strike::new(s(0.0), StrikeCause::Bite, LINES, None)
    }

    fn say(strike: &mut Strike, at_s: f64, word: StrikeWord) -> bool {
        strike.takes(word) && strike.say(s(at_s), word)
    }

    #[test]
    fn steps_are_answered_one_after_the_other() {
        let mut strike = bite();
        let mut seen = vec![strike.step];
        for word in [
            StrikeWord::MarkerDown,
            StrikeWord::Tight,
            StrikeWord::DragSet,
            fish(135.0),
            StrikeWord::Turned,
            StrikeWord::KiteIn,
            StrikeWord::AnglerOn,
        ] {
            assert!(say(&mut strike, 1.0, word), "{word:?}");
            assert!(!strike.takes(word) || word == fish(135.0), "{word:?} again");
            seen.push(strike.step);
        }
        assert_eq!(seen, OF_BITE);
        assert!(!strike.takes(fish(0.0)), "the kite is in");
        assert!(say(&mut strike, 2.0, StrikeWord::Landed));
        assert_eq!(strike.ended, Some((StrikeEnd::Landed, s(2.0))));
        assert!(!strike.takes(StrikeWord::Released) && !strike.takes(StrikeWord::Home));
    }

    #[test]
    fn a_word_answers_what_was_passed_over() {
        let mut strike = bite();
        assert!(say(&mut strike, 5.0, StrikeWord::DragSet));
        assert_eq!(strike.step, StrikeStep::Fish);
        assert!(strike.is_answered(StrikeStep::Tighten));
        assert_eq!(strike.answered_at(StrikeStep::Tighten), None);
        assert_eq!(strike.answered_at(StrikeStep::Drag), Some(s(5.0)));
        assert!(!strike.takes(StrikeWord::MarkerDown), "passed");
        assert!(!strike.kite_in);
        assert!(say(&mut strike, 6.0, StrikeWord::AnglerOn));
        assert!(strike.kite_in, "the angler takes the rod when it is");
    }

    #[test]
    fn a_fish_that_moves_asks_for_the_heading_anew() {
        let mut strike = bite();
        for word in [fish(135.0), StrikeWord::Turned, fish(-90.0)] {
            assert!(say(&mut strike, 1.0, word));
        }
        assert_eq!(strike.step, StrikeStep::Turn);
        let fish_at = strike.fish_off_bow_rad.unwrap().0;
        assert!((fish_at.to_degrees() + 90.0).abs() < 1e-9);
        let told = |word: &StrikeWord| matches!(word, StrikeWord::Fish { .. });
        let fishes = strike.said.iter().filter(|(_, word)| told(word)).count();
        assert_eq!(fishes, 1, "only the last counts");
    }

    #[test]
    fn a_bite_that_was_none_leaves_all_as_it_was_while_the_kite_is_up() {
        let mut strike = bite();
        assert!(!strike.say(s(1.0), StrikeWord::Missed));
        let mut strike = bite();
        assert!(say(&mut strike, 1.0, StrikeWord::KiteIn));
        assert!(say(&mut strike, 2.0, StrikeWord::Missed));
        assert_eq!(strike.ended, Some((StrikeEnd::Missed, s(2.0))));
    }

    #[test]
    fn the_kite_comes_home_without_a_fish() {
        let mut strike = Strike::new(s(0.0), StrikeCause::Home, LINES, None);
        for word in [
            StrikeWord::MarkerDown,
            StrikeWord::Landed,
            fish(0.0),
            StrikeWord::Home,
        ] {
            assert!(!strike.takes(word), "{word:?}");
        }
        assert!(strike.takes(StrikeWord::StaysOut));
        for word in [StrikeWord::BaitIn, StrikeWord::Turned, StrikeWord::KiteIn] {
            assert!(say(&mut strike, 3.0, word));
        }
        assert_eq!(strike.ended, Some((StrikeEnd::KiteHome, s(3.0))));
        assert!(!strike.takes(StrikeWord::Home), "it is in");
    }
}
