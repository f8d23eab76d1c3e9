//! What must be in sight without scrolling, and labels that lie on no other.

use skimwatch::engine::Snapshot;

use crate::browser::{Browser, browser_found};
use crate::invented::{MOMENTS, START};
use crate::modelled;
use crate::room::{LIVE, Room};

/// Asserts that all of a selector are there and in sight: above the bar, or left of it.
async fn in_sight(browser: &Browser, place: &str, selector: &str, at_least: usize) {
    let script = format!(
        "const bar = document.getElementById('bar').getBoundingClientRect();
        const upright = bar.width > innerWidth / 2;
        const foot = upright ? bar.top : innerHeight;
        const edge = upright ? innerWidth : bar.left;
        const all = [...document.querySelectorAll(\"{selector}\")].filter(e => e.offsetParent !== null);
        return [all.length, all.map(e => [e, e.getBoundingClientRect()])
            .filter(([e, box]) => box.bottom > foot + 1 || box.right > edge + 1 || box.top < -1)
            .map(([e, box]) => e.textContent + ': ' + Math.round(box.bottom) + ' of ' + Math.round(foot))]"
    );
    let answer = browser.run(&script).await;
    assert!(
        answer[0].as_u64().unwrap() as usize >= at_least,
        "{place}: {selector} is not there"
    );
    assert_eq!(
        answer[1],
        serde_json::json!([]),
        "{place}: {selector} is cut off"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn what_presses_is_in_sight_without_scrolling() {
    if !browser_found() {
        return;
    }
    let room = Room::open("advice", 0).await;
    let browser = Browser::start().await;
    for (width, height) in [(390, 844), (844, 390)] {
        browser.screen(width, height).await;
        browser.open(&room.base).await;
        browser.wait(LIVE).await;
        for moment in ["advice", "alarm", "take", "danger", "by-eye", "shift"] {
            room.show_on(&browser, moment).await;
            let place = format!("/ {width}x{height} {moment}");
            let order = "#card .verb, #card .check, #card .which, #card #start-count, #card .why";
            in_sight(&browser, &place, order, 2).await;
            in_sight(&browser, &place, "#card [data-answer]", 0).await;
            in_sight(&browser, &place, "[data-bait]", 3).await;
        }
        browser.open(&format!("{}/helm", room.base)).await;
        browser.wait(LIVE).await;
        for moment in [
            "advice", "alarm", "calm", "danger", "by-eye", "turn", "made",
        ] {
            room.show_on(&browser, moment).await;
            let place = format!("/helm {width}x{height} {moment}");
            in_sight(
                &browser,
                &place,
                "[data-turn], [data-start], [data-rate]",
                14,
            )
            .await;
            in_sight(&browser, &place, "#trouble .order", 0).await;
        }
    }
    room.assert_clean(&browser).await;
}

/// Texts of drawings that touch each other.
pub const COLLIDING: &str = "return [...document.querySelectorAll('svg')].flatMap(svg => {
    const boxes = [...svg.querySelectorAll('text')].map(text => [text.textContent, text.getBoundingClientRect()]);
    return boxes.flatMap(([a, p], i) => boxes.slice(i + 1)
        .filter(([b, q]) => Math.min(p.right, q.right) - Math.max(p.left, q.left) > 1
            && Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top) > 5)
        .map(([b]) => a + ' on ' + b));
})";

#[tokio::test(flavor = "multi_thread")]
async fn labels_of_the_drawings_lie_on_no_other() {
    if !browser_found() {
        return;
    }
    let room = Room::open("advice", 0).await;
    let browser = Browser::start().await;
    let modelled: Vec<Snapshot> = [-60.0, 60.0, 120.0]
        .into_iter()
        .map(|by_deg| modelled::moment(by_deg, START))
        .collect();
    for page in ["/", "/helm"] {
        browser.open(&format!("{}{page}", room.base)).await;
        browser.wait(LIVE).await;
        for (width, height) in [(320, 640), (390, 844), (844, 390)] {
            browser.screen(width, height).await;
            for moment in MOMENTS {
                room.show_on(&browser, moment).await;
                browser.drawn().await;
                let found = browser.run(COLLIDING).await;
                assert_eq!(found, serde_json::json!([]), "{page} {width} {moment}");
            }
            for (number, snapshot) in modelled.iter().enumerate() {
                let shown = snapshot.clone();
                room.show_with("calm", move |now| {
                    let at = now.at;
                    *now = shown.clone();
                    now.at = at;
                });
                room.is_on(&browser).await;
                browser.drawn().await;
                let found = browser.run(COLLIDING).await;
                assert_eq!(
                    found,
                    serde_json::json!([]),
                    "{page} {width} modelled {number}"
                );
            }
        }
    }
    browser.open(&room.base).await;
    browser.wait(LIVE).await;
    room.show_on(&browser, "advice").await;
    browser
        .wait("document.getElementById('rig-view').textContent.includes('bite zone')")
        .await;
}
