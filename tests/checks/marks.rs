//! Marks and the bait's track through the whole chain.

use std::sync::Arc;

use skimwatch::decode::{CrewInput, MarkChange, MarkHow, MarkSaid, encode_crew};
use skimwatch::engine::{Engine, Event, Mode, Snapshot};
use skimwatch::forecast::Forecast;
use skimwatch::geodesy::Offset;
use skimwatch::time::Millis;
use skimwatch::track::BaitTrack;
use skimwatch::vessel::{MarkSource, VesselNow};

use crate::forecast_scene::{lines_out, with_futures};
use crate::replay::turn_toward;

/// The first second of the fixture.
const BEGIN: Millis = Millis(1_780_300_800_000);

fn here(name: &str) -> CrewInput {
    CrewInput::Mark(MarkSaid {
        name: Some(name.to_owned()),
        position: None,
        how: MarkHow::Here,
        number: None,
    })
}

/// The fixture up to some second, and with it these sentences, each at its second; the picture of
/// every second.
fn played(said: &[(f64, &str, String)], seconds: f64) -> Vec<Snapshot> {
    let mut engine = Engine::new(with_futures(24), Mode::Replay);
    let mut said = said.iter().peekable();
    let mut second = BEGIN;
    let mut pictures = Vec::new();
    for (at, feed, text) in turn_toward() {
        if at > BEGIN.plus_seconds(seconds) {
            break;
        }
        while at >= second {
            while let Some((_, feed, text)) =
                said.next_if(|(at_s, ..)| BEGIN.plus_seconds(*at_s) <= second)
            {
                let at = second;
                engine.take(Event::Line { at, feed, text });
            }
            let picture = engine.take(Event::Tick { at: second });
            pictures.extend(picture.map(|picture| picture.snapshot));
            second = second.plus_seconds(1.0);
        }
        let (feed, text) = (feed.as_ref(), text.as_str());
        engine.take(Event::Line { at, feed, text });
    }
    pictures
}

fn crew(at_s: f64, sequence: u32, input: &CrewInput) -> (f64, &'static str, String) {
    (at_s, "crew", encode_crew(input, sequence))
}

fn network(at_s: f64, text: &str) -> (f64, &'static str, String) {
    (at_s, "plotter", text.to_owned())
}

#[test]
fn crew_and_network_mark_places_and_a_replay_marks_the_same() {
    let said = [
        crew(3.0, 1, &here("birds")),
        network(4.0, "$GPWPL,1201.000,N,04000.000,W,REEF"),
        network(5.0, "$RATTM,04,0.25,90.0,T,1.0,180.0,T,,,N,,T"),
        crew(8.0, 2, &here("slick")),
        crew(
            9.0,
            3,
            &CrewInput::OfMark {
                number: 1000,
                change: MarkChange::Removed,
            },
        ),
        // Of a mark that is not there: refused, and counted.
        crew(
            10.0,
            4,
            &CrewInput::OfMark {
                number: 77,
                change: MarkChange::Removed,
            },
        ),
    ];
    let pictures = played(&said, 20.0);
    let last = pictures.last().unwrap();
    let numbers: Vec<u32> = last.marks.iter().map(|mark| mark.number).collect();
    assert_eq!(numbers, [1, 2, 1001], "{:?}", last.marks);
    let boat = last.vessel.position.as_ref().unwrap().value;
    let [birds, slick, target] = &last.marks[..] else {
        panic!("three");
    };
    // The boat has gone on for five seconds between them.
    let apart = birds
        .position
        .unwrap()
        .way_to(slick.position.unwrap())
        .unwrap();
    assert!((8.0..40.0).contains(&apart.range_m()), "{apart:?}");
    assert_eq!(target.source, MarkSource::Target);
    let seen = target.from_boat(last.at, boat).unwrap();
    assert!((400.0..600.0).contains(&seen.way.range_m()), "{seen:?}");
    let refused: u64 = last
        .feeds
        .iter()
        .flat_map(|feed| feed.refused.values())
        .sum();
    assert_eq!(refused, 1, "{:?}", last.feeds);

    let again = played(&said, 20.0);
    for (one, two) in pictures.iter().zip(&again) {
        assert_eq!(one.marks, two.marks);
        assert_eq!(one.track, two.track);
    }
}

#[test]
fn the_bait_follows_the_boat_and_its_track_is_bounded() {
    let pictures = played(&[crew(1.0, 1, &lines_out(110.0, 132.0))], 50.0);
    let last = pictures.last().unwrap();
    let track = last.track.as_ref().unwrap();
    let forecast = last.forecast.as_ref().unwrap();
    assert!(track.past.len() > 5 && track.ahead.len() > 15, "{track:?}");
    // Where the drawing of the rig has it.
    let bait = *forecast.rig_now.main_line.last().unwrap();
    let heading = forecast.rig_now.heading_deg_true.to_radians();
    let drawn = Offset::polar(heading, -bait.aft_m).plus(Offset::polar(
        heading + 0.5 * std::f64::consts::PI,
        bait.starboard_m,
    ));
    let first = &forecast.bait_track[0];
    let off = (first.east_m - drawn.east_m).hypot(first.north_m - drawn.north_m);
    assert!(off < 15.0, "{off} m off: {first:?}, drawn {drawn:?}");
    // Behind the boat, and it goes where the boat goes.
    let astern = -(first.east_m * heading.sin() + first.north_m * heading.cos());
    assert!((20.0..160.0).contains(&astern), "{astern}");
    let (from, to) = (track.ahead.first().unwrap(), track.ahead.last().unwrap());
    let gone = (to.east_m - from.east_m).hypot(to.north_m - from.north_m);
    let speed = last.vessel.speed_water_mps.as_ref().unwrap().value;
    let straight_m = speed * (to.in_s - from.in_s);
    assert!(
        (0.4 * straight_m..1.3 * straight_m).contains(&gone),
        "{gone} of {straight_m}"
    );
    for point in &track.ahead {
        assert!(point.left_m <= 0.0 && point.right_m >= 0.0, "{point:?}");
        assert!(point.behind_m <= 0.0 && point.before_m >= 0.0, "{point:?}");
    }
    assert!(
        to.right_m - to.left_m > from.right_m - from.left_m,
        "less certain"
    );

    long_day(&last.vessel, forecast);
}

/// Three hours straight on: the past stays bounded, and the current comes out.
fn long_day(vessel: &VesselNow, forecast: &Arc<Forecast>) {
    let mut track = BaitTrack::default();
    let mut boat = vessel.clone();
    let set = |reading: &mut Option<skimwatch::vessel::Reading<f64>>, value: f64, source: &str| {
        *reading = Some(skimwatch::vessel::Reading {
            value,
            at: BEGIN,
            source: source.to_owned(),
            grade: skimwatch::vessel::Grade::Measured,
        });
    };
    // North at 3 m/s through a current of 0.5 m/s toward the east.
    set(&mut boat.heading_true_rad, 0.0, "compass");
    set(&mut boat.speed_water_mps, 3.0, "log");
    set(
        &mut boat.course_true_rad,
        (0.5_f64 / 3.0).atan(),
        "receiver",
    );
    set(&mut boat.speed_ground_mps, 0.5_f64.hypot(3.0), "receiver");
    boat.rate_of_turn_rad_s = None;
    let mut made = Forecast::clone(forecast);
    let way = Offset {
        east_m: 0.5,
        north_m: 3.0,
    };
    for second in 0..10_800 {
        let at = BEGIN.plus_seconds(f64::from(second));
        if let Some(here) = &mut boat.position {
            here.value = here.value.moved(way).unwrap();
        }
        made.made_at = at;
        track.note(at, &boat, Some(&made));
    }
    let at = BEGIN.plus_seconds(10_799.0);
    let shown = track.now(at, &boat, Some(&made)).unwrap();
    assert!(
        (80..=100).contains(&shown.past.len()),
        "{}",
        shown.past.len()
    );
    assert!(shown.past.iter().all(|point| point.age_s <= 600.0));
    let current = track.current_mps().unwrap();
    assert!((current.east_m - 0.5).abs() < 1e-6 && current.north_m.abs() < 1e-6);
    // A minute later, with the same forecast, the boat has left the points behind.
    let later = track
        .now(at.plus_seconds(60.0), &boat, Some(&made))
        .unwrap();
    assert!(later.ahead.len() < shown.ahead.len() && later.ahead[0].in_s < 7.0);
    // Where speed over the ground stands in for the log, there is no current to know.
    let mut blind = BaitTrack::default();
    set(
        &mut boat.speed_water_mps,
        3.0,
        "receiver, speed over ground because the log reads 0.0 under way",
    );
    blind.note(at, &boat, None);
    assert_eq!(blind.current_mps(), None);
}
