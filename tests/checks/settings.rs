//! Settings files: what is read, and what is said of wrong ones.

use skimwatch::settings::{Complaint, SettingsError, parse};

/// A small invented boat.
const GOOD: &str = r#"[boat]
wind_sensor_height_m = 12
rod_tip_kite = { aft_m = 0.3, starboard_m = 1.6, height_m = 2.8 }
rod_tip_main = { aft_m = 0.3, starboard_m = -1.0, height_m = 2.4 }

[[feed]]
name = "masthead"
kind = "serial"
device = "/dev/serial/by-id/usb-invented"

[[feed]]
name = "bridge"
kind = "udp"
bind = "0.0.0.0:10110"
checksum = "if-present"

[sources]
wind = ["masthead:WIMWV", "*:MWV"]
wind_stale_s = 4
"#;

fn complaints(text: &str) -> Vec<Complaint> {
    match parse(text, "boat.toml") {
        Ok(_) => Vec::new(),
        Err(SettingsError::Wrong { complaints }) => complaints,
        Err(other) => panic!("{other}"),
    }
}

/// The good text with one piece replaced.
fn spoilt(from: &str, to: &str) -> Vec<String> {
    assert!(GOOD.contains(from), "{from}");
    complaints(&GOOD.replacen(from, to, 1))
        .iter()
        .map(Complaint::to_string)
        .collect()
}

#[test]
fn a_good_file_is_read() {
    let settings = parse(GOOD, "boat.toml").unwrap();
    assert_eq!(settings.feeds.len(), 2);
    assert_eq!(settings.vessel.stale.wind_s, 4.0);
    assert_eq!(settings.vessel.stale.heading_s, 3.0);
    assert_eq!(settings.vessel.order.wind[1].to_string(), "*:MWV");
}

#[test]
fn a_wrong_unit_is_converted_in_the_cure() {
    assert_eq!(
        spoilt("wind_sensor_height_m = 12", "wind_sensor_height_ft = 40"),
        [
            "boat.toml, line 2: boat.wind_sensor_height_ft: no such key; write wind_sensor_height_m = 12.192 (the unit is part of the key)"
        ]
    );
}

#[test]
fn an_unknown_key_gets_the_likely_one_or_the_list() {
    assert_eq!(
        spoilt("wind_stale_s = 4", "wind_stal_s = 4"),
        ["boat.toml, line 19: sources.wind_stal_s: no such key; did you mean wind_stale_s?"]
    );
    let said = spoilt("checksum = \"if-present\"", "colour = \"red\"");
    assert_eq!(
        said,
        [
            "boat.toml, line 15: feed.bridge.colour: no such key; allowed here: name, kind, groups, interface, share_port, bind, checksum, max_line_bytes"
        ]
    );
}

#[test]
fn absurd_values_and_wrong_types_name_range_and_cure() {
    assert_eq!(
        spoilt("wind_sensor_height_m = 12", "wind_sensor_height_m = 400"),
        [
            "boat.toml, line 2: boat.wind_sensor_height_m = 400: must be 1 to 60; measure from the water to the wind sensor"
        ]
    );
    for absurd in ["nan", "inf", "-1", "0"] {
        let text = format!("wind_sensor_height_m = {absurd}");
        assert_eq!(
            spoilt("wind_sensor_height_m = 12", &text).len(),
            1,
            "{absurd}"
        );
    }
    assert_eq!(
        spoilt(
            "wind_sensor_height_m = 12",
            "wind_sensor_height_m = \"12 m\""
        ),
        [
            "boat.toml, line 2: boat.wind_sensor_height_m = \"12 m\": is a text; write a number without quotes; its unit is in the key"
        ]
    );
}

#[test]
fn missing_values_say_where_to_find_them() {
    assert_eq!(
        spoilt("wind_sensor_height_m = 12\n", ""),
        [
            "boat.toml, line 1: boat.wind_sensor_height_m: is missing; give 1 to 60: measure from the water to the wind sensor"
        ]
    );
    assert_eq!(
        spoilt(", height_m = 2.8", ""),
        [
            "boat.toml, line 3: boat.rod_tip_kite.height_m: is missing; give 0.3 to 25: measure from the water"
        ]
    );
}

#[test]
fn feeds_that_cannot_live_together_are_told() {
    assert_eq!(
        spoilt("name = \"bridge\"", "name = \"masthead\""),
        [
            "boat.toml, line 12: feed.masthead.name = \"masthead\": name masthead is already that of feed \"masthead\"; give each feed its own"
        ]
    );
    let twice =
        format!("{GOOD}\n[[feed]]\nname = \"third\"\nkind = \"udp\"\nbind = \"127.0.0.1:10110\"\n");
    assert_eq!(
        complaints(&twice)[0].to_string(),
        "boat.toml, line 24: feed.third.bind = \"127.0.0.1:10110\": UDP port 10110 is already that of feed \"bridge\"; give each feed its own"
    );
    // A TCP port of the same number is another thing, and so is a shared one.
    assert!(
        complaints(&twice.replace(
            "\"third\"\nkind = \"udp\"",
            "\"third\"\nkind = \"tcp-server\""
        ))
        .is_empty()
    );
    assert!(complaints(&format!("{twice}share_port = true\n")).is_empty());
}

#[test]
fn a_feeds_own_rules_are_placed_on_its_lines() {
    assert_eq!(
        spoilt("kind = \"serial\"", "kind = \"serial\"\nbaud = 300"),
        ["boat.toml, line 9: feed.masthead.baud = 300: is out of range; allowed: 1200 to 921600"]
    );
    assert_eq!(
        spoilt("\"0.0.0.0:10110\"", "\"10110\""),
        [
            "boat.toml, line 14: feed.bridge.bind = \"10110\": cannot be read; write address:port, such as 0.0.0.0:10110"
        ]
    );
    assert!(spoilt("kind = \"serial\"", "kind = \"parallel\"")[0].ends_with(
        "write \"serial\" or \"tcp-client\" or \"tcp-server\" or \"udp\" or \"file\" or \"stdin\""
    ));
}

#[test]
fn a_source_must_be_a_feed() {
    assert_eq!(
        spoilt("\"masthead:WIMWV\"", "\"mast:WIMWV\""),
        [
            "boat.toml, line 18: sources.wind = \"mast:WIMWV\": cannot be read; no feed is named \"mast\"; feeds: masthead, bridge"
        ]
    );
}

#[test]
fn every_complaint_comes_at_once_by_line() {
    let text = GOOD
        .replace("height_m = 12", "height_m = 0")
        .replace("kind = \"udp\"", "kind = \"ubp\"")
        .replace("wind_stale_s = 4", "wind_stale_s = 4000");
    let lines: Vec<_> = complaints(&text).iter().map(|c| c.line).collect();
    assert_eq!(lines, [Some(2), Some(13), Some(19)]);
}

#[test]
fn what_is_not_toml_is_placed() {
    let said = spoilt("kind = \"serial\"", "kind = serial");
    assert!(
        said[0].starts_with("boat.toml, line 8: not TOML: "),
        "{said:?}"
    );
    assert!(!complaints("").is_empty());
}

#[test]
fn an_absent_file_is_named() {
    let path = std::path::Path::new("/nonexistent/skimwatch.toml");
    let said = skimwatch::settings::load(path).unwrap_err().to_string();
    assert!(said.starts_with("/nonexistent/skimwatch.toml: cannot read the settings"));
}

proptest::proptest! {
    /// Whatever is in the file, reading it ends in settings or complaints.
    #[test]
    fn no_text_panics(text in "\\PC{0,200}") {
        let _ = parse(&text, "x");
    }

    /// Values of every type in place of a good one.
    #[test]
    fn no_value_panics(at in 0usize..40, value in "[-0-9a-z\"\\[\\]{}=. ]{0,12}") {
        let lines: Vec<&str> = GOOD.lines().collect();
        let at = at % lines.len();
        let mut spoilt = lines.clone();
        let replaced = match lines[at].split_once('=') {
            Some((key, _)) => format!("{key}={value}"),
            None => value,
        };
        spoilt[at] = &replaced;
        if let Err(SettingsError::Wrong { complaints }) = parse(&spoilt.join("\n"), "x") {
            proptest::prop_assert!(!complaints.is_empty());
        }
    }
}
