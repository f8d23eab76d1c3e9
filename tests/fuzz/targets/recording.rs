//! A log of any bytes through the reader, and its lines through the clockwork that dates them: within
//! a part no time goes back.
#![no_main]

use std::sync::Arc;

use libfuzzer_sys::fuzz_target;
use skimwatch::drive::{Dated, DatedLine, LogLine};
use skimwatch::feed::FrameSettings;
use skimwatch::record::LogReader;
use skimwatch::time::Millis;

fuzz_target!(|log: &[u8]| {
    let name: Arc<str> = "log".into();
    let lines = LogReader::new(log, FrameSettings::default())
        .map(|item| LogLine::from_log(item.expect("memory does not fail"), &name));
    let mut last = Millis(i64::MIN);
    for line in Dated::new(lines) {
        match line {
            DatedLine::Sentence { at, .. } => {
                assert!(at >= last, "{at} after {last}");
                last = at;
                let _ = at.to_string();
            }
            DatedLine::Part(_) => last = Millis(i64::MIN),
            DatedLine::Refused { .. } => {}
        }
    }
});
