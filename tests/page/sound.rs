//! Sound: what sounds, until when, and what does not.

use std::time::Duration;

use skimwatch::advice::{AlertState, Priority};
use skimwatch::decode::CrewInput;

use crate::browser::Browser;
use crate::invented::START;
use crate::room::{Room, on_a_phone};

const TONES: &str = "Number(document.documentElement.dataset.tones)";
/// More than the time after which an alarm sounds again (`notice.js`).
const AGAIN: Duration = Duration::from_millis(2500);

async fn tones(browser: &Browser) -> u64 {
    let tones = browser.run(&format!("return {TONES}")).await;
    tones.as_u64().unwrap()
}

/// Asserts that nothing sounds in the time of three alarms.
async fn assert_silent(room: &Room, browser: &Browser) {
    let so_far = tones(browser).await;
    for _ in 0..3 {
        browser.pass(AGAIN).await;
        room.ticks_on(browser).await;
    }
    assert_eq!(tones(browser).await, so_far);
}

#[tokio::test(flavor = "multi_thread")]
async fn sound_follows_priority_until_seen_and_keeps_quiet_when_asked() {
    let Some((mut room, browser)) = on_a_phone("calm", "").await else {
        return;
    };
    assert!(browser.text("#sound").await.contains("OFF"));
    browser.tap("#sound").await;
    browser
        .wait("document.getElementById('sound').innerText.includes('SOUND ON')")
        .await;
    assert_eq!(tones(&browser).await, 1);
    // An alarm sounds again and again.
    room.show("alarm");
    for more in 2..=4 {
        browser.wait(&format!("{TONES} >= {more}")).await;
        browser.pass(AGAIN).await;
    }
    assert_eq!(
        browser
            .run("return document.documentElement.dataset.tone")
            .await,
        "alarm"
    );
    // Seen: no more of it.
    let seen = |now: &mut skimwatch::engine::Snapshot| {
        now.advisories[0].state = AlertState::ActiveAcknowledged;
    };
    room.show_with("alarm", seen);
    browser.wait("!document.getElementById('seen')").await;
    assert_silent(&room, &browser).await;
    // A caution makes no sound, a quiet quarter of an hour neither.
    room.show_with("advice", |now| {
        now.advisories.remove(0);
        assert_eq!(now.advisories[0].priority, Priority::Caution);
    });
    room.is_on(&browser).await;
    assert_silent(&room, &browser).await;
    browser.tap("#sound").await;
    browser.tap("[data-minutes='15']").await;
    assert_eq!(room.hear().await, CrewInput::Silence { minutes: 15.0 });
    room.show_with("alarm", |now| {
        now.silenced_until = Some(START.plus_seconds(900.0))
    });
    browser
        .wait("document.getElementById('sound').innerText.includes('SILENT 15 min')")
        .await;
    assert_silent(&room, &browser).await;
    room.assert_clean(&browser).await;
}
