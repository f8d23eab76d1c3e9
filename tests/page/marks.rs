//! Marks on the helm's page: one tap, two taps, a typed position, the list, the picture.

use skimwatch::decode::{CrewInput, MarkChange, MarkHow, MarkSaid, PassWord};
use skimwatch::geodesy::Position;
use skimwatch::units::{in_degrees, in_metres, in_metres_per_second};

use crate::browser::Browser;
use crate::invented::{START, vessel};
use crate::room::{Room, on_a_phone};

const READY: &str = "document.getElementById('mark-here')";

async fn helm(moment: &'static str) -> Option<(Room, Browser)> {
    let (room, browser) = on_a_phone(moment, "/helm").await?;
    browser.wait(READY).await;
    Some((room, browser))
}

fn boat() -> Position {
    vessel(START).position.unwrap().value
}

async fn mark(room: &mut Room) -> MarkSaid {
    match room.hear().await {
        CrewInput::Mark(said) => said,
        other => panic!("{other:?}"),
    }
}

async fn change(room: &mut Room) -> (u32, MarkChange) {
    match room.hear().await {
        CrewInput::OfMark { number, change } => (number, change),
        other => panic!("{other:?}"),
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_mark_takes_one_tap_here_and_two_on_the_dial() {
    let Some((mut room, browser)) = helm("calm").await else {
        return;
    };
    browser.tap("#mark-here").await;
    let here = mark(&mut room).await;
    assert_eq!(here.how, MarkHow::Here);
    let off = boat().way_to(here.position.unwrap().into()).unwrap();
    assert!(off.range_m() < 0.01, "{off:?}");

    browser.tap("#mark-seen summary").await;
    // Two o'clock, 300 m: 60 degrees to starboard of a boat that heads 1.2 rad.
    browser.tap("[data-hour='2']").await;
    browser.tap("[data-far='300']").await;
    let seen = mark(&mut room).await;
    let MarkHow::ByEye { range } = seen.how else {
        panic!("{seen:?}");
    };
    assert!((in_metres(range) - 300.0).abs() < 1e-9);
    let way = boat().way_to(seen.position.unwrap().into()).unwrap();
    assert!((way.range_m() - 300.0).abs() < 0.01);
    let wanted = 1.2_f64.to_degrees() + 60.0;
    assert!(
        (way.bearing_rad().to_degrees() - wanted).abs() < 0.01,
        "{way:?}"
    );
    // It can be taken back, and the dial is ready for the next.
    browser.tap("#undo-button").await;
    assert!(matches!(room.hear().await, CrewInput::Undo { .. }));
    browser.wait("!document.querySelector('[data-far]')").await;
    // Ten o'clock is to port.
    browser.tap("[data-hour='10']").await;
    browser.tap("[data-far='50']").await;
    let port = mark(&mut room).await;
    let way = boat().way_to(port.position.unwrap().into()).unwrap();
    let wanted = 1.2_f64.to_degrees() - 60.0;
    assert!(
        (way.bearing_rad().to_degrees() - wanted).abs() < 0.01,
        "{way:?}"
    );
    room.assert_clean(&browser).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_position_is_typed_and_a_wrong_one_is_not_sent() {
    let Some((mut room, browser)) = helm("calm").await else {
        return;
    };
    browser
        .run("document.getElementById('mark-typed').closest('details').open = true")
        .await;
    browser.type_into("#mark-latitude", "95").await;
    browser.type_into("#mark-longitude", "-40.25").await;
    browser.tap("#mark-typed").await;
    browser
        .wait("document.getElementById('marks').innerText.includes('from -89 to 89')")
        .await;
    browser
        .run("document.getElementById('mark-latitude').value = ''")
        .await;
    browser.type_into("#mark-latitude", "12.5").await;
    browser.tap("#mark-typed").await;
    let typed = mark(&mut room).await;
    let place = typed.position.unwrap();
    assert_eq!(typed.how, MarkHow::Typed);
    assert!((in_degrees(place.latitude) - 12.5).abs() < 1e-6);
    assert!((in_degrees(place.longitude) + 40.25).abs() < 1e-6);
    room.assert_clean(&browser).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_list_says_where_and_how_sure_and_changes_a_mark() {
    let Some((mut room, browser)) = helm("marks").await else {
        return;
    };
    browser
        .run("document.querySelectorAll('#mark-list details').forEach(part => { part.open = true; })")
        .await;
    browser
        .wait("document.querySelectorAll('[data-mark]').length === 4")
        .await;
    let said = browser.text("#mark-list").await.replace('\u{a0}', " ");
    for words in [
        "birds",
        "seen by eye",
        "drifts to 120° at 0.8 kn",
        "to port",
        "give or take",
        "Mark 1",
        "the boat was there, 21 min ago",
        "From the network",
        "waypoint you steer for",
    ] {
        assert!(said.contains(words), "{words} is not in\n{said}");
    }
    browser.tap("[data-mark='2'] [data-name=SLICK]").await;
    let named = MarkChange::Named(Some("SLICK".to_owned()));
    assert_eq!(change(&mut room).await, (2, named));
    browser.tap("[data-mark='2'] [data-drift='90']").await;
    browser.tap("[data-mark='2'] [data-mps='0.5']").await;
    let (number, MarkChange::Drifts(Some(way))) = change(&mut room).await else {
        panic!("no drift");
    };
    assert_eq!(number, 2);
    assert!((in_degrees(way.set) - 90.0).abs() < 1e-9);
    assert!((in_metres_per_second(way.drift) - 0.5).abs() < 1e-9);
    // One tap removes nothing.
    browser.tap("[data-remove='1000']").await;
    browser.tap("[data-remove='1000']").await;
    assert_eq!(change(&mut room).await, (1000, MarkChange::Removed));
    room.assert_clean(&browser).await;
}

/// Metres east and north of the boat that a place of the picture stands for, from the ring's label.
const PICTURE: &str = "const svg = document.querySelector('#plot svg');
    const box = svg.viewBox.baseVal;
    const place = e => [Number(e.getAttribute('cx')) - box.width / 2, box.height / 2 - Number(e.getAttribute('cy'))];
    return {bait: place(svg.querySelector('.bait')), boat: svg.querySelector('.boat').getAttribute('transform'),
        parts: ['band', 'middle', 'mainline'].filter(name => svg.querySelector('.' + name)),
        text: [...svg.querySelectorAll('text')].map(t => t.textContent)}";

#[tokio::test(flavor = "multi_thread")]
async fn the_picture_shows_boat_bait_track_and_marks_bow_up_or_north_up() {
    let Some((room, browser)) = helm("marks").await else {
        return;
    };
    browser.wait("document.querySelector('#plot .band')").await;
    let bow_up = browser.run(PICTURE).await;
    assert_eq!(
        bow_up["parts"],
        serde_json::json!(["band", "middle", "mainline"])
    );
    let texts = bow_up["text"].to_string();
    assert!(texts.contains("birds") && texts.contains("bait"), "{texts}");
    assert!(
        bow_up["boat"].as_str().unwrap().contains("rotate(0)"),
        "{bow_up}"
    );
    browser.tap("#plot-up").await;
    browser
        .wait("!document.querySelector('#plot .boat').getAttribute('transform').includes('rotate(0)')")
        .await;
    let north_up = browser.run(PICTURE).await;
    // The invented bait lies 50 m west and 50 m south of the boat: below and left, north up.
    let at = |shown: &serde_json::Value, axis: usize| shown["bait"][axis].as_f64().unwrap();
    assert!((at(&north_up, 0) - at(&north_up, 1)).abs() < 2.0 && at(&north_up, 0) < 0.0);
    // Bow up it lies astern: 1.2 rad is 69 degrees, so 45 + 180 - 69 = 156 degrees off the bow.
    let angle = at(&bow_up, 0).atan2(at(&bow_up, 1)).to_degrees();
    assert!((angle - 156.2).abs() < 2.0, "{angle}");
    room.show_with("marks", |now| now.vessel.position = None);
    browser
        .wait("document.getElementById('plot').innerText.includes('No position')")
        .await;
    room.assert_clean(&browser).await;
}

/// Asserts that a part of a page says all this.
async fn says(browser: &Browser, part: &str, all: &[&str]) {
    for words in all {
        browser
            .wait(&format!(
                "document.getElementById('{part}').innerText.replaceAll('\u{a0}', ' ').includes('{words}')"
            ))
            .await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_pass_is_asked_for_accepted_and_told_to_the_mate() {
    let Some((mut room, helm)) = helm("marks").await else {
        return;
    };
    let mate = Browser::start().await;
    mate.screen(844, 390).await;
    mate.open(&room.base).await;
    mate.wait(crate::room::LIVE).await;
    helm.run("document.querySelector('[data-mark=\"2\"]').open = true")
        .await;
    let said = |said| CrewInput::Pass { mark: 2, said };
    helm.tap("[data-ask='2']").await;
    assert_eq!(room.hear().await, said(PassWord::Ask));
    room.show("no-pass");
    says(
        &helm,
        "pass",
        &["NO PASS", "cannot be fished on", "go round to windward"],
    )
    .await;
    helm.wait("!document.querySelector('[data-pass=accept]')")
        .await;
    room.show("pass");
    says(
        &helm,
        "pass",
        &[
            "BAIT OVER BIRDS",
            "TURN PORT 40°",
            "2.0°/s, in 1",
            "Then hold 029",
            "Mate: LET OUT 8 m main line, in 1",
            "86 of 100",
            "31 of 100",
            "The look-out and the chart decide",
        ],
    )
    .await;
    mate.wait("document.getElementById('pass').hidden").await;
    helm.tap("[data-pass=accept]").await;
    assert_eq!(room.hear().await, said(PassWord::Accept));
    room.show("pass-on");
    // Both pages name the same turn, the mate's without answers.
    for page in [&helm, &mate] {
        says(
            page,
            "pass",
            &["BAIT OVER BIRDS", "accepted", "TURN PORT 40°"],
        )
        .await;
        says(page, "announced", &["40° to port"]).await;
    }
    mate.wait("!document.querySelector('[data-pass]')").await;
    // Nobody is asked twice for line.
    says(&mate, "pass", &["Line: follow the order on this page"]).await;
    room.show("pass-line");
    says(
        &mate,
        "pass",
        &["LET OUT 8 m", "main line, in 1", "steadily, about 7"],
    )
    .await;
    says(&mate, "card", &["LINE FOR THE PASS"]).await;
    helm.tap("[data-pass=end]").await;
    assert_eq!(room.hear().await, said(PassWord::End));
    // Of what is over no plan is shown.
    room.show("passed");
    says(&helm, "pass", &["BAIT OVER BIRDS", "passed"]).await;
    let plan = "document.getElementById('pass').innerText.includes('MAY MISS')";
    helm.wait(&format!("!{plan}")).await;
    room.show("marks");
    for page in [&helm, &mate] {
        page.wait("document.getElementById('pass').hidden").await;
    }
    room.assert_clean(&helm).await;
}
