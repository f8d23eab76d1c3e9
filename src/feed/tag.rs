//! TAG blocks: `\key:value,...*hh\` written before a sentence.
//!
//! Form, keys and checksum: E. S. Raymond, "AIVDM/AIVDO protocol decoding", section "NMEA Tag
//! Blocks" (gpsd `www/AIVDM.adoc`). The checksum is the XOR of everything between the opening
//! backslash and `*`, and is the block's own: it says nothing about the sentence behind it.

use crate::time::Millis;

/// What a TAG block said. Keys we do not know, and values that do not have their key's form,
/// are left out; the block as a whole is refused only when its checksum does not hold.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Tag {
    /// `c`: Unix time. Both seconds and milliseconds occur on real networks, told apart by
    /// the number of digits (12 or more: milliseconds).
    pub time: Option<Millis>,
    /// `s`: who sent it (15 characters at most by the standard; not enforced here).
    pub source: Option<String>,
    /// `d`: who it is for.
    pub destination: Option<String>,
    /// `g`: which part of a group of sentences this is.
    pub group: Option<TagGroup>,
    /// `n`: running number of the line at its sender.
    pub line: Option<u64>,
    /// `t` (or `i`): free text.
    pub text: Option<String>,
}

/// `g:number-total-id`, or the older key form `numberGtotal:id`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TagGroup {
    /// Which sentence of the group, from 1.
    pub number: u32,
    /// How many sentences the group has.
    pub total: u32,
    /// The group's identity.
    pub id: u64,
}

impl Tag {
    /// Reads the inside of a block (between the backslashes). `None` when it is not printable
    /// text or its checksum is missing or wrong.
    #[must_use]
    pub fn parse(inside: &[u8]) -> Option<Self> {
        let star = inside.iter().position(|&b| b == b'*')?;
        let (fields, tail) = inside.split_at(star);
        let claimed = hex_pair(tail.get(1..)?)?;
        if claimed != xor(fields) || !fields.iter().all(|b| (0x20..0x7f).contains(b)) {
            return None;
        }
        let mut tag = Self::default();
        for field in str::from_utf8(fields).ok()?.split(',') {
            if let Some((key, value)) = field.split_once(':') {
                tag.take(key, value);
            }
        }
        Some(tag)
    }

    fn take(&mut self, key: &str, value: &str) {
        match key {
            "c" => self.time = parse_time(value).or(self.time),
            "s" => self.source = Some(value.to_owned()),
            "d" => self.destination = Some(value.to_owned()),
            "n" => self.line = value.parse().ok().or(self.line),
            "t" | "i" => self.text = Some(value.to_owned()),
            "g" => {
                let mut parts = value.splitn(3, '-');
                let group = (parts.next(), parts.next(), parts.next());
                if let (Some(number), Some(total), Some(id)) = group {
                    self.group = parse_group(number, total, id).or(self.group);
                }
            }
            _ => {
                if let Some((number, total)) = key.split_once('G') {
                    self.group = parse_group(number, total, value).or(self.group);
                }
            }
        }
    }
}

/// The block `\s:source,c:time*hh\`, with `t:text` when there is a text. The time is padded to
/// 13 digits, so that a clock that still stands near 1970 is not read back as seconds.
///
/// `source` and `text` must be free of the reserved characters `\ , * $ !`: feed names are.
#[must_use]
pub fn format_block(source: &str, time: Millis, text: Option<&str>) -> String {
    let mut fields = format!("s:{source},c:{:013}", time.0.max(0));
    if let Some(text) = text {
        fields.push_str(",t:");
        fields.push_str(text);
    }
    enclose(&fields)
}

/// A received block again, with the keys we know, in our order.
#[must_use]
pub fn format_tag(tag: &Tag) -> String {
    let group = tag
        .group
        .map(|group| format!("{}-{}-{}", group.number, group.total, group.id));
    let fields = [
        ("g", group),
        ("s", tag.source.clone()),
        ("d", tag.destination.clone()),
        ("n", tag.line.map(|line| line.to_string())),
        ("c", tag.time.map(|time| format!("{:013}", time.0))),
        ("t", tag.text.clone()),
    ];
    let fields: Vec<String> = fields
        .into_iter()
        .filter_map(|(key, value)| Some(format!("{key}:{}", value?)))
        .collect();
    enclose(&fields.join(","))
}

fn enclose(fields: &str) -> String {
    let checksum = xor(fields.as_bytes());
    format!("\\{fields}*{checksum:02X}\\")
}

fn parse_time(digits: &str) -> Option<Millis> {
    if !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let value: i64 = digits.parse().ok()?;
    let time = if digits.len() >= 12 {
        Millis(value)
    } else {
        Millis(value * 1000)
    };
    (time <= Millis::LATEST).then_some(time)
}

fn parse_group(number: &str, total: &str, id: &str) -> Option<TagGroup> {
    Some(TagGroup {
        number: number.parse().ok()?,
        total: total.parse().ok()?,
        id: id.parse().ok()?,
    })
}

/// XOR of all bytes: the checksum of sentences and TAG blocks alike.
#[must_use]
pub fn xor(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |sum, b| sum ^ b)
}

/// Exactly two hex digits, either case.
pub(super) fn hex_pair(digits: &[u8]) -> Option<u8> {
    match digits {
        [high, low] => Some(hex_digit(*high)? << 4 | hex_digit(*low)?),
        _ => None,
    }
}

pub(super) fn hex_digit(digit: u8) -> Option<u8> {
    (digit as char)
        .to_digit(16)
        .and_then(|d| u8::try_from(d).ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_every_key() {
        // Checksum 0x4A: published example, [ESR-AIS] section "NMEA Tag Blocks".
        let tag = Tag::parse(b"g:1-2-73874,n:157036,s:r003669945,c:1241544035*4A").unwrap();
        assert_eq!(
            tag,
            Tag {
                time: Some(Millis(1_241_544_035_000)),
                source: Some("r003669945".into()),
                group: Some(TagGroup {
                    number: 1,
                    total: 2,
                    id: 73874
                }),
                line: Some(157_036),
                ..Tag::default()
            }
        );
        // go-nmea tagblock_test: a group that is not of the form n-total-id is left out.
        let tag =
            Tag::parse(b"s:satelite,c:1564827317,r:1553390539,d:ara,g:bulk,n:13,t:helloworld*3F")
                .unwrap();
        assert_eq!(tag.destination.as_deref(), Some("ara"));
        assert_eq!(tag.text.as_deref(), Some("helloworld"));
        assert_eq!(tag.group, None);
    }

    #[test]
    fn refuses_a_checksum_that_is_wrong_or_absent() {
        // go-nmea tagblock_test: 25 is right, 49 is to be refused.
        assert!(Tag::parse(b"s:satelite,c:1564827317*25").is_some());
        assert!(Tag::parse(b"s:satelite,c:1564827317*49").is_none());
        assert!(Tag::parse(b"s:satelite,c:1564827317").is_none());
        assert!(Tag::parse(b"s:satelite,c:1564827317*2").is_none());
        assert!(Tag::parse(b"").is_none());
    }

    #[test]
    fn milliseconds_and_seconds_are_told_apart_even_near_1970() {
        let block = format_block("wind", Millis(61_000), None);
        let tag = Tag::parse(block.trim_matches('\\').as_bytes()).unwrap();
        assert_eq!(tag.time, Some(Millis(61_000)));
        assert_eq!(parse_time("1553390539"), Some(Millis(1_553_390_539_000)));
        assert_eq!(parse_time("1683881316755"), Some(Millis(1_683_881_316_755)));
        assert_eq!(parse_time("99999999999999999999"), None);
        // The last moment of the year 9999, and the one after it.
        assert_eq!(parse_time("253402300799999"), Some(Millis::LATEST));
        assert_eq!(parse_time("253402300800000"), None);
        assert_eq!(parse_time(&i64::MAX.to_string()), None);
    }

    #[test]
    fn older_group_form() {
        let fields = "1G2:125";
        let inside = format!("{fields}*{:02X}", xor(fields.as_bytes()));
        let group = Tag::parse(inside.as_bytes()).unwrap().group.unwrap();
        assert_eq!((group.number, group.total, group.id), (1, 2, 125));
    }
}
