//! What the crew is told of an instrument in doubt, and what becomes of the forecast.

use std::fmt::Write as _;

use skimwatch::advice::{Action, Kind};
use skimwatch::angles::wrap_signed;
use skimwatch::decode::{CrewInput, encode_crew};
use skimwatch::feed::CREW_FEED;
use skimwatch::time::Millis;
use skimwatch::vessel::Grade;

use crate::agreement::fixture;
use crate::pictures::{Sentence, each_picture, is_active};

/// The day with another vane from a second of it on; the change gets the seconds since then.
fn with_vane(
    mut day: Vec<Sentence>,
    from_s: f64,
    change: impl Fn(f64, f64) -> f64,
) -> Vec<Sentence> {
    let first = day[0].0;
    for (at, _, text) in &mut day {
        let since_s = at.seconds_since(first) - from_s;
        let Some(rest) = text.strip_prefix("$WIMWV,").filter(|_| since_s >= 0.0) else {
            continue;
        };
        let (angle, rest) = rest.split_once(',').unwrap();
        let (rest, _) = rest.split_once('*').unwrap();
        let angle = change(since_s, angle.parse().unwrap()).rem_euclid(360.0);
        let body = format!("WIMWV,{angle:.1},{rest}");
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        *text = format!("${body}*{sum:02X}");
    }
    day
}

/// What is told and graded in every picture, as text.
fn told(day: Vec<Sentence>) -> String {
    let mut all = String::new();
    let mut before = String::new();
    let mut first: Option<Millis> = None;
    each_picture(day, 16, |now| {
        let mut said = String::new();
        for advisory in &now.advisories {
            if advisory.kind != Kind::InstrumentsDisagree {
                continue;
            }
            let _ = writeln!(
                said,
                "  {} rev {} {:?}\n    {}\n    {}",
                advisory.id,
                advisory.revision,
                advisory.outcome,
                advisory.cause,
                advisory.without_action
            );
            for action in &advisory.actions {
                if let Action::See { what } = action {
                    let _ = writeln!(said, "    {what}");
                }
            }
        }
        let grade = now.vessel.true_wind.as_ref().map(|wind| wind.grade);
        let _ = writeln!(
            said,
            "  true wind {grade:?}, forecast {}",
            now.forecast.is_ok()
        );
        if said != before {
            let at_s = now.at.seconds_since(*first.get_or_insert(now.at));
            let _ = write!(all, "{at_s:.0} s\n{said}");
            before = said;
        }
    });
    all
}

const FROM_S: f64 = 15.0;
/// The vane of the fixture shows about this before its turn.
const FROZEN_DEG: f64 = 338.0;

#[test]
fn a_frozen_vane_is_told_once_and_the_forecast_goes_on_from_the_wind_before() {
    let day = with_vane(fixture("turn-away.nmea"), FROM_S, |_, _| FROZEN_DEG);
    let (mut honest_rad, mut doubted, mut ids) = (None, 0, Vec::new());
    let mut first = None;
    each_picture(day, 16, |now| {
        let at_s = now.at.seconds_since(*first.get_or_insert(now.at));
        let living = |kind| {
            now.advisories
                .iter()
                .find(|a| a.kind == kind && is_active(a))
        };
        let wind = now.vessel.true_wind.as_ref();
        if at_s < FROM_S {
            honest_rad = wind.map(|wind| wind.value.from_rad).or(honest_rad);
        }
        let Some(told) = living(Kind::InstrumentsDisagree) else {
            return;
        };
        ids.push(told.id.clone());
        assert!(told.cause.contains("WIMWV"), "{}", told.cause);
        assert!(living(Kind::DataLost).is_none() && living(Kind::WindShift).is_none());
        let wind = wind.expect("a wind is held");
        assert_eq!(wind.grade, Grade::Doubted);
        assert!(now.forecast.is_ok(), "the forecast goes on");
        let off = wrap_signed(wind.value.from_rad - honest_rad.unwrap()).to_degrees();
        assert!(off.abs() < 15.0, "{off:.0} degrees off the wind before");
        doubted += 1;
    });
    assert!(doubted > 20, "{doubted} pictures");
    ids.dedup();
    assert_eq!(ids.len(), 1, "{ids:?}");
}

/// The same words and grades from the same sentences.
#[test]
fn words_and_grades_replay_to_the_same_bytes() {
    let day = || {
        with_vane(fixture("turn-away.nmea"), FROM_S, |since_s, honest| {
            if since_s < 12.0 {
                honest + 180.0
            } else {
                honest
            }
        })
    };
    let once = told(day());
    assert_eq!(once, told(day()));
    insta::assert_snapshot!("doubt_told", once);
}

/// The crew ignores the only wind sensor, and takes it back: through the deck's one log.
#[test]
fn an_ignored_source_is_used_no_more_until_that_is_taken_back() {
    let name = String::from("scene WIMWV");
    let day = fixture("turn-away.nmea");
    let first = day[0].0;
    let said = |at_s: f64, seq, input: &CrewInput| -> Sentence {
        (
            first.plus_seconds(at_s),
            CREW_FEED.to_owned(),
            encode_crew(input, seq),
        )
    };
    let ignore = CrewInput::Source { name, used: false };
    let mut all = day;
    all.push(said(20.5, 77, &ignore));
    all.push(said(30.5, 78, &CrewInput::Undo { of: 77 }));
    all.sort_by_key(|(at, ..)| *at);
    let mut seconds = [0; 3];
    each_picture(all, 4, |now| {
        let at_s = now.at.seconds_since(first);
        let shown = now
            .vessel
            .sources
            .iter()
            .find(|source| source.name == "scene WIMWV");
        let ignored = shown.is_some_and(|source| source.ignored);
        if (3.0..20.0).contains(&at_s) {
            assert!(!ignored && now.vessel.apparent_wind.is_some());
            seconds[0] += 1;
        } else if (21.0..30.0).contains(&at_s) {
            assert!(ignored && now.vessel.apparent_wind.is_none());
            let why = &now.vessel.missing[0].why;
            assert!(why.contains("ignored by the crew: scene WIMWV"), "{why}");
            seconds[1] += 1;
        } else if (31.0..40.0).contains(&at_s) {
            assert!(!ignored && now.vessel.apparent_wind.is_some());
            seconds[2] += 1;
        }
    });
    assert!(seconds.iter().all(|seconds| *seconds > 5), "{seconds:?}");
}
