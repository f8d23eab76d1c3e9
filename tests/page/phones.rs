//! Who may touch, on the pages: a guest's phone looks, joins, taps, and is taken out; a keeper's lets
//! others in. With `SHOTS` set to a directory, pictures of each step are saved there.

use std::time::Duration;

use skimwatch::access::{Access, Locks, PhoneName, Role};
use skimwatch::decode::CrewInput;
use skimwatch::time::Millis;

use crate::browser::{Browser, browser_found};
use crate::room::{LIVE, Room};

const LOCKED: Locks = Locks {
    touch: true,
    look: false,
};

/// Holds when the page knows how far its phone may go.
fn may(how: &str) -> String {
    format!("document.documentElement.dataset.may === '{how}'")
}

async fn picture(browser: &Browser, name: &str) {
    let Some(folder) = std::env::var_os("SHOTS").map(std::path::PathBuf::from) else {
        return;
    };
    std::fs::create_dir_all(&folder).unwrap();
    for (width, height) in [(844, 390), (390, 844)] {
        browser.screen(width, height).await;
        browser.drawn().await;
        let file = folder.join(format!("{name}-{width}x{height}.png"));
        std::fs::write(file, browser.picture(false).await).unwrap();
    }
}

/// Types a code on the page's own keys.
async fn type_code(browser: &Browser, code: &str) {
    for digit in code.chars() {
        browser.tap(&format!("[data-digit='{digit}']")).await;
    }
}

/// Asserts that all buttons and fields of the page in sight are large enough for a wet thumb.
async fn touchable(browser: &Browser) {
    let small = browser
        .run(
            "return [...document.querySelectorAll('button, input, a.deck')]
                .filter(e => e.offsetParent !== null)
                .filter(e => e.getBoundingClientRect().height < 64 || e.getBoundingClientRect().width < 64)
                .map(e => e.textContent + e.id)",
        )
        .await;
    assert_eq!(small, serde_json::json!([]));
    let wide = "return document.documentElement.scrollWidth - innerWidth";
    assert!(browser.run(wide).await.as_f64().unwrap() <= 0.0);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_guest_looks_joins_taps_and_is_taken_out() {
    if !browser_found() {
        return;
    }
    let access = Access::new(LOCKED, None);
    let mut room = Room::open_to(access.clone(), "advice", 0).await;
    let phone = Browser::start().await;
    phone.screen(390, 844).await;
    phone.open(&room.base).await;
    phone.wait(LIVE).await;
    phone.wait(&may("look")).await;
    phone.wait("document.getElementById('join-link')").await;
    // What it may not touch has dashes; what only this phone does has none.
    let dashed = |selector: &str| {
        format!(
            "getComputedStyle(document.querySelector('{selector}')).borderTopStyle === 'dashed'"
        )
    };
    for selector in [
        "#bite",
        "[data-bait=skipping]",
        "[data-answer=done]",
        "#seen",
    ] {
        phone.wait(&dashed(selector)).await;
    }
    for selector in ["#sound", "#trouble-button", "[data-look-button=night]"] {
        phone.wait(&format!("!({})", dashed(selector))).await;
    }
    picture(&phone, "guest-mate").await;
    // A tap all the same is refused in words.
    phone.tap("#bite").await;
    phone
        .wait("document.getElementById('undo').innerText.includes('look, not touch')")
        .await;
    assert!(room.said.try_recv().is_err());
    // The browser itself complains of refused requests.
    phone.complaints().await;

    phone.tap("#join-link").await;
    phone
        .wait("document.getElementById('code') && !document.getElementById('joining').hidden")
        .await;
    touchable(&phone).await;
    picture(&phone, "join").await;
    type_code(&phone, "1234").await;
    phone.tap("[data-erase]").await;
    let shown = phone.text("#code").await;
    assert!(shown.starts_with("123\u{b7}"), "{shown}");
    phone.tap("[data-erase]").await;
    phone.tap("[data-erase]").await;
    phone.tap("[data-erase]").await;
    // A code is made here and never ends in a wrong one by chance.
    let code = access.invite(Role::Crew).unwrap().code;
    let wrong = format!("{:08}", (code.parse::<u32>().unwrap() + 1) % 100_000_000);
    type_code(&phone, &wrong).await;
    phone.tap("[data-name]").await;
    phone.tap("#join").await;
    phone
        .wait("document.getElementById('said').textContent.includes('this code is not good')")
        .await;
    picture(&phone, "join-wrong").await;
    phone.complaints().await;
    type_code(&phone, &code).await;
    phone.tap("#join").await;
    phone
        .wait("document.querySelector('#now .now').textContent.includes(\"mate's phone\")")
        .await;
    picture(&phone, "joined").await;
    phone.tap("#back").await;
    phone.wait(LIVE).await;
    phone.wait(&may("touch")).await;
    phone.wait("document.getElementById('may').hidden").await;
    phone.tap("#bite").await;
    assert_eq!(room.hear().await, CrewInput::Bite);
    // Settings are a keeper's.
    phone.open(&format!("{}/rig", room.base)).await;
    phone.wait(LIVE).await;
    phone.wait(&may("touch")).await;
    phone
        .wait("document.querySelector('#set-up .keeper-only:not([hidden])')")
        .await;
    phone
        .wait("document.querySelector('#set-up button.deck')")
        .await;
    phone.wait(&dashed("#set-up button.deck")).await;
    phone.wait(&format!("!({})", dashed("#set-lines"))).await;
    phone.open(&room.base).await;
    phone.wait(LIVE).await;
    phone.wait(&may("touch")).await;
    room.assert_clean(&phone).await;

    // Taken out, it says so without being touched, and looks on.
    let (out, _) = access.take_out(1).unwrap();
    assert_eq!(out.name, PhoneName::new("mate's phone").unwrap());
    phone.wait_for(&may("look"), Duration::from_secs(30)).await;
    phone
        .wait("document.getElementById('may').innerText.includes('TAKEN OUT')")
        .await;
    phone.wait(LIVE).await;
    picture(&phone, "taken-out").await;
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_keeper_lets_a_phone_in_and_takes_it_out() {
    if !browser_found() {
        return;
    }
    let access = Access::new(LOCKED, None);
    let first = access.first_code().unwrap().code;
    let room = Room::open_to(access.clone(), "advice", 0).await;
    let keeper = Browser::start().await;
    keeper.screen(390, 844).await;
    keeper.open(&format!("{}/phone", room.base)).await;
    keeper
        .wait("!document.getElementById('joining').hidden")
        .await;
    type_code(&keeper, &first).await;
    keeper.type_into("#name", "skipper").await;
    keeper.tap("#join").await;
    keeper
        .wait("!document.getElementById('keeping').hidden")
        .await;
    keeper.tap("[data-invite=crew]").await;
    keeper.wait("document.querySelector('[data-code]')").await;
    let code = keeper
        .run("return document.querySelector('[data-code]').dataset.code")
        .await;
    let name = PhoneName::new("mate's phone").unwrap();
    access
        .join(code.as_str().unwrap(), name, Millis(1_790_000_000_000))
        .unwrap();
    keeper.open(&format!("{}/phone", room.base)).await;
    keeper
        .wait("document.querySelector('[data-out=\"2\"]')")
        .await;
    keeper.tap("[data-invite=keeper]").await;
    keeper.wait("document.querySelector('[data-code]')").await;
    touchable(&keeper).await;
    picture(&keeper, "keeper").await;
    keeper.tap("[data-out='2']").await;
    assert_eq!(access.phones().len(), 2, "one tap is not enough");
    keeper.tap("[data-out='2']").await;
    keeper
        .wait("document.querySelectorAll('[data-out]').length === 1")
        .await;
    assert_eq!(access.phones().len(), 1);
    room.assert_clean(&keeper).await;
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn where_guests_may_not_even_look_the_page_says_so() {
    if !browser_found() {
        return;
    }
    let locks = Locks {
        look: true,
        ..LOCKED
    };
    let room = Room::open_to(Access::new(locks, None), "advice", 0).await;
    let phone = Browser::start().await;
    phone.screen(390, 844).await;
    phone.open(&room.base).await;
    phone.wait(&may("nothing")).await;
    phone
        .wait("document.getElementById('may').innerText.includes('ONLY CREW PHONES')")
        .await;
    picture(&phone, "closed").await;
    phone.tap("#join-link").await;
    phone
        .wait("!document.getElementById('joining').hidden")
        .await;
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn where_nothing_is_locked_the_page_says_that_everybody_may_touch() {
    let Some((room, phone)) = crate::room::on_a_phone("advice", "/helm").await else {
        return;
    };
    phone.wait(&may("all")).await;
    phone
        .wait("document.getElementById('this-phone').innerText.includes('everybody on this network may touch')")
        .await;
    room.assert_clean(&phone).await;
}
