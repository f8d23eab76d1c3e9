//! Turn intents: ranking, merging, calling off, news, being told from the sea's yaw.

use skimwatch::decode::{
    BearingToWaypoint, Direction, GeoPosition, LegToWaypoint, North, Observation, Route,
    RouteScope, SteeringControl, SteeringMode, SteeringOrigin, TurnMode,
};
use skimwatch::turn::{Outlook, TurnSettings, TurnSource, TurnWatch};
use skimwatch::units::{degrees, degrees_per_second, knots, metres};
use skimwatch::vessel::DeckNow;

use crate::forecast_scene::{Boat, Helm, announce, at, deck};

fn boat() -> Boat {
    Boat::with_wind_abeam(8.0)
}

fn straight(watch: &mut TurnWatch, from_s: u32, to_s: u32, deck: &DeckNow) -> Outlook {
    let mut last = None;
    for s in from_s..to_s {
        let t = at(f64::from(s));
        last = Some(watch.outlook(t, &boat().now(t), deck));
    }
    last.unwrap()
}

#[test]
fn a_straight_course_has_no_turn() {
    let mut watch = TurnWatch::new(TurnSettings::default());
    let outlook = straight(&mut watch, 0, 60, &deck(100.0, 140.0));
    assert!(outlook.ahead().is_none() && !outlook.turning);
    let profile = outlook.profile.clone().unwrap();
    assert!(!profile.turns_more_than(1e-12, 120.0));
}

#[test]
fn the_yaw_of_the_sea_is_not_a_turn() {
    // Invented sea: 4 degrees either way every 7 s, rate up to 3.6 deg/s.
    let mut watch = TurnWatch::new(TurnSettings::default());
    for i in 0..600 {
        let s = f64::from(i) * 0.5;
        let t = at(s);
        let phase = s * std::f64::consts::TAU / 7.0;
        let now = Boat {
            heading_deg: 90.0 + 4.0 * phase.sin(),
            rate_deg_s: 4.0 * phase.cos() * std::f64::consts::TAU / 7.0,
            ..boat()
        }
        .now(t);
        let outlook = watch.outlook(t, &now, &deck(100.0, 140.0));
        assert!(
            s < 20.0 || outlook.ahead().is_none(),
            "at {s} s: {outlook:?}"
        );
    }
}

#[test]
fn an_announced_turn_counts_down_begins_ends_and_is_forgotten() {
    let mut watch = TurnWatch::new(TurnSettings::default());
    let mut deck = deck(100.0, 140.0);
    straight(&mut watch, 0, 40, &deck);
    deck.intended_turn = Some(announce(at(40.0), 20.0, -60.0, 4.0));
    let outlook = straight(&mut watch, 40, 46, &deck);
    let ahead = outlook.ahead().cloned().unwrap();
    assert_eq!(ahead.source, TurnSource::Crew);
    assert!((ahead.starts_in_s - 15.0).abs() < 1e-9);
    assert!((ahead.by_rad.to_degrees() + 60.0).abs() < 1e-9);
    let end = outlook
        .profile
        .clone()
        .unwrap()
        .final_heading_rad()
        .to_degrees();
    assert!((end - 30.0).abs() < 1e-6);

    let mut helm = Helm {
        boat: boat(),
        time_constant_s: 2.5,
    };
    let mut seen_under_way = false;
    for s in 46..120 {
        let t = at(f64::from(s));
        let outlook = watch.outlook(t, &helm.boat.now(t), &deck);
        if let Some(ahead) = outlook.ahead() {
            assert_eq!(ahead.source, TurnSource::Crew, "at {s}: {ahead:?}");
            if outlook.turning {
                seen_under_way = true;
                let target = helm.boat.heading_deg + ahead.by_rad.to_degrees();
                assert!((target - 30.0).abs() < 3.0, "at {s}: leads to {target}");
            }
        }
        helm.steer(if (60..75).contains(&s) { -4.0 } else { 0.0 }, 1.0);
    }
    assert!(seen_under_way);
    let outlook = watch.outlook(at(120.0), &helm.boat.now(at(120.0)), &deck);
    assert!(outlook.ahead().is_none(), "{outlook:?}");
}

#[test]
fn calling_off_withdraws_at_once() {
    let mut watch = TurnWatch::new(TurnSettings::default());
    let mut deck = deck(100.0, 140.0);
    straight(&mut watch, 0, 20, &deck);
    deck.intended_turn = Some(announce(at(20.0), 30.0, 45.0, 3.0));
    assert!(straight(&mut watch, 20, 25, &deck).ahead().is_some());
    deck.intended_turn = None;
    assert!(straight(&mut watch, 25, 26, &deck).ahead().is_none());
}

#[test]
fn a_turn_that_never_comes_is_believed_less_and_less() {
    let mut watch = TurnWatch::new(TurnSettings::default());
    let mut deck = deck(100.0, 140.0);
    straight(&mut watch, 0, 20, &deck);
    deck.intended_turn = Some(announce(at(20.0), 10.0, 45.0, 3.0));
    let fresh = straight(&mut watch, 20, 25, &deck)
        .ahead()
        .cloned()
        .unwrap();
    let overdue = straight(&mut watch, 25, 70, &deck)
        .ahead()
        .cloned()
        .unwrap();
    assert!(overdue.doubt.chance < fresh.doubt.chance - 0.2);
    assert!(straight(&mut watch, 70, 80, &deck).ahead().is_none());
}

#[test]
fn a_turn_nobody_announced_is_seen_soon_and_its_constant_is_learnt() {
    let settings = TurnSettings {
        yaw_time_constant_s: 8.0,
        ..TurnSettings::default()
    };
    let mut watch = TurnWatch::new(settings);
    let deck = deck(100.0, 140.0);
    let mut helm = Helm {
        boat: boat(),
        time_constant_s: 3.0,
    };
    let mut first_seen = None;
    for s in 0..120 {
        let t = at(f64::from(s));
        let outlook = watch.outlook(t, &helm.boat.now(t), &deck);
        if outlook.turning && first_seen.is_none() {
            first_seen = Some(s);
            let ahead = outlook.ahead().cloned().unwrap();
            assert_eq!(ahead.source, TurnSource::UnderWay);
            assert!(ahead.by_rad > 0.0);
            assert!(ahead.starts_in_s <= 0.0);
        }
        helm.steer(if (60..75).contains(&s) { 3.0 } else { 0.0 }, 1.0);
    }
    let first_seen = first_seen.unwrap();
    assert!((61..=64).contains(&first_seen), "seen at {first_seen}");
    let fitted = watch.yaw_time_constant_s();
    assert!((fitted - 3.0).abs() < 0.6, "T fitted as {fitted}");
    // Of this boat, not of this session.
    assert_eq!(watch.next_session(settings).yaw_time_constant_s(), fitted);
}

#[test]
fn the_autopilot_tells_of_a_new_heading_and_the_crew_outranks_it() {
    let mut watch = TurnWatch::new(TurnSettings::default());
    let mut deck = deck(100.0, 140.0);
    for s in 0..30 {
        watch.observe(at(f64::from(s)), &demand(92.0));
        straight(&mut watch, s, s + 1, &deck);
    }
    assert!(straight(&mut watch, 30, 31, &deck).ahead().is_none());
    watch.observe(at(31.0), &demand(140.0));
    let ahead = straight(&mut watch, 31, 32, &deck)
        .ahead()
        .cloned()
        .unwrap();
    assert_eq!(ahead.source, TurnSource::Autopilot);
    assert!((ahead.by_rad.to_degrees() - 50.0).abs() < 1e-6);
    deck.intended_turn = Some(announce(at(32.0), 10.0, -45.0, 3.0));
    watch.observe(at(32.0), &demand(140.0));
    // Both speak of the next half minute: one turn, and the crew knows best.
    let outlook = straight(&mut watch, 32, 33, &deck);
    assert_eq!(outlook.turns.len(), 1);
    assert_eq!(outlook.turns[0].source, TurnSource::Crew);
}

#[test]
fn a_hand_at_the_helm_silences_the_pilot() {
    let mut watch = TurnWatch::new(TurnSettings::default());
    let deck = deck(100.0, 140.0);
    let control = |deg: f64, mode: SteeringMode| {
        Observation::SteeringControl(SteeringControl {
            origin: SteeringOrigin::Command { flag: None },
            override_active: Some(false),
            rudder: None,
            steering_mode: Some(mode),
            turn_mode: Some(TurnMode::Rate),
            rudder_limit: None,
            off_heading_limit: None,
            turn_radius: None,
            turn_rate: Some(degrees_per_second(5.0)),
            heading_to_steer: Some(Direction {
                angle: degrees(deg),
                north: North::True,
            }),
            off_track_limit: None,
            track: None,
        })
    };
    for s in 0..30 {
        watch.observe(
            at(f64::from(s)),
            &control(90.0, SteeringMode::HeadingControl),
        );
        straight(&mut watch, s, s + 1, &deck);
    }
    watch.observe(at(30.0), &control(40.0, SteeringMode::HeadingControl));
    let ahead = straight(&mut watch, 30, 31, &deck)
        .ahead()
        .cloned()
        .unwrap();
    assert!((ahead.rate_rad_s.to_degrees() - 5.0).abs() < 1e-6);
    watch.observe(at(31.0), &control(40.0, SteeringMode::Manual));
    assert!(straight(&mut watch, 31, 32, &deck).ahead().is_none());
}

#[test]
fn the_route_tells_when_the_next_leg_comes() {
    let mut watch = TurnWatch::new(TurnSettings::default());
    let deck = deck(100.0, 140.0);
    let place = |lat: f64, lon: f64| GeoPosition {
        latitude: degrees(lat),
        longitude: degrees(lon),
    };
    // Invented: BEND 300 m east, NEXT due north of it, on the equator so that bearings are plain.
    watch.observe(
        at(0.0),
        &Observation::Route(Route {
            id: None,
            scope: RouteScope::Complete,
            waypoints: vec!["BEND".to_owned(), "NEXT".to_owned()],
        }),
    );
    watch.observe(
        at(0.0),
        &Observation::Waypoint {
            name: "NEXT".to_owned(),
            position: place(0.05, 0.01),
        },
    );
    let leg = |range_m: f64| {
        Observation::LegToWaypoint(LegToWaypoint {
            cross_track: Some(metres(5.0)),
            origin: None,
            destination: Some("BEND".to_owned()),
            destination_position: Some(place(0.0, 0.01)),
            range: Some(metres(range_m)),
            bearing_true: Some(degrees(90.0)),
            closing: Some(knots(6.0)),
            arrived: Some(false),
        })
    };
    for s in 0..40 {
        watch.observe(at(f64::from(s)), &leg(300.0 - 3.087 * f64::from(s)));
        straight(&mut watch, s, s + 1, &deck);
    }
    let ahead = straight(&mut watch, 40, 41, &deck)
        .ahead()
        .cloned()
        .unwrap();
    assert_eq!(ahead.source, TurnSource::Route);
    assert!((ahead.by_rad.to_degrees() + 90.0).abs() < 0.5, "{ahead:?}");
    // 300 m at 6 kn (3.087 m/s) is 97.2 s; 40 of them are gone.
    assert!((ahead.starts_in_s - 57.2).abs() < 1.5, "{ahead:?}");
    assert!(ahead.why.contains("BEND"));

    // The network switches to the next leg: the turn is due now.
    watch.observe(
        at(41.0),
        &Observation::BearingToWaypoint(BearingToWaypoint {
            name: Some("NEXT".to_owned()),
            position: Some(place(0.05, 0.01)),
            bearing_true: Some(degrees(0.0)),
            bearing_magnetic: None,
            distance: Some(metres(5500.0)),
        }),
    );
    let ahead = straight(&mut watch, 41, 42, &deck)
        .ahead()
        .cloned()
        .unwrap();
    assert!(ahead.starts_in_s.abs() < 1e-9);
    assert!((ahead.by_rad.to_degrees() + 90.0).abs() < 0.5);
}

/// Invented: a leg to BEND, 900 m east on the equator, and NEXT due north of it.
fn leg_to_bend(at_s: f64, closing_kn: f64, bearing_deg: f64) -> Observation {
    Observation::LegToWaypoint(LegToWaypoint {
        cross_track: Some(metres(5.0)),
        origin: None,
        destination: Some("BEND".to_owned()),
        destination_position: Some(GeoPosition {
            latitude: degrees(0.0),
            longitude: degrees(0.01),
        }),
        range: Some(metres(900.0 - 3.087 * at_s)),
        bearing_true: Some(degrees(bearing_deg)),
        closing: Some(knots(closing_kn)),
        arrived: Some(false),
    })
}

/// A watch that has heard the route at 0 s and followed its leg from one second to another.
fn on_route(from_s: u32, to_s: u32) -> TurnWatch {
    let mut watch = TurnWatch::new(TurnSettings::default());
    watch.observe(
        at(0.0),
        &Observation::Route(Route {
            id: None,
            scope: RouteScope::Complete,
            waypoints: vec!["BEND".to_owned(), "NEXT".to_owned()],
        }),
    );
    let next = GeoPosition {
        latitude: degrees(0.05),
        longitude: degrees(0.01),
    };
    watch.observe(
        at(0.0),
        &Observation::Waypoint {
            name: "NEXT".to_owned(),
            position: next,
        },
    );
    for s in from_s..to_s {
        watch.observe(
            at(f64::from(s)),
            &leg_to_bend(f64::from(s - from_s), 6.0, 90.0),
        );
        straight(&mut watch, s, s + 1, &deck(100.0, 140.0));
    }
    watch
}

fn by_route(outlook: &Outlook) -> bool {
    outlook
        .turns
        .iter()
        .any(|turn| turn.source == TurnSource::Route)
}

#[test]
fn a_route_that_the_boat_contradicts_makes_no_turn() {
    let deck = deck(100.0, 140.0);
    let mut watch = on_route(0, 60);
    assert!(by_route(&straight(&mut watch, 60, 61, &deck)), "followed");
    watch.observe(at(61.0), &leg_to_bend(61.0, -1.0, 90.0));
    assert!(
        !by_route(&straight(&mut watch, 61, 62, &deck)),
        "not nearing"
    );
    watch.observe(at(62.0), &leg_to_bend(62.0, 6.0, 270.0));
    assert!(!by_route(&straight(&mut watch, 62, 63, &deck)), "astern");
    // A list that nobody has repeated for half an hour (invented limit).
    let mut watch = on_route(1900, 1960);
    assert!(
        !by_route(&straight(&mut watch, 1960, 1961, &deck)),
        "of an old day"
    );
}

#[test]
fn a_new_leg_that_the_boat_does_not_take_up_is_dropped_with_what_follows_it() {
    let deck = deck(100.0, 140.0);
    let mut watch = on_route(0, 60);
    let to_next = Observation::BearingToWaypoint(BearingToWaypoint {
        name: Some("NEXT".to_owned()),
        position: None,
        bearing_true: Some(degrees(0.0)),
        bearing_magnetic: None,
        distance: Some(metres(5500.0)),
    });
    let mut believed = Vec::new();
    for s in 60..130 {
        watch.observe(at(f64::from(s)), &to_next);
        believed.push(by_route(&straight(&mut watch, s, s + 1, &deck)));
    }
    assert!(believed[1] && believed[20], "{believed:?}");
    assert!(believed[35..].iter().all(|route| !route), "{believed:?}");
}

#[test]
fn without_a_heading_nothing_is_foreseen() {
    let mut watch = TurnWatch::new(TurnSettings::default());
    let deck = deck(100.0, 140.0);
    let mut now = boat().now(at(0.0));
    now.heading_true_rad = None;
    let outlook = watch.outlook(at(0.0), &now, &deck);
    assert!(outlook.profile.is_none() && outlook.ahead().is_none());
}

/// The autopilot's heading to steer.
fn demand(deg: f64) -> Observation {
    Observation::HeadingToSteer {
        true_north: Some(degrees(deg)),
        magnetic: None,
    }
}

/// A straight course under a pilot that keeps 90 degrees.
fn piloted(watch: &mut TurnWatch, deck: &DeckNow, to_s: u32) {
    for s in 0..to_s {
        watch.observe(at(f64::from(s)), &demand(90.0));
        straight(watch, s, s + 1, deck);
    }
}

/// A boat that turns from 90 degrees at a rate while 140 are demanded, watched from a second until
/// another: its headings and outlooks.
fn turned(
    watch: &mut TurnWatch,
    deck: &DeckNow,
    rate_deg_s: impl Fn(u32) -> f64,
    seconds: std::ops::Range<u32>,
) -> (Helm, Vec<(f64, Outlook)>) {
    let mut helm = Helm {
        boat: boat(),
        time_constant_s: 2.5,
    };
    let mut all = Vec::new();
    for s in seconds {
        let t = at(f64::from(s));
        watch.observe(t, &demand(140.0));
        let outlook = watch.outlook(t, &helm.boat.now(t), deck);
        all.push((helm.boat.heading_deg, outlook));
        helm.steer(rate_deg_s(s), 1.0);
    }
    (helm, all)
}

fn by_pilot(outlook: &Outlook) -> bool {
    outlook
        .turns
        .iter()
        .any(|turn| turn.source == TurnSource::Autopilot)
}

#[test]
fn a_pilot_from_which_the_boat_turns_away_is_dropped_until_it_asks_for_something_else() {
    let mut watch = TurnWatch::new(TurnSettings::default());
    let deck = deck(100.0, 140.0);
    piloted(&mut watch, &deck, 40);
    // 50 degrees to starboard are demanded, and the boat goes to port for 10 s.
    let to_port = |s| if s < 50 { -4.0 } else { 0.0 };
    let (helm, seen) = turned(&mut watch, &deck, to_port, 40..90);
    let told: Vec<_> = (40..)
        .zip(&seen)
        .map(|(s, (heading_deg, outlook))| (s, *heading_deg, by_pilot(outlook)))
        .collect();
    assert!(told[0].2, "it is believed at first");
    // 15 degrees the other way: invented limit.
    assert!(
        told.iter()
            .all(|(_, heading_deg, believed)| !believed || *heading_deg > 74.0),
        "{told:?}"
    );
    let steady = told.last().unwrap();
    assert!(steady.1 < 60.0 && !steady.2, "{steady:?}");
    watch.observe(at(90.0), &demand(100.0));
    let t = at(90.0);
    assert!(
        by_pilot(&watch.outlook(t, &helm.boat.now(t), &deck)),
        "asked anew"
    );
}

#[test]
fn a_pilot_that_the_boat_did_not_answer_is_not_believed_in_a_later_turn() {
    let mut watch = TurnWatch::new(TurnSettings::default());
    let deck = deck(100.0, 140.0);
    piloted(&mut watch, &deck, 40);
    let (_, straight_on) = turned(&mut watch, &deck, |_| 0.0, 40..75);
    assert!(
        straight_on
            .iter()
            .take(20)
            .all(|(_, outlook)| by_pilot(outlook))
    );
    // After 35 s the boat turns the demanded way, by hand: how far, nobody has said.
    let (_, later) = turned(&mut watch, &deck, |_| 3.0, 75..85);
    assert!(!later.iter().any(|(_, outlook)| by_pilot(outlook)));
    let seen = later.last().unwrap().1.ahead().unwrap();
    assert_eq!(seen.source, TurnSource::UnderWay);
}

#[test]
fn a_turn_announced_for_later_follows_the_one_that_comes_first() {
    let mut watch = TurnWatch::new(TurnSettings::default());
    let mut deck = deck(100.0, 140.0);
    piloted(&mut watch, &deck, 40);
    deck.intended_turn = Some(announce(at(40.0), 60.0, -20.0, 3.0));
    watch.observe(at(40.0), &demand(140.0));
    let outlook = straight(&mut watch, 40, 41, &deck);
    let told: Vec<_> = outlook.turns.iter().map(|turn| turn.source).collect();
    assert_eq!(told, [TurnSource::Autopilot, TurnSource::Crew]);
    // Own arithmetic: 50 degrees at the usual 3 deg/s are over in 17 s and a few lags; the
    // announced turn begins in 60 s and takes 7 s more.
    let profile = outlook.profile.unwrap();
    let heading = |t_s: f64| profile.motion(t_s).heading_rad.to_degrees();
    assert!((heading(59.0) - 140.0).abs() < 0.1, "{}", heading(59.0));
    assert!((heading(100.0) - 120.0).abs() < 0.1, "{}", heading(100.0));
    let after = |turns| profile.heading_after_rad(turns).to_degrees();
    assert!((after(1) - 140.0).abs() < 1e-6 && (after(2) - 120.0).abs() < 1e-6);
    assert_eq!(profile.clone().within(50.0).turns.len(), 1);

    // Called off, only the announced turn goes.
    deck.intended_turn = None;
    let outlook = straight(&mut watch, 41, 42, &deck);
    assert_eq!(outlook.turns.len(), 1);
    assert_eq!(outlook.turns[0].source, TurnSource::Autopilot);
}

#[test]
fn the_turn_under_way_is_the_one_that_was_told_of_it() {
    let mut watch = TurnWatch::new(TurnSettings::default());
    let mut deck = deck(100.0, 140.0);
    piloted(&mut watch, &deck, 40);
    deck.intended_turn = Some(announce(at(40.0), 90.0, -20.0, 3.0));
    let mut helm = Helm {
        boat: boat(),
        time_constant_s: 2.5,
    };
    let mut under_way = 0;
    for s in 40..70 {
        let t = at(f64::from(s));
        watch.observe(t, &demand(140.0));
        let outlook = watch.outlook(t, &helm.boat.now(t), &deck);
        let last = outlook.turns.last().unwrap();
        assert_eq!(last.source, TurnSource::Crew, "at {s}");
        assert!((last.starts_in_s - f64::from(130 - s)).abs() < 1e-9);
        if outlook.turning && helm.boat.heading_deg < 130.0 {
            under_way += 1;
            let first = &outlook.turns[0];
            assert_eq!(first.source, TurnSource::Autopilot, "at {s}");
            let leads_to = helm.boat.heading_deg + first.by_rad.to_degrees();
            assert!((leads_to - 140.0).abs() < 0.1, "at {s}: {leads_to}");
        }
        helm.steer(if (40..57).contains(&s) { 3.0 } else { 0.0 }, 1.0);
    }
    assert!(under_way > 8, "{under_way}");
}

#[test]
fn an_announced_turn_to_the_other_side_follows_the_one_the_bow_makes() {
    let mut watch = TurnWatch::new(TurnSettings::default());
    let mut deck = deck(100.0, 140.0);
    straight(&mut watch, 0, 60, &deck);
    let mut helm = Helm {
        boat: boat(),
        time_constant_s: 2.5,
    };
    for s in 60..66 {
        let t = at(f64::from(s));
        watch.outlook(t, &helm.boat.now(t), &deck);
        helm.steer(3.0, 1.0);
    }
    deck.intended_turn = Some(announce(at(66.0), 12.0, -70.0, 3.0));
    let outlook = watch.outlook(at(66.0), &helm.boat.now(at(66.0)), &deck);
    let told: Vec<_> = outlook.turns.iter().map(|turn| turn.source).collect();
    assert_eq!(told, [TurnSource::UnderWay, TurnSource::Crew]);
}

#[test]
fn only_another_turn_is_news() {
    let mut watch = TurnWatch::new(TurnSettings::default());
    let deck = deck(100.0, 140.0);
    piloted(&mut watch, &deck, 40);
    // Nothing new: the same again, and a pilot that trims by a degree.
    for (s, deg) in [(40.1, 90.0), (40.2, 91.0), (40.3, 89.0)] {
        watch.observe(at(s), &demand(deg));
        assert!(!watch.has_news(), "at {s}");
    }
    watch.observe(at(40.4), &demand(140.0));
    assert!(watch.has_news());
    let outlook = watch.outlook(at(40.4), &boat().now(at(40.4)), &deck);
    assert_eq!(outlook.turns.len(), 1);
    assert!(!watch.has_news());
    watch.observe(at(40.6), &demand(140.5));
    assert!(!watch.has_news());
    // Further than it was told, and then not at all.
    watch.observe(at(40.8), &demand(160.0));
    assert!(watch.has_news());
    watch.outlook(at(40.9), &boat().now(at(40.9)), &deck);
    watch.observe(at(41.0), &demand(90.0));
    assert!(watch.has_news());
}
