//! The file of what was learnt, of any bytes: it is refused in words, or recalled by a forecaster with
//! few particles, written and read again.
#![no_main]

use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use skimwatch::forecast::{Forecaster, Memory};
use skimwatch::settings::parse;

static FORECASTER: LazyLock<Forecaster> = LazyLock::new(|| {
    let settings = parse(include_str!("../../../config/demo.toml"), "demo.toml");
    let engine = settings.expect("the demo's settings are sound").engine();
    engine.expect("the demo's rig holds").forecaster
});

fuzz_target!(|bytes: &[u8]| {
    let memory = match Memory::from_json(bytes) {
        Ok(memory) => memory,
        Err(error) => {
            assert!(!error.to_string().is_empty());
            return;
        }
    };
    let written = serde_json::to_vec(&memory).expect("it is written");
    let again = Memory::from_json(&written).expect("what was written is read");
    assert_eq!(again.kites(), memory.kites());
    let mut forecaster = FORECASTER.clone();
    if forecaster.remember(memory).is_ok() {
        let told = forecaster.learnt_now().expect("something was recalled");
        let _ = told.at.to_string();
    }
    forecaster.forget();
    assert_eq!(forecaster.learnt_now(), None);
});
