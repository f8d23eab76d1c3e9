//! The launch on the rig page: one step at a time, and the lines out told with each.

use skimwatch::decode::CrewInput;
use skimwatch::units;

use crate::room::{assert_own_host, on_a_phone};

#[tokio::test(flavor = "multi_thread")]
async fn a_launch_is_followed_step_by_step_and_tells_the_lines() {
    let Some((mut room, browser)) = on_a_phone("advice", "/rig").await else {
        return;
    };
    browser
        .wait("document.querySelector('#locker .speed-unit').innerText === 'kn'")
        .await;
    assert!(browser.text("#launch").await.contains("power lines"));
    browser.type_into("#locker-wind", "14").await;
    browser.type_into("#locker-gust", "18").await;
    browser.type_into("#locker-speed", "6").await;
    browser.tap("#locker-check").await;
    browser.wait("document.getElementById('locker-best')").await;
    browser.tap("#launch-begin").await;
    browser
        .wait("document.getElementById('launch-step').innerText.includes('Look up and round')")
        .await;
    // To the first step with lines and back by one.
    for title in [
        "Lanyard",
        "Kite out to the clip",
        "Ring on",
        "Band on",
        "Marker on",
        "Clip out",
    ] {
        browser.tap("#launch-done").await;
        browser
            .wait(&format!(
                "document.getElementById('launch-step').innerText.includes('{title}')"
            ))
            .await;
    }
    browser.tap("#launch-back").await;
    browser
        .wait("document.getElementById('launch-step').innerText.includes('Marker on')")
        .await;
    browser.tap("#launch-done").await;
    browser
        .wait("document.getElementById('launch-step').innerText.includes('LET OUT')")
        .await;
    browser.tap("#launch-done").await;
    // The clip of the demo's rig hangs 15 m below the kite, and 3 m are out beyond it.
    let CrewInput::LinesOut { kite, main } = room.hear().await else {
        panic!("no lines out");
    };
    assert_eq!(kite, Some(units::metres(18.0)));
    assert!(main.is_some());
    browser
        .wait("document.getElementById('launch-step').innerText.includes('Both lines together')")
        .await;
    assert_own_host(&browser, &room.base).await;
}
