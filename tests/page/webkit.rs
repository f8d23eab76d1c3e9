//! The main states and the walk in WebKit, which half of all phones run.

use skimwatch::advice::Priority;
use skimwatch::decode::{BaitState, CrewInput};
use skimwatch::units;

use crate::browser::{Browser, webkit_found};
use crate::room::{LIVE, Room};
use crate::walk::{WAYS, two_days, walk};

#[tokio::test(flavor = "multi_thread")]
async fn webkit_walks_through_the_main_states() {
    if !webkit_found() {
        return;
    }
    let mut room = Room::open("advice", 0).await;
    let browser = Browser::start_webkit().await;
    browser.window(420, 900).await;
    browser.open(&room.base).await;
    // Mistakes of the page have no console here; keep them where the test can see them.
    browser
        .run(
            "window.mistakes = []; addEventListener('error', e => mistakes.push(e.message));
            console.error = (...all) => mistakes.push(all.join(' '))",
        )
        .await;
    browser.wait(LIVE).await;
    browser
        .wait("document.querySelector('#height-chart svg path.band')")
        .await;
    let card = browser.text("#card").await;
    assert!(
        card.contains("LET OUT 4 m") && card.contains("MAIN LINE"),
        "{card}"
    );
    if let Some(folder) = std::env::var_os("SHOTS") {
        let file = std::path::PathBuf::from(folder).join("webkit-mate.png");
        std::fs::write(file, browser.window_picture().await).unwrap();
    }
    // From a number of seconds to a smaller one; on a busy machine only NOW may be left of them.
    let count = "document.getElementById('start-count').textContent";
    let first = browser.run(&format!("return {count}")).await;
    assert!(first == "NOW" || first.as_str().unwrap().contains(char::is_numeric));
    browser
        .wait(&format!("{count} !== {first} || {count} === 'NOW'"))
        .await;
    browser.tap("#seen").await;
    let seen = CrewInput::Acknowledge {
        advisory: "bait-airborne-3".to_owned(),
        priority: Some(Priority::Warning),
    };
    assert_eq!(room.hear().await, seen);
    browser.tap("[data-bait=dragging]").await;
    assert_eq!(room.hear().await, CrewInput::Bait(BaitState::Dragging));
    browser.wait("document.getElementById('undo-button')").await;
    browser.tap("#undo-button").await;
    assert_eq!(room.hear().await, CrewInput::Undo { of: 2 });
    for (moment, words) in [
        ("calm", "NOTHING TO DO"),
        ("no-wind", "NO FORECAST"),
        ("alarm", "LET OUT 5.5 m"),
        ("bite", "BITE!"),
    ] {
        room.show(moment);
        let shown = format!(
            "document.getElementById('card').innerText.replaceAll('\u{a0}', ' ').includes('{words}')"
        );
        browser.wait(&shown).await;
    }
    let overflow = "return document.documentElement.scrollWidth - innerWidth";
    assert!(browser.run(overflow).await.as_f64().unwrap() <= 0.0);
    assert_eq!(browser.run("return mistakes").await, serde_json::json!([]));

    browser.open(&format!("{}/helm", room.base)).await;
    browser.wait(LIVE).await;
    browser.tap("[data-turn='-90']").await;
    browser
        .wait("document.getElementById('preview').innerText.includes('90° to port')")
        .await;
    browser.tap("[data-rate='1.5']").await;
    assert_eq!(
        room.hear().await,
        CrewInput::Turn {
            by: units::degrees(-90.0),
            rate: units::degrees_per_second(1.5),
            in_s: 15.0
        }
    );
    let base = room.base.clone();
    let port = room.stop().await;
    browser
        .wait("document.documentElement.dataset.link === 'lost'")
        .await;
    let room = Room::open("turn", port).await;
    assert_eq!(room.base, base);
    browser.wait(LIVE).await;
    browser.wait("document.getElementById('call-off')").await;
}

/// The walk of Chromium, with every fourth picture: its driver is slow. A real window stands in for
/// the screen that WebKit's driver cannot set; console and network log are not to be had there.
#[tokio::test(flavor = "multi_thread")]
async fn webkit_walks_through_two_invented_days() {
    if !webkit_found() {
        return;
    }
    let days = two_days().await;
    let room = Room::open("calm", 0).await;
    let browser = Browser::start_webkit().await;
    let mut found: Vec<String> = Vec::new();
    for (day, ways) in days.iter().zip(WAYS) {
        for (page, feet, upright) in ways {
            let (width, height) = if upright { (420, 900) } else { (900, 480) };
            browser.window(width, height).await;
            found.extend(walk(&room, &browser, page, feet, day.iter().step_by(4)).await);
        }
    }
    assert!(
        found.is_empty(),
        "{} of them: {:#?}",
        found.len(),
        &found[..found.len().min(10)]
    );
}
