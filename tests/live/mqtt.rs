//! The MQTT publisher at a real broker. What it publishes is read by the broker's own client.

use std::io::{BufRead as _, BufReader, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};

use serde_json::Value;
use skimwatch::serve::{OutletNow, OutletState};
use skimwatch::settings::{Aboard, MqttSettings};

use crate::PATIENCE;
use crate::learnt::told_to_end;
use crate::push::{Boat, flying};
use crate::started::{Started, quick_boat};

/// Debian has it where not every user looks.
const BROKERS: [&str; 2] = ["mosquitto", "/usr/sbin/mosquitto"];
const SUBSCRIBER: &str = "mosquitto_sub";

/// The broker's program; `None`, said aloud, where it is not installed.
fn program() -> Option<&'static str> {
    let runs = |program: &str| {
        let mut help = Command::new(program);
        let silent = help.arg("-h").stdout(Stdio::null()).stderr(Stdio::null());
        silent.status().is_ok()
    };
    let found = BROKERS.into_iter().find(|program| runs(program));
    if let Some(broker) = found.filter(|_| runs(SUBSCRIBER)) {
        return Some(broker);
    }
    assert!(
        std::env::var_os("CI").is_none(),
        "no mosquitto: apt-get install mosquitto mosquitto-clients"
    );
    println!("skipped: no mosquitto is installed");
    None
}

/// A broker on a port of its own.
struct Broker {
    program: &'static str,
    dir: tempfile::TempDir,
    port: u16,
    child: Option<Child>,
}

impl Broker {
    /// One that lets everybody in, or only the user "boat" with the password "aboard".
    fn new(is_locked: bool) -> Option<Self> {
        let program = program()?;
        let dir = tempfile::tempdir().unwrap();
        let free = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        let port = free.local_addr().unwrap().port();
        let users = dir.path().join("users");
        let locks = if is_locked {
            std::fs::write(&users, "boat:aboard\n").unwrap();
            let hashing = Command::new("mosquitto_passwd")
                .arg("-U")
                .arg(&users)
                .status();
            assert!(hashing.unwrap().success());
            format!("allow_anonymous false\npassword_file {}", users.display())
        } else {
            "allow_anonymous true".to_owned()
        };
        // Without it a broker that root starts could not read its file of users.
        let settings =
            format!("user root\nlistener {port} 127.0.0.1\n{locks}\npersistence false\n");
        std::fs::write(dir.path().join("broker.conf"), settings).unwrap();
        drop(free);
        let mut broker = Self {
            program,
            dir,
            port,
            child: None,
        };
        broker.start();
        Some(broker)
    }

    fn start(&mut self) {
        let child = Command::new(self.program)
            .arg("-c")
            .arg(self.dir.path().join("broker.conf"))
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn();
        self.child = Some(child.unwrap());
    }

    fn stop(&mut self) {
        if let Some(mut child) = self.child.take() {
            child.kill().unwrap();
            child.wait().unwrap();
        }
    }

    fn settings(&self, login_file: Option<PathBuf>) -> MqttSettings {
        MqttSettings {
            broker: Aboard {
                host: "127.0.0.1".to_owned(),
                port: self.port,
            },
            prefix: "boat/watch".to_owned(),
            login_file,
            numbers_s: 0.5,
        }
    }

    fn subscriber(&self) -> Subscriber {
        Subscriber::new(self.port)
    }
}

impl Drop for Broker {
    fn drop(&mut self) {
        self.stop();
    }
}

/// Whoever listens to all that is below the prefix.
struct Subscriber {
    child: Child,
    heard: Receiver<String>,
}

#[derive(Debug)]
struct Message {
    is_retained: bool,
    topic: String,
    payload: String,
}

impl Subscriber {
    fn new(port: u16) -> Self {
        let mut child = Command::new(SUBSCRIBER)
            .args(["-h", "127.0.0.1", "-p", &port.to_string(), "-q", "1"])
            .args(["-u", "boat", "-P", "aboard"])
            .args(["-t", "boat/#", "-F", "%r %t %p"])
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let (to, heard) = channel();
        std::thread::spawn(move || {
            for line in lines.map_while(Result::ok) {
                // Whoever no longer listens does not mind.
                let _ = to.send(line);
            }
        });
        Self { child, heard }
    }

    fn hears(&self, topic: &str, is_it: impl Fn(&Message) -> bool) -> Message {
        loop {
            let line = self.heard.recv_timeout(PATIENCE).expect(topic);
            let mut parts = line.splitn(3, ' ');
            let mut next = || parts.next().unwrap().to_owned();
            let message = Message {
                is_retained: next() == "1",
                topic: next(),
                payload: next(),
            };
            if message.topic == format!("boat/watch/{topic}") && is_it(&message) {
                return message;
            }
        }
    }
}

impl Drop for Subscriber {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn json(message: &Message) -> Value {
    serde_json::from_str(&message.payload).unwrap()
}

fn works(now: &OutletNow) -> bool {
    now.state == OutletState::Working && now.sent > 0
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_so_is_there_for_whoever_comes_later() {
    let Some(broker) = Broker::new(false) else {
        return;
    };
    let mut boat = Boat::new(None, Some(&broker.settings(None)));
    boat.shows(1.0, vec![flying(3)]);
    boat.reports(works).await;
    boat.shows(2.0, vec![flying(4)]);
    boat.reports(|now| now.sent == 2).await;
    let late_comer = broker.subscriber();
    let told = late_comer.hears("advisories", |message| message.is_retained);
    let told = json(&told);
    assert_eq!(told["revision"], 2);
    assert_eq!(
        told["advisories"][0],
        serde_json::to_value(flying(4)).unwrap()
    );
    let numbers = late_comer.hears("numbers", |_| true);
    let numbers = json(&numbers);
    // As the invented boat of tests/page/invented.rs has it.
    assert_eq!(numbers["deck"]["kite_line_out_m"], 70.0);
    assert_eq!(numbers["vessel"]["speed_water_mps"]["value"], 3.1);
    assert!(numbers["chances"].is_array(), "{numbers}");
    let subscriber = broker.subscriber();
    subscriber.hears("availability", |message| {
        message.is_retained && ["online", "late"].contains(&message.payload.as_str())
    });
    // Pictures stop, come again, and the boat ends.
    subscriber.hears("availability", |message| message.payload == "late");
    boat.shows(9.0, vec![flying(4)]);
    subscriber.hears("availability", |message| message.payload == "online");
    boat.shutdown.cancel();
    boat.outlets.end().await;
    subscriber.hears("availability", |message| message.payload == "offline");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_broker_that_starts_anew_is_told_anew() {
    let Some(mut broker) = Broker::new(false) else {
        return;
    };
    let mut boat = Boat::new(None, Some(&broker.settings(None)));
    boat.shows(1.0, vec![flying(1)]);
    boat.reports(works).await;
    broker.stop();
    let now = boat.reports(|now| now.state == OutletState::Failing).await;
    let cause = now.cause.unwrap();
    assert!(cause.contains("does the broker run there?"), "{cause}");
    boat.shows(2.0, vec![flying(2)]);
    boat.shows(3.0, vec![flying(3)]);
    // It has kept nothing: all that is there came after.
    broker.start();
    let now = boat.reports(works).await;
    assert!(now.failed >= 1, "{now:?}");
    let subscriber = broker.subscriber();
    let told = json(&subscriber.hears("advisories", |_| true));
    assert_eq!(told["advisories"][0]["revision"], 3);
    subscriber.hears("availability", |_| true);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_wrong_password_is_told_and_cured_without_a_restart() {
    let Some(broker) = Broker::new(true) else {
        return;
    };
    let login = broker.dir.path().join("login");
    std::fs::write(&login, "boat\nnot-aboard\n").unwrap();
    let mut boat = Boat::new(None, Some(&broker.settings(Some(login.clone()))));
    boat.shows(1.0, vec![flying(1)]);
    // The broker may not listen yet at the first try.
    let refused = |now: &OutletNow| {
        let cause = now.cause.as_deref().unwrap_or_default();
        cause.contains("it refuses user and password") && !cause.contains("not-aboard")
    };
    boat.reports(refused).await;
    std::fs::write(&login, "boat\naboard\n").unwrap();
    boat.reports(works).await;
    let told = broker.subscriber().hears("advisories", |_| true);
    assert!(told.is_retained);
}

fn write_boat(dir: &Path, port: u16) -> PathBuf {
    let mqtt = format!("[mqtt]\nbroker = \"127.0.0.1:{port}\"\nprefix = \"boat/watch\"\n");
    let text = quick_boat("kind = \"udp\"\nbind = \"127.0.0.1:0\"", &mqtt);
    let settings = dir.join("boat.toml");
    let mut file = std::fs::File::create(&settings).unwrap();
    file.write_all(text.as_bytes()).unwrap();
    settings
}

#[test]
fn the_last_will_of_a_killed_program_is_told_and_its_next_run_takes_it_back() {
    let Some(broker) = Broker::new(false) else {
        return;
    };
    let settings = write_boat(broker.dir.path(), broker.port);
    let run = ["run", "--settings", settings.to_str().unwrap()];
    let mut killed = Started::unheard(&run);
    let subscriber = broker.subscriber();
    let online = |message: &Message| message.payload == "online";
    let offline = |message: &Message| message.payload == "offline";
    subscriber.hears("availability", online);
    killed.child.kill().unwrap();
    subscriber.hears("availability", offline);
    let next = Started::unheard(&run);
    subscriber.hears("availability", online);
    // What stays there is what a late-comer finds.
    broker.subscriber().hears("availability", online);
    told_to_end(next);
    subscriber.hears("availability", offline);

    // `check` tries the broker, publishes nothing, and says what is wrong.
    let check = |path: &Path| {
        let output = Command::new(env!("CARGO_BIN_EXE_skimwatch"))
            .args(["check", "--listen", "0.1", "--settings"])
            .arg(path)
            .output()
            .unwrap();
        String::from_utf8(output.stdout).unwrap()
    };
    assert!(
        check(&settings).contains("mqtt: 127.0.0.1"),
        "it is reached"
    );
    let nobody = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let free = nobody.local_addr().unwrap().port();
    drop(nobody);
    let said = check(&write_boat(broker.dir.path(), free));
    assert!(said.contains("does the broker run there?"), "{said}");
}
