//! Keys of `[boat]` and `[[boat.structure]]`.

use crate::key::{Fallback, Group, Key, Section};

/// `[boat]`.
pub(super) const BOAT: Section = Section::new("boat", "The boat", "", KEYS);

/// `[[boat.structure]]`.
pub(super) const STRUCTURE: Section = Section::new(
    "boat.structure",
    "",
    "What stands on the boat and a line must not touch: outriggers, aerials, a tower. A straight bar \
     between two places in the axes of the rod tips, or a point. As many as there are. This pair is \
     invented: outriggers swung out, about seven metres long.",
    STRUCTURE_KEYS,
)
.list(EXAMPLES);

const fn tip_to_starboard(name: &'static str) -> Key {
    Key::number(name, "m", -15.0, 15.0).about(
        "the same tip, to starboard of the middle line",
        "from the boat's middle line; to port is negative",
    )
}

const fn tip_height(name: &'static str) -> Key {
    Key::number(name, "m", 0.3, 25.0).about(
        "the same tip above the water",
        "from the water to the tip, boat loaded as you fish",
    )
}

const KEYS: &[Key] = &[
    Key::number("rod_tip_kite.aft_m", "m", -40.0, 10.0)
        .about(
            "tip of the kite rod, astern of the transom",
            "from the middle of the transom to the tip, rod in its holder; forward of the transom \
             is negative",
        )
        .given("0.3")
        .on_page(Group::Boat, "Kite rod tip, astern"),
    tip_to_starboard("rod_tip_kite.starboard_m")
        .given("1.6")
        .on_page(Group::Boat, "Kite rod tip, to starboard"),
    tip_height("rod_tip_kite.height_m")
        .given("2.8")
        .on_page(Group::Boat, "Kite rod tip, height"),
    Key::number("rod_tip_main.aft_m", "m", -40.0, 10.0)
        .about(
            "tip of the main rod, astern of the transom",
            "from the middle of the transom to the tip, rod in its holder; forward of the transom \
             is negative",
        )
        .given("0.3")
        .on_page(Group::Boat, "Main rod tip, astern"),
    tip_to_starboard("rod_tip_main.starboard_m")
        .given("-1.0")
        .on_page(Group::Boat, "Main rod tip, to starboard"),
    tip_height("rod_tip_main.height_m")
        .given("2.4")
        .on_page(Group::Boat, "Main rod tip, height"),
    Key::number("wind_sensor_height_m", "m", 1.0, 60.0)
        .about(
            "height of the wind sensor above the water",
            "measure from the water to the wind sensor; the boat's papers give the height of the \
             mast",
        )
        .given("9.0")
        .on_page(Group::Boat, "Wind sensor, height"),
    Key::number("position.latitude_deg", "degrees", -90.0, 90.0)
        .or(Fallback::Nothing)
        .about(
            "where the boat is, only for the magnetic variation and only while the network gives \
             no position",
            "north is positive",
        )
        .example("0.0"),
    Key::number("position.longitude_deg", "degrees", -180.0, 180.0)
        .or(Fallback::Nothing)
        .about("the same place, longitude", "east is positive")
        .example("0.0"),
    Key::number("variation_deg", "degrees", -180.0, 180.0)
        .or(Fallback::Nothing)
        .about(
            "magnetic variation, only while neither network nor magnetic model gives one",
            "east is positive; read it off the compass rose of the chart",
        )
        .example("0.0"),
];

pub(super) const STRUCTURE_KEYS: &[Key] = &[
    Key::text("name", 30)
        .about(
            "what the crew calls it; the advice names it",
            "such as \"port outrigger\"",
        )
        .given("\"port outrigger\"")
        .on_page(Group::Structure, "Name"),
    Key::number("from.aft_m", "m", -40.0, 10.0)
        .about(
            "one end, astern of the transom",
            "from the middle of the transom; forward of it is negative. Outriggers: as you fish \
             them",
        )
        .given("-4.0")
        .on_page(Group::Structure, "One end, astern"),
    Key::number("from.starboard_m", "m", -15.0, 15.0)
        .about(
            "the same end, to starboard of the middle line",
            "from the boat's middle line; to port is negative",
        )
        .given("-1.8")
        .on_page(Group::Structure, "One end, to starboard"),
    Key::number("from.height_m", "m", 0.0, 25.0)
        .about(
            "the same end above the water",
            "from the water, boat loaded as you fish",
        )
        .given("2.5")
        .on_page(Group::Structure, "One end, height"),
    Key::number("to.aft_m", "m", -40.0, 10.0)
        .or(Fallback::Nothing)
        .about(
            "other end of a straight bar, astern of the transom",
            "leave all three of the other end away for a point",
        )
        .given("-3.0")
        .on_page(Group::Structure, "Other end, astern"),
    Key::number("to.starboard_m", "m", -15.0, 15.0)
        .or(Fallback::Nothing)
        .about(
            "the same end, to starboard of the middle line",
            "leave all three of the other end away for a point",
        )
        .given("-6.5")
        .on_page(Group::Structure, "Other end, to starboard"),
    Key::number("to.height_m", "m", 0.0, 25.0)
        .or(Fallback::Nothing)
        .about(
            "the same end above the water",
            "leave all three of the other end away for a point",
        )
        .given("7.5")
        .on_page(Group::Structure, "Other end, height"),
    Key::number("clearance_m", "m", 0.1, 10.0)
        .default(1.0)
        .about(
            "a line nearer than this fouls it (the default is invented)",
            "heel and roll are not in the model: leave room for them",
        )
        .given("1.0")
        .on_page(Group::Structure, "Keep lines off by"),
];

const EXAMPLES: &str = r#"
[[boat.structure]]
name = "starboard outrigger"
from = { aft_m = -4.0, starboard_m = 1.8, height_m = 2.5 }
to = { aft_m = -3.0, starboard_m = 6.5, height_m = 7.5 }
clearance_m = 1.0

# A point:
# [[boat.structure]]
# name = "aerial"
# from = { aft_m = -5.0, starboard_m = 0.0, height_m = 6.0 }
"#;
