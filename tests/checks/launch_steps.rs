//! A launch that the crew follows, through the whole chain: what it counts, when the forecast is
//! silent and when it begins, and that a recording replays it.

use skimwatch::decode::{CrewInput, LaunchDay, LaunchSaid, encode_crew};
use skimwatch::engine::Snapshot;
use skimwatch::feed::CREW_FEED;
use skimwatch::forecast::Lack;
use skimwatch::units::{degrees, metres, metres_per_second};

use crate::pictures::{contradictions, each_picture, invented_day};

fn begun() -> CrewInput {
    CrewInput::Launch(LaunchSaid::Begun(LaunchDay {
        wind: metres_per_second(7.2),
        gust: metres_per_second(9.0),
        speed: metres_per_second(3.1),
        off_bow: degrees(60.0),
        kite_line: metres(100.0),
    }))
}

fn answered(steps: u32, out: Option<(f64, f64)>) -> CrewInput {
    CrewInput::Launch(LaunchSaid::Answered {
        steps,
        kite: out.map(|(kite_m, _)| metres(kite_m)),
        main: out.map(|(_, main_m)| metres(main_m)),
    })
}

/// Seconds after the start of an invented day, and what is said then. Lengths near those that trim
/// the demo's rig.
fn said() -> Vec<(f64, CrewInput)> {
    let mut said = vec![(20.0, begun())];
    said.extend((1..=6).map(|steps| (20.0 + 2.0 * f64::from(steps), answered(steps, None))));
    said.extend([
        (34.0, answered(7, Some((18.0, 28.0)))),
        (44.0, answered(8, Some((45.0, 60.0)))),
        // Not yet: taken back, and said again.
        (46.0, CrewInput::Undo { of: 9 }),
        (54.0, answered(8, Some((60.0, 84.0)))),
        (64.0, answered(9, Some((100.0, 137.0)))),
        (70.0, CrewInput::Launch(LaunchSaid::Ended)),
    ]);
    said
}

fn pictures() -> Vec<Snapshot> {
    let mut day = invented_day(|script| {
        script.duration_s = 90.0;
        script.moves.clear();
    });
    let start = day[0].0;
    day.retain(|(_, feed, _)| feed != CREW_FEED);
    for (sequence, (at_s, input)) in (1..).zip(said()) {
        let at = start.plus_seconds(at_s);
        let text = encode_crew(&input, sequence);
        day.push((at, CREW_FEED.to_owned(), text));
    }
    day.sort_by_key(|(at, ..)| *at);
    let mut pictures = Vec::new();
    each_picture(day, 16, |now| pictures.push(now.clone()));
    pictures
}

#[test]
fn a_launch_is_followed_and_the_forecast_begins_without_a_form() {
    let pictures = pictures();
    let begins = pictures[0].at;
    for now in &pictures {
        let t_s = now.at.seconds_since(begins);
        let found = contradictions(now);
        assert!(found.is_empty(), "{t_s}: {found:?}");
        if said().iter().any(|(at_s, _)| (at_s - t_s).abs() < 1e-9) {
            // One picture of this moment is from before what was said, one from after it.
            continue;
        }
        if (21.0..70.0).contains(&t_s) {
            let launch = now.deck.launch.expect("a launch");
            let none = now.forecast.as_ref().expect_err("the steps say what to do");
            assert_eq!(none.lacks, [Lack::Launch], "{t_s}");
            let bait = now.advisories.iter().filter(|a| a.outcome.is_none());
            assert_eq!(bait.count(), 0, "{t_s}: {:?}", now.advisories);
            let expected = match t_s {
                t if t < 34.0 => (((t - 20.0) / 2.0).floor()) as u32,
                t if (44.0..46.0).contains(&t) => 8,
                t if t < 54.0 => 7,
                t if t < 64.0 => 8,
                _ => 9,
            };
            assert_eq!(launch.answered, expected, "{t_s}");
        }
        if (47.0..54.0).contains(&t_s) {
            assert_eq!(now.deck.lines.kite_m, Some(18.0), "taken back: {t_s}");
        }
    }
    let last = pictures.last().unwrap();
    assert_eq!(last.deck.launch, None);
    assert_eq!(last.deck.lines.main_m, Some(137.0));
    assert!(last.forecast.is_ok(), "{:?}", last.forecast);
}

#[test]
fn a_recorded_launch_replays_to_the_same_bytes() {
    assert_eq!(format!("{:?}", pictures()), format!("{:?}", pictures()));
}
