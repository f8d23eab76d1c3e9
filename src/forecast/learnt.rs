//! What the crew's reports have taught about a kite and its lines, in a form that outlives the day.
//!
//! Kept, particle by particle: the beliefs about kite, lines, marker, bait, sensor and count. Not kept:
//! positions, errors of corrections, and the wind profile, which changes from day to day.
//!
//! Each kite has its own entry ([`Learnt`]) in the [`Memory`]. Its key is what the beliefs are
//! about (kite, lines, marker and bait as the model uses them) and the prior standard deviations
//! ([`Doubt`]) in which beliefs are expressed. Strengths, structures, rod tips, positions of clip
//! and marker, waves and the densities of water and air are not part of the key: they invalidate
//! nothing that was learnt.

use serde::{Deserialize, Serialize};

use super::filter::{Belief, KeptBelief};
use super::settings::Doubt;
use crate::rig::RigParameters;
use crate::time::Millis;

/// Version of the format. The first held a single rig and is still read.
const FORMAT: u32 = 2;
/// Kites that are remembered; the one not taught for the longest makes room for another.
pub const MOST_KITES: usize = 8;
/// A trait further from the mean than this many standard deviations cannot have been learnt.
const FURTHEST: f64 = 20.0;
/// More beliefs than any setting of particles allows.
const MOST_BELIEFS: usize = 2000;
/// More reports than any crew makes.
const MOST_REPORTS: u64 = 1_000_000_000;
/// Two numbers of a rig that differ by less than this share are the same.
const SAME_SHARE: f64 = 1e-9;

/// What was learnt of one kite with its lines, marker and bait.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Learnt {
    /// Moment of the last report, Unix time in milliseconds.
    learnt_at_unix_ms: i64,
    /// Reports of the crew that taught it.
    reports: u64,
    /// The rig it was learnt from, as the settings gave it.
    rig: RigParameters,
    /// The standard deviations in which the beliefs are expressed.
    doubt: Doubt,
    beliefs: Vec<KeptBelief>,
}

/// What was learnt about every kite, the most recently taught last.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Memory {
    format: u32,
    kites: Vec<Learnt>,
    /// Kites that had to make room since the program began.
    #[serde(skip)]
    dropped: u64,
}

/// How much was learnt about the kite in use, for people.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LearntNow {
    /// Reports of the crew that taught it.
    pub reports: u64,
    /// Moment of the last of them.
    pub at: Millis,
}

/// Why something learnt is of no use.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LearntError {
    /// It is something else.
    #[error("it is not what this program writes ({0})")]
    Garbled(String),
    /// Written by another version.
    #[error("it has form {0}, and this version reads forms 1 and {FORMAT}")]
    Format(u64),
    /// Numbers that no report can have taught.
    #[error("its numbers make no sense")]
    Numbers,
    /// Nothing was learnt of this rig.
    #[error("nothing in it was learnt of this kite with these lines, marker and bait")]
    OtherRig,
    /// The settings of doubt differ.
    #[error("it was learnt of this kite with other values in [forecast.doubt]")]
    OtherDoubt,
}

/// The numbers that the beliefs are about.
fn tackle(rig: &RigParameters) -> Vec<f64> {
    let (kite, bait) = (&rig.kite, &rig.bait);
    let mut numbers = vec![
        kite.area_m2,
        kite.mass_kg,
        rig.kite_line.diameter_m,
        rig.kite_line.mass_per_m_kg,
        rig.main_line.diameter_m,
        rig.main_line.mass_per_m_kg,
        rig.marker.diameter_m,
        rig.marker.mass_kg,
        bait.mass_kg,
        bait.height_m,
        bait.volume_m3,
        bait.wet_drag_area_m2,
        bait.air_drag_area_m2,
        bait.planing,
    ];
    if kite.trim.is_empty() {
        numbers.extend([kite.cl, kite.cd]);
    }
    for point in &kite.trim {
        numbers.extend([point.wind_mps, point.cl, point.cd]);
    }
    numbers
}

fn rounded(value: f64, to: f64) -> f64 {
    (value * to).round() / to
}

impl Learnt {
    /// From the particles as they are, rounded to significant digits, so that a file restores exactly
    /// the same.
    pub(super) fn of(
        now: LearntNow,
        rig: &RigParameters,
        doubt: Doubt,
        beliefs: impl Iterator<Item = (Belief, f64)>,
    ) -> Self {
        Self {
            learnt_at_unix_ms: now.at.0,
            reports: now.reports,
            rig: rig.clone(),
            doubt,
            beliefs: beliefs
                .map(|(belief, weight)| KeptBelief {
                    weight: rounded(weight, 1e9),
                    traits: belief.traits.to_array().map(|z| rounded(z, 1e4)),
                })
                .collect(),
        }
    }

    fn is_sound(&self) -> bool {
        (0..=Millis::LATEST.0).contains(&self.learnt_at_unix_ms)
            && self.reports <= MOST_REPORTS
            && self.beliefs.len() <= MOST_BELIEFS
            && self.beliefs.iter().all(|belief| {
                (0.0..=1.0).contains(&belief.weight)
                    && belief.traits.iter().all(|z| z.abs() <= FURTHEST)
            })
            && self.beliefs.iter().map(|belief| belief.weight).sum::<f64>() > 0.0
    }

    /// Whether it was learnt of this kite with these lines, marker and bait.
    #[must_use]
    pub fn is_of(&self, rig: &RigParameters) -> bool {
        let (own, other) = (tackle(&self.rig), tackle(rig));
        own.len() == other.len()
            && own
                .iter()
                .zip(&other)
                .all(|(a, b)| (a - b).abs() <= SAME_SHARE * a.abs().max(b.abs()))
    }

    /// How much it is and how old.
    #[must_use]
    pub fn told(&self) -> LearntNow {
        LearntNow {
            reports: self.reports,
            at: Millis(self.learnt_at_unix_ms),
        }
    }

    pub(super) fn beliefs(&self) -> &[KeptBelief] {
        &self.beliefs
    }
}

impl Default for Memory {
    /// Nothing was ever learnt.
    fn default() -> Self {
        Self {
            format: FORMAT,
            kites: Vec::new(),
            dropped: 0,
        }
    }
}

impl Memory {
    /// From the JSON text that it serialises to, or from the first form, which held one rig.
    ///
    /// # Errors
    /// When the text is something else or makes no sense.
    pub fn from_json(text: &[u8]) -> Result<Self, LearntError> {
        let garbled = |why: serde_json::Error| LearntError::Garbled(why.to_string());
        let mut value: serde_json::Value = serde_json::from_slice(text).map_err(garbled)?;
        let memory = match value.get("format").and_then(serde_json::Value::as_u64) {
            Some(1) => {
                if let Some(fields) = value.as_object_mut() {
                    fields.remove("format");
                }
                Self {
                    kites: vec![serde_json::from_value(value).map_err(garbled)?],
                    ..Self::default()
                }
            }
            Some(form) if form != u64::from(FORMAT) => return Err(LearntError::Format(form)),
            _ => serde_json::from_value(value).map_err(garbled)?,
        };
        // A list in place of an object has its format in its first place.
        if memory.format != FORMAT {
            return Err(LearntError::Format(u64::from(memory.format)));
        }
        if memory.kites.len() > MOST_KITES || !memory.kites.iter().all(Learnt::is_sound) {
            return Err(LearntError::Numbers);
        }
        Ok(memory)
    }

    /// What was learnt of this rig with these doubts.
    ///
    /// # Errors
    /// Why there is nothing.
    pub fn of(&self, rig: &RigParameters, doubt: &Doubt) -> Result<&Learnt, LearntError> {
        let mut of_rig = self.kites.iter().filter(|kite| kite.is_of(rig)).peekable();
        if of_rig.peek().is_none() {
            return Err(LearntError::OtherRig);
        }
        of_rig
            .find(|kite| kite.doubt == *doubt)
            .ok_or(LearntError::OtherDoubt)
    }

    /// Whether anything was learnt of this rig, whatever the doubts.
    #[must_use]
    pub fn holds(&self, rig: &RigParameters) -> bool {
        self.kites.iter().any(|kite| kite.is_of(rig))
    }

    /// Takes in what was learnt, in place of what was known of the same kite.
    pub(super) fn keep(&mut self, learnt: Learnt) {
        self.kites
            .retain(|kite| !(kite.is_of(&learnt.rig) && kite.doubt == learnt.doubt));
        self.kites.push(learnt);
        while self.kites.len() > MOST_KITES {
            self.kites.remove(0);
            self.dropped += 1;
        }
    }

    /// Forgets this kite, whatever the doubts.
    pub fn forget(&mut self, rig: &RigParameters) {
        self.kites.retain(|kite| !kite.is_of(rig));
    }

    /// Kites of which something was learnt.
    #[must_use]
    pub fn kites(&self) -> usize {
        self.kites.len()
    }

    /// Kites that had to make room since the program began.
    #[must_use]
    pub fn dropped(&self) -> u64 {
        self.dropped
    }
}
