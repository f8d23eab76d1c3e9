//! The vessel room driven by observations, as a boat's network would send them. All numbers here
//! are invented scenarios unless a source stands beside them.

use chrono::{NaiveDate, NaiveTime};
use skimwatch::angles::wrap_signed;
use skimwatch::decode::{GeoPosition, HeadingObservation, Observation, Talker};
use skimwatch::time::Millis;
use skimwatch::units::{degrees, degrees_per_minute, metres_per_second};
use skimwatch::vessel::{
    Corrected, Corrections, Fault, Grade, Position, Quantity, Sender, Unusable, Vessel, VesselNow,
    VesselSettings,
};

/// 2026-06-01T00:00:00Z.
const START: Millis = Millis(1_780_272_000_000);

struct Boat {
    vessel: Vessel,
    t_s: f64,
}

impl Boat {
    fn new(settings: VesselSettings) -> Self {
        Self {
            vessel: Vessel::new(settings),
            t_s: 0.0,
        }
    }

    fn say(&mut self, feed: &str, address: &str, observation: Observation) {
        let (talker, kind) = address.split_at(2);
        let at = START.plus_seconds(self.t_s);
        self.vessel
            .observe(at, Sender::on_line(feed, talker, kind), &observation);
    }

    fn wind(&mut self, angle_deg: f64, speed_mps: f64) {
        self.say("masthead", "WIMWV", apparent(angle_deg, speed_mps));
    }

    fn heading(&mut self, heading_deg: f64) {
        self.say("compass", "HEHDT", true_heading(heading_deg));
    }

    fn log(&mut self, speed_mps: f64) {
        self.say("log", "VWVHW", water_speed(speed_mps));
    }

    fn ground(&mut self, speed_mps: f64, course_deg: f64) {
        self.say(
            "gps",
            "GPRMC",
            Observation::SpeedOverGround(metres_per_second(speed_mps)),
        );
        self.say(
            "gps",
            "GPRMC",
            Observation::CourseOverGround {
                true_north: Some(degrees(course_deg)),
                magnetic: None,
            },
        );
    }

    fn now(&self) -> VesselNow {
        self.vessel.now(START.plus_seconds(self.t_s))
    }
}

fn apparent(angle_deg: f64, speed_mps: f64) -> Observation {
    Observation::ApparentWind {
        angle: Some(degrees(angle_deg)),
        speed: Some(metres_per_second(speed_mps)),
    }
}

fn true_heading(heading_deg: f64) -> Observation {
    Observation::Heading(HeadingObservation::True {
        heading: degrees(heading_deg),
    })
}

fn compass(sensor_deg: f64, variation_deg: Option<f64>) -> Observation {
    Observation::Heading(HeadingObservation::Compass {
        sensor: degrees(sensor_deg),
        deviation: None,
        variation: variation_deg.map(degrees),
    })
}

fn water_speed(speed_mps: f64) -> Observation {
    Observation::WaterSpeed {
        longitudinal: metres_per_second(speed_mps),
        transverse: None,
    }
}

fn place(latitude_deg: f64, longitude_deg: f64) -> Observation {
    Observation::Position(GeoPosition {
        latitude: degrees(latitude_deg),
        longitude: degrees(longitude_deg),
    })
}

fn lacks(now: &VesselNow) -> Vec<Quantity> {
    now.missing.iter().map(|m| m.quantity).collect()
}

fn assert_deg(got_rad: f64, want_deg: f64, tolerance_deg: f64) {
    let apart = wrap_signed(got_rad - want_deg.to_radians()).to_degrees();
    assert!(
        apart.abs() <= tolerance_deg,
        "{} instead of {want_deg}",
        got_rad.to_degrees()
    );
}

#[test]
fn everything_there_gives_true_wind_with_the_oldest_age() {
    let mut boat = Boat::new(VesselSettings::default());
    boat.heading(0.0);
    boat.t_s = 1.0;
    boat.log(5.0);
    boat.t_s = 2.0;
    boat.wind(60.0, 10.0);
    boat.t_s = 3.0;
    let now = boat.now();
    assert!(now.missing.is_empty());
    let wind = now.true_wind.unwrap();
    // Published example: boat 5, apparent 10 at 60 on starboard -> 8.66 at 90 (sailboatowners.com
    // thread 51090).
    assert_deg(wind.value.from_rad, 90.0, 1e-9);
    assert!((wind.value.speed_mps - 8.660254).abs() < 1e-6);
    assert!(
        (wind.age_s(now.at) - 3.0).abs() < 1e-9,
        "oldest is the heading"
    );
    assert_eq!(
        wind.source,
        "wind masthead WIMWV; heading compass HEHDT; motion log VWVHW"
    );
    assert_eq!(wind.grade, Grade::Measured);
}

#[test]
fn nothing_heard_is_said_for_each_quantity() {
    let boat = Boat::new(VesselSettings::default());
    let now = boat.now();
    assert_eq!(
        lacks(&now),
        [Quantity::Wind, Quantity::Heading, Quantity::Speed]
    );
    assert!(now.missing.iter().all(|m| m.last_heard.is_none()));
    assert_eq!(
        now.missing[0].why,
        "no wind heard yet: no MWV, VWR, VWT or MWD on any feed"
    );
}

#[test]
fn silence_is_held_openly_then_lost_then_recovers() {
    let mut boat = Boat::new(VesselSettings::default());
    boat.heading(90.0);
    boat.log(3.0);
    boat.wind(45.0, 8.0);
    for t in 1..=20 {
        boat.t_s = f64::from(t);
        boat.heading(90.0);
        boat.log(3.0);
    }
    boat.t_s = 7.0;
    // Asked about the past of what it has heard it still answers from the same state.
    let held = boat.now().apparent_wind.unwrap();
    assert_eq!(held.source, "masthead WIMWV, silent now");
    boat.t_s = 20.0;
    let now = boat.now();
    assert!(now.apparent_wind.is_none() && now.true_wind.is_none());
    assert_eq!(lacks(&now), [Quantity::Wind]);
    assert_eq!(now.missing[0].why, "no wind (last from masthead WIMWV)");
    assert_eq!(now.missing[0].last_heard, Some(START));
    boat.wind(45.0, 8.0);
    assert!(boat.now().missing.is_empty());
}

#[test]
fn order_of_the_settings_decides_and_the_next_one_steps_in() {
    let mut settings = VesselSettings::default();
    settings.order.wind = vec!["masthead".parse().unwrap(), "*:VWR".parse().unwrap()];
    let mut boat = Boat::new(settings);
    for t in 0..30 {
        boat.t_s = f64::from(t);
        boat.say("pilot", "IIVWR", apparent(50.0, 9.0));
        boat.say("other", "IIMWV", apparent(55.0, 9.0));
        if t < 20 {
            boat.wind(45.0, 8.0);
        }
        if t == 10 {
            assert_eq!(boat.now().apparent_wind.unwrap().source, "masthead WIMWV");
        }
    }
    assert_eq!(boat.now().apparent_wind.unwrap().source, "pilot IIVWR");
}

/// Oddity 11 of the recorded logs: two compasses under one address alternate, one with variation.
/// Values 205.48 and 207.00 and variation 0.55 E as found there.
#[test]
fn two_compasses_under_one_address_do_not_alternate() {
    let mut boat = Boat::new(VesselSettings::default());
    for t in 0..100 {
        boat.t_s = f64::from(t) * 0.1;
        boat.say("bus", "HCHDG", compass(205.48, Some(0.55)));
        boat.say("bus", "HCHDG", compass(207.0, None));
        let heading = boat.now().heading_true_rad.unwrap();
        assert_deg(heading.value, 206.03, 1e-6);
    }
    let rate = boat.now().rate_of_turn_rad_s.unwrap();
    assert!(
        rate.value.abs() < 1e-9,
        "no false turn from the other compass"
    );
}

/// Oddity 12 of the recorded logs: the speed always 0.0 with a good angle.
#[test]
fn a_wind_speed_stuck_at_zero_is_no_wind() {
    let mut boat = Boat::new(VesselSettings::default());
    for t in 0..60 {
        boat.t_s = f64::from(t);
        boat.heading(0.0);
        boat.log(3.0);
        boat.wind(297.8, 0.0);
    }
    let now = boat.now();
    assert!(now.apparent_wind.is_none() && now.true_wind.is_none());
    assert_eq!(lacks(&now), [Quantity::Wind]);
    assert_eq!(
        now.missing[0].why,
        "masthead WIMWV gives a wind angle but its speed reads 0.0: no wind, or a dead sensor"
    );
    assert_eq!(now.missing[0].last_heard, None, "it never said anything");
    // A second sensor that works is taken.
    boat.say("spare", "IIVWR", apparent(60.0, 7.0));
    assert_eq!(boat.now().apparent_wind.unwrap().source, "spare IIVWR");
    // And a lull of some seconds on a sensor that moves is a reading, not a fault.
    let mut boat = Boat::new(VesselSettings::default());
    boat.wind(30.0, 0.4);
    boat.t_s = 3.0;
    boat.wind(30.0, 0.0);
    assert_eq!(boat.now().apparent_wind.unwrap().value.speed_mps, 0.0);
}

/// A sensor that has died keeps its sentences coming.
#[test]
fn a_wind_that_stops_at_zero_is_last_heard_when_it_last_moved() {
    let mut boat = Boat::new(VesselSettings::default());
    for t in 0..120 {
        boat.t_s = f64::from(t);
        boat.heading(0.0);
        boat.log(3.0);
        boat.wind(297.8, if t < 30 { 7.0 + 0.1 * boat.t_s } else { 0.0 });
        // The same instrument works its true wind out from that.
        let worked_out = Observation::TheoreticalWind {
            angle: Some(degrees(180.0)),
            speed: Some(metres_per_second(3.0)),
        };
        boat.say("masthead", "WIMWV", worked_out.clone());
        // ... as does another one on the same wire.
        boat.say("masthead", "IIMWV", worked_out);
        let lacks_wind = lacks(&boat.now()) == [Quantity::Wind];
        assert_eq!(lacks_wind, t > 39, "at {t} s");
    }
    let now = boat.now();
    assert_eq!(now.missing[0].last_heard, Some(START.plus_seconds(29.0)));
    assert!(now.missing[0].why.contains("no wind, or a dead sensor"));
    boat.wind(297.8, 6.0);
    assert!(boat.now().missing.is_empty(), "it moves again");
}

#[test]
fn a_worked_out_wind_of_zero_is_no_wind_either() {
    let mut boat = Boat::new(VesselSettings::default());
    for t in 0..60 {
        boat.t_s = f64::from(t);
        boat.heading(0.0);
        boat.log(3.0);
        let wind = Observation::WindDirection {
            direction_true: Some(degrees(90.0)),
            direction_magnetic: None,
            speed: Some(metres_per_second(if t < 20 { 8.0 } else { 0.0 })),
        };
        boat.say("bus", "WIMWD", wind);
    }
    let missing = &boat.now().missing[0];
    assert_eq!(missing.quantity, Quantity::Wind);
    assert_eq!(missing.last_heard, Some(START.plus_seconds(19.0)));
    assert_eq!(
        missing.why,
        "bus WIMWD gives a true wind of 0.0: no wind, or a dead sensor"
    );
}

#[test]
fn a_corrected_reading_says_so_and_others_do_not() {
    let mut boat = Boat::new(VesselSettings::default());
    let say = |boat: &mut Boat| {
        boat.t_s += 1.0;
        boat.wind(40.0, 8.0);
        boat.heading(0.0);
        boat.log(3.0);
    };
    say(&mut boat);
    let by = |talker: &str, by: f64| {
        let talker = Talker::new(talker).unwrap();
        Some(Corrected {
            talker,
            by,
            at: START,
        })
    };
    let corrections = Corrections {
        wind_angle_rad: by("WI", 0.1),
        log: by("II", 1.1),
        ..Corrections::default()
    };
    boat.vessel.correct(START.plus_seconds(1.5), corrections);
    let wind = |boat: &Boat| boat.now().apparent_wind.unwrap().source;
    assert_eq!(wind(&boat), "masthead WIMWV", "heard before it was put on");
    say(&mut boat);
    assert_eq!(wind(&boat), "masthead WIMWV, corrected");
    let now = boat.now();
    assert_eq!(
        now.speed_water_mps.unwrap().source,
        "log VWVHW",
        "another talker"
    );
    assert!(
        now.true_wind
            .unwrap()
            .source
            .contains("WIMWV, corrected; heading compass HEHDT;")
    );
    boat.vessel
        .correct(START.plus_seconds(2.5), Corrections::default());
    say(&mut boat);
    assert_eq!(wind(&boat), "masthead WIMWV");
}

/// What two senders of one name say, and which of them are ignored.
struct Pair(Vessel);

impl Pair {
    fn say(&mut self, s: u32, origin: &str, heading_deg: f64) {
        let sender = Sender {
            feed: "net",
            origin: Some(origin),
            talker: "HE",
            kind: "HDT",
        };
        let at = START.plus_seconds(f64::from(s));
        self.0.observe(at, sender, &true_heading(heading_deg));
    }

    fn names(&self, s: u32) -> Vec<(String, bool)> {
        let now = self.0.now(START.plus_seconds(f64::from(s)));
        let sources = now.sources.into_iter();
        sources
            .map(|source| (source.name, source.ignored))
            .collect()
    }
}

#[test]
fn senders_of_one_name_are_told_apart_by_their_addresses() {
    let mut pair = Pair(Vessel::new(VesselSettings::default()));
    let row = |name: &str, ignored| (name.to_owned(), ignored);
    pair.say(0, "192.0.2.7", 90.0);
    assert_eq!(
        pair.names(0),
        [row("net HEHDT", false)],
        "alone it needs none"
    );
    pair.0.ignore(["net HEHDT".to_owned()].into_iter());
    // Another one joins, 100 degrees off: the first stays ignored under its old name.
    for s in 1..30 {
        pair.say(s, "192.0.2.7", 90.0);
        pair.say(s, "192.0.2.8", 190.0);
    }
    let told = [row("net HEHDT", true), row("net@192.0.2.8 HEHDT", false)];
    assert_eq!(pair.names(29), told);
    let heading = |pair: &Pair, s: f64| pair.0.now(START.plus_seconds(s)).heading_true_rad.unwrap();
    assert_deg(heading(&pair, 29.0).value, 190.0, 1e-6);
    pair.0.ignore(std::iter::empty());
    for s in 30..60 {
        pair.say(s, "192.0.2.7", 90.0);
        pair.say(s, "192.0.2.8", 190.0);
    }
    let now = pair.0.now(START.plus_seconds(59.0));
    let [doubt] = now.doubts.as_slice() else {
        panic!("{:?}", now.doubts)
    };
    assert_eq!(doubt.fault, Fault::CompassesApart);
    let names: Vec<&str> = doubt.sources.iter().map(String::as_str).collect();
    assert_eq!(names, ["net@192.0.2.7 HEHDT", "net@192.0.2.8 HEHDT"]);
}

#[test]
fn a_sender_that_gets_another_address_stays_the_same_source() {
    let mut pair = Pair(Vessel::new(VesselSettings::default()));
    pair.say(0, "192.0.2.7", 90.0);
    pair.say(120, "192.0.2.9", 90.0);
    assert_eq!(pair.names(120), [(String::from("net HEHDT"), false)]);
}

#[test]
fn a_wind_that_never_changes_under_way_is_a_frozen_sensor() {
    let lost_at = |speed_mps: f64, wind: &dyn Fn(i32) -> (f64, f64), every_s: i32| {
        let mut boat = Boat::new(VesselSettings::default());
        let mut at = None;
        for t in 0..180 {
            boat.t_s = f64::from(t);
            boat.heading(0.0);
            boat.log(speed_mps);
            if t % every_s == 0 {
                let (angle_deg, wind_mps) = wind(t);
                boat.wind(angle_deg, wind_mps);
            }
            if !boat.now().missing.is_empty() {
                at = at.or(Some(t));
            }
        }
        (at, boat)
    };
    let frozen = |_| (60.0, 8.2);
    let (at, boat) = lost_at(3.0, &frozen, 1);
    assert_eq!(at, Some(60));
    let missing = &boat.now().missing[0];
    assert_eq!(missing.last_heard, Some(START), "when it last changed");
    assert_eq!(
        missing.why,
        "masthead WIMWV repeats exactly the same angle and speed while the boat moves: a frozen sensor"
    );
    let mut boat = boat;
    boat.wind(61.0, 8.2);
    assert!(boat.now().missing.is_empty(), "it moves again");

    // At anchor in a steady breeze, with a speed that repeats, with an angle that repeats, with a
    // sensor that has not repeated itself often: none of these is frozen.
    assert_eq!(lost_at(0.0, &frozen, 1).0, None);
    let angle_moves = |t| (60.0 + f64::from(t % 2), 8.2);
    assert_eq!(lost_at(3.0, &angle_moves, 1).0, None);
    let speed_moves = |t| (60.0, 8.2 + 0.1 * f64::from(t % 2));
    assert_eq!(lost_at(3.0, &speed_moves, 1).0, None);
    assert_eq!(lost_at(3.0, &frozen, 4).0, Some(76), "20 readings");
}

#[test]
fn steady_instruments_in_calm_water_are_not_taken_for_dead_ones() {
    let mut boat = Boat::new(VesselSettings::default());
    for t in 0..600 {
        boat.t_s = f64::from(t);
        boat.heading(90.0);
        boat.log(3.0);
        boat.ground(3.0, 90.0);
        boat.say(
            "bus",
            "TIROT",
            Observation::RateOfTurn(degrees_per_minute(0.0)),
        );
        boat.wind(45.0 + f64::from(t % 3), 8.0);
    }
    let now = boat.now();
    assert!(now.missing.is_empty());
    assert_eq!(now.heading_true_rad.unwrap().source, "compass HEHDT");
    assert_eq!(now.rate_of_turn_rad_s.unwrap().value, 0.0);
}

#[test]
fn a_sensor_that_speaks_and_says_nothing_is_not_heard_but_named() {
    let mut boat = Boat::new(VesselSettings::default());
    boat.wind(45.0, 8.0);
    for t in 1..=30 {
        boat.t_s = f64::from(t);
        boat.heading(0.0);
        boat.log(3.0);
        let at = START.plus_seconds(boat.t_s);
        boat.vessel
            .unusable(at, "masthead", "WIMWV", Unusable::Void);
        boat.vessel.unusable(at, "gps", "GPRMC", Unusable::Refused);
    }
    let missing = boat.now().missing;
    assert_eq!(missing.len(), 1);
    assert_eq!(missing[0].last_heard, Some(START));
    assert_eq!(
        missing[0].why,
        "no wind (last from masthead WIMWV); masthead WIMWV speaks but calls its values \
         not valid or leaves them empty"
    );
}

#[test]
fn an_angle_without_speed_is_said() {
    let mut boat = Boat::new(VesselSettings::default());
    boat.say(
        "masthead",
        "WIMWV",
        Observation::ApparentWind {
            angle: Some(degrees(40.0)),
            speed: None,
        },
    );
    assert_eq!(
        boat.now().missing[0].why,
        "masthead WIMWV gives wind angle but no speed"
    );
}

#[test]
fn worked_out_winds_are_worked_back() {
    // Boat 5 m/s north, true wind 8.66 from 90 -> apparent 10 at 60 (sailboatowners.com 51090).
    for (address, observation) in [
        (
            "WIMWV",
            Observation::TheoreticalWind {
                angle: Some(degrees(90.0)),
                speed: Some(metres_per_second(8.660254)),
            },
        ),
        (
            "WIMWD",
            Observation::WindDirection {
                direction_true: Some(degrees(90.0)),
                direction_magnetic: None,
                speed: Some(metres_per_second(8.660254)),
            },
        ),
        (
            "WIMWD",
            Observation::WindDirection {
                direction_true: None,
                direction_magnetic: Some(degrees(80.0)),
                speed: Some(metres_per_second(8.660254)),
            },
        ),
    ] {
        let mut boat = Boat::new(VesselSettings::default());
        boat.say("gps", "GPRMC", Observation::Variation(degrees(10.0)));
        boat.heading(0.0);
        boat.say("masthead", address, observation.clone());
        let now = boat.now();
        assert_eq!(lacks(&now), [Quantity::Wind, Quantity::Speed]);
        assert!(now.missing[0].why.contains("gives only true wind"));
        boat.log(5.0);
        let felt = boat.now().apparent_wind.unwrap();
        assert!(
            (felt.value.speed_mps - 10.0).abs() < 1e-4,
            "{observation:?}"
        );
        assert_deg(felt.value.angle_rad, 60.0, 1e-4);
        assert!(felt.source.ends_with("worked back from its true wind"));
    }
}

#[test]
fn of_two_stale_winds_the_felt_one_is_held() {
    let mut boat = Boat::new(VesselSettings::default());
    boat.say(
        "masthead",
        "WIMWV",
        Observation::TheoreticalWind {
            angle: Some(degrees(90.0)),
            speed: Some(metres_per_second(8.0)),
        },
    );
    boat.t_s = 1.0;
    boat.wind(60.0, 10.0);
    for t in 2..=8 {
        boat.t_s = f64::from(t);
        boat.heading(0.0);
        boat.log(5.0);
    }
    let held = boat.now().apparent_wind.unwrap();
    assert_eq!(held.source, "masthead WIMWV, silent now");
}

#[test]
fn course_stands_in_for_heading_only_with_way_on() {
    let mut boat = Boat::new(VesselSettings::default());
    boat.ground(0.4, 123.0);
    let now = boat.now();
    assert!(now.heading_true_rad.is_none());
    assert!(now.missing.iter().any(|m| {
        m.quantity == Quantity::Heading
            && m.why
                .ends_with("too little way on for the course over ground to stand in")
    }));
    boat.ground(3.0, 123.0);
    let heading = boat.now().heading_true_rad.unwrap();
    assert_deg(heading.value, 123.0, 1e-9);
    assert_eq!(
        heading.source,
        "gps GPRMC, course over ground instead of a heading"
    );
    // A heading that comes is taken at once: the course is only a stand-in.
    boat.heading(130.0);
    assert_deg(boat.now().heading_true_rad.unwrap().value, 130.0, 1e-9);
}

#[test]
fn speed_over_ground_stands_in_for_a_log_that_is_absent_or_stuck() {
    let mut boat = Boat::new(VesselSettings::default());
    boat.ground(3.0, 0.0);
    let speed = boat.now().speed_water_mps.unwrap();
    assert_eq!(
        speed.source,
        "gps GPRMC, speed over ground instead of a log"
    );
    for t in 0..=12 {
        boat.t_s = f64::from(t);
        boat.log(0.0);
        boat.ground(3.0, 0.0);
        boat.heading(0.0);
        boat.wind(0.0, 5.0);
    }
    let now = boat.now();
    assert!((now.speed_water_mps.as_ref().unwrap().value - 3.0).abs() < 1e-9);
    assert!(
        now.true_wind
            .as_ref()
            .unwrap()
            .source
            .contains("log reads 0.0 under way")
    );
    assert!((now.true_wind.unwrap().value.speed_mps - 2.0).abs() < 1e-9);
    boat.log(2.5);
    assert!((boat.now().speed_water_mps.unwrap().value - 2.5).abs() < 1e-9);
}

#[test]
fn current_is_seen_only_with_a_log() {
    // Heading north at 3 m/s through water that sets east at 1 m/s: the wind over the water is
    // worked out from log and heading, not from the course.
    let mut boat = Boat::new(VesselSettings::default());
    boat.heading(0.0);
    boat.ground(10f64.sqrt(), 1f64.atan2(3.0).to_degrees());
    boat.wind(0.0, 8.0);
    let over_ground = boat.now().true_wind.unwrap();
    boat.log(3.0);
    let over_water = boat.now().true_wind.unwrap();
    assert!((over_water.value.speed_mps - 5.0).abs() < 1e-9);
    assert!(over_ground.source.contains("over the ground"));
    assert!((over_ground.value.speed_mps - 26f64.sqrt()).abs() < 1e-9);
}

#[test]
fn magnetic_headings_use_the_networks_variation_then_the_model_then_the_settings() {
    let magnetic = |deg: f64| {
        Observation::Heading(HeadingObservation::Magnetic {
            heading: degrees(deg),
        })
    };
    let mut boat = Boat::new(VesselSettings::default());
    boat.say("compass", "HCHDM", magnetic(100.0));
    let unknown = boat.now().heading_true_rad.unwrap();
    assert_eq!(unknown.grade, Grade::Assumed);
    assert!(unknown.source.ends_with("variation unknown, taken as zero"));

    let mut settings = VesselSettings {
        variation_rad: Some((-7.0f64).to_radians()),
        ..VesselSettings::default()
    };
    let mut boat = Boat::new(settings.clone());
    boat.say("compass", "HCHDM", magnetic(100.0));
    assert_deg(boat.now().heading_true_rad.unwrap().value, 93.0, 1e-9);

    // With a position in the settings the model comes before the settings' own figure.
    settings.position = Some(Position {
        latitude_deg: -80.0,
        longitude_deg: -120.0,
    });
    let mut boat = Boat::new(settings);
    boat.say("compass", "HCHDM", magnetic(100.0));
    let heading = boat.now().heading_true_rad.unwrap();
    assert!(
        heading
            .source
            .ends_with("variation from World Magnetic Model at the position of the settings")
    );

    // The network's own comes before the model.
    boat.say("gps", "GPRMC", Observation::Variation(degrees(5.0)));
    assert_deg(boat.now().heading_true_rad.unwrap().value, 105.0, 1e-9);
    // And a compass that sends deviation and variation needs nobody.
    boat.say(
        "good",
        "HCHDG",
        Observation::Heading(HeadingObservation::Compass {
            sensor: degrees(359.0),
            deviation: Some(degrees(2.0)),
            variation: Some(degrees(-3.0)),
        }),
    );
    boat.t_s = 11.0;
    boat.say(
        "good",
        "HCHDG",
        Observation::Heading(HeadingObservation::Compass {
            sensor: degrees(359.0),
            deviation: Some(degrees(2.0)),
            variation: Some(degrees(-3.0)),
        }),
    );
    let heading = boat.now().heading_true_rad.unwrap();
    assert_eq!(heading.source, "good HCHDG");
    assert_deg(heading.value, 358.0, 1e-9);
}

/// NOAA's WMM2025 test values (WMM2025_TestValues.txt, 2025.0, height 0): from memory, and the
/// crate reproduces them to the printed digits.
#[test]
fn variation_of_the_magnetic_model() {
    for (latitude, longitude, variation) in [
        (80.0, 0.0, 1.28),
        (0.0, 120.0, -0.16),
        (-80.0, -120.0, 68.78),
    ] {
        let mut boat = Boat::new(VesselSettings::default());
        boat.say(
            "gps",
            "GPZDA",
            Observation::Utc {
                date: NaiveDate::from_ymd_opt(2025, 1, 1),
                time: NaiveTime::MIN,
            },
        );
        boat.say("gps", "GPGLL", place(latitude, longitude));
        let got = boat.now().variation_rad.unwrap();
        assert_deg(got.value, variation, 0.0051);
        assert_eq!(
            got.source,
            "World Magnetic Model at the position of gps GPGLL"
        );
    }
}

/// Oddity 10 of the recorded logs: a receiver whose week counter rolled over says 2005.
#[test]
fn a_rolled_over_date_is_not_believed() {
    let mut boat = Boat::new(VesselSettings::default());
    boat.say(
        "gps",
        "GPZDA",
        Observation::Utc {
            date: NaiveDate::from_ymd_opt(2005, 11, 14),
            time: NaiveTime::MIN,
        },
    );
    boat.say("gps", "GPGLL", place(40.0, -70.0));
    let got = boat.now().variation_rad.unwrap();
    assert!(!got.source.contains("nearest day"), "{}", got.source);
    // A recording from before the model's years says that it stretches the model.
    let old = Millis(1_400_000_000_000);
    let mut vessel = Vessel::new(VesselSettings::default());
    vessel.observe(
        old,
        Sender::on_line("gps", "GP", "GLL"),
        &place(40.0, -70.0),
    );
    let got = vessel.now(old).variation_rad.unwrap();
    assert!(got.source.contains("nearest day"), "{}", got.source);
}

#[test]
fn rate_of_turn_is_the_one_sent_else_from_headings() {
    let mut boat = Boat::new(VesselSettings::default());
    for t in 0..10 {
        boat.t_s = f64::from(t);
        boat.heading((355.0 + 2.0 * f64::from(t)) % 360.0);
    }
    let shown = boat.now().rate_of_turn_rad_s.unwrap();
    assert!((shown.value.to_degrees() - 2.0).abs() < 1e-9);
    assert_eq!(shown.source, "from headings of compass HEHDT");
    boat.say(
        "gyro",
        "TIROT",
        Observation::RateOfTurn(degrees_per_minute(-60.0)),
    );
    let sent = boat.now().rate_of_turn_rad_s.unwrap();
    assert!((sent.value.to_degrees() + 1.0).abs() < 1e-9);
    assert_eq!(sent.source, "gyro TIROT");
    // Never held over.
    boat.t_s = 20.0;
    assert!(boat.now().rate_of_turn_rad_s.is_none());
}

#[test]
fn wind_statistics_follow_the_true_wind_through_a_turn() {
    // True wind 8 m/s from 90 all the time; the boat at 3 m/s turns from 0 to 60 degrees.
    // Its sensors are exact, as no real one is: that would look frozen.
    let mut boat = Boat::new(VesselSettings {
        wind_frozen_s: 3600.0,
        ..VesselSettings::default()
    });
    for t in 0..300 {
        boat.t_s = f64::from(t);
        let heading_deg = (f64::from(t) - 100.0).clamp(0.0, 60.0);
        let heading = heading_deg.to_radians();
        let felt = skimwatch::vessel::apparent_wind(
            skimwatch::vessel::TrueWind {
                from_rad: 90f64.to_radians(),
                speed_mps: 8.0,
            },
            heading,
            skimwatch::vessel::Motion {
                toward_rad: heading,
                speed_mps: 3.0,
            },
        );
        boat.heading(heading_deg);
        boat.log(3.0);
        boat.wind(felt.angle_rad.to_degrees(), felt.speed_mps);
    }
    let s = boat.now().wind_statistics.unwrap();
    assert_deg(s.mean_from_rad, 90.0, 1e-6);
    assert!((s.mean_mps - 8.0).abs() < 1e-6);
    assert!(s.speed_sd_mps < 1e-6 && s.direction_sd_rad < 1e-6);
    assert!(s.shift_rad.abs() < 1e-6);
    assert!((s.gust_mps - 8.0).abs() < 1e-6);
}

/// Oddity 10: a clock set back. Nothing heard before may look fresh for hours.
#[test]
fn a_clock_set_back_forgets_instead_of_trusting() {
    let mut boat = Boat::new(VesselSettings::default());
    boat.t_s = 3600.0;
    boat.wind(10.0, 5.0);
    boat.t_s = 0.0;
    boat.heading(10.0);
    let now = boat.now();
    assert!(now.apparent_wind.is_none());
    assert!(now.heading_true_rad.is_some());
}
