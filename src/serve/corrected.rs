//! Corrections of instruments that are in force, as the API shows them.

use serde::Serialize;
use utoipa::ToSchema;

use crate::decode::{CorrectBy, Correctable, Correction};
use crate::time::Millis;
use crate::units::{in_degrees, in_degrees_per_second};
use crate::vessel::Corrections;

/// Unit of a correction.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(super) enum CorrectionUnit {
    /// Degrees, added.
    Deg,
    /// Degrees a second, added.
    DegS,
    /// A factor.
    Factor,
}

impl CorrectionUnit {
    pub const fn of(what: Correctable) -> Self {
        match what {
            Correctable::WindAngle | Correctable::Compass => Self::Deg,
            Correctable::WindSpeed | Correctable::Log => Self::Factor,
            Correctable::RateOfTurn => Self::DegS,
        }
    }

    /// A number of the program's in this unit.
    pub fn shown(self, si: f64) -> f64 {
        match self {
            Self::Deg | Self::DegS => si.to_degrees(),
            Self::Factor => si,
        }
    }
}

/// A correction that is in force.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CorrectedAnswer {
    /// Of what.
    pub what: Correctable,
    /// Talker of the sentences that are corrected.
    pub talker: String,
    /// Unit of the numbers.
    pub(super) unit: CorrectionUnit,
    /// What is added, or by what is multiplied: one number; of the compass three, whatever the
    /// heading, with its sine, with its cosine.
    pub by: Vec<f64>,
    /// When the crew put it on.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
}

/// The corrections in force.
pub(super) fn corrected(corrections: &Corrections) -> Vec<CorrectedAnswer> {
    let answer = |(at, correction): (Millis, Correction)| CorrectedAnswer {
        what: correction.by.what(),
        talker: correction.talker.to_string(),
        unit: CorrectionUnit::of(correction.by.what()),
        by: match correction.by {
            CorrectBy::WindAngle(angle) => vec![in_degrees(angle)],
            CorrectBy::WindSpeed(factor) | CorrectBy::Log(factor) => vec![factor],
            CorrectBy::Compass {
                offset,
                sine,
                cosine,
            } => [offset, sine, cosine].map(in_degrees).to_vec(),
            CorrectBy::RateOfTurn(rate) => vec![in_degrees_per_second(rate)],
        },
        at,
    };
    corrections.said().into_iter().map(answer).collect()
}
