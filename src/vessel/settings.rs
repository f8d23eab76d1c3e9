//! What the vessel room is told by the settings.

use crate::key::{Key, Section, default_of};

use super::sender::SourcePattern;
use crate::geodesy::Position;

/// `[sources]`.
pub const SOURCES: Section = Section::new(
    "sources",
    "Which source to believe",
    "A source is FEED, FEED:TALKER, FEED:KIND or FEED:TALKERKIND, with * for any feed. What no list \
     names comes last. Between equals the one in use stays until it is stale.",
    KEYS,
);

const SOURCE: &str = "FEED, FEED:TALKER, FEED:KIND or FEED:TALKERKIND, such as \"masthead:MWV\"";

/// Where sources and their intervals are found.
const SENDS: &str = "`skimwatch check --listen 10` lists what each feed sends";
const HOW_OFTEN: &str =
    "`skimwatch check --listen 10` tells how often it comes; five intervals or so";

const KEYS: &[Key] = &[
    Key::list("wind", SOURCE)
        .about("sources of the wind, best first", SENDS)
        .given("[\"masthead:MWV\", \"*:MWV\"]"),
    Key::list("heading", SOURCE)
        .about("sources of the heading, best first", SENDS)
        .given("[\"*:HDT\", \"*:THS\", \"*:HDG\"]"),
    Key::list("speed_water", SOURCE)
        .about("sources of the speed through the water, best first", SENDS)
        .example("[\"*:VHW\"]"),
    Key::list("speed_ground", SOURCE)
        .about("sources of speed and course over ground, best first", SENDS)
        .example("[\"*:VTG\", \"*:RMC\"]"),
    Key::list("position", SOURCE)
        .about("sources of the position, best first", SENDS)
        .example("[\"*:GGA\", \"*:RMC\"]"),
    Key::list("rate_of_turn", SOURCE)
        .about("sources of the rate of turn, best first", SENDS)
        .example("[\"*:ROT\"]"),
    Key::list("rudder", SOURCE)
        .about("sources of the rudder angle, best first", SENDS)
        .example("[\"*:RSA\"]"),
    Key::list("variation", SOURCE)
        .about("sources of the magnetic variation, best first", SENDS)
        .example("[\"*:RMC\"]"),
    Key::number("wind_stale_s", "s", 1.0, 60.0)
        .default(5.0)
        .about(
            "a wind older than this gives way to another source",
            HOW_OFTEN,
        ),
    Key::number("heading_stale_s", "s", 1.0, 60.0)
        .default(3.0)
        .about(
            "a heading older than this gives way to another source",
            HOW_OFTEN,
        ),
    Key::number("speed_stale_s", "s", 1.0, 60.0)
        .default(10.0)
        .about(
            "a speed or course older than this gives way to another source",
            HOW_OFTEN,
        ),
    Key::number("position_stale_s", "s", 1.0, 60.0)
        .default(30.0)
        .about(
            "a position older than this gives way to another source",
            HOW_OFTEN,
        ),
    Key::number("rate_of_turn_stale_s", "s", 1.0, 60.0)
        .default(3.0)
        .about(
            "a rate of turn older than this gives way to another source",
            HOW_OFTEN,
        ),
    Key::number("rudder_stale_s", "s", 1.0, 60.0)
        .default(3.0)
        .about(
            "a rudder angle older than this gives way to another source",
            HOW_OFTEN,
        ),
    Key::number("variation_stale_s", "s", 10.0, 86400.0)
        .default(600.0)
        .about(
            "a variation older than this gives way to another source; it changes with the place \
             only",
            "nothing to measure: leave the key away for the default",
        ),
    Key::number("lost_s", "s", 2.0, 60.0).default(10.0).about(
        "a value older than this (and than its stale time) is lost, and the forecast is \
             withdrawn",
        "nothing to measure: leave the key away for the default",
    ),
    Key::number("settle_s", "s", 0.0, 60.0).default(5.0).about(
        "a better source must live for so long before it takes over",
        "longer than the sender of a worn cable stays away",
    ),
    Key::number("wind_window_s", "s", 60.0, 3600.0)
        .default(600.0)
        .about(
            "length of the record from which the wind's mean, gusts and shift are taken",
            "nothing to measure: shorter follows shifts sooner, longer is steadier",
        ),
    Key::number("wind_frozen_s", "s", 30.0, 3600.0)
        .default(60.0)
        .about(
            "a wind sensor whose angle and speed have both been exactly the same for so long while \
             the boat moves is frozen",
            "watch the display in a steady wind: longer than it ever stands still",
        ),
    Key::number("way_on_mps", "m/s", 0.3, 5.0)
        .default(1.0)
        .about(
            "speed over ground from which the course may stand in for the heading",
            "1 m/s is 1.94 kn",
        ),
];

/// Settings of [`crate::vessel::Vessel`].
#[derive(Debug, Clone, PartialEq)]
pub struct VesselSettings {
    /// Which sources to believe, best first.
    pub order: SourceOrder,
    /// When each quantity is stale.
    pub stale: StaleTimes,
    /// A held value older than this (and than its stale time) is no longer believed, seconds.
    pub lost_s: f64,
    /// How long a better source must live before it takes over, seconds.
    pub settle_s: f64,
    /// Length of the wind record, seconds.
    pub wind_window_s: f64,
    /// A wind sensor whose angle and speed have both been exactly the same for so long while the
    /// boat moves is frozen, seconds.
    pub wind_frozen_s: f64,
    /// Speed over ground from which the course may stand in for the heading.
    pub way_on_mps: f64,
    /// Where the boat is while the network gives no position (for the variation).
    pub position: Option<Position>,
    /// Variation while neither network nor model gives one, positive east.
    pub variation_rad: Option<f64>,
}

/// Sources of each quantity, best first. Sources that no pattern names come last.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct SourceOrder {
    /// Apparent and worked-out wind.
    pub wind: Vec<SourcePattern>,
    /// Heading.
    pub heading: Vec<SourcePattern>,
    /// Speed through the water.
    pub speed_water: Vec<SourcePattern>,
    /// Speed and course over ground.
    pub speed_ground: Vec<SourcePattern>,
    /// Position.
    pub position: Vec<SourcePattern>,
    /// Rate of turn.
    pub rate_of_turn: Vec<SourcePattern>,
    /// Rudder.
    pub rudder: Vec<SourcePattern>,
    /// Magnetic variation.
    pub variation: Vec<SourcePattern>,
}

/// Ages, in seconds, beyond which a value is stale and another source is used.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StaleTimes {
    /// Wind.
    pub wind_s: f64,
    /// Heading.
    pub heading_s: f64,
    /// Speeds and course.
    pub speed_s: f64,
    /// Position.
    pub position_s: f64,
    /// Rate of turn.
    pub rate_of_turn_s: f64,
    /// Rudder.
    pub rudder_s: f64,
    /// Variation, which changes with the place only.
    pub variation_s: f64,
}

impl Default for StaleTimes {
    fn default() -> Self {
        const DEFAULT: StaleTimes = StaleTimes {
            wind_s: default_of(KEYS, "wind_stale_s"),
            heading_s: default_of(KEYS, "heading_stale_s"),
            speed_s: default_of(KEYS, "speed_stale_s"),
            position_s: default_of(KEYS, "position_stale_s"),
            rate_of_turn_s: default_of(KEYS, "rate_of_turn_stale_s"),
            rudder_s: default_of(KEYS, "rudder_stale_s"),
            variation_s: default_of(KEYS, "variation_stale_s"),
        };
        DEFAULT
    }
}

impl Default for VesselSettings {
    fn default() -> Self {
        Self {
            order: SourceOrder::default(),
            stale: StaleTimes::default(),
            lost_s: const { default_of(KEYS, "lost_s") },
            settle_s: const { default_of(KEYS, "settle_s") },
            wind_window_s: const { default_of(KEYS, "wind_window_s") },
            wind_frozen_s: const { default_of(KEYS, "wind_frozen_s") },
            way_on_mps: const { default_of(KEYS, "way_on_mps") },
            position: None,
            variation_rad: None,
        }
    }
}
