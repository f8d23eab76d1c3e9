//! Keys of `[locker]` and the lists in it: what is aboard besides the rig that flies.

use super::rig_keys::{BAIT, KITE, KITE_LINE, MAIN_LINE, MARKER, TRIM};
use crate::key::{Fallback, Key, Section, words_of};
use crate::locker::{HOOKED_DRAG_LBF, ReelOf, STRIKE_DRAG_LBF};

/// `[locker]` and the lists in it.
pub(super) const LOCKER: [Section; 10] = [
    Section::new(
        "locker",
        "The locker: what is aboard besides [rig], for the check of today's rig",
        "`skimwatch rig` and the rig page say which kite and tackle suit the wind. What flies is set \
         in [rig]; each part below has the keys of its like there, and a name.",
        OWN,
    ),
    list("locker.kite", KITE_KEYS),
    list("locker.kite.trim", TRIM_KEYS),
    list("locker.kite_line", KITE_LINE_KEYS),
    list("locker.main_line", MAIN_LINE_KEYS),
    list("locker.marker", MARKER_KEYS),
    list("locker.bait", BAIT_KEYS),
    list("locker.leader", LEADER),
    list("locker.band", BAND),
    list("locker.reel", REEL),
];

const fn list(name: &'static str, keys: &'static [Key]) -> Section {
    Section::new(name, "", "", keys).list("").as_comment()
}

/// Longest name of a part, in characters.
const NAME_MAX: usize = 30;

const fn name(example: &'static str) -> Key {
    Key::text("name", NAME_MAX)
        .about(
            "what the crew calls it; no two parts of a kind alike",
            "your own word; the check of the rig uses it",
        )
        .example(example)
}

/// A name, then the keys of a section of the rig.
const fn named<const N: usize>(example: &'static str, of_rig: &[Key]) -> [Key; N] {
    assert!(N == of_rig.len() + 1, "one more key than in the rig");
    let mut keys = [name(example); N];
    let mut index = 0;
    while index < of_rig.len() {
        keys[index + 1] = of_rig[index].of_list();
        index += 1;
    }
    keys
}

const KITE_KEYS: &[Key] = &named::<{ KITE.len() + 1 }>("\"light wind\"", KITE);
const KITE_LINE_KEYS: &[Key] = &named::<{ KITE_LINE.len() + 1 }>("\"80 lb\"", KITE_LINE);
const MAIN_LINE_KEYS: &[Key] = &named::<{ MAIN_LINE.len() + 1 }>("\"130 lb\"", MAIN_LINE);
const MARKER_KEYS: &[Key] = &named::<{ MARKER.len() + 1 }>("\"small balloon\"", MARKER);
const BAIT_KEYS: &[Key] = &named::<{ BAIT.len() + 1 }>("\"large fish\"", BAIT);
const TRIM_KEYS: &[Key] = TRIM;

/// `[locker]` itself.
pub(super) const OWN: &[Key] = &[
    Key::number("strike_drag_lbf", "lbf", 1.0, 100.0)
        .default(STRIKE_DRAG_LBF)
        .about(
            "drag of the main reel at the strike; common practice is 22 to 24",
            "spring scale on the line, lever at strike",
        ),
    Key::number("hooked_drag_lbf", "lbf", 1.0, 100.0)
        .default(HOOKED_DRAG_LBF)
        .about(
            "drag of the main reel once a fish is hooked; common practice is about 32",
            "spring scale on the line, lever where you fight the fish",
        ),
    Key::number("drag_share", "", 0.1, 0.6).default(0.3).about(
        "greatest drag as a share of the breaking strength of main line and leader; common \
         practice is 0.25 to 0.3",
        "nothing to measure: less for old line or poor knots",
    ),
    Key::number("run_m", "m", 0.0, 2000.0).default(300.0).about(
        "main line kept on the reel for a fish that runs (the default is invented)",
        "longest run of the fish that you are after, by your own log",
    ),
    Key::number("ring_inner_mm", "mm", 1.0, 60.0)
        .or(Fallback::Nothing)
        .about("inner diameter of the ring", "calliper")
        .example("14.0"),
    Key::number("swivel_mm", "mm", 1.0, 60.0)
        .or(Fallback::Nothing)
        .about("greatest width of the swivel", "calliper")
        .example("8.0"),
    Key::number("nose_weight_g", "g", 0.0, 500.0)
        .or(Fallback::Nothing)
        .about(
            "weight that keeps the bait's nose down; common practice is 85 g",
            "letter scale",
        )
        .example("85.0"),
];

const LEADER: &[Key] = &[
    name("\"400 lb\""),
    Key::number("rated_lbf", "lbf", 20.0, 1000.0)
        .about(
            "breaking strength on its label; the first leader is the one in use",
            "read it off the spool",
        )
        .example("400"),
    Key::number("length_m", "m", 0.2, 10.0)
        .about(
            "from swivel to hook; common practice is about 1.5 m",
            "measure along the line",
        )
        .example("1.5"),
];

const BAND: &[Key] = &[
    name("\"thick band\""),
    Key::number("strength_n", "N", 1.0, 2000.0)
        .about(
            "load at which it lets go",
            "pull it with a spring scale until it gives, three times; take the least and mind your \
             eyes (1 kg is 9.81 N)",
        )
        .example("60.0"),
];

/// What a reel holds.
pub(super) const REEL_OF: [(&str, ReelOf); 2] = [("kite", ReelOf::Kite), ("main", ReelOf::Main)];
const REEL_WORDS: &[&str] = &words_of(&REEL_OF);

const REEL: &[Key] = &[
    name("\"big reel\""),
    Key::words("line", REEL_WORDS)
        .about(
            "the line it holds; the first reel of each is the one in use",
            "\"kite\" or \"main\", as it is spooled",
        )
        .example("\"main\""),
    Key::number("inner_mm", "mm", 5.0, 300.0)
        .or(Fallback::Nothing)
        .about("diameter of the bare spool", "calliper")
        .example("45.0"),
    Key::number("outer_mm", "mm", 10.0, 400.0)
        .or(Fallback::Nothing)
        .about("diameter up to which it is filled with line", "calliper")
        .example("105.0"),
    Key::number("width_mm", "mm", 5.0, 300.0)
        .or(Fallback::Nothing)
        .about("width of the spool between its flanges", "calliper")
        .example("75.0"),
    Key::number("label_m", "m", 10.0, 5000.0)
        .or(Fallback::Nothing)
        .about(
            "line that it holds by its label, where the three sizes are not given; goes with \
             label_mm",
            "a yard is 0.914 m",
        )
        .example("700.0"),
    Key::number("label_mm", "mm", 0.1, 5.0)
        .or(Fallback::Nothing)
        .about(
            "diameter of the line that its label speaks of",
            "read it off the reel or its paper",
        )
        .example("0.8"),
];
