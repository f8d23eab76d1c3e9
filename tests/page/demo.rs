//! The built program's demo in a real browser, from start to the first advisory and through
//! everything that a crew does: what the page tests with invented moments cannot show is that all
//! the parts work together.

use std::time::{Duration, Instant};

use serde_json::Value;

use crate::browser::{Browser, browser_found, webkit_found};
use crate::room::LIVE;
use crate::started::Started;

/// A small machine under load forecasts slowly.
const PATIENCE: Duration = Duration::from_secs(150);

/// The demo, eight times as fast as life; it ends with the test.
fn start_demo(bind: &str) -> Started {
    Started::unheard(&["demo", "--bind", bind, "--speed", "8"])
}

async fn state_of(demo: &Started) -> Value {
    let answer = reqwest::get(format!("{}/v1/state", demo.base)).await;
    answer.unwrap().json().await.unwrap()
}

/// Opens a page and keeps what it says above its bar: that goes after some seconds, which a driver
/// on a busy machine may miss.
async fn open(browser: &Browser, address: &str) {
    browser.open(address).await;
    // WebKit's driver does not wait for the page.
    let there = "document.getElementById('undo')";
    browser.wait_for(there, PATIENCE).await;
    browser
        .run(
            "const bar = document.getElementById('undo');
            window.said = [];
            new MutationObserver(() => window.said.push(bar.innerText))
                .observe(bar, { childList: true, subtree: true, characterData: true })",
        )
        .await;
}

/// Waits for what the page says above its bar.
async fn said(browser: &Browser, words: &str) {
    let expression = format!("window.said.some((text) => text.includes('{words}'))");
    browser.wait_for(&expression, PATIENCE).await;
}

/// Taps UNDO until it is done: on a busy machine the offer may go, or the page be drawn anew, under
/// the thumb.
async fn take_back(browser: &Browser) {
    let end = Instant::now() + PATIENCE;
    let undone = "return window.said.some((text) => text.includes('Undone'))";
    while browser.run(undone).await != true {
        let offered = browser
            .run("const undo = document.getElementById('undo-button'); undo?.click(); return Boolean(undo)")
            .await;
        if offered != true {
            browser.tap("[data-bait=dragging]").await;
        }
        tokio::time::sleep(Duration::from_millis(200)).await;
        assert!(Instant::now() < end, "nothing was taken back");
    }
}

/// Taps GOT IT until one is taken: an advisory may end under the thumb.
async fn acknowledge(browser: &Browser) {
    let end = Instant::now() + PATIENCE;
    loop {
        let tapped = browser
            .run(
                "const seen = document.getElementById('seen') ?? document.querySelector('#others .got-it');
                seen?.click(); return Boolean(seen)",
            )
            .await;
        if tapped == true {
            for _ in 0..10 {
                if browser.text("#undo").await.starts_with("Got it") {
                    return;
                }
                tokio::time::sleep(Duration::from_millis(100)).await;
            }
        }
        assert!(Instant::now() < end, "no advisory was acknowledged");
        tokio::time::sleep(Duration::from_millis(200)).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_demo_from_start_to_a_change_of_set_up() {
    if browser_found() {
        walk(&Browser::start().await).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn webkit_walks_through_the_demo() {
    if webkit_found() {
        walk(&Browser::start_webkit().await).await;
    }
}

async fn walk(browser: &Browser) {
    let demo = start_demo("127.0.0.1:0");
    let base = demo.base.clone();
    browser.screen(390, 844).await;
    open(browser, &base).await;
    browser.wait_for(LIVE, PATIENCE).await;
    assert!(browser.text("#mode").await.contains("DEMO"));

    // The first advisory, and somebody has seen it.
    let raised = "document.querySelector('#card .mark') && document.querySelector('#card .verb')";
    browser.wait_for(raised, PATIENCE).await;
    acknowledge(browser).await;

    // Line given, bait seen and taken back, a bite that missed.
    browser.tap("[data-line=main]").await;
    browser.tap("#gave").await;
    said(browser, "Let out 3 m main line").await;
    browser.tap("[data-bait=dragging]").await;
    said(browser, "Bait dragging").await;
    take_back(browser).await;
    browser.tap("#bite").await;
    said(browser, "Bite").await;
    let missed = "document.querySelector('#card [data-strike=missed]')";
    browser.wait_for(missed, PATIENCE).await;
    browser.tap("#card [data-strike=missed]").await;
    said(browser, "Missed").await;
    browser.wait_for(&format!("!{missed}"), PATIENCE).await;

    // A turn is announced in two taps and called off.
    browser.screen(844, 390).await;
    open(browser, &format!("{base}/helm")).await;
    browser.wait_for(LIVE, PATIENCE).await;
    browser.tap("[data-turn='90']").await;
    browser.tap("[data-rate='1.5']").await;
    said(browser, "Turn 90° to starboard").await;
    browser
        .wait_for("document.getElementById('call-off')", PATIENCE)
        .await;
    browser.tap("#call-off").await;
    said(browser, "Turn called off").await;

    // Set-up: in force at once, kept in memory.
    browser.screen(1280, 800).await;
    open(browser, &format!("{base}/rig")).await;
    browser
        .wait_for("document.querySelector('.setting')", PATIENCE)
        .await;
    assert!(browser.text("#kept").await.contains("writes no file"));
    browser
        .run("document.querySelectorAll('details').forEach(part => { part.open = true; })")
        .await;
    let area = "[data-key='rig.kite.area_m2'] input";
    browser
        .run(&format!("document.querySelector(\"{area}\").value = ''"))
        .await;
    browser.type_into(area, "1.6").await;
    browser.tap("details[data-group='Kite'] .save").await;
    said(browser, "Saved and in effect").await;
    browser
        .tap("[data-key='crew.length'] [data-choice=ft]")
        .await;
    let feet = "[data-key='crew.length'] [data-choice=ft][aria-pressed=true]";
    browser
        .wait_for(&format!("document.querySelector(\"{feet}\")"), PATIENCE)
        .await;
    let state = state_of(&demo).await;
    assert_eq!(state["units"]["length"], "ft");
    assert_eq!(state["settings_revision"], 2);
    if browser.is_chromium {
        let complaints: Vec<_> = browser
            .complaints()
            .await
            .into_iter()
            // One that ended under the thumb.
            .filter(|complaint| !complaint.contains("/acknowledge"))
            .collect();
        assert!(complaints.is_empty(), "{complaints:#?}");
    }

    // The program stops and starts again on its port: the page comes back alone.
    browser.open(&base).await;
    browser.wait_for(LIVE, PATIENCE).await;
    drop(demo);
    browser
        .wait_for("document.documentElement.dataset.link === 'lost'", PATIENCE)
        .await;
    assert!(browser.text("#link").await.contains("Link lost"));
    let demo = start_demo(base.trim_start_matches("http://"));
    browser.wait_for(LIVE, PATIENCE).await;
    assert_eq!(state_of(&demo).await["units"]["length"], "m");
    if !browser.is_chromium {
        return;
    }
    let foreign: Vec<_> = browser
        .requested()
        .await
        .into_iter()
        .filter(|url| !url.starts_with(&base) && !url.starts_with("data:") && url != "about:blank")
        .collect();
    assert!(foreign.is_empty(), "{foreign:?}");
}
