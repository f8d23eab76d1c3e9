//! A boat's computer that does not keep up: what is old is said to be old, by what the boat says of
//! itself and by the phone's own clock.

use std::sync::OnceLock;

use crate::room::on_a_phone;

const LATE: &str = "document.documentElement.dataset.link === 'late'";
const LIVE: &str = "document.documentElement.dataset.link === 'live'";

#[tokio::test(flavor = "multi_thread")]
async fn what_is_late_is_struck_and_said_and_is_well_again() {
    let Some((room, browser)) = on_a_phone("advice", "/").await else {
        return;
    };
    browser.wait(LIVE).await;
    room.show_with("advice", |now| now.lag_s = 4.2);
    browser.wait(LATE).await;
    let text = browser.text("#link").await;
    assert!(text.contains("Computer too slow"), "{text}");
    browser
        .wait("getComputedStyle(document.querySelector('.live')).textDecorationLine === 'line-through'")
        .await;
    room.show("advice");
    browser.wait(LIVE).await;
    assert_eq!(browser.text("#link").await, "");
}

#[tokio::test(flavor = "multi_thread")]
async fn lateness_that_the_boat_does_not_know_of_shows_on_the_phones_clock() {
    let Some((room, browser)) = on_a_phone("advice", "/").await else {
        return;
    };
    browser.wait(LIVE).await;
    // The boat's time stands still while the boat says that it keeps up.
    let stopped = OnceLock::new();
    room.show_with("advice", move |now| {
        now.at = *stopped.get_or_init(|| now.at)
    });
    browser.wait(LATE).await;
    let text = browser.text("#link").await;
    assert!(text.contains("OLD"), "{text}");
}
