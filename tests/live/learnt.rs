//! What was learnt, in the built daemon: over sessions, changes of kite, and its end; forgotten
//! while it runs and while it does not.

use std::net::{TcpListener, UdpSocket};
use std::path::Path;
use std::process::{Command, Output};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::PATIENCE;
use crate::chain::{free_udp, lines};
use crate::recorder::with_small_files;
use crate::started::Started;

/// Instruments that say the same few settled seconds again and again, until dropped.
pub struct Instruments(Arc<AtomicBool>);

impl Instruments {
    pub fn at(address: std::net::SocketAddr) -> Self {
        let going = Arc::new(AtomicBool::new(true));
        let on = Arc::clone(&going);
        let said: Vec<_> = lines()
            .into_iter()
            .filter(|(at_s, line)| *at_s < 6.0 && !line.contains("PSKWT"))
            .collect();
        std::thread::spawn(move || {
            let socket = UdpSocket::bind("127.0.0.1:0").unwrap();
            let since = Instant::now();
            let rounds = (0..).map(|round| f64::from(round) * 6.0);
            for (at_s, line) in
                rounds.flat_map(|from_s| said.iter().map(move |(at_s, line)| (from_s + at_s, line)))
            {
                if !on.load(Ordering::Relaxed) {
                    break;
                }
                let due = Duration::from_secs_f64(at_s);
                std::thread::sleep(due.saturating_sub(since.elapsed()));
                let _ = socket.send_to(format!("{line}\r\n").as_bytes(), address);
            }
        });
        Self(going)
    }
}

impl Drop for Instruments {
    fn drop(&mut self) {
        self.0.store(false, Ordering::Relaxed);
    }
}

pub async fn get(base: &str, path: &str) -> Value {
    let answer = reqwest::get(format!("{base}{path}")).await.unwrap();
    answer.json().await.unwrap()
}

/// Posts what is taken; gives the answer.
pub async fn post(base: &str, path: &str, body: Value) -> Value {
    let answer = reqwest::Client::new()
        .post(format!("{base}{path}"))
        .json(&body)
        .send()
        .await
        .unwrap();
    assert_eq!(answer.status().as_u16(), 202, "{path}");
    answer.json().await.unwrap()
}

async fn set(base: &str, body: Value) {
    let answer = reqwest::Client::new()
        .put(format!("{base}/v1/settings"))
        .json(&body)
        .send()
        .await
        .unwrap();
    assert_eq!(answer.status().as_u16(), 200);
}

/// Waits until the state is so.
pub async fn until(base: &str, what: &str, holds: impl Fn(&Value) -> bool) -> Value {
    let end = Instant::now() + PATIENCE;
    loop {
        let state = get(base, "/v1/state").await;
        if holds(&state) {
            return state;
        }
        assert!(
            Instant::now() < end,
            "{what}: {} {}",
            state["learnt"],
            state["forecast"]
        );
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
}

async fn tap(base: &str, times: u64) {
    for _ in 0..times {
        until(base, "a forecast", |state| {
            !state["forecast"]["made_at"].is_null()
        })
        .await;
        post(base, "/v1/crew/bait", json!({"state": "skipping"})).await;
        // Two taps in one millisecond are one.
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
}

async fn taught(base: &str, reports: Option<u64>) -> Value {
    let reports = json!(reports);
    until(base, &format!("{reports} reports"), |state| {
        state["learnt"]["reports"] == reports
    })
    .await
}

/// Kite area and reports of each entry of the file.
fn kept(file: &Path) -> Vec<(f64, u64)> {
    let text = std::fs::read_to_string(file).unwrap();
    let memory: Value = serde_json::from_str(&text).unwrap();
    let entry = |kite: &Value| {
        (
            kite["rig"]["kite"]["area_m2"].as_f64().unwrap(),
            kite["reports"].as_u64().unwrap(),
        )
    };
    let kites = memory["kites"].as_array().unwrap();
    kites.iter().map(entry).collect()
}

pub fn skimwatch(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_skimwatch"))
        .args(arguments)
        .output()
        .unwrap()
}

fn forget(settings: &Path) -> String {
    let output = skimwatch(&["forget", "--settings", settings.to_str().unwrap()]);
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).unwrap()
}

pub fn told_to_end(mut daemon: Started) {
    let told = Command::new("kill")
        .arg(daemon.child.id().to_string())
        .status();
    assert!(told.unwrap().success());
    assert!(daemon.child.wait().unwrap().success());
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_learnt_outlives_sessions_kites_and_the_daemon_until_it_is_forgotten() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("boat.toml");
    let first = dir.path().join("first.toml");
    let file = dir.path().join("state").join("learnt.json");
    let recordings = dir.path().join("recordings");
    let feed = free_udp();
    let page = TcpListener::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap();
    let text = format!(
        "{}\n[rig.out_at_start]\nkite_m = 90.0\nmain_m = 171.0\n\n[forecast]\nparticles = 64\nfutures = 48\nlearnt_file = {file:?}\n\n[[feed]]\nname = \"network\"\nkind = \"udp\"\nbind = \"{feed}\"\n\n[serve]\nbind = \"{page}\"\nmdns_name = \"\"\n\n[record]\ndir = {recordings:?}\n",
        include_str!("../../config/demo.toml"),
    );
    std::fs::write(&path, &text).unwrap();
    std::fs::write(&first, &text).unwrap();
    let _instruments = Instruments::at(feed);
    let daemon = Started::unheard(&["run", "--settings", path.to_str().unwrap()]);
    let base = daemon.base.clone();
    let stream = reqwest::get(format!("{base}/v1/advisories/stream"))
        .await
        .unwrap();
    let heard = tokio::spawn(stream.text());
    taught(&base, None).await;
    tap(&base, 5).await;
    taught(&base, Some(5)).await;

    // A session stopped and started: what was learnt stays, and its age is shown.
    post(&base, "/v1/crew/session", json!({"fishing": "stop"})).await;
    post(&base, "/v1/crew/session", json!({"fishing": "start"})).await;
    tap(&base, 1).await;
    let state = taught(&base, Some(6)).await;
    assert!(state["learnt"]["age_s"].as_f64().unwrap() >= 0.0);
    let crew = get(&base, "/v1/forecast").await["forecast"]["crew"].clone();
    assert!(crew["learnt_age_s"].as_f64().unwrap() > 0.0, "{crew}");
    assert!(
        crew["note"].as_str().unwrap().contains("5 earlier reports"),
        "{crew}"
    );

    // A strength is no other kite; another kite is, and the first one comes back.
    set(&base, json!({"rig.band_strength_n": 61.0})).await;
    taught(&base, Some(6)).await;
    set(&base, json!({"rig.kite.area_m2": 1.6})).await;
    taught(&base, None).await;
    tap(&base, 1).await;
    taught(&base, Some(1)).await;
    set(&base, json!({"rig.kite.area_m2": 1.3})).await;
    taught(&base, Some(6)).await;

    // Over the daemon's end.
    told_to_end(daemon);
    assert_eq!(kept(&file), [(1.3, 6), (1.6, 1)]);
    let live = heard.await.unwrap().unwrap();
    let live: Vec<&str> = live
        .lines()
        .filter_map(|line| line.strip_prefix("data:").map(str::trim))
        .filter(|data| data.contains("\"revision\""))
        .collect();
    let log = std::fs::read_dir(&recordings)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .find(|path| path.extension().is_some_and(|ending| ending == "nmea"))
        .unwrap();
    let replayed = skimwatch(&[
        "replay",
        log.to_str().unwrap(),
        "--settings",
        first.to_str().unwrap(),
    ]);
    let replayed = String::from_utf8(replayed.stdout).unwrap();
    let replayed: Vec<&str> = replayed
        .lines()
        .filter(|line| !line.contains("\"summary\""))
        .collect();
    assert_eq!(live, replayed);
    let daemon = Started::unheard(&["run", "--settings", path.to_str().unwrap()]);
    assert_eq!(daemon.base, base);
    taught(&base, Some(6)).await;

    // Forgotten while it runs: at once, in the file too, for good, and that kite alone.
    let said = forget(&path);
    assert!(said.contains("forgotten by the daemon"), "{said}");
    assert_eq!(kept(&file), [(1.6, 1)]);
    taught(&base, None).await;
    told_to_end(daemon);
    assert_eq!(kept(&file), [(1.6, 1)]);

    // While none runs, even when something else is shown at its address.
    let said = forget(&path);
    assert!(said.contains("nothing was learnt yet"), "{said}");
    let other = std::fs::read_to_string(&path)
        .unwrap()
        .replace("area_m2 = 1.3", "area_m2 = 1.6");
    std::fs::write(&path, other).unwrap();
    let demo = Started::unheard(&["demo", "--bind", &page.to_string()]);
    let said = forget(&path);
    assert!(said.contains("No daemon runs"), "{said}");
    assert_eq!(kept(&file), []);
    drop(demo);
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_forgotten_on_a_disk_that_takes_nothing_stays_forgotten() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("boat.toml");
    let file = dir.path().join("learnt.json");
    let recordings = dir.path().join("recordings");
    let feed = free_udp();
    let text = format!(
        "{}\n[rig.out_at_start]\nkite_m = 90.0\nmain_m = 171.0\n\n[forecast]\nparticles = 64\nfutures = 48\nlearnt_file = {file:?}\n\n[[feed]]\nname = \"network\"\nkind = \"udp\"\nbind = \"{feed}\"\n\n[serve]\nbind = \"127.0.0.1:0\"\nmdns_name = \"\"\n\n[record]\ndir = {recordings:?}\n",
        include_str!("../../config/demo.toml"),
    );
    std::fs::write(&path, &text).unwrap();
    let arguments = ["run", "--settings", path.to_str().unwrap()];
    let instruments = Instruments::at(feed);
    let daemon = Started::unheard(&arguments);
    tap(&daemon.base, 1).await;
    taught(&daemon.base, Some(1)).await;
    told_to_end(daemon);
    drop(instruments);
    assert_eq!(kept(&file), [(1.3, 1)]);

    // No file may hold a byte more: as on a full disk.
    let mut daemon = with_small_files(0, &arguments);
    let base = daemon.base.clone();
    taught(&base, Some(1)).await;
    let answer = reqwest::Client::new()
        .post(format!("{base}/v1/crew/forget"))
        .send()
        .await
        .unwrap();
    assert_eq!(answer.status().as_u16(), 202);
    assert_eq!(answer.json::<Value>().await.unwrap()["kept"], "memory");
    let state = until(&base, "trouble with the file", |state| {
        !state["learnt_trouble"].is_null()
    })
    .await;
    let trouble = state["learnt_trouble"].as_str().unwrap();
    assert!(
        trouble.contains("What was forgotten is deleted"),
        "{trouble}"
    );
    assert!(state["learnt"].is_null() && !file.exists());
    daemon.child.kill().unwrap();
    daemon.child.wait().unwrap();

    let daemon = Started::unheard(&arguments);
    until(&daemon.base, "a picture", |state| state["mode"] == "live").await;
    assert!(get(&daemon.base, "/v1/state").await["learnt"].is_null());
}
