//! Structures of the boat in the settings: what is read, and what is said of wrong ones.

use skimwatch::settings::parse;

use crate::settings::{GOOD, complaints};

/// The good text with structures of the boat.
fn with_structures(text: &str) -> String {
    GOOD.replacen("[[feed]]", &format!("{text}\n[[feed]]"), 1)
}

#[test]
fn structures_of_the_boat_are_bars_and_points() {
    let text = with_structures(
        r#"[[boat.structure]]
name = "port outrigger"
from = { aft_m = -4.0, starboard_m = -2.0, height_m = 2.5 }
to = { aft_m = -3.0, starboard_m = -7.0, height_m = 8.0 }
clearance_m = 1.5

[[boat.structure]]
name = "aerial"
from = { aft_m = -5.0, starboard_m = 0.0, height_m = 6.0 }
"#,
    );
    let settings = parse(&text, "boat.toml").unwrap();
    let [bar, point] = settings.boat.structures.as_slice() else {
        panic!("{:?}", settings.boat.structures)
    };
    assert_eq!(bar.to_m, [-3.0, -7.0, 8.0]);
    assert_eq!((bar.clearance_m, point.clearance_m), (1.5, 1.0));
    assert_eq!(point.from_m, point.to_m);
    assert!(settings.notes().iter().all(|n| !n.contains("structure")));
    let bare = parse(GOOD, "boat.toml").unwrap().notes();
    assert!(bare.iter().any(|n| n.contains("[[boat.structure]]")));
    assert!(bare.iter().any(|n| n.contains("band_strength_n")));
}

#[test]
fn wrong_structures_are_named_with_line_and_cure() {
    let text = with_structures(
        r#"[[boat.structure]]
name = "rail"
from = { aft_m = 0.3, starboard_m = 1.6, height_m = 2.3 }

[[boat.structure]]
name = "mast"
from = { aft_m = -5.0, starboard_m = 0.0, height_m = 2.0 }
clearance_m = 0.0

[[boat.structure]]
name = "mast"
from = { aft_m = -5.0, starboard_m = 40.0, height_m = 2.0 }

[[boat.structure]]
from = { aft_m = -5.0, starboard_m = 0.0 }
tall = true
"#,
    );
    let told: Vec<String> = complaints(&text).iter().map(ToString::to_string).collect();
    for expected in [
        "boat.structure.1.clearance_m",
        "must be below the 0.50 m to the tip of the kite rod (now 1)",
        "boat.structure.2.clearance_m = 0.0",
        "boat.structure.3.name = \"mast\"",
        "is used twice",
        "boat.structure.3.from.starboard_m",
        "boat.structure.4.name",
        "boat.structure.4.from.height_m",
        "boat.structure.4.tall",
    ] {
        assert!(
            told.iter().any(|t| t.contains(expected)),
            "{expected} not in {told:#?}"
        );
    }
}
