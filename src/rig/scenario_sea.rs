//! The sea of a scenario: keys, ranges, and the waves they stand for.
//! In: JSON. Out: checked numbers, systems of waves. Knows no solver.

use serde::{Deserialize, Serialize};

use super::parameters::Gate;
use super::seaway::Waves;

/// How a scenario is worked out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ScenarioNumerics {
    /// The waves move the boat, and the rod tips with it.
    pub boat_motion: bool,
}

impl Default for ScenarioNumerics {
    fn default() -> Self {
        Self { boat_motion: true }
    }
}

impl ScenarioNumerics {
    pub(super) fn is_default(&self) -> bool {
        *self == Self::default()
    }
}

/// A seaway.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ScenarioSea {
    /// Significant height of the wind sea, m.
    pub hs_m: f64,
    /// Peak period of the wind sea, s.
    pub tp_s: f64,
    /// Where the wind sea comes from, degrees true; the wind's direction when absent.
    pub from_deg_true: Option<f64>,
    /// `s` of its spreading `cos^2s(theta / 2)`; long-crested when absent.
    pub spreading: Option<f64>,
    /// Peak factor of its spectrum.
    pub gamma: f64,
    /// Swell beside it.
    pub swell: Option<ScenarioSwell>,
    /// First seed; further ones follow.
    pub seed: u64,
    /// Waves that make up the wind sea.
    pub components: usize,
}

impl Default for ScenarioSea {
    fn default() -> Self {
        Self {
            hs_m: 0.0,
            tp_s: 5.0,
            from_deg_true: None,
            spreading: None,
            gamma: 3.3,
            swell: None,
            seed: 1,
            components: 28,
        }
    }
}

/// Swell.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ScenarioSwell {
    /// Significant height, m.
    pub hs_m: f64,
    /// Peak period, s.
    pub tp_s: f64,
    /// Where it comes from, degrees true; the wind's direction when absent.
    pub from_deg_true: Option<f64>,
    /// As for the wind sea.
    pub spreading: Option<f64>,
    /// As for the wind sea.
    pub gamma: f64,
}

impl Default for ScenarioSwell {
    fn default() -> Self {
        Self {
            hs_m: 0.0,
            tp_s: 10.0,
            from_deg_true: None,
            spreading: None,
            gamma: 5.0,
        }
    }
}

impl ScenarioSea {
    pub(super) fn check(&self, g: &mut Gate) {
        let mut waves = |name: &str, hs, tp, from: Option<f64>, spreading: Option<f64>, gamma| {
            g.range(&format!("{name}.hs_m"), hs, 0.0, 15.0);
            g.range(&format!("{name}.tp_s"), tp, 1.5, 25.0);
            g.range(
                &format!("{name}.from_deg_true"),
                from.unwrap_or(0.0),
                -720.0,
                720.0,
            );
            g.range(
                &format!("{name}.spreading"),
                spreading.unwrap_or(1.0),
                0.5,
                200.0,
            );
            g.range(&format!("{name}.gamma"), gamma, 1.0, 10.0);
        };
        waves(
            "sea",
            self.hs_m,
            self.tp_s,
            self.from_deg_true,
            self.spreading,
            self.gamma,
        );
        if let Some(s) = &self.swell {
            waves(
                "sea.swell",
                s.hs_m,
                s.tp_s,
                s.from_deg_true,
                s.spreading,
                s.gamma,
            );
        }
        g.range("sea.components", self.components as f64, 1.0, 400.0);
    }

    /// The systems of waves; directions not given are `wind_from_deg_true`.
    pub(super) fn waves(&self, wind_from_deg_true: f64) -> Vec<Waves> {
        let from = |deg: Option<f64>| deg.unwrap_or(wind_from_deg_true).to_radians();
        let wind_sea = Waves {
            spreading: self.spreading,
            peak_factor: self.gamma,
            components: self.components,
            ..Waves::wind_sea(self.hs_m, self.tp_s, from(self.from_deg_true))
        };
        let swell = self.swell.iter().map(|s| Waves {
            spreading: s.spreading,
            peak_factor: s.gamma,
            ..Waves::swell(s.hs_m, s.tp_s, from(s.from_deg_true))
        });
        std::iter::once(wind_sea)
            .chain(swell)
            .filter(|w| w.height_m > 0.0)
            .collect()
    }
}
