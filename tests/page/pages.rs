//! The pages in a real browser: taps post and show, nothing overflows, nothing is asked from
//! anywhere else, old data looks old.

use std::time::{Duration, Instant};

use skimwatch::advice::{AlertState, Priority};
use skimwatch::cause::Cause;
use skimwatch::decode::{Asked, BaitState, CrewInput, Line, PlanAnswer};
use skimwatch::units;

use crate::browser::{Browser, browser_found};
use crate::invented::{MOMENTS, START};
use crate::room::{LIVE, Room, on_a_phone};

const SIZES: [(u32, u32); 3] = [(390, 844), (844, 390), (1280, 800)];
const PAGES: [&str; 3] = ["/", "/helm", "/rig"];

/// Asserts that the console is quiet and that only our own host was asked.
async fn assert_clean(browser: &Browser, room: &Room) {
    let complaints = browser.complaints().await;
    assert!(complaints.is_empty(), "{complaints:#?}");
    assert_own_host(browser, &room.base).await;
}

async fn assert_own_host(browser: &Browser, base: &str) {
    let requested = browser.requested().await;
    assert!(!requested.is_empty(), "the network log is empty");
    let foreign: Vec<_> = requested
        .iter()
        .filter(|url| !url.starts_with(base) && !url.starts_with("data:") && *url != "about:blank")
        .collect();
    assert!(foreign.is_empty(), "{foreign:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn pages_fit_every_screen_in_every_state() {
    if !browser_found() {
        return;
    }
    let room = Room::open("advice", 0).await;
    let browser = Browser::start().await;
    let overflow = "return [...document.querySelectorAll('body *')]
        .filter(e => !e.closest('svg') || e.tagName === 'svg' || e.tagName === 'text')
        .filter(e => { const r = e.getBoundingClientRect();
            return r.width && (r.right > innerWidth + 1 || r.left < -1); })
        .map(e => e.tagName + '.' + (e.getAttribute('class') ?? '') + ' ' + e.textContent.slice(0, 40))
        .concat([...document.querySelectorAll('p, h2, h3, li, dd, .deck, .column, output')]
            .filter(e => e.offsetParent !== null && e.scrollWidth > e.clientWidth + 1)
            .map(e => 'inside ' + e.className + ' ' + e.textContent.slice(0, 40)))
        .concat(document.documentElement.scrollWidth > innerWidth ? ['page ' + document.documentElement.scrollWidth] : [])";
    let low = "return [...document.querySelectorAll('.deck, input')]
        .filter(e => e.offsetParent !== null && e.getBoundingClientRect().height < 64)
        .map(e => e.textContent + ' ' + e.getBoundingClientRect().height)";
    for page in PAGES {
        browser.open(&format!("{}{page}", room.base)).await;
        browser.wait(LIVE).await;
        if page == "/rig" {
            browser.wait("document.querySelector('.setting')").await;
            browser
                .run("document.querySelectorAll('details').forEach(part => { part.open = true; })")
                .await;
        }
        for (width, height) in SIZES {
            browser.screen(width, height).await;
            for moment in MOMENTS {
                room.show_on(&browser, moment).await;
                for scale in ["100%", "200%"] {
                    browser
                        .run(&format!(
                            "document.documentElement.style.fontSize = '{scale}'"
                        ))
                        .await;
                    let place = format!("{page} {width}x{height} {moment} {scale}");
                    let found = browser.run(overflow).await;
                    assert_eq!(found, serde_json::json!([]), "{place} overflows");
                    let found = browser.run(low).await;
                    assert_eq!(found, serde_json::json!([]), "{place} has low controls");
                }
                browser
                    .run("document.documentElement.style.fontSize = ''")
                    .await;
            }
        }
    }
    browser.open(&format!("{}/v1/docs", room.base)).await;
    browser
        .wait("document.querySelectorAll('.route').length > 40")
        .await;
    assert_clean(&browser, &room).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_mate_reads_what_to_do_and_answers() {
    let Some((mut room, browser)) = on_a_phone("advice", "").await else {
        return;
    };
    let card = browser.text("#card").await;
    for words in [
        "GIVE 4 m",
        "MAIN LINE",
        "Turn to port in 26 s lifts the bait",
        "83 % likely",
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
    assert_clean(&browser, &room).await;
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
        "TAKE 6 m",
        "KITE LINE",
        "Over 12 s at 0.5 m/s: about 9 cranks",
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
    tokio::time::sleep(Duration::from_millis(1800)).await;
    browser.tap("[data-answer=half]").await;
    browser.tap("[data-answer=half]").await;
    browser.tap("[data-bait=skipping]").await;
    assert_eq!(
        room.hear().await,
        answer(PlanAnswer::Half, 3, Line::Kite, -6.0)
    );
    assert_eq!(room.hear().await, CrewInput::Bait(BaitState::Skipping));
    tokio::time::sleep(Duration::from_millis(1600)).await;
    browser.tap("[data-answer=done]").await;
    browser
        .wait("document.getElementById('undo').innerText.includes('not counted twice')")
        .await;
    // The browser itself notes the refusal.
    let [noted] = browser.complaints().await.try_into().unwrap();
    assert!(noted.contains("409"), "{noted}");

    // Line that the card does not ask for is answered below it.
    room.show_with("advice", |now| now.advisories.swap(0, 1));
    browser
        .wait("document.querySelector('#others [data-answer=done]')")
        .await;
    let others = browser.text("#others").await.replace('\u{a0}', " ");
    assert!(others.contains("GIVE 4 m main line over 8 s"), "{others}");
    tokio::time::sleep(Duration::from_millis(1600)).await;
    browser.tap("#others [data-answer=done]").await;
    assert_eq!(
        room.hear().await,
        answer(PlanAnswer::Done, 2, Line::Main, 4.0)
    );
    assert_clean(&browser, &room).await;
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
async fn the_helm_announces_a_turn_in_two_taps_and_calls_it_off() {
    let Some((mut room, browser)) = on_a_phone("advice", "/helm").await else {
        return;
    };
    let limits = browser.text("#limits").await;
    assert!(
        limits.contains("2.2°/s") && limits.contains("3.6°/s"),
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
    assert_clean(&browser, &room).await;
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
        " s\n\nSEEN",
        "s: GIVE 4 m main line over 8 s",
        "Turn to port in 26 s lifts the bait",
        "and 1 more",
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
        limits.contains("Turn 40° no faster than") && limits.contains("40° in 18 s"),
        "{limits}"
    );
    assert!(!limits.contains("90°"), "{limits}");
    browser.tap("[data-turn='90']").await;
    browser
        .wait("document.querySelector('#turn .hint').innerText.includes('a turn of 40°')")
        .await;
    room.show("alarm");
    browser
        .wait("document.getElementById('trouble').innerText.includes('ALARM')")
        .await;
    let trouble = browser.text("#trouble").await;
    assert!(trouble.contains("NOW"), "{trouble}");
    // The limits hold for a bait that skips, which this one does not.
    browser
        .wait("document.getElementById('limits').innerText.includes('trim first')")
        .await;
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
        .wait("document.getElementById('trouble').innerText.includes('keeps ahead')")
        .await;
    room.show("calm");
    browser
        .wait("document.getElementById('trouble').hidden")
        .await;
    assert_clean(&browser, &room).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn lines_out_are_set_on_the_rig_page() {
    let Some((mut room, browser)) = on_a_phone("rig-unset", "/rig").await else {
        return;
    };
    browser.tap("#rig summary").await;
    browser
        .wait("document.getElementById('rig-table').innerText.includes('Kite area')")
        .await;
    assert!(browser.text("#rig-table").await.contains("1.1 m²"));
    let feeds = browser.text("#feeds-table").await;
    assert!(
        feeds.contains("masthead") && feeds.contains(&format!("{}: 3", Cause::BadChecksum.words())),
        "{feeds}"
    );
    browser.tap("#set-lines").await;
    browser
        .wait("document.getElementById('deck-hint').textContent")
        .await;
    browser.type_into("#out-main", "118.5").await;
    browser.tap("#set-lines").await;
    assert_eq!(
        room.hear().await,
        CrewInput::LinesOut {
            kite: None,
            main: Some(units::metres(118.5))
        }
    );
    // What is refused is said with its cure.
    browser.type_into("#out-kite", "1900").await;
    browser.tap("#set-lines").await;
    browser
        .wait("document.getElementById('undo').innerText.includes('0 to 1000')")
        .await;
    assert_own_host(&browser, &room.base).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_learnt_is_forgotten_on_the_rig_page_with_a_second_tap() {
    let Some((mut room, browser)) = on_a_phone("advice", "/rig").await else {
        return;
    };
    browser
        .wait(
            "document.getElementById('learnt').innerText.includes('23 reports, the last 3 h ago')",
        )
        .await;
    assert!(
        browser
            .text("#learnt")
            .await
            .contains("cannot be taken back")
    );
    browser.tap("#forget").await;
    browser
        .wait("document.getElementById('forget').innerText.includes('AGAIN')")
        .await;
    browser.tap("#forget").await;
    // One tap alone would have left something else to be heard first.
    browser.tap("#bite").await;
    assert_eq!(room.hear().await, CrewInput::Forget);
    assert_eq!(room.hear().await, CrewInput::Bite);
    assert_own_host(&browser, &room.base).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn settings_are_changed_on_the_rig_page() {
    let Some((room, browser)) = on_a_phone("advice", "/rig").await else {
        return;
    };
    browser.wait("document.querySelector('.setting')").await;
    assert!(browser.text("#kept").await.contains("writes no file"));
    let save = "details[data-group='Kite'] .save";
    let area = "[data-key='rig.kite.area_m2']";
    browser
        .run("document.querySelector(\"details[data-group='Kite']\").open = true")
        .await;
    let said = browser.text(area).await;
    assert!(
        said.contains("own value") && said.contains("0.1 to 20 m²") && said.contains("Cloth area"),
        "{said}"
    );
    let set = async |text: &str| {
        browser
            .run(&format!(
                "document.querySelector(\"{area} input\").value = ''"
            ))
            .await;
        browser.type_into(&format!("{area} input"), text).await;
        browser.tap(save).await;
    };
    // Out of range: said under the field, and what was typed stays.
    set("99").await;
    browser
        .wait(&format!(
            "document.querySelector(\"{area} .wrong\").innerText.includes('0.1 to 20')"
        ))
        .await;
    set("1,55").await;
    browser
        .wait("document.getElementById('undo').innerText.includes('Saved and in effect')")
        .await;
    browser
        .wait(&format!(
            "document.querySelector(\"{area} input\").value === '1.55'"
        ))
        .await;
    // Units change all over the page at once.
    browser
        .run("document.querySelectorAll('details').forEach(part => { part.open = true; })")
        .await;
    browser
        .tap("[data-key='crew.length'] [data-choice=ft]")
        .await;
    let clip = "[data-key='rig.kite_line.clip_to_kite_m']";
    // 15 m is 49.21 ft (1 ft = 0.3048 m by definition).
    browser
        .wait(&format!(
            "document.querySelector(\"{clip} input\").value === '49.21'"
        ))
        .await;
    browser.tap("[data-out='rig.band_strength_n']").await;
    browser
        .wait("document.querySelector(\"[data-key='rig.band_strength_n']\").innerText.includes('not set')")
        .await;
    assert_own_host(&browser, &room.base).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_structure_is_added_changed_and_taken_out_on_the_rig_page() {
    let Some((room, browser)) = on_a_phone("advice", "/rig").await else {
        return;
    };
    browser
        .wait("document.querySelector('[data-group=structures]')")
        .await;
    let open = async |group: &str| {
        browser
            .run(&format!(
                "document.querySelector(\"[data-group='{group}']\").open = true"
            ))
            .await;
    };
    let type_in = async |number: u32, part: &str, text: &str| {
        let field = format!("[data-key='boat.structure.{number}.{part}'] input");
        browser
            .run(&format!("document.querySelector(\"{field}\").value = ''"))
            .await;
        browser.type_into(&field, text).await;
    };
    let says = async |words: &str| {
        browser
            .wait(&format!(
                "document.getElementById('undo').innerText.includes('{words}')"
            ))
            .await;
    };
    open("structures").await;
    let said = browser.text("[data-group=structures]").await;
    for words in [
        "2 set",
        "port outrigger",
        "starboard outrigger",
        "Add another",
    ] {
        assert!(said.contains(words), "{words} is not in\n{said}");
    }
    // The demo's file has two; the third is filled in, at first not whole.
    open("boat.structure.3").await;
    let explained = browser
        .text("[data-key='boat.structure.3.from.aft_m']")
        .await;
    assert!(
        explained.contains("-40 to 10") && explained.contains("middle of the transom"),
        "{explained}"
    );
    type_in(3, "name", "tower").await;
    type_in(3, "from.aft_m", "-5").await;
    type_in(3, "from.starboard_m", "0").await;
    let save = "[data-group='boat.structure.3'] > .save";
    browser.tap(save).await;
    says("NOT SAVED").await;
    browser
        .wait("document.querySelector(\"[data-key='boat.structure.3.from.height_m'] .wrong\").innerText.includes('missing')")
        .await;
    type_in(3, "from.height_m", "6,5").await;
    browser.tap(save).await;
    says("Added and in effect").await;
    browser
        .wait("document.querySelector('[data-group=structures]').innerText.includes('3 set')")
        .await;
    assert!(
        browser
            .text("[data-group='boat.structure.3'] summary")
            .await
            .contains("point")
    );
    // Out of range is said at the field; then it becomes a bar.
    type_in(3, "to.aft_m", "-5").await;
    type_in(3, "to.starboard_m", "0").await;
    type_in(3, "to.height_m", "99").await;
    browser.tap(save).await;
    browser
        .wait("document.querySelector(\"[data-key='boat.structure.3.to.height_m'] .wrong\").innerText.includes('0 to 25')")
        .await;
    type_in(3, "to.height_m", "9").await;
    type_in(3, "from.height_m", "2").await;
    browser.tap(save).await;
    says("Saved and in effect").await;
    browser
        .wait("document.querySelector(\"[data-group='boat.structure.3'] summary\").innerText.includes('bar')")
        .await;
    // Without its other end it is a point again.
    for part in ["to.aft_m", "to.starboard_m", "to.height_m"] {
        browser
            .run(&format!(
                "const field = document.querySelector(\"[data-key='boat.structure.3.{part}'] input\");
                field.value = ''; field.dispatchEvent(new Event('input'))"
            ))
            .await;
    }
    browser.tap(save).await;
    browser
        .wait("document.querySelector(\"[data-group='boat.structure.3'] summary\").innerText.includes('point')")
        .await;
    // One tap takes nothing out.
    open("boat.structure.1").await;
    browser.tap("[data-take-out='boat.structure.1']").await;
    assert!(
        browser
            .text("[data-take-out='boat.structure.1']")
            .await
            .contains("TAP AGAIN")
    );
    assert!(
        browser
            .text("[data-group=structures]")
            .await
            .contains("3 set")
    );
    browser.tap("[data-take-out='boat.structure.1']").await;
    says("port outrigger: taken out").await;
    browser
        .wait("document.querySelector('[data-group=structures]').innerText.includes('2 set')")
        .await;
    let left = browser
        .run("return document.querySelector(\"[data-key='boat.structure.2.name'] input\").value")
        .await;
    assert_eq!(left, "tower");
    // A rod tip moved to the foot of an outrigger: said at the outrigger, which opens for it.
    open("Boat").await;
    let tip = "[data-key='boat.rod_tip_kite.aft_m'] input";
    browser
        .run(&format!("document.querySelector(\"{tip}\").value = ''"))
        .await;
    browser.type_into(tip, "-4").await;
    browser.tap("[data-group=Boat] > .save").await;
    says("NOT SAVED").await;
    browser
        .wait("document.querySelector(\"[data-key='boat.structure.1.clearance_m'] .wrong\").innerText.includes('tip of the kite rod')")
        .await;
    let opened = browser
        .run("return document.querySelector(\"[data-group='boat.structure.1']\").open")
        .await;
    assert_eq!(opened, true);
    let answer = reqwest::get(format!("{}/v1/settings", room.base)).await;
    let answer: serde_json::Value = answer.unwrap().json().await.unwrap();
    assert_eq!(answer["structures"][1]["settings"][3]["value"], 2.0);
    assert_eq!(
        answer["structures"][1]["settings"][4]["value"],
        serde_json::Value::Null
    );
    assert_own_host(&browser, &room.base).await;
}

/// A browser opens only a few connections to a host; pages left behind must not sit on them.
#[tokio::test(flavor = "multi_thread")]
async fn going_to_and_fro_between_pages_starves_none() {
    if !browser_found() {
        return;
    }
    let room = Room::open("advice", 0).await;
    let browser = Browser::start().await;
    let quick = Duration::from_secs(5);
    browser.open(&room.base).await;
    for _ in 0..4 {
        for page in ["Helm", "Rig", "Mate"] {
            browser.wait_for(LIVE, quick).await;
            browser
                .run(&format!(
                    "[...document.querySelectorAll('#bar a')].find(a => a.innerText === '{page}').click()"
                ))
                .await;
            let there = format!("document.title.endsWith('{}')", page.to_lowercase());
            browser.wait_for(&there, quick).await;
        }
    }
    browser.open(&format!("{}/rig", room.base)).await;
    browser
        .wait_for("document.querySelector('.setting')", quick)
        .await;
    browser.run("history.back()").await;
    browser
        .wait_for("document.title.endsWith('mate')", quick)
        .await;
    browser.wait_for(LIVE, quick).await;
    room.show("calm");
    browser
        .wait_for(
            "document.getElementById('card').innerText.includes('NOTHING TO DO')",
            quick,
        )
        .await;
    // The room notices within a beat that a reader has gone.
    let end = std::time::Instant::now() + quick;
    loop {
        let metrics = reqwest::get(format!("{}/metrics", room.base)).await;
        let metrics = metrics.unwrap().text().await.unwrap();
        let readers: f64 = metrics
            .lines()
            .filter(|line| line.starts_with("skimwatch_stream_readers{"))
            .map(|line| line.rsplit(' ').next().unwrap().parse::<f64>().unwrap())
            .sum();
        if readers == 1.0 {
            break;
        }
        assert!(std::time::Instant::now() < end, "{readers} readers");
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    assert_clean(&browser, &room).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_lost_link_strikes_old_data_and_comes_back_alone() {
    let Some((room, browser)) = on_a_phone("advice", "").await else {
        return;
    };
    let base = room.base.clone();
    let port = room.stop().await;
    browser
        .wait("document.documentElement.dataset.link === 'lost'")
        .await;
    assert!(browser.text("#link").await.contains("Link lost"));
    let struck = browser
        .run("return getComputedStyle(document.getElementById('card')).textDecorationLine")
        .await;
    assert_eq!(struck, "line-through");
    browser.tap("[data-bait=dragging]").await;
    browser
        .wait("document.getElementById('undo').innerText.includes('NOT SAID')")
        .await;
    let room = Room::open("calm", port).await;
    assert_eq!(room.base, base);
    browser.wait(LIVE).await;
    browser
        .wait("document.getElementById('card').innerText.includes('NOTHING TO DO')")
        .await;
    assert_eq!(
        browser
            .run("return document.getElementById('link').hidden")
            .await,
        true
    );
    assert_own_host(&browser, &base).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_missing_is_said() {
    let Some((room, browser)) = on_a_phone("no-wind", "").await else {
        return;
    };
    let card = browser.text("#card").await;
    assert!(
        card.contains("NO FORECAST") && card.contains("No wind for 12 s"),
        "{card}"
    );
    assert!(browser.text("#height-chart").await.contains("No forecast"));
    room.show("stale-heading");
    browser
        .wait("document.querySelector('#numbers .stale')")
        .await;
    assert!(browser.text("#numbers .stale").await.contains("8 s old"));
    // The look that was chosen stays, on every page.
    browser.tap("[data-look-button=night]").await;
    browser.open(&format!("{}/helm", room.base)).await;
    assert_eq!(
        browser
            .run("return document.documentElement.dataset.look")
            .await,
        "night"
    );
    browser.open(&room.base).await;
    browser.wait(LIVE).await;
    room.show_with("calm", |now| now.mode = skimwatch::engine::Mode::Live);
    browser.wait("document.getElementById('mode').hidden").await;
    assert_clean(&browser, &room).await;
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
    let tones = "Number(document.documentElement.dataset.tones)";
    assert_eq!(browser.run(&format!("return {tones}")).await, 1.0);
    // An alarm sounds again and again.
    room.show("alarm");
    browser.wait(&format!("{tones} >= 3")).await;
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
    let so_far = browser.run(&format!("return {tones}")).await;
    tokio::time::sleep(Duration::from_secs(5)).await;
    assert_eq!(browser.run(&format!("return {tones}")).await, so_far);
    // A caution makes no sound, a quiet quarter of an hour neither.
    room.show_with("advice", |now| {
        now.advisories.remove(0);
        assert_eq!(now.advisories[0].priority, Priority::Caution);
    });
    tokio::time::sleep(Duration::from_secs(2)).await;
    browser.tap("#sound").await;
    browser.tap("[data-minutes='15']").await;
    assert_eq!(room.hear().await, CrewInput::Silence { minutes: 15.0 });
    room.show_with("alarm", |now| {
        now.silenced_until = Some(START.plus_seconds(900.0))
    });
    browser
        .wait("document.getElementById('sound').innerText.includes('QUIET 15 min')")
        .await;
    tokio::time::sleep(Duration::from_secs(3)).await;
    assert_eq!(browser.run(&format!("return {tones}")).await, so_far);
    assert_clean(&browser, &room).await;
}
