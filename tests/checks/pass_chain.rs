//! A pass through the whole chain: a mark, the plan, ACCEPT, the turn announced, the end. The day is
//! invented: the demo's boat on a straight course, whose helm does not follow.

use skimwatch::decode::{CrewInput, GeoPosition, MarkHow, MarkSaid, PassWord, encode_crew};
use skimwatch::engine::Snapshot;
use skimwatch::feed::CREW_FEED;
use skimwatch::geodesy::Offset;
use skimwatch::pass::{PassNow, PassState};
use skimwatch::scene::Script;
use skimwatch::units::degrees;

use crate::pictures::{Sentence, each_picture, invented_day};

fn straight(script: &mut Script) {
    script.duration_s = 400.0;
    script.turns.clear();
    script.moves.clear();
    script.shifts.clear();
    script.says.clear();
}

/// Says this at that second of the day.
fn say(day: &mut Vec<Sentence>, at_s: f64, number: u32, input: &CrewInput) {
    let at = day[0].0.plus_seconds(at_s);
    let place = day.partition_point(|(when, ..)| *when <= at);
    // Above the numbers of the day's own crew.
    let text = encode_crew(input, 5000 + number);
    day.insert(place, (at, CREW_FEED.to_owned(), text));
}

/// The same day so many degrees further east: only the positions change.
fn further_east(day: Vec<Sentence>, by_deg: f64) -> Vec<Sentence> {
    let moved = |text: String| {
        let body = text.trim_start_matches('$').split('*').next().unwrap();
        let mut fields: Vec<String> = body.split(',').map(str::to_owned).collect();
        if fields[0] != "GPRMC" {
            return text;
        }
        let (degrees, minutes) = fields[5].split_at(3);
        let west = if fields[6] == "W" { -1.0 } else { 1.0 };
        let parse = |text: &str| text.parse::<f64>().unwrap();
        let longitude = west * (parse(degrees) + parse(minutes) / 60.0) + by_deg;
        let longitude = (longitude + 180.0).rem_euclid(360.0) - 180.0;
        let minutes = 60.0 * longitude.abs();
        fields[5] = format!("{:03}{:07.4}", (minutes / 60.0) as u32, minutes % 60.0);
        fields[6] = if longitude < 0.0 { "W" } else { "E" }.to_owned();
        let body = fields.join(",");
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        format!("${body}*{sum:02X}")
    };
    let lines = day.into_iter();
    lines
        .map(|(at, feed, text)| (at, feed, moved(text)))
        .collect()
}

/// The day with a mark to starboard of the course, which is asked for and accepted when it is offered.
fn day_with_a_mark(accepted_s: Option<f64>) -> Vec<Sentence> {
    with_a_mark(invented_day(straight), accepted_s)
}

fn with_a_mark(mut day: Vec<Sentence>, accepted_s: Option<f64>) -> Vec<Sentence> {
    let begin: Vec<Sentence> = day
        .iter()
        .filter(|(at, ..)| *at < day[0].0.plus_seconds(20.0))
        .cloned()
        .collect();
    let mut here = None;
    each_picture(begin, 16, |now| {
        let heading = now.vessel.heading_true_rad.as_ref().map(|h| h.value);
        here = now.vessel.position.as_ref().map(|p| p.value).zip(heading);
    });
    let (place, heading_rad) = here.expect("the day has positions and headings");
    let ahead = Offset::polar(heading_rad + 20f64.to_radians(), 420.0);
    let there = place.moved(ahead).unwrap();
    let mark = CrewInput::Mark(MarkSaid {
        name: Some("birds".to_owned()),
        position: Some(GeoPosition {
            latitude: degrees(there.latitude_deg),
            longitude: degrees(there.longitude_deg),
        }),
        how: MarkHow::Typed,
        number: None,
    });
    let pass = |said| CrewInput::Pass { mark: 1, said };
    say(&mut day, 25.0, 1, &mark);
    say(&mut day, 26.0, 2, &pass(PassWord::Ask));
    if let Some(at_s) = accepted_s {
        say(&mut day, at_s, 3, &pass(PassWord::Accept));
    }
    day
}

/// What each picture tells of the pass, and whether a turn is announced.
fn told(day: Vec<Sentence>) -> Vec<(f64, Option<PassNow>, bool)> {
    let mut told = Vec::new();
    let begin = day[0].0;
    each_picture(day, 16, |now: &Snapshot| {
        let announced = now.deck.intended_turn.is_some();
        told.push((now.at.seconds_since(begin), now.pass.clone(), announced));
    });
    told
}

#[test]
fn a_pass_is_offered_accepted_and_announced() {
    let offered = told(day_with_a_mark(None));
    let (at_s, first, _) = offered
        .iter()
        .find(|(_, pass, _)| pass.as_ref().is_some_and(|p| p.refused.is_none()))
        .cloned()
        .unwrap_or_else(|| panic!("no plan: {:?}", offered.last()));
    let first = first.unwrap();
    println!("offered at {at_s} s: {first:?}");
    assert_eq!(first.state, PassState::Offered);
    assert!(offered.iter().all(|(.., announced)| !announced));

    let accepted = told(day_with_a_mark(Some(at_s + 2.0)));
    let mut states: Vec<PassState> = Vec::new();
    for (_, pass, _) in &accepted {
        let state = pass.as_ref().map(|p| p.state);
        if let Some(state) = state.filter(|state| states.last() != Some(state)) {
            states.push(state);
        }
    }
    println!("{states:?}");
    // A plan with a turn announces it.
    let announced = accepted.iter().any(|(.., announced)| *announced);
    assert_eq!(announced, !first.legs.is_empty());
    assert_eq!(states[0], PassState::Offered);
    assert!(
        states.contains(&PassState::Accepted) || states.contains(&PassState::UnderWay),
        "{states:?}"
    );
    // Nobody turns the boat of this day, so the bait need not come to the mark; the plan follows.
    assert!(!states[1..].contains(&PassState::Declined), "{states:?}");
    assert!(!states.contains(&PassState::Passed), "{states:?}");

    // The same sentences give the same pictures.
    let again = told(day_with_a_mark(Some(at_s + 2.0)));
    assert_eq!(format!("{accepted:?}"), format!("{again:?}"));
}

#[test]
fn a_mark_on_the_other_side_of_the_date_line_is_passed_like_any_other() {
    let first_minute = |script: &mut Script| {
        straight(script);
        script.duration_s = 60.0;
    };
    // The day is invented at 40 W. The boat is 200 m west of the date line, the mark 420 m off.
    let by_deg = 220.0 - 0.0018;
    let last = |day: Vec<Sentence>| told(day).pop().and_then(|(_, pass, _)| pass).unwrap();
    let here = last(with_a_mark(invented_day(first_minute), None));
    let day = with_a_mark(further_east(invented_day(first_minute), by_deg), None);
    let sides = |side: &str| day.iter().any(|(_, _, text)| text.contains(side));
    assert!(sides(",E,"), "the boat is on the eastern side");
    let there = last(day);
    assert!(here.refused.is_none(), "{here:?}");
    assert_eq!(here.legs.len(), there.legs.len(), "{here:?}\n{there:?}");
    let off = |of: fn(&PassNow) -> Option<f64>| (of(&here).unwrap() - of(&there).unwrap()).abs();
    // Positions in ten thousandths of a minute round otherwise there: by 0.2 m.
    assert!(off(|pass| pass.in_s) < 2.0, "{here:?}\n{there:?}");
    assert!(off(|pass| pass.chance) < 0.1, "{here:?}\n{there:?}");
    assert!(
        off(|pass| pass.hold_heading_deg) < 2.0,
        "{here:?}\n{there:?}"
    );
}
