//! An invented day walked through on both pages, picture by picture: what a page says never
//! contradicts what it or the other says at the same moment.

use std::collections::BTreeMap;

use skimwatch::engine::Snapshot;
use skimwatch::time::Millis;

use crate::agreement::{contradictions, each_picture, invented_day};
use crate::browser::{Browser, browser_found};
use crate::room::{LIVE, Room};

/// What the page says, in one look.
const SAID: &str = "const text = selector => [...document.querySelectorAll(selector)]
        .filter(e => e.offsetParent !== null).map(e => e.innerText.replaceAll('\u{a0}', ' ')).join(' | ');
    return {all: document.querySelector('main').innerText.replaceAll('\u{a0}', ' '), limits: text('#limits'),
        title: text('#card .title, #trouble .title'), announced: text('#announced'),
        callOff: Boolean(document.getElementById('call-off'))}";

/// Pictures of a day that differ in what they tell.
fn pictures() -> Vec<Snapshot> {
    let day = invented_day(|script| script.duration_s = 300.0);
    let mut told: BTreeMap<String, ()> = BTreeMap::new();
    let mut pictures = Vec::new();
    each_picture(day, 16, |now| {
        let advisories = now.advisories.iter().map(|a| (&a.id, a.revision));
        let limit = now
            .forecast
            .as_ref()
            .ok()
            .and_then(|f| f.turn_limit.clone());
        let turn = now
            .forecast
            .as_ref()
            .ok()
            .and_then(|f| f.turn)
            .map(|turn| turn.source);
        let key = format!("{:?} {limit:?} {turn:?}", advisories.collect::<Vec<_>>());
        if told.insert(key, ()).is_none() {
            pictures.push(now.clone());
        }
    });
    pictures
}

#[tokio::test(flavor = "multi_thread")]
async fn no_page_contradicts_itself_or_the_other() {
    if !browser_found() {
        return;
    }
    let pictures = tokio::task::spawn_blocking(pictures).await.unwrap();
    assert!(pictures.len() > 20, "{}", pictures.len());
    let room = Room::open("calm", 0).await;
    let mut found: Vec<String> = Vec::new();
    for (page, feet) in [("/", false), ("/helm", false), ("/", true), ("/helm", true)] {
        let browser = Browser::start().await;
        browser.screen(390, 844).await;
        think_in(&room, if feet { "ft" } else { "m" }).await;
        browser.open(&format!("{}{page}", room.base)).await;
        browser.wait(LIVE).await;
        for picture in &pictures {
            let shown = picture.clone();
            // The page's clock follows `at`; the number of the picture is in its milliseconds.
            room.show_with("calm", move |now| {
                let number = now.at.0.rem_euclid(1000);
                *now = shown.clone();
                now.at = Millis(shown.at.0.div_euclid(1000) * 1000 + number);
            });
            room.is_on(&browser).await;
            let said = browser.run(SAID).await;
            let of = |key: &str| said[key].as_str().unwrap_or_default().to_owned();
            let mut wrong = contradictions(picture);
            let (all, limits) = (of("all"), of("limits"));
            let flying = ["Bait is ", "Bait probably "];
            if flying.iter().any(|title| of("title").contains(title)) && limits.contains("°/s") {
                wrong.push(format!("a rate beside {}", of("title")));
            }
            if limits.contains("8.0°/s") {
                wrong.push("the end of the search as a rate".to_owned());
            }
            if feet && metres(&all) {
                wrong.push(format!("metres for a crew that thinks in feet: {all}"));
            }
            if of("announced").contains("made") && said["callOff"] == true {
                wrong.push("a turn that is over can be called off".to_owned());
            }
            found.extend(
                wrong
                    .into_iter()
                    .map(|what| format!("{page} {}: {what}", picture.at)),
            );
        }
        room.assert_clean(&browser).await;
    }
    println!(
        "{} pictures, two pages, two systems of units",
        pictures.len()
    );
    assert!(
        found.is_empty(),
        "{} of them: {:#?}",
        found.len(),
        &found[..found.len().min(10)]
    );
}

/// Changes the unit of lengths, as the rig page does.
async fn think_in(room: &Room, unit: &str) {
    let client = reqwest::Client::new();
    let change = serde_json::json!({"crew.length": unit});
    let address = format!("{}/v1/settings", room.base);
    let answer = client.put(address).json(&change).send().await.unwrap();
    assert!(answer.status().is_success(), "{}", answer.status());
}

/// A number of metres or newtons.
fn metres(text: &str) -> bool {
    let words: Vec<&str> = text.split_whitespace().collect();
    words.windows(2).any(|pair| {
        let number = pair[0].ends_with(|c: char| c.is_ascii_digit());
        number && ["m", "m,", "m.", "N", "m/s"].contains(&pair[1])
    })
}
