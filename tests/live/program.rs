//! The built program, as a user meets it at the terminal.

use std::io::Write as _;
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use skimwatch::feed::{FeedName, RawSentence};
use skimwatch::record::recorded_line;
use skimwatch::time::Millis;

use crate::started::Started;

pub fn skimwatch(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_skimwatch"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

fn stderr(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

fn stdout(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// The example settings with one change.
fn settings_with(dir: &Path, from: &str, to: &str) -> PathBuf {
    let example = Path::new(env!("CARGO_MANIFEST_DIR")).join("config/demo.toml");
    let text = std::fs::read_to_string(example).unwrap();
    assert!(
        text.contains(from),
        "config/demo.toml lost the line `{from}`"
    );
    let path = dir.join("settings.toml");
    std::fs::write(&path, text.replacen(from, to, 1)).unwrap();
    path
}

#[test]
fn every_command_has_help_with_an_example() {
    for command in [
        "demo", "run", "replay", "settings", "check", "doctor", "rig", "simulate", "score",
        "forget",
    ] {
        let output = skimwatch(&[command, "--help"]);
        assert!(output.status.success());
        assert!(stdout(&output).contains("Example"), "{command}");
    }
}

#[test]
fn shipped_settings_are_sound() {
    for settings in ["config/skimwatch.toml", "config/demo.toml"] {
        let output = skimwatch(&["check", "--settings", settings, "--listen", "0"]);
        assert!(output.status.success(), "{settings}: {}", stderr(&output));
    }
}

#[test]
fn the_settings_that_it_prints_are_the_ones_that_ship() {
    let output = skimwatch(&["settings"]);
    assert!(output.status.success());
    assert_eq!(
        stdout(&output),
        include_str!("../../config/skimwatch.toml"),
        "run: skimwatch settings > config/skimwatch.toml"
    );
}

#[test]
fn wrong_settings_name_file_line_key_and_cure() {
    let dir = tempfile::tempdir().unwrap();
    let path = settings_with(dir.path(), "[boat]", "[boat]\nmast_color = \"red\"");
    let output = skimwatch(&["check", "--settings", path.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(78));
    let words = stderr(&output);
    assert!(words.contains("settings.toml, line "), "{words}");
    assert!(words.contains("mast_color"), "{words}");
}

#[test]
fn a_missing_settings_file_is_named() {
    let output = skimwatch(&["run", "--settings", "no/such/file.toml"]);
    assert_eq!(output.status.code(), Some(78));
    assert!(stderr(&output).contains("no/such/file.toml"));
}

#[test]
fn a_port_in_use_is_named_with_the_cure() {
    let taken = TcpListener::bind("127.0.0.1:0").unwrap();
    let bind = taken.local_addr().unwrap().to_string();
    let shown = [
        "replay",
        "fixtures/turn-toward.nmea",
        "--settings",
        "config/demo.toml",
        "--serve",
        "--bind",
        &bind,
    ];
    for command in [&["demo", "--bind", &bind][..], &shown] {
        let output = skimwatch(command);
        assert_eq!(output.status.code(), Some(69));
        let words = stderr(&output);
        assert!(
            words.contains(&bind) && words.contains("another port with --bind"),
            "{words}"
        );
    }
    // A daemon is told where its settings say it.
    let dir = tempfile::tempdir().unwrap();
    let serve = format!("[serve]\nbind = {bind:?}\n\n[boat]");
    let path = settings_with(dir.path(), "[boat]", &serve);
    let mut text = std::fs::read_to_string(&path).unwrap();
    text.push_str("\n[[feed]]\nname = \"pipe\"\nkind = \"stdin\"\n");
    std::fs::write(&path, text).unwrap();
    let output = skimwatch(&["run", "--settings", path.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(69));
    let words = stderr(&output);
    assert!(words.contains("another port with [serve] bind"), "{words}");
}

#[test]
fn ctrl_c_ends_the_demo_and_does_not_say_that_its_log_has_ended() {
    let mut demo = Started::new(&["demo", "--bind", "127.0.0.1:0"]);
    let said = demo.said();
    let pid = demo.child.id().to_string();
    let interrupted = Command::new("kill").args(["-INT", &pid]).status().unwrap();
    assert!(interrupted.success());
    let rest: Vec<_> = said.map(Result::unwrap).collect();
    assert!(demo.child.wait().unwrap().success());
    assert!(
        rest.iter().any(|line| line.contains("stopping")),
        "{rest:?}"
    );
    assert!(!rest.iter().any(|line| line.contains("ended")), "{rest:?}");
}

#[test]
fn an_absent_device_is_named() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("settings.toml");
    let example = Path::new(env!("CARGO_MANIFEST_DIR")).join("config/demo.toml");
    let mut file = std::fs::File::create(&path).unwrap();
    file.write_all(&std::fs::read(example).unwrap()).unwrap();
    file.write_all(
        b"\n[[feed]]\nname = \"mast\"\nkind = \"serial\"\ndevice = \"/dev/no-such-adapter\"\nbaud = 4800\n",
    )
    .unwrap();
    let output = skimwatch(&[
        "check",
        "--listen",
        "1",
        "--settings",
        path.to_str().unwrap(),
    ]);
    assert_eq!(output.status.code(), Some(69), "{}", stderr(&output));
    assert!(stdout(&output).contains("/dev/no-such-adapter"));
    assert!(stderr(&output).contains("mast"));
}

#[test]
fn recordings_that_cannot_be_written_are_named() {
    let dir = tempfile::tempdir().unwrap();
    let recordings = dir.path().join("recordings");
    let record = format!("[record]\ndir = {recordings:?}\n\n[boat]");
    let path = settings_with(dir.path(), "[boat]", &record);
    let check = |listen: &str| {
        skimwatch(&[
            "check",
            "--settings",
            path.to_str().unwrap(),
            "--listen",
            listen,
        ])
    };
    let output = check("0.1");
    assert!(output.status.success(), "{}", stderr(&output));
    assert!(stdout(&output).contains("recordings can be written"));
    assert!(!recordings.exists());
    std::fs::write(&recordings, "a file in the way").unwrap();
    let output = check("0.1");
    assert_eq!(output.status.code(), Some(69));
    let words = stderr(&output);
    assert!(words.contains("recordings cannot be written"), "{words}");
    // The settings alone are sound.
    assert!(check("0").status.success());
}

#[test]
fn a_logbook_that_cannot_be_written_is_named() {
    let dir = tempfile::tempdir().unwrap();
    let book = dir.path().join("day.sqlite");
    let logbook = format!("[logbook]\nfile = {book:?}\n\n[boat]");
    let path = settings_with(dir.path(), "[boat]", &logbook);
    let check = || {
        skimwatch(&[
            "check",
            "--settings",
            path.to_str().unwrap(),
            "--listen",
            "0.1",
        ])
    };
    let output = check();
    assert!(output.status.success(), "{}", stderr(&output));
    let words = stdout(&output);
    assert!(words.contains("day.sqlite can be written"), "{words}");
    assert!(words.contains("MiB are free"), "{words}");
    assert!(!book.exists());
    std::fs::write(&book, "somebody's notes, long enough to be no empty file").unwrap();
    let output = check();
    assert_eq!(output.status.code(), Some(69));
    let words = stderr(&output);
    assert!(words.contains("the logbook cannot be written"), "{words}");
    assert!(words.contains("day.sqlite"), "{words}");
}

#[test]
fn a_log_that_is_not_there_is_named() {
    let output = skimwatch(&["replay", "nowhere.nmea", "--settings", "config/demo.toml"]);
    assert_eq!(output.status.code(), Some(69));
    assert!(stderr(&output).contains("nowhere.nmea"));
}

/// Lines of a recording, one a second.
fn recording(path: &Path, from_s: u64, lines: u64) {
    let feed = FeedName::new("masthead").unwrap();
    let wind = RawSentence::own("$WIMWV,214.8,R,0.1,K,A*28".to_owned());
    let text: String = (0..lines)
        .map(|second| {
            let at = Millis(1_780_300_800_000).plus_seconds((from_s + second) as f64);
            recorded_line(at, feed.as_str(), &wind)
        })
        .collect();
    std::fs::write(path, text).unwrap();
}

#[test]
fn a_log_without_a_sentence_is_named_with_the_cure() {
    let dir = tempfile::tempdir().unwrap();
    let path = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    let (good, empty, binary) = (path("good.nmea"), path("empty.nmea"), path("binary.nmea"));
    recording(Path::new(&good), 0, 5);
    std::fs::write(&empty, "").unwrap();
    std::fs::write(&binary, [0_u8, 255, 7, b'$', b'\n'].repeat(100)).unwrap();
    for logs in [vec![&empty], vec![&binary], vec![&good, &empty]] {
        let mut words = vec!["replay", "--settings", "config/demo.toml"];
        words.extend(logs.iter().map(|log| log.as_str()));
        let output = skimwatch(&words);
        assert_eq!(output.status.code(), Some(65), "{logs:?}");
        let said = stderr(&output);
        assert!(said.contains(logs.last().unwrap().as_str()), "{said}");
        assert!(said.contains("no NMEA 0183 sentence"), "{said}");
        assert!(said.contains("give a recording"), "{said}");
        // What could be read is told all the same.
        assert!(stdout(&output).contains("\"summary\":true"));
    }
    let scored = skimwatch(&["score", &empty, "--settings", "config/demo.toml"]);
    assert_eq!(scored.status.code(), Some(65));
    let shown = skimwatch(&[
        "replay",
        &empty,
        "--settings",
        "config/demo.toml",
        "--serve",
        "--bind",
        "127.0.0.1:0",
    ]);
    assert_eq!(shown.status.code(), Some(65), "{}", stderr(&shown));
}

#[test]
fn logs_out_of_order_are_refused_by_name_and_one_file_is_played_in_parts() {
    let dir = tempfile::tempdir().unwrap();
    let path = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    let (early, late, both) = (path("early.nmea"), path("late.nmea"), path("both.nmea"));
    recording(Path::new(&early), 0, 30);
    recording(Path::new(&late), 600, 30);
    let replay =
        |logs: &[&str]| skimwatch(&[&["replay", "--settings", "config/demo.toml"], logs].concat());
    assert!(replay(&[&early, &late]).status.success());
    for logs in [[&*late, &*early], [&*early, &*early]] {
        let output = replay(&logs);
        assert_eq!(output.status.code(), Some(65), "{logs:?}");
        let said = stderr(&output);
        assert!(
            said.contains(logs[1]) && said.contains("order of time"),
            "{said}"
        );
    }
    // Within one file only its lines can tell.
    let turned = [
        std::fs::read_to_string(&late).unwrap(),
        std::fs::read_to_string(&early).unwrap(),
    ];
    std::fs::write(&both, turned.concat()).unwrap();
    // A replay goes on with another part, and says so; a score needs one line of time.
    let output = replay(&[&both]);
    assert!(output.status.success(), "{}", stderr(&output));
    assert!(stderr(&output).contains("go back"), "{}", stderr(&output));
    let words = stdout(&output);
    let summary: serde_json::Value = serde_json::from_str(words.lines().last().unwrap()).unwrap();
    let parts = summary["parts"].as_array().unwrap();
    assert_eq!(parts.len(), 2, "{parts:?}");
    assert!(
        parts[0]["from"].as_str() > parts[1]["to"].as_str(),
        "{parts:?}"
    );
    let scored = skimwatch(&["score", &both, "--settings", "config/demo.toml"]);
    assert_eq!(scored.status.code(), Some(65));
    let said = stderr(&scored);
    assert!(said.contains(&both) && said.contains("go back"), "{said}");
}

/// Linux refuses to read a process's memory at address 0, though it opens: a disk that fails.
#[cfg(target_os = "linux")]
#[test]
fn a_log_that_cannot_be_read_on_is_an_error() {
    let dir = tempfile::tempdir().unwrap();
    let good = dir.path().join("good.nmea");
    recording(&good, 0, 5);
    let output = skimwatch(&[
        "replay",
        good.to_str().unwrap(),
        "/proc/self/mem",
        "--settings",
        "config/demo.toml",
    ]);
    assert_eq!(output.status.code(), Some(69));
    let said = stderr(&output);
    assert!(said.contains("/proc/self/mem: reading stopped"), "{said}");
}

#[test]
fn a_bad_scenario_names_key_and_range() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("bad.json");
    std::fs::write(&path, r#"{"kite": {"area_m2": -1.0}}"#).unwrap();
    let output = skimwatch(&["simulate", path.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(65));
    assert!(stderr(&output).contains("area_m2"), "{}", stderr(&output));
}

#[test]
fn a_scenario_without_an_answer_is_a_failure_that_still_prints() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("calm.json");
    // Invented: no kite flies in this wind.
    std::fs::write(
        &path,
        r#"{"wind": {"speed_10m_mps": 0.5}, "boat": {"speed_through_water_mps": 0.5}}"#,
    )
    .unwrap();
    let nmea = dir.path().join("calm.nmea");
    let output = skimwatch(&[
        "simulate",
        path.to_str().unwrap(),
        "--nmea",
        nmea.to_str().unwrap(),
    ]);
    assert_eq!(output.status.code(), Some(65));
    assert!(stdout(&output).contains("\"ok\": false"));
    let words = stderr(&output);
    assert!(
        words.contains("calm.json") && words.contains("too little wind"),
        "{words}"
    );
    assert!(!nmea.exists());
}

#[test]
fn a_scenario_of_no_duration_has_an_end_and_its_one_row() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("now.json");
    std::fs::write(&path, r#"{"duration_s": 0}"#).unwrap();
    let output = skimwatch(&["simulate", path.to_str().unwrap()]);
    assert!(output.status.success(), "{}", stderr(&output));
    let told: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(told["end_reason"], "duration");
    assert_eq!(told["series"].as_array().unwrap().len(), 1);
    assert_eq!(told["series"][0]["t_s"], 0.0);
    assert_eq!(told["final"]["t_s"], 0.0);
    assert!(told["events"].is_object());
    let at_start = |value: &serde_json::Value| value["kite_elevation_deg"].as_f64().unwrap();
    let difference = at_start(&told["series"][0]) - at_start(&told["steady"]);
    assert!(difference.abs() < 1e-6, "{difference}");
}

#[test]
fn a_pass_without_a_mark_says_what_is_missing() {
    let pass = |more: &[&str]| {
        let always = [
            "pass",
            "fixtures/sensor-silent.nmea",
            "--settings",
            "config/demo.toml",
        ];
        skimwatch(&[&always[..], more].concat())
    };
    let mark = ["--bearing", "40", "--range", "400"];
    let late = [&mark[..], &["--after", "5000"]].concat();
    for (more, status, cure) in [
        (&[][..], 65, "give --bearing and --range"),
        (&late[..], 65, "before --after 5000 s; give less"),
        (
            &["--bearing", "-40", "--range", "400"][..],
            2,
            "0 to 360 degrees",
        ),
    ] {
        let output = pass(more);
        assert_eq!(output.status.code(), Some(status), "{more:?}");
        assert!(
            stderr(&output).contains(cure),
            "{more:?}: {}",
            stderr(&output)
        );
    }
}

#[test]
fn options_out_of_range_are_told_before_anything_is_printed() {
    for (option, value) in [
        ("--rate-hz", "50"),
        ("--gust-percent", "90"),
        ("--gust-deg", "NaN"),
        ("--announce-s", "601"),
    ] {
        let scenario = "fixtures/turn-toward.json";
        let output = skimwatch(&["simulate", scenario, "--nmea", "never.nmea", option, value]);
        assert_eq!(output.status.code(), Some(65), "{option}");
        assert!(output.stdout.is_empty(), "{option}");
        assert!(stderr(&output).contains(option), "{}", stderr(&output));
    }
    assert!(
        !Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("never.nmea")
            .exists()
    );
}

#[test]
fn replaying_twice_gives_the_same_bytes() {
    let dir = tempfile::tempdir().unwrap();
    let scenario = dir.path().join("turn.json");
    // Invented: beam wind, a turn toward it.
    std::fs::write(
        &scenario,
        r#"{"wind": {"speed_10m_mps": 8.0, "from_deg_true": 90.0},
            "boat": {"turn": {"start_s": 30.0, "by_deg": 45.0, "rate_deg_s": 3.0}},
            "duration_s": 70.0}"#,
    )
    .unwrap();
    let log = dir.path().join("turn.nmea");
    let log = log.to_str().unwrap();
    let made = skimwatch(&[
        "simulate",
        scenario.to_str().unwrap(),
        "--nmea",
        log,
        "--seed",
        "3",
    ]);
    assert!(made.status.success(), "{}", stderr(&made));
    let truth = std::fs::read_to_string(format!("{log}.truth.json")).unwrap();
    assert!(truth.contains("immersion"));

    let first = skimwatch(&["replay", log, "--settings", "config/demo.toml"]);
    let second = skimwatch(&["replay", log, "--settings", "config/demo.toml"]);
    assert!(first.status.success(), "{}", stderr(&first));
    assert_eq!(first.stdout, second.stdout);
    let words = stdout(&first);
    assert!(words.contains("\"kind\":\"bait-airborne\""), "{words}");
    assert!(words.lines().last().unwrap().contains("\"summary\":true"));
}

#[test]
fn forget_and_a_replay_leave_a_file_of_something_else_alone() {
    let dir = tempfile::tempdir().unwrap();
    let kept = dir.path().join("learnt.json");
    let key = format!(
        "[forecast]\nlearnt_file = {:?}\n\n[rig]",
        kept.to_str().unwrap()
    );
    let settings = settings_with(dir.path(), "[rig]", &key);
    let settings = settings.to_str().unwrap();
    // Something that no forecast could recall: had the replay read it, it would have said so.
    std::fs::write(&kept, "of another program").unwrap();
    let log = dir.path().join("short.nmea");
    let text = std::fs::read_to_string(
        Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/turn-toward.nmea"),
    )
    .unwrap();
    let short: Vec<&str> = text.lines().take(60).collect();
    std::fs::write(&log, short.join("\r\n")).unwrap();
    let log = log.to_str().unwrap();
    let with = skimwatch(&["replay", log, "--settings", settings]);
    let without = skimwatch(&["replay", log, "--settings", "config/demo.toml"]);
    assert!(with.status.success(), "{}", stderr(&with));
    assert_eq!(with.stdout, without.stdout);
    assert_eq!(
        std::fs::read_to_string(&kept).unwrap(),
        "of another program"
    );

    // Asked for, a wrong or absent one is refused.
    for file in [kept.to_str().unwrap(), "no/such.json"] {
        let output = skimwatch(&["replay", log, "--settings", settings, "--learnt", file]);
        assert_eq!(output.status.code(), Some(65), "{}", stderr(&output));
        assert!(stderr(&output).contains(file), "{}", stderr(&output));
    }

    let refused = skimwatch(&["forget", "--settings", settings]);
    assert_eq!(refused.status.code(), Some(65), "{}", stderr(&refused));
    assert!(stderr(&refused).contains("move it away"));
    assert_eq!(
        std::fs::read_to_string(&kept).unwrap(),
        "of another program"
    );
    std::fs::remove_file(&kept).unwrap();
    let nothing = skimwatch(&["forget", "--settings", settings]);
    assert!(nothing.status.success(), "{}", stderr(&nothing));
    assert!(stdout(&nothing).contains("nothing was learnt yet"));
    let nowhere = skimwatch(&["forget", "--settings", "config/demo.toml"]);
    assert!(stdout(&nowhere).contains("learnt_file is not set"));
}
