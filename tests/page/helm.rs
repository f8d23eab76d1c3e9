//! The helm's page.

use skimwatch::advice::{AlertState, Priority};
use skimwatch::decode::CrewInput;
use skimwatch::units;

use crate::room::on_a_phone;

#[tokio::test(flavor = "multi_thread")]
async fn the_helm_announces_a_turn_in_two_taps_and_calls_it_off() {
    let Some((mut room, browser)) = on_a_phone("advice", "/helm").await else {
        return;
    };
    let limits = browser.text("#limits").await;
    // 2.2 by the forecast, but an order that stands says 2.0.
    assert!(
        limits.contains("2.0°/s") && limits.contains("3.6°/s"),
        "{limits}"
    );
    browser.tap("[data-turn='45']").await;
    browser
        .wait("document.getElementById('preview').innerText.includes('45° to starboard')")
        .await;
    browser.tap("[data-rate='4']").await;
    assert_eq!(
        room.hear().await,
        CrewInput::Turn {
            by: units::degrees(45.0),
            rate: units::degrees_per_second(4.0),
            in_s: 15.0
        }
    );
    room.show("turn");
    browser
        .wait("document.getElementById('announced').innerText.includes('45° to port')")
        .await;
    browser.tap("#call-off").await;
    assert_eq!(room.hear().await, CrewInput::CallOffTurn);
    room.show("advice");
    browser.wait("!document.getElementById('call-off')").await;
    room.assert_clean(&browser).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_helm_sees_the_living_alarm_and_says_so() {
    let Some((mut room, browser)) = on_a_phone("advice", "/helm").await else {
        return;
    };
    let trouble = browser.text("#trouble").await;
    for words in [
        "WARNING",
        "Bait will fly",
        "GOT IT",
        "s LET OUT 4 m main line, to 122 m out, steadily, about 8 s",
        "Turn of 40° to port lifts the bait",
    ] {
        assert!(
            trouble.replace('\u{a0}', " ").contains(words),
            "{words} is not in\n{trouble}"
        );
    }
    let seconds = "Number(document.getElementById('trouble-count').textContent.match(/[0-9]+/)[0])";
    let first = browser.run(&format!("return {seconds}")).await;
    browser
        .wait(&format!("{seconds} < {}", first.as_f64().unwrap()))
        .await;
    // Everything on the page speaks of the turn that is coming.
    let limits = browser.text("#limits").await;
    assert!(
        limits.contains("Turn 40° no faster than") && limits.contains("40° in 20 s"),
        "{limits}"
    );
    assert!(!limits.contains("90°"), "{limits}");
    browser.tap("[data-turn='90']").await;
    browser
        .wait("document.querySelector('#turn .hint').innerText.includes('limit is for 40°')")
        .await;
    room.show("alarm");
    browser
        .wait("document.getElementById('trouble').innerText.includes('ALARM')")
        .await;
    let trouble = browser.text("#trouble").await;
    assert!(trouble.contains("NOW"), "{trouble}");
    browser.tap("#seen").await;
    assert_eq!(
        room.hear().await,
        CrewInput::Acknowledge {
            advisory: "bait-airborne-3".to_owned(),
            priority: Some(Priority::Alarm),
        }
    );
    room.show_with("alarm", |now| {
        now.advisories[0].state = AlertState::ActiveAcknowledged;
    });
    browser.wait("!document.getElementById('seen')").await;
    room.show("bite");
    browser
        .wait("document.getElementById('trouble').innerText.includes('Keep way on ahead')")
        .await;
    // From a bait that does not skip no turn can be judged.
    room.show("by-eye");
    browser
        .wait("document.getElementById('limits').innerText.includes('et the bait skipping before you turn')")
        .await;
    assert!(!browser.text("#limits").await.contains("°/s"));
    room.show("calm");
    browser
        .wait("document.getElementById('trouble').hidden")
        .await;
    room.assert_clean(&browser).await;
}
