//! The key table of the settings held to what the reader does and to the file that ships.

use skimwatch::decode::SettingChange;
use skimwatch::key::{Allowed, Complaint, Fallback, Key, Problem};
use skimwatch::settings::{Settings, SettingsError, keys, parse, template};
use toml_edit::{DocumentMut, Item, Table, TableLike, Value};

use crate::settings::complaints;

/// The commented settings that ship.
const SHIPPED: &str = include_str!("../../config/skimwatch.toml");

/// What the shipped settings show only as examples. Invented.
const MORE: &str = r#"
[boat.position]
latitude_deg = 0.0
longitude_deg = 0.0

[[feed]]
name = "gateway"
kind = "tcp-client"
address = "192.0.2.7:10110"

[[feed]]
name = "day"
kind = "file"
path = "day.nmea"

[[feed]]
name = "log"
kind = "file"
path = "log.nmea"

[[rig.kite.trim]]
wind_mps = 6.0
cl = 0.8
cd = 0.45

[alerts]
udp = "192.0.2.255:10110"

[webhook]
address = "http://192.168.4.20/told"

[mqtt]
broker = "192.168.4.10"

[rig.out_at_start]
kite_m = 100.0
main_m = 145.0

[[locker.kite]]
name = "light wind"
preset = "light"

[[locker.kite.trim]]
wind_mps = 6.0
cl = 0.8
cd = 0.45

[[locker.kite_line]]
name = "80 lb"
clip_to_kite_m = 15.0
rated_lbf = 80

[[locker.main_line]]
name = "130 lb"
rated_lbf = 130

[[locker.marker]]
name = "small balloon"
above_bait_m = 7.0
diameter_m = 0.2

[[locker.bait]]
name = "large fish"
length_m = 0.4

[[locker.leader]]
name = "400 lb"
rated_lbf = 400
length_m = 1.5

[[locker.band]]
name = "thick band"
strength_n = 60.0

[[locker.reel]]
name = "big reel"
line = "main"
inner_mm = 45.0
outer_mm = 105.0
width_mm = 75.0
label_m = 700.0
label_mm = 0.8
"#;

fn whole_text() -> String {
    format!("{SHIPPED}{MORE}")
}

/// Which section of a list takes a key: which keys a feed has depends on its kind.
fn place_in_list(key: &str) -> usize {
    match key {
        "feed.bind" | "feed.groups" | "feed.interface" | "feed.share_port" => 1,
        "feed.address" => 2,
        "feed.path" => 3,
        _ => 0,
    }
}

/// The text with a value at a key, by its name in the table.
fn with(text: &str, key: &str, value: Value) -> String {
    let mut document: DocumentMut = text.parse().unwrap();
    let (path, last) = key.rsplit_once('.').unwrap();
    let mut table: &mut dyn TableLike = document.as_table_mut();
    for part in path.split('.') {
        let item = table
            .entry(part)
            .or_insert_with(|| Item::Table(Table::new()));
        table = match item {
            Item::ArrayOfTables(list) => list.get_mut(place_in_list(key)).unwrap(),
            item => item.as_table_like_mut().unwrap(),
        };
    }
    table.insert(last, Item::Value(value));
    document.to_string()
}

/// The number as TOML has it for this key; `None` where TOML cannot write it.
fn number(key: &Key, number: f64) -> Option<Value> {
    match key.allowed {
        Allowed::Whole(..) => (number.abs() < 2_f64.powi(63)).then(|| (number as i64).into()),
        _ => Some(number.into()),
    }
}

/// Values just outside of a range.
fn outside(key: &Key, [least, most]: [f64; 2]) -> [f64; 2] {
    match key.allowed {
        Allowed::Whole(..) => [least - 1.0, most + 1.0],
        _ => {
            let margin = 0.001 * (most - least);
            [least - margin, most + margin]
        }
    }
}

/// Whether a complaint is about one value that does not go with another.
fn is_about_two(complaint: &Complaint) -> bool {
    matches!(&complaint.problem, Problem::Other(words)
        if words.starts_with("must be below") || words.starts_with("must be at least twice"))
}

/// The rig model and the rooms have checks of their own behind the table: they take both ends.
#[test]
fn every_range_is_enforced_at_both_ends() {
    let text = whole_text();
    assert_eq!(complaints(&text), []);
    let mut checked = 0;
    for (name, key) in keys() {
        let Some(range) = key.allowed.range() else {
            continue;
        };
        checked += 1;
        for value in range.into_iter().filter_map(|end| number(key, end)) {
            let mut told = complaints(&with(&text, &name, value.clone()));
            told.retain(|complaint| !is_about_two(complaint));
            assert_eq!(told, [], "{name} = {value}");
        }
        let values = outside(key, range);
        for value in values.into_iter().filter_map(|value| number(key, value)) {
            let told = complaints(&with(&text, &name, value.clone()));
            let (_, last) = name.rsplit_once('.').unwrap();
            let negative = value.as_integer().is_some_and(|whole| whole < 0);
            assert!(
                told.iter().any(|complaint| {
                    complaint.key.ends_with(last)
                        && (negative || complaint.problem == Problem::NotAllowed(key.allowed))
                }),
                "{name} = {value}: {told:?}"
            );
        }
    }
    assert!(checked > 100, "{checked}");
}

fn changed(settings: &Settings, key: &str, value: &str) -> Result<Settings, Vec<Complaint>> {
    let change = SettingChange {
        key: key.to_owned(),
        value: Some(value.to_owned()),
    };
    settings.changed(&[change]).map_err(|error| match error {
        SettingsError::Wrong { complaints } => complaints,
        other @ SettingsError::Unreadable { .. } => panic!("{other}"),
    })
}

/// A key of a list is changed under the number of its section.
fn numbered(key: &str) -> String {
    match key.strip_prefix("boat.structure.") {
        Some(part) => format!("boat.structure.1.{part}"),
        None => key.to_owned(),
    }
}

#[test]
fn a_page_changes_what_the_table_says_within_the_same_ranges() {
    let settings = parse(SHIPPED, "boat.toml").unwrap();
    let not_allowed = |name: &str, key: &Key, value: &str| {
        let told = changed(&settings, name, value).expect_err(name);
        assert!(
            told.iter().any(|complaint| complaint.key == name
                && complaint.problem == Problem::NotAllowed(key.allowed)),
            "{name} = {value}: {told:?}"
        );
    };
    let mut on_page = 0;
    for (name, key) in keys() {
        let name = numbered(&name);
        if key.page.is_none() {
            let told = changed(&settings, &name, "1").expect_err(&name);
            assert!(told[0].problem.to_string().contains("cannot be changed"));
            continue;
        }
        on_page += 1;
        let good: Vec<String> = match (key.allowed, key.allowed.range()) {
            (_, Some(range)) => {
                for value in outside(key, range) {
                    not_allowed(&name, key, &value.to_string());
                }
                range.map(|end| end.to_string()).to_vec()
            }
            (Allowed::Words(words), None) => {
                not_allowed(&name, key, "invented");
                words.iter().map(ToString::to_string).collect()
            }
            (Allowed::Text(longest), None) => {
                not_allowed(&name, key, &"x".repeat(longest + 1));
                vec!["x".repeat(longest)]
            }
            (allowed, None) => panic!("no page changes {allowed:?}: {name}"),
        };
        for value in good {
            if let Err(mut told) = changed(&settings, &name, &value) {
                told.retain(|complaint| !is_about_two(complaint));
                assert_eq!(told, [], "{name} = {value}");
            }
        }
    }
    assert!(on_page > 40, "{on_page}");
}

#[test]
fn the_file_that_ships_is_the_one_of_the_table() {
    assert_eq!(
        SHIPPED.trim_end(),
        template().trim_end(),
        "run: skimwatch settings > config/skimwatch.toml"
    );
}

/// Without what the settings were read from, and without which values stand in for others.
fn bare(text: &str) -> Settings {
    let mut settings = parse(text, "boat.toml").unwrap_or_else(|error| panic!("{error}"));
    settings.source.text = "".into();
    settings.rig.assumed.clear();
    settings
}

/// What a comment shows as default is the default, and what it shows as an example is allowed.
#[test]
fn the_value_shown_for_every_key_is_its_default_or_a_good_example() {
    let text = whole_text();
    let before = bare(&text);
    for (name, key) in keys() {
        let default = match key.fallback {
            Fallback::Number(default) => number(key, default),
            Fallback::Word(default) => Some(default.into()),
            Fallback::Flag(default) => Some(default.into()),
            Fallback::Needed | Fallback::Nothing | Fallback::Estimate => None,
        };
        if let Some(default) = default {
            let told = format!("{name} = {default}");
            assert_eq!(bare(&with(&text, &name, default)), before, "{told}");
        }
        if !key.example.is_empty() {
            let example: Value = key.example.parse().unwrap();
            let text = match name.as_str() {
                // The two go together.
                "feed.interface" => {
                    let groups = Value::from_iter(["239.192.0.1"]);
                    with(&text, "feed.groups", groups)
                }
                _ => text.clone(),
            };
            assert_eq!(complaints(&with(&text, &name, example)), [], "{name}");
        }
    }
}
