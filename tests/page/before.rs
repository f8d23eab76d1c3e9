//! Lines out from before a restart, on the mate's and the rig's page.

use skimwatch::decode::CrewInput;
use skimwatch::engine::Snapshot;
use skimwatch::units;
use skimwatch::vessel::{LinesOut, Restored};

use crate::room::on_a_phone;

const LINES: LinesOut = LinesOut {
    kite_m: Some(110.0),
    main_m: Some(132.4),
};

fn restored(used: bool) -> impl Fn(&mut Snapshot) + Send {
    move |now| {
        now.deck.restored = Some(Restored {
            as_of: now.at.plus_seconds(-900.0),
            used,
            lines: LINES,
        });
        if used {
            now.deck.lines = LINES;
        }
    }
}

fn told() -> CrewInput {
    CrewInput::LinesOut {
        kite: LINES.kite_m.map(units::metres),
        main: LINES.main_m.map(units::metres),
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn lines_of_before_a_restart_are_confirmed_with_one_tap() {
    let Some((mut room, browser)) = on_a_phone("advice", "/").await else {
        return;
    };
    browser
        .wait("document.getElementById('before').hidden")
        .await;
    room.show_with("advice", restored(true));
    browser
        .wait("document.getElementById('before').innerText.includes('CHECK THE LINES')")
        .await;
    let text = browser.text("#before").await;
    assert!(text.contains("before a restart"), "{text}");
    assert!(
        text.contains("kite line 110 m, main line 132.4 m"),
        "{text}"
    );
    browser.tap("[data-still]").await;
    assert_eq!(room.hear().await, told());
    room.show("advice");
    browser
        .wait("document.getElementById('before').hidden")
        .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn lines_that_no_longer_count_stand_in_the_fields_to_be_corrected() {
    let Some((mut room, browser)) = on_a_phone("rig-unset", "/rig").await else {
        return;
    };
    room.show_with("rig-unset", restored(false));
    browser
        .wait("document.getElementById('before').innerText.includes('Nobody has entered')")
        .await;
    browser
        .wait("document.getElementById('out-main').value === '132.4'")
        .await;
    // Typed after what stands there.
    browser.type_into("#out-kite", ".5").await;
    browser.tap("#set-lines").await;
    let corrected = CrewInput::LinesOut {
        kite: Some(units::metres(110.5)),
        main: Some(units::metres(132.4)),
    };
    assert_eq!(room.hear().await, corrected);
    browser.tap("[data-still]").await;
    assert_eq!(room.hear().await, told());
}
