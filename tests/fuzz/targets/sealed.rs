//! Sentences with a checksum that holds.

/// `$body*hh`.
pub fn sealed(body: &str) -> String {
    let sum = skimwatch::feed::tag::xor(body.as_bytes());
    format!("${body}*{sum:02X}")
}
