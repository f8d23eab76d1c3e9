//! The rig page: feeds, lines out, what was learnt, settings, structures.

use skimwatch::cause::Cause;
use skimwatch::decode::{Correctable, CrewInput};
use skimwatch::units;

use crate::room::{assert_own_host, on_a_phone};

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
    assert!(browser.text("#learnt").await.contains("cannot be undone"));
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
async fn an_instrument_in_doubt_is_ignored_on_the_rig_page() {
    let Some((mut room, browser)) = on_a_phone("advice", "/rig").await else {
        return;
    };
    browser
        .wait("document.querySelector('#sources .doubted')")
        .await;
    let said = browser.text("#sources .doubted").await;
    assert!(
        said.contains("compass HEHDT lies 90° off") && said.contains("IGNORE TODAY"),
        "{said}"
    );
    browser.tap("#sources .doubted button").await;
    assert_eq!(
        room.hear().await,
        CrewInput::Source {
            name: String::from("compass HEHDT"),
            used: false
        }
    );
    browser
        .wait("document.getElementById('undo').innerText.includes('compass HEHDT is ignored')")
        .await;
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
        said.contains("your value") && said.contains("0.1 to 20 m²") && said.contains("Cloth area"),
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
    says("port outrigger: removed").await;
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

#[tokio::test(flavor = "multi_thread")]
async fn an_instrument_is_corrected_and_the_correction_taken_back_on_the_rig_page() {
    let Some((mut room, browser)) = on_a_phone("advice", "/rig").await else {
        return;
    };
    let shows =
        |text: &str| format!("document.getElementById('instruments').innerText.includes('{text}')");
    browser
        .wait(&shows("+8.3°, give or take 2.1°; from 7 turns"))
        .await;
    let said = browser.text("#instruments").await;
    assert!(
        said.contains("2 of 3") && said.contains("Corrected by \u{2212}8 %"),
        "{said}"
    );
    // Only what is known well enough can be applied.
    let applied = browser
        .run("return document.querySelectorAll('[data-apply]').length")
        .await;
    assert_eq!(applied, 1);
    browser.tap("[data-apply=wind_angle]").await;
    assert!(matches!(room.hear().await, CrewInput::Correct(_)));
    browser
        .wait("document.getElementById('undo').innerText.includes('Correction applied')")
        .await;
    browser.tap("#undo-button").await;
    assert_eq!(room.hear().await, CrewInput::Undo { of: 1 });
    browser.tap("[data-remove=log]").await;
    assert_eq!(room.hear().await, CrewInput::Uncorrect(Correctable::Log));
    // What the boat says is in force shows at once.
    room.show_with("advice", |now| {
        now.deck.corrections.log = None;
    });
    browser.wait(&format!("!{}", shows("Corrected by"))).await;
    assert_own_host(&browser, &room.base).await;
}
