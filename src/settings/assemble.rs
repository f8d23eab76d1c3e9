//! What the checked settings are for: the engine, the page, and words about what is assumed.

use std::sync::Arc;

use super::Settings;
use crate::engine::EngineSettings;
use crate::forecast::Forecaster;
use crate::rig::RigError;

/// The rig model refuses the rig.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("the rig of the settings: {}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
pub struct RigRefused(pub Vec<RigError>);

impl Settings {
    /// All that the chain from sentences to advisories needs.
    ///
    /// # Errors
    /// When the rig model refuses the rig: not with settings that were read from a file, whose
    /// rig is checked on the way.
    pub fn engine(&self) -> Result<EngineSettings, RigRefused> {
        let forecaster = Forecaster::new(
            self.forecast,
            Some(self.rig.parameters.clone()),
            self.boat.wind_sensor_height_m,
        )
        .map_err(RigRefused)?
        .with_structures(self.boat.structures.clone());
        Ok(EngineSettings {
            feeds: self
                .feeds
                .iter()
                .map(|feed| feed.name.as_str().to_owned())
                .collect(),
            crew_feeds: self
                .feeds
                .iter()
                .filter(|feed| feed.crew)
                .map(|feed| feed.name.as_str().to_owned())
                .collect(),
            vessel: self.vessel.clone(),
            turn: self.turn,
            lines_out: self.rig.out_at_start,
            forecaster,
            advice: self.advice,
            source: Some(Arc::new(self.source.clone())),
        })
    }

    /// What somebody should know although nothing is wrong.
    #[must_use]
    pub fn notes(&self) -> Vec<String> {
        let mut notes = Vec::new();
        if !self.rig.assumed.is_empty() {
            notes.push(format!(
                "typical values stand in for this boat's own in [rig]: {}",
                self.rig.assumed.join(", ")
            ));
        }
        let rig = &self.rig.parameters;
        let unknown: Vec<&str> = [
            ("kite_line.strength_n", rig.kite_line.strength_n),
            ("main_line.strength_n", rig.main_line.strength_n),
            ("rod_holder_strength_n", rig.rod_holder_strength_n),
            ("band_strength_n", rig.band_strength_n),
        ]
        .into_iter()
        .filter(|(_, strength)| strength.is_none())
        .map(|(key, _)| key)
        .collect();
        if !unknown.is_empty() {
            notes.push(format!(
                "no warning of their overload while these are not in [rig]: {}",
                unknown.join(", ")
            ));
        }
        if self.boat.structures.is_empty() {
            notes.push(
                "no [[boat.structure]]: no warning when a line comes near the boat".to_owned(),
            );
        }
        if self.learnt_file.is_none() {
            notes.push(
                "no learnt_file in [forecast]: what the crew's reports teach of the kite lasts \
                 until the daemon ends"
                    .to_owned(),
            );
        }
        if self.feeds.is_empty() {
            notes.push("no [[feed]]: enough for a replay, not for `run`".to_owned());
        }
        notes
    }
}
