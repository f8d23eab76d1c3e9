//! The sentences, as they are written.

use super::entry::{Entry, Key};
use super::numbers::text_number;
use crate::advice::{AlertState, Priority};
use crate::time::Millis;

/// Integrated instrumentation.
const TALKER: &str = "II";
/// Our mnemonic.
pub(super) const MNEMONIC: &str = "SKW";
/// Longest sentence with `$`, checksum, CR and LF.
pub(super) const LONGEST: usize = 82;
/// `*hh`, CR and LF.
const TAIL: usize = 5;
/// Most characters of the text of TXT.
const TEXT_MOST: usize = 61;
/// Most characters of a description.
const DESCRIPTION_MOST: usize = 80;

/// A sentence with checksum, CR and LF around a body like `ALC,01,...`.
fn sentence(body: &str) -> String {
    let body = format!("{TALKER}{body}");
    let checksum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{checksum:02X}\r\n")
}

/// Characters that a text field can hold: others become a blank, and what is too long ends at a word.
fn text(words: &str, most: usize) -> String {
    let plain: String = words
        .replace('\u{b0}', " deg")
        .chars()
        .map(|c| match c {
            ',' => ';',
            '$' | '*' | '!' | '\\' | '^' | '~' => ' ',
            ' '..='}' => c,
            _ => ' ',
        })
        .collect();
    if plain.len() <= most {
        return plain;
    }
    let cut = &plain[..most];
    cut.rfind(' ').map_or(cut, |end| &cut[..end]).to_owned()
}

fn time(at: Millis) -> String {
    at.to_utc()
        .map(|at| {
            let all = at.format("%H%M%S%.3f").to_string();
            all[..all.len() - 1].to_owned()
        })
        .unwrap_or_default()
}

fn priority(priority: Priority) -> char {
    match priority {
        Priority::Alarm => 'A',
        Priority::Warning => 'W',
        Priority::Caution => 'C',
    }
}

fn state(state: AlertState) -> char {
    match state {
        AlertState::ActiveUnacknowledged => 'V',
        AlertState::ActiveAcknowledged => 'A',
        AlertState::ActiveSilenced => 'S',
        AlertState::RectifiedUnacknowledged => 'U',
        AlertState::Normal => 'N',
    }
}

fn named(key: Key, entry: &Entry) -> String {
    let Key { number, instance } = key;
    format!("{MNEMONIC},{number},{instance},{}", entry.revision)
}

/// One alert: its title and, where there is one, what to do.
pub(super) fn alf(key: Key, entry: &Entry, message: u8) -> String {
    let named = named(key, entry);
    let total = if entry.order.is_empty() { 1 } else { 2 };
    let title = sentence(&format!(
        "ALF,{total},1,{message},{},B,{},{},{named},0,{}",
        time(entry.changed_at),
        priority(entry.priority),
        state(entry.state),
        entry.title
    ));
    if entry.order.is_empty() {
        return title;
    }
    let begin = format!("ALF,2,2,{message},,,,,{named},0,");
    let room = LONGEST - TAIL - 1 - TALKER.len() - begin.len();
    let order = text(&entry.order, room.min(DESCRIPTION_MOST));
    format!("{title}{}", sentence(&format!("{begin}{order}")))
}

/// The list of all alerts that are not over, an entry never split between sentences.
pub(super) fn alc<'a>(living: impl Iterator<Item = (Key, &'a Entry)>, message: u8) -> Vec<String> {
    // Of `II`, `ALC,nn,nn,nn,nn` with `$` before it.
    const HEAD: usize = 18;
    let mut parts: Vec<(usize, String)> = vec![(0, String::new())];
    for (key, entry) in living {
        let listed = format!(",{}", named(key, entry));
        let full = |list: &String| HEAD + list.len() + listed.len() + TAIL > LONGEST;
        if parts.last().is_some_and(|(_, list)| full(list)) {
            parts.push((0, String::new()));
        }
        if let Some((count, list)) = parts.last_mut() {
            *count += 1;
            list.push_str(&listed);
        }
    }
    let total = parts.len();
    let numbered = (1..).zip(parts);
    numbered
        .map(|(number, (count, list))| {
            sentence(&format!(
                "ALC,{total:02},{number:02},{message:02},{count:02}{list}"
            ))
        })
        .collect()
}

/// The heartbeat.
pub(super) fn hbt(every_s: u32, message: u8) -> String {
    sentence(&format!("HBT,{every_s},A,{message}"))
}

/// A command is refused.
pub(super) fn arc(at: Millis, number: u32, instance: Option<u32>, letter: char) -> String {
    let instance = instance.map(|i| i.to_string()).unwrap_or_default();
    sentence(&format!(
        "ARC,{},{MNEMONIC},{number},{instance},{letter}",
        time(at)
    ))
}

/// The same in plain words, for displays that know no ALF.
pub(super) fn txt(key: Key, entry: &Entry) -> String {
    let what = match (entry.state, entry.priority) {
        (AlertState::Normal, _) => "OVER",
        (_, Priority::Alarm) => "ALARM",
        (_, Priority::Warning) => "WARNING",
        (_, Priority::Caution) => "CAUTION",
    };
    let order = match entry.state {
        AlertState::Normal => String::new(),
        _ if entry.order.is_empty() => String::new(),
        _ => format!(": {}", entry.order),
    };
    let words = text(&format!("{what} {}{order}", entry.title), TEXT_MOST);
    sentence(&format!("TXT,01,01,{:02},{words}", text_number(key.number)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(order: &str) -> Entry {
        Entry {
            advisory: "bait-airborne-3".to_owned(),
            priority: Priority::Warning,
            state: AlertState::ActiveUnacknowledged,
            title: "BAIT MAY FLY",
            order: order.to_owned(),
            revision: 4,
            asked: 0,
            // 2009-02-13T23:31:30.12Z (arithmetic from the definition).
            changed_at: Millis(1_234_567_890_129),
        }
    }

    const KEY: Key = Key {
        number: 10001,
        instance: 3,
    };

    #[test]
    fn sentences_have_the_fields_of_the_standard_in_order() {
        // Order of fields as in secondary sources; checksums own arithmetic by `sentence`.
        let alf = alf(KEY, &entry("LET OUT 4 m MAIN LINE"), 7);
        let bodies: Vec<_> = alf.lines().map(|l| l.split('*').next().unwrap()).collect();
        assert_eq!(
            bodies,
            [
                "$IIALF,2,1,7,233130.12,B,W,V,SKW,10001,3,4,0,BAIT MAY FLY",
                "$IIALF,2,2,7,,,,,SKW,10001,3,4,0,LET OUT 4 m MAIN LINE",
            ]
        );
        assert!(super::alf(KEY, &entry(""), 0).starts_with("$IIALF,1,1,0,"));
        let e = entry("");
        let listed = alc([(KEY, &e)].into_iter(), 5);
        assert!(listed[0].starts_with("$IIALC,01,01,05,01,SKW,10001,3,4*"));
        let nothing = alc(std::iter::empty(), 3);
        assert!(nothing[0].starts_with("$IIALC,01,01,03,00*"), "{nothing:?}");
        assert!(hbt(30, 1).starts_with("$IIHBT,30,A,1*"));
        let refused = arc(Millis(1_234_567_890_129), 10001, Some(3), 'A');
        assert!(
            refused.starts_with("$IIARC,233130.12,SKW,10001,3,A*"),
            "{refused}"
        );
        // Published checksum: $HCHBT,1.5,A,1*23 with our talker and 30 is own arithmetic.
        assert_eq!(sentence("HBT,1.5,A,1"), "$IIHBT,1.5,A,1*28\r\n");
    }

    #[test]
    fn no_sentence_is_longer_than_the_line_allows_and_no_text_breaks_a_field() {
        let long = entry(&"word, with * and $ and 30\u{b0} \u{1F600} ".repeat(20));
        let far = Key {
            number: 10001,
            instance: 999_999,
        };
        let entries: Vec<_> = (0..14)
            .map(|i| {
                (
                    Key {
                        instance: 999_980 + i,
                        ..far
                    },
                    Entry {
                        revision: 99,
                        ..entry("")
                    },
                )
            })
            .collect();
        let listed = alc(entries.iter().map(|(key, entry)| (*key, entry)), 99);
        let mut all = vec![txt(far, &long), hbt(999, 9)];
        all.extend(alf(far, &long, 9).split_inclusive('\n').map(str::to_owned));
        all.extend(listed.iter().cloned());
        for line in &all {
            assert!(line.len() <= LONGEST, "{} {line}", line.len());
            assert!(line.ends_with("\r\n") && line.is_ascii(), "{line}");
            assert_eq!(line.matches(['$', '*']).count(), 2, "{line}");
        }
        let counted: usize = listed
            .iter()
            .map(|line| {
                line.split(',').nth(4).unwrap()[..2]
                    .parse::<usize>()
                    .unwrap()
            })
            .sum();
        assert_eq!(counted, 14);
    }
}
