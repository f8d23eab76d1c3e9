//! A scenario of any text: it is refused in words, or its numbers are within the model's ranges and it
//! is written and read back as the same.
#![no_main]

use libfuzzer_sys::fuzz_target;
use skimwatch::rig::Scenario;

fuzz_target!(|text: &str| {
    match Scenario::from_json(text) {
        Ok(scenario) => {
            let written = serde_json::to_string(&scenario).expect("a scenario is written");
            Scenario::from_json(&written).expect("what was written is read");
            let conditions = scenario.conditions(scenario.boat.heading_deg_true);
            assert!(conditions.heading_rad.is_finite(), "{text}");
        }
        Err(error) => assert!(!error.to_string().is_empty()),
    }
});
