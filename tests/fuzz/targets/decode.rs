//! Lines of any text through the decoder, as they are and with a checksum that holds, because hardly
//! any damaged line keeps one. Nothing may panic, and no number may leave its range.
#![no_main]

use libfuzzer_sys::fuzz_target;
use skimwatch::decode::Decoder;

#[allow(dead_code, reason = "only the ranges are used here")]
#[path = "../../checks/decode_words.rs"]
mod decode_words;
mod sealed;

fn decode(decoder: &mut Decoder, text: &str) {
    if let Ok(decoded) = decoder.decode(text) {
        for observation in &decoded.observations {
            assert_eq!(decode_words::outside(observation), None, "{text}");
        }
    }
}

fuzz_target!(|text: &str| {
    let mut decoder = Decoder::new();
    for line in text.lines() {
        decode(&mut decoder, line);
        if let Some((_, rest)) = line.split_once('$') {
            let body = rest.split('*').next().unwrap_or_default();
            decode(&mut decoder, &sealed::sealed(body));
        }
    }
});
