//! Loads near a strength and lines that come to the boat: foreseen, told, ended.

use std::sync::Arc;

use skimwatch::advice::{Action, AdviceBoard, AdviceSettings, Advisory, Kind, Outcome, Priority};
use skimwatch::decode::Line;
use skimwatch::forecast::{
    Band, ClearanceAhead, Effort, FanHeading, Forecast, ForecastSettings, Forecaster, LoadAhead,
    LoadPart, SeaSettings, SeaSource, Trouble, TurnAhead, TurnSource,
};
use skimwatch::rig::{RigParameters, Structure};
use skimwatch::turn::{TurnSettings, TurnWatch};

use crate::forecast_scene::{Boat, Helm, announce, at, deck};
use crate::forecast_watch::chance_of;
use crate::score_scene;

/// Wind on the port beam, trimmed: the invented boat of the forecast's checks.
fn boat(wind_mps: f64) -> Boat {
    Boat::with_wind_abeam(wind_mps)
}

struct Day {
    rig: RigParameters,
    structures: Vec<Structure>,
    wind_mps: f64,
    turn_by_deg: Option<f64>,
    sea_height_m: f64,
}

impl Day {
    fn quiet() -> Self {
        Self {
            rig: RigParameters::default(),
            structures: Vec::new(),
            wind_mps: 8.2,
            turn_by_deg: None,
            sea_height_m: 0.0,
        }
    }

    /// Three seconds of watching, then the forecast.
    fn foreseen(self) -> Arc<Forecast> {
        let settings = ForecastSettings {
            futures: 32,
            sea: SeaSettings {
                height_m: self.sea_height_m,
                ..SeaSettings::default()
            },
            ..ForecastSettings::default()
        };
        let mut forecaster = Forecaster::new(settings, Some(self.rig), 10.0)
            .unwrap()
            .with_structures(self.structures);
        let mut turns = TurnWatch::new(TurnSettings::default());
        let helm = Helm {
            boat: boat(self.wind_mps),
            time_constant_s: 2.5,
        };
        let mut deck = deck(100.0, 143.0);
        let mut last = None;
        for s in 0..4 {
            let now = at(f64::from(s));
            if s == 3 {
                deck.intended_turn = self.turn_by_deg.map(|by| announce(now, 20.0, by, 3.0));
            }
            let vessel = helm.boat.now(now);
            let outlook = turns.outlook(now, &vessel, &deck);
            last = Some(
                forecaster
                    .forecast(now, &vessel, &deck, &outlook, Effort::FULL)
                    .unwrap(),
            );
        }
        last.unwrap()
    }
}

fn chance(forecast: &Forecast, kind: Trouble) -> Option<f64> {
    forecast
        .chances
        .iter()
        .find(|c| c.kind == kind)
        .map(|c| c.chance)
}

fn post(name: &str, place_m: [f64; 3], clearance_m: f64) -> Structure {
    Structure {
        name: name.to_owned(),
        from_m: place_m,
        to_m: place_m,
        clearance_m,
    }
}

/// What moves the rod tips loads the kite line: in a metre of sea the loads peak half as high again
/// (`rig/sea.rs` against runs in waves).
#[test]
fn a_sea_that_is_known_loads_the_gear_more() {
    let loads = |sea_height_m: f64| {
        let mut rig = RigParameters::default();
        rig.kite_line.strength_n = Some(500.0);
        let forecast = Day {
            rig,
            sea_height_m,
            ..Day::quiet()
        }
        .foreseen();
        (forecast.sea, forecast.loads[0].share.p50)
    };
    let (none, flat) = loads(0.0);
    assert_eq!(none, None);
    let (sea, rough) = loads(1.0);
    let sea = sea.unwrap();
    assert_eq!((sea.height_m, sea.source), (1.0, SeaSource::Settings));
    assert!((1.15..2.2).contains(&(rough / flat)), "{flat} {rough}");
}

#[test]
fn what_has_no_known_strength_is_not_judged() {
    let mut day = Day::quiet();
    day.rig.band_strength_n = None;
    let forecast = day.foreseen();
    for kind in [
        Trouble::LineOverload,
        Trouble::FalseRelease,
        Trouble::LineFoul,
    ] {
        assert_eq!(chance(&forecast, kind), None, "{kind:?}");
    }
    assert!(forecast.loads.is_empty() && forecast.clearances.is_empty());
    assert!(forecast.fan.iter().all(|h| h.clear_by_m.is_none()));
}

#[test]
fn an_overload_grows_with_the_wind_and_with_a_weaker_line() {
    let loaded = |wind_mps: f64, strength_n: f64| {
        let mut day = Day::quiet();
        day.wind_mps = wind_mps;
        day.rig.kite_line.strength_n = Some(strength_n);
        day.rig.band_strength_n = None;
        day.foreseen()
    };
    // Lift and drag go with the square of the wind, so a line that holds four times what it
    // carries in 8.2 m/s is past half its strength near 12 m/s (own arithmetic).
    let mild = loaded(8.2, 20_000.0);
    let [load] = mild.loads.as_slice() else {
        panic!("{:?}", mild.loads)
    };
    assert_eq!(load.part, LoadPart::KiteLine);
    let carries_n = load.share.p50 * load.strength_n;
    println!("kite line carries {carries_n:.0} N at most in 8.2 m/s");
    assert!((20.0..200.0).contains(&carries_n), "{carries_n}");
    assert_eq!(chance(&mild, Trouble::LineOverload), Some(0.0));
    let strong = loaded(8.2, 4.0 * carries_n);
    let gale = loaded(14.0, 4.0 * carries_n);
    let weak = loaded(8.2, 1.2 * carries_n);
    let p = |f: &Forecast| chance(f, Trouble::LineOverload).unwrap();
    println!("strong {} gale {} weak {}", p(&strong), p(&gale), p(&weak));
    // A wind seen for seconds only may be restless.
    assert!(p(&strong) < 0.2 && p(&gale) > 0.7 && p(&weak) > 0.8);
    let worst = gale.loads[0].share;
    assert!(worst.p10 < worst.p50 && worst.p50 < worst.p90, "{worst:?}");
}

#[test]
fn a_weak_band_may_let_go_and_a_strong_one_holds() {
    let banded = |strength_n: f64| {
        let mut day = Day::quiet();
        day.rig.band_strength_n = Some(strength_n);
        day.foreseen()
    };
    let strong = banded(2000.0);
    assert_eq!(chance(&strong, Trouble::FalseRelease), Some(0.0));
    assert_eq!(chance(&strong, Trouble::LineOverload), None);
    let carries_n = strong.loads[0].share.p50 * 2000.0;
    let weak = banded(carries_n);
    println!(
        "band carries {carries_n:.1} N at most; weak band lets go: {:?}",
        chance(&weak, Trouble::FalseRelease)
    );
    // Its greatest load is the strength itself in the middle member, and 0.8 of it is told.
    assert!(chance(&weak, Trouble::FalseRelease).unwrap() > 0.5);
}

#[test]
fn a_turn_that_sweeps_a_line_over_a_post_is_foreseen() {
    // Where the kite line stands now, and where it will stand after the turn: read from the
    // picture of the rig, so that the posts are where they matter.
    let rig = Day {
        turn_by_deg: Some(-60.0),
        ..Day::quiet()
    }
    .foreseen();
    let on_the_line = |line: &[skimwatch::forecast::ViewPoint]| {
        let (a, b) = (line[0], line[1]);
        let reach = (b.aft_m - a.aft_m)
            .hypot(b.starboard_m - a.starboard_m)
            .hypot(b.up_m - a.up_m);
        let share = 8.0 / reach;
        [
            a.aft_m + share * (b.aft_m - a.aft_m),
            a.starboard_m + share * (b.starboard_m - a.starboard_m),
            a.up_m + share * (b.up_m - a.up_m),
        ]
    };
    let (now, then) = (
        on_the_line(&rig.rig_now.kite_line),
        on_the_line(&rig.rig_then.kite_line),
    );
    println!("8 m up the kite line: {now:?} now, {then:?} after the turn");
    let watched = |place, turn_by_deg| {
        Day {
            structures: vec![post("post", place, 0.8)],
            turn_by_deg,
            ..Day::quiet()
        }
        .foreseen()
    };
    let foul = |f: &Forecast| {
        let c = chance_of(f, Trouble::LineFoul);
        (c.chance, c.onset_s)
    };
    // A post on the line now fouls now, turn or not.
    let (chance_now, onset_now) = foul(&watched(now, None));
    assert!(chance_now > 0.8, "{chance_now}");
    assert!(onset_now.unwrap().p10 <= 1.0, "{onset_now:?}");
    // One on the line after the turn fouls only with it, and not before it begins.
    let (without, _) = foul(&watched(then, None));
    let turning = watched(then, Some(-60.0));
    let (with, onset) = foul(&turning);
    println!("without the turn {without:.2}, with it {with:.2} from {onset:?}");
    assert!(with > 0.5 && with > without + 0.4, "{with} and {without}");
    assert!(onset.unwrap().p50 > 20.0, "{onset:?}");
    // The fan: clear here, foul near the heading the turn leads to.
    let by = |turn_deg: f64| {
        let heading = turning.fan.iter().find(|h| h.turn_deg == turn_deg).unwrap();
        heading.clear_by_m.unwrap()
    };
    assert!(by(0.0) > 0.0, "{}", by(0.0));
    assert!(by(-60.0) < by(0.0), "{} and {}", by(-60.0), by(0.0));
    let [kite, main] = turning.clearances.as_slice() else {
        panic!("{:?}", turning.clearances)
    };
    assert_eq!((kite.line, main.line), (Line::Kite, Line::Main));
    assert!(kite.least_m.p50 < 0.8 && main.least_m.p50 > kite.least_m.p50);
}

#[test]
fn outriggers_are_clear_toward_the_wind_and_not_before_it() {
    let outriggers = |turn_by_deg| {
        let text = std::fs::read_to_string("config/skimwatch.toml").unwrap();
        let structures = skimwatch::settings::parse(&text, "config/skimwatch.toml")
            .unwrap()
            .boat
            .structures;
        assert_eq!(structures.len(), 2);
        Day {
            structures,
            turn_by_deg: Some(turn_by_deg),
            ..Day::quiet()
        }
        .foreseen()
    };
    // Wind on the port beam. Luffing brings the kite astern, away from both outriggers; running
    // off brings it ahead of the beam, over the starboard one.
    let toward = outriggers(-40.0);
    assert_eq!(chance(&toward, Trouble::LineFoul), Some(0.0));
    assert_eq!(toward.clearances.len(), 4);
    let away = outriggers(60.0);
    let p = chance(&away, Trouble::LineFoul).unwrap();
    let least = |name: &str| {
        away.clearances
            .iter()
            .filter(|c| c.structure == name)
            .map(|c| c.least_m.p50)
            .fold(f64::INFINITY, f64::min)
    };
    println!("running off: {p:.2}, {:?}", away.clearances);
    // Told by default: from danger_chance on.
    assert!(p >= AdviceSettings::default().danger_chance, "{p}");
    assert!(least("starboard outrigger") < least("port outrigger"));
}

// ---- Told ----------------------------------------------------------------------------------

fn band(p10: f64, p50: f64, p90: f64) -> Band {
    Band { p10, p50, p90 }
}

struct Board {
    board: AdviceBoard,
    log: Vec<Advisory>,
}

impl Board {
    fn new() -> Self {
        Self {
            board: AdviceBoard::new(AdviceSettings::default()),
            log: Vec::new(),
        }
    }

    fn tick(&mut self, s: f64, forecast: &Forecast) -> Vec<Advisory> {
        let out = self.board.update(
            at(s),
            &boat(8.0).now(at(s)),
            &deck(100.0, 140.0),
            Ok(forecast),
        );
        self.log.extend(out.clone());
        out
    }
}

/// Invented: `onset_at_s` is the median onset.
fn said(now_s: f64, kind: Trouble, chance: f64, onset_at_s: f64) -> Forecast {
    let mut forecast = score_scene::forecast(now_s, kind, chance, onset_at_s - now_s - 10.0);
    forecast.loads = vec![
        LoadAhead {
            part: LoadPart::KiteLine,
            strength_n: 400.0,
            share: band(0.3, 0.4, 0.55),
        },
        LoadAhead {
            part: LoadPart::Band,
            strength_n: 40.0,
            share: band(0.5, 0.7, 0.9),
        },
        LoadAhead {
            part: LoadPart::RodHolder,
            strength_n: 300.0,
            share: band(0.4, 0.5, 0.7),
        },
    ];
    forecast.clearances = vec![
        ClearanceAhead {
            structure: "port outrigger".to_owned(),
            line: Line::Kite,
            clearance_m: 1.0,
            least_m: band(0.4, 0.9, 2.0),
        },
        ClearanceAhead {
            structure: "aerial".to_owned(),
            line: Line::Main,
            clearance_m: 0.5,
            least_m: band(3.0, 4.0, 5.0),
        },
    ];
    // Foul from 40 degrees to port on.
    forecast.fan = (-17..=18)
        .map(|i| {
            let turn_deg = f64::from(i) * 10.0;
            FanHeading {
                heading_deg_true: (90.0 + turn_deg).rem_euclid(360.0),
                turn_deg,
                immersion: Some(0.2),
                kite_elevation_deg: Some(45.0),
                off_astern_deg: Some(40.0),
                main_line_change_m: Some(0.0),
                clear_by_m: Some(if turn_deg <= -40.0 { -0.3 } else { 1.5 }),
                in_bite_zone: true,
                unfishable: None,
            }
        })
        .collect();
    forecast
}

fn to_port(now_s: f64, in_s: f64) -> Option<TurnAhead> {
    Some(TurnAhead {
        source: TurnSource::Autopilot,
        starts_in_s: in_s - now_s,
        by_deg: -60.0,
        rate_deg_s: 3.0,
        to_heading_deg_true: 30.0,
        chance: 0.9,
    })
}

fn words(advisory: &Advisory) -> String {
    advisory
        .actions
        .iter()
        .map(|action| match action {
            Action::See { what } => what.as_str(),
            other => panic!("{other:?}"),
        })
        .collect::<Vec<_>>()
        .join(" | ")
}

#[test]
fn an_overload_is_told_with_what_carries_it_and_ends() {
    let mut day = Board::new();
    let overload = |s: f64, chance: f64| said(s, Trouble::LineOverload, chance, 60.0);
    // Below the chance from which a danger is told.
    assert!(day.tick(0.0, &overload(0.0, 0.2)).is_empty());
    // No turn is known: told when it has been foreseen for three seconds, once.
    for s in 1..=20 {
        day.tick(f64::from(s), &overload(f64::from(s), 0.4));
    }
    let [told] = day.log.as_slice() else {
        panic!("{:?}", day.log)
    };
    assert_eq!(told.id, "line-overload-1");
    assert_eq!(told.raised_at, at(4.0));
    assert_eq!(told.priority, Priority::Warning);
    assert_eq!(told.title, "Load may come near strength");
    assert_eq!(
        told.cause,
        "wind and gusts load the gear; no turn: the holder of the kite rod"
    );
    assert!(words(told).contains("slow down or bear away"));
    assert!(words(told).contains("stand clear of line"));
    assert_eq!(
        told.without_action,
        "the holder may give, and rod and kite go overboard"
    );
    // Kept while the chance hovers, then an alarm near its onset, then averted.
    for s in 21..=45 {
        assert!(
            day.tick(f64::from(s), &overload(f64::from(s), 0.32))
                .is_empty()
        );
    }
    let alarms: Vec<_> = (46..=59)
        .flat_map(|s| day.tick(f64::from(s), &overload(f64::from(s), 0.32)))
        .collect();
    assert_eq!(alarms.len(), 1, "{alarms:?}");
    assert_eq!(alarms[0].priority, Priority::Alarm);
    for s in 60..=80 {
        day.tick(f64::from(s), &overload(f64::from(s), 0.05));
    }
    assert_eq!(day.log.last().unwrap().outcome, Some(Outcome::Averted));
}

#[test]
fn a_band_near_its_strength_is_a_warning_from_the_common_chance_on() {
    let mut day = Board::new();
    for s in 0..10 {
        let out = day.tick(
            f64::from(s),
            &said(f64::from(s), Trouble::FalseRelease, 0.4, 15.0),
        );
        assert!(out.is_empty(), "{out:?}");
    }
    for s in 10..15 {
        day.tick(
            f64::from(s),
            &said(f64::from(s), Trouble::FalseRelease, 0.7, 15.0),
        );
    }
    let told = day.log.first().unwrap();
    assert_eq!(told.kind, Kind::FalseRelease);
    assert!(day.log.iter().all(|a| a.priority == Priority::Warning));
    assert!(told.cause.ends_with(": the band"), "{}", told.cause);
    assert!(words(told).contains("never stronger than the kite line"));
}

#[test]
fn a_turn_to_a_structure_says_how_far_and_which_side_is_clear() {
    let mut day = Board::new();
    let sweeping = |s: f64| {
        let mut forecast = said(s, Trouble::LineFoul, 0.6, 40.0);
        forecast.turn = to_port(s, 25.0);
        forecast
    };
    let out = day.tick(5.0, &sweeping(5.0));
    let [told] = out.as_slice() else {
        panic!("{out:?}")
    };
    assert_eq!(told.id, "line-foul-1");
    assert_eq!(told.onset_at, Some(at(40.0)));
    assert_eq!(
        told.cause,
        "turn of 60° to port brings the line to the boat (from the autopilot): kite line near \
         port outrigger"
    );
    assert!(
        words(told).starts_with(
            "helm: to port go no further than 30°; to starboard the lines stand clear"
        ),
        "{}",
        words(told)
    );
    assert!(words(told).contains("never reach for a line under load"));
    assert_eq!(
        told.without_action,
        "the kite line may catch on port outrigger"
    );
    // The turn is called off.
    let mut calm = said(6.0, Trouble::LineFoul, 0.0, 40.0);
    calm.turn = None;
    let over = day.tick(6.0, &calm);
    assert_eq!(over[0].outcome, Some(Outcome::Withdrawn));
}

#[test]
fn a_line_at_a_structure_now_says_which_way_to_turn() {
    let mut day = Board::new();
    for s in 0..5 {
        let mut forecast = said(f64::from(s), Trouble::LineFoul, 0.95, f64::from(s));
        for heading in &mut forecast.fan {
            heading.clear_by_m = Some(if (-60.0..20.0).contains(&heading.turn_deg) {
                -0.2
            } else {
                0.9
            });
        }
        day.tick(f64::from(s), &forecast);
    }
    let told = day.log.first().unwrap();
    assert_eq!(told.title, "Line close to the boat");
    assert_eq!(told.priority, Priority::Alarm);
    assert!(
        words(told).starts_with("helm: turn to starboard, by 20° at least"),
        "{}",
        words(told)
    );
}
