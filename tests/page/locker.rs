//! Today's rig on the rig page: the day is typed, the answer is in the crew's units.

use crate::room::{assert_own_host, on_a_phone};

#[tokio::test(flavor = "multi_thread")]
async fn the_rig_is_checked_for_a_day_that_is_typed() {
    let Some((room, browser)) = on_a_phone("advice", "/rig").await else {
        return;
    };
    browser
        .wait("document.querySelector('#locker .speed-unit').innerText === 'kn'")
        .await;
    browser.type_into("#locker-wind", "14").await;
    browser.type_into("#locker-gust", "19").await;
    browser.type_into("#locker-speed", "6,0").await;
    browser.tap("#locker-check").await;
    browser
        .wait("document.getElementById('locker-best')?.innerText.includes('Best: flown now')")
        .await;
    let said = browser.text("#locker-result").await;
    for words in [
        "Wind 14.0 kn, gusts 19.0 kn, lulls 9.0 kn",
        "GOOD",
        "Winds from",
    ] {
        assert!(said.contains(words), "{words} is not in\n{said}");
    }
    let open = browser
        .run("return document.querySelector('[data-kite]').open")
        .await;
    assert_eq!(open, true);
    browser
        .run("document.querySelector('[data-tackle]').open = true")
        .await;
    let tackle = browser.text("[data-tackle]").await;
    assert!(
        tackle.contains("NOT KNOWN") && tackle.contains("at most"),
        "{tackle}"
    );
    // What cannot be is said with its cure, and the answer before it stays.
    browser
        .run("document.getElementById('locker-gust').value = ''")
        .await;
    browser.type_into("#locker-gust", "3").await;
    browser.tap("#locker-check").await;
    browser
        .wait("document.getElementById('locker').innerText.includes('Not worked out')")
        .await;
    assert!(
        browser
            .text("#locker-best")
            .await
            .contains("Best: flown now")
    );
    assert_own_host(&browser, &room.base).await;
}
