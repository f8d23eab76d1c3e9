//! The mate's page: what to do, and what the mate tells the boat.

use std::time::{Duration, Instant};

use skimwatch::advice::{AlertState, Priority};
use skimwatch::decode::{Asked, BaitState, CrewInput, Line, PlanAnswer};
use skimwatch::units;

use crate::browser::{Browser, browser_found};
use crate::room::{LIVE, Room, on_a_phone};

/// The time in which a second tap of a wet thumb does not count (`mate.js`).
const REST: Duration = Duration::from_millis(1500);

#[tokio::test(flavor = "multi_thread")]
async fn the_mate_reads_what_to_do_and_answers() {
    let Some((mut room, browser)) = on_a_phone("advice", "").await else {
        return;
    };
    let card = browser.text("#card").await;
    for words in [
        "LET OUT 4 m",
        "MAIN LINE, to 122 m out",
        "Turn of 40° to port lifts the bait",
        "Do nothing: 83 %. Do this: 7 %",
        "WARNING",
    ] {
        assert!(card.contains(words), "{words} is not in\n{card}");
    }
    assert!(browser.text("#mode").await.contains("DEMO"));
    // The countdown runs by itself, downwards.
    let seconds = "Number(document.getElementById('start-count').textContent.match(/[0-9]+/)[0])";
    let first = browser
        .run(&format!("return {seconds}"))
        .await
        .as_f64()
        .unwrap();
    browser.wait(&format!("{seconds} < {first}")).await;

    browser.tap("#seen").await;
    assert_eq!(
        room.hear().await,
        CrewInput::Acknowledge {
            advisory: "bait-airborne-3".to_owned(),
            priority: Some(Priority::Warning),
        }
    );
    room.show_with("advice", |now| {
        now.advisories[0].state = AlertState::ActiveAcknowledged;
    });
    browser.wait("!document.getElementById('seen')").await;
    browser.tap("[data-answer=done]").await;
    assert_eq!(
        room.hear().await,
        answer(PlanAnswer::Done, 2, Line::Main, 4.0)
    );

    browser.tap("[data-bait=dragging]").await;
    assert_eq!(room.hear().await, CrewInput::Bait(BaitState::Dragging));
    browser
        .wait("document.getElementById('undo').innerText.includes('Bait dragging')")
        .await;
    browser.tap("#undo-button").await;
    assert_eq!(room.hear().await, CrewInput::Undo { of: 3 });
    room.show_with("advice", |now| {
        if let Some(bait) = &mut now.deck.bait {
            bait.state = BaitState::Airborne;
        }
    });
    browser
        .wait("document.querySelector('[data-bait=airborne]').getAttribute('aria-pressed') === 'true'")
        .await;

    browser.tap("#took").await;
    assert_eq!(
        room.hear().await,
        CrewInput::Moved {
            line: Line::Main,
            by: units::metres(-3.0)
        }
    );
    browser.tap("[data-line=kite]").await;
    browser.tap(".stepper button:last-child").await;
    browser.tap("#gave").await;
    assert_eq!(
        room.hear().await,
        CrewInput::Moved {
            line: Line::Kite,
            by: units::metres(4.0)
        }
    );
    browser
        .tap("#sight-box .row:nth-of-type(1) .deck:nth-child(3)")
        .await;
    assert_eq!(
        room.hear().await,
        CrewInput::Elevation(units::degrees(45.0))
    );
    browser.tap("#bite").await;
    assert_eq!(room.hear().await, CrewInput::Bite);
    room.show("bite");
    browser
        .wait("document.getElementById('card').innerText.includes('BITE!')")
        .await;
    room.assert_clean(&browser).await;
}

/// An answer to the invented advisory.
fn answer(answer: PlanAnswer, revision: u32, line: Line, by_m: f64) -> CrewInput {
    let asked = Asked {
        advisory: "bait-airborne-3".to_owned(),
        revision,
        line,
        by: units::metres(by_m),
    };
    CrewInput::Plan {
        answer,
        asked: Some(asked),
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn line_that_is_asked_for_is_answered_where_it_is_asked() {
    let Some((mut room, browser)) = on_a_phone("take", "").await else {
        return;
    };
    let card = browser.text("#card").await.replace('\u{a0}', " ");
    for words in [
        "WIND IN 6 m",
        "KITE LINE, to 64 m out",
        "steadily, about 12 s: about 9 cranks",
        "DONE",
        "HALF",
        "SOMETHING ELSE",
    ] {
        assert!(card.contains(words), "{words} is not in\n{card}");
    }
    let low = browser
        .run(
            "return Array.from(document.querySelectorAll('#card [data-answer]'))
                .map(button => button.getBoundingClientRect())
                .filter(box => box.height < 60 || box.width < 60 || box.bottom > innerHeight).length",
        )
        .await;
    assert_eq!(low, 0, "a wet thumb needs 60 px, without scrolling");

    // Something else: the line is chosen, only the amount is left to say.
    browser.tap("[data-answer=other]").await;
    assert_eq!(
        room.hear().await,
        answer(PlanAnswer::Other, 2, Line::Kite, -6.0)
    );
    browser
        .wait("document.querySelector('[data-line=kite]').getAttribute('aria-pressed') === 'true'")
        .await;
    browser
        .wait("document.getElementById('took').getBoundingClientRect().bottom < innerHeight")
        .await;
    browser.tap("#took").await;
    assert_eq!(
        room.hear().await,
        CrewInput::Moved {
            line: Line::Kite,
            by: units::metres(-3.0)
        }
    );

    // A thumb that slips twice, and another phone that has answered meanwhile.
    room.show_with("take", |now| now.advisories[0].revision = 3);
    room.is_on(&browser).await;
    browser.pass(REST).await;
    browser.tap("[data-answer=half]").await;
    browser.tap("[data-answer=half]").await;
    browser.tap("[data-bait=skipping]").await;
    assert_eq!(
        room.hear().await,
        answer(PlanAnswer::Half, 3, Line::Kite, -6.0)
    );
    assert_eq!(room.hear().await, CrewInput::Bait(BaitState::Skipping));
    // Its undo is offered before the next tap, so that it cannot cover what that one brings.
    browser
        .wait("document.getElementById('undo').innerText.toLowerCase().includes('skip')")
        .await;
    browser.pass(REST).await;
    // A page that is late answers nothing.
    room.ticks_on(&browser).await;
    browser.tap("[data-answer=done]").await;
    browser
        .wait("document.getElementById('undo').innerText.includes('not counted twice')")
        .await;
    // The browser itself notes the refusal, and that of a slip which came late.
    let noted = browser.complaints().await;
    assert!(!noted.is_empty() && noted.len() <= 2, "{noted:?}");
    assert!(noted.iter().all(|noted| noted.contains("409")), "{noted:?}");

    // Line that the card does not ask for is answered below it.
    room.show_with("advice", |now| now.advisories.swap(0, 1));
    browser
        .wait("document.querySelector('#others [data-answer=done]')")
        .await;
    let others = browser.text("#others").await.replace('\u{a0}', " ");
    assert!(
        others.contains("LET OUT 4 m main line, to 122 m out, steadily, about 8 s"),
        "{others}"
    );
    browser.pass(REST).await;
    browser.tap("#others [data-answer=done]").await;
    assert_eq!(
        room.hear().await,
        answer(PlanAnswer::Done, 2, Line::Main, 4.0)
    );
    room.assert_clean(&browser).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_undo_goes_after_ten_seconds() {
    if !browser_found() {
        return;
    }
    let mut room = Room::open("calm", 0).await;
    let browser = Browser::start().await;
    browser.open(&room.base).await;
    browser.wait(LIVE).await;
    browser.tap("[data-bait=skipping]").await;
    room.hear().await;
    browser
        .wait("!document.getElementById('undo').hidden")
        .await;
    let shown = Instant::now();
    browser.wait("document.getElementById('undo').hidden").await;
    assert!(shown.elapsed() > Duration::from_secs(8));
}

#[tokio::test(flavor = "multi_thread")]
async fn since_when_nobody_watches_is_told_in_the_phones_own_time() {
    let Some((room, browser)) = on_a_phone("advice", "/").await else {
        return;
    };
    let there = serde_json::json!({"timezoneId": "Pacific/Auckland"});
    browser
        .devtools("Emulation.setTimezoneOverride", there)
        .await;
    room.show_with("advice", |now| {
        // 2026-03-14T10:00:00Z, which is 23:00 there (summer time, UTC+13).
        now.advisories[0].unwatched_since = Some(crate::invented::START);
    });
    browser
        .wait("document.getElementById('card').innerText.includes('(since 23:00)')")
        .await;
}
