//! The settings that a page may change: name, unit, range, what each is and where to measure it.
//!
//! The ranges shown are those that the reader of the file enforces; a test holds them together.

use super::Settings;
use crate::serve::{LengthUnit, SettingValue, SpeedUnit, WeightUnit};
use crate::units::LINE_OUT_MAX_M;

/// What a value may be.
#[derive(Debug, Clone, Copy)]
pub(super) enum Kind {
    /// A number: its unit, the least, the greatest.
    Number(&'static str, f64, f64),
    /// One of some words.
    Words(&'static [&'static str]),
    /// Free text of so many characters.
    Text(usize),
}

/// What stands in while the file does not give the value.
type StandIn = fn(&Settings) -> Option<SettingValue>;

/// One setting.
#[derive(Debug, Clone, Copy)]
pub(super) struct Editable {
    pub key: &'static str,
    pub group: &'static str,
    pub name: &'static str,
    pub explanation: &'static str,
    pub kind: Kind,
    /// `None` when the file must give it.
    pub stand_in: Option<StandIn>,
}

pub(super) const fn needed(
    group: &'static str,
    key: &'static str,
    name: &'static str,
    kind: Kind,
    explanation: &'static str,
) -> Editable {
    Editable {
        key,
        group,
        name,
        explanation,
        kind,
        stand_in: None,
    }
}

pub(super) const fn optional(
    group: &'static str,
    key: &'static str,
    name: &'static str,
    kind: Kind,
    explanation: &'static str,
    stand_in: StandIn,
) -> Editable {
    Editable {
        key,
        group,
        name,
        explanation,
        kind,
        stand_in: Some(stand_in),
    }
}

pub(super) const fn nothing(_: &Settings) -> Option<SettingValue> {
    None
}

pub(super) fn number(value: f64) -> Option<SettingValue> {
    Some(SettingValue::Number(value))
}

fn word(value: &str) -> Option<SettingValue> {
    Some(SettingValue::Word(value.to_owned()))
}

const BOAT: &str = "Boat";
const KITE: &str = "Kite";
const KITE_LINE: &str = "Kite line";
const MAIN_LINE: &str = "Main line";
const MARKER: &str = "Marker";
const BAIT: &str = "Bait";
const GIVES: &str = "What gives first";
const START: &str = "Lines out at the start";
const HANDS: &str = "Hands and reels";
const UNITS: &str = "Units on the pages";

const RATED: &str = "Breaking strength on the label of the braid, in pounds of force. Diameter, weight and strength are estimated from it where they are not given.";
const DIAMETER: &str = "Wind ten turns side by side on a pencil, measure, divide by ten.";
const LINE_WEIGHT: &str = "Weigh 100 m dry and divide by 100.";
const STRENGTH: &str =
    "Load at which the line breaks, knots and all. Without it no warning of it comes.";

/// All, in the order in which a page shows them.
pub(super) const EDITABLES: &[Editable] = &[
    optional(
        KITE,
        "rig.kite.preset",
        "Kite made for",
        Kind::Words(&["light", "medium", "strong"]),
        "The wind the kite is made for. It stands in for area, weight, lift and drag; your own numbers below go before it.",
        nothing,
    ),
    optional(
        KITE,
        "rig.kite.area_m2",
        "Kite area",
        Kind::Number("m²", 0.1, 20.0),
        "Cloth area. A square kite laid flat: its side times its side.",
        |s| number(s.rig.parameters.kite.area_m2),
    ),
    optional(
        KITE,
        "rig.kite.mass_kg",
        "Kite weight",
        Kind::Number("kg", 0.01, 10.0),
        "Dry, with spars and bridle; kitchen or letter scale.",
        |s| number(s.rig.parameters.kite.mass_kg),
    ),
    optional(
        KITE,
        "rig.kite.cl",
        "Kite lift",
        Kind::Number("", 0.05, 2.5),
        "Lift coefficient on the cloth area. Hard to measure: leave the stand-in unless the kite always stands higher (more) or lower (less) than foreseen.",
        |s| number(s.rig.parameters.kite.cl),
    ),
    optional(
        KITE,
        "rig.kite.cd",
        "Kite drag",
        Kind::Number("", 0.02, 2.5),
        "Drag coefficient on the cloth area, tail and all. Hard to measure: leave the stand-in unless you know better.",
        |s| number(s.rig.parameters.kite.cd),
    ),
    needed(
        KITE_LINE,
        "rig.kite_line.clip_to_kite_m",
        "Clip to kite",
        Kind::Number("m", 1.0, 200.0),
        "Line between the clip with the ring and the kite. Measure along the line.",
    ),
    optional(
        KITE_LINE,
        "rig.kite_line.rated_lbf",
        "Kite line on the label",
        Kind::Number("lbf", 20.0, 400.0),
        RATED,
        nothing,
    ),
    optional(
        KITE_LINE,
        "rig.kite_line.diameter_mm",
        "Kite line diameter",
        Kind::Number("mm", 0.1, 5.0),
        DIAMETER,
        |s| number(s.rig.parameters.kite_line.diameter_m * 1e3),
    ),
    optional(
        KITE_LINE,
        "rig.kite_line.mass_g_per_m",
        "Kite line weight",
        Kind::Number("g/m", 0.01, 50.0),
        LINE_WEIGHT,
        |s| number(s.rig.parameters.kite_line.mass_per_m_kg * 1e3),
    ),
    optional(
        KITE_LINE,
        "rig.kite_line.strength_n",
        "Kite line breaks at",
        Kind::Number("N", 20.0, 20_000.0),
        STRENGTH,
        |s| s.rig.parameters.kite_line.strength_n.and_then(number),
    ),
    optional(
        MAIN_LINE,
        "rig.main_line.rated_lbf",
        "Main line on the label",
        Kind::Number("lbf", 20.0, 400.0),
        RATED,
        nothing,
    ),
    optional(
        MAIN_LINE,
        "rig.main_line.diameter_mm",
        "Main line diameter",
        Kind::Number("mm", 0.1, 5.0),
        DIAMETER,
        |s| number(s.rig.parameters.main_line.diameter_m * 1e3),
    ),
    optional(
        MAIN_LINE,
        "rig.main_line.mass_g_per_m",
        "Main line weight",
        Kind::Number("g/m", 0.01, 50.0),
        LINE_WEIGHT,
        |s| number(s.rig.parameters.main_line.mass_per_m_kg * 1e3),
    ),
    optional(
        MAIN_LINE,
        "rig.main_line.strength_n",
        "Main line breaks at",
        Kind::Number("N", 20.0, 20_000.0),
        STRENGTH,
        |s| s.rig.parameters.main_line.strength_n.and_then(number),
    ),
    needed(
        MARKER,
        "rig.marker.above_bait_m",
        "Marker to bait",
        Kind::Number("m", 0.5, 60.0),
        "Line between marker and bait; common practice is 6 to 9 m. Measure along the line.",
    ),
    needed(
        MARKER,
        "rig.marker.diameter_m",
        "Marker diameter",
        Kind::Number("m", 0.0, 1.5),
        "Of the balloon, blown up as you fish it. 0 for none.",
    ),
    optional(
        MARKER,
        "rig.marker.mass_kg",
        "Marker weight",
        Kind::Number("kg", 0.0, 1.0),
        "With its snap; letter scale.",
        |s| number(s.rig.parameters.marker.mass_kg),
    ),
    needed(
        BAIT,
        "rig.bait.length_m",
        "Bait length",
        Kind::Number("m", 0.1, 0.7),
        "Nose to fork of the tail. Whatever else of the bait is not given is estimated from it, with a nose weight of 85 g (common practice).",
    ),
    optional(
        BAIT,
        "rig.bait.mass_kg",
        "Bait weight",
        Kind::Number("kg", 0.02, 5.0),
        "On the line as fished, nose weight, hooks and leader with it.",
        |s| number(s.rig.parameters.bait.mass_kg),
    ),
    optional(
        BAIT,
        "rig.bait.height_m",
        "Bait height",
        Kind::Number("m", 0.01, 0.5),
        "Back to belly where it is highest.",
        |s| number(s.rig.parameters.bait.height_m),
    ),
    optional(
        GIVES,
        "rig.band_strength_n",
        "Release band lets go at",
        Kind::Number("N", 1.0, 2000.0),
        "Pull the band with a spring scale until it gives, three times; take the least. Mind your eyes.",
        nothing,
    ),
    optional(
        GIVES,
        "rig.rod_holder_strength_n",
        "Kite rod's holder stands",
        Kind::Number("N", 10.0, 20_000.0),
        "Sideways load that holder and rod are made for; ask the maker. Never find out by breaking it.",
        nothing,
    ),
    needed(
        BOAT,
        "boat.rod_tip_kite.aft_m",
        "Kite rod tip, astern",
        Kind::Number("m", -40.0, 10.0),
        "From the transom to the tip, rod in its holder; forward of the transom is negative.",
    ),
    needed(
        BOAT,
        "boat.rod_tip_kite.starboard_m",
        "Kite rod tip, to starboard",
        Kind::Number("m", -15.0, 15.0),
        "From the boat's middle line; to port is negative.",
    ),
    needed(
        BOAT,
        "boat.rod_tip_kite.height_m",
        "Kite rod tip, height",
        Kind::Number("m", 0.3, 25.0),
        "From the water to the tip, boat loaded as you fish.",
    ),
    needed(
        BOAT,
        "boat.rod_tip_main.aft_m",
        "Main rod tip, astern",
        Kind::Number("m", -40.0, 10.0),
        "From the transom to the tip, rod in its holder; forward of the transom is negative.",
    ),
    needed(
        BOAT,
        "boat.rod_tip_main.starboard_m",
        "Main rod tip, to starboard",
        Kind::Number("m", -15.0, 15.0),
        "From the boat's middle line; to port is negative.",
    ),
    needed(
        BOAT,
        "boat.rod_tip_main.height_m",
        "Main rod tip, height",
        Kind::Number("m", 0.3, 25.0),
        "From the water to the tip, boat loaded as you fish.",
    ),
    needed(
        BOAT,
        "boat.wind_sensor_height_m",
        "Wind sensor, height",
        Kind::Number("m", 1.0, 60.0),
        "From the water to the wind sensor; the boat's papers give the height of the mast.",
    ),
    optional(
        START,
        "rig.out_at_start.kite_m",
        "Kite line at the start",
        Kind::Number("m", 10.0, LINE_OUT_MAX_M),
        "Kite line out when the bait first skips; counts from the next start of fishing. Without it the crew is asked. What is out now is set above.",
        nothing,
    ),
    optional(
        START,
        "rig.out_at_start.main_m",
        "Main line at the start",
        Kind::Number("m", 10.0, LINE_OUT_MAX_M),
        "Main line out when the bait first skips; counts from the next start of fishing. Without it the crew is asked. What is out now is set above.",
        nothing,
    ),
    optional(
        HANDS,
        "forecast.hands.reaction_s",
        "Time to get to the reel",
        Kind::Number("s", 0.0, 30.0),
        "From reading what to do until the handle turns. Time it once.",
        |s| number(s.forecast.hands.reaction_s),
    ),
    optional(
        HANDS,
        "forecast.hands.give_m_per_s",
        "Main line given a second",
        Kind::Number("m/s", 0.05, 10.0),
        "How fast main line runs out under the hand. Time 10 m.",
        |s| number(s.forecast.hands.give_m_per_s),
    ),
    optional(
        HANDS,
        "forecast.hands.take_m_per_crank",
        "Main line taken a turn of the handle",
        Kind::Number("m", 0.05, 3.0),
        "Mark the line, turn the handle ten times, measure, divide by ten.",
        |s| number(s.forecast.hands.take_m_per_crank),
    ),
    optional(
        HANDS,
        "forecast.hands.cranks_per_s",
        "Main reel, turns of the handle a second",
        Kind::Number("/s", 0.1, 5.0),
        "With the rig's load on, as long as it takes to wind 10 m.",
        |s| number(s.forecast.hands.cranks_per_s),
    ),
    optional(
        HANDS,
        "forecast.hands.kite_give_m_per_s",
        "Kite line given a second",
        Kind::Number("m/s", 0.05, 10.0),
        "How fast the kite draws line off against the drag. Time 10 m.",
        |s| number(s.forecast.hands.kite_give_m_per_s),
    ),
    optional(
        HANDS,
        "forecast.hands.kite_m_per_crank",
        "Kite line taken a turn of the handle",
        Kind::Number("m", 0.05, 3.0),
        "Mark the kite line, turn the handle ten times, measure, divide by ten.",
        |s| number(s.forecast.hands.kite_m_per_crank),
    ),
    optional(
        HANDS,
        "forecast.hands.kite_cranks_per_s",
        "Kite reel, turns of the handle a second",
        Kind::Number("/s", 0.1, 5.0),
        "With the kite up, as long as it takes to wind 10 m.",
        |s| number(s.forecast.hands.kite_cranks_per_s),
    ),
    optional(
        UNITS,
        "crew.length",
        "Lengths",
        Kind::Words(&["m", "ft"]),
        "Metres or feet.",
        |s| match s.units.length {
            LengthUnit::Metres => word("m"),
            LengthUnit::Feet => word("ft"),
        },
    ),
    optional(
        UNITS,
        "crew.speed",
        "Speeds",
        Kind::Words(&["kn", "m/s"]),
        "Knots or metres a second.",
        |s| match s.units.speed {
            SpeedUnit::Knots => word("kn"),
            SpeedUnit::MetresPerSecond => word("m/s"),
        },
    ),
    optional(
        UNITS,
        "crew.weight",
        "Weights and loads",
        Kind::Words(&["kg", "lb"]),
        "Kilograms or pounds.",
        |s| match s.units.weight {
            WeightUnit::Kilograms => word("kg"),
            WeightUnit::Pounds => word("lb"),
        },
    ),
];
