//! The built daemon under a service manager, of which a socket of our own plays the part.

use crate::PATIENCE;
use std::os::unix::net::UnixDatagram;
use std::path::Path;
use std::process::{Command, Stdio};

fn hear(manager: &UnixDatagram) -> String {
    let mut word = [0; 256];
    let length = manager.recv(&mut word).expect("word from the daemon");
    String::from_utf8_lossy(&word[..length]).into_owned()
}

#[test]
fn the_service_manager_hears_that_it_is_ready_alive_and_stopping() {
    let dir = tempfile::tempdir().unwrap();
    let socket = dir.path().join("notify");
    let manager = UnixDatagram::bind(&socket).unwrap();
    manager.set_read_timeout(Some(PATIENCE)).unwrap();
    let example = Path::new(env!("CARGO_MANIFEST_DIR")).join("config/demo.toml");
    let settings = dir.path().join("settings.toml");
    std::fs::write(
        &settings,
        format!(
            "{}\n[serve]\nbind = \"127.0.0.1:0\"\n\n[[feed]]\nname = \"pipe\"\nkind = \"stdin\"\n",
            std::fs::read_to_string(example).unwrap()
        ),
    )
    .unwrap();
    let mut daemon = Command::new(env!("CARGO_BIN_EXE_skimwatch"))
        .args(["run", "--settings"])
        .arg(&settings)
        .env("NOTIFY_SOCKET", &socket)
        .env("WATCHDOG_USEC", "4000000")
        .env_remove("WATCHDOG_PID")
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    assert_eq!(hear(&manager), "READY=1");
    for _ in 0..3 {
        assert_eq!(hear(&manager), "WATCHDOG=1");
    }
    let pid = daemon.id().to_string();
    assert!(Command::new("kill").arg(&pid).status().unwrap().success());
    // One sign of life may have been under way.
    let last = match hear(&manager) {
        word if word == "WATCHDOG=1" => hear(&manager),
        word => word,
    };
    assert_eq!(last, "STOPPING=1");
    assert!(daemon.wait().unwrap().success());
}
