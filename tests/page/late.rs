//! A boat's computer that does not keep up: what is old is said to be old, by what the boat says of
//! itself and by the phone's own clock.

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
    // The boat's time falls behind by 5 s while the boat says that it keeps up.
    room.show_with("advice", |now| now.at = now.at.plus_seconds(-5.0));
    browser.wait(LATE).await;
    let text = browser.text("#link").await;
    assert!(text.contains("OLD"), "{text}");
}
