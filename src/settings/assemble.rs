//! What the checked settings are for: the engine, the page, and words about what is assumed.

use super::Settings;
use crate::engine::EngineSettings;
use crate::forecast::Forecaster;
use crate::rig::RigError;
use crate::serve::{BiteZone, RigEntry};
use crate::vessel::Grade;

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
        .map_err(RigRefused)?;
        Ok(EngineSettings {
            feeds: self
                .feeds
                .iter()
                .map(|feed| feed.name.as_str().to_owned())
                .collect(),
            vessel: self.vessel.clone(),
            turn: self.turn,
            lines_out: self.rig.out_at_start,
            forecaster,
            advice: self.advice.clone(),
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
        if self.feeds.is_empty() {
            notes.push("no [[feed]]: enough for a replay, not for `run`".to_owned());
        }
        notes
    }

    /// The bite zone, for the page.
    #[must_use]
    pub fn bite_zone(&self) -> BiteZone {
        BiteZone {
            from_deg: self.forecast.bite_zone.from_deg,
            to_deg: self.forecast.bite_zone.to_deg,
        }
    }

    /// The rig as set, for people to check.
    #[must_use]
    pub fn rig_entries(&self) -> Vec<RigEntry> {
        let parameters = &self.rig.parameters;
        let (kite, marker, bait) = (&parameters.kite, &parameters.marker, &parameters.bait);
        let (kite_line, main_line) = (&parameters.kite_line, &parameters.main_line);
        [
            ("kite", "area_m2", kite.area_m2),
            ("kite", "mass_kg", kite.mass_kg),
            ("kite", "cl", kite.cl),
            ("kite", "cd", kite.cd),
            ("kite_line", "clip_to_kite_m", kite_line.clip_to_kite_m),
            ("kite_line", "diameter_mm", kite_line.diameter_m * 1e3),
            ("kite_line", "mass_g_per_m", kite_line.mass_per_m_kg * 1e3),
            ("main_line", "diameter_mm", main_line.diameter_m * 1e3),
            ("main_line", "mass_g_per_m", main_line.mass_per_m_kg * 1e3),
            ("marker", "above_bait_m", marker.above_bait_m),
            ("marker", "diameter_m", marker.diameter_m),
            ("bait", "mass_kg", bait.mass_kg),
            ("bait", "height_m", bait.height_m),
        ]
        .into_iter()
        .map(|(part, key, value)| RigEntry {
            part: part.replace('_', " "),
            key: key.to_owned(),
            value: format!("{}", (value * 1e4).round() / 1e4),
            // Nobody has measured it for us: a setting is at best what the crew wrote down.
            grade: Grade::Assumed,
        })
        .collect()
    }
}
