//! The shape of an advisory, as the log, the API and the page show it.

use std::fmt;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

pub use crate::decode::Priority;
use crate::decode::{Asked, Line};
use crate::forecast::Trouble;
use crate::time::Millis;
use crate::units::metres;

/// Kinds of trouble.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Bait leaves the water.
    BaitAirborne,
    /// Bait goes under.
    BaitDragging,
    /// Kite sinks.
    KiteSinking,
    /// Load on a line near its strength.
    LineOverload,
    /// Load at the ring near the band's strength.
    FalseRelease,
    /// A line sweeps a structure of the boat.
    LineFoul,
    /// Kite leaves the bite zone.
    OffCorner,
    /// The wind has shifted and moves the bait.
    WindShift,
    /// Line other than the bait's end touches the water.
    LineInWater,
    /// A needed sensor is silent.
    DataLost,
    /// Instruments contradict each other or themselves.
    InstrumentsDisagree,
    /// A needed value of the rig is not known.
    RigUnset,
    /// The computer is too slow for a forecast.
    ComputerSlow,
    /// Nothing is foreseen for another reason: the model finds no balance, too little line is
    /// out, the rig is not set.
    NoForecast,
    /// The line out is as it was told before a restart, and nobody has checked it since.
    LinesUnchecked,
}

/// What advisories of a kind are judged by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Basis {
    /// The chance that the forecast gives for this trouble.
    Chance(Trouble),
    /// The forecast, but no chance of it.
    Forecast,
    /// What is so now; no forecast is needed.
    Fact,
}

impl Kind {
    fn basis(self) -> Basis {
        match self {
            Self::BaitAirborne => Basis::Chance(Trouble::BaitAirborne),
            Self::BaitDragging => Basis::Chance(Trouble::BaitDragging),
            Self::KiteSinking => Basis::Chance(Trouble::KiteSinking),
            Self::LineOverload => Basis::Chance(Trouble::LineOverload),
            Self::FalseRelease => Basis::Chance(Trouble::FalseRelease),
            Self::LineFoul => Basis::Chance(Trouble::LineFoul),
            Self::OffCorner => Basis::Chance(Trouble::OffCorner),
            Self::LineInWater => Basis::Chance(Trouble::LineInWater),
            Self::WindShift => Basis::Forecast,
            Self::DataLost
            | Self::InstrumentsDisagree
            | Self::RigUnset
            | Self::ComputerSlow
            | Self::NoForecast
            | Self::LinesUnchecked => Basis::Fact,
        }
    }

    /// The trouble whose chance it tells; `None` for all other kinds.
    #[must_use]
    pub fn trouble(self) -> Option<Trouble> {
        match self.basis() {
            Basis::Chance(trouble) => Some(trouble),
            Basis::Forecast | Basis::Fact => None,
        }
    }

    /// Whether people are in danger, not only bait, kite or gear.
    #[must_use]
    pub fn endangers_people(self) -> bool {
        matches!(self, Self::LineOverload | Self::LineFoul)
    }

    /// Whether it tells what is so now, whatever is foreseen: it ends as soon as that is no longer
    /// so.
    #[must_use]
    pub fn is_fact(self) -> bool {
        self.basis() == Basis::Fact
    }
}

impl From<Trouble> for Kind {
    fn from(trouble: Trouble) -> Self {
        match trouble {
            Trouble::BaitAirborne => Self::BaitAirborne,
            Trouble::BaitDragging => Self::BaitDragging,
            Trouble::KiteSinking => Self::KiteSinking,
            Trouble::OffCorner => Self::OffCorner,
            Trouble::LineInWater => Self::LineInWater,
            Trouble::LineOverload => Self::LineOverload,
            Trouble::FalseRelease => Self::FalseRelease,
            Trouble::LineFoul => Self::LineFoul,
        }
    }
}

/// The name that it has in JSON and in ids.
impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.serialize(f)
    }
}

/// State after IMO MSC.302(87), letters as in the IEC 61162-1 ALF sentence.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum AlertState {
    /// Condition present, not acknowledged (V).
    ActiveUnacknowledged,
    /// Condition present, acknowledged (A).
    ActiveAcknowledged,
    /// Condition present, silenced for a while (S).
    ActiveSilenced,
    /// Condition gone, not acknowledged (U).
    RectifiedUnacknowledged,
    /// Ended (N).
    Normal,
}

/// What to do.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[serde(tag = "do", rename_all = "snake_case")]
pub enum Action {
    /// Let line out (+) or wind it in (-).
    MoveLine {
        /// Which line.
        line: Line,
        /// + let out, - wind in.
        by_m: f64,
        /// Length of this line that is out afterwards; `None` while nobody has said what is out.
        to_m: Option<f64>,
        /// When to begin.
        #[schema(value_type = String, format = DateTime)]
        start_at: Millis,
        /// How long it takes.
        over_s: f64,
        /// The crew's pace with this reel.
        pace_m_per_s: f64,
        /// Turns of this reel's handle when winding in; `None` when letting out, which is done by
        /// the drag.
        cranks: Option<f64>,
        /// So many such portions in all, with a look at the bait between, and only until it skips.
        portions: usize,
        /// Whether it is more than the crew moves between two looks: there is no time for portions,
        /// or there would be too many.
        in_one_go: bool,
        /// What was asked before; `None` while the amount is the first.
        changed: Option<Changed>,
    },
    /// Let line out (+) or wind it in (-) bit by bit, by eye: a rule of thumb, not a forecast.
    StepLine {
        /// Which line.
        line: Line,
        /// The least to move at a time, + let out, - wind in.
        least_m: f64,
        /// The most to move at a time.
        most_m: f64,
        /// Until when, in words: "the bait touches".
        until: String,
    },
    /// Keep the turn slower than this.
    LimitTurn {
        /// Greatest rate.
        rate_deg_s: f64,
    },
    /// Anything else, in words (check a sensor, enter a value, look).
    See {
        /// The words.
        what: String,
    },
}

impl Action {
    pub(super) fn see(what: impl Into<String>) -> Self {
        Self::See { what: what.into() }
    }
}

/// What an order for a line asked before.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Changed {
    /// The amount of all portions, + let out, - wind in.
    pub from_m: f64,
    /// Why it is another now, in words.
    pub why: String,
}

/// How an advisory ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// The trouble no longer threatens: hands met it, the wind changed, a turn stopped short.
    Averted,
    /// It came.
    Happened,
    /// The turn was called off.
    Withdrawn,
    /// Nobody can tell: there was no forecast any more that could have watched it.
    Lost,
    /// What was missing or wrong is right again (data-lost, instruments-disagree, rig-unset,
    /// computer-slow, no-forecast, lines-unchecked).
    Restored,
}

/// One foreseen trouble: same `id` for its whole life, `revision` growing.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Advisory {
    /// Unique within a session: "bait-airborne-3".
    pub id: String,
    /// 1, 2, 3, ...
    pub revision: u32,
    /// Moment of this revision.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
    /// What threatens.
    pub kind: Kind,
    /// How pressing.
    pub priority: Priority,
    /// Where in its life.
    pub state: AlertState,
    /// Moment of the first revision.
    #[schema(value_type = String, format = DateTime)]
    pub raised_at: Millis,
    /// Foreseen onset (median over the futures); `None` for what is already so.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub onset_at: Option<Millis>,
    /// Onset less `at`, seconds; 0 when it is so now.
    pub countdown_s: f64,
    /// Chance, 0..1; `None` for plain facts (a silent sensor).
    pub chance: Option<f64>,
    /// The same if the line orders among `actions` are carried out; `None` without any.
    pub chance_with_plan: Option<f64>,
    /// How the chance was made, in words.
    pub chance_basis: String,
    /// Headline for the page: "Bait will fly".
    pub title: String,
    /// Why, in words: "turn of 45° to port lifts the bait".
    pub cause: String,
    /// When that turn begins; `None` without one, or when it is under way.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub turn_at: Option<Millis>,
    /// What to do, in order.
    pub actions: Vec<Action>,
    /// How it would be without action, in words.
    pub without_action: String,
    /// Since when there has been no forecast that watches it; `None` while it is watched. It then
    /// stays as it was last foreseen: nobody knows better or worse.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub unwatched_since: Option<Millis>,
    /// How it ended; `None` while it lives.
    pub outcome: Option<Outcome>,
}

impl Action {
    /// All portions of an order for a line together, + let out, - wind in.
    pub(super) fn in_all_m(&self) -> Option<f64> {
        match self {
            Self::MoveLine { by_m, portions, .. } => Some(by_m * *portions as f64),
            Self::StepLine { .. } | Self::LimitTurn { .. } | Self::See { .. } => None,
        }
    }

    /// The line that it asks hands to move, and which way: + let out, - wind in (bit by bit: the
    /// least).
    #[must_use]
    pub fn asks(&self) -> Option<(Line, f64)> {
        match self {
            Self::MoveLine { line, by_m, .. } => Some((*line, *by_m)),
            Self::StepLine { line, least_m, .. } => Some((*line, *least_m)),
            Self::LimitTurn { .. } | Self::See { .. } => None,
        }
    }
}

impl Advisory {
    /// The first line move that it asks for.
    #[must_use]
    pub fn asked(&self) -> Option<Asked> {
        self.actions.iter().find_map(|action| match action {
            Action::MoveLine { line, by_m, .. } => Some(Asked {
                advisory: self.id.clone(),
                revision: self.revision,
                line: *line,
                by: metres(*by_m),
            }),
            Action::StepLine { .. } | Action::LimitTurn { .. } | Action::See { .. } => None,
        })
    }
}

/// The first line move of the most pressing living advisory that asks for one.
#[must_use]
pub fn first_asked(living: &[Advisory]) -> Option<Asked> {
    living
        .iter()
        .filter(|advisory| advisory.outcome.is_none())
        .find_map(Advisory::asked)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_trouble_has_a_kind_of_its_own_name() {
        for trouble in Trouble::ALL {
            let kind = Kind::from(trouble);
            assert_eq!(kind.trouble(), Some(trouble));
            assert_eq!(kind.to_string(), trouble.to_string());
        }
    }
}
