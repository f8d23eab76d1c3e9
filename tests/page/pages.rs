//! The pages in a real browser: nothing overflows, nothing is asked from anywhere else, old data
//! looks old.

use std::time::Duration;

use crate::browser::{Browser, browser_found};
use crate::invented::MOMENTS;
use crate::room::{LIVE, Room, assert_own_host, on_a_phone};

const SIZES: [(u32, u32); 4] = [(320, 640), (390, 844), (844, 390), (1280, 800)];
const PAGES: [&str; 4] = ["/", "/helm", "/rig", "/day"];

/// What is wider than the screen, or than what it stands in.
pub const OVERFLOW: &str = "return [...document.querySelectorAll('body *')]
        .filter(e => !e.closest('svg') || e.tagName === 'svg' || e.tagName === 'text')
        .filter(e => { const r = e.getBoundingClientRect();
            return r.width && (r.right > innerWidth + 1 || r.left < -1); })
        .map(e => e.tagName + '.' + (e.getAttribute('class') ?? '') + ' ' + e.textContent.slice(0, 40))
        .concat([...document.querySelectorAll('p, h2, h3, li, dd, .deck, .column, output')]
            .filter(e => e.offsetParent !== null && e.scrollWidth > e.clientWidth + 1)
            .map(e => 'inside ' + e.className + ' ' + e.textContent.slice(0, 40)))
        .concat(document.documentElement.scrollWidth > innerWidth ? ['page ' + document.documentElement.scrollWidth] : [])";

/// Controls that a wet thumb misses.
pub const LOW: &str = "return [...document.querySelectorAll('.deck, input')]
        .concat([...document.querySelectorAll('summary')])
        .map(e => [e, e.getBoundingClientRect()])
        .filter(([e, box]) => e.offsetParent !== null && (box.height < 63.9 || box.width < 63.9))
        .map(([e, box]) => e.textContent + ' ' + box.width + ' x ' + box.height)";

#[tokio::test(flavor = "multi_thread")]
async fn pages_fit_every_screen_in_every_state() {
    if !browser_found() {
        return;
    }
    let room = Room::open("advice", 0).await;
    let browser = Browser::start().await;
    for page in PAGES {
        browser.open(&format!("{}{page}", room.base)).await;
        browser.wait(LIVE).await;
        if page == "/rig" {
            browser.wait("document.querySelector('.setting')").await;
            browser
                .run("document.querySelectorAll('details').forEach(part => { part.open = true; })")
                .await;
        }
        for (width, height) in SIZES {
            browser.screen(width, height).await;
            // What the logbook tells does not depend on the moment.
            let moments = if page == "/day" { 1 } else { MOMENTS.len() };
            for moment in MOMENTS.into_iter().take(moments) {
                room.show_on(&browser, moment).await;
                for scale in ["100%", "200%"] {
                    browser
                        .run(&format!(
                            "document.documentElement.style.fontSize = '{scale}'"
                        ))
                        .await;
                    let place = format!("{page} {width}x{height} {moment} {scale}");
                    let found = browser.run(OVERFLOW).await;
                    assert_eq!(found, serde_json::json!([]), "{place} overflows");
                    let found = browser.run(LOW).await;
                    assert_eq!(
                        found,
                        serde_json::json!([]),
                        "{place} has controls that a wet thumb misses"
                    );
                }
                browser
                    .run("document.documentElement.style.fontSize = ''")
                    .await;
            }
        }
    }
    browser.open(&format!("{}/v1/docs", room.base)).await;
    browser
        .wait("document.querySelectorAll('.route').length > 40")
        .await;
    room.assert_clean(&browser).await;
}

/// A browser opens only a few connections to a host; pages left behind must not sit on them.
#[tokio::test(flavor = "multi_thread")]
async fn going_to_and_fro_between_pages_starves_none() {
    if !browser_found() {
        return;
    }
    let room = Room::open("advice", 0).await;
    let browser = Browser::start().await;
    let quick = Duration::from_secs(20);
    browser.open(&room.base).await;
    for _ in 0..4 {
        for page in ["Helm", "Rig", "Days", "Mate"] {
            browser.wait_for(LIVE, quick).await;
            browser
                .run(&format!(
                    "[...document.querySelectorAll('#bar a')].find(a => a.innerText === '{page}').click()"
                ))
                .await;
            let there = format!("document.title.endsWith('{}')", page.to_lowercase());
            browser.wait_for(&there, quick).await;
        }
    }
    browser.open(&format!("{}/rig", room.base)).await;
    browser
        .wait_for("document.querySelector('.setting')", quick)
        .await;
    browser.run("history.back()").await;
    browser
        .wait_for("document.title.endsWith('mate')", quick)
        .await;
    browser.wait_for(LIVE, quick).await;
    room.show("calm");
    browser
        .wait_for(
            "document.getElementById('card').innerText.includes('NOTHING TO DO')",
            quick,
        )
        .await;
    // The room notices within a beat that a reader has gone.
    let end = std::time::Instant::now() + quick;
    loop {
        let metrics = reqwest::get(format!("{}/metrics", room.base)).await;
        let metrics = metrics.unwrap().text().await.unwrap();
        let readers: f64 = metrics
            .lines()
            .filter(|line| line.starts_with("skimwatch_stream_readers{"))
            .map(|line| line.rsplit(' ').next().unwrap().parse::<f64>().unwrap())
            .sum();
        if readers == 1.0 {
            break;
        }
        assert!(std::time::Instant::now() < end, "{readers} readers");
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    room.assert_clean(&browser).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_lost_link_strikes_old_data_and_comes_back_alone() {
    let Some((room, browser)) = on_a_phone("advice", "").await else {
        return;
    };
    let base = room.base.clone();
    let port = room.stop().await;
    browser
        .wait("document.documentElement.dataset.link === 'lost'")
        .await;
    assert!(browser.text("#link").await.contains("Link lost"));
    let struck = browser
        .run("return getComputedStyle(document.getElementById('card')).textDecorationLine")
        .await;
    assert_eq!(struck, "line-through");
    browser.tap("[data-bait=dragging]").await;
    browser
        .wait("document.getElementById('undo').innerText.includes('Not sent')")
        .await;
    let room = Room::open("calm", port).await;
    assert_eq!(room.base, base);
    browser.wait(LIVE).await;
    browser
        .wait("document.getElementById('card').innerText.includes('NOTHING TO DO')")
        .await;
    assert_eq!(
        browser
            .run("return document.getElementById('link').hidden")
            .await,
        true
    );
    assert_own_host(&browser, &base).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_missing_is_said() {
    let Some((room, browser)) = on_a_phone("no-wind", "").await else {
        return;
    };
    let card = browser.text("#card").await;
    assert!(
        card.contains("NO FORECAST")
            && card.contains("No wind (last from masthead WIMWV)")
            && card.contains("Wind silent for"),
        "{card}"
    );
    assert!(browser.text("#height-chart").await.contains("No forecast"));
    room.show("stale-heading");
    browser
        .wait("document.querySelector('#numbers .stale')")
        .await;
    assert!(browser.text("#numbers .stale").await.contains("8 s old"));
    // The look that was chosen stays, on every page.
    browser.tap("[data-look-button=night]").await;
    browser.open(&format!("{}/helm", room.base)).await;
    assert_eq!(
        browser
            .run("return document.documentElement.dataset.look")
            .await,
        "night"
    );
    browser.open(&room.base).await;
    browser.wait(LIVE).await;
    room.show_with("calm", |now| now.mode = skimwatch::engine::Mode::Live);
    browser.wait("document.getElementById('mode').hidden").await;
    room.assert_clean(&browser).await;
}
