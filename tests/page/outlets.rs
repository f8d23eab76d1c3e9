//! What the rig page says of devices that are told.

use skimwatch::serve::OutletState;

use crate::invented::START;
use crate::room::on_a_phone;

#[tokio::test(flavor = "multi_thread")]
async fn the_rig_page_says_which_device_is_not_told_since_when_and_why() {
    let Some((room, browser)) = on_a_phone("advice", "/rig").await else {
        return;
    };
    let has =
        |text: &str| format!("document.getElementById('outlets').innerText.includes('{text}')");
    browser.wait(&has("takes what it is told")).await;
    browser.wait(&has("12 messages arrived")).await;
    let cause = "no connection to 192.168.4.20:80 (Connection refused): is the device on?";
    room.outlet.send_modify(|now| {
        now.state = OutletState::Failing;
        now.cause = Some(cause.to_owned());
        now.failing_since = Some(START.plus_seconds(-7200.0));
        now.failed = 41;
    });
    browser.wait(&has("NOT TOLD for 2 h")).await;
    browser.wait(&has(cause)).await;
    browser.wait(&has("41 tries failed")).await;
    let wide = "return document.documentElement.scrollWidth > innerWidth";
    assert_eq!(browser.run(wide).await, false, "it overflows");
    if let Some(folder) = std::env::var_os("SHOTS").map(std::path::PathBuf::from) {
        for (width, height) in [(390, 844), (844, 390)] {
            browser.screen(width, height).await;
            browser
                .run("document.getElementById('outlets').scrollIntoView({block: 'center'})")
                .await;
            browser.drawn().await;
            let file = folder.join(format!("rig-outlet-{width}x{height}.png"));
            std::fs::write(file, browser.picture(false).await).unwrap();
        }
    }
}
