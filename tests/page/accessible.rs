//! The pages under axe-core, a checker of accessibility that is no part of the project:
//! `npm pack axe-core && tar xf axe-core-*.tgz`, then
//! `AXE=package/axe.min.js cargo test --test page accessible`.

use crate::browser::{Browser, browser_found};
use crate::invented::MOMENTS;
use crate::room::{LIVE, Room};
use crate::trouble::{CARDS, open};

#[tokio::test(flavor = "multi_thread")]
async fn accessible_in_every_state_and_look() {
    let Some(checker) = std::env::var_os("AXE") else {
        eprintln!("SKIPPED: set AXE to axe-core's axe.min.js to check accessibility");
        return;
    };
    if !browser_found() {
        return;
    }
    let checker = std::fs::read_to_string(checker).unwrap();
    let room = Room::open("advice", 0).await;
    let browser = Browser::start().await;
    let mut found = Vec::new();
    let held = [(390, 844), (844, 390)];
    let pages = ["/", "/helm", "/rig", "/day", "/v1/docs", "/phone"];
    for ((width, height), page) in held
        .into_iter()
        .flat_map(|size| pages.map(|page| (size, page)))
    {
        browser.screen(width, height).await;
        browser.open(&format!("{}{page}", room.base)).await;
        let is_docs = page == "/v1/docs" || page == "/phone";
        let there = match page {
            "/v1/docs" => "document.querySelector('#routes h2')",
            "/phone" => {
                "document.querySelector('#now .now').textContent.includes('Nothing is locked')"
            }
            _ => LIVE,
        };
        browser.wait(there).await;
        browser
            .run("document.querySelectorAll('details').forEach(part => { part.open = true; })")
            .await;
        let load = serde_json::json!({"expression": checker});
        browser.devtools("Runtime.evaluate", load).await;
        for moment in MOMENTS {
            if !is_docs {
                room.show_on(&browser, moment).await;
            }
            let place = format!("{page} {width}x{height} {moment}");
            found.extend(violations(&browser, &place).await);
            if ["/v1/docs", "/rig", "/day", "/phone"].contains(&page) {
                break;
            }
        }
        if page == "/" || page == "/helm" {
            for card in CARDS {
                open(&browser, card).await;
                let place = format!("{page} {width}x{height} trouble: {card}");
                found.extend(violations(&browser, &place).await);
            }
        }
    }
    assert!(found.is_empty(), "{found:#?}");
}

/// What the checker finds in each look.
pub async fn violations(browser: &Browser, place: &str) -> Vec<String> {
    let mut found = Vec::new();
    for look in ["day", "dusk", "night"] {
        let run = format!(
            "document.documentElement.dataset.look = '{look}';
            axe.run(document, {{resultTypes: ['violations']}}).then(r => r.violations.map(
                v => v.id + ': ' + v.nodes.slice(0, 3).map(n => n.html + ' ' + n.failureSummary).join(' | ')))"
        );
        let answer = browser
            .devtools(
                "Runtime.evaluate",
                serde_json::json!({"expression": run, "awaitPromise": true, "returnByValue": true}),
            )
            .await;
        let all = answer["result"]["value"]
            .as_array()
            .unwrap_or_else(|| panic!("{answer}"));
        found.extend(
            all.iter()
                .filter_map(serde_json::Value::as_str)
                .map(|violation| format!("{place} {look}: {violation}")),
        );
    }
    found
}
