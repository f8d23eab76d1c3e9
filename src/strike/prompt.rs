//! What each step asks, and of whom.
//! In: a step, or how it ended. Out: words without numbers. Common practice, no source: the crew's own
//! practice comes before all of it.

use serde::Serialize;
use utoipa::ToSchema;

use crate::vessel::{StrikeEnd, StrikeStep};

/// Who does a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Hand {
    /// At the kite rod, and with the eyes on the marker.
    Mate,
    /// Steers.
    Helm,
    /// Has the main rod.
    Angler,
}

/// What a step asks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Prompt {
    /// Of whom.
    pub who: Hand,
    /// In few words.
    pub title: &'static str,
    /// In a sentence or two.
    pub what: &'static str,
    /// What the helm does meanwhile.
    pub helm: &'static str,
}

const AHEAD: &str = "Keep way on ahead, so that the line stays tight.";
const STEADY: &str = "Hold heading and speed.";

/// What this step asks.
#[must_use]
pub fn prompt(step: StrikeStep) -> Prompt {
    let (who, title, what, helm) = match step {
        StrikeStep::Watch => (
            Hand::Mate,
            "Watch the marker",
            "It goes down to the water when a fish has the bait.",
            AHEAD,
        ),
        StrikeStep::Tighten => (
            Hand::Angler,
            "Wind fast",
            "Wind in main line until it is tight.",
            AHEAD,
        ),
        StrikeStep::Drag => (
            Hand::Angler,
            "Set the drag",
            "Smoothly to its hooked setting.",
            AHEAD,
        ),
        StrikeStep::Fish => (
            Hand::Mate,
            "Where is the fish?",
            "Tap the way in which the main line leads, as seen from the boat.",
            AHEAD,
        ),
        StrikeStep::BaitIn => (
            Hand::Mate,
            "Bait in first",
            "Jerk the main line so that the band lets go, and wind the bait in: the kite then flies \
             on its own line alone.",
            STEADY,
        ),
        StrikeStep::Turn => (
            Hand::Helm,
            "Turn for the kite",
            "Look round first. Turn slowly, with way on ahead.",
            "Look round first. Turn slowly, with way on ahead.",
        ),
        StrikeStep::KiteIn => (
            Hand::Mate,
            "Wind in the kite",
            "Steadily, all the way. Keep hands, feet and clothing clear of both lines.",
            STEADY,
        ),
        StrikeStep::Angler => (
            Hand::Angler,
            "Angler on",
            "Kite secured, deck clear: take the rod.",
            "Steer as the angler asks.",
        ),
        StrikeStep::Fight => (
            Hand::Angler,
            "Fish on",
            "Say below how it ends.",
            "Steer as the angler asks.",
        ),
    };
    Prompt {
        who,
        title,
        what,
        helm,
    }
}

/// What is to be said of an end.
#[must_use]
pub fn after(end: StrikeEnd) -> &'static str {
    match end {
        StrikeEnd::Landed => {
            "Whether it may be kept is for the local rules to say: size, number, season, licence."
        }
        StrikeEnd::Released => "How a fish is to be let go is for the local rules to say.",
        StrikeEnd::FishOff | StrikeEnd::CutOff | StrikeEnd::Missed => {
            "Wind in what is out, and look over hook, leader and line before the bait goes out again."
        }
        StrikeEnd::KiteHome => "The kite is in. Nothing is forecast until the rig is out again.",
    }
}
