//! Measurements of the page, not part of the ordinary run because they need a quiet machine:
//! `MEASURE=1 cargo test --test page measure -- --nocapture --test-threads=1`.

use std::time::Instant;

use crate::browser::{Browser, browser_found};
use crate::room::{LIVE, Room, on_a_phone};

fn wanted() -> bool {
    if std::env::var_os("MEASURE").is_none() {
        eprintln!("SKIPPED: set MEASURE=1 on a quiet machine to measure the page");
        return false;
    }
    browser_found()
}

#[tokio::test(flavor = "multi_thread")]
async fn measure_event_to_screen() {
    if !wanted() {
        return;
    }
    let Some((room, browser)) = on_a_phone("advice", "").await else {
        return;
    };
    // The moment after the frame that shows a new title.
    browser
        .run(
            "window.painted = {};
            new MutationObserver(() => {
                const title = document.querySelector('#card .title')?.textContent;
                if (title?.startsWith('round') && !(title in painted)) {
                    painted[title] = 0;
                    requestAnimationFrame(() => setTimeout(() => {
                        painted[title] = performance.timeOrigin + performance.now(); }));
                }
            }).observe(document.getElementById('card'), {childList: true, subtree: true})",
        )
        .await;
    let mut delays = Vec::new();
    for round in 0..40 {
        let title = format!("round {round}");
        let shown = title.clone();
        let sent = room.show_now("advice", move |now| {
            now.advisories[0].title.clone_from(&shown)
        });
        browser.wait(&format!("painted['{title}'] > 0")).await;
        let painted = browser.run(&format!("return painted['{title}']")).await;
        delays.push(painted.as_f64().unwrap() - sent);
    }
    delays.sort_by(f64::total_cmp);
    let p95 = delays[delays.len() * 95 / 100];
    println!(
        "event to screen: median {:.0} ms, p95 {p95:.0} ms",
        delays[delays.len() / 2]
    );
    assert!(p95 <= 150.0, "{delays:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn measure_processor_while_a_countdown_runs() {
    if !wanted() {
        return;
    }
    let Some((room, browser)) = on_a_phone("advice", "").await else {
        return;
    };
    browser.wait("document.getElementById('start-count')").await;
    room.passes(3.0).await;
    let began = Instant::now();
    let before = browser.processor_seconds();
    room.passes(20.0).await;
    let share = (browser.processor_seconds() - before) / began.elapsed().as_secs_f64();
    println!(
        "all processes of the browser: {:.1} % of one core",
        share * 100.0
    );
    assert!(share <= 0.10, "{share}");
}

#[tokio::test(flavor = "multi_thread")]
async fn measure_the_first_load() {
    if !wanted() {
        return;
    }
    let room = Room::open("advice", 0).await;
    for page in ["/", "/helm", "/rig"] {
        let browser = Browser::start().await;
        browser.open(&format!("{}{page}", room.base)).await;
        browser.wait(LIVE).await;
        let loaded = browser
            .run(
                "return [...performance.getEntriesByType('navigation'),
                    ...performance.getEntriesByType('resource')]
                    .filter(entry => !/icon/.test(entry.name))
                    .reduce((sum, entry) => sum + entry.decodedBodySize, 0)",
            )
            .await;
        let bytes = loaded.as_f64().unwrap();
        println!("first load of {page} without icons: {bytes} bytes");
        assert!((10_000.0..=110_000.0).contains(&bytes), "{bytes}");
    }
}
