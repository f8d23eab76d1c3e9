//! A fish on, and the kite home, on both pages at once: what the crew taps goes through deck and
//! strike room as in the program, and both pages show what comes of it.

use skimwatch::decode::{CrewInput, StrikeWord};
use skimwatch::time::Millis;
use skimwatch::units::{in_degrees, metres};

use crate::browser::{Browser, browser_found};
use crate::invented::{START, moment};
use crate::invented_strike::Strike;
use crate::room::{LIVE, Room};

/// The two phones, the room and the deck behind it.
struct Boat {
    room: Room,
    mate: Browser,
    helm: Browser,
    strike: Strike,
    at: Millis,
}

impl Boat {
    async fn open() -> Option<Self> {
        if !browser_found() {
            return None;
        }
        let room = Room::open("calm", 0).await;
        let (mate, helm) = (Browser::start().await, Browser::start().await);
        for (phone, path, (width, height)) in
            [(&mate, "", (390, 844)), (&helm, "/helm", (844, 390))]
        {
            phone.screen(width, height).await;
            phone.open(&format!("{}{path}", room.base)).await;
            phone.wait(LIVE).await;
        }
        Some(Self {
            room,
            mate,
            helm,
            strike: Strike::none_yet(&moment("calm", START), START),
            at: START,
        })
    }

    /// Hears what was tapped and shows what comes of it on both pages; a second tap within 1.5 s
    /// counts for nothing, so that time passes.
    async fn hear(&mut self) -> CrewInput {
        let input = self.room.hear().await;
        self.at = self.at.plus_seconds(0.1);
        self.strike.say(self.at, &input);
        let mut now = moment("calm", START);
        self.strike.put(&mut now, self.at);
        let (deck, strike) = (now.deck, now.strike);
        self.room.show_with("calm", move |shown| {
            shown.deck = deck.clone();
            shown.strike = strike.clone();
        });
        self.room.is_on(&self.mate).await;
        self.room.is_on(&self.helm).await;
        self.room.passes(2.0).await;
        input
    }

    async fn on_both(&self, mate: &str, helm: &str) {
        for (phone, place, words) in [(&self.mate, "card", mate), (&self.helm, "trouble", helm)] {
            let shown = format!(
                "document.getElementById('{place}').innerText.replaceAll('\u{a0}', ' ').includes('{words}')"
            );
            phone.wait(&shown).await;
        }
    }

    async fn tap_word(&mut self, said: &str, word: StrikeWord) {
        // A new step is brought in sight: the button must have come to rest.
        let still = format!(
            "(() => {{ const at = document.querySelector('[data-strike={said}]')?.getBoundingClientRect().top; const was = window.wasAt; window.wasAt = at; return at !== undefined && at === was; }})()"
        );
        self.mate.wait(&still).await;
        self.mate.tap(&format!("[data-strike={said}]")).await;
        assert_eq!(self.hear().await, CrewInput::Strike(word));
    }
}

/// The heading for the kite, as a page shows it.
const HEADING: &str = "document.querySelector('.card .which').innerText";

#[tokio::test(flavor = "multi_thread")]
async fn from_the_bite_to_the_bait_out_again() {
    let Some(mut boat) = Boat::open().await else {
        return;
    };
    boat.mate.tap("#bite").await;
    assert_eq!(boat.hear().await, CrewInput::Bite);
    boat.on_both("WATCH THE MARKER", "Keep way on ahead").await;
    boat.tap_word("marker_down", StrikeWord::MarkerDown).await;
    boat.on_both("WIND FAST", "Angler: Wind fast").await;

    // Taken back, and said again.
    boat.mate.tap("#undo-button").await;
    assert!(matches!(boat.hear().await, CrewInput::Undo { .. }));
    boat.on_both("WATCH THE MARKER", "Mate: Watch the marker")
        .await;
    boat.tap_word("marker_down", StrikeWord::MarkerDown).await;
    boat.tap_word("tight", StrikeWord::Tight).await;
    // 142.3 N are 14.5 kg of force (own arithmetic).
    boat.on_both("to 14.5 kg", "Angler: Set the drag").await;
    boat.tap_word("drag_set", StrikeWord::DragSet).await;

    boat.mate.tap("[data-fish='135']").await;
    let CrewInput::Strike(StrikeWord::Fish { off_bow }) = boat.hear().await else {
        panic!("no fish");
    };
    assert!((in_degrees(off_bow) - 135.0).abs() < 1e-6);
    boat.on_both("TURN FOR THE KITE", "TURN FOR THE KITE").await;
    let headings = [
        boat.mate.run(&format!("return {HEADING}")).await,
        boat.helm.run(&format!("return {HEADING}")).await,
    ];
    assert_eq!(headings[0], headings[1]);
    assert!(
        headings[0].as_str().unwrap().contains("° true"),
        "{headings:?}"
    );
    // The helm says when the boat is there.
    boat.helm.tap("[data-strike=turned]").await;
    assert_eq!(boat.hear().await, CrewInput::Strike(StrikeWord::Turned));
    boat.on_both("WIND IN THE KITE", "Mate: Wind in the kite")
        .await;
    boat.on_both("at the rod", "Hold ").await;

    boat.tap_word("kite_in", StrikeWord::KiteIn).await;
    boat.on_both("ANGLER ON", "Steer as the angler asks").await;
    boat.tap_word("angler_on", StrikeWord::AnglerOn).await;
    boat.on_both("FISH ON", "Angler: Fish on").await;
    boat.tap_word("landed", StrikeWord::Landed).await;
    boat.on_both("local rules", "LANDED").await;
    boat.mate.tap("#bait-again").await;
    assert_eq!(
        boat.hear().await,
        CrewInput::LinesOut {
            kite: Some(metres(70.0)),
            main: Some(metres(118.0)),
        }
    );
    boat.mate
        .wait("document.getElementById('card').innerText.includes('NOTHING TO DO')")
        .await;
    boat.helm
        .wait("document.getElementById('trouble').hidden")
        .await;
    boat.room.assert_clean(&boat.mate).await;
    boat.room.assert_clean(&boat.helm).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_bite_that_was_none_and_the_kite_home() {
    let Some(mut boat) = Boat::open().await else {
        return;
    };
    boat.mate.tap("#bite").await;
    boat.hear().await;
    boat.tap_word("missed", StrikeWord::Missed).await;
    boat.mate
        .wait("document.getElementById('card').innerText.includes('NOTHING TO DO')")
        .await;

    boat.mate.tap("#kite-home").await;
    assert_eq!(boat.hear().await, CrewInput::Strike(StrikeWord::Home));
    boat.on_both("BAIT IN FIRST", "Hold heading and speed")
        .await;
    boat.tap_word("bait_in", StrikeWord::BaitIn).await;
    boat.on_both("TURN FOR THE KITE", "ON THE HEADING").await;
    boat.tap_word("turned", StrikeWord::Turned).await;
    boat.on_both("WIND IN THE KITE", "Mate: Wind in the kite")
        .await;
    boat.tap_word("kite_in", StrikeWord::KiteIn).await;
    boat.on_both("KITE IS IN", "KITE IS IN").await;
    boat.room.assert_clean(&boat.mate).await;
}
