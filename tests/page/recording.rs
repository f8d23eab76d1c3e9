//! What the pages say of recording.

use skimwatch::record::RecordState;

use crate::browser::{Browser, browser_found};
use crate::invented::START;
use crate::room::{LIVE, Room, on_a_phone};

const LONG_NAME: &str = "recordings-of-a-directory-whose-name-is-longer-than-a-phone-is-wide";

#[tokio::test(flavor = "multi_thread")]
async fn every_page_says_that_nothing_is_recorded_and_why() {
    if !browser_found() {
        return;
    }
    let room = Room::open("advice", 0).await;
    let browser = Browser::start().await;
    browser.screen(390, 844).await;
    for page in ["", "/helm", "/rig"] {
        room.recorder.send_modify(|report| {
            report.state = RecordState::Recording {
                file: "raw-000007-20260314T090000Z.nmea".into(),
                since: START,
            };
        });
        browser.open(&format!("{}{page}", room.base)).await;
        browser.wait(LIVE).await;
        let hidden = "document.getElementById('not-recording').hidden";
        browser.wait(hidden).await;
        room.recorder.send_modify(|report| {
            report.state = RecordState::Failing {
                cause: format!("the disk of /{LONG_NAME} is full: make room"),
                since: START,
            };
        });
        browser.wait(&format!("!{hidden}")).await;
        assert_eq!(
            browser.text("#not-recording").await,
            format!("NOT RECORDING: the disk of /{LONG_NAME} is full: make room"),
            "{page}"
        );
        let wide = "return document.documentElement.scrollWidth > innerWidth";
        assert_eq!(browser.run(wide).await, false, "{page} overflows");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_rig_page_shows_the_file_the_counts_and_what_is_not_kept() {
    let Some((room, browser)) = on_a_phone("advice", "/rig").await else {
        return;
    };
    let has = |place: &str, text: &str| {
        format!("document.getElementById('{place}').innerText.includes('{text}')")
    };
    browser
        .wait(&has("recording-now", "raw-000007-20260314T090000Z.nmea"))
        .await;
    browser
        .wait(&has("recording-counts", "41000 lines written, 12 lost"))
        .await;
    let hidden = "document.getElementById('learnt-trouble').hidden";
    browser.wait(hidden).await;
    room.learnt_trouble
        .send_replace(Some("the disk is full".to_owned()));
    room.recorder.send_modify(|report| {
        report.waiting = 2;
        report.state = RecordState::Failing {
            cause: "the disk is full".to_owned(),
            since: START.plus_seconds(-7200.0),
        };
    });
    browser
        .wait(&has("learnt-trouble", "NOT KEPT: the disk is full"))
        .await;
    browser
        .wait(&has("recording-now", "Nothing written for 2 h"))
        .await;
    browser
        .wait(&has("recording-counts", "2 of the crew wait in memory"))
        .await;
}
