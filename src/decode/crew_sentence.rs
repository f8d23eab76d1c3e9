//! The crew's sentence: what the crew says, as text in the same stream as the instruments, so that
//! a recording replays the whole day.
//!
//! ```text
//! $PSKWT,<seq>,<word>[,<field>...]*hh<CR><LF>
//! ```
//!
//! It is a proprietary sentence (`P`). `SKW` is this project's own three letters, **not registered**
//! with anybody, and `T` is its one family: what the crew taps. `<seq>` is a whole number from 0 to
//! 4294967295 by which a later input can take this one back; the writer counts up. `hh` is the
//! usual checksum: exclusive-or of all characters between `$` and `*`, two hexadecimal digits.
//!
//! | word | fields after it | meaning |
//! |---|---|---|
//! | `LINES` | kite line m; main line m | line out now; either may be empty, not both; 0 to 1000 |
//! | `MOVED` | `K` kite or `M` main; metres | line given (+) or taken (-); within 1000 |
//! | `BAIT` | `A` airborne, `S` skipping, `D` dragging | what the bait does |
//! | `UNDO` | seq of the input taken back | |
//! | `ELEV` | degrees, 0 to 90 | kite line above the horizon at the kite rod |
//! | `CORNER` | degrees, -180 to 180 | kite line off dead astern, + to starboard |
//! | `MARKER` | `1` in the water, `0` not | the marker |
//! | `TURN` | degrees, + to starboard, within 720; degrees a second, 0.01 to 60; seconds until it starts, 0 to 3600 | intended turn |
//! | `CALLOFF` | | the intended turn is called off |
//! | `PLAN` | `D` done, `H` half, `O` other; id of the advisory; its revision; `K` or `M`; metres asked, within 1000 | answer to the line an advisory asked for; the last four all or none: without them it answers what is asked first |
//! | `BITE` | | a fish has taken the bait |
//! | `MARK` | name; `ddmm.mmmmm`; `N`/`S`; `dddmm.mmmmm`; `E`/`W` | a place to fish; name may be empty; without the four position fields it is here and now |
//! | `ACK` | id of the advisory; `A` alarm, `W` warning, `C` caution: what it was then, may be empty | somebody has seen it |
//! | `SILENCE` | minutes, 0 to 1440 | no sound for so long; 0 ends it |
//! | `SESSION` | `1` starts, `0` stops | fishing |
//! | `FORGET` | | what was learnt of this kite is forgotten |
//! | `BEFORE` | seconds ago, negative when the clock is behind; `1` still counts, `0` only to be shown and asked for; `LINES`, `MARKER`, `TURN`, `BITE`, `MARK`, `ACK`, `SILENCE` or `SESSION` with its fields | said before the program was started anew, and said again by the program |
//! | `SET` | key; value; how many more | a setting changed while the program runs; an empty value takes the key out; all take effect with the one after which no more come |
//!
//! Numbers are plain decimals (`12.5`, `-3`, `+40`), never with an exponent. We write metres,
//! degrees and seconds with two decimals, rates with three, minutes of silence with one, and read
//! any number of them. In names, ids, keys and values every character that a sentence reserves
//! (`! $ * , \ ^ ~`), that is not printable or that is not ASCII is written as `^hh` for each byte
//! of its UTF-8 form; what is longer than [`MAX_NAME`], [`MAX_ADVISORY_ID`],
//! [`MAX_ASKED_ID`], [`MAX_SETTING_KEY`] or, key and value together, [`MAX_SETTING`] characters after that is cut, so
//! that a sentence never exceeds the 82 characters of the standard; after `BEFORE` names and ids are
//! cut further where its age needs the room.
//!
//! Examples (checksums are ours): `$PSKWT,7,MOVED,M,-3.00*54`, `$PSKWT,8,TURN,40.00,6.000,21.60*6B`.

use std::fmt::Write as _;

use super::crew::{
    Asked, BaitState, CrewInput, Line, PlanAnswer, Priority, SessionMark, SettingChange,
};
use super::fields::Fields;
use super::forms::unescape;
use super::geo::GeoPosition;
use super::observation::Observation;
use super::outcome::DecodeReject;
use super::ranges;
use crate::units::{
    Angle, degrees, degrees_per_second, in_degrees, in_degrees_per_second, in_metres, metres,
};

/// Kind of the sentence: the letters after the `P`.
pub(super) const KIND: &str = "SKWT";

/// Longest sentence without its line end.
const MOST: usize = 80;
/// Longest name of a mark, in characters of the sentence (an escaped byte takes three).
pub const MAX_NAME: usize = 20;
/// Longest id of an advisory, in characters of the sentence.
pub const MAX_ADVISORY_ID: usize = 40;
/// Longest id of an advisory that an answer names, in characters of the sentence.
pub const MAX_ASKED_ID: usize = 30;
/// Longest key of a setting, in characters of the sentence.
pub const MAX_SETTING_KEY: usize = 35;
/// Longest key and value of a setting together, in characters of the sentence.
pub const MAX_SETTING: usize = 51;
/// Most settings that may still come.
const MAX_MORE: u32 = 99;

/// Whether a text is a crew sentence, well-formed or not.
#[must_use]
pub fn is_one(text: &str) -> bool {
    text.strip_prefix("$P")
        .and_then(|text| text.strip_prefix(KIND))
        .is_some_and(|rest| rest.starts_with([',', '*']))
}

/// Sequence number of a crew sentence, read without decoding the rest; `None` for any other text.
#[must_use]
pub fn sequence(text: &str) -> Option<u32> {
    let fields = text.strip_prefix("$P")?.strip_prefix(KIND)?;
    fields.split(',').nth(1)?.parse().ok()
}

/// Writes an input as a sentence with its checksum, without the line end.
///
/// Numbers are rounded as the module says, so what is read back is what was written and not always
/// what was passed in: a live program must use the input as read back, or a replay would differ.
/// A value outside its range, or not finite, gives a sentence that the decoder refuses.
#[must_use]
pub fn encode_crew(input: &CrewInput, seq: u32) -> String {
    let mut less = 0;
    let body = loop {
        let body = format!("PSKWT,{seq},{}", words(input, less));
        let over = (body.len() + "$*hh".len()).saturating_sub(MOST);
        if over == 0 || less > MAX_ADVISORY_ID {
            break body;
        }
        less += over;
    };
    let checksum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{checksum:02X}")
}

/// `less` is how many characters a name or id has to give up.
fn words(input: &CrewInput, less: usize) -> String {
    match input {
        CrewInput::LinesOut { kite, main } => {
            let metres = |line: &Option<_>| {
                line.map_or_else(String::new, |length| format!("{:.2}", in_metres(length)))
            };
            format!("LINES,{},{}", metres(kite), metres(main))
        }
        CrewInput::Moved { line, by } => {
            format!("MOVED,{},{:.2}", letter_of(*line), in_metres(*by))
        }
        CrewInput::Bait(state) => {
            let state = match state {
                BaitState::Airborne => 'A',
                BaitState::Skipping => 'S',
                BaitState::Dragging => 'D',
            };
            format!("BAIT,{state}")
        }
        CrewInput::Undo { of } => format!("UNDO,{of}"),
        CrewInput::Elevation(angle) => format!("ELEV,{:.2}", in_degrees(*angle)),
        CrewInput::Bearing(angle) => format!("CORNER,{:.2}", in_degrees(*angle)),
        CrewInput::MarkerInWater(yes) => format!("MARKER,{}", u8::from(*yes)),
        CrewInput::Turn { by, rate, in_s } => format!(
            "TURN,{:.2},{:.3},{in_s:.2}",
            in_degrees(*by),
            in_degrees_per_second(*rate)
        ),
        CrewInput::CallOffTurn => "CALLOFF".to_owned(),
        CrewInput::Plan { answer, asked } => {
            let answer = match answer {
                PlanAnswer::Done => 'D',
                PlanAnswer::Half => 'H',
                PlanAnswer::Other => 'O',
            };
            let asked = asked.as_ref().map_or_else(String::new, |asked| {
                format!(
                    ",{},{},{},{:.2}",
                    escape(&asked.advisory, MAX_ASKED_ID),
                    asked.revision,
                    letter_of(asked.line),
                    in_metres(asked.by)
                )
            });
            format!("PLAN,{answer}{asked}")
        }
        CrewInput::Bite => "BITE".to_owned(),
        CrewInput::Mark { name, position } => {
            let name = escape(
                name.as_deref().unwrap_or_default(),
                MAX_NAME.saturating_sub(less),
            );
            let position = position.as_ref().map_or(",,,".to_owned(), place);
            format!("MARK,{name},{position}")
        }
        CrewInput::Acknowledge { advisory, priority } => {
            let priority = match priority {
                None => "",
                Some(Priority::Alarm) => "A",
                Some(Priority::Warning) => "W",
                Some(Priority::Caution) => "C",
            };
            let id = escape(advisory, MAX_ADVISORY_ID.saturating_sub(less));
            format!("ACK,{id},{priority}")
        }
        CrewInput::Silence { minutes } => format!("SILENCE,{minutes:.1}"),
        CrewInput::Session(mark) => {
            format!("SESSION,{}", u8::from(*mark == SessionMark::Start))
        }
        CrewInput::Forget => "FORGET".to_owned(),
        CrewInput::Setting { change, more } => {
            let key = escape(&change.key, MAX_SETTING_KEY);
            let value = change.value.as_deref().unwrap_or_default();
            let value = escape(value, MAX_SETTING - key.len());
            format!("SET,{key},{value},{more}")
        }
        CrewInput::Before {
            age_s,
            counts,
            input,
        } => format!(
            "BEFORE,{age_s:.3},{},{}",
            u8::from(*counts),
            words(input, less)
        ),
    }
}

fn letter_of(line: Line) -> char {
    match line {
        Line::Kite => 'K',
        Line::Main => 'M',
    }
}

/// Whether a sentence can carry this change whole.
#[must_use]
pub fn setting_fits(change: &SettingChange) -> bool {
    let places = |text: &str| escape(text, usize::MAX).len();
    let key = places(&change.key);
    let value = places(change.value.as_deref().unwrap_or_default());
    key <= MAX_SETTING_KEY && key + value <= MAX_SETTING
}

pub(super) fn decode(fields: &Fields<'_>) -> Result<Vec<Observation>, DecodeReject> {
    let seq = required(fields, 0, "sequence number", |index, field| {
        fields.integer(index, field, u32::MAX)
    })?;
    let input = match fields.text(1) {
        "BEFORE" => before(fields)?,
        _ => said(fields)?,
    };
    Ok(vec![Observation::Crew { seq, input }])
}

fn before(fields: &Fields<'_>) -> Result<CrewInput, DecodeReject> {
    let age_s = required(fields, 2, "age", |index, field| {
        fields.ranged(index, field, ranges::BEFORE_S)
    })?;
    let counts = required(fields, 3, "whether it counts", |index, field| {
        fields.letter(index, field, "01")
    })? == '1';
    let word = fields.text(4);
    if !matches!(
        word,
        "LINES" | "MARKER" | "TURN" | "BITE" | "MARK" | "ACK" | "SILENCE" | "SESSION"
    ) {
        return Err(fields.malformed("word said before", word));
    }
    Ok(CrewInput::Before {
        age_s,
        counts,
        input: Box::new(said(&fields.without_up_to(4))?),
    })
}

fn said(fields: &Fields<'_>) -> Result<CrewInput, DecodeReject> {
    let number = |index, field, range| {
        required(fields, index, field, |index, field| {
            fields.ranged(index, field, range)
        })
    };
    let letter_at = |index, field, allowed| {
        required(fields, index, field, |index, field| {
            fields.letter(index, field, allowed)
        })
    };
    let letter = |field, allowed| letter_at(2, field, allowed);
    let line_at = |index| -> Result<_, DecodeReject> {
        Ok(match letter_at(index, "line", "KM")? {
            'K' => Line::Kite,
            _ => Line::Main,
        })
    };
    let (length, input) = match fields.text(1) {
        "LINES" => {
            let line = |index, field| -> Result<_, DecodeReject> {
                Ok(fields.ranged(index, field, ranges::LINE_M)?.map(metres))
            };
            let (kite, main) = (line(2, "kite line")?, line(3, "main line")?);
            if kite.is_none() && main.is_none() {
                return Err(fields.malformed("line out", fields.data));
            }
            (4, CrewInput::LinesOut { kite, main })
        }
        "MOVED" => {
            let line = line_at(2)?;
            let by = metres(number(3, "metres moved", ranges::MOVED_M)?);
            (4, CrewInput::Moved { line, by })
        }
        "BAIT" => {
            let state = match letter("bait state", "ASD")? {
                'A' => BaitState::Airborne,
                'S' => BaitState::Skipping,
                _ => BaitState::Dragging,
            };
            (3, CrewInput::Bait(state))
        }
        "UNDO" => {
            let of = required(fields, 2, "sequence number undone", |index, field| {
                fields.integer(index, field, u32::MAX)
            })?;
            (3, CrewInput::Undo { of })
        }
        "ELEV" => {
            let angle = number(2, "elevation", ranges::ELEVATION_DEG)?;
            (3, CrewInput::Elevation(degrees(angle)))
        }
        "CORNER" => {
            let angle = number(2, "off the corner", ranges::OFF_ASTERN_DEG)?;
            (3, CrewInput::Bearing(degrees(angle)))
        }
        "MARKER" => {
            let in_water = letter("marker in water", "01")? == '1';
            (3, CrewInput::MarkerInWater(in_water))
        }
        "TURN" => {
            let turn = CrewInput::Turn {
                by: degrees(number(2, "turn", ranges::TURN_DEG)?),
                rate: degrees_per_second(number(3, "rate of turn", ranges::TURN_RATE_DEGPS)?),
                in_s: number(4, "seconds until the turn", ranges::TURN_IN_S)?,
            };
            (5, turn)
        }
        "CALLOFF" => (2, CrewInput::CallOffTurn),
        "PLAN" => {
            let answer = match letter("answer", "DHO")? {
                'D' => PlanAnswer::Done,
                'H' => PlanAnswer::Half,
                _ => PlanAnswer::Other,
            };
            let nothing_asked = (3..7).all(|index| fields.text(index).is_empty());
            let asked = if nothing_asked {
                None
            } else {
                Some(Asked {
                    advisory: required(fields, 3, "advisory id", |index, field| {
                        text(fields, index, field)
                    })?,
                    revision: required(fields, 4, "revision", |index, field| {
                        fields.integer(index, field, u32::MAX)
                    })?,
                    line: line_at(5)?,
                    by: metres(number(6, "metres asked", ranges::MOVED_M)?),
                })
            };
            (7, CrewInput::Plan { answer, asked })
        }
        "BITE" => (2, CrewInput::Bite),
        "MARK" => {
            let mark = CrewInput::Mark {
                name: text(fields, 2, "name")?,
                position: fields.position(3)?,
            };
            (7, mark)
        }
        "ACK" => {
            let advisory = required(fields, 2, "advisory id", |index, field| {
                text(fields, index, field)
            })?;
            let priority = fields
                .letter(3, "priority", "AWC")?
                .map(|letter| match letter {
                    'A' => Priority::Alarm,
                    'W' => Priority::Warning,
                    _ => Priority::Caution,
                });
            (4, CrewInput::Acknowledge { advisory, priority })
        }
        "SILENCE" => {
            let minutes = number(2, "minutes", ranges::SILENCE_MIN)?;
            (3, CrewInput::Silence { minutes })
        }
        "SESSION" => {
            let mark = match letter("session", "01")? {
                '1' => SessionMark::Start,
                _ => SessionMark::Stop,
            };
            (3, CrewInput::Session(mark))
        }
        "FORGET" => (2, CrewInput::Forget),
        "SET" => {
            let key = required(fields, 2, "key", |index, field| text(fields, index, field))?;
            let value = text(fields, 3, "value")?;
            let more = required(fields, 4, "how many more", |index, field| {
                fields.integer(index, field, MAX_MORE)
            })?;
            let change = SettingChange { key, value };
            (5, CrewInput::Setting { change, more })
        }
        other => return Err(fields.malformed("word", other)),
    };
    if (length..fields.count()).any(|index| !fields.text(index).is_empty()) {
        return Err(fields.malformed("number of fields", fields.data));
    }
    Ok(input)
}

fn required<T>(
    fields: &Fields<'_>,
    index: usize,
    field: &'static str,
    read: impl Fn(usize, &'static str) -> Result<Option<T>, DecodeReject>,
) -> Result<T, DecodeReject> {
    read(index, field)?.ok_or_else(|| fields.malformed(field, fields.data))
}

/// Free text; unlike names in instrument sentences its escapes are bytes of UTF-8.
fn text(
    fields: &Fields<'_>,
    index: usize,
    field: &'static str,
) -> Result<Option<String>, DecodeReject> {
    let found = fields.text(index);
    let text = unescape(found)
        .and_then(|bytes| String::from_utf8(bytes).ok())
        .ok_or_else(|| fields.malformed(field, found))?;
    Ok((!text.is_empty()).then_some(text))
}

fn escape(text: &str, limit: usize) -> String {
    let mut escaped = String::new();
    for character in text.chars() {
        let mut piece = String::new();
        if matches!(character, ' '..='}') && !"!$*,\\^".contains(character) {
            piece.push(character);
        } else {
            let mut buffer = [0; 4];
            for byte in character.encode_utf8(&mut buffer).bytes() {
                // Writing to a string cannot fail.
                let _ = write!(piece, "^{byte:02X}");
            }
        }
        if escaped.len() + piece.len() > limit {
            break;
        }
        escaped.push_str(&piece);
    }
    escaped
}

fn place(position: &GeoPosition) -> String {
    let arc = |angle: Angle, width: usize, sides: [char; 2]| {
        // Hundred-thousandths of a minute, so that rounding carries into the degrees.
        let units = (in_degrees(angle).abs() * 6_000_000.0).round();
        let whole_degrees = (units / 6_000_000.0).floor();
        let minutes = (units - whole_degrees * 6_000_000.0) / 100_000.0;
        let side = sides[usize::from(in_degrees(angle) < 0.0)];
        format!("{whole_degrees:0width$.0}{minutes:08.5},{side}")
    };
    format!(
        "{},{}",
        arc(position.latitude, 2, ['N', 'S']),
        arc(position.longitude, 3, ['E', 'W'])
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn documented_examples_are_what_we_write() {
        let moved = CrewInput::Moved {
            line: Line::Main,
            by: metres(-3.0),
        };
        assert_eq!(encode_crew(&moved, 7), "$PSKWT,7,MOVED,M,-3.00*54");
        let turn = CrewInput::Turn {
            by: degrees(40.0),
            rate: degrees_per_second(6.0),
            in_s: 21.6,
        };
        assert_eq!(encode_crew(&turn, 8), "$PSKWT,8,TURN,40.00,6.000,21.60*6B");
    }

    #[test]
    fn the_longest_sentence_fits_the_standard() {
        // 82 characters with the line end (E. S. Raymond, NMEA Revealed, 2025).
        let mark = CrewInput::Mark {
            name: Some("~".repeat(50)),
            position: Some(GeoPosition {
                latitude: degrees(-89.5),
                longitude: degrees(-179.5),
            }),
        };
        assert!(encode_crew(&mark, u32::MAX).len() <= 80);
        let ack = CrewInput::Acknowledge {
            advisory: "x".repeat(100),
            priority: Some(Priority::Warning),
        };
        assert!(encode_crew(&ack, u32::MAX).len() <= 80);
        for input in [&mark, &ack] {
            let before = |age_s, seq| {
                let input = Box::new(input.clone());
                encode_crew(
                    &CrewInput::Before {
                        age_s,
                        counts: true,
                        input,
                    },
                    seq,
                )
                .len()
            };
            assert!((76..=80).contains(&before(-4_999_999_999.123, u32::MAX)));
            assert!(before(30.0, 0) <= 80);
        }
        let plan = CrewInput::Plan {
            answer: PlanAnswer::Other,
            asked: Some(Asked {
                advisory: "x".repeat(100),
                revision: u32::MAX,
                line: Line::Main,
                by: metres(-1000.0),
            }),
        };
        assert!(encode_crew(&plan, u32::MAX).len() <= 80);
        let set = CrewInput::Setting {
            change: SettingChange {
                key: "x".repeat(100),
                value: Some("y".repeat(100)),
            },
            more: MAX_MORE,
        };
        assert!(encode_crew(&set, u32::MAX).len() <= 80);
    }

    #[test]
    fn minutes_that_round_up_carry_into_degrees() {
        let position = GeoPosition {
            latitude: degrees(9.999_999_999_9),
            longitude: degrees(-0.000_001),
        };
        assert_eq!(place(&position), "1000.00000,N,00000.00006,W");
    }
}
