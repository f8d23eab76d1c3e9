//! The built daemon and its logbook: equal to one made anew from the recording, whole after a kill,
//! and said to fail where it cannot be written.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use rusqlite::types::Value as Cell;
use rusqlite::{Connection, OpenFlags};
use serde_json::{Value, json};

use crate::PATIENCE;
use crate::chain::free_udp;
use crate::learnt::{Instruments, get, post, skimwatch, told_to_end, until};
use crate::recorder::with_small_files;
use crate::started::{Started, quick_boat};

fn settings(dir: &Path, feed: std::net::SocketAddr, logbook: &Path) -> PathBuf {
    let path = dir.join("boat.toml");
    let recordings = dir.join("recordings");
    let text = quick_boat(
        &format!("kind = \"udp\"\nbind = \"{feed}\""),
        &format!("[record]\ndir = {recordings:?}\n\n[logbook]\nfile = {logbook:?}\n"),
    );
    std::fs::write(&path, text).unwrap();
    path
}

fn start(settings: &Path) -> Started {
    Started::unheard(&["run", "--settings", settings.to_str().unwrap()])
}

fn open(path: &Path) -> Connection {
    Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY).unwrap()
}

const TABLES: [&str; 14] = [
    "sessions",
    "settings",
    "settings_in_force",
    "entries",
    "line_moves",
    "reports",
    "bites",
    "states",
    "spans",
    "advisories",
    "advisory_revisions",
    "chances",
    "learnt",
    "mark_changes",
];

/// All rows of a table, by its columns in order.
fn dump(connection: &Connection, table: &str) -> Vec<String> {
    let mut statement = connection
        .prepare(&format!("SELECT * FROM {table}"))
        .unwrap();
    let columns = statement.column_count();
    let rows = statement
        .query_map([], |row| {
            let cells: Result<Vec<Cell>, _> = (0..columns).map(|i| row.get(i)).collect();
            Ok(format!("{:?}", cells?))
        })
        .unwrap();
    let mut rows: Vec<String> = rows.map(Result::unwrap).collect();
    rows.sort();
    rows
}

#[tokio::test(flavor = "multi_thread")]
async fn one_made_anew_from_the_recording_is_equal() {
    let dir = tempfile::tempdir().unwrap();
    let feed = free_udp();
    let book = dir.path().join("day.sqlite");
    let path = settings(dir.path(), feed, &book);
    let daemon = start(&path);
    let base = daemon.base.clone();
    let instruments = Instruments::at(feed);
    let out = json!({"kite_line_out_m": 90, "main_line_out_m": 171});
    post(&base, "/v1/crew/lines-out", out.clone()).await;
    until(&base, "a forecast", |state| {
        !state["forecast"]["made_at"].is_null()
    })
    .await;
    assert_eq!(get(&base, "/v1/state").await["logbook"]["state"], "keeping");
    post(&base, "/v1/crew/bait", json!({"state": "airborne"})).await;
    post(&base, "/v1/crew/moved", json!({"line": "main", "by_m": 4})).await;
    let wrong = post(&base, "/v1/crew/moved", json!({"line": "kite", "by_m": 9})).await;
    post(
        &base,
        "/v1/crew/undo",
        json!({"sequence": wrong["sequence"]}),
    )
    .await;
    post(
        &base,
        "/v1/crew/turn",
        json!({"by_deg": 60, "rate_deg_s": 4, "in_s": 9}),
    )
    .await;
    post(&base, "/v1/crew/mark", json!({"name": "birds"})).await;
    until_marks(&base, 1).await;
    post(&base, "/v1/crew/mark/1/name", json!({"name": "gulls"})).await;
    let drift = json!({"set_deg_true": 90, "drift_mps": 0.4});
    post(&base, "/v1/crew/mark/1/drift", drift).await;
    post(&base, "/v1/crew/mark", json!({"name": "slick"})).await;
    until_marks(&base, 2).await;
    let gone = reqwest::Client::new()
        .delete(format!("{base}/v1/crew/mark/2"))
        .send()
        .await
        .unwrap();
    assert_eq!(gone.status().as_u16(), 202);
    let changed = reqwest::Client::new()
        .put(format!("{base}/v1/settings"))
        .json(&json!({"rig.kite.area_m2": 1.4}))
        .send()
        .await
        .unwrap();
    assert_eq!(changed.status().as_u16(), 200);
    // Longer than a run of chances and a span may be.
    let since = Instant::now();
    until(&base, "some time", |_| {
        since.elapsed() > Duration::from_secs(20)
    })
    .await;
    post(&base, "/v1/crew/bite", json!({})).await;
    until(&base, "a strike", |state| !state["strike"].is_null()).await;
    post(&base, "/v1/crew/strike", json!({"said": "landed"})).await;
    until(&base, "its end", |state| {
        !state["strike"]["ended"].is_null()
    })
    .await;
    let days = until_days(&base).await;
    let day = days[0]["day"].as_str().unwrap();
    let answer = get(&base, &format!("/v1/days/{day}")).await;
    assert_eq!(answer["figures"]["day"], day);
    assert_eq!(answer["figures"]["bites"][0]["result"], "landed");
    // The answered move is one, the other was taken back.
    assert_eq!(answer["figures"]["corrections"]["main"], 1);
    assert_eq!(answer["figures"]["corrections"]["kite"], 0);
    assert_eq!(answer["timeline"]["taps"][0]["bait"], "airborne");
    assert!(!answer["timeline"]["track"].as_array().unwrap().is_empty());
    // The kite of the settings, by its area; what the one report taught of it.
    let kite = &answer["figures"]["kites"][0];
    assert!(
        kite["kite"]["name"].is_null() && kite["kite"]["area_m2"].is_f64(),
        "{kite}"
    );
    assert_eq!(kite["reports"], 1);
    let sums = get(&base, "/v1/days/sums").await;
    assert_eq!(
        (&sums["days"], &sums["counted_days"]),
        (&json!(1), &json!(1))
    );
    assert_eq!(sums["sums"][0]["by"], "all");
    assert_eq!(sums["sums"][0]["bites"], 1);
    let marks = &answer["timeline"]["marks"];
    assert_eq!(marks[0]["last"]["name"], "gulls");
    assert!((marks[0]["last"]["set_deg_true"].as_f64().unwrap() - 90.0).abs() < 0.1);
    assert!(marks[0]["last"]["latitude_deg"].is_number() && marks[0]["to"].is_null());
    assert_eq!(marks[1]["last"]["name"], "slick");
    assert!(!marks[1]["to"].is_null());
    let events: Vec<_> = answer["timeline"]["mark_changes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|change| change["event"].as_str().unwrap())
        .collect();
    assert_eq!(events, ["made", "named", "drifts", "made", "removed"]);
    for (day, status) in [("2001-01-01", 404), ("yesterday", 400)] {
        for path in [day.to_owned(), format!("{day}/export?format=gpx")] {
            let answer = reqwest::get(format!("{base}/v1/days/{path}"))
                .await
                .unwrap();
            assert_eq!(answer.status().as_u16(), status, "{path}");
        }
    }
    exported(&base, day).await;
    drop(instruments);
    told_to_end(daemon);

    // By the settings that it began with.
    let began = dir.path().join("boat.toml.previous");
    let mut logs: Vec<_> = std::fs::read_dir(dir.path().join("recordings"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "nmea"))
        .collect();
    logs.sort();
    let anew = dir.path().join("anew.sqlite");
    let mut arguments = vec!["replay"];
    arguments.extend(logs.iter().map(|log| log.to_str().unwrap()));
    arguments.extend(["--settings", began.to_str().unwrap()]);
    arguments.extend(["--logbook", anew.to_str().unwrap()]);
    let replayed = skimwatch(&arguments);
    assert!(replayed.status.success(), "{replayed:?}");
    let (live, anew) = (open(&book), open(&anew));
    for table in TABLES {
        let rows = dump(&live, table);
        assert_eq!(rows, dump(&anew, table), "{table}");
        eprintln!("{table}: {} rows", rows.len());
        assert!(!rows.is_empty(), "{table} holds nothing to compare");
    }
    for table in ["instrument_troubles", "passes"] {
        assert_eq!(dump(&live, table), dump(&anew, table), "{table}");
    }
    let settings: i64 = live
        .query_row("SELECT count(*) FROM settings_in_force", [], |row| {
            row.get(0)
        })
        .unwrap();
    assert_eq!(settings, 2, "at the start and when they were changed");
}

/// The day in every format, and what is refused.
async fn exported(base: &str, day: &str) {
    let ask = async |query: &str| {
        let path = format!("{base}/v1/days/{day}/export?{query}");
        reqwest::get(path).await.unwrap()
    };
    for (query, kind, name, holds) in [
        (
            "format=gpx",
            "application/gpx+xml",
            "gpx",
            "<name>gulls</name>",
        ),
        ("", "application/geo+json", "geojson", "\"gulls\""),
        (
            "format=csv&table=bites",
            "text/csv; charset=utf-8",
            "csv",
            "landed",
        ),
        (
            "format=csv&table=mark_changes",
            "text/csv; charset=utf-8",
            "csv",
            "gulls",
        ),
        (
            "format=parquet&table=bites",
            "application/vnd.apache.parquet",
            "parquet",
            "landed",
        ),
    ] {
        let answer = ask(query).await;
        assert_eq!(answer.status().as_u16(), 200, "{query}");
        assert_eq!(answer.headers()["content-type"], kind, "{query}");
        let file = answer.headers()["content-disposition"].to_str().unwrap();
        assert!(
            file.contains(day) && file.ends_with(&format!(".{name}\"")),
            "{file}"
        );
        let bytes = answer.bytes().await.unwrap();
        let text = String::from_utf8_lossy(&bytes);
        assert!(text.contains(holds), "{query}");
    }
    // Names of marks go with their positions.
    for query in [
        "positions=none",
        "positions=coarse",
        "format=csv&table=mark_changes&positions=none",
    ] {
        let text = ask(query).await.text().await.unwrap();
        assert!(
            text.contains("removed") || text.contains("\"mark\""),
            "{query}: {text}"
        );
        assert!(!text.contains("gulls"), "{query}");
    }
    for (query, status) in [
        ("format=gpx&positions=none", 422),
        ("format=csv", 422),
        ("format=csv&table=letters", 422),
        ("format=gpx&table=bites", 422),
        ("format=pdf", 400),
        ("shape=round", 400),
    ] {
        let answer = ask(query).await;
        assert_eq!(answer.status().as_u16(), status, "{query}");
        let kind = &answer.headers()["content-type"];
        assert_eq!(kind, "application/problem+json", "{query}");
    }
}

/// Waits until so many marks are shown.
async fn until_marks(base: &str, count: usize) {
    let end = Instant::now() + PATIENCE;
    loop {
        let marks = get(base, "/v1/marks").await;
        if marks.as_array().unwrap().len() == count {
            return;
        }
        assert!(Instant::now() < end, "{marks}");
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
}

/// The days, once today tells of a bite that has ended.
async fn until_days(base: &str) -> Value {
    let end = Instant::now() + PATIENCE;
    loop {
        let days = get(base, "/v1/days").await;
        if days[0]["bites"] == 1 {
            return days;
        }
        assert!(Instant::now() < end, "{days}");
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
}

/// A phone that says one thing after the other until the daemon is gone; the numbers of what was
/// answered to be on the disk, with the word that its sentence has.
async fn talk(base: String, answered: Arc<Mutex<Vec<(i64, &'static str)>>>) {
    let client = reqwest::Client::new();
    let things = [
        ("/v1/crew/bite", json!({}), "BITE"),
        (
            "/v1/crew/moved",
            json!({"line": "main", "by_m": 2}),
            "MOVED",
        ),
        ("/v1/crew/mark", json!({"name": "birds"}), "MARK"),
        ("/v1/crew/bait", json!({"state": "skipping"}), "BAIT"),
        ("/v1/crew/elevation", json!({"elevation_deg": 40}), "ELEV"),
        ("/v1/crew/strike", json!({"said": "landed"}), "STRIKE"),
    ];
    for (path, body, word) in things.iter().cycle() {
        let sent = client.post(format!("{base}{path}")).json(body).send().await;
        let Ok(answer) = sent else { return };
        match answer.status().as_u16() {
            202 => {
                let Ok(answer) = answer.json::<Value>().await else {
                    return;
                };
                if answer["kept"] == "disk" {
                    let sequence = answer["sequence"].as_i64().unwrap();
                    answered.lock().unwrap().push((sequence, *word));
                }
            }
            429 => tokio::time::sleep(Duration::from_millis(100)).await,
            _ => {}
        }
    }
}

/// Kills: `LOGBOOK_KILLS=200 cargo test --test live no_acknowledged_word` for the long run.
#[tokio::test(flavor = "multi_thread")]
async fn no_acknowledged_word_is_lost_by_a_kill() {
    let kills: usize = std::env::var("LOGBOOK_KILLS").map_or(8, |text| text.parse().unwrap());
    let dir = tempfile::tempdir().unwrap();
    let book = dir.path().join("day.sqlite");
    let path = settings(dir.path(), free_udp(), &book);
    let mut told = 0;
    for round in 0..kills {
        let mut daemon = start(&path);
        let answered = Arc::new(Mutex::new(Vec::new()));
        let talking: Vec<_> = (0..3)
            .map(|_| tokio::spawn(talk(daemon.base.clone(), Arc::clone(&answered))))
            .collect();
        // Another moment each time, within and after the first burst.
        let enough = 3 + (round * 7) % 40;
        let end = Instant::now() + PATIENCE;
        while answered.lock().unwrap().len() < enough {
            assert!(Instant::now() < end, "no answers in round {round}");
            tokio::time::sleep(Duration::from_millis(1)).await;
        }
        daemon.child.kill().unwrap();
        daemon.child.wait().unwrap();
        for phone in talking {
            phone.await.unwrap();
        }
        // The first to open it after a crash carries its changes over, as the daemon does.
        let connection = Connection::open(&book).unwrap();
        let whole: String = connection
            .query_row("PRAGMA integrity_check", [], |row| row.get(0))
            .unwrap();
        assert_eq!(whole, "ok", "round {round}");
        let answered = std::mem::take(&mut *answered.lock().unwrap());
        told += answered.len();
        let (mut marks, mut bites) = (0, Vec::new());
        for (sequence, word) in answered {
            let entries: i64 = connection
                .query_row(
                    "SELECT count(*) FROM entries WHERE sequence = ?1 AND word = ?2
                        AND session_id = (SELECT max(id) FROM sessions)",
                    rusqlite::params![sequence, word],
                    |row| row.get(0),
                )
                .unwrap();
            assert_eq!(entries, 1, "round {round}: {word} {sequence}");
            let table = match word {
                "MOVED" => "line_moves",
                "MARK" => {
                    marks += 1;
                    continue;
                }
                "BITE" => {
                    bites.push(sequence);
                    continue;
                }
                "STRIKE" => continue,
                _ => "reports",
            };
            let rows: i64 = connection
                .query_row(
                    &format!(
                        "SELECT count(*) FROM {table} JOIN entries ON entries.id = entry_id
                            WHERE sequence = ?1 AND session_id = (SELECT max(id) FROM sessions)"
                    ),
                    [sequence],
                    |row| row.get(0),
                )
                .unwrap();
            assert_eq!(rows, 1, "round {round}: {word} {sequence} in {table}");
        }
        let count = |sql: &str| -> i64 {
            let count = connection.query_row(sql, [], |row| row.get(0));
            count.unwrap()
        };
        let made = count(
            "SELECT count(*) FROM mark_changes WHERE event = 'made'
                AND session_id = (SELECT max(id) FROM sessions)",
        );
        // More than answered, where the kill came before the answer.
        assert!(made >= marks, "round {round}: {made} of {marks} marks");
        for sequence in bites {
            // Of two thumbs the first counts: then its bite had not ended.
            let bitten = count(&format!(
                "SELECT count(*) FROM entries e JOIN bites b
                    ON b.entry_id = e.id OR b.at_ms <= e.at_ms
                        AND (b.result_at_ms IS NULL OR b.result_at_ms >= e.at_ms)
                    WHERE e.sequence = {sequence}
                        AND e.session_id = (SELECT max(id) FROM sessions)"
            ));
            assert!(bitten > 0, "round {round}: bite {sequence}");
        }
    }
    eprintln!("{told} words answered to be on the disk in {kills} rounds");
    assert!(told >= 10 * kills, "{told}");
}

async fn until_logbook(base: &str, state: &str) -> Value {
    until(base, &format!("a logbook {state}"), |now| {
        now["logbook"]["state"] == state
    })
    .await["logbook"]
        .clone()
}

#[tokio::test(flavor = "multi_thread")]
async fn what_cannot_be_written_waits_and_is_said_to() {
    let dir = tempfile::tempdir().unwrap();
    let in_the_way = dir.path().join("way");
    std::fs::write(&in_the_way, "").unwrap();
    let book = in_the_way.join("day.sqlite");
    let path = settings(dir.path(), free_udp(), &book);
    let daemon = start(&path);
    let base = daemon.base.clone();
    let now = until_logbook(&base, "failing").await;
    let cause = now["cause"].as_str().unwrap();
    assert!(cause.contains(in_the_way.to_str().unwrap()), "{cause}");
    assert!(cause.contains("[logbook]"), "{cause}");
    let answer = post(&base, "/v1/crew/mark", json!({"name": "while failing"})).await;
    assert_eq!(answer["kept"], "memory");
    // Advice goes on: pictures keep coming.
    let at = get(&base, "/v1/state").await["at"].clone();
    until(&base, "another picture", |state| state["at"] != at).await;
    std::fs::remove_file(&in_the_way).unwrap();
    let now = until_logbook(&base, "keeping").await;
    assert!(now["cause"].is_null() && now["waiting_rows"] == 0, "{now}");
    let answer = post(&base, "/v1/crew/mark", json!({"name": "after"})).await;
    assert_eq!(answer["kept"], "disk");
    let words: i64 = open(&book)
        .query_row(
            "SELECT count(*) FROM entries WHERE word = 'MARK'",
            [],
            |row| row.get(0),
        )
        .unwrap();
    assert_eq!(words, 2);
    // Somebody takes the file away: it is begun anew, and goes on with the session.
    for ending in ["", "-wal", "-shm"] {
        let _ = std::fs::remove_file(format!("{}{ending}", book.display()));
    }
    let answer = post(&base, "/v1/crew/mark", json!({"name": "anew"})).await;
    assert_eq!(answer["kept"], "disk");
    let (sessions, words): (i64, i64) = open(&book)
        .query_row(
            "SELECT (SELECT count(*) FROM sessions), (SELECT count(*) FROM entries)",
            [],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
        .unwrap();
    assert_eq!((sessions, words), (1, 1));
    drop(daemon);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_disk_that_takes_no_more_neither_ends_the_program_nor_goes_unsaid() {
    let dir = tempfile::tempdir().unwrap();
    let book = dir.path().join("day.sqlite");
    let path = settings(dir.path(), free_udp(), &book);
    // Blocks of 512 or 1024 bytes: room for the empty tables at most.
    let daemon = with_small_files(160, &["run", "--settings", path.to_str().unwrap()]);
    let base = daemon.base.clone();
    let end = Instant::now() + PATIENCE;
    let client = reqwest::Client::new();
    loop {
        let state = get(&base, "/v1/state").await;
        if state["logbook"]["state"] == "failing" {
            break;
        }
        assert!(Instant::now() < end, "never full: {}", state["logbook"]);
        let mark = client.post(format!("{base}/v1/crew/mark"));
        let _ = mark.json(&json!({"name": "x"})).send().await.unwrap();
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    let answer = loop {
        let mark = client.post(format!("{base}/v1/crew/mark"));
        let answer = mark.json(&json!({"name": "told"})).send().await.unwrap();
        if answer.status().as_u16() == 202 {
            break answer.json::<Value>().await.unwrap();
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    };
    assert_eq!(answer["kept"], "memory");
    let at = get(&base, "/v1/state").await["at"].clone();
    until(&base, "another picture", |state| state["at"] != at).await;
    told_to_end(daemon);
}

/// The program on a small disk of its own, mounted with these options; `None` where that is not allowed.
fn on_a_small_disk(disk: &Path, options: &str, arguments: &[&str]) -> Option<Started> {
    let mounts = |command: &mut Command| {
        command
            .args(["--user", "--map-root-user", "--mount", "sh", "-c"])
            .arg(r#"mount -t tmpfs -o "$1" small "$2" && shift 2 && exec "$@""#)
            .args(["sh", options])
            .arg(disk);
    };
    let mut trial = Command::new("unshare");
    mounts(&mut trial);
    let allowed = trial.arg("true").output();
    if !allowed.is_ok_and(|tried| tried.status.success()) {
        // Also in CI: a container need not allow it, and the bound on file sizes is tried anywhere.
        println!("skipped: mounting is not allowed here");
        return None;
    }
    let mut command = Command::new("unshare");
    mounts(&mut command);
    command.arg(env!("CARGO_BIN_EXE_skimwatch")).args(arguments);
    let mut started = Started::by(&mut command);
    started.hush();
    Some(started)
}

/// A file of that disk, as it is seen from here.
fn seen_from_here(daemon: &Started, path: &Path) -> PathBuf {
    let root = PathBuf::from(format!("/proc/{}/root", daemon.child.id()));
    root.join(path.strip_prefix("/").unwrap())
}

/// Posts marks until one is answered with this; the names of those before it that were said to be on
/// the disk, and the name of that one.
async fn mark_until(base: &str, kept: &str, prefix: &str) -> (Vec<String>, String) {
    let client = reqwest::Client::new();
    let end = Instant::now() + PATIENCE;
    let mut on_disk = Vec::new();
    for number in 0.. {
        assert!(Instant::now() < end, "never kept in {kept}");
        let name = format!("{prefix} {number}");
        let mark = client.post(format!("{base}/v1/crew/mark"));
        let answer = mark.json(&json!({"name": name})).send().await.unwrap();
        match answer.status().as_u16() {
            202 => {
                let answer: Value = answer.json().await.unwrap();
                if answer["kept"] == kept {
                    return (on_disk, name);
                }
                on_disk.push(name);
            }
            429 => tokio::time::sleep(Duration::from_millis(100)).await,
            other => panic!("{other}"),
        }
    }
    unreachable!("the numbers do not end");
}

/// The names of all marks in the logbook, as the daemon reads them from its file.
async fn marks_in(base: &str) -> Vec<String> {
    let at = get(base, "/v1/state").await["at"].clone();
    // Without a position days are those of UTC.
    let day = &at.as_str().unwrap()[.."2026-06-01".len()];
    let answer = get(base, &format!("/v1/days/{day}")).await;
    let marks = answer["timeline"]["marks"].as_array();
    let name = |mark: &Value| mark["last"]["name"].as_str().map(str::to_owned);
    marks.into_iter().flatten().filter_map(name).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn on_a_full_disk_advice_goes_on_and_nothing_answered_for_is_lost() {
    let dir = tempfile::tempdir().unwrap();
    let disk = dir.path().join("disk");
    std::fs::create_dir(&disk).unwrap();
    let book = disk.join("day.sqlite");
    let path = settings(dir.path(), free_udp(), &book);
    let arguments = ["run", "--settings", path.to_str().unwrap()];
    let Some(daemon) = on_a_small_disk(&disk, "size=8m", &arguments) else {
        return;
    };
    let base = daemon.base.clone();
    until_logbook(&base, "keeping").await;
    let before = post(&base, "/v1/crew/mark", json!({"name": "before"})).await;
    assert_eq!(before["kept"], "disk");

    // Somebody fills the disk to its last byte.
    let filler = seen_from_here(&daemon, &disk.join("filler"));
    let mut file = std::fs::File::create(&filler).unwrap();
    let full = std::iter::repeat_n([0_u8; 4096], 4096)
        .find_map(|block| file.write_all(&block).err())
        .expect("the disk is full");
    assert_eq!(full.kind(), std::io::ErrorKind::StorageFull);
    let (mut on_disk, waiting) = mark_until(&base, "memory", "full").await;
    on_disk.push("before".to_owned());
    let now = until_logbook(&base, "failing").await;
    let cause = now["cause"].as_str().unwrap();
    assert!(cause.contains("the disk is full"), "{cause}");
    assert!(
        now["waiting_rows"].as_u64() > Some(0) && now["lost_rows"] == 0,
        "{now}"
    );
    let at = get(&base, "/v1/state").await["at"].clone();
    until(&base, "another picture", |state| state["at"] != at).await;
    // What was answered for stands in the file; what was not is none the less there after.
    let there = marks_in(&base).await;
    assert!(on_disk.iter().all(|name| there.contains(name)), "{there:?}");
    assert!(!there.contains(&waiting));

    // As long as it is open it takes its room.
    drop(file);
    std::fs::remove_file(&filler).unwrap();
    let now = until_logbook(&base, "keeping").await;
    assert!(now["cause"].is_null() && now["lost_rows"] == 0, "{now}");
    assert!(marks_in(&base).await.contains(&waiting));
}

#[tokio::test(flavor = "multi_thread")]
async fn on_a_read_only_disk_advice_goes_on_and_what_is_said_waits() {
    let dir = tempfile::tempdir().unwrap();
    let disk = dir.path().join("disk");
    std::fs::create_dir(&disk).unwrap();
    let book = disk.join("day.sqlite");
    let path = settings(dir.path(), free_udp(), &book);
    let arguments = ["run", "--settings", path.to_str().unwrap()];
    let Some(daemon) = on_a_small_disk(&disk, "size=8m,ro", &arguments) else {
        return;
    };
    let base = daemon.base.clone();
    let now = until_logbook(&base, "failing").await;
    let cause = now["cause"].as_str().unwrap();
    assert!(cause.contains(book.to_str().unwrap()), "{cause}");
    let (on_disk, waiting) = mark_until(&base, "memory", "read-only").await;
    assert_eq!(on_disk, Vec::<String>::new());
    let at = get(&base, "/v1/state").await["at"].clone();
    until(&base, "another picture", |state| state["at"] != at).await;

    let remounted = Command::new("nsenter")
        .args(["--user", "--preserve-credentials", "--mount", "--target"])
        .arg(daemon.child.id().to_string())
        .args(["mount", "-o", "remount,rw"])
        .arg(&disk)
        .output()
        .unwrap();
    assert!(remounted.status.success(), "{remounted:?}");
    until_logbook(&base, "keeping").await;
    assert!(marks_in(&base).await.contains(&waiting));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_damaged_file_is_set_aside_and_a_foreign_one_left_alone() {
    let dir = tempfile::tempdir().unwrap();
    let book = dir.path().join("day.sqlite");
    std::fs::write(&book, vec![b'x'; 20_000]).unwrap();
    let path = settings(dir.path(), free_udp(), &book);
    let daemon = start(&path);
    let now = until_logbook(&daemon.base, "keeping").await;
    let aside = now["set_aside"].as_str().unwrap().to_owned();
    assert_eq!(std::fs::read(aside).unwrap(), vec![b'x'; 20_000]);
    drop(daemon);

    let foreign = dir.path().join("foreign.sqlite");
    let connection = Connection::open(&foreign).unwrap();
    connection
        .execute_batch("CREATE TABLE stamps (name TEXT)")
        .unwrap();
    drop(connection);
    let before = std::fs::read(&foreign).unwrap();
    let path = settings(dir.path(), free_udp(), &foreign);
    let daemon = start(&path);
    let now = until_logbook(&daemon.base, "failing").await;
    let cause = now["cause"].as_str().unwrap();
    assert!(cause.contains("no logbook"), "{cause}");
    assert_eq!(std::fs::read(&foreign).unwrap(), before);
}
