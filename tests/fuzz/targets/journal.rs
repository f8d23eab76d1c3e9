//! The crew's journal, of any bytes: a program that starts reads it or keeps it aside, and what it says
//! anew after a pause can be written as crew sentences and read.
#![no_main]

use libfuzzer_sys::fuzz_target;
use skimwatch::decode::{Decoder, encode_crew};
use skimwatch::drive::Journal;
use skimwatch::serve::JournalState;
use skimwatch::settings::RestartSettings;
use skimwatch::time::Millis;
use skimwatch::vessel::LinesOut;

mod scratch;

const NO_LINES: LinesOut = LinesOut {
    kite_m: None,
    main_m: None,
};

fuzz_target!(|bytes: &[u8]| {
    let path = scratch::file("deck.journal", bytes);
    let journal = Journal::open(
        path,
        &RestartSettings::default(),
        NO_LINES,
        vec!["deck".to_owned()],
    );
    assert_eq!(journal.report().borrow().state, JournalState::Keeping);
    for now in [Millis(0), Millis(1_773_482_400_000), Millis::LATEST] {
        for input in journal.anew(now) {
            let sentence = encode_crew(&input, 0);
            assert!(Decoder::new().decode(&sentence).is_ok(), "{sentence}");
        }
    }
});
