//! Forms of text inside a field.
//!
//! A number is an optional sign, digits, and optionally a point and digits; at least one digit.
//! `176.`, `+26.5` and `-0.00` are numbers; `-1.-3`, `0.-6`, `49nan`, `1e5` and `inf` are not.

use crate::units::{Angle, degrees};

/// An angle on the circle, with 360 written as 0.
pub(super) fn circle(value_deg: f64) -> Angle {
    degrees(if value_deg >= 360.0 {
        value_deg - 360.0
    } else {
        value_deg
    })
}

/// Undoes the `^hh` escapes; `None` when one is cut or not hexadecimal.
pub(super) fn unescape(text: &str) -> Option<Vec<u8>> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.as_bytes();
    while let Some((&byte, tail)) = rest.split_first() {
        if byte == b'^' {
            let digits = tail.get(..2)?;
            if !digits.iter().all(u8::is_ascii_hexdigit) {
                return None;
            }
            let digits = std::str::from_utf8(digits).ok()?;
            bytes.push(u8::from_str_radix(digits, 16).ok()?);
            rest = tail.get(2..)?;
        } else {
            bytes.push(byte);
            rest = tail;
        }
    }
    Some(bytes)
}

/// One or more digits and nothing else.
pub(super) fn is_digits(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit())
}

/// Powers of ten that a double holds exactly, and the digits of a whole number that it holds.
const TENS: [f64; 16] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
];
const EXACT_DIGITS: usize = 15;

/// The number that a text stands for; `None` when it has not the form above. Few digits are one exact
/// division (Clinger, *How to Read Floating Point Numbers Accurately*, 1990; from memory); the standard
/// library, which gives the same, reads more.
pub(super) fn decimal(text: &str) -> Option<f64> {
    let unsigned = text.strip_prefix(['+', '-']).unwrap_or(text);
    let (mut digits, mut decimals) = (0_usize, None);
    let mut whole: u64 = 0;
    for byte in unsigned.bytes() {
        match byte {
            b'0'..=b'9' => {
                whole = whole.wrapping_mul(10).wrapping_add(u64::from(byte - b'0'));
                digits += 1;
            }
            b'.' if decimals.is_none() => decimals = Some(digits),
            _ => return None,
        }
    }
    if digits == 0 {
        return None;
    }
    if digits > EXACT_DIGITS {
        return text.parse().ok();
    }
    let decimals = decimals.map_or(0, |before| digits - before);
    let size = whole as f64 / TENS[decimals];
    Some(if text.starts_with('-') { -size } else { size })
}

/// What stands before the first point, and what behind it. Fields are short: looking at them byte by
/// byte is quicker than a search made for long texts.
pub(super) fn at_point(text: &str) -> (&str, &str) {
    let point = text.bytes().position(|b| b == b'.');
    point.map_or((text, ""), |at| (&text[..at], &text[at + 1..]))
}

/// Value of one step of the last digit written.
pub(super) fn last_digit(text: &str) -> f64 {
    let (_, decimals) = at_point(text);
    1.0 / TENS[decimals.len().min(12)]
}

/// Six digits as three numbers of two.
pub(super) fn two_digit_parts(text: &str) -> Option<[u32; 3]> {
    if text.len() != 6 || !is_digits(text) {
        return None;
    }
    let part = |from: usize| text.get(from..from + 2)?.parse().ok();
    Some([part(0)?, part(2)?, part(4)?])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_one_form() {
        for good in ["0", "176.", "+26.5", "-0.00", ".5", "0046.34"] {
            assert_eq!(decimal(good), good.parse().ok(), "{good}");
        }
        for bad in [
            "", ".", "-", "+", "-1.-3", "0.-6", "49nan", "nan", "inf", "1e5", "1.2.3", " 1", "0x1",
            "--1", "1,2",
        ] {
            assert_eq!(decimal(bad), None, "{bad}");
        }
    }

    proptest::proptest! {
        #[test]
        fn numbers_are_those_of_the_standard_library(text in "[+-]?[0-9]{0,18}[.]?[0-9]{0,18}") {
            let some = text.contains(|c: char| c.is_ascii_digit());
            let number = some.then(|| text.parse::<f64>().unwrap().to_bits());
            proptest::prop_assert_eq!(decimal(&text).map(f64::to_bits), number);
        }
    }

    #[test]
    fn escapes_are_undone_or_refused() {
        assert_eq!(unescape("A^21B").unwrap(), b"A!B");
        assert_eq!(unescape("A^2"), None);
        assert_eq!(unescape("A^+1"), None);
        assert_eq!(unescape("A^zz"), None);
    }
}
