//! From the harbour to the kite at home, in the built program on both pages: an invented boat on a
//! straight course sends its instruments over TCP at the pace of life, and all that the crew says
//! is tapped. What the other tests show part by part hangs together here.

use std::io::{BufWriter, Write};
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::time::{Duration, Instant};

use serde_json::Value;
use skimwatch::scene::{Script, demo_day, play};
use skimwatch::settings;
use skimwatch::time::Millis;

use crate::browser::{Browser, browser_found};
use crate::room::LIVE;
use crate::started::{Started, quick_boat};

/// A small machine under load forecasts slowly.
pub const PATIENCE: Duration = Duration::from_secs(150);
pub const DEMO: &str = include_str!("../../config/demo.toml");

/// Sends a day's instruments to whoever calls, each sentence when it is due, until the caller goes.
pub fn instruments() -> std::net::SocketAddr {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = listener.local_addr().unwrap();
    let rig = settings::parse(DEMO, "demo.toml").unwrap().rig.parameters;
    std::thread::spawn(move || {
        let Ok((caller, _)) = listener.accept() else {
            return;
        };
        let start = Millis(chrono::Utc::now().timestamp_millis());
        let day = demo_day(start, &rig).unwrap();
        let straight = Script {
            duration_s: 900.0,
            turns: Vec::new(),
            shifts: Vec::new(),
            moves: Vec::new(),
            says: Vec::new(),
            bait_reports_every_s: None,
            ..day
        };
        let began = Instant::now();
        let _ = send(caller, start, began, &play(&straight).unwrap().lines);
    });
    address
}

fn send(
    caller: TcpStream,
    start: Millis,
    began: Instant,
    lines: &[(Millis, String)],
) -> std::io::Result<()> {
    let mut out = BufWriter::new(caller);
    for (at, line) in lines.iter().filter(|(_, line)| !line.starts_with("$P")) {
        let due = Duration::from_millis(u64::try_from(at.0 - start.0).unwrap_or(0));
        while began.elapsed() < due {
            out.flush()?;
            std::thread::sleep(Duration::from_millis(50));
        }
        write!(out, "{line}\r\n")?;
    }
    out.flush()
}

pub fn run(dir: &Path, feed: std::net::SocketAddr) -> Started {
    let path = dir.join("boat.toml");
    let text = quick_boat(
        &format!("kind = \"tcp-client\"\naddress = \"{feed}\""),
        &format!("[record]\ndir = {dir:?}\n"),
    );
    std::fs::write(&path, text).unwrap();
    Started::unheard(&["run", "--settings", path.to_str().unwrap()])
}

/// Mate's phone upright, helm's on its side.
struct Phones {
    mate: Browser,
    helm: Browser,
    base: String,
    shots: usize,
}

impl Phones {
    async fn both_say(&mut self, name: &str, mate: &str, helm: &str) {
        for (phone, place, words) in [(&self.mate, "card", mate), (&self.helm, "trouble", helm)] {
            let shown = format!(
                "document.getElementById('{place}').innerText.replaceAll('\u{a0}', ' ').includes('{words}')"
            );
            phone.wait_for(&shown, PATIENCE).await;
            // Lines that a launch, a fish or the way home has taken over get no orders for the bait.
            let others = phone.text("#others").await;
            let orders = others.contains("LET OUT") || others.contains("WIND IN");
            assert!(!orders, "{name}: {others}");
            let top =
                format!("document.getElementById('{place}').getBoundingClientRect().top >= 0");
            phone.wait(&top).await;
        }
        self.look(name).await;
    }

    /// Pictures for whoever wants to look: `SHOTS=dir`.
    async fn look(&mut self, name: &str) {
        let Some(folder) = std::env::var_os("SHOTS") else {
            return;
        };
        self.shots += 1;
        for (phone, who) in [(&self.mate, "mate"), (&self.helm, "helm")] {
            let file = format!("day-{:02}-{name}-{who}.png", self.shots);
            let picture = phone.picture(false).await;
            std::fs::write(Path::new(&folder).join(file), picture).unwrap();
        }
    }

    /// A tap on a button that waits for its place on the screen; the page lets a wet thumb rest
    /// between two of them.
    async fn tap(&self, on: &Browser, selector: &str) {
        on.wait_for(&format!("document.querySelector(\"{selector}\")"), PATIENCE)
            .await;
        let rested = on.run("return performance.now() + 1600").await;
        on.wait(&format!("performance.now() > {rested}")).await;
        on.tap(selector).await;
    }

    async fn state(&self) -> Value {
        let answer = reqwest::get(format!("{}/v1/state", self.base)).await;
        answer.unwrap().json().await.unwrap()
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn from_harbour_to_kite_home() {
    if !browser_found() {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let program = run(dir.path(), instruments());
    let mut phones = Phones {
        mate: Browser::start().await,
        helm: Browser::start().await,
        base: program.base.clone(),
        shots: 0,
    };
    phones.mate.screen(390, 844).await;
    phones.helm.screen(844, 390).await;
    phones.helm.open(&format!("{}/helm", phones.base)).await;
    phones.helm.wait_for(LIVE, PATIENCE).await;

    in_the_harbour(&mut phones).await;
    launch(&mut phones).await;
    strike(&mut phones).await;
    kite_home(&mut phones).await;
    for phone in [&phones.mate, &phones.helm] {
        let complaints = phone.complaints().await;
        assert!(complaints.is_empty(), "{complaints:#?}");
    }
}

/// The day is typed and checked, and the launch begins for it.
async fn in_the_harbour(phones: &mut Phones) {
    phones.mate.open(&format!("{}/rig", phones.base)).await;
    phones.mate.wait_for(LIVE, PATIENCE).await;
    phones
        .mate
        .wait_for("document.querySelector('#locker .speed-unit')", PATIENCE)
        .await;
    for (field, typed) in [("wind", "15"), ("gust", "18"), ("speed", "6")] {
        let empty = format!("document.getElementById('locker-{field}').value = ''");
        phones.mate.run(&empty).await;
        phones
            .mate
            .type_into(&format!("#locker-{field}"), typed)
            .await;
    }
    phones.mate.tap("#locker-check").await;
    let checked = "document.getElementById('locker-best')";
    phones.mate.wait_for(checked, PATIENCE).await;
    phones.look("harbour").await;
    phones.mate.tap("#launch-begin").await;
    phones.mate.tap("#launch-begin").await;
    let begun = "document.querySelector('#launch a')?.offsetParent";
    phones.mate.wait_for(begun, PATIENCE).await;
}

/// Every step is answered as it is asked, and the forecast begins by itself.
async fn launch(phones: &mut Phones) {
    phones.mate.open(&phones.base).await;
    phones.mate.wait_for(LIVE, PATIENCE).await;
    let mut step = 1;
    loop {
        let card = format!("Step {step} of");
        phones.both_say("launch", &card, "LAUNCHING").await;
        let is_last = phones.mate.text("#launch-done").await.contains("SKIPS");
        phones.tap(&phones.mate, "#launch-done").await;
        if is_last {
            break;
        }
        step += 1;
        assert!(step < 30);
    }
    assert!(step > 8, "{step}");
    let forecast = "document.querySelector('#height-chart svg path.band')";
    phones.mate.wait_for(forecast, PATIENCE).await;
    let deck = phones.state().await["deck"].clone();
    assert_eq!(deck["launch"], Value::Null);
    // Wanted out by the launch.
    assert!(
        deck["kite_line_out_m"].as_f64().unwrap() > 60.0,
        "{deck:#?}"
    );
    phones.look("skipping").await;
}

/// A bite, a fish, the kite in on its heading, and the fish landed.
async fn strike(phones: &mut Phones) {
    phones.tap(&phones.mate, "#bite").await;
    phones
        .both_say("bite", "WATCH THE MARKER", "Keep way on ahead")
        .await;
    phones.tap(&phones.mate, "[data-strike=marker_down]").await;
    phones
        .both_say("down", "WIND FAST", "Angler: Wind fast")
        .await;
    phones.tap(&phones.mate, "[data-strike=tight]").await;
    phones
        .both_say("drag", "SET THE DRAG", "Angler: Set the drag")
        .await;
    phones.tap(&phones.mate, "[data-strike=drag_set]").await;
    phones.tap(&phones.mate, "[data-fish='135']").await;
    phones
        .both_say("heading", "TURN FOR THE KITE", "TURN FOR THE KITE")
        .await;
    let heading = "return document.querySelector('.card .which').innerText";
    let (mate, helm) = (
        phones.mate.run(heading).await,
        phones.helm.run(heading).await,
    );
    assert_eq!(mate, helm);
    phones.tap(&phones.helm, "[data-strike=turned]").await;
    phones
        .both_say("kite-in", "WIND IN THE KITE", "Mate: Wind in the kite")
        .await;
    phones.tap(&phones.mate, "[data-strike=kite_in]").await;
    phones
        .both_say("angler", "ANGLER ON", "Steer as the angler asks")
        .await;
    phones.tap(&phones.mate, "[data-strike=angler_on]").await;
    phones
        .both_say("fish-on", "FISH ON", "Angler: Fish on")
        .await;
    phones.tap(&phones.mate, "[data-strike=landed]").await;
    phones.both_say("landed", "local rules", "LANDED").await;
}

/// The bait is out once more, nothing bites, and the kite comes home.
async fn kite_home(phones: &mut Phones) {
    phones.tap(&phones.mate, "#bait-again").await;
    phones
        .helm
        .wait_for(
            "document.getElementById('trouble').hidden || !document.getElementById('trouble').innerText.includes('LANDED')",
            PATIENCE,
        )
        .await;
    phones.tap(&phones.mate, "#kite-home").await;
    phones
        .both_say("home", "BAIT IN FIRST", "Hold heading and speed")
        .await;
    phones.tap(&phones.mate, "[data-strike=bait_in]").await;
    phones
        .both_say("home-heading", "TURN FOR THE KITE", "TURN FOR THE KITE")
        .await;
    phones.tap(&phones.mate, "[data-strike=turned]").await;
    phones
        .both_say("home-in", "WIND IN THE KITE", "Mate: Wind in the kite")
        .await;
    phones.tap(&phones.mate, "[data-strike=kite_in]").await;
    phones
        .both_say("home-is-in", "KITE IS IN", "KITE IS IN")
        .await;
}
