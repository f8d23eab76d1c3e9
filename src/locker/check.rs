//! One check: a number, what bounds it, where both come from, and what to change.

use serde::Serialize;
use utoipa::ToSchema;

/// Unit of a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub enum Unit {
    /// Metres.
    #[serde(rename = "m")]
    Metres,
    /// Millimetres.
    #[serde(rename = "mm")]
    Millimetres,
    /// Kilograms.
    #[serde(rename = "kg")]
    Kilograms,
    /// Newtons.
    #[serde(rename = "N")]
    Newtons,
    /// Degrees.
    #[serde(rename = "deg")]
    Degrees,
    /// A share, 0 to 1 and beyond.
    #[serde(rename = "share")]
    Share,
}

/// A number with its unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Amount {
    /// The number.
    pub value: f64,
    /// Its unit.
    pub unit: Unit,
}

/// How a check ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Within its bounds.
    Good,
    /// The settings do not give what it needs.
    Unknown,
    /// Out of what is usual; it can be fished with care.
    Watch,
    /// Out of its bounds.
    Wrong,
}

/// What to change.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Change {
    /// In words.
    pub what: &'static str,
    /// The number that would do; `null` where there is none.
    pub to: Option<Amount>,
    /// Parts of the locker that would do.
    pub instead: Vec<String>,
}

/// A number against its bounds.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Check {
    /// What is checked, in words.
    pub what: &'static str,
    /// Name of the part.
    pub part: String,
    /// How it ends.
    pub verdict: Verdict,
    /// Unit of value and bounds.
    pub unit: Unit,
    /// The number; `null` when it is not known.
    pub value: Option<f64>,
    /// Least allowed; `null` for none.
    pub least: Option<f64>,
    /// Most allowed; `null` for none.
    pub most: Option<f64>,
    /// Where the number comes from, in words.
    pub value_from: &'static str,
    /// Where its bounds come from, in words.
    pub bounds_from: &'static str,
    /// What to change; `null` when nothing.
    pub change: Option<Change>,
}

/// What is checked, and where number and bounds come from.
#[derive(Debug, Clone, Copy)]
pub(super) struct Subject {
    pub what: &'static str,
    pub unit: Unit,
    pub value_from: &'static str,
    pub bounds_from: &'static str,
}

impl Subject {
    /// The check of a part; `None` for a bound that is not there.
    pub fn check(self, part: &str, value: f64, least: Option<f64>, most: Option<f64>) -> Check {
        let good =
            least.is_none_or(|least| value >= least) && most.is_none_or(|most| value <= most);
        Check {
            verdict: if good { Verdict::Good } else { Verdict::Wrong },
            value: Some(value),
            least,
            most,
            ..self.unknown(part)
        }
    }

    /// The check of a part that cannot be made.
    pub fn unknown(self, part: &str) -> Check {
        Check {
            what: self.what,
            part: part.to_owned(),
            verdict: Verdict::Unknown,
            unit: self.unit,
            value: None,
            least: None,
            most: None,
            value_from: self.value_from,
            bounds_from: self.bounds_from,
            change: None,
        }
    }
}

impl Check {
    /// With what to change where it is not good.
    pub(super) fn or(
        mut self,
        what: &'static str,
        to: Option<Amount>,
        instead: Vec<String>,
    ) -> Self {
        if self.verdict != Verdict::Good {
            self.change = Some(Change { what, to, instead });
        }
        self
    }

    /// A miss of it is worth a look only.
    pub(super) fn mild(mut self) -> Self {
        if self.verdict == Verdict::Wrong {
            self.verdict = Verdict::Watch;
        }
        self
    }
}

/// Newtons.
pub(super) fn newtons(value: f64) -> Option<Amount> {
    Some(Amount {
        value,
        unit: Unit::Newtons,
    })
}

/// Metres.
pub(super) fn metres(value: f64) -> Option<Amount> {
    Some(Amount {
        value,
        unit: Unit::Metres,
    })
}
