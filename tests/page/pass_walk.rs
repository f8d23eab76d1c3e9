//! A pass over a mark in the built program on both pages: seen by eye, two taps on the dial, the plan
//! accepted, and an invented boat that steers as the helm's page says, until the bait is over the mark.
//! The mate moves the line as the plan in `/v1/state` orders; `marks` tests that the mate's page shows it.

use std::io::Write;
use std::net::TcpListener;
use std::path::Path;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use serde_json::Value;
use skimwatch::decode::Line;
use skimwatch::rig::{Rig, Wind};
use skimwatch::scene::{Gusts, Script, ScriptMove, ScriptTurn, demo_day, play};
use skimwatch::settings;
use skimwatch::time::Millis;

use crate::browser::{Browser, browser_found};
use crate::room::LIVE;
use crate::whole_day::{DEMO, PATIENCE, run};

/// Twice the distance that counts as over the mark.
const NEAR_M: f64 = 30.0;
/// The mate counts aloud while the line moves.
const TOLD_EVERY_M: f64 = 3.0;
/// The whole pass, at the pace of life.
const PASS: Duration = Duration::from_secs(420);

/// The first line of what to steer is on the screen.
const STEERED: &str = "(() => { const { top, bottom } = \
    document.querySelector('#pass .verb').getBoundingClientRect(); \
    return top >= 0 && bottom <= innerHeight; })()";

/// A boat that turns when it is told.
struct Boat {
    began: Instant,
    script: Script,
    lines: Vec<(Millis, String)>,
}

impl Boat {
    fn new() -> Self {
        let rig = settings::parse(DEMO, "demo.toml").unwrap().rig.parameters;
        let start = Millis(chrono::Utc::now().timestamp_millis());
        let demo = demo_day(start, &rig).unwrap();
        // Steady wind in which the kite flies well: chance has little say in how the pass ends.
        let wind = Wind {
            speed_10m_mps: 8.5,
            ..demo.wind
        };
        let script = Script {
            wind,
            gusts: Gusts::default(),
            duration_s: 600.0,
            turns: Vec::new(),
            shifts: Vec::new(),
            moves: Vec::new(),
            says: Vec::new(),
            bait_reports_every_s: None,
            ..demo
        };
        let lines = play(&script).unwrap().lines;
        Self {
            began: Instant::now(),
            script,
            lines,
        }
    }

    fn elapsed_s(&self) -> f64 {
        self.began.elapsed().as_secs_f64()
    }

    /// What is due between two moments.
    fn due(&self, from_s: f64, to_s: f64) -> Vec<String> {
        let since = |at: Millis| at.seconds_since(self.script.start);
        (self.lines.iter())
            .filter(|(at, line)| {
                since(*at) >= from_s && since(*at) < to_s && !line.starts_with("$P")
            })
            .map(|(_, line)| line.clone())
            .collect()
    }
}

/// The same boat with other turns and moves of line to come: noise and gusts stay as they were.
fn other(boat: &Mutex<Boat>, change: impl FnOnce(&mut Script)) {
    let mut script = boat.lock().unwrap().script.clone();
    change(&mut script);
    let lines = play(&script).unwrap().lines;
    let mut boat = boat.lock().unwrap();
    boat.script = script;
    boat.lines = lines;
}

/// Sends its instruments to whoever calls, until the caller goes.
fn instruments(boat: Arc<Mutex<Boat>>) -> std::net::SocketAddr {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = listener.local_addr().unwrap();
    std::thread::spawn(move || {
        let Ok((mut caller, _)) = listener.accept() else {
            return;
        };
        let mut sent_s = 0.0;
        loop {
            std::thread::sleep(Duration::from_millis(50));
            let (now_s, due) = {
                let boat = boat.lock().unwrap();
                let now_s = boat.elapsed_s();
                (now_s, boat.due(sent_s, now_s))
            };
            sent_s = now_s;
            for line in due {
                if write!(caller, "{line}\r\n").is_err() {
                    return;
                }
            }
        }
    });
    address
}

async fn state(base: &str) -> Value {
    let answer = reqwest::get(format!("{base}/v1/state")).await.unwrap();
    answer.json().await.unwrap()
}

async fn tell(base: &str, what: &str, body: &Value) {
    let url = format!("{base}/v1/crew/{what}");
    let answer = reqwest::Client::new().post(url).json(body).send().await;
    assert_eq!(answer.unwrap().status(), 202, "{what}");
}

/// The turns that the plan still orders, as the boat will make them. Their times count from the picture,
/// which may be seconds old.
fn ordered(state: &Value, start: Millis, now_s: f64) -> Vec<ScriptTurn> {
    let pass = &state["pass"];
    let at = chrono::DateTime::parse_from_rfc3339(state["at"].as_str().unwrap()).unwrap();
    let seen_s = Millis(at.timestamp_millis()).seconds_since(start);
    let legs = pass["legs"].as_array().cloned().unwrap_or_default();
    (legs.iter())
        .filter_map(|leg| {
            let in_s = leg["in_s"].as_f64()?;
            let by_rad = leg["by_deg"].as_f64()?.to_radians();
            Some(ScriptTurn {
                start_s: seen_s + in_s,
                by_rad: if leg["side"] == "port" {
                    -by_rad
                } else {
                    by_rad
                },
                rate_rad_s: leg["rate_deg_s"].as_f64()?.to_radians(),
                yaw_time_s: 2.5,
                announced_s: None,
            })
        })
        // What is under way is steered already.
        .filter(|turn| turn.start_s > now_s + 0.5)
        .collect()
}

fn ends_s(turn: &ScriptTurn) -> f64 {
    turn.start_s + turn.by_rad.abs() / turn.rate_rad_s
}

/// The turns made and begun, and then those that are ordered now; `None` when nothing is new.
fn steered(made: &[ScriptTurn], ordered: &[ScriptTurn], now_s: f64) -> Option<Vec<ScriptTurn>> {
    let (begun, coming): (Vec<ScriptTurn>, Vec<ScriptTurn>) = made
        .iter()
        .copied()
        .partition(|turn| turn.start_s <= now_s + 0.5);
    let free_s = begun.last().map_or(0.0, |turn| ends_s(turn) + 1.0);
    let next: Vec<ScriptTurn> = (ordered.iter().copied())
        .filter(|turn| turn.start_s >= free_s)
        .collect();
    let same = |a: &ScriptTurn, b: &ScriptTurn| {
        (a.start_s - b.start_s).abs() < 1.5 && (a.by_rad - b.by_rad).abs() < 0.01
    };
    if next.len() == coming.len() && next.iter().zip(&coming).all(|(a, b)| same(a, b)) {
        return None;
    }
    Some(begun.into_iter().chain(next).collect())
}

/// The move of the main line that is due by the plan, as the mate makes it.
fn due_move(state: &Value, now_s: f64) -> Option<ScriptMove> {
    let orders = state["pass"]["lines"].as_array()?;
    let due = orders
        .iter()
        .find(|order| order["in_s"].as_f64().is_some_and(|s| s <= 0.5))?;
    Some(ScriptMove {
        start_s: now_s,
        line: Line::Main,
        by_m: due["by_m"].as_f64()?,
        over_s: due["over_s"].as_f64()?,
        told: false,
    })
}

async fn look(name: &str, mate: &Browser, helm: &Browser) {
    let Some(folder) = std::env::var_os("SHOTS") else {
        return;
    };
    for (phone, who) in [(mate, "mate"), (helm, "helm")] {
        let picture = phone.picture(false).await;
        std::fs::write(
            Path::new(&folder).join(format!("pass-{name}-{who}.png")),
            picture,
        )
        .unwrap();
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_bait_is_taken_over_a_mark_that_was_seen_by_eye() {
    if !browser_found() {
        return;
    }
    let (mut closest_m, late) = flown().await;
    // While the program is late it corrects nothing, and says so: only then does another pass count.
    if closest_m >= NEAR_M && late {
        closest_m = flown().await.0;
    }
    assert!(closest_m < NEAR_M, "{closest_m:.0} m");
}

/// How near the bait comes to the mark by the model, and whether the program was late on the way.
async fn flown() -> (f64, bool) {
    let dir = tempfile::tempdir().unwrap();
    let boat = Arc::new(Mutex::new(Boat::new()));
    let program = run(dir.path(), instruments(Arc::clone(&boat)));
    let base = program.base.clone();
    let (mate, helm) = (Browser::start().await, Browser::start().await);
    mate.screen(390, 844).await;
    helm.screen(844, 390).await;
    helm.open(&format!("{base}/helm")).await;
    mate.open(&base).await;
    for phone in [&mate, &helm] {
        phone.wait_for(LIVE, PATIENCE).await;
    }
    let main_m = {
        let script = boat.lock().unwrap().script.clone();
        let rig = Rig::new(&script.rig).unwrap();
        let trimmed = script.trimmed_main_line_m(&rig, script.heading_rad, 0.0, 0.25);
        trimmed.unwrap()
    };
    let lines = serde_json::json!({ "kite_line_out_m": 90.0, "main_line_out_m": main_m });
    tell(&base, "lines-out", &lines).await;
    tell(&base, "bait", &serde_json::json!({ "state": "skipping" })).await;
    let forecast = "document.querySelector('#height-chart svg path.band')";
    mate.wait_for(forecast, PATIENCE).await;

    // Birds at eleven o'clock, 300 m.
    helm.wait_for("document.querySelector('#mark-seen summary')", PATIENCE)
        .await;
    helm.tap("#mark-seen summary").await;
    helm.tap("[data-hour='11']").await;
    look("dial", &mate, &helm).await;
    helm.tap("[data-far='300']").await;
    let accept = "document.querySelector('[data-pass=accept]')";
    helm.wait_for(accept, PATIENCE).await;
    // It is in sight, though the thumb was far down the page.
    let top = "document.getElementById('pass').getBoundingClientRect().top >= 0";
    helm.wait(top).await;
    look("offered", &mate, &helm).await;
    helm.tap("[data-pass=accept]").await;
    let shown = "document.getElementById('pass').innerText.includes('accepted')";
    for phone in [&mate, &helm] {
        phone.wait_for(shown, PATIENCE).await;
    }
    // What to steer is in sight, though the thumb was at the foot of the card.
    helm.wait_for(STEERED, PATIENCE).await;

    let (mut states, mut closest_m, mut late) = (Vec::new(), f64::INFINITY, false);
    // What the mate moves, and how much of it is told.
    let mut hands: Option<(ScriptMove, f64)> = None;
    let began = Instant::now();
    let mut pictured = 0;
    loop {
        assert!(began.elapsed() < PASS, "{states:?}, {closest_m:.0} m");
        let now = state(&base).await;
        let pass = &now["pass"];
        let state = pass["state"].as_str().unwrap_or("none").to_owned();
        if states.last() != Some(&state) {
            states.push(state.clone());
            println!("{state}: {}", pass["legs"]);
        }
        late |= now["late"] == true;
        if let Some(off_m) = bait_off_m(&now) {
            closest_m = closest_m.min(off_m);
        }
        if ["passed", "ended", "none"].contains(&state.as_str()) {
            break;
        }
        let (now_s, script) = {
            let boat = boat.lock().unwrap();
            (boat.elapsed_s(), boat.script.clone())
        };
        let coming = ordered(&now, script.start, now_s);
        if let Some(turns) = steered(&script.turns, &coming, now_s) {
            other(&boat, |script| script.turns = turns);
        }
        if let Some((moved, told_m)) = &mut hands {
            let done = ((now_s - moved.start_s) / moved.over_s).min(1.0);
            let more_m = done * moved.by_m - *told_m;
            if more_m.abs() >= TOLD_EVERY_M || done == 1.0 {
                let said = serde_json::json!({ "line": "main", "by_m": more_m });
                tell(&base, "moved", &said).await;
                *told_m += more_m;
            }
            if done == 1.0 {
                hands = None;
            }
        } else if let Some(moved) = due_move(&now, now_s) {
            other(&boat, |script| script.moves.push(moved));
            hands = Some((moved, 0.0));
        }
        if began.elapsed().as_secs() / 20 > pictured {
            pictured += 1;
            look(&format!("{pictured:02}"), &mate, &helm).await;
        }
        tokio::time::sleep(Duration::from_millis(200)).await;
    }
    println!("{states:?}, the bait passed {closest_m:.0} m off by the model, late: {late}");
    look("passed", &mate, &helm).await;
    assert!(states.contains(&"under_way".to_owned()), "{states:?}");
    if closest_m < NEAR_M {
        assert_eq!(states.last().map(String::as_str), Some("passed"));
    }
    for phone in [&mate, &helm] {
        let complaints = phone.complaints().await;
        assert!(complaints.is_empty(), "{complaints:#?}");
    }
    (closest_m, late)
}

/// How far the bait is from the mark, by the model.
fn bait_off_m(now: &Value) -> Option<f64> {
    let number = now["pass"]["mark"].as_u64()?;
    let marks = now["marks"].as_array()?;
    let mark = marks
        .iter()
        .find(|mark| mark["number"].as_u64() == Some(number))?;
    let bait = now["track"]["ahead"].as_array()?.first()?;
    let of = |at: &Value, axis: &str| at[axis].as_f64();
    let east = of(bait, "east_m")? - of(&mark["from_boat"], "east_m")?;
    let north = of(bait, "north_m")? - of(&mark["from_boat"], "north_m")?;
    Some(east.hypot(north))
}
