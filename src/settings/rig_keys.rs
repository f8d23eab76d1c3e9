//! Keys of `[rig]` and the sections in it. The rig model has ranges of its own, for scenarios too;
//! a test holds that it takes both ends of these.

use crate::key::{Fallback, Group, Key, Section, words_of};
use crate::rig::presets::KiteSize;
use crate::units::LINE_OUT_MAX_M;

/// `[rig]` and the sections in it.
pub(super) const RIG: [Section; 8] = [
    Section::new("rig", "The rig", "", OWN),
    Section::new(
        "rig.kite",
        "",
        "The same as preset alone: kite = \"medium\" in [rig], in place of this section.",
        KITE,
    ),
    Section::new(
        "rig.kite.trim",
        "",
        "Coefficients that change with the wind, in place of cl and cd: as many rows as there are.",
        TRIM,
    )
    .list("")
    .as_comment(),
    Section::new("rig.kite_line", "", "", KITE_LINE),
    Section::new("rig.main_line", "", "", MAIN_LINE),
    Section::new("rig.marker", "", "", MARKER),
    Section::new("rig.bait", "", "", BAIT),
    Section::new("rig.out_at_start", "", "", OUT_AT_START).as_comment(),
];

/// Kite presets by the wind they are made for.
pub(super) const KITES: [(&str, KiteSize); 3] = [
    ("light", KiteSize::Light),
    ("medium", KiteSize::Medium),
    ("strong", KiteSize::Strong),
];
const KITE_WORDS: &[&str] = &words_of(&KITES);

/// The winds of the kite presets, if these are their words.
pub(super) fn kite_winds_mps(words: &[&str]) -> Vec<[f64; 2]> {
    if words == KITE_WORDS {
        KITES.map(|(_, size)| size.wind_mps()).to_vec()
    } else {
        Vec::new()
    }
}

pub(super) const OWN: &[Key] = &[
    Key::number("band_strength_n", "N", 1.0, 2000.0)
        .or(Fallback::Nothing)
        .about(
            "load at which the release band lets go; without it there is no warning of it",
            "pull the band with a spring scale until it gives, three times; take the least and \
             mind your eyes (1 kg is 9.81 N)",
        )
        .example("40.0")
        .on_page(Group::Strengths, "Release band lets go at"),
    Key::number("rod_holder_strength_n", "N", 10.0, 20_000.0)
        .or(Fallback::Nothing)
        .about(
            "sideways load that the kite rod's holder and the rod are made for; without it there \
             is no warning of it",
            "ask the maker; never find out by breaking it",
        )
        .example("400.0")
        .on_page(Group::Strengths, "Kite rod holder breaks at"),
    Key::number("air_density_kg_per_m3", "kg/m³", 0.9, 1.5)
        .default(1.225)
        .about(
            "density of the air",
            "from a table by temperature and pressure; warm air is thinner, 1.16 at 30 °C",
        ),
    Key::number("water_density_kg_per_m3", "kg/m³", 980.0, 1060.0)
        .default(1025.0)
        .about(
            "density of the water; fresh water has 1000",
            "from a table by temperature and salt, or a hydrometer",
        ),
];

pub(super) const KITE: &[Key] = &[
    Key::words("preset", KITE_WORDS)
        .or(Fallback::Nothing)
        .about(
            "the wind that the kite is made for; it stands in for area, weight, lift and drag, and \
             your own numbers go before it. Without it all four are needed",
            "on the kite's bag, or in the maker's words for its wind",
        )
        .given("\"medium\"")
        .on_page(Group::Kite, "Kite size"),
    Key::number("area_m2", "m²", 0.1, 20.0)
        .or(Fallback::Estimate)
        .about(
            "cloth area",
            "a square kite laid flat: its side times its side",
        )
        .example("1.3")
        .on_page(Group::Kite, "Kite area"),
    Key::number("mass_kg", "kg", 0.01, 10.0)
        .or(Fallback::Estimate)
        .about(
            "weight of the kite, dry, with spars and bridle",
            "kitchen or letter scale",
        )
        .example("0.35")
        .on_page(Group::Kite, "Kite weight"),
    Key::number("cl", "", 0.05, 2.5)
        .or(Fallback::Estimate)
        .about(
            "lift coefficient on the cloth area",
            "hard to measure: use a preset unless the kite always stands higher (more) or lower \
             (less) than foreseen",
        )
        .example("0.75")
        .on_page(Group::Kite, "Kite lift"),
    Key::number("cd", "", 0.02, 2.5)
        .or(Fallback::Estimate)
        .about(
            "drag coefficient on the cloth area, tail and all",
            "hard to measure: use a preset unless you know better",
        )
        .example("0.45")
        .on_page(Group::Kite, "Kite drag"),
];

pub(super) const TRIM: &[Key] = &[
    Key::number("wind_mps", "m/s", 0.0, 60.0)
        .about(
            "apparent wind at the kite; more than that of the row before",
            "from a trial: wind on deck while the kite stands (1 kn is 0.514 m/s)",
        )
        .example("6.0"),
    Key::number("cl", "", 0.05, 2.5)
        .about("lift coefficient in that wind", "hard to measure: raise it until the foreseen kite stands as high as yours in that wind")
        .example("0.8"),
    Key::number("cd", "", 0.02, 2.5)
        .about("drag coefficient in that wind", "hard to measure: raise it until the foreseen kite stands as far astern as yours in that wind")
        .example("0.45"),
];

// What is said alike of both lines.
const RATED: Key = Key::number("rated_lbf", "lbf", 20.0, 400.0)
    .or(Fallback::Nothing)
    .about(
        "breaking strength on the label of the braid, in pounds of force; diameter, weight and \
         strength are estimated from it where they are not given",
        "read it off the spool",
    );
const DIAMETER: Key = Key::number("diameter_mm", "mm", 0.1, 5.0)
    .or(Fallback::Estimate)
    .about(
        "diameter of the line",
        "wind ten turns side by side on a pencil, measure, divide by ten",
    );
const MASS: Key = Key::number("mass_g_per_m", "g/m", 0.01, 50.0)
    .or(Fallback::Estimate)
    .about(
        "weight of a metre of line",
        "weigh 100 m dry and divide by 100",
    );
const STRENGTH: Key = Key::number("strength_n", "N", 20.0, 20_000.0)
    .or(Fallback::Estimate)
    .about(
        "load at which the line breaks, knots and all; without it there is no warning of it",
        "a pound of force is 4.45 N",
    );

pub(super) const KITE_LINE: &[Key] = &[
    Key::number("clip_to_kite_m", "m", 1.0, 200.0)
        .about(
            "line between the clip with the ring and the kite",
            "measure along the line",
        )
        .given("15.0")
        .on_page(Group::KiteLine, "Clip to kite"),
    RATED
        .given("80")
        .on_page(Group::KiteLine, "Kite line on the label"),
    DIAMETER
        .example("0.5")
        .on_page(Group::KiteLine, "Kite line diameter"),
    MASS.example("0.17")
        .on_page(Group::KiteLine, "Kite line weight"),
    STRENGTH
        .example("356.0")
        .on_page(Group::KiteLine, "Kite line breaks at"),
];

pub(super) const MAIN_LINE: &[Key] = &[
    RATED
        .given("200")
        .on_page(Group::MainLine, "Main line on the label"),
    DIAMETER
        .example("0.8")
        .on_page(Group::MainLine, "Main line diameter"),
    MASS.example("0.42")
        .on_page(Group::MainLine, "Main line weight"),
    STRENGTH
        .example("890.0")
        .on_page(Group::MainLine, "Main line breaks at"),
];

pub(super) const MARKER: &[Key] = &[
    Key::number("above_bait_m", "m", 0.5, 60.0)
        .about(
            "line between marker and bait; common practice is 6 to 9 m",
            "measure along the line",
        )
        .given("7.0")
        .on_page(Group::Marker, "Marker to bait"),
    Key::number("diameter_m", "m", 0.0, 1.5)
        .about(
            "diameter of the balloon, blown up as you fish it",
            "measure it across; 0 for none",
        )
        .given("0.25")
        .on_page(Group::Marker, "Marker diameter"),
    Key::number("mass_kg", "kg", 0.0, 1.0)
        .default(0.006)
        .about(
            "weight of the marker with its snap (the default is invented)",
            "letter scale",
        )
        .on_page(Group::Marker, "Marker weight"),
];

pub(super) const BAIT: &[Key] = &[
    Key::number("length_m", "m", 0.1, 0.7)
        .about(
            "length of the bait; whatever else of it is not given is estimated from it, with a \
             nose weight of 85 g (common practice, no source)",
            "nose to fork of the tail",
        )
        .given("0.32")
        .on_page(Group::Bait, "Bait length"),
    Key::number("mass_kg", "kg", 0.02, 5.0)
        .or(Fallback::Estimate)
        .about(
            "weight of the bait on the line as fished, with nose weight, hooks and leader",
            "kitchen scale",
        )
        .example("0.34")
        .on_page(Group::Bait, "Bait weight"),
    Key::number("height_m", "m", 0.01, 0.5)
        .or(Fallback::Estimate)
        .about("height of the bait", "back to belly where it is highest")
        .example("0.07")
        .on_page(Group::Bait, "Bait height"),
    Key::number("volume_m3", "m³", 1e-6, 0.01)
        .or(Fallback::Estimate)
        .about(
            "bait volume",
            "sink it in a full bowl and weigh what runs over: 1 kg is 0.001 m³",
        )
        .example("0.00024"),
    Key::number("wet_drag_area_m2", "m²", 1e-5, 0.05)
        .or(Fallback::Estimate)
        .about(
            "bait's drag in the water, as an area",
            "hard to measure: leave it away unless it was towed on a spring scale",
        )
        .example("0.0008"),
    Key::number("air_drag_area_m2", "m²", 0.0, 0.2)
        .or(Fallback::Estimate)
        .about(
            "bait's drag in the air, as an area",
            "hard to measure: leave it away; about the area that the wind sees",
        )
        .example("0.004"),
    Key::number("planing", "", 0.0, 2.0)
        .or(Fallback::Estimate)
        .about(
            "lift of the bait from planing, as a share of its drag in the water; 0 is none, and \
             none is known",
            "nothing to measure: leave the key away",
        )
        .example("0.0"),
];

const OUT_AT_START: &[Key] = &[
    Key::number("kite_m", "m", 10.0, LINE_OUT_MAX_M)
        .or(Fallback::Nothing)
        .about(
            "kite line out when the bait first skips; counts from the next start of fishing, and \
             without it the crew is asked. What is out now is set on the pages",
            "count it from the rod tip to the kite",
        )
        .example("100.0")
        .on_page(Group::Start, "Kite line at the start"),
    Key::number("main_m", "m", 10.0, LINE_OUT_MAX_M)
        .or(Fallback::Nothing)
        .about(
            "main line out when the bait first skips; counts from the next start of fishing, and \
             without it the crew is asked. What is out now is set on the pages",
            "count it from the rod tip through the ring to the bait",
        )
        .example("145.0")
        .on_page(Group::Start, "Main line at the start"),
];
