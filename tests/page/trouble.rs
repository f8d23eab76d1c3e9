//! The cards for when it goes wrong: one button, the first thing to do in sight, this boat's numbers,
//! and all of it without a link too.

use skimwatch::decode::{CrewInput, MarkHow, MarkSaid};

use crate::browser::{Browser, browser_found};
use crate::invented::{START, vessel};
use crate::room::{LIVE, Room, on_a_phone};

pub const CARDS: [&str; 7] = [
    "overboard",
    "squall",
    "water",
    "lost",
    "over",
    "sinks",
    "parted",
];

/// Opens a card, whatever is open.
pub async fn open(browser: &Browser, card: &str) {
    browser
        .run("document.getElementById('trouble-cards')?.close()")
        .await;
    browser.tap("#trouble-button").await;
    browser
        .wait("document.querySelector('[data-card]')?.offsetParent")
        .await;
    browser.tap(&format!("[data-card={card}]")).await;
    browser
        .wait("document.querySelector('#trouble-card .verb')")
        .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_first_thing_to_do_is_in_sight_on_every_card() {
    if !browser_found() {
        return;
    }
    let room = Room::open("advice", 0).await;
    let browser = Browser::start().await;
    for page in ["", "/helm"] {
        for (width, height) in [(390, 844), (844, 390), (320, 640)] {
            browser.screen(width, height).await;
            browser.open(&format!("{}{page}", room.base)).await;
            browser.wait(LIVE).await;
            for card in CARDS {
                open(&browser, card).await;
                let place = format!("{page} {width}x{height} {card}");
                let seen = browser
                    .run(
                        "const box = document.querySelector('#trouble-card .verb').getBoundingClientRect();
                        const low = [...document.querySelectorAll('#trouble-cards button')].filter(e => e.offsetParent)
                            .map(e => e.getBoundingClientRect()).filter(b => b.width < 63.9 || b.height < 63.9);
                        const cards = document.getElementById('trouble-cards');
                        return [box.top >= 0 && box.bottom <= innerHeight, low.length, cards.scrollWidth > cards.clientWidth + 1]",
                    )
                    .await;
                assert_eq!(seen, serde_json::json!([true, 0, false]), "{place}");
                let text = browser.text("#trouble-card").await;
                assert!(
                    text.contains("local rules") && text.contains("air rules"),
                    "{place}"
                );
                assert!(
                    !text.contains("undefined") && !text.contains("NaN"),
                    "{text}"
                );
            }
        }
    }
    room.assert_clean(&browser).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn cards_show_this_boats_numbers() {
    let Some((mut room, browser)) = on_a_phone("advice", "/").await else {
        return;
    };
    open(&browser, "squall").await;
    let words = "document.getElementById('trouble-card').innerText.replaceAll('\u{a0}', ' ')";
    // The invented deck has 70 m of kite line and 118 m of main line out.
    browser
        .wait(&format!(
            "{words}.includes('kite line 70 m, main line 118 m')"
        ))
        .await;
    // 0.7 m a crank and 1.5 cranks a second (the defaults): 70 m in 67 s.
    browser
        .wait(&format!(
            "{words}.includes('70 m of kite line takes about 67 s')"
        ))
        .await;
    browser
        .wait(&format!("{words}.includes('By the model')"))
        .await;
    open(&browser, "water").await;
    // The clip hangs 15 m below the kite.
    browser
        .wait(&format!("{words}.includes('after about 55 m')"))
        .await;
    open(&browser, "overboard").await;
    browser.tap("#trouble-mark").await;
    assert_eq!(
        room.hear().await,
        CrewInput::Mark(MarkSaid {
            name: Some("overboard".to_owned()),
            position: vessel(START).position.map(|here| here.value.into()),
            how: MarkHow::Here,
            number: None,
        })
    );
    // Whatever happens outside is said on top, and without a link the cards still open.
    open(&browser, "sinks").await;
    room.show("alarm");
    browser
        .wait("document.getElementById('trouble-cards').innerText.includes('An alarm stands')")
        .await;
    room.stop().await;
    browser
        .wait("document.documentElement.dataset.link === 'lost'")
        .await;
    open(&browser, "parted").await;
    assert!(browser.text("#trouble-card").await.contains("70"));
}
