//! `[crew]`: the units that people read.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::key::{self, Fallback, Group, Key, words_of};

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

pub(super) const LENGTHS: [(&str, LengthUnit); 2] =
    [("m", LengthUnit::Metres), ("ft", LengthUnit::Feet)];
pub(super) const SPEEDS: [(&str, SpeedUnit); 2] = [
    ("kn", SpeedUnit::Knots),
    ("m/s", SpeedUnit::MetresPerSecond),
];
pub(super) const WEIGHTS: [(&str, WeightUnit); 2] =
    [("kg", WeightUnit::Kilograms), ("lb", WeightUnit::Pounds)];

const LENGTH_WORDS: &[&str] = &words_of(&LENGTHS);
const SPEED_WORDS: &[&str] = &words_of(&SPEEDS);
const WEIGHT_WORDS: &[&str] = &words_of(&WEIGHTS);

pub(super) const CREW: key::Section = key::Section::new("crew", "Units on the pages", "", KEYS);

const KEYS: &[Key] = &[
    Key::words("length", LENGTH_WORDS)
        .or(Fallback::Word(LENGTH_WORDS[0]))
        .about("lengths: metres or feet", "as the marks on your lines are")
        .given("\"m\"")
        .on_page(Group::Units, "Lengths"),
    Key::words("speed", SPEED_WORDS)
        .or(Fallback::Word(SPEED_WORDS[0]))
        .about(
            "speeds: knots or metres a second",
            "as your wind instrument and log show them",
        )
        .given("\"kn\"")
        .on_page(Group::Units, "Speeds"),
    Key::words("weight", WEIGHT_WORDS)
        .or(Fallback::Word(WEIGHT_WORDS[0]))
        .about(
            "weights and loads: kilograms or pounds",
            "as your scales and drags are marked",
        )
        .given("\"kg\"")
        .on_page(Group::Units, "Weights and loads"),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_word_is_the_default() {
        let units = CrewUnits::default();
        assert_eq!(units.length, LENGTHS[0].1);
        assert_eq!(units.speed, SPEEDS[0].1);
        assert_eq!(units.weight, WEIGHTS[0].1);
    }
}
