//! The steps of a strike and of the kite on its way home, from crew sentences through the engine.
//! All data are invented.

use skimwatch::cause::Cause;
use skimwatch::decode::{BaitState, CrewInput, StrikeWord, encode_crew};
use skimwatch::engine::{Engine, Event, Mode, Snapshot};
use skimwatch::feed::CREW_FEED;
use skimwatch::strike::{Clearance, StrikeNow, Way};
use skimwatch::time::Millis;
use skimwatch::units::{degrees, metres};
use skimwatch::vessel::{StrikeCause, StrikeEnd, StrikeStep};

use crate::replay::{few_members, turn_toward};

/// Every word without a number.
pub const WORDS: [StrikeWord; 14] = [
    StrikeWord::Home,
    StrikeWord::BaitIn,
    StrikeWord::MarkerDown,
    StrikeWord::Tight,
    StrikeWord::DragSet,
    StrikeWord::Turned,
    StrikeWord::KiteIn,
    StrikeWord::AnglerOn,
    StrikeWord::Missed,
    StrikeWord::FishOff,
    StrikeWord::CutOff,
    StrikeWord::Landed,
    StrikeWord::Released,
    StrikeWord::StaysOut,
];

/// The boat of the invented turn on its first steady course, and what its crew says.
struct Day {
    engine: Engine,
    at: Millis,
    sequence: u32,
}

impl Day {
    fn begin() -> Self {
        let mut engine = Engine::new(few_members(), Mode::Replay);
        let mut at = Millis(0);
        let start = turn_toward().next().unwrap().0;
        for (moment, feed, text) in turn_toward() {
            if moment.seconds_since(start) > 20.0 {
                break;
            }
            at = moment;
            // What the crew says is this test's part.
            if !text.starts_with("$PSKWT") {
                engine.hear(at, &feed, &text);
            }
        }
        let mut day = Self {
            engine,
            at,
            sequence: 0,
        };
        day.say(&CrewInput::LinesOut {
            kite: Some(metres(80.0)),
            main: Some(metres(110.0)),
        });
        day.say(&CrewInput::Bait(BaitState::Skipping));
        day
    }

    /// Says it 0.1 s later and looks at what comes of it; the number with which to take it back.
    fn say(&mut self, input: &CrewInput) -> (u32, Snapshot) {
        self.sequence += 1;
        self.at = self.at.plus_seconds(0.1);
        let text = encode_crew(input, self.sequence);
        let event = Event::Line {
            at: self.at,
            feed: CREW_FEED,
            text: &text,
        };
        (self.sequence, self.engine.take(event).unwrap().snapshot)
    }

    fn word(&mut self, word: StrikeWord) -> Option<StrikeNow> {
        self.say(&CrewInput::Strike(word)).1.strike
    }

    fn refused(&self) -> u64 {
        let totals = self.engine.inputs().totals();
        let crew = totals.get(CREW_FEED);
        crew.and_then(|crew| crew.rejected.get(&Cause::Answered))
            .copied()
            .unwrap_or(0)
    }
}

fn fish(off_bow_deg: f64) -> StrikeWord {
    StrikeWord::Fish {
        off_bow: degrees(off_bow_deg),
    }
}

#[test]
fn a_strike_is_answered_step_by_step_until_the_bait_is_out_again() {
    let mut day = Day::begin();
    let (_, before) = day.say(&CrewInput::Bait(BaitState::Dragging));
    assert!(before.strike.is_none() && before.forecast.is_ok());
    let bitten_at = day.at.plus_seconds(0.1);
    let (_, bitten) = day.say(&CrewInput::Bite);
    assert!(bitten.forecast.is_err(), "nothing is foreseen of the bait");
    let now = bitten.strike.unwrap();
    let strike = &now.strike;
    assert_eq!(
        (strike.at, strike.cause, strike.step),
        (bitten_at, StrikeCause::Bite, StrikeStep::Watch)
    );
    assert_eq!(strike.lines.kite_m, Some(80.0));
    assert_eq!(strike.bait.unwrap().state, BaitState::Dragging);
    // The boat at the bite is the boat of the instruments at that moment.
    let vessel = &bitten.vessel;
    assert_eq!(
        now.then.heading_rad,
        vessel.heading_true_rad.as_ref().map(|h| h.value)
    );
    assert_eq!(
        now.then.position,
        vessel.position.as_ref().map(|here| here.value)
    );
    assert!(now.then.position.is_some() && now.then.speed_mps.is_some());
    assert!(now.then.true_wind.is_some());

    for (word, step) in [
        (StrikeWord::MarkerDown, StrikeStep::Tighten),
        (StrikeWord::Tight, StrikeStep::Drag),
        (StrikeWord::DragSet, StrikeStep::Fish),
    ] {
        let now = day.word(word).unwrap();
        assert_eq!((now.strike.step, now.kite_in), (step, None));
    }
    let turn = day.word(fish(135.0)).unwrap();
    assert_eq!(turn.strike.step, StrikeStep::Turn);
    let heading_rad = now.then.heading_rad.unwrap();
    let bearing_rad = turn.fish_bearing_rad.unwrap();
    let off = bearing_rad - heading_rad - 135f64.to_radians();
    assert!(off.sin().abs() < 0.05, "{bearing_rad} {heading_rad}");
    let advised = turn.kite_in.unwrap().unwrap();
    assert_ne!(advised.verdict, Clearance::None);
    assert!(advised.winding.load_n > 0.0 && advised.winding.time_s > 30.0);

    // The order stands, whatever the boat does meanwhile.
    let later = day.word(StrikeWord::Turned).unwrap();
    assert_eq!(later.strike.step, StrikeStep::KiteIn);
    assert_eq!(later.kite_in, Some(Ok(advised)));
    let (_, home) = day.say(&CrewInput::Strike(StrikeWord::KiteIn));
    assert_eq!(home.deck.lines.kite_m, Some(0.0));
    let now = home.strike.unwrap();
    assert_eq!((now.strike.step, now.kite_in), (StrikeStep::Angler, None));
    assert_eq!(
        day.word(StrikeWord::AnglerOn).unwrap().strike.step,
        StrikeStep::Fight
    );
    // Bait buttons are large, and a fight is no time to tap with care.
    let (_, fighting) = day.say(&CrewInput::Bait(BaitState::Skipping));
    assert!(fighting.strike.is_some());
    let landed = day.word(StrikeWord::Landed).unwrap();
    assert_eq!(landed.strike.ended.unwrap().0, StrikeEnd::Landed);

    let (_, out) = day.say(&CrewInput::LinesOut {
        kite: Some(metres(80.0)),
        main: Some(metres(110.0)),
    });
    assert!(out.strike.is_none() && out.forecast.is_ok());
}

#[test]
fn a_word_can_be_taken_back_and_none_counts_twice() {
    let mut day = Day::begin();
    day.say(&CrewInput::Bite);
    day.say(&CrewInput::Bite);
    let (down, _) = day.say(&CrewInput::Strike(StrikeWord::MarkerDown));
    assert_eq!(day.refused(), 0);
    let again = day.word(StrikeWord::MarkerDown).unwrap();
    assert_eq!((again.strike.step, day.refused()), (StrikeStep::Tighten, 1));
    let (_, undone) = day.say(&CrewInput::Undo { of: down });
    assert_eq!(undone.strike.unwrap().strike.step, StrikeStep::Watch);
    // An end is taken back like a step; so is the fish, and what was worked out for it.
    day.word(fish(90.0));
    let (cut, ended) = day.say(&CrewInput::Strike(StrikeWord::CutOff));
    assert!(ended.strike.unwrap().strike.ended.is_some());
    let (_, goes_on) = day.say(&CrewInput::Undo { of: cut });
    let now = goes_on.strike.unwrap();
    assert_eq!(now.strike.ended, None);
    assert!(now.kite_in.is_some());
    // Without a strike its words mean nothing.
    let mut day = Day::begin();
    for word in WORDS.into_iter().filter(|word| *word != StrikeWord::Home) {
        assert_eq!(day.word(word), None, "{word:?}");
    }
    assert_eq!(day.refused(), 13);
}

#[test]
fn there_is_a_way_out_at_every_step() {
    let steps = [
        StrikeWord::MarkerDown,
        StrikeWord::Tight,
        StrikeWord::DragSet,
        fish(-90.0),
        StrikeWord::Turned,
        StrikeWord::KiteIn,
        StrikeWord::AnglerOn,
    ];
    for done in 0..=steps.len() {
        for end in [
            StrikeWord::Missed,
            StrikeWord::FishOff,
            StrikeWord::CutOff,
            StrikeWord::Landed,
            StrikeWord::Released,
        ] {
            let mut day = Day::begin();
            day.say(&CrewInput::Bite);
            for word in &steps[..done] {
                day.word(*word);
            }
            let (_, ended) = day.say(&CrewInput::Strike(end));
            let kite_in = done > 5;
            if end == StrikeWord::Missed && !kite_in {
                assert!(ended.strike.is_none() && ended.forecast.is_ok(), "{done}");
                continue;
            }
            let now = ended.strike.unwrap();
            assert!(now.strike.ended.is_some(), "{done} {end:?}");
            assert!(ended.forecast.is_err(), "the bait is not out");
            // The kite that is still up can be called home.
            let home = day.word(StrikeWord::Home).unwrap();
            let begun = home.strike.cause == StrikeCause::Home;
            assert_eq!(begun, !kite_in, "{done} {end:?}");
        }
    }
}

#[test]
fn the_kite_comes_home_without_a_fish() {
    let mut day = Day::begin();
    let home = day.word(StrikeWord::Home).unwrap();
    assert_eq!(
        (home.strike.cause, home.strike.step, home.kite_in),
        (StrikeCause::Home, StrikeStep::BaitIn, None)
    );
    let turn = day.word(StrikeWord::BaitIn).unwrap();
    let advised = turn.kite_in.unwrap().unwrap();
    assert_eq!(advised.fish_off_bow_rad, None);
    assert_eq!(advised.way == Way::Hold, advised.turn_rad == 0.0);
    // Nothing stands on this boat, so the heading is the one that eases the work.
    assert_eq!(advised.verdict, Clearance::Clear);
    day.word(StrikeWord::Turned);
    let (_, secured) = day.say(&CrewInput::Strike(StrikeWord::KiteIn));
    let now = secured.strike.unwrap();
    assert_eq!(now.strike.ended.unwrap().0, StrikeEnd::KiteHome);
    assert_eq!(secured.deck.lines.kite_m, Some(0.0));
    assert_eq!(secured.deck.lines.main_m, Some(0.0));
}

#[test]
fn the_same_sentences_make_the_same_strike_again() {
    let told = || {
        let mut day = Day::begin();
        let mut seen = Vec::new();
        for input in [
            CrewInput::Bite,
            CrewInput::Strike(StrikeWord::Tight),
            CrewInput::Strike(fish(-135.0)),
            CrewInput::Undo { of: 5 },
            CrewInput::Strike(fish(180.0)),
            CrewInput::Strike(StrikeWord::Turned),
            CrewInput::Strike(StrikeWord::FishOff),
        ] {
            seen.push(format!("{:?}", day.say(&input).1.strike));
        }
        seen
    };
    let first = told();
    assert!(first.iter().all(|seen| seen.starts_with("Some")));
    assert_eq!(first, told());
}

#[test]
fn a_bite_of_before_a_restart_is_not_stamped_with_the_boat_of_now() {
    let mut day = Day::begin();
    let before = CrewInput::Before {
        age_s: 120.0,
        counts: true,
        input: Box::new(CrewInput::Bite),
    };
    let now = day.say(&before).1.strike.unwrap();
    assert!(day.at.seconds_since(now.strike.at) > 119.0);
    assert_eq!(now.then, skimwatch::strike::Then::default());
}
