//! Writes the crew's sentence, whose form `crew_sentence.rs` describes.

use super::crew::{
    BaitState, CorrectBy, Correctable, Correction, CrewInput, LaunchSaid, Line, MarkChange,
    MarkHow, MarkSaid, PassWord, PlanAnswer, Priority, SessionMark, StrikeWord,
};
use super::crew_sentence::{
    MAX_ADVISORY_ID, MAX_ASKED_ID, MAX_NAME, MAX_SETTING, MAX_SETTING_KEY, MAX_SOURCE, MOST, escape,
};
use super::geo::GeoPosition;
use crate::units::{
    Angle, Length, in_degrees, in_degrees_per_second, in_metres, in_metres_per_second,
};

/// Writes an input as a sentence with its checksum, without the line end.
///
/// Numbers are rounded as `crew_sentence` says, so the input that is read back may differ from the
/// one passed in. A live program must use the input as read back, or a replay would differ. A value
/// outside its range, or not finite, gives a sentence that the decoder refuses.
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
            format!("LINES,{},{}", counted(*kite), counted(*main))
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
        CrewInput::Strike(word) => strike(*word),
        CrewInput::Mark(said) => mark(said, less),
        CrewInput::OfMark { number, change } => of_mark(*number, change, less),
        CrewInput::Pass { mark, said } => {
            let letter = match said {
                PassWord::Ask => "Q",
                PassWord::Accept => "A",
                PassWord::Decline => "D",
                PassWord::End => "E",
            };
            format!("PASS,{letter},{mark}")
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
        CrewInput::Launch(said) => launch(said),
        CrewInput::Source { name, used } => format!(
            "SOURCE,{},{}",
            escape(name, MAX_SOURCE.saturating_sub(less)),
            u8::from(*used)
        ),
        CrewInput::Correct(correction) => correct(correction),
        CrewInput::Uncorrect(what) => format!("CORRECT,{}", letter_of_correctable(*what)),
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
        } => {
            // Whole seconds leave the more room for a name.
            let age = format!("{age_s:.3}");
            let age = age.trim_end_matches('0').trim_end_matches('.');
            format!("BEFORE,{age},{},{}", u8::from(*counts), words(input, less))
        }
    }
}

/// A line's length, or nothing.
fn counted(line: Option<Length>) -> String {
    line.map_or_else(String::new, |length| format!("{:.2}", in_metres(length)))
}

/// A name, cut to what is left for it.
fn name(name: Option<&str>, less: usize) -> String {
    escape(name.unwrap_or_default(), MAX_NAME.saturating_sub(less))
}

fn mark(said: &MarkSaid, less: usize) -> String {
    let position = said.position.as_ref().map_or(",,,".to_owned(), place);
    let how = match said.how {
        MarkHow::Here => "H,".to_owned(),
        MarkHow::ByEye { range } => format!("E,{:.0}", in_metres(range)),
        MarkHow::Typed => "T,".to_owned(),
    };
    let number = said.number.map(|n| n.to_string()).unwrap_or_default();
    let words = format!(
        "MARK,{},{position},{how},{number}",
        name(said.name.as_deref(), less)
    );
    words.trim_end_matches(',').to_owned()
}

fn of_mark(number: u32, change: &MarkChange, less: usize) -> String {
    match change {
        MarkChange::Removed => format!("UNMARK,{number}"),
        MarkChange::Named(to) => format!("NAMED,{number},{}", name(to.as_deref(), less)),
        MarkChange::Drifts(None) => format!("DRIFT,{number}"),
        MarkChange::Drifts(Some(way)) => format!(
            "DRIFT,{number},{:.1},{:.3}",
            in_degrees(way.set),
            in_metres_per_second(way.drift)
        ),
    }
}

fn launch(said: &LaunchSaid) -> String {
    match said {
        LaunchSaid::Begun(day) => format!(
            "LAUNCH,B,{:.2},{:.2},{:.2},{:.2},{:.2}",
            in_metres_per_second(day.wind),
            in_metres_per_second(day.gust),
            in_metres_per_second(day.speed),
            in_degrees(day.off_bow),
            in_metres(day.kite_line)
        ),
        LaunchSaid::Answered { steps, kite, main } => {
            format!("LAUNCH,S,{steps},{},{}", counted(*kite), counted(*main))
        }
        LaunchSaid::Ended => "LAUNCH,E".to_owned(),
    }
}

fn strike(word: StrikeWord) -> String {
    let word = match word {
        StrikeWord::Fish { off_bow } => return format!("STRIKE,FISH,{:.2}", in_degrees(off_bow)),
        StrikeWord::Home => "HOME",
        StrikeWord::BaitIn => "BAITIN",
        StrikeWord::MarkerDown => "DOWN",
        StrikeWord::Tight => "TIGHT",
        StrikeWord::DragSet => "DRAG",
        StrikeWord::Turned => "TURNED",
        StrikeWord::KiteIn => "KITEIN",
        StrikeWord::AnglerOn => "ANGLER",
        StrikeWord::Missed => "MISSED",
        StrikeWord::FishOff => "OFF",
        StrikeWord::CutOff => "CUT",
        StrikeWord::Landed => "LANDED",
        StrikeWord::Released => "RELEASED",
        StrikeWord::StaysOut => "STAYS",
    };
    format!("STRIKE,{word}")
}

fn letter_of_correctable(what: Correctable) -> char {
    match what {
        Correctable::WindAngle => 'A',
        Correctable::WindSpeed => 'S',
        Correctable::Log => 'L',
        Correctable::Compass => 'C',
        Correctable::RateOfTurn => 'R',
    }
}

fn correct(correction: &Correction) -> String {
    let by = match correction.by {
        CorrectBy::WindAngle(angle) => format!("{:.2}", in_degrees(angle)),
        CorrectBy::WindSpeed(factor) | CorrectBy::Log(factor) => format!("{factor:.4}"),
        CorrectBy::Compass {
            offset,
            sine,
            cosine,
        } => format!(
            "{:.2},{:.2},{:.2}",
            in_degrees(offset),
            in_degrees(sine),
            in_degrees(cosine)
        ),
        CorrectBy::RateOfTurn(rate) => format!("{:.3}", in_degrees_per_second(rate)),
    };
    let letter = letter_of_correctable(correction.by.what());
    format!("CORRECT,{letter},{},{by}", correction.talker)
}

fn letter_of(line: Line) -> char {
    match line {
        Line::Kite => 'K',
        Line::Main => 'M',
    }
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
    use crate::decode::crew::{Asked, LaunchDay, SettingChange};
    use crate::decode::crew_sentence::MAX_MORE;
    use crate::decode::talker::Talker;
    use crate::units::{degrees, degrees_per_second, metres, metres_per_second};

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
        let mark = CrewInput::Mark(MarkSaid {
            name: Some("~".repeat(50)),
            position: Some(GeoPosition {
                latitude: degrees(-88.5),
                longitude: degrees(-179.5),
            }),
            how: MarkHow::ByEye {
                range: metres(20_000.0),
            },
            number: Some(9999),
        });
        let named = MarkChange::Named(Some("~".repeat(50)));
        let named = CrewInput::OfMark {
            number: 9999,
            change: named,
        };
        assert!(encode_crew(&named, u32::MAX).len() <= 80);
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
            // Marks are repeated by the program, numbered 0, with whole seconds.
            let (age_s, seq) = match input {
                CrewInput::Mark(_) => (-4_999_999_999.0, 0),
                _ => (-4_999_999_999.123, u32::MAX),
            };
            assert!((76..=80).contains(&before(age_s, seq)));
            assert!(before(30.0, 0) <= 80);
        }
        let begun = CrewInput::Launch(LaunchSaid::Begun(LaunchDay {
            wind: metres_per_second(40.0),
            gust: metres_per_second(60.0),
            speed: metres_per_second(15.0),
            off_bow: degrees(179.99),
            kite_line: metres(1000.0),
        }));
        assert!(encode_crew(&begun, u32::MAX).len() <= 80);
        let before = CrewInput::Before {
            age_s: -4_999_999_999.123,
            counts: true,
            input: Box::new(begun),
        };
        assert!(encode_crew(&before, 0).len() <= 80);
        let turned = degrees(-45.0);
        let corrected = CrewInput::Before {
            age_s: -4_999_999_999.123,
            counts: true,
            input: Box::new(CrewInput::Correct(Correction {
                talker: Talker::new("HC").unwrap(),
                by: CorrectBy::Compass {
                    offset: turned,
                    sine: turned,
                    cosine: turned,
                },
            })),
        };
        assert!((76..=80).contains(&encode_crew(&corrected, u32::MAX).len()));
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
