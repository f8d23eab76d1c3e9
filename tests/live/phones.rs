//! The built program with locks: the code in its log, commands at the console, a restart, a file of
//! something else, names in log and recording.

use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, channel};

use serde_json::{Value, json};

use crate::PATIENCE;
use crate::learnt::{skimwatch, told_to_end};
use crate::started::{Started, quick_boat};

struct Boat {
    dir: tempfile::TempDir,
    settings: PathBuf,
}

/// A daemon, and what it says.
struct Daemon {
    started: Started,
    said: Receiver<String>,
}

impl Boat {
    /// A boat whose locks hold on this computer too.
    fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let page = TcpListener::bind("127.0.0.1:0").unwrap();
        let bind = page.local_addr().unwrap().to_string();
        let recordings = dir.path().join("recordings");
        let text = quick_boat(
            "kind = \"udp\"\nbind = \"127.0.0.1:0\"",
            &format!("touch = \"crew\"\n\n[record]\ndir = {recordings:?}\n"),
        );
        let settings = dir.path().join("boat.toml");
        std::fs::write(
            &settings,
            text.replace("127.0.0.1:0\"\nmdns", &format!("{bind}\"\nmdns")),
        )
        .unwrap();
        Self { dir, settings }
    }

    fn phones(&self) -> PathBuf {
        self.dir.path().join("boat.toml.phones")
    }

    fn start(&self) -> Daemon {
        let mut started = Started::new(&["run", "--settings", self.settings.to_str().unwrap()]);
        let (sender, said) = channel();
        let lines = started.said();
        std::thread::spawn(move || {
            for line in lines.map_while(Result::ok) {
                // Whoever no longer listens does not mind.
                let _ = sender.send(line);
            }
        });
        Daemon { started, said }
    }

    /// What a command at the console prints.
    fn console(&self, words: &[&str]) -> String {
        let mut all = words.to_vec();
        all.extend(["--settings", self.settings.to_str().unwrap()]);
        let output = skimwatch(&all);
        let complaint = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{words:?}: {complaint}");
        String::from_utf8(output.stdout).unwrap()
    }
}

impl Daemon {
    /// The first line that holds these words, and those before it.
    fn says(&self, words: &str) -> (String, Vec<String>) {
        let mut before = Vec::new();
        loop {
            let line = self.said.recv_timeout(PATIENCE);
            let line = line.unwrap_or_else(|_| panic!("{words:?} is not said: {before:#?}"));
            if line.contains(words) {
                return (line, before);
            }
            before.push(line);
        }
    }

    /// The code behind these words of a line.
    async fn join(&self, code: &str, name: &str) -> String {
        let body = json!({"code": code, "name": name, "token": "bearer"});
        let url = format!("{}/v1/phone/join", self.started.base);
        let answer = reqwest::Client::new().post(url).json(&body).send().await;
        let answer: Value = answer.unwrap().json().await.unwrap();
        assert_eq!(answer["kept"], "disk", "{answer}");
        answer["bearer"].as_str().unwrap().to_owned()
    }

    async fn bite(&self, token: &str) -> u16 {
        let url = format!("{}/v1/crew/bite", self.started.base);
        let request = reqwest::Client::new().post(url).bearer_auth(token);
        request.send().await.unwrap().status().as_u16()
    }
}

fn code_in(line: &str) -> String {
    let (_, rest) = line.split_once("code ").unwrap();
    let digits: String = rest.chars().take(9).collect();
    assert_eq!(digits.replace(' ', "").len(), 8, "{line}");
    digits
}

fn recorded(dir: &Path) -> String {
    let folder = std::fs::read_dir(dir.join("recordings")).unwrap();
    let files = folder.map(|entry| entry.unwrap().path());
    let logs = files.filter(|path| path.extension().is_some_and(|end| end == "nmea"));
    logs.map(|path| std::fs::read_to_string(path).unwrap())
        .collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn phones_join_by_the_log_and_the_console_and_outlive_a_restart() {
    let boat = Boat::new();
    let daemon = boat.start();
    let (line, _) = daemon.says("becomes the keeper");
    let skipper = daemon.join(&code_in(&line), "skipper's phone").await;
    let invited = boat.console(&["crew", "invite"]);
    let mate = daemon.join(&code_in(&invited), "mate's phone").await;
    assert_eq!(daemon.bite("").await, 401);
    assert_eq!(daemon.bite(&mate).await, 202);
    let (line, before) = daemon.says("POST /v1/crew/bite");
    assert!(line.contains("mate's phone: "), "{line}");
    let log = before.join("\n") + &line;
    assert!(!log.contains(&mate) && !log.contains(&skipper), "{log}");
    // Nothing secret in what is kept either.
    let kept = std::fs::read_to_string(boat.phones()).unwrap();
    assert!(!kept.contains(&mate) && kept.contains("mate's phone"));
    // The console's key lets it forget what was learnt, too.
    let said = boat.console(&["forget"]);
    assert!(said.contains("forgotten by the daemon"), "{said}");
    daemon.says("console: POST /v1/crew/forget");
    told_to_end(daemon.started);
    assert!(!boat.dir.path().join("boat.toml.phones.console").exists());
    let recording = recorded(boat.dir.path());
    let by = recording
        .lines()
        .position(|line| line.contains(",mate's phone*"));
    let said = recording.lines().nth(by.unwrap() + 1).unwrap();
    assert!(said.contains("$PSKWT,") && said.contains(",BITE"), "{said}");

    let daemon = boat.start();
    let (line, before) = daemon.says("phones that may touch: 2");
    assert!(before.iter().all(|line| !line.contains("keeper")), "{line}");
    assert_eq!(daemon.bite(&mate).await, 202);
    let list = boat.console(&["crew", "list"]);
    let rows: Vec<&str> = list.lines().collect();
    assert_eq!(rows.len(), 2, "{list}");
    assert!(
        rows[1].trim_start().starts_with("2  mate's phone"),
        "{list}"
    );
    assert_eq!(
        boat.console(&["crew", "revoke", "2"]).trim(),
        "mate's phone is out"
    );
    assert_eq!(daemon.bite(&mate).await, 401);
    let gone = skimwatch(&[
        "crew",
        "revoke",
        "2",
        "--settings",
        boat.settings.to_str().unwrap(),
    ]);
    assert_eq!(gone.status.code(), Some(69));
    let complaint = String::from_utf8_lossy(&gone.stderr).into_owned();
    assert!(
        complaint.contains("no phone has the number 2"),
        "{complaint}"
    );
    told_to_end(daemon.started);

    // A file of something else: it is kept, all join again, and the log says so before that.
    std::fs::write(boat.phones(), "not phones").unwrap();
    let aside = boat.dir.path().join("boat.toml.phones.aside-1");
    let daemon = boat.start();
    let (line, before) = daemon.says("becomes the keeper");
    let told = before.iter().any(|line| line.contains("must join again"));
    assert!(told, "{before:#?}");
    assert_eq!(std::fs::read_to_string(aside).unwrap(), "not phones");
    assert_eq!(daemon.bite(&skipper).await, 401);
    daemon.join(&code_in(&line), "skipper's phone").await;
    told_to_end(daemon.started);
    let nobody = skimwatch(&[
        "crew",
        "list",
        "--settings",
        boat.settings.to_str().unwrap(),
    ]);
    assert_eq!(nobody.status.code(), Some(69));
    let complaint = String::from_utf8_lossy(&nobody.stderr).into_owned();
    assert!(complaint.contains("no daemon runs at"), "{complaint}");
}

#[tokio::test(flavor = "multi_thread")]
async fn wrong_codes_are_told_once_a_minute() {
    let boat = Boat::new();
    let daemon = boat.start();
    let url = format!("{}/v1/phone/join", daemon.started.base);
    let body = json!({"code": "00000000", "name": "guest"});
    for expected in [403, 403, 403, 403, 429] {
        let answer = reqwest::Client::new().post(&url).json(&body).send().await;
        assert_eq!(answer.unwrap().status(), expected);
    }
    told_to_end(daemon.started);
    let said: Vec<_> = daemon.said.iter().collect();
    let told = said.iter().filter(|line| line.contains("wrong codes"));
    assert_eq!(told.count(), 1, "{said:#?}");
    assert!(!said.iter().any(|line| line.contains("00000000")));
}

#[tokio::test]
async fn the_doctor_says_how_the_daemon_fares_and_nothing_secret() {
    let boat = Boat::new();
    let ask = || {
        let settings = boat.settings.to_str().unwrap();
        let output = skimwatch(&["doctor", "--json", "--settings", settings]);
        let text = String::from_utf8(output.stdout).unwrap();
        (output.status.code(), text)
    };
    let finding = |text: &str, about: &str| -> Value {
        let all: Value = serde_json::from_str(text).unwrap();
        let mut findings = all["findings"].as_array().unwrap().iter();
        let found = findings.find(|finding| finding["about"] == about);
        found.unwrap_or_else(|| panic!("{about}: {text}")).clone()
    };
    let (status, text) = ask();
    assert_eq!(status, Some(69), "{text}");
    let daemon = finding(&text, "daemon");
    assert_eq!(daemon["verdict"], "wrong");
    assert!(daemon["words"].to_string().contains("no daemon runs"));

    let running = boat.start();
    let code = code_in(&running.says("becomes the keeper").0);
    let token = running.join(&code, "tablet").await;
    let until = std::time::Instant::now() + PATIENCE;
    let (status, text) = loop {
        let (status, text) = ask();
        // With the first picture it knows of its feeds.
        if text.contains("\"feed\"") || std::time::Instant::now() > until {
            break (status, text);
        }
    };
    // Nothing has come on its feed.
    assert_eq!(status, Some(69), "{text}");
    assert_eq!(finding(&text, "daemon")["verdict"], "good");
    assert_eq!(finding(&text, "recording")["verdict"], "good");
    assert_eq!(finding(&text, "feed")["verdict"], "wrong");
    assert_eq!(
        finding(&text, "may touch")["words"],
        "phones: 1, keepers among them: 1"
    );
    let key = std::fs::read_to_string(boat.phones().with_extension("phones.console")).unwrap();
    for secret in [&token, &key, &code, "tablet"] {
        assert!(!text.contains(secret), "{secret}: {text}");
    }

    std::fs::write(&boat.settings, "kite = 3").unwrap();
    assert_eq!(ask().0, Some(78));
}
