//! The inputs that make again what the deck holds of a launch, a mark, lines or a strike.

use crate::decode::{
    CrewInput, GeoPosition, LaunchDay, LaunchSaid, MarkChange, MarkHow, MarkSaid, SetAndDrift,
    StrikeWord,
};
use crate::time::Millis;
use crate::units::{metres, metres_per_second, radians};
use crate::vessel::{DeckNow, LaunchNow, LinesOut, Mark, MarkSource, Strike, StrikeCause};

/// A launch as far as it is answered.
pub(super) fn launched(launch: &LaunchNow) -> [(Millis, CrewInput); 2] {
    let day = LaunchDay {
        wind: metres_per_second(launch.wind_mps),
        gust: metres_per_second(launch.gust_mps),
        speed: metres_per_second(launch.speed_mps),
        off_bow: radians(launch.off_bow_rad),
        kite_line: metres(launch.kite_line_m),
    };
    let answered = LaunchSaid::Answered {
        steps: launch.answered,
        kite: None,
        main: None,
    };
    [
        (launch.begun_at, CrewInput::Launch(LaunchSaid::Begun(day))),
        (launch.at, CrewInput::Launch(answered)),
    ]
}

/// A mark where it was when its drift was told, and then its drift.
pub(super) fn marked(mark: &Mark) -> Vec<(Millis, CrewInput)> {
    let how = match mark.source {
        MarkSource::Here => MarkHow::Here,
        MarkSource::ByEye => MarkHow::ByEye {
            // What makes it as uncertain again.
            range: metres(mark.range_by_eye_m()),
        },
        _ => MarkHow::Typed,
    };
    let said = CrewInput::Mark(MarkSaid {
        name: mark.name.clone(),
        position: mark.position.map(GeoPosition::from),
        how,
        number: Some(mark.number),
    });
    let drift = mark.drift.map(|way| CrewInput::OfMark {
        number: mark.number,
        change: MarkChange::Drifts(Some(SetAndDrift {
            set: radians(way.set_rad),
            drift: metres_per_second(way.drift_mps),
        })),
    });
    std::iter::once((mark.as_of, said))
        .chain(drift.map(|drift| (mark.as_of, drift)))
        .collect()
}

/// Lines out: as told, or as of before an earlier restart while nobody has confirmed all of them.
pub(super) fn lines(deck: &DeckNow, at: Millis) -> Option<(Millis, CrewInput)> {
    let said = |lines: LinesOut| CrewInput::LinesOut {
        kite: lines.kite_m.map(metres),
        main: lines.main_m.map(metres),
    };
    let Some(restored) = deck.restored else {
        return Some((deck.lines_at?, said(deck.lines)));
    };
    let all = LinesOut {
        kite_m: deck.lines.kite_m.or(restored.lines.kite_m),
        main_m: deck.lines.main_m.or(restored.lines.main_m),
    };
    let input = CrewInput::Before {
        age_s: at.seconds_since(restored.as_of),
        counts: restored.used,
        input: Box::new(said(all)),
    };
    Some((at, input))
}

/// The words that make this strike again. Where the fish was is left out: it was said off a bow that
/// may point elsewhere by now, and is asked for anew.
pub(super) fn strike(strike: &Strike) -> Vec<(Millis, CrewInput)> {
    let bite = (strike.cause == StrikeCause::Bite).then_some((strike.at, CrewInput::Bite));
    let words = strike.said.iter().filter(|(_, word)| {
        let is_fish = matches!(word, StrikeWord::Fish { .. });
        let turns = *word == StrikeWord::Turned && strike.cause == StrikeCause::Bite;
        !is_fish && (!turns || strike.kite_in)
    });
    bite.into_iter()
        .chain(words.map(|(at, word)| (*at, CrewInput::Strike(*word))))
        .collect()
}
