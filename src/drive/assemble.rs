//! From checked settings to the engine, at the start and when they are changed while it runs.

use std::sync::Arc;

use crate::decode::SettingChange;
use crate::engine::{EngineSettings, Revise};
use crate::forecast::Forecaster;
use crate::rig::RigError;
use crate::settings::Settings;
use crate::strike::{StrikeSettings, Winder};

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
            strike: Arc::new(self.strike()),
            advice: self.advice,
            pass: self.pass,
            source: Some(Arc::new(self.clone())),
        })
    }
}

impl Settings {
    fn strike(&self) -> StrikeSettings {
        let hands = self.forecast.hands;
        StrikeSettings {
            rig: Some(self.rig.parameters.clone()),
            structures: self.boat.structures.clone(),
            wind_sensor_height_m: self.boat.wind_sensor_height_m,
            winder: Winder {
                line_a_turn_m: hands.kite_m_per_crank,
                fastest_mps: hands.kite_m_per_crank * hands.kite_cranks_per_s,
                ..Winder::default()
            },
            hooked_drag_n: self.locker.tackle.hooked_drag_n,
        }
    }
}

impl Revise for Settings {
    fn revise(&self, changes: &[SettingChange]) -> Option<EngineSettings> {
        self.changed(changes).ok()?.engine().ok()
    }
}
