//! What a forecast can lack, and why there is none.

use serde::Serialize;
use utoipa::ToSchema;

/// What a forecast can lack.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Lack {
    /// The program has only begun.
    Beginning,
    /// A needed quantity has no live source.
    Sensor,
    /// The instruments live, but what follows from them is not known yet.
    Reading,
    /// The rig is not set.
    Rig,
    /// Nobody has said how much line is out.
    LineOut,
    /// So little line is out that clip or marker would hang at the rod.
    ShortLine,
    /// The model finds no way in which the rig hangs.
    Balance,
    /// The crew has stopped fishing.
    Stopped,
    /// A fish is on.
    Bite,
    /// A launch is under way: its steps say what to do.
    Launch,
    /// The computer is too slow to make one in time.
    Time,
}

impl Lack {
    /// Whether the crew wants it so.
    #[must_use]
    pub fn is_intended(self) -> bool {
        matches!(self, Self::Stopped | Self::Bite | Self::Launch)
    }
}

/// Why there is no forecast.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct NoForecast {
    /// In words, with the cure: one entry per cause.
    pub reasons: Vec<String>,
    /// What each of them is, in the same order.
    pub lacks: Vec<Lack>,
}

impl NoForecast {
    /// From each lack with its words.
    #[must_use]
    pub fn of(reasons: Vec<(Lack, String)>) -> Self {
        let (lacks, reasons) = reasons.into_iter().unzip();
        Self { reasons, lacks }
    }

    /// The computer has no time for one.
    #[must_use]
    pub fn too_slow() -> Self {
        let words = "this computer is too slow just now: its forecast would come too late";
        Self::of(vec![(Lack::Time, words.to_owned())])
    }

    /// Whether it is only time that is missing.
    #[must_use]
    pub fn is_too_slow(&self) -> bool {
        self.lacks.contains(&Lack::Time)
    }

    /// Whether the crew wants no forecast now.
    #[must_use]
    pub fn is_intended(&self) -> bool {
        self.lacks.iter().any(|lack| lack.is_intended())
    }

    /// Each lack with its words.
    pub fn told(&self) -> impl Iterator<Item = (Lack, &str)> {
        let reasons = self.reasons.iter().map(String::as_str);
        self.lacks.iter().copied().zip(reasons)
    }
}
