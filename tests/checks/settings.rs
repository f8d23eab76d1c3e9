//! Settings files: what is read, and what is said of wrong ones.

use skimwatch::key::Complaint;
use skimwatch::settings::{SettingsError, parse};

/// A small invented boat.
pub const GOOD: &str = r#"[boat]
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

[rig]
kite = "medium"

[rig.kite_line]
clip_to_kite_m = 15
rated_lbf = 80

[rig.main_line]
diameter_mm = 0.8
mass_g_per_m = 0.45

[rig.marker]
above_bait_m = 7
diameter_m = 0.25

[rig.bait]
length_m = 0.3
"#;

/// The commented example that ships.
const EXAMPLE: &str = include_str!("../../config/skimwatch.toml");

pub fn complaints(text: &str) -> Vec<Complaint> {
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
            "boat.toml, line 15: feed.bridge.colour: no such key; allowed here: name, kind, groups, interface, share_port, bind, checksum, max_line_bytes, crew"
        ]
    );
}

#[test]
fn absurd_values_and_wrong_types_name_range_and_cure() {
    assert_eq!(
        spoilt("wind_sensor_height_m = 12", "wind_sensor_height_m = 400"),
        [
            "boat.toml, line 2: boat.wind_sensor_height_m = 400: must be 1 to 60; measure from the water to the wind sensor; the boat's papers give the height of the mast"
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
            "boat.toml, line 1: boat.wind_sensor_height_m: is missing; give 1 to 60: measure from the water to the wind sensor; the boat's papers give the height of the mast"
        ]
    );
    assert_eq!(
        spoilt(", height_m = 2.8", ""),
        [
            "boat.toml, line 3: boat.rod_tip_kite.height_m: is missing; give 0.3 to 25: from the water to the tip, boat loaded as you fish"
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
    let third = "[[feed]]\nname = \"third\"\nkind = \"udp\"\nbind = \"127.0.0.1:10110\"\n";
    let twice = GOOD.replacen("[sources]", &format!("{third}[sources]"), 1);
    assert_eq!(
        complaints(&twice)[0].to_string(),
        "boat.toml, line 20: feed.third.bind = \"127.0.0.1:10110\": UDP port 10110 is already that of feed \"bridge\"; give each feed its own"
    );
    // A TCP port of the same number is another thing, and so is a shared one.
    assert!(
        complaints(&twice.replace(
            "\"third\"\nkind = \"udp\"",
            "\"third\"\nkind = \"tcp-server\""
        ))
        .is_empty()
    );
    assert!(complaints(&twice.replacen("[sources]", "share_port = true\n[sources]", 1)).is_empty());
}

#[test]
fn a_feeds_own_rules_are_placed_on_its_lines() {
    assert_eq!(
        spoilt("kind = \"serial\"", "kind = \"serial\"\nbaud = 300"),
        [
            "boat.toml, line 9: feed.masthead.baud = 300: must be 1200 to 921600; it is in the talker's manual"
        ]
    );
    assert_eq!(
        spoilt("\"0.0.0.0:10110\"", "\"10110\""),
        [
            "boat.toml, line 14: feed.bridge.bind = \"10110\": must be address:port, such as 0.0.0.0:10110; 0.0.0.0 and the port to which the box sends; its set-up page tells it"
        ]
    );
    assert!(spoilt("kind = \"serial\"", "kind = \"parallel\"")[0].contains(
        "must be \"serial\" or \"tcp-client\" or \"tcp-server\" or \"udp\" or \"file\" or \"stdin\""
    ));
}

#[test]
fn only_a_feed_that_is_said_to_be_the_crews_is() {
    let settings = skimwatch::settings::parse(GOOD, "boat.toml").unwrap();
    assert!(settings.feeds.iter().all(|feed| !feed.crew));
    assert_eq!(settings.engine().unwrap().crew_feeds, [""; 0]);
    let crew = GOOD.replacen("kind = \"serial\"", "kind = \"serial\"\ncrew = true", 1);
    let engine = skimwatch::settings::parse(&crew, "boat.toml")
        .unwrap()
        .engine()
        .unwrap();
    assert_eq!(engine.crew_feeds, ["masthead"]);
    assert!(engine.is_crew("masthead") && engine.is_crew("crew"));
    assert!(!engine.is_crew("bridge"));
    assert_eq!(
        spoilt("name = \"bridge\"", "name = \"crew\""),
        [
            "boat.toml, line 12: feed.crew.name = \"crew\": is not free; give it any other name; `crew` stands for what the crew says on the pages, `skimwatch` for the daemon itself"
        ]
    );
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
fn a_missing_value_of_the_rig_says_how_to_give_it() {
    assert_eq!(
        spoilt("kite = \"medium\"\n", ""),
        [
            "boat.toml, line 21: rig.kite: is missing; write kite = \"light\", \"medium\" or \"strong\", or a section [rig.kite] with area_m2, mass_kg, cl, cd"
        ]
    );
    assert_eq!(
        spoilt("rated_lbf = 80", ""),
        [
            "boat.toml, line 24: rig.kite_line.diameter_mm: is missing; give it, or rated_lbf (the braid's rated strength in pounds) from which it is estimated",
            "boat.toml, line 24: rig.kite_line.mass_g_per_m: is missing; give it, or rated_lbf (the braid's rated strength in pounds) from which it is estimated"
        ]
    );
    assert_eq!(
        spoilt("[rig.bait]\nlength_m = 0.3\n", ""),
        ["boat.toml, line 21: rig.bait: is missing; add [rig.bait] with length_m"]
    );
}

#[test]
fn absurd_values_of_the_rig_are_placed() {
    assert_eq!(
        spoilt("length_m = 0.3", "length_m = 0.3\nmass_kg = 20"),
        ["boat.toml, line 38: rig.bait.mass_kg = 20: must be 0.02 to 5; kitchen scale"]
    );
    assert_eq!(
        spoilt(
            "kite = \"medium\"",
            "kite = \"medium\"\nair_density_kg_per_m3 = 1225"
        ),
        [
            "boat.toml, line 23: rig.air_density_kg_per_m3 = 1225: must be 0.9 to 1.5; from a table by temperature and pressure; warm air is thinner, 1.16 at 30 °C"
        ]
    );
    assert_eq!(
        spoilt("diameter_mm = 0.8", "diameter_m = 0.0008"),
        [
            "boat.toml, line 29: rig.main_line.diameter_m: no such key; write diameter_mm = 0.8 (the unit is part of the key)"
        ]
    );
    assert!(spoilt("kite = \"medium\"", "kite = \"huge\"")[0].contains("\"light\" or \"medium\""));
    assert!(spoilt("kite = \"medium\"", "kite = 5")[0].contains("is a whole number"));
}

#[test]
fn presets_are_told_as_assumed_and_own_numbers_are_not() {
    let settings = parse(GOOD, "boat.toml").unwrap();
    let rig = &settings.rig;
    assert_eq!(rig.parameters.kite.area_m2, 1.3);
    assert!(rig.assumed.contains(&"kite.cl".to_owned()));
    assert!(rig.assumed.contains(&"kite_line.diameter_mm".to_owned()));
    assert!(!rig.assumed.iter().any(|key| key.starts_with("main_line")));
    assert!((rig.parameters.main_line.diameter_m - 0.0008).abs() < 1e-12);
    assert_eq!(rig.out_at_start.kite_m, None);
    let own = GOOD.replacen(
        "[rig]\nkite = \"medium\"",
        "[rig.out_at_start]\nkite_m = 90\n[rig.kite]\npreset = \"medium\"\ncl = 0.8",
        1,
    );
    let rig = parse(&own, "boat.toml").unwrap().rig;
    assert_eq!(
        (rig.parameters.kite.cl, rig.parameters.kite.cd),
        (0.8, 0.45)
    );
    assert!(!rig.assumed.contains(&"kite.cl".to_owned()));
    assert_eq!(rig.out_at_start.kite_m, Some(90.0));
}

#[test]
fn the_examples_that_ship_are_good() {
    let settings = parse(EXAMPLE, "config/skimwatch.toml").unwrap();
    assert!(settings.record.is_some());
    // The directory that systemd/skimwatch.service gives the daemon.
    assert_eq!(
        settings.learnt_file.as_deref(),
        Some(std::path::Path::new("/var/lib/skimwatch/learnt.json"))
    );
    settings.needs_feeds("config/skimwatch.toml").unwrap();
    let demo = parse(include_str!("../../config/demo.toml"), "config/demo.toml").unwrap();
    assert!(demo.record.is_none() && demo.learnt_file.is_none());
    assert!(demo.notes().iter().any(|note| note.contains("learnt_file")));
    assert!(
        settings
            .notes()
            .iter()
            .all(|note| !note.contains("learnt_file"))
    );
    assert_eq!(
        demo.needs_feeds("config/demo.toml")
            .unwrap_err()
            .to_string(),
        "config/demo.toml: feed: is missing; add at least one [[feed]] with name and kind, so that the boat's instruments are heard"
    );
}

/// A recording's feeds are those that its lines name.
#[test]
fn without_feeds_any_feed_may_be_named() {
    let from = GOOD.find("[[feed]]").unwrap();
    let to = GOOD.find("[sources]").unwrap();
    let text = format!("{}{}", &GOOD[..from], &GOOD[to..]);
    let settings = parse(&text, "replay.toml").unwrap();
    assert!(settings.feeds.is_empty());
    assert_eq!(settings.vessel.order.wind.len(), 2);
}

#[test]
fn the_sections_of_turn_forecast_and_advice_are_those_rooms_own() {
    let with = |text: &str| {
        complaints(&format!("{GOOD}\n{text}"))
            .iter()
            .map(Complaint::to_string)
            .collect::<Vec<_>>()
    };
    let settings = parse(&format!("{GOOD}\n[turn]\nusual_turn_deg = 45\n"), "x").unwrap();
    assert_eq!(settings.turn.usual_turn_deg, 45.0);
    assert_eq!(settings.turn.usual_rate_deg_s, 3.0);
    assert_eq!(
        with("[turn]\nusual_turn_deg = 450\n"),
        [
            "boat.toml, line 40: turn.usual_turn_deg = 450: must be 10 to 180; read the heading before and after ten usual turns and take the middle one"
        ]
    );
    assert_eq!(
        with("[turn]\nstale_min = 1\n"),
        [
            "boat.toml, line 40: turn.stale_min: no such key; write stale_s = 60 (the unit is part of the key)"
        ]
    );
    let settings = parse(
        &format!("{GOOD}\n[forecast]\nfutures = 64\n[forecast.hands]\nreaction_s = 6\n"),
        "x",
    );
    let forecast = settings.unwrap().forecast;
    assert_eq!((forecast.futures, forecast.hands.reaction_s), (64, 6.0));
    assert_eq!(
        with("[forecast]\nfutures = 64.5\n[forecast.hands]\nreaction_s = 600\nreation_s = 1\n"),
        [
            "boat.toml, line 40: forecast.futures = 64.5: is a number; write a whole number, 0 or more",
            "boat.toml, line 42: forecast.hands.reaction_s = 600: must be 0 to 30; time it once",
            "boat.toml, line 43: forecast.hands.reation_s: no such key; did you mean reaction_s?",
        ]
    );
    assert!(
        with("[advice]\nraise_chance_planned = \"half\"\n")[0]
            .contains("advice.raise_chance_planned = \"half\": is a text")
    );
    assert!(
        with("[advice]\nalertness = \"eager\"\nclear_chance = 0.5\n")[0]
            .contains("line 41: advice.clear_chance = 0.5: must be below 0.4,")
    );
    assert_eq!(
        with("[advice]\nalertness = \"bold\"\n"),
        [
            "boat.toml, line 40: advice.alertness = \"bold\": must be \"calm\" or \"normal\" or \"eager\"; begin with normal; take calm if it speaks too often, eager if it speaks too seldom"
        ]
    );
}

#[test]
fn a_key_that_has_moved_is_refused_with_its_new_section() {
    let text = GOOD.replace("\n[rig]\n", "\n[rig]\nsignificant_wave_height_m = 0.5\n");
    assert_ne!(text, GOOD);
    let told: Vec<_> = complaints(&text).iter().map(ToString::to_string).collect();
    assert_eq!(told.len(), 1, "{told:?}");
    let cure = "write height_m in [forecast.sea] in place of significant_wave_height_m";
    assert!(told[0].ends_with(cure), "{told:?}");
}

#[test]
fn a_renamed_key_is_refused_with_its_new_name() {
    let text = format!("{GOOD}\n[forecast]\nmembers = 64\nbeliefs = 128\n");
    let told: Vec<_> = complaints(&text).iter().map(ToString::to_string).collect();
    assert_eq!(
        told,
        [
            "boat.toml, line 40: forecast.members: is called forecast.futures now; write futures in place of members",
            "boat.toml, line 41: forecast.beliefs: is called forecast.particles now; write particles in place of beliefs",
        ]
    );
}

#[test]
fn the_address_of_the_pages_is_checked() {
    let with = |text: &str| {
        complaints(&format!("{GOOD}\n{text}"))
            .iter()
            .map(Complaint::to_string)
            .collect::<Vec<_>>()
    };
    let served = parse(&format!("{GOOD}\n[serve]\nbind = \"0.0.0.0:80\"\n"), "x").unwrap();
    assert_eq!(served.serve.bind.port(), 80);
    assert_eq!(
        with("[serve]\nbind = \"8477\"\n"),
        [
            "boat.toml, line 40: serve.bind = \"8477\": must be address:port, such as 127.0.0.1:8477 for this computer alone or 0.0.0.0:8477 for the phones aboard; the log of the daemon lists this computer's addresses"
        ]
    );
    assert_eq!(
        with("[serve]\nheartbeat_s = 0\n"),
        [
            "boat.toml, line 40: serve.heartbeat_s = 0: must be 0.1 to 60; nothing to measure: shorter than the router waits on a quiet connection"
        ]
    );
    let text = GOOD.replacen("kind = \"udp\"", "kind = \"tcp-server\"", 1);
    assert_eq!(
        complaints(&format!("{text}\n[serve]\nbind = \"127.0.0.1:10110\"\n"))[0].to_string(),
        "boat.toml, line 40: serve.bind = \"127.0.0.1:10110\": TCP port 10110 is already that of feed \"bridge\"; give each its own"
    );
    assert_eq!(
        with("[crew]\nlength = \"yd\"\n"),
        [
            "boat.toml, line 40: crew.length = \"yd\": must be \"m\" or \"ft\"; as the marks on your lines are"
        ]
    );
}

#[test]
fn the_rig_is_listed_for_people_with_its_grades() {
    let rig = parse(GOOD, "boat.toml").unwrap().rig;
    let entries = rig.entries();
    let entry = |part: &str, key: &str| {
        entries
            .iter()
            .find(|e| e.part == part && e.key == key)
            .map(|e| (e.value.as_str(), e.grade))
    };
    use skimwatch::vessel::Grade;
    assert_eq!(entry("kite", "area_m2"), Some(("1.3", Grade::Assumed)));
    assert_eq!(
        entry("main line", "diameter_mm"),
        Some(("0.8", Grade::Measured))
    );
    assert_eq!(entry("main line", "strength_n"), None);
    // 80 lbf = 355.86 N (4.4482216 N/lbf, definition).
    assert_eq!(
        entry("kite line", "strength_n"),
        Some(("355.9", Grade::Assumed))
    );
}

#[test]
fn every_complaint_comes_at_once_by_line() {
    let text = GOOD
        .replace("height_m = 12", "height_m = 0")
        .replace("kind = \"udp\"", "kind = \"ubp\"")
        .replace("wind_stale_s = 4", "wind_stale_s = 4000");
    let lines: Vec<_> = complaints(&text).iter().map(Complaint::line).collect();
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

#[test]
fn other_devices_are_told_only_aboard_and_without_https() {
    let told = |section: &str| {
        let told = complaints(&format!("{GOOD}\n{section}\n"));
        told.iter().map(ToString::to_string).collect::<Vec<_>>()
    };
    for good in [
        "[webhook]\naddress = \"http://192.168.4.20:8080/a/b?c=d\"",
        "[webhook]\naddress = \"http://[fd00::7]/\"\nsecret_file = \"/x\"",
        "[mqtt]\nbroker = \"broker.local\"",
        "[mqtt]\nbroker = \"127.0.0.1:1884\"\nprefix = \"boat/a_b\"\nnumbers_s = 1",
    ] {
        assert_eq!(told(good), Vec::<String>::new(), "{good}");
    }
    // 203.0.113.7 is for documentation (RFC 5737).
    for (wrong, words) in [
        ("[webhook]", "webhook.address: is missing"),
        (
            "[webhook]\naddress = \"http://203.0.113.7/told\"",
            "203.0.113.7 is not on the boat's own network; give an address of the boat's",
        ),
        (
            "[webhook]\naddress = \"https://127.0.0.1/\"",
            "https is not spoken",
        ),
        (
            "[webhook]\naddress = \"127.0.0.1:80\"",
            "is not an http address",
        ),
        (
            "[webhook]\naddress = \"http://a b/\"",
            "must be an address such as http://",
        ),
        ("[mqtt]", "mqtt.broker: is missing"),
        (
            "[mqtt]\nbroker = \"203.0.113.7:1883\"",
            "is not on the boat's own network",
        ),
        (
            "[mqtt]\nbroker = \"mqtt://127.0.0.1\"",
            "must be a host with or without :port",
        ),
        ("[mqtt]\nbroker = \"a\"\nprefix = \"boat/#\"", "mqtt.prefix"),
    ] {
        let told = told(wrong);
        assert!(
            told.iter().any(|told| told.contains(words)),
            "{wrong}: {told:?}"
        );
    }
}

#[test]
fn own_files_of_tls_are_both_given() {
    use skimwatch::settings::Tls;
    let with = |serve: &str| format!("{GOOD}\n[serve]\n{serve}\n");
    let tls = |serve: &str| parse(&with(serve), "boat.toml").unwrap().serve.tls;
    assert_eq!(tls(""), Tls::Off);
    assert_eq!(tls("tls = \"local\""), Tls::Local);
    let files = "tls = \"files\"\ncertificate_file = \"/a\"\nkey_file = \"/b\"";
    let (certificate, key) = ("/a".into(), "/b".into());
    assert_eq!(tls(files), Tls::Files { certificate, key });
    let told = complaints(&with("tls = \"files\"\ncertificate_file = \"/a\""));
    assert_eq!(told.len(), 1);
    assert!(
        told[0].to_string().contains("serve.key_file: is missing"),
        "{}",
        told[0]
    );
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

#[test]
fn shares_of_strength_have_ranges() {
    let text = format!("{GOOD}\n[forecast]\noverload_share = 1.5\n[advice]\ndanger_chance = 0.0\n");
    let told: Vec<String> = complaints(&text).iter().map(ToString::to_string).collect();
    assert!(
        told.iter().any(|t| t.contains("forecast.overload_share")),
        "{told:?}"
    );
    assert!(
        told.iter().any(|t| t.contains("advice.danger_chance")),
        "{told:?}"
    );
}
