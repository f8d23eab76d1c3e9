//! Two invented days walked through on both pages, picture by picture: what a page says never
//! contradicts what it or the other says at the same moment, and it fits the screen in every look.

use std::collections::BTreeMap;

use skimwatch::engine::Snapshot;
use skimwatch::scene::Script;
use skimwatch::time::Millis;

use crate::browser::{Browser, browser_found};
use crate::pictures::{backwards, contradictions, each_picture, invented_day};
use crate::room::{LIVE, Room};

/// What the page says, in one look.
const SAID: &str = "const text = selector => [...document.querySelectorAll(selector)]
        .filter(e => e.offsetParent !== null).map(e => e.innerText.replaceAll('\u{a0}', ' ')).join(' | ');
    return {all: document.querySelector('main').innerText.replaceAll('\u{a0}', ' '), limits: text('#limits'),
        title: text('#card .title, #trouble .title'), announced: text('#announced'),
        callOff: Boolean(document.getElementById('call-off')),
        wide: document.documentElement.scrollWidth - innerWidth}";

const LOOKS: [&str; 3] = ["day", "dusk", "night"];

/// Pictures of a day that differ in what they tell.
fn told(change: impl Fn(&mut Script)) -> Vec<Snapshot> {
    let mut told: BTreeMap<String, ()> = BTreeMap::new();
    let mut pictures = Vec::new();
    each_picture(invented_day(change), 16, |now| {
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

/// Two days: the demo's, and one with all turns the other way.
pub async fn two_days() -> [Vec<Snapshot>; 2] {
    let days = tokio::task::spawn_blocking(|| {
        [
            told(|script| script.duration_s = 300.0),
            told(|script| {
                backwards(script);
                script.duration_s = 300.0;
            }),
        ]
    });
    let days = days.await.unwrap();
    for day in &days {
        assert!(day.len() > 20, "{}", day.len());
    }
    days
}

/// Shows the pictures one after the other on a page that is open; gives what is wrong.
pub async fn walk(
    room: &Room,
    browser: &Browser,
    page: &str,
    feet: bool,
    pictures: impl Iterator<Item = &Snapshot>,
) -> Vec<String> {
    think_in(room, if feet { "ft" } else { "m" }).await;
    browser.open(&format!("{}{page}", room.base)).await;
    browser.wait(LIVE).await;
    let mut found = Vec::new();
    for (look, picture) in LOOKS.iter().cycle().zip(pictures) {
        let shown = picture.clone();
        // The page's clock follows `at`; the number of the picture is in its milliseconds.
        room.show_with("calm", move |now| {
            let number = now.at.0.rem_euclid(1000);
            *now = shown.clone();
            now.at = Millis(shown.at.0.div_euclid(1000) * 1000 + number);
        });
        browser
            .run(&format!("document.documentElement.dataset.look = '{look}'"))
            .await;
        room.is_on(browser).await;
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
        if said["wide"].as_f64().unwrap() > 0.0 {
            wrong.push(format!("wider than the screen in {look}"));
        }
        found.extend(
            wrong
                .into_iter()
                .map(|what| format!("{page} {}: {what}", picture.at)),
        );
    }
    found
}

/// Page, whether in feet, upright or on the side: both of a kind on one day or the other.
pub const WAYS: [[(&str, bool, bool); 4]; 2] = [
    [
        ("/", false, true),
        ("/helm", false, false),
        ("/", true, false),
        ("/helm", true, true),
    ],
    [
        ("/", false, false),
        ("/helm", false, true),
        ("/", true, true),
        ("/helm", true, false),
    ],
];

#[tokio::test(flavor = "multi_thread")]
async fn no_page_contradicts_itself_or_the_other() {
    if !browser_found() {
        return;
    }
    let days = two_days().await;
    let room = Room::open("calm", 0).await;
    let mut found: Vec<String> = Vec::new();
    let browser = Browser::start().await;
    for (day, ways) in days.iter().zip(WAYS) {
        for (page, feet, upright) in ways {
            let (width, height) = if upright { (390, 844) } else { (844, 390) };
            browser.screen(width, height).await;
            found.extend(walk(&room, &browser, page, feet, day.iter()).await);
        }
    }
    room.assert_clean(&browser).await;
    println!(
        "{} and {} pictures, two pages, two systems of units, both orientations, three looks",
        days[0].len(),
        days[1].len()
    );
    assert!(
        found.is_empty(),
        "{} of them: {:#?}",
        found.len(),
        &found[..found.len().min(10)]
    );
}

/// Changes the unit of lengths, as the rig page does.
pub async fn think_in(room: &Room, unit: &str) {
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
