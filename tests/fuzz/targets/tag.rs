//! The inside of a TAG block, as it is and with a checksum that holds: a block that was read is
//! written, and reads back as the same.
#![no_main]

use libfuzzer_sys::fuzz_target;
use skimwatch::feed::Tag;
use skimwatch::feed::tag::{format_tag, xor};

fuzz_target!(|inside: &[u8]| {
    let fields = inside
        .split(|byte| *byte == b'*')
        .next()
        .unwrap_or_default();
    let mut sealed = fields.to_vec();
    sealed.extend(format!("*{:02X}", xor(fields)).bytes());
    for inside in [inside, &sealed] {
        if let Some(tag) = Tag::parse(inside) {
            let block = format_tag(&tag);
            let again = block
                .strip_prefix('\\')
                .and_then(|rest| rest.strip_suffix('\\'))
                .expect("a block stands between backslashes");
            assert_eq!(Tag::parse(again.as_bytes()), Some(tag), "{block}");
        }
    }
});
