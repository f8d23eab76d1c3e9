//! What stands behind `$PSKWT,` in a crew sentence: what the decoder takes is in range, is written
//! again, and the sentence that is written reads back as itself.
#![no_main]

use libfuzzer_sys::fuzz_target;
use skimwatch::decode::{CrewInput, Decoder, Observation, encode_crew};

#[allow(dead_code, reason = "only the ranges are used here")]
#[path = "../../checks/decode_words.rs"]
mod decode_words;
mod sealed;

fn crew(sentence: &str) -> Option<(u32, CrewInput)> {
    let decoded = Decoder::new().decode(sentence).ok()?;
    let [observation] = decoded.observations.as_slice() else {
        return None;
    };
    assert_eq!(decode_words::outside(observation), None, "{sentence}");
    match observation {
        Observation::Crew { seq, input } => Some((*seq, input.clone())),
        _ => None,
    }
}

fuzz_target!(|words: &str| {
    let Some((number, input)) = crew(&sealed::sealed(&format!("PSKWT,{words}"))) else {
        return;
    };
    let written = encode_crew(&input, number);
    // What is rounded may round to a value that is refused: 0.001 m moved is none.
    let Some((again, read)) = crew(&written) else {
        return;
    };
    assert_eq!(again, number);
    assert_eq!(encode_crew(&read, number), written);
});
