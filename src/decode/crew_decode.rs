//! Reads the crew's sentence, whose form `crew_sentence.rs` describes.

use super::crew::{
    Asked, BaitState, CorrectBy, Correctable, Correction, CrewInput, LaunchDay, LaunchSaid, Line,
    MarkChange, MarkHow, MarkSaid, PassWord, PlanAnswer, Priority, SessionMark, SetAndDrift,
    SettingChange, StrikeWord,
};
use super::crew_sentence::{MAX_MARK, MAX_MORE, MAX_STEPS};
use super::fields::Fields;
use super::forms::{circle, unescape};
use super::observation::Observation;
use super::outcome::DecodeReject;
use super::ranges::{self, Range};
use super::talker::Talker;
use crate::units::{Length, degrees, degrees_per_second, in_degrees, metres, metres_per_second};

type Read<T> = Result<T, DecodeReject>;

pub(super) fn decode(fields: &Fields<'_>) -> Read<Vec<Observation>> {
    let seq = Needed(fields).whole(0, "sequence number", u32::MAX)?;
    let input = match fields.text(1) {
        "BEFORE" => before(fields)?,
        _ => said(fields)?,
    };
    Ok(vec![Observation::Crew { seq, input }])
}

fn before(fields: &Fields<'_>) -> Read<CrewInput> {
    let needed = Needed(fields);
    let age_s = needed.number(2, "age", ranges::BEFORE_S)?;
    let counts = needed.letter(3, "whether it counts", "01")? == '1';
    let word = fields.text(4);
    if !matches!(
        word,
        "LINES"
            | "MARKER"
            | "TURN"
            | "BITE"
            | "STRIKE"
            | "MARK"
            | "DRIFT"
            | "SOURCE"
            | "CORRECT"
            | "ACK"
            | "SILENCE"
            | "SESSION"
            | "LAUNCH"
    ) {
        return Err(fields.malformed("word said before", word));
    }
    Ok(CrewInput::Before {
        age_s,
        counts,
        input: Box::new(said(&fields.without_up_to(4))?),
    })
}

/// What one word says; its fields begin at 2, and after them the sentence must be empty.
fn said(fields: &Fields<'_>) -> Read<CrewInput> {
    let needed = Needed(fields);
    let (length, input) = match fields.text(1) {
        "LINES" => (4, lines_out(fields)?),
        "MOVED" => {
            let line = needed.line(2)?;
            let by = needed.moved(3, "metres moved")?;
            (4, CrewInput::Moved { line, by })
        }
        "BAIT" => {
            let state = match needed.letter(2, "bait state", "ASD")? {
                'A' => BaitState::Airborne,
                'S' => BaitState::Skipping,
                _ => BaitState::Dragging,
            };
            (3, CrewInput::Bait(state))
        }
        "UNDO" => {
            let of = needed.whole(2, "sequence number undone", u32::MAX)?;
            (3, CrewInput::Undo { of })
        }
        "ELEV" => {
            let angle = needed.number(2, "elevation", ranges::ELEVATION_DEG)?;
            (3, CrewInput::Elevation(degrees(angle)))
        }
        "CORNER" => {
            let angle = needed.number(2, "off the corner", ranges::OFF_ASTERN_DEG)?;
            (3, CrewInput::Bearing(degrees(angle)))
        }
        "MARKER" => {
            let in_water = needed.letter(2, "marker in water", "01")? == '1';
            (3, CrewInput::MarkerInWater(in_water))
        }
        "TURN" => (5, turn(fields)?),
        "CALLOFF" => (2, CrewInput::CallOffTurn),
        "PLAN" => (7, plan(fields)?),
        "BITE" => (2, CrewInput::Bite),
        "STRIKE" => strike(fields)?,
        "MARK" => (10, CrewInput::Mark(mark(fields)?)),
        "UNMARK" => (3, of_mark(fields, MarkChange::Removed)?),
        "NAMED" => {
            let name = text(fields, 3, "name")?;
            (4, of_mark(fields, MarkChange::Named(name))?)
        }
        "DRIFT" => (5, of_mark(fields, MarkChange::Drifts(drift(fields)?))?),
        "PASS" => {
            let said = match needed.letter(2, "pass", "QADE")? {
                'Q' => PassWord::Ask,
                'A' => PassWord::Accept,
                'D' => PassWord::Decline,
                _ => PassWord::End,
            };
            let mark = needed.some("number of the mark", number_of_mark(fields, 3)?)?;
            (4, CrewInput::Pass { mark, said })
        }
        "SOURCE" => {
            let name = needed.some("name of the source", text(fields, 2, "name of the source")?)?;
            let used = needed.letter(3, "whether it is used", "01")? == '1';
            (4, CrewInput::Source { name, used })
        }
        "ACK" => (4, acknowledge(fields)?),
        "SILENCE" => {
            let minutes = needed.number(2, "minutes", ranges::SILENCE_MIN)?;
            (3, CrewInput::Silence { minutes })
        }
        "SESSION" => {
            let mark = match needed.letter(2, "session", "01")? {
                '1' => SessionMark::Start,
                _ => SessionMark::Stop,
            };
            (3, CrewInput::Session(mark))
        }
        "LAUNCH" => {
            let (length, said) = launch(fields)?;
            (length, CrewInput::Launch(said))
        }
        "CORRECT" => (7, correct(fields)?),
        "FORGET" => (2, CrewInput::Forget),
        "SET" => (5, setting(fields)?),
        other => return Err(fields.malformed("word", other)),
    };
    if (length..fields.count()).any(|index| !fields.text(index).is_empty()) {
        return Err(fields.malformed("number of fields", fields.data));
    }
    Ok(input)
}

/// Kite line and main line counted, at this field and the next.
fn counted(fields: &Fields<'_>, first: usize) -> Read<(Option<Length>, Option<Length>)> {
    let line =
        |index, field| -> Read<_> { Ok(fields.ranged(index, field, ranges::LINE_M)?.map(metres)) };
    Ok((line(first, "kite line")?, line(first + 1, "main line")?))
}

/// What is said of a launch, and how many fields it takes.
fn launch(fields: &Fields<'_>) -> Read<(usize, LaunchSaid)> {
    let needed = Needed(fields);
    match needed.letter(2, "launch", "BSE")? {
        'B' => {
            let speed = |index, field| -> Read<_> {
                let mps = needed.number(index, field, ranges::LAUNCH_MPS)?;
                Ok(metres_per_second(mps))
            };
            let day = LaunchDay {
                wind: speed(3, "wind")?,
                gust: speed(4, "gusts")?,
                speed: speed(5, "boat's speed")?,
                off_bow: degrees(needed.number(6, "wind off the bow", ranges::HALF_CIRCLE_DEG)?),
                kite_line: metres(needed.number(7, "kite line", ranges::LINE_M)?),
            };
            Ok((8, LaunchSaid::Begun(day)))
        }
        'S' => {
            let steps = needed.whole(3, "steps", MAX_STEPS)?;
            let (kite, main) = counted(fields, 4)?;
            Ok((6, LaunchSaid::Answered { steps, kite, main }))
        }
        _ => Ok((3, LaunchSaid::Ended)),
    }
}

/// A place to fish.
fn mark(fields: &Fields<'_>) -> Read<MarkSaid> {
    let position = fields.position(3)?;
    if let Some(place) = &position {
        ranges::MARK_LATITUDE_DEG.gate(fields.kind, "latitude", in_degrees(place.latitude))?;
    }
    let range = fields.ranged(8, "metres away", ranges::MARK_RANGE_M)?;
    let how = match (fields.letter(7, "how it is known", "HET")?, range, position) {
        (Some('E'), Some(m), Some(_)) => MarkHow::ByEye { range: metres(m) },
        (Some('H'), None, _) | (None, None, None) => MarkHow::Here,
        (Some('T') | None, None, Some(_)) => MarkHow::Typed,
        _ => return Err(fields.malformed("how it is known", fields.data)),
    };
    Ok(MarkSaid {
        name: text(fields, 2, "name")?,
        position,
        how,
        number: number_of_mark(fields, 9)?,
    })
}

/// Number of a mark; it begins at 1.
fn number_of_mark(fields: &Fields<'_>, index: usize) -> Read<Option<u32>> {
    match fields.integer(index, "number of the mark", MAX_MARK)? {
        Some(0) => Err(fields.malformed("number of the mark", "0")),
        number => Ok(number),
    }
}

/// What is said of a mark whose number is the first field.
fn of_mark(fields: &Fields<'_>, change: MarkChange) -> Read<CrewInput> {
    let number = number_of_mark(fields, 2)?;
    let number = Needed(fields).some("number of the mark", number)?;
    Ok(CrewInput::OfMark { number, change })
}

/// Set and drift, both or none.
fn drift(fields: &Fields<'_>) -> Read<Option<SetAndDrift>> {
    let set = fields.ranged(3, "set", ranges::CIRCLE_DEG)?;
    let drift = fields.ranged(4, "drift", ranges::MARK_DRIFT_MPS)?;
    match (set, drift) {
        (None, None) => Ok(None),
        (Some(set), Some(drift)) => Ok(Some(SetAndDrift {
            set: circle(set),
            drift: metres_per_second(drift),
        })),
        _ => Err(fields.malformed("set and drift", fields.data)),
    }
}

/// The correction of an instrument: with a talker, or taken off.
fn correct(fields: &Fields<'_>) -> Read<CrewInput> {
    let needed = Needed(fields);
    let what = match needed.letter(2, "what is corrected", "ASLCR")? {
        'A' => Correctable::WindAngle,
        'S' => Correctable::WindSpeed,
        'L' => Correctable::Log,
        'C' => Correctable::Compass,
        _ => Correctable::RateOfTurn,
    };
    let filled = |index: usize| !fields.text(index).is_empty();
    if !(3..7).any(filled) {
        return Ok(CrewInput::Uncorrect(what));
    }
    let compass = |index, field| {
        Ok(degrees(needed.number(
            index,
            field,
            ranges::COMPASS_OFF_DEG,
        )?))
    };
    let factor = || needed.number(4, "factor", ranges::FACTOR);
    let by = match what {
        Correctable::WindAngle => {
            let angle_deg = needed.number(4, "correction", ranges::OFF_BOW_DEG)?;
            CorrectBy::WindAngle(degrees(angle_deg))
        }
        Correctable::WindSpeed => CorrectBy::WindSpeed(factor()?),
        Correctable::Log => CorrectBy::Log(factor()?),
        Correctable::Compass => CorrectBy::Compass {
            offset: compass(4, "correction")?,
            sine: compass(5, "part with the sine")?,
            cosine: compass(6, "part with the cosine")?,
        },
        Correctable::RateOfTurn => {
            let rate = needed.number(4, "correction", ranges::RATE_OFF_DEGPS)?;
            CorrectBy::RateOfTurn(degrees_per_second(rate))
        }
    };
    if what != Correctable::Compass && (5..7).any(filled) {
        return Err(fields.malformed("number of fields", fields.data));
    }
    let talker = needed.some("talker", Talker::new(fields.text(3)))?;
    Ok(CrewInput::Correct(Correction { talker, by }))
}

fn lines_out(fields: &Fields<'_>) -> Read<CrewInput> {
    let (kite, main) = counted(fields, 2)?;
    if kite.is_none() && main.is_none() {
        return Err(fields.malformed("line out", fields.data));
    }
    Ok(CrewInput::LinesOut { kite, main })
}

fn turn(fields: &Fields<'_>) -> Read<CrewInput> {
    let needed = Needed(fields);
    Ok(CrewInput::Turn {
        by: degrees(needed.number(2, "turn", ranges::TURN_DEG)?),
        rate: degrees_per_second(needed.number(3, "rate of turn", ranges::TURN_RATE_DEGPS)?),
        in_s: needed.number(4, "seconds until the turn", ranges::TURN_IN_S)?,
    })
}

fn plan(fields: &Fields<'_>) -> Read<CrewInput> {
    let needed = Needed(fields);
    let answer = match needed.letter(2, "answer", "DHO")? {
        'D' => PlanAnswer::Done,
        'H' => PlanAnswer::Half,
        _ => PlanAnswer::Other,
    };
    let nothing_asked = (3..7).all(|index| fields.text(index).is_empty());
    let asked = if nothing_asked {
        None
    } else {
        Some(Asked {
            advisory: needed.text(3, "advisory id")?,
            revision: needed.whole(4, "revision", u32::MAX)?,
            line: needed.line(5)?,
            by: needed.moved(6, "metres asked")?,
        })
    };
    Ok(CrewInput::Plan { answer, asked })
}

/// A word of the strike, and after which field its sentence ends.
fn strike(fields: &Fields<'_>) -> Read<(usize, CrewInput)> {
    let word = match fields.text(2) {
        "FISH" => {
            let off_bow_deg = Needed(fields).number(3, "off the bow", ranges::OFF_BOW_DEG)?;
            let off_bow = degrees(off_bow_deg);
            return Ok((4, CrewInput::Strike(StrikeWord::Fish { off_bow })));
        }
        "HOME" => StrikeWord::Home,
        "BAITIN" => StrikeWord::BaitIn,
        "DOWN" => StrikeWord::MarkerDown,
        "TIGHT" => StrikeWord::Tight,
        "DRAG" => StrikeWord::DragSet,
        "TURNED" => StrikeWord::Turned,
        "KITEIN" => StrikeWord::KiteIn,
        "ANGLER" => StrikeWord::AnglerOn,
        "MISSED" => StrikeWord::Missed,
        "OFF" => StrikeWord::FishOff,
        "CUT" => StrikeWord::CutOff,
        "LANDED" => StrikeWord::Landed,
        "RELEASED" => StrikeWord::Released,
        "STAYS" => StrikeWord::StaysOut,
        other => return Err(fields.malformed("word of the strike", other)),
    };
    Ok((3, CrewInput::Strike(word)))
}

fn acknowledge(fields: &Fields<'_>) -> Read<CrewInput> {
    let advisory = Needed(fields).text(2, "advisory id")?;
    let priority = fields
        .letter(3, "priority", "AWC")?
        .map(|letter| match letter {
            'A' => Priority::Alarm,
            'W' => Priority::Warning,
            _ => Priority::Caution,
        });
    Ok(CrewInput::Acknowledge { advisory, priority })
}

fn setting(fields: &Fields<'_>) -> Read<CrewInput> {
    let needed = Needed(fields);
    let key = needed.text(2, "key")?;
    let value = text(fields, 3, "value")?;
    let more = needed.whole(4, "how many more", MAX_MORE)?;
    Ok(CrewInput::Setting {
        change: SettingChange { key, value },
        more,
    })
}

/// Fields that must not be empty.
struct Needed<'f>(&'f Fields<'f>);

impl Needed<'_> {
    fn number(&self, index: usize, field: &'static str, range: Range) -> Read<f64> {
        self.some(field, self.0.ranged(index, field, range)?)
    }

    fn whole(&self, index: usize, field: &'static str, limit: u32) -> Read<u32> {
        self.some(field, self.0.integer(index, field, limit)?)
    }

    fn letter(&self, index: usize, field: &'static str, allowed: &'static str) -> Read<char> {
        self.some(field, self.0.letter(index, field, allowed)?)
    }

    fn text(&self, index: usize, field: &'static str) -> Read<String> {
        self.some(field, text(self.0, index, field)?)
    }

    fn line(&self, index: usize) -> Read<Line> {
        Ok(match self.letter(index, "line", "KM")? {
            'K' => Line::Kite,
            _ => Line::Main,
        })
    }

    /// Line given (+) or taken (-).
    fn moved(&self, index: usize, field: &'static str) -> Read<Length> {
        Ok(metres(self.number(index, field, ranges::MOVED_M)?))
    }

    fn some<T>(&self, field: &'static str, found: Option<T>) -> Read<T> {
        found.ok_or_else(|| self.0.malformed(field, self.0.data))
    }
}

/// Free text; unlike names in instrument sentences its escapes are bytes of UTF-8.
fn text(fields: &Fields<'_>, index: usize, field: &'static str) -> Read<Option<String>> {
    let found = fields.text(index);
    let text = unescape(found)
        .and_then(|bytes| String::from_utf8(bytes).ok())
        .ok_or_else(|| fields.malformed(field, found))?;
    Ok((!text.is_empty()).then_some(text))
}
