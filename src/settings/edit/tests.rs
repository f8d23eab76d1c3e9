use super::*;
use crate::settings::boat_keys::STRUCTURE_KEYS;
use crate::settings::shown::{Kept, SettingGrade};
use crate::settings::toml_text::KITE_PRESET;

const TYPICAL: &str = include_str!("../../../config/skimwatch.toml");
const DEMO: &str = include_str!("../../../config/demo.toml");

fn settings(text: &str) -> Settings {
    parse(text, "test.toml").unwrap()
}

fn change(key: &str, value: Option<&str>) -> SettingChange {
    SettingChange {
        key: key.to_owned(),
        value: value.map(str::to_owned),
    }
}

/// One change is refused with one complaint, about its key and with this word.
fn refused(before: &Settings, key: &str, value: Option<&str>, word: &str) {
    let said = before.changed(&[change(key, value)]).unwrap_err();
    let SettingsError::Wrong { complaints } = said else {
        panic!("{said}");
    };
    assert_eq!(complaints.len(), 1, "{complaints:?}");
    assert_eq!(complaints[0].key, key);
    assert!(
        complaints[0].problem.to_string().contains(word),
        "{complaints:?}"
    );
}

/// Lines of `after` that `before` does not have, and the other way round.
fn differences(before: &str, after: &str) -> (Vec<String>, Vec<String>) {
    let only = |a: &str, b: &str| -> Vec<String> {
        let b: Vec<_> = b.lines().collect();
        a.lines()
            .filter(|line| !b.contains(line))
            .map(str::to_owned)
            .collect()
    };
    (only(before, after), only(after, before))
}

#[test]
fn every_value_can_be_set_and_stands_where_it_was() {
    for text in [TYPICAL, DEMO] {
        let before = settings(text);
        for (name, _, key) in on_page() {
            let value = match key.allowed {
                Allowed::Words(words) => SettingValue::Word((*words.last().unwrap()).to_owned()),
                allowed => {
                    let [least, most] = allowed.range().unwrap();
                    SettingValue::Number((least + most) / 2.0)
                }
            };
            let wanted = setting_change(name.clone(), Some(value.clone()));
            let after = before.changed(&[wanted]).unwrap();
            let entry = after
                .set_up(Kept::Memory)
                .entries
                .into_iter()
                .find(|e| e.key == name)
                .unwrap();
            assert_eq!(entry.grade, SettingGrade::Own, "{name}");
            match (entry.value.unwrap(), value) {
                (SettingValue::Number(a), SettingValue::Number(b)) => {
                    assert!((a - b).abs() <= 1e-5 * b.abs(), "{name}: {a} {b}");
                }
                (a, b) => assert_eq!(a, b),
            }
            // Comments all stay, and at most one line goes.
            let (gone, new) = differences(text, &after.source.text);
            assert!(gone.len() <= 1, "{name}: {gone:?}");
            assert!(gone.iter().all(|line| !line.starts_with('#')), "{gone:?}");
            assert!((1..=3).contains(&new.len()), "{name}: {new:?}");
        }
    }
}

#[test]
fn what_is_taken_out_becomes_a_comment() {
    // A line that stands in the file only once.
    let typical = TYPICAL.replacen("\nrated_lbf = 80\n", "\nrated_lbf = 81\n", 1);
    let before = settings(&typical);
    let changes = [
        change("rig.kite_line.rated_lbf", None),
        change("rig.kite_line.diameter_mm", Some("0.55")),
        change("rig.kite_line.mass_g_per_m", Some("0.2")),
    ];
    let after = before.changed(&changes).unwrap();
    let (gone, new) = differences(&typical, &after.source.text);
    assert_eq!(gone, ["rated_lbf = 81"]);
    assert_eq!(
        new,
        [
            "diameter_mm = 0.55",
            "mass_g_per_m = 0.2",
            "# rated_lbf = 81"
        ]
    );
    assert_eq!(after.rig.parameters.kite_line.diameter_m, 0.55 / 1000.0);
    assert_eq!(after.rig.parameters.kite_line.strength_n, None);
    // What is not there is out already.
    let same = after.changed(&[change("rig.band_strength_n", None)]);
    assert_eq!(same.unwrap().source.text, after.source.text);
}

#[test]
fn a_kite_by_one_word_takes_numbers_too() {
    let text = DEMO.replace(
        "[rig.kite]\narea_m2 = 1.3\nmass_kg = 0.35\ncl = 0.75\ncd = 0.45\n",
        "",
    );
    let text = text.replace("[rig]\n", "[rig]\nkite = \"light\"\n");
    let before = settings(&text);
    let entries = before.set_up(Kept::Memory).entries;
    let preset = entries.iter().find(|e| e.key == KITE_PRESET).unwrap();
    assert_eq!(preset.value, Some(SettingValue::Word("light".to_owned())));
    let after = before
        .changed(&[change("rig.kite.area_m2", Some("1.5"))])
        .unwrap();
    assert_eq!(after.rig.parameters.kite.area_m2, 1.5);
    assert_eq!(after.rig.parameters.kite.cd, before.rig.parameters.kite.cd);
}

#[test]
fn complaints_name_the_key_and_nothing_is_changed() {
    let before = settings(DEMO);
    for (key, value, word) in [
        ("rig.kite.area_m2", Some("21"), "0.1 to 20"),
        ("rig.kite.area_m2", Some("NaN"), "0.1 to 20"),
        ("rig.kite.area_m2", None, "missing"),
        ("rig.marker.diameter_m", None, "missing"),
        ("boat.rod_tip_kite.aft_m", None, "cannot be put"),
        ("crew.length", Some("cubits"), "\"m\" or \"ft\""),
        ("serve.bind", Some("0.0.0.0:80"), "cannot be changed"),
        ("rig.kite.area_m2\"", Some("1"), "cannot be changed"),
    ] {
        refused(&before, key, value, word);
    }
}

#[test]
fn every_key_and_value_fits_the_crew_sentence() {
    let of_structures = STRUCTURE_KEYS
        .iter()
        .map(|key| (format!("boat.structure.20.{}", key.name), key));
    let keys = on_page().into_iter().map(|(name, _, key)| (name, key));
    for (name, key) in keys.chain(of_structures) {
        let values = match key.allowed {
            Allowed::Words(words) => words
                .iter()
                .map(|word| SettingValue::Word((*word).to_owned()))
                .collect(),
            // A name of 30 fits beside the number of any but the last structures.
            Allowed::Text(longest) => vec![SettingValue::Word("x".repeat(longest - 1))],
            allowed => {
                let [least, most] = allowed.range().unwrap();
                [0.0, 0.123_456_789, 0.987_654_321, 1.0]
                    .map(|part| SettingValue::Number(least + part * (most - least)))
                    .to_vec()
            }
        };
        for value in values {
            let change = setting_change(name.clone(), Some(value));
            assert!(setting_fits(&change), "{change:?}");
        }
    }
}

/// The changes of one structure under its number.
fn structure(number: usize, values: &[(&str, Option<&str>)]) -> Vec<SettingChange> {
    values
        .iter()
        .map(|(part, value)| change(&format!("boat.structure.{number}{part}"), *value))
        .collect()
}

#[test]
fn a_structure_is_added_changed_and_taken_out_with_every_comment_kept() {
    let before = settings(TYPICAL);
    assert_eq!(before.boat.structures.len(), 2);
    let tower = structure(
        3,
        &[
            (".clearance_m", Some("0.8")),
            (".from.aft_m", Some("-6")),
            (".from.height_m", Some("3")),
            (".from.starboard_m", Some("0")),
            (".name", Some("tower, \u{e9}t\u{e9}")),
        ],
    );
    let added = before.changed(&tower).unwrap();
    let (gone, new) = differences(TYPICAL, &added.source.text);
    assert!(gone.is_empty(), "{gone:?}");
    assert_eq!(
        new,
        [
            "name = \"tower, \u{e9}t\u{e9}\"",
            "clearance_m = 0.8",
            "from = { aft_m = -6.0, height_m = 3.0, starboard_m = 0.0 }"
        ]
    );
    let last = &added.boat.structures[2];
    assert_eq!(
        (last.from_m, last.to_m),
        ([-6.0, 0.0, 3.0], [-6.0, 0.0, 3.0])
    );
    // A point becomes a bar and is moved.
    let bar = structure(
        3,
        &[
            (".from.aft_m", Some("-6.5")),
            (".to.aft_m", Some("-6")),
            (".to.height_m", Some("7")),
            (".to.starboard_m", Some("0")),
        ],
    );
    let bar = added.changed(&bar).unwrap();
    assert_eq!(bar.boat.structures[2].from_m, [-6.5, 0.0, 3.0]);
    assert_eq!(bar.boat.structures[2].to_m, [-6.0, 0.0, 7.0]);
    let entries = bar.set_up(Kept::Memory);
    assert_eq!(entries.structures.len(), 3);
    assert_eq!(entries.next_structure.unwrap().key, "boat.structure.4");
    let point = bar.changed(&structure(3, &[(".to", None)])).unwrap();
    assert_eq!(point.boat.structures[2].to_m, [-6.5, 0.0, 3.0]);
    // The first goes; what stood there stays as comments and the others move up.
    let fewer = point.changed(&structure(1, &[("", None)])).unwrap();
    let names: Vec<_> = fewer.boat.structures.iter().map(|s| &s.name).collect();
    assert_eq!(names, ["starboard outrigger", "tower, \u{e9}t\u{e9}"]);
    let text = &fewer.source.text;
    for line in [
        "# [[boat.structure]]",
        "# name = \"port outrigger\"",
        "# to = { aft_m = -3.0, starboard_m = -6.5, height_m = 7.5 }",
    ] {
        assert!(text.lines().any(|l| l == line), "{line} is not in\n{text}");
    }
    // All of them go, and the first comes back.
    let none = fewer.changed(&structure(1, &[("", None)])).unwrap();
    let none = none.changed(&structure(1, &[("", None)])).unwrap();
    assert!(none.boat.structures.is_empty());
    let mut again = tower;
    for change in &mut again {
        change.key = change.key.replace(".3.", ".1.");
    }
    let again = none.changed(&again).unwrap();
    assert_eq!(again.boat.structures[0].name, "tower, \u{e9}t\u{e9}");
    assert!(again.source.text.contains("\n[[boat.structure]]\nname = "));
}

#[test]
fn a_structure_with_headers_of_its_own_or_dotted_keys_is_taken_out_whole() {
    let headers = "[[boat.structure]]\nname = \"mast\"\nto.aft_m = -4\nto.starboard_m = 0\nto.height_m = 9 # top\n[boat.structure.from]\naft_m = -4\nstarboard_m = 0\nheight_m = 1\n";
    let text = format!("{DEMO}\n{headers}");
    let before = settings(&text);
    let after = before.changed(&structure(3, &[("", None)])).unwrap();
    let (_, new) = differences(&text, &after.source.text);
    assert_eq!(after.boat.structures.len(), 2);
    let commented: Vec<_> = headers.lines().map(|line| format!("# {line}")).collect();
    assert_eq!(new, commented);
    assert!(
        after
            .source
            .text
            .contains("# [boat.structure.from]\n# aft_m = -4")
    );
}

#[test]
fn structures_in_braces_are_left_to_the_hand() {
    let cut = DEMO.split("[[boat.structure]]").next().unwrap();
    let rest = &DEMO[DEMO.find("[rig]").unwrap()..];
    let text = format!(
        "{cut}structure = [{{ name = \"mast\", from = {{ aft_m = -4, starboard_m = 0, height_m = 9 }} }}]\n{rest}"
    );
    let before = settings(&text);
    assert_eq!(before.boat.structures.len(), 1);
    let set_up = before.set_up(Kept::Memory);
    assert!(set_up.structures.is_empty() && set_up.next_structure.is_none());
    let said = before.changed(&structure(1, &[("", None)]));
    assert!(said.unwrap_err().to_string().contains("by hand"));
}

#[test]
fn complaints_about_structures_name_the_key() {
    let before = settings(DEMO);
    let long = "\u{e9}".repeat(10);
    for (key, value, word) in [
        ("boat.structure.1.name", Some(""), "1 to 30"),
        ("boat.structure.1.name", Some("  "), "1 to 30"),
        ("boat.structure.2.name", Some("port outrigger"), "twice"),
        ("boat.structure.1.name", Some(long.as_str()), "too long"),
        ("boat.structure.1.name", None, "missing"),
        ("boat.structure.1.clearance_m", Some("11"), "0.1 to 10"),
        ("boat.structure.1.from.aft_m", Some("-41"), "-40 to 10"),
        ("boat.structure.1.from.aft_m", None, "cannot be put"),
        ("boat.structure.1.to", Some("1"), "as one"),
        ("boat.structure.1", Some("1"), "as one"),
        ("boat.structure.4.name", Some("mast"), "2 structures"),
        ("boat.structure.3", None, "2 structures"),
        ("boat.structure.0", None, "cannot be changed"),
        ("boat.structure.01", None, "cannot be changed"),
        ("boat.structure.1.colour", Some("1"), "cannot be changed"),
        ("boat.structure", None, "cannot be changed"),
    ] {
        refused(&before, key, value, word);
    }
    // A new one that is not whole says what it lacks.
    let said = before.changed(&structure(3, &[(".from.aft_m", Some("-4"))]));
    let said = said.unwrap_err().to_string();
    for word in ["structure.3.name", "structure.3.from.height_m"] {
        assert!(said.contains(word), "{word} is not in {said}");
    }
    // The numbers of others would change under it.
    let mut two = structure(1, &[("", None)]);
    two.extend(structure(2, &[("", None)]));
    let said = before.changed(&two).unwrap_err().to_string();
    assert!(said.contains("one out at a time"), "{said}");
}

#[test]
fn no_more_structures_than_a_page_takes() {
    let mut now = settings(DEMO);
    for number in 3..=structures::MOST {
        let name = format!("part {number}");
        let one = structure(
            number,
            &[
                (".from.aft_m", Some("-9")),
                (".from.height_m", Some("3")),
                (".from.starboard_m", Some("1")),
                (".name", Some(name.as_str())),
            ],
        );
        now = now.changed(&one).unwrap();
    }
    assert_eq!(now.boat.structures.len(), structures::MOST);
    assert_eq!(now.set_up(Kept::Memory).next_structure, None);
    let one = structure(structures::MOST + 1, &[(".name", Some("more"))]);
    let said = now.changed(&one).unwrap_err().to_string();
    assert!(said.contains("one too many"), "{said}");
}
