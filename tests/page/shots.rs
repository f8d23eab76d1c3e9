//! Pictures of every state at every size: `SHOTS=/tmp/shots cargo test --test page shots`; those of
//! the README alone: `... shots::pictures`.

use crate::browser::{Browser, browser_found};
use crate::invented::{MOMENTS, START};
use crate::room::{LIVE, Room};

/// The bar would stand in the middle of a picture of the whole page.
const STILL_BAR: &str = "document.getElementById('dock').style.position = 'static'";

const SIZES: [(u32, u32); 3] = [(390, 844), (844, 390), (1280, 800)];

/// Where pictures go, with a room and a browser; `None` when none are wanted or can be made.
async fn camera(of: &str) -> Option<(std::path::PathBuf, Room, Browser)> {
    let Some(folder) = std::env::var_os("SHOTS").map(std::path::PathBuf::from) else {
        eprintln!("SKIPPED: set SHOTS to a directory for {of}");
        return None;
    };
    if !browser_found() {
        return None;
    }
    std::fs::create_dir_all(&folder).unwrap();
    let room = Room::open("advice", 0).await;
    Some((folder, room, Browser::start().await))
}

/// The three in `tests/page/pictures`, which the README shows.
#[tokio::test(flavor = "multi_thread")]
async fn pictures_of_the_readme() {
    let Some((folder, room, browser)) = camera("the pictures of the README").await else {
        return;
    };
    for (name, path, width, height) in [
        ("mate-advice", "/", 390, 844),
        ("mate-advice", "/", 844, 390),
        ("helm-whole", "/helm", 390, 844),
    ] {
        browser.screen(width, height).await;
        room.show("advice");
        browser.open(&format!("{}{path}", room.base)).await;
        browser.wait(LIVE).await;
        browser.drawn().await;
        let whole = name.ends_with("whole");
        if whole {
            browser.run(STILL_BAR).await;
        }
        let file = folder.join(format!("{name}-{width}x{height}.png"));
        std::fs::write(file, browser.picture(whole).await).unwrap();
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn shots_of_every_state() {
    let Some((folder, room, browser)) = camera("pictures of every state").await else {
        return;
    };
    let save = async |name: String, whole: bool| {
        if whole {
            browser.run(STILL_BAR).await;
        }
        let file = folder.join(format!("{name}.png"));
        std::fs::write(file, browser.picture(whole).await).unwrap();
    };
    for (page, path) in [("mate", "/"), ("helm", "/helm"), ("rig", "/rig")] {
        for (width, height) in SIZES {
            browser.screen(width, height).await;
            for moment in MOMENTS {
                if page != "mate"
                    && ![
                        "advice", "alarm", "no-wind", "turn", "danger", "by-eye", "made", "launch",
                    ]
                    .contains(&moment)
                {
                    continue;
                }
                room.show(moment);
                browser.open(&format!("{}{path}", room.base)).await;
                browser
                    .wait("document.documentElement.dataset.link === 'live'")
                    .await;
                browser.drawn().await;
                save(format!("{page}-{moment}-{width}x{height}"), false).await;
            }
            room.show("advice");
            browser.open(&format!("{}{path}", room.base)).await;
            browser
                .wait("document.documentElement.dataset.link === 'live'")
                .await;
            browser.drawn().await;
            save(format!("{page}-whole-{width}x{height}"), true).await;
        }
    }
    // Text twice as large, and the forms of a structure.
    room.show("turn");
    browser.screen(390, 844).await;
    for (page, path) in [("mate", "/"), ("helm", "/helm"), ("rig", "/rig")] {
        browser.open(&format!("{}{path}", room.base)).await;
        browser
            .wait("document.documentElement.dataset.link === 'live'")
            .await;
        browser
            .run("document.documentElement.style.fontSize = '200%'")
            .await;
        browser.drawn().await;
        save(format!("{page}-large-390x844"), true).await;
    }
    browser
        .run("document.documentElement.style.fontSize = ''")
        .await;
    browser
        .wait("document.querySelector('[data-group=structures]')")
        .await;
    browser
        .run(
            "document.querySelectorAll('[data-group=structures], [data-group=\"boat.structure.1\"], #rig details')
                .forEach(part => { part.open = true; })",
        )
        .await;
    save("rig-structures-390x844".to_owned(), true).await;
    // What the model itself says of a turn to either side.
    for (side, by_deg) in [("port", -60.0), ("starboard", 60.0)] {
        let snapshot = crate::modelled::moment(by_deg, START);
        eprintln!("{side}: {:?}", snapshot.advisories);
        room.show_with("calm", move |now| *now = snapshot.clone());
        for (width, height) in SIZES {
            browser.screen(width, height).await;
            for (page, path) in [("mate", "/"), ("helm", "/helm")] {
                browser.open(&format!("{}{path}", room.base)).await;
                browser
                    .wait("document.documentElement.dataset.link === 'live'")
                    .await;
                browser.drawn().await;
                save(format!("{page}-modelled-{side}-{width}x{height}"), true).await;
            }
        }
    }
    room.show("advice");
    browser.screen(390, 844).await;
    for look in ["dusk", "night"] {
        for (page, path) in [("mate", "/"), ("helm", "/helm")] {
            browser.open(&format!("{}{path}", room.base)).await;
            browser
                .wait("document.documentElement.dataset.link === 'live'")
                .await;
            browser.tap(&format!("[data-look-button={look}]")).await;
            browser.run("scrollTo(0, 0)").await;
            browser.drawn().await;
            save(format!("{page}-{look}-390x844"), true).await;
        }
    }
    browser.open(&format!("{}/", room.base)).await;
    browser
        .wait("document.documentElement.dataset.link === 'live'")
        .await;
    browser.tap("[data-look-button=day]").await;
    browser.tap("[data-bait=dragging]").await;
    browser.wait("document.getElementById('undo-button')").await;
    browser.run("scrollTo(0, 0)").await;
    save("mate-undo-390x844".to_owned(), false).await;
    room.stop().await;
    browser
        .wait("document.documentElement.dataset.link === 'lost'")
        .await;
    save("mate-lost-390x844".to_owned(), false).await;
}
