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

/// A bite, or the kite called home, at this moment, with these words after it.
fn strike(snapshot: &mut Snapshot, began: Millis, begins: CrewInput, words: &[StrikeWord]) {
    let lines = snapshot.deck.lines;
    let mut deck = Deck::new(lines);
    let out = CrewInput::LinesOut {
        kite: lines.kite_m.map(metres),
        main: lines.main_m.map(metres),
    };
    deck.observe(began.plus_seconds(-200.0), 1, &out);
    deck.observe(began, 2, &begins);
    for (sequence, word) in (3..).zip(words) {
        deck.observe(began, sequence, &CrewInput::Strike(*word));
    }
    let now = deck.now(snapshot.at);
    snapshot.deck.strike = now.strike;
    snapshot.deck.lines = now.lines;
    snapshot.strike =
        StrikeWatch::new(Arc::new(settings())).look(&snapshot.vessel, &snapshot.deck);
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
    snapshot.advisories.clear();
    strike(snapshot, began, begins, &words);
}
