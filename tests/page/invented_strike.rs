//! Invented strikes for the pages: what the crew has said by then, and what the model makes of it.

use std::sync::Arc;

use skimwatch::decode::{CrewInput, StrikeWord};
use skimwatch::engine::Snapshot;
use skimwatch::rig::{RigParameters, Structure};
use skimwatch::strike::{StrikeSettings, StrikeWatch, Winder};
use skimwatch::time::Millis;
use skimwatch::units::{degrees, metres};
use skimwatch::vessel::Deck;

/// An invented boat with two outriggers.
fn settings() -> StrikeSettings {
    let outrigger = |name: &str, side: f64| Structure {
        name: name.to_owned(),
        from_m: [-4.0, 1.6 * side, 2.0],
        to_m: [-1.0, 6.0 * side, 6.5],
        clearance_m: 0.5,
    };
    StrikeSettings {
        rig: Some(RigParameters {
            rod_holder_strength_n: Some(900.0),
            ..RigParameters::default()
        }),
        structures: vec![
            outrigger("port outrigger", -1.0),
            outrigger("starboard outrigger", 1.0),
        ],
        wind_sensor_height_m: 10.0,
        winder: Winder::default(),
        hooked_drag_n: 142.3,
    }
}

/// What the crew has said, and what comes of it.
pub struct Strike {
    deck: Deck,
    watch: StrikeWatch,
    sequence: u32,
}

impl Strike {
    /// Lines are out as in this moment, and nothing is on.
    pub fn none_yet(snapshot: &Snapshot, at: Millis) -> Self {
        let mut new = Self {
            deck: Deck::new(snapshot.deck.lines),
            watch: StrikeWatch::new(Arc::new(settings())),
            sequence: 0,
        };
        // Numbered 0, as the program's own.
        new.deck.observe(
            at,
            0,
            &CrewInput::LinesOut {
                kite: snapshot.deck.lines.kite_m.map(metres),
                main: snapshot.deck.lines.main_m.map(metres),
            },
        );
        new
    }

    /// The crew says this.
    pub fn say(&mut self, at: Millis, input: &CrewInput) {
        self.sequence += 1;
        self.deck.observe(at, self.sequence, input);
    }

    /// Puts it into a moment.
    pub fn put(&mut self, snapshot: &mut Snapshot, at: Millis) {
        let now = self.deck.now(at);
        snapshot.deck.strike = now.strike;
        snapshot.deck.lines = now.lines;
        snapshot.strike = self.watch.look(&snapshot.vessel, &snapshot.deck);
        if snapshot.strike.is_some() {
            snapshot.advisories.clear();
        }
    }
}

/// Shows a moment of a strike, if the name is one.
pub fn show(name: &str, snapshot: &mut Snapshot) {
    let began = snapshot.at.plus_seconds(-3.0);
    let fish = |deg| StrikeWord::Fish {
        off_bow: degrees(deg),
    };
    let (begins, words) = match name {
        "bite" => (CrewInput::Bite, vec![]),
        "drag" => (CrewInput::Bite, vec![StrikeWord::Tight]),
        "fish" => (CrewInput::Bite, vec![StrikeWord::DragSet]),
        "kite-turn" => (CrewInput::Bite, vec![fish(135.0)]),
        "kite-in" => (CrewInput::Bite, vec![fish(135.0), StrikeWord::Turned]),
        "landed" => (
            CrewInput::Bite,
            vec![StrikeWord::AnglerOn, StrikeWord::Landed],
        ),
        "kite-home" => (
            CrewInput::Strike(StrikeWord::Home),
            vec![StrikeWord::BaitIn],
        ),
        _ => return,
    };
    let mut strike = Strike::none_yet(snapshot, began.plus_seconds(-200.0));
    strike.say(began, &begins);
    for word in words {
        strike.say(began, &CrewInput::Strike(word));
    }
    let at = snapshot.at;
    strike.put(snapshot, at);
}
