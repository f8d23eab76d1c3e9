//! The built daemon: its settings changed over HTTP while it runs, its name on the network.

use std::net::{Ipv4Addr, UdpSocket};
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::PATIENCE;
use crate::chain::{free_udp, lines, send_in_time};
use crate::learnt::until;
use crate::started::Started;

fn start(settings: &Path) -> Started {
    Started::unheard(&["run", "--settings", settings.to_str().unwrap()])
}

async fn put(daemon: &Started, body: Value) -> (u16, Value) {
    let answer = reqwest::Client::new()
        .put(format!("{}/v1/settings", daemon.base))
        .json(&body)
        .send()
        .await
        .unwrap();
    (answer.status().as_u16(), answer.json().await.unwrap())
}

#[tokio::test(flavor = "multi_thread")]
async fn the_daemon_takes_new_settings_saves_them_and_starts_with_them_again() {
    let dir = tempfile::tempdir().unwrap();
    let recordings = dir.path().join("recordings");
    let path = dir.path().join("boat.toml");
    let demo = include_str!("../../config/demo.toml");
    let text = format!(
        "{}\n[[feed]]\nname = \"bridge\"\nkind = \"udp\"\nbind = \"127.0.0.1:0\"\n\n[serve]\nbind = \"127.0.0.1:0\"\n\n[record]\ndir = {:?}\n",
        demo.replace("area_m2 = 1.3", "area_m2 = 1.3 # measured ashore"),
        recordings
    );
    std::fs::write(&path, &text).unwrap();
    let daemon = start(&path);
    let (status, answer) = put(
        &daemon,
        json!({"rig.kite.area_m2": 1.55, "rig.out_at_start.kite_m": 95.5, "crew.length": "ft"}),
    )
    .await;
    assert_eq!(status, 200, "{answer}");
    assert_eq!(answer["kept"]["path"], path.to_str().unwrap());
    let state: Value = reqwest::get(format!("{}/v1/state", daemon.base))
        .await
        .unwrap()
        .json()
        .await
        .unwrap();
    assert_eq!(state["units"]["length"], "ft");
    let area = |rig: &Value| {
        rig.as_array()
            .unwrap()
            .iter()
            .find(|e| e["key"] == "area_m2")
            .unwrap()["value"]
            .clone()
    };
    assert_eq!(area(&state["rig"]), "1.55");
    // Comments stay, the file of before is kept, nothing else lies about.
    let saved = std::fs::read_to_string(&path).unwrap();
    assert!(
        saved.contains("area_m2 = 1.55 # measured ashore"),
        "{saved}"
    );
    let previous = dir.path().join("boat.toml.previous");
    assert_eq!(std::fs::read_to_string(previous).unwrap(), text);
    assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 3);
    // What is refused leaves the file alone.
    let (status, problem) = put(&daemon, json!({"rig.marker.diameter_m": 9.0})).await;
    assert_eq!(status, 422);
    assert_eq!(problem["keys"][0]["key"], "rig.marker.diameter_m");
    // So does a change over one that was made by hand.
    std::fs::write(&path, format!("# by hand\n{saved}")).unwrap();
    let (status, problem) = put(&daemon, json!({"rig.marker.diameter_m": 0.3})).await;
    assert_eq!(status, 409, "{problem}");
    assert!(
        problem["cure"]
            .as_str()
            .unwrap()
            .contains("start the program again")
    );
    assert!(
        std::fs::read_to_string(&path)
            .unwrap()
            .starts_with("# by hand")
    );
    // The recording says what was changed.
    let end = Instant::now() + PATIENCE;
    loop {
        let recorded: String = std::fs::read_dir(&recordings)
            .unwrap()
            .map(|file| std::fs::read_to_string(file.unwrap().path()).unwrap_or_default())
            .collect();
        if recorded.contains(",SET,rig.out_at_start.kite_m,95.5,0*") {
            assert!(recorded.contains(",SET,crew.length,ft,2*"), "{recorded}");
            assert!(
                recorded.contains(",SET,rig.kite.area_m2,1.55,1*"),
                "{recorded}"
            );
            break;
        }
        assert!(Instant::now() < end, "not recorded: {recorded}");
        tokio::time::sleep(Duration::from_millis(200)).await;
    }
    drop(daemon);
    let daemon = start(&path);
    let state: Value = reqwest::get(format!("{}/v1/state", daemon.base))
        .await
        .unwrap()
        .json()
        .await
        .unwrap();
    assert_eq!(area(&state["rig"]), "1.55");
}

#[tokio::test(flavor = "multi_thread")]
async fn structures_changed_while_it_runs_are_kept_and_replay_to_the_same_bytes() {
    let dir = tempfile::tempdir().unwrap();
    let recordings = dir.path().join("recordings");
    let (path, first) = (dir.path().join("boat.toml"), dir.path().join("first.toml"));
    let address = free_udp();
    let text = format!(
        "# a comment that stays\n{}\n[rig.out_at_start]\nkite_m = 90.0\nmain_m = 170.0\n\n[[feed]]\nname = \"network\"\nkind = \"udp\"\nbind = \"{address}\"\n\n[serve]\nbind = \"127.0.0.1:0\"\n\n[record]\ndir = {recordings:?}\n",
        include_str!("../../config/demo.toml"),
    );
    std::fs::write(&path, &text).unwrap();
    std::fs::write(&first, &text).unwrap();
    let mut daemon = start(&path);
    let stream = reqwest::get(format!("{}/v1/advisories/stream", daemon.base))
        .await
        .unwrap();
    let heard = tokio::spawn(stream.text());
    let sending = tokio::spawn(async move {
        let socket = UdpSocket::bind("127.0.0.1:0").unwrap();
        send_in_time(&lines(), |line| {
            socket
                .send_to(format!("{line}\r\n").as_bytes(), address)
                .unwrap();
        })
        .await;
    });
    until(&daemon.base, "a forecast", |state| {
        !state["forecast"]["made_at"].is_null()
    })
    .await;
    // Invented: a bar across the wake, high enough that the kite line surely passes near it.
    let bar = json!({
        "boat.structure.3.name": "bar, acr\u{f6}ss",
        "boat.structure.3.from.aft_m": 6.0,
        "boat.structure.3.from.starboard_m": -15.0,
        "boat.structure.3.from.height_m": 7.0,
        "boat.structure.3.to.aft_m": 6.0,
        "boat.structure.3.to.starboard_m": 15.0,
        "boat.structure.3.to.height_m": 7.0,
        "boat.structure.3.clearance_m": 4.0,
    });
    let (status, answer) = put(&daemon, bar).await;
    assert_eq!(status, 200, "{answer}");
    let saved = std::fs::read_to_string(&path).unwrap();
    let previous = dir.path().join("boat.toml.previous");
    assert!(saved.starts_with("# a comment that stays\n"));
    assert_eq!(std::fs::read_to_string(&previous).unwrap(), text);
    let (status, answer) = put(&daemon, json!({"boat.structure.1": null})).await;
    assert_eq!(status, 200, "{answer}");
    assert_eq!(answer["structures"].as_array().unwrap().len(), 2);
    assert_eq!(std::fs::read_to_string(&previous).unwrap(), saved);
    let (status, _) = put(&daemon, json!({"boat.structure.2.from.height_m": -1.0})).await;
    assert_eq!(status, 422);
    sending.await.unwrap();
    // Told to end, as a service manager does; the streams end with it.
    let told = Command::new("kill")
        .arg(daemon.child.id().to_string())
        .status();
    assert!(told.unwrap().success());
    let heard = heard.await.unwrap().unwrap();
    daemon.child.wait().unwrap();
    let live: Vec<&str> = heard
        .lines()
        .filter_map(|line| line.strip_prefix("data:").map(str::trim))
        .filter(|data| data.contains("\"revision\""))
        .collect();
    assert!(
        live.iter()
            .any(|l| l.contains("line-foul") && l.contains("bar, acr\u{f6}ss")),
        "{live:#?}"
    );

    let mut logs: Vec<_> = std::fs::read_dir(&recordings)
        .unwrap()
        .map(|file| file.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "nmea"))
        .collect();
    logs.sort();
    let replay = |settings: &Path| {
        let output = Command::new(env!("CARGO_BIN_EXE_skimwatch"))
            .arg("replay")
            .args(&logs)
            .arg("--settings")
            .arg(settings)
            .output()
            .unwrap();
        String::from_utf8(output.stdout).unwrap()
    };
    let again = replay(&first);
    let again: Vec<&str> = again
        .lines()
        .filter(|line| !line.contains("\"summary\""))
        .collect();
    assert_eq!(live, again);
}

/// Asks everybody on the network for the address behind a name: header, one question of type A
/// (1), class IN (1) with the wish for a direct answer (RFC 6762, 5.4 and 18.12).
fn who_is(name: &str) -> std::io::Result<Vec<u8>> {
    let mut question = vec![0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0];
    for label in [name, "local"] {
        question.push(label.len() as u8);
        question.extend(label.bytes());
    }
    question.extend([0, 0, 1, 0x80, 1]);
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0))?;
    socket.set_read_timeout(Some(Duration::from_millis(500)))?;
    socket.send_to(&question, (Ipv4Addr::new(224, 0, 0, 251), 5353))?;
    let mut answer = vec![0; 1500];
    let length = socket.recv(&mut answer).unwrap_or(0);
    answer.truncate(length);
    Ok(answer)
}

#[tokio::test(flavor = "multi_thread")]
async fn phones_find_the_daemon_by_its_name() {
    let name = format!("skimwatch-{}", std::process::id());
    if let Err(why) = who_is(&name) {
        eprintln!("SKIPPED: this computer has no network for multicast ({why})");
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("boat.toml");
    let demo = include_str!("../../config/demo.toml");
    let text = format!(
        "{demo}\n[[feed]]\nname = \"bridge\"\nkind = \"udp\"\nbind = \"127.0.0.1:0\"\n\n[serve]\nbind = \"0.0.0.0:0\"\nmdns_name = \"{name}\"\n"
    );
    std::fs::write(&path, text).unwrap();
    let _daemon = start(&path);
    let end = Instant::now() + PATIENCE;
    loop {
        let answer = who_is(&name).unwrap();
        // An answer (first bit of the flags) that brings at least one record (RFC 1035, 4.1.1).
        if answer.len() > 12 && answer[2] & 0x80 != 0 && answer[7] > 0 {
            assert!(
                answer
                    .windows(name.len())
                    .any(|part| part == name.as_bytes())
            );
            break;
        }
        assert!(Instant::now() < end, "nobody answers to {name}.local");
    }
}
