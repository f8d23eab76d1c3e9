//! How pages show values: the crew's units, the rig as set, the bite zone.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::vessel::Grade;

/// Unit of lengths on the pages. The API itself always speaks metres.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub enum LengthUnit {
    /// Metres.
    #[default]
    #[serde(rename = "m")]
    Metres,
    /// Feet.
    #[serde(rename = "ft")]
    Feet,
}

/// Unit of speeds on the pages. The API itself always speaks metres a second.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub enum SpeedUnit {
    /// Knots.
    #[default]
    #[serde(rename = "kn")]
    Knots,
    /// Metres a second.
    #[serde(rename = "m/s")]
    MetresPerSecond,
}

/// Unit of weights on the pages. The API itself always speaks newtons.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub enum WeightUnit {
    /// Kilograms (of force).
    #[default]
    #[serde(rename = "kg")]
    Kilograms,
    /// Pounds (of force).
    #[serde(rename = "lb")]
    Pounds,
}

/// Units the crew thinks in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub struct CrewUnits {
    /// Lengths.
    pub length: LengthUnit,
    /// Speeds.
    pub speed: SpeedUnit,
    /// Weights.
    pub weight: WeightUnit,
}

/// One value of the rig as set.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RigEntry {
    /// Part of the rig: "kite", "main line".
    pub part: String,
    /// Key in the settings, with its unit: "area_m2".
    pub key: String,
    /// What it is, in words: "Kite area".
    pub name: String,
    /// Its value as text.
    pub value: String,
    /// Unit of the value: "m²"; empty for a plain number.
    pub unit: String,
    /// How far to trust it.
    pub grade: Grade,
}
