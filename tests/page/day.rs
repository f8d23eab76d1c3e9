//! The day page: a day with two bites in every look and both ways up, its figures against those of the
//! interface, earlier days, all days together; and today's page of the built program, which goes on.

use serde_json::Value;
use skimwatch::logbook::{LogbookNow, LogbookState};

use crate::browser::{Browser, browser_found};
use crate::invented::START;
use crate::layout::COLLIDING;
use crate::logged;
use crate::pages::{LOW, OVERFLOW};
use crate::room::{LIVE, Room, on_a_phone};
use crate::walk::think_in;
use crate::whole_day;

const DRAWN: &str =
    "document.querySelector('#timeline svg') && document.querySelector('#track svg')";
const COUNTED: &str = "document.querySelectorAll('#sums li').length > 0";
const HELD: [(u32, u32); 2] = [(390, 844), (844, 390)];
const LOOKS: [&str; 3] = ["day", "dusk", "night"];

/// A room whose logbook holds the invented days; the last of them is under way.
async fn room_with_days(dir: &std::path::Path) -> Room {
    let room = Room::open("calm", 0).await;
    let path = logged::logbook(dir, START);
    room.logbook.send_replace(LogbookNow {
        state: LogbookState::Keeping,
        file: Some(path.display().to_string()),
        ..LogbookNow::default()
    });
    room
}

async fn get(room: &Room, path: &str) -> Value {
    let answer = reqwest::get(format!("{}{path}", room.base)).await.unwrap();
    assert!(answer.status().is_success(), "{path}");
    answer.json().await.unwrap()
}

/// Pictures for whoever wants to look: `SHOTS=dir`.
async fn shoot(browser: &Browser, name: &str) {
    if let Some(folder) = std::env::var_os("SHOTS") {
        browser
            .run("document.getElementById('dock').style.position = 'static'")
            .await;
        let picture = browser.picture(true).await;
        let file = std::path::Path::new(&folder).join(format!("{name}.png"));
        std::fs::write(file, picture).unwrap();
        browser
            .run("document.getElementById('dock').style.position = ''")
            .await;
    }
}

/// "5 h 12 min", as the page says it.
fn hours(seconds: f64) -> String {
    let minutes = (seconds / 60.0).round() as u64;
    match (minutes / 60, minutes % 60) {
        (0, m) => format!("{m} min"),
        (h, 0) => format!("{h} h"),
        (h, m) => format!("{h} h {m} min"),
    }
}

/// Seconds of the rows that fit.
fn time_s(rows: &Value, fits: impl Fn(&Value) -> bool) -> f64 {
    let rows = rows.as_array().unwrap().iter();
    rows.filter(|row| fits(row))
        .map(|row| row["time_s"].as_f64().unwrap())
        .sum()
}

fn percent(share: f64) -> String {
    format!("{} %", (100.0 * share).round())
}

#[tokio::test(flavor = "multi_thread")]
async fn a_day_with_two_bites_shows_the_figures_of_the_interface() {
    if !browser_found() {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let room = room_with_days(dir.path()).await;
    let browser = Browser::start().await;
    browser.screen(390, 844).await;
    browser.open(&format!("{}/day", room.base)).await;
    browser.wait(LIVE).await;
    browser.wait(DRAWN).await;
    // What is shown without a day asked for is the latest.
    let days = get(&room, "/v1/days").await;
    let day = days[0]["day"].as_str().unwrap();
    assert_eq!(day, "2026-03-14");
    let answer = get(&room, &format!("/v1/days/{day}")).await;
    let figures = &answer["figures"];
    assert_eq!(figures["bites"].as_array().unwrap().len(), 2);

    let head = browser.text("#headline").await;
    let by_model = &figures["by_model"];
    let skipping = |row: &Value| row["bait"] == "skipping";
    let all_s = time_s(by_model, |_| true);
    let share = percent(time_s(by_model, skipping) / all_s);
    let told = &figures["by_crew"];
    let told_share = percent(time_s(told, skipping) / time_s(told, |_| true));
    let rate = |value: &Value| format!("{:.1} an hour", value.as_f64().unwrap());
    for expected in [
        hours(figures["fishing_s"].as_f64().unwrap()),
        format!("{share}\nof {}", hours(all_s)),
        format!("{told_share}\nof"),
        rate(&figures["bites_per_hour"]),
        rate(&figures["corrections"]["per_hour"]),
        format!("{} of the main line", figures["corrections"]["main"]),
    ] {
        assert!(head.contains(&expected), "{expected}: {head}");
    }

    let sailing = browser.text("#sailing").await;
    for (key, word, name) in [
        ("point_of_sail", "beam_reach", "Beam reach"),
        ("tack", "port", "Over the port side"),
        ("tack", "starboard", "Over the starboard side"),
    ] {
        let own = |row: &Value| row[key] == word;
        let time = hours(time_s(by_model, own));
        let line = sailing.lines().skip_while(|line| !line.starts_with(name));
        let line = line.skip(1).find(|line| !line.is_empty()).unwrap();
        assert!(line.starts_with(&time), "{name}: {time}: {sailing}");
    }

    let rates = browser.text("#rates").await;
    assert!(
        rates.contains("2 bites on this day: too few to compare"),
        "{rates}"
    );
    let one = figures["bite_rates"].as_array().unwrap().iter();
    let rows = one.filter(|row| row["against"] == "kite_elevation_deg");
    for row in rows {
        let (from, to) = (row["from"].as_f64().unwrap(), row["to"].as_f64().unwrap());
        let time = hours(row["fishing_s"].as_f64().unwrap());
        let line = format!("{from} to {to}°\n{time}");
        let lines: Vec<_> = rates.lines().filter(|line| !line.is_empty()).collect();
        assert!(lines.join("\n").contains(&line), "{line}: {rates}");
    }

    let advice = browser.text("#advice").await;
    for row in figures["advice"]["told"].as_array().unwrap() {
        if row["trouble"] == "all" && row["events"] != 0 {
            let events = row["events"].as_u64().unwrap();
            let noun = if events == 1 { "trouble" } else { "troubles" };
            let expected = format!("{} of {events} {noun} foretold", row["detected"]);
            assert!(advice.contains(&expected), "{expected}: {advice}");
        }
    }

    let kites = browser.text("#kites").await;
    let reports = &figures["kites"][0]["reports"];
    for expected in [
        "light wind (1.6 m²)".to_owned(),
        format!("From {reports} reports of yours"),
        "Lift of the kite: 9 % more than entered, give or take 5 %".to_owned(),
        "Main line out: 3 % less than counted".to_owned(),
        "points 2.4° too far clockwise".to_owned(),
        "Your trim: 12 % of the bait less in the water than entered, give or take 4 %".to_owned(),
    ] {
        assert!(kites.contains(&expected), "{expected}: {kites}");
    }
    assert!(
        !kites.contains("Drag of the kite"),
        "nothing was learnt of it: {kites}"
    );

    browser
        .run("document.querySelectorAll('details').forEach(part => { part.open = true; })")
        .await;
    let lists = browser.text("#lists").await;
    let list_of = |key: &str| answer["timeline"][key].as_array().unwrap().len();
    for expected in [
        "B1 06:56".to_owned(),
        "B2 08:30".to_owned(),
        "landed".to_owned(),
        format!("{} warnings and notes", list_of("advisories")),
        format!("{} turns, 0 announced", list_of("made_turns")),
        format!("{} lines moved", list_of("moves")),
        "1 instrument gap".to_owned(),
    ] {
        assert!(lists.contains(&expected), "{expected}: {lists}");
    }
    let bites_drawn = "return [...document.querySelectorAll('#timeline text, #track text')]
        .filter(t => ['B1', 'B2'].includes(t.textContent)).length";
    assert_eq!(browser.run(bites_drawn).await, 4);
    let note = browser.text("#note").await;
    assert!(
        note.contains("Today, up to 10:00") && note.contains("phone's clock"),
        "{note}"
    );
    room.assert_clean(&browser).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn it_fits_and_is_accessible_both_ways_up_in_every_look() {
    if !browser_found() {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let room = room_with_days(dir.path()).await;
    let browser = Browser::start().await;
    let checker = std::env::var_os("AXE").map(|path| std::fs::read_to_string(path).unwrap());
    let mut found = Vec::new();
    for ((width, height), unit) in HELD.into_iter().zip(["m", "ft"]) {
        think_in(&room, unit).await;
        browser.screen(width, height).await;
        browser.open(&format!("{}/day", room.base)).await;
        browser.wait(LIVE).await;
        browser.wait(DRAWN).await;
        browser.tap("#season-open").await;
        browser.wait(COUNTED).await;
        for open in [false, true] {
            browser
                .run(&format!(
                    "document.querySelectorAll('details').forEach(part => {{ part.open = {open}; }})"
                ))
                .await;
            for scale in ["100%", "200%"] {
                browser
                    .run(&format!(
                        "document.documentElement.style.fontSize = '{scale}'"
                    ))
                    .await;
                browser.drawn().await;
                let place = format!("{width}x{height} open {open} {scale}");
                for (what, script) in [
                    ("overflows", OVERFLOW),
                    ("is missed by a wet thumb", LOW),
                    ("collides", COLLIDING),
                ] {
                    let wrong = browser.run(script).await;
                    assert_eq!(wrong, serde_json::json!([]), "{place} {what}");
                }
            }
            browser
                .run("document.documentElement.style.fontSize = ''")
                .await;
        }
        let text = browser.text("main").await;
        assert!(
            text.contains(&format!(
                "main line {}",
                if unit == "m" { "118 m" } else { "387 ft" }
            )),
            "{text}"
        );
        if let Some(checker) = &checker {
            let load = serde_json::json!({"expression": checker});
            browser.devtools("Runtime.evaluate", load).await;
            let place = format!("day {width}x{height}");
            found.extend(crate::accessible::violations(&browser, &place).await);
        }
        for look in LOOKS {
            browser
                .run(&format!("document.documentElement.dataset.look = '{look}'"))
                .await;
            browser.drawn().await;
            shoot(&browser, &format!("day-{look}-{width}x{height}")).await;
        }
    }
    assert!(found.is_empty(), "{found:#?}");
    if checker.is_none() {
        eprintln!("SKIPPED in part: set AXE to check accessibility");
    }
    room.assert_clean(&browser).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn earlier_days_are_chosen_and_all_are_summed() {
    if !browser_found() {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let room = room_with_days(dir.path()).await;
    let browser = Browser::start().await;
    browser.screen(390, 844).await;
    browser.open(&format!("{}/day", room.base)).await;
    browser.wait(DRAWN).await;
    let later = "return document.getElementById('later').hasAttribute('href')";
    assert_eq!(
        browser.run(later).await,
        false,
        "nothing is later than the latest"
    );
    browser.tap("#earlier").await;
    browser
        .wait("location.search === '?day=2026-03-13' && document.querySelector('#timeline svg')")
        .await;
    let note = browser.text("#note").await;
    assert!(note.starts_with("From 06:00 to 10:00"), "{note}");
    // One of forty days before lies four hours west.
    browser.tap("#days summary").await;
    browser.tap("#day-list [href='/day?day=2026-02-02']").await;
    browser
        .wait("location.search === '?day=2026-02-02' && document.querySelector('#timeline svg')")
        .await;
    let note = browser.text("#note").await;
    assert!(
        note.starts_with("From 02:00 to 06:00") && note.contains("ship's, UTC−4"),
        "{note}"
    );
    browser
        .open(&format!("{}/day?day=2001-01-01", room.base))
        .await;
    browser
        .wait(
            "document.getElementById('not-read').innerText.includes('holds nothing of 2001-01-01')",
        )
        .await;

    browser.open(&format!("{}/day", room.base)).await;
    browser.wait(DRAWN).await;
    browser.tap("#season-open").await;
    browser.wait(COUNTED).await;
    let sums = get(&room, "/v1/days/sums").await;
    assert_eq!(
        (&sums["days"], &sums["counted_days"]),
        (&5.into(), &5.into())
    );
    let shown = browser.text("#sums").await;
    for sum in sums["sums"].as_array().unwrap() {
        let days = sum["days"].as_u64().unwrap();
        let noun = if days == 1 { "day" } else { "days" };
        let time = hours(sum["fishing_s"].as_f64().unwrap());
        let bites = sum["bites"].as_u64().unwrap();
        let behind = format!("{days} {noun}, {time} fished, {bites} bites");
        assert!(shown.contains(&behind), "{behind}: {shown}");
    }
    for expected in [
        "all round (1.2 m²)",
        "Too few days to compare: three at least.",
        "Force 4: 10.7 kn to 15.6 kn",
        "March 2026",
        "13 bites, ",
    ] {
        assert!(shown.contains(expected), "{expected}: {shown}");
    }
    // Nothing is claimed of a kite with one day.
    let claims = "return [...document.querySelectorAll('#sums li')]
        .filter(li => li.textContent.startsWith('all round'))[0].textContent";
    let claims = browser.run(claims).await;
    assert!(!claims.as_str().unwrap().contains('%'), "{claims}");
    // A day that is not there is a problem, which the console tells of, too.
    crate::room::assert_own_host(&browser, &room.base).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn without_a_logbook_the_page_says_why() {
    let Some((room, browser)) = on_a_phone("calm", "/day").await else {
        return;
    };
    browser
        .wait("document.getElementById('not-read').innerText.includes('keeps no logbook')")
        .await;
    let hidden = "return document.getElementById('parts').hidden && document.getElementById('season').hidden";
    assert_eq!(browser.run(hidden).await, true);
    // What is not there is not asked for.
    room.assert_clean(&browser).await;
    // The pages on deck lead here.
    for page in ["", "/helm"] {
        browser.open(&format!("{}{page}", room.base)).await;
        browser.wait(LIVE).await;
        browser.tap("#looks a[href='/day']").await;
        browser.wait("document.title.endsWith('days')").await;
    }
}

/// The built program: a bite that is tapped comes to the page by itself.
#[tokio::test(flavor = "multi_thread")]
async fn todays_page_goes_on_by_itself() {
    if !browser_found() {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let program = whole_day::run(dir.path(), whole_day::instruments());
    let browser = Browser::start().await;
    browser.screen(390, 844).await;
    browser.open(&format!("{}/day", program.base)).await;
    browser.wait_for(LIVE, whole_day::PATIENCE).await;
    let today = "document.getElementById('note').innerText.includes('Today, up to')";
    browser.wait_for(today, whole_day::PATIENCE).await;
    let bitten = "document.getElementById('lists').innerText.includes('1 bite')";
    assert_eq!(browser.run(&format!("return {bitten}")).await, false);
    browser.tap("#bite").await;
    browser.wait_for(bitten, whole_day::PATIENCE).await;
    let drawn =
        "[...document.querySelectorAll('#timeline text')].some(t => t.textContent === 'B1')";
    browser.wait_for(drawn, whole_day::PATIENCE).await;
    // What cannot be read any more is said to be old.
    drop(program);
    let old = "document.getElementById('not-read').innerText.startsWith('NOT REFRESHED')";
    browser.wait_for(old, whole_day::PATIENCE).await;
}
