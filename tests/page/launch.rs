//! The launch: begun on the rig page or the mate's, followed one step at a time on the mate's, told
//! to the helm.

use std::time::Duration;

use skimwatch::decode::{CrewInput, LaunchSaid, Line};
use skimwatch::engine::Snapshot;
use skimwatch::units::{in_metres, in_metres_per_second};

use crate::browser::{Browser, browser_found};
use crate::invented::launching;
use crate::room::{LIVE, Room, assert_own_host, on_a_phone};

/// Waits until the card shows a step with these words.
async fn card(browser: &Browser, words: &str) {
    browser
        .wait(&format!(
            "document.getElementById('card').innerText.replaceAll('\u{a0}', ' ').includes('{words}')"
        ))
        .await;
}

/// A moment with so many steps answered, and these lines out.
fn answered(
    steps: u32,
    out_m: Option<(f64, f64)>,
) -> impl Fn(&mut Snapshot) + Send + Clone + 'static {
    move |now| launching(now, steps, out_m)
}

/// Shows a step and lets the thumb rest, so that the next tap counts.
async fn at_step(room: &Room, browser: &Browser, steps: u32, out_m: Option<(f64, f64)>) {
    room.show_with("calm", answered(steps, out_m));
    room.is_on(browser).await;
    browser.pass(Duration::from_millis(1600)).await;
}

async fn heard(room: &mut Room) -> LaunchSaid {
    match room.hear().await {
        CrewInput::Launch(said) => said,
        other => panic!("{other:?}"),
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_launch_begins_for_the_day_that_was_checked() {
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
        .wait("document.getElementById('launch-begin').innerText.includes('TAP AGAIN')")
        .await;
    browser.tap("#launch-begin").await;
    let LaunchSaid::Begun(day) = heard(&mut room).await else {
        panic!("no launch has begun");
    };
    // 14 and 18 kn, in hundredths of a metre a second.
    assert!((in_metres_per_second(day.wind) - 7.2).abs() < 1e-9);
    assert!((in_metres_per_second(day.gust) - 9.26).abs() < 1e-9);
    room.show_with("calm", answered(0, None));
    browser
        .wait("document.querySelector('#launch a').offsetParent")
        .await;
    assert_own_host(&browser, &room.base).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_launch_is_followed_step_by_step_and_counts_the_lines() {
    let Some((mut room, browser)) = on_a_phone("calm", "/").await else {
        return;
    };
    browser.tap("#launch-begin").await;
    browser.tap("#launch-begin").await;
    assert!(matches!(heard(&mut room).await, LaunchSaid::Begun(_)));
    at_step(&room, &browser, 0, None).await;
    card(&browser, "Look up and round").await;
    assert!(browser.text("#card").await.contains("ircraft, power lines"));
    // To the first step with lines.
    for (steps, title) in [
        "Look up",
        "Lanyard",
        "Kite out to the clip",
        "Ring on",
        "Band on",
        "Marker on",
    ]
    .into_iter()
    .enumerate()
    {
        let steps = u32::try_from(steps).unwrap();
        at_step(&room, &browser, steps, None).await;
        card(&browser, title).await;
        // The second tap of a wet thumb is none.
        browser
            .run("const done = document.getElementById('launch-done'); done.click(); done.click()")
            .await;
        let said = heard(&mut room).await;
        let expected = LaunchSaid::Answered {
            steps: steps + 1,
            kite: None,
            main: None,
        };
        assert_eq!(said, expected);
    }
    at_step(&room, &browser, 6, None).await;
    card(&browser, "Clip out").await;
    browser.tap("#launch-done").await;
    let LaunchSaid::Answered { steps, kite, main } = heard(&mut room).await else {
        panic!("no step is answered");
    };
    // The clip of the demo's rig hangs 15 m below the kite, and 3 m are out beyond it.
    assert_eq!((steps, kite.map(in_metres)), (7, Some(18.0)));
    let main_m = main.map(in_metres).unwrap();
    // Both lines together, from what is out by the crew's count: half a metre more than planned.
    at_step(&room, &browser, 7, Some((18.5, main_m + 0.5))).await;
    card(&browser, "Both lines together").await;
    card(&browser, "BAIT FLIES: LET OUT").await;
    browser.tap("#launch-done").await;
    let LaunchSaid::Answered { steps, kite, main } = heard(&mut room).await else {
        panic!("no step is answered");
    };
    let (kite_m, next_m) = (kite.map(in_metres).unwrap(), main.map(in_metres).unwrap());
    assert_eq!(steps, 8);
    assert!(kite_m > 25.0 && next_m > main_m + 0.5, "{kite_m} {next_m}");
    // Taken back within the time for it.
    browser.wait("document.getElementById('undo-button')").await;
    browser.tap("#undo-button").await;
    assert!(matches!(room.hear().await, CrewInput::Undo { .. }));
    // A step back later: the lines of that step are in again, what was trimmed since stays.
    at_step(&room, &browser, 8, Some((kite_m, next_m + 2.0))).await;
    card(&browser, "Step 9").await;
    browser.tap("#launch-back").await;
    let LaunchSaid::Answered { steps, kite, main } = heard(&mut room).await else {
        panic!("no step is taken back");
    };
    assert_eq!(steps, 7);
    assert!((kite.map(in_metres).unwrap() - 18.5).abs() < 0.02);
    assert!((main.map(in_metres).unwrap() - main_m - 2.5).abs() < 0.02);
    // The bait flies: main line by what the step says.
    at_step(&room, &browser, 8, Some((kite_m, next_m))).await;
    browser.tap("#launch-flies").await;
    let CrewInput::Moved { line, by } = room.hear().await else {
        panic!("no line moved");
    };
    assert!(line == Line::Main && in_metres(by) >= 1.0);
    at_step(&room, &browser, 8, Some((kite_m, next_m))).await;
    browser.tap("#launch-stop").await;
    browser.tap("#launch-stop").await;
    assert_eq!(heard(&mut room).await, LaunchSaid::Ended);
    room.assert_clean(&browser).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn done_is_in_sight_at_every_step_and_the_helm_knows() {
    if !browser_found() {
        return;
    }
    let room = Room::open("calm", 0).await;
    let browser = Browser::start().await;
    room.show_with("calm", answered(0, None));
    for (width, height) in [(390, 844), (844, 390), (320, 640)] {
        browser.screen(width, height).await;
        browser.open(&room.base).await;
        browser.wait(LIVE).await;
        let mut steps = 0;
        loop {
            let out_m = (steps > 6).then_some((60.0, 80.0));
            room.show_with("calm", answered(steps, out_m));
            room.is_on(&browser).await;
            card(&browser, &format!("Step {} of", steps + 1)).await;
            let place = format!("{width}x{height}, step {}", steps + 1);
            let hidden =
                "const done = document.getElementById('launch-done').getBoundingClientRect();
                const bar = document.getElementById('bar').getBoundingClientRect();
                const upright = bar.width > innerWidth / 2;
                return done.bottom > (upright ? bar.top : innerHeight) || done.top < 0";
            assert_eq!(browser.run(hidden).await, false, "{place}");
            let is_last = browser.text("#launch-done").await.contains("SKIPS");
            if is_last {
                break;
            }
            steps += 1;
            assert!(steps < 30);
        }
        assert!(steps > 8, "{steps}");
    }
    browser.open(&format!("{}/helm", room.base)).await;
    browser.wait(LIVE).await;
    let trouble = browser.text("#trouble").await;
    assert!(
        trouble.contains("LAUNCHING") && trouble.contains("hold course"),
        "{trouble}"
    );
    room.assert_clean(&browser).await;
}
