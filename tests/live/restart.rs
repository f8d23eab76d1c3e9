//! What the crew told outlives the program: killed, told to end, and started again.

use std::path::{Path, PathBuf};
use std::time::Instant;

use serde_json::{Value, json};

use crate::chain::free_udp;
use crate::learnt::{Instruments, get, post, skimwatch, told_to_end, until};
use crate::started::{Started, quick_boat};

/// The demo's rig with 60 and 75 m out by the settings, recording, at a free port.
fn settings(dir: &Path, feed: std::net::SocketAddr, more: &str) -> PathBuf {
    let path = dir.join("boat.toml");
    let feed = format!("kind = \"udp\"\nbind = \"{feed}\"");
    let lines = "[rig.out_at_start]\nkite_m = 60.0\nmain_m = 75.0\n";
    let text = quick_boat(&feed, &format!("{lines}\n{more}"));
    std::fs::write(&path, text).unwrap();
    path
}

fn recording(dir: &Path) -> String {
    format!("[record]\ndir = {dir:?}\n")
}

fn start(path: &Path) -> (Started, String) {
    let daemon = Started::unheard(&["run", "--settings", path.to_str().unwrap()]);
    let base = daemon.base.clone();
    (daemon, base)
}

/// Kills it as a crash would.
fn killed(mut daemon: Started) {
    daemon.child.kill().unwrap();
    daemon.child.wait().unwrap();
}

fn has_lines(state: &Value, kite_m: f64, main_m: f64) -> bool {
    state["deck"]["kite_line_out_m"] == json!(kite_m)
        && state["deck"]["main_line_out_m"] == json!(main_m)
}

async fn number(base: &str, path: &str, body: Value) -> u64 {
    post(base, path, body).await["sequence"].as_u64().unwrap()
}

fn unchecked(state: &Value) -> Option<&Value> {
    let advisories = state["advisories"].as_array().unwrap();
    advisories.iter().find(|a| a["kind"] == "lines-unchecked")
}

/// Tells everything that is to come back, and something that is taken back; returns the last number.
async fn everything_is_told(base: &str) -> u64 {
    post(
        base,
        "/v1/crew/lines-out",
        json!({"kite_line_out_m": 110, "main_line_out_m": 130}),
    )
    .await;
    post(base, "/v1/crew/moved", json!({"line": "main", "by_m": 2})).await;
    post(base, "/v1/crew/marker", json!({"in_water": false})).await;
    post(base, "/v1/crew/mark", json!({"name": "birds"})).await;
    post(base, "/v1/silence", json!({"minutes": 10})).await;
    let turn = json!({"by_deg": -40, "rate_deg_s": 2, "in_s": 600});
    post(base, "/v1/crew/turn", turn).await;
    let wrong = json!({"kite_line_out_m": 11, "main_line_out_m": 13});
    let sequence = number(base, "/v1/crew/lines-out", wrong).await;
    number(base, "/v1/crew/undo", json!({"sequence": sequence})).await
}

fn assert_is_back(state: &Value, told: &Value) {
    let (deck, was) = (&state["deck"], &told["deck"]);
    let restored = &deck["restored"];
    assert_eq!(restored["used"], true);
    assert_eq!(restored["grade"], "assumed");
    assert_eq!(restored["as_of"], was["lines_at"]);
    assert_eq!(deck["lines_at"], was["lines_at"]);
    assert!(restored["age_s"].as_f64().unwrap() > 0.0);
    assert_eq!(deck["marker_in_water"]["value"], false);
    assert_eq!(state["marks"][0]["name"], "birds");
    let place = |state: &Value| {
        state["marks"][0]["position"]["latitude_deg"]
            .as_f64()
            .unwrap()
    };
    assert!((place(state) - place(told)).abs() < 1e-6);
    assert_eq!(
        deck["intended_turn"]["starts_at"],
        was["intended_turn"]["starts_at"]
    );
    let silent = |state: &Value| {
        let until = state["silenced_until"].as_str().unwrap().to_owned();
        chrono::DateTime::parse_from_rfc3339(&until).unwrap()
    };
    // Minutes of silence are written with one decimal.
    assert!((silent(state) - silent(told)).num_milliseconds().abs() < 10);
}

/// The last recording replays to the revisions that this stream of advisories has shown.
fn assert_replays_alike(live: &str, recordings: &Path, settings: &Path) {
    let live: Vec<&str> = live
        .lines()
        .filter_map(|line| line.strip_prefix("data:").map(str::trim))
        .filter(|data| data.contains("\"revision\""))
        // A new reader begins with the list of what lives, here of the one.
        .map(|data| data.trim_start_matches('[').trim_end_matches("}]"))
        .map(|data| data.trim_end_matches('}'))
        .collect();
    let mut logs: Vec<_> = std::fs::read_dir(recordings)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "nmea"))
        .collect();
    logs.sort();
    let log = logs.last().unwrap().to_str().unwrap();
    let replayed = skimwatch(&["replay", log, "--settings", settings.to_str().unwrap()]);
    let replayed = String::from_utf8(replayed.stdout).unwrap();
    let replayed: Vec<&str> = replayed
        .lines()
        .filter(|line| !line.contains("\"summary\""))
        .map(|line| line.trim_end_matches('}'))
        .collect();
    assert!(live.len() >= 2, "{live:?}");
    assert_eq!(live, replayed);
}

#[tokio::test(flavor = "multi_thread")]
async fn what_the_crew_told_outlives_a_crash_and_a_stop_alike() {
    let dir = tempfile::tempdir().unwrap();
    let recordings = dir.path().join("recordings");
    let feed = free_udp();
    let path = settings(dir.path(), feed, &recording(&recordings));
    let (daemon, base) = start(&path);
    let instruments = Instruments::at(feed);
    until(&base, "a position", |state| {
        !state["vessel"]["position"].is_null()
    })
    .await;
    let last = everything_is_told(&base).await;
    let told = until(&base, "what was told", |state| {
        has_lines(state, 110.0, 132.0) && state["marks"].as_array().unwrap().len() == 1
    })
    .await;
    drop(instruments);
    killed(daemon);

    // After a crash.
    let started = Instant::now();
    let (daemon, base) = start(&path);
    let stream = reqwest::get(format!("{base}/v1/advisories/stream"))
        .await
        .unwrap();
    let heard = tokio::spawn(stream.text());
    let state = until(&base, "lines of before", |state| {
        has_lines(state, 110.0, 132.0)
    })
    .await;
    eprintln!(
        "lines of before are back {:?} after the start",
        started.elapsed()
    );
    assert_is_back(&state, &told);
    assert_eq!(state["journal"]["state"], "keeping");
    assert!(unchecked(&state).is_some(), "{}", state["advisories"]);
    let instruments = Instruments::at(feed);
    let spoke = Instant::now();
    let state = until(&base, "a forecast", |state| {
        !state["forecast"]["made_at"].is_null()
    })
    .await;
    eprintln!(
        "a forecast {:?} after the instruments spoke",
        spoke.elapsed()
    );
    let crew = get(&base, "/v1/forecast").await["forecast"]["crew"].clone();
    assert!(
        crew["note"].as_str().unwrap().contains("before a restart"),
        "{crew}"
    );
    let id = unchecked(&state).unwrap()["id"]
        .as_str()
        .unwrap()
        .to_owned();
    post(
        &base,
        &format!("/v1/advisories/{id}/acknowledge"),
        json!({}),
    )
    .await;
    until(&base, "it acknowledged", |state| {
        unchecked(state).unwrap()["state"] == "active-acknowledged"
    })
    .await;
    drop(instruments);
    told_to_end(daemon);

    // The recording of that run, by the settings that it began with.
    let live = heard.await.unwrap().unwrap();
    assert_replays_alike(&live, &recordings, &path);

    // After a stop.
    let (daemon, base) = start(&path);
    let state = until(&base, "lines of before", |state| {
        has_lines(state, 110.0, 132.0)
    })
    .await;
    assert_eq!(state["deck"]["restored"]["as_of"], told["deck"]["lines_at"]);
    assert_eq!(unchecked(&state).unwrap()["state"], "active-acknowledged");
    let right = json!({"kite_line_out_m": 110, "main_line_out_m": 132});
    let next = number(&base, "/v1/crew/lines-out", right).await;
    assert!(next > last, "{next} after {last}");
    until(&base, "confirmed lines", |state| {
        state["deck"]["restored"].is_null() && unchecked(state).is_none()
    })
    .await;
    killed(daemon);
}

#[tokio::test(flavor = "multi_thread")]
async fn lines_that_no_longer_count_are_shown_and_asked_for() {
    let dir = tempfile::tempdir().unwrap();
    let feed = free_udp();
    // Without recordings it is kept beside the settings.
    let path = settings(dir.path(), feed, "[restart]\nuse_within_min = 0\n");
    let (daemon, base) = start(&path);
    let state = until(&base, "the settings' lines", |state| {
        has_lines(state, 60.0, 75.0)
    })
    .await;
    let file = dir.path().join("boat.toml.deck");
    assert_eq!(state["journal"]["file"], file.to_str().unwrap());
    let out = json!({"kite_line_out_m": 110, "main_line_out_m": 132});
    post(&base, "/v1/crew/lines-out", out.clone()).await;
    post(&base, "/v1/crew/mark", json!({})).await;
    killed(daemon);
    // The end of the file as a power cut may leave it.
    let mut bytes = std::fs::read(&file).unwrap();
    bytes.extend_from_slice(b"\\s:crew,c:17");
    std::fs::write(&file, bytes).unwrap();

    let _instruments = Instruments::at(feed);
    let (daemon, base) = start(&path);
    let state = until(&base, "the lines asked for", |state| {
        !state["deck"]["restored"].is_null() && !state["vessel"]["true_wind"].is_null()
    })
    .await;
    let restored = &state["deck"]["restored"];
    assert_eq!(restored["used"], false);
    assert_eq!(restored["kite_line_out_m"], 110.0);
    assert_eq!(state["deck"]["kite_line_out_m"], Value::Null);
    assert_eq!(state["deck"]["main_line_out_m"], Value::Null);
    assert!(state["forecast"]["made_at"].is_null());
    assert_eq!(state["marks"].as_array().unwrap().len(), 1);
    assert_eq!(state["journal"]["skipped_lines"], 1);
    assert_eq!(restored["main_line_out_m"], 132.0);
    let asks = |a: &Value| a["kind"] == "rig-unset" && a["cause"].to_string().contains("restart");
    assert!(state["advisories"].as_array().unwrap().iter().any(asks));
    post(&base, "/v1/crew/lines-out", out).await;
    until(&base, "a forecast", |state| {
        state["deck"]["restored"].is_null() && !state["forecast"]["made_at"].is_null()
    })
    .await;
    killed(daemon);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_journal_that_cannot_be_written_is_told_and_posts_are_taken() {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("file"), "").unwrap();
    let in_the_way = dir.path().join("file").join("deck");
    let feed = free_udp();
    let path = settings(
        dir.path(),
        feed,
        &format!("[restart]\nfile = {in_the_way:?}\n"),
    );
    let (daemon, base) = start(&path);
    let out = json!({"kite_line_out_m": 110, "main_line_out_m": 132});
    post(&base, "/v1/crew/lines-out", out).await;
    let state = until(&base, "lines", |state| has_lines(state, 110.0, 132.0)).await;
    assert_eq!(state["journal"]["state"], "failing");
    let cause = state["journal"]["cause"].as_str().unwrap();
    assert!(cause.contains(in_the_way.to_str().unwrap()), "{cause}");
    killed(daemon);
}
