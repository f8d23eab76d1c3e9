//! The built daemon and its recording: what it answers is on the disk is there, and a recording
//! that fails is said to.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::PATIENCE;
use crate::started::Started;

/// Settings of a boat that records, and where.
fn settings(dir: &Path) -> (PathBuf, PathBuf) {
    let path = dir.join("boat.toml");
    let recordings = dir.join("recordings");
    let text = format!(
        "{}\n[[feed]]\nname = \"pipe\"\nkind = \"stdin\"\n\n[serve]\nbind = \"127.0.0.1:0\"\nmdns_name = \"\"\n\n[record]\ndir = {recordings:?}\n",
        include_str!("../../config/demo.toml"),
    );
    std::fs::write(&path, text).unwrap();
    (path, recordings)
}

/// The program, where no file may grow beyond so many blocks of the shell (512 or 1024 bytes).
pub fn with_small_files(blocks: u32, arguments: &[&str]) -> Started {
    let mut started = Started::by(
        Command::new("sh")
            .args(["-c", r#"ulimit -f "$1" && shift && exec "$@""#, "sh"])
            .arg(blocks.to_string())
            .arg(env!("CARGO_BIN_EXE_skimwatch"))
            .args(arguments),
    );
    started.hush();
    started
}

/// All recordings, oldest first.
fn recorded(dir: &Path) -> String {
    let mut files: Vec<_> = std::fs::read_dir(dir)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "nmea"))
        .collect();
    files.sort();
    files
        .iter()
        .map(|file| std::fs::read_to_string(file).unwrap())
        .collect()
}

/// A phone of the crew.
#[derive(Clone)]
struct Phone {
    client: reqwest::Client,
    base: String,
}

impl Phone {
    fn of(daemon: &Started) -> Self {
        Self {
            client: reqwest::Client::new(),
            base: daemon.base.clone(),
        }
    }

    async fn get(&self, path: &str) -> reqwest::Result<reqwest::Response> {
        self.client.get(format!("{}{path}", self.base)).send().await
    }

    /// Marks a place; where the mark is kept, or `None` when the daemon is gone. A phone that is
    /// told to wait does.
    async fn mark(&self, name: &str) -> Option<String> {
        loop {
            let answer = self
                .client
                .post(format!("{}/v1/crew/mark", self.base))
                .json(&json!({"name": name}))
                .send()
                .await
                .ok()?;
            match answer.status().as_u16() {
                202 => {
                    let body: Value = answer.json().await.ok()?;
                    return Some(body["kept"].as_str().unwrap().to_owned());
                }
                429 => tokio::time::sleep(Duration::from_millis(100)).await,
                other => panic!("{other}: {}", answer.text().await.unwrap()),
            }
        }
    }

    async fn until_recorder(&self, state: &str) -> Value {
        self.until("recorder", state).await
    }

    /// Waits until recorder or logbook stand like this.
    async fn until(&self, what: &str, state: &str) -> Value {
        let end = Instant::now() + PATIENCE;
        loop {
            let now: Value = self.get("/v1/state").await.unwrap().json().await.unwrap();
            if now[what]["state"] == state {
                return now[what].clone();
            }
            assert!(Instant::now() < end, "{what} {state}: {}", now[what]);
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_answered_to_be_on_the_disk_is_there_after_a_kill() {
    let dir = tempfile::tempdir().unwrap();
    let (settings, recordings) = settings(dir.path());
    let answered = Arc::new(Mutex::new(Vec::new()));
    for round in 0..20 {
        let mut daemon = Started::unheard(&["run", "--settings", settings.to_str().unwrap()]);
        let phone = Phone::of(&daemon);
        let posters: Vec<_> = (0..3)
            .map(|poster| {
                let (phone, answered) = (phone.clone(), Arc::clone(&answered));
                tokio::spawn(async move {
                    for number in 0.. {
                        let name = format!("r{round} {poster} {number}");
                        match phone.mark(&name).await {
                            Some(kept) if kept == "disk" => answered.lock().unwrap().push(name),
                            Some(kept) => panic!("kept in {kept}"),
                            None => break,
                        }
                    }
                })
            })
            .collect();
        let enough = answered.lock().unwrap().len() + 1 + round % 10;
        let end = Instant::now() + PATIENCE;
        while answered.lock().unwrap().len() < enough {
            assert!(Instant::now() < end, "no answers in round {round}");
            tokio::time::sleep(Duration::from_millis(1)).await;
        }
        daemon.child.kill().unwrap();
        daemon.child.wait().unwrap();
        for poster in posters {
            poster.await.unwrap();
        }
    }
    let text = recorded(&recordings);
    let answered = answered.lock().unwrap();
    let lost: Vec<_> = answered
        .iter()
        .filter(|name| !text.contains(&format!(",MARK,{name},")))
        .collect();
    assert!(
        lost.is_empty(),
        "{} of {}: {lost:?}",
        lost.len(),
        answered.len()
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_directory_that_went_is_said_to_have_and_the_crew_s_words_are_recorded_when_it_is_back() {
    let dir = tempfile::tempdir().unwrap();
    let (settings, recordings) = settings(dir.path());
    let daemon = Started::unheard(&["run", "--settings", settings.to_str().unwrap()]);
    let phone = Phone::of(&daemon);
    assert_eq!(phone.mark("before").await.as_deref(), Some("disk"));
    let recorder = phone.until_recorder("recording").await;
    let file = recorder["file"].as_str().unwrap().to_owned();
    assert!(Path::new(&file).starts_with(&recordings), "{file}");

    // Deleted: it is made again at once, and what was said then is in it.
    std::fs::remove_dir_all(&recordings).unwrap();
    phone.mark("into the new one").await.unwrap();
    let end = Instant::now() + PATIENCE;
    while !recordings.is_dir() || !recorded(&recordings).contains("into the new one") {
        assert!(Instant::now() < end, "no new recording");
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    // The logbook, which stood beside it, is begun anew.
    phone.until("logbook", "keeping").await;
    assert_eq!(phone.mark("in it").await.as_deref(), Some("disk"));

    // Something else in its place.
    std::fs::remove_dir_all(&recordings).unwrap();
    std::fs::write(&recordings, "a file in the way").unwrap();
    assert_eq!(phone.mark("while failing").await.as_deref(), Some("memory"));
    let recorder = phone.until_recorder("failing").await;
    let cause = recorder["cause"].as_str().unwrap();
    assert!(cause.contains("recordings cannot be written"), "{cause}");
    assert!(recorder["since"].is_string() && recorder["waiting_lines"] == 1);
    let health = phone.get("/healthz").await.unwrap();
    assert_eq!(health.status().as_u16(), 200);
    let health: Value = health.json().await.unwrap();
    assert_eq!(health["recorder"]["state"], "failing");
    let metrics = phone.get("/metrics").await.unwrap().text().await.unwrap();
    for line in [
        "skimwatch_recorder_state{state=\"failing\"} 1\n",
        "skimwatch_recorder_state{state=\"recording\"} 0\n",
        "skimwatch_recorder_waiting_lines 1\n",
    ] {
        assert!(metrics.contains(line), "{line} is not in\n{metrics}");
    }

    std::fs::remove_file(&recordings).unwrap();
    let recorder = phone.until_recorder("recording").await;
    assert!(recorder["cause"].is_null() && recorder["waiting_lines"] == 0);
    phone.until("logbook", "keeping").await;
    assert_eq!(phone.mark("after").await.as_deref(), Some("disk"));
    let text = recorded(&recordings);
    let (failing, after) = (text.find("while failing"), text.find("after"));
    assert!(failing.is_some() && failing < after, "{text}");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_limit_on_the_size_of_files_neither_ends_the_program_nor_loses_the_crew_s_words() {
    let dir = tempfile::tempdir().unwrap();
    let (settings, recordings) = settings(dir.path());
    let arguments = ["run", "--settings", settings.to_str().unwrap()];
    let mut daemon = with_small_files(2, &arguments);
    let phone = Phone::of(&daemon);
    let mut names = Vec::new();
    let mut kept_in_memory = 0;
    // Two blocks hold less than forty marks; each failure is to be seen for two seconds.
    let cause = loop {
        assert!(names.len() < 200, "the limit was never seen to be reached");
        let name = format!("mark number {}", names.len());
        let kept = phone.mark(&name).await.expect("the daemon goes on");
        names.push(name);
        kept_in_memory += u32::from(kept == "memory");
        let state: Value = phone.get("/v1/state").await.unwrap().json().await.unwrap();
        if let Some(cause) = state["recorder"]["cause"].as_str() {
            break cause.to_owned();
        }
    };
    assert!(kept_in_memory > 0);
    assert!(cause.contains("may not grow further"), "{cause}");
    phone.until_recorder("recording").await;
    let pid = daemon.child.id().to_string();
    let told = Command::new("kill").arg(pid).status();
    assert!(told.unwrap().success());
    assert!(daemon.child.wait().unwrap().success());
    let text = recorded(&recordings);
    for name in names {
        let times = text.matches(&format!(",MARK,{name},")).count();
        assert_eq!(times, 1, "{name} in\n{text}");
    }
}

/// Prints how long a post takes until it is on the disk:
/// `cargo test --test live how_long_a_post_takes -- --ignored --nocapture`.
#[ignore = "measures, and asserts nothing of the machine's pace"]
#[tokio::test(flavor = "multi_thread")]
async fn how_long_a_post_takes() {
    let dir = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).unwrap();
    let (settings, _) = settings(dir.path());
    let daemon = Started::unheard(&["run", "--settings", settings.to_str().unwrap()]);
    let phone = Phone::of(&daemon);
    for phones in [1, 8] {
        let posts = 400 / phones;
        let posting: Vec<_> = (0..phones)
            .map(|_| {
                let phone = phone.clone();
                tokio::spawn(async move {
                    let mut took_ms = Vec::new();
                    for _ in 0..posts {
                        let since = Instant::now();
                        assert_eq!(phone.mark("x").await.as_deref(), Some("disk"));
                        took_ms.push(since.elapsed().as_secs_f64() * 1000.0);
                    }
                    took_ms
                })
            })
            .collect();
        let mut took_ms = Vec::new();
        for poster in posting {
            took_ms.extend(poster.await.unwrap());
        }
        took_ms.sort_by(f64::total_cmp);
        let at = |share: f64| took_ms[(share * (took_ms.len() - 1) as f64) as usize];
        println!(
            "{phones} at once, {} posts: p50 {:.1} ms, p99 {:.1} ms, longest {:.1} ms",
            took_ms.len(),
            at(0.5),
            at(0.99),
            at(1.0)
        );
    }
}
