//! What the crew's reports have taught of a rig, in a form that outlives the day.
//!
//! Kept: how good kite, lines, marker, bait, sensor and count are believed to be, member by
//! member. Not kept: where anything hangs, how corrections were misjudged, and the wind profile,
//! which is another one tomorrow.

use serde::{Deserialize, Serialize};

use super::ensemble::Ensemble;
use super::member::TRAITS;
use super::settings::Doubt;
use crate::rig::RigParameters;
use crate::time::Millis;

/// Version of the form; another one is not read.
const FORMAT: u32 = 1;
/// A trait further from the middle than this many standard deviations was never learnt.
const FURTHEST: f64 = 20.0;
/// More beliefs than any setting of members allows.
const MOST: usize = 2000;

/// One belief with its weight.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeptBelief {
    pub(super) weight: f64,
    /// As numbers of standard deviations of [`Doubt`].
    pub(super) traits: [f64; TRAITS],
}

/// What was learnt of one rig. Made by [`super::Forecaster::learnt`], taken in by
/// [`super::Forecaster::recall`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Learnt {
    format: u32,
    /// Moment of the last report, Unix time in milliseconds.
    learnt_at_unix_ms: i64,
    /// Reports of the crew that taught it.
    reports: u64,
    /// The rig it was learnt of, as the settings gave it.
    rig: RigParameters,
    /// The doubts that the beliefs are measured in.
    doubt: Doubt,
    beliefs: Vec<KeptBelief>,
}

/// Why something learnt is of no use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum LearntError {
    /// Written by another version.
    #[error("it is in another form than this version writes")]
    Format,
    /// Numbers that nothing can have taught.
    #[error("its numbers make no sense")]
    Numbers,
    /// Learnt of another rig.
    #[error("it was learnt of another rig: kite, lines, marker, bait or rod tips differ")]
    OtherRig,
    /// The settings of doubt differ.
    #[error("it was learnt with other values in [forecast.doubt]")]
    OtherDoubt,
}

/// A value as it comes back from the file it was written to.
fn as_read<T: Serialize + for<'a> Deserialize<'a>>(value: &T) -> Option<T> {
    serde_json::from_str(&serde_json::to_string(value).ok()?).ok()
}

impl Learnt {
    /// From the members as they are.
    pub(super) fn of(
        at: Millis,
        reports: u64,
        rig: &RigParameters,
        doubt: Doubt,
        ensemble: &Ensemble,
    ) -> Self {
        Self {
            format: FORMAT,
            learnt_at_unix_ms: at.0,
            reports,
            rig: rig.clone(),
            doubt,
            beliefs: ensemble
                .members
                .iter()
                .zip(ensemble.weights())
                .map(|(member, weight)| KeptBelief {
                    weight,
                    traits: member.belief.z,
                })
                .collect(),
        }
    }

    /// Whether it fits this rig and these doubts.
    ///
    /// # Errors
    /// Why it does not.
    pub fn fits(&self, rig: &RigParameters, doubt: &Doubt) -> Result<(), LearntError> {
        if self.format != FORMAT {
            return Err(LearntError::Format);
        }
        let sound = self.beliefs.len() <= MOST
            && self.beliefs.iter().all(|belief| {
                (0.0..=1.0).contains(&belief.weight)
                    && belief.traits.iter().all(|z| z.abs() <= FURTHEST)
            })
            && self.beliefs.iter().map(|belief| belief.weight).sum::<f64>() > 0.0;
        if !sound {
            return Err(LearntError::Numbers);
        }
        if as_read(rig).as_ref() != Some(&self.rig) {
            return Err(LearntError::OtherRig);
        }
        if as_read(doubt).as_ref() != Some(&self.doubt) {
            return Err(LearntError::OtherDoubt);
        }
        Ok(())
    }

    /// Moment of the last report.
    #[must_use]
    pub fn learnt_at(&self) -> Millis {
        Millis(self.learnt_at_unix_ms)
    }

    /// Reports of the crew that taught it.
    #[must_use]
    pub fn reports(&self) -> u64 {
        self.reports
    }

    pub(super) fn beliefs(&self) -> &[KeptBelief] {
        &self.beliefs
    }
}
