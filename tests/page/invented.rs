//! An invented moment on an invented boat, for feeding the HTTP room without an engine.
//! Every number here is invented; only the shapes are real.
#![allow(dead_code, reason = "two test binaries use it, each a part")]

use std::collections::BTreeMap;
use std::sync::Arc;

use skimwatch::access::Access;
use skimwatch::advice::{Action, Advisory, AlertState, Changed, Kind, Outcome, Priority};
use skimwatch::calibrate::{CalibrationNow, Estimate, Found, Term};
use skimwatch::cause::Cause;
use skimwatch::decode::{BaitState, Correctable, CrewInput, Line, Talker};
use skimwatch::engine::{FeedNow, Mode, Snapshot};
use skimwatch::forecast::{
    BaitAhead, Band, BiteZone, Chance, ClearanceAhead, Crew, FanHeading, Forecast, Hands, Lack,
    LearntNow, LinePlan, LoadAhead, LoadPart, NoForecast, PlanStep, RigView, Trouble, TurnAhead,
    TurnLimit, TurnSource, ViewPoint,
};
use skimwatch::geodesy::Offset;
use skimwatch::logbook::LogbookNow;
use skimwatch::pass::{PassLeg, PassLine, PassNow, PassRefused, PassState, Side as PassSide};
use skimwatch::record::{KeptIn, RecordReport, RecordState};
use skimwatch::serve::{
    AdvisoryHub, CrewPost, JournalNow, OutletKind, OutletNow, OutletState, Recorded, SettingsPost,
    SettingsRefusal, Sources,
};
use skimwatch::settings::{self, Kept, RigEntry, ServeSettings, SetUp, SettingsError};
use skimwatch::time::Millis;
use skimwatch::track::{BaitTrack, Track};
use skimwatch::vessel::{
    Answers, ApparentWind, BaitSeen, Corrected, Corrections, DeckNow, Grade, Instrument,
    IntendedTurn, LaunchNow, LinesOut, Mark, MarkDrift, MarkSource, Missing, Position, Quantity,
    Reading, SourceNow, TrueWind, VesselNow,
};
use tokio::sync::{mpsc, watch};

/// 2026-03-14T10:00:00Z, an invented morning.
pub const START: Millis = Millis(1_773_482_400_000);

fn reading<T>(value: T, at: Millis, source: &str) -> Option<Reading<T>> {
    Some(Reading {
        value,
        at,
        source: source.to_owned(),
        grade: Grade::Measured,
    })
}

fn source(at: Millis, instrument: Instrument, name: &str, seen: Option<&str>) -> SourceNow {
    SourceNow {
        instrument,
        id: 0,
        name: name.to_owned(),
        at: at.plus_seconds(-0.5),
        used: seen.is_none(),
        ignored: false,
        seen: seen.map(str::to_owned),
        habit: None,
    }
}

pub fn vessel(at: Millis) -> VesselNow {
    VesselNow {
        at,
        heading_true_rad: reading(1.2, at.plus_seconds(-0.2), "compass HEHDT"),
        rate_of_turn_rad_s: None,
        speed_water_mps: reading(3.1, at.plus_seconds(-0.7), "log VWVHW"),
        speed_ground_mps: reading(3.3, at.plus_seconds(-0.7), "plotter GPRMC"),
        course_true_rad: reading(1.25, at.plus_seconds(-0.7), "plotter GPRMC"),
        position: reading(
            Position {
                latitude_deg: 45.0,
                longitude_deg: 12.0,
            },
            at.plus_seconds(-0.7),
            "plotter GPRMC",
        ),
        rudder_rad: None,
        apparent_wind: reading(
            ApparentWind {
                angle_rad: 5.5,
                speed_mps: 9.1,
            },
            at.plus_seconds(-0.4),
            "masthead WIMWV",
        ),
        true_wind: reading(
            TrueWind {
                from_rad: 0.2,
                speed_mps: 7.4,
            },
            at.plus_seconds(-0.7),
            "masthead WIMWV and log VWVHW",
        ),
        wind_statistics: None,
        hull_motion: None,
        variation_rad: None,
        missing: Vec::new(),
        doubts: Vec::new(),
        sources: vec![
            source(at, Instrument::Wind, "masthead WIMWV", None),
            source(
                at,
                Instrument::Heading,
                "compass HEHDT",
                Some("lies 90° off the course over ground"),
            ),
        ],
    }
}

pub fn deck(at: Millis) -> DeckNow {
    DeckNow {
        lines: LinesOut {
            kite_m: Some(70.0),
            main_m: Some(118.0),
        },
        lines_at: Some(at.plus_seconds(-200.0)),
        bait: Some(BaitSeen {
            state: BaitState::Skipping,
            at: at.plus_seconds(-150.0),
        }),
        elevation_rad: None,
        bearing_rad: None,
        marker_in_water: None,
        intended_turn: None,
        fishing: true,
        launch: None,
        strike: None,
        restored: None,
        marks: Vec::new(),
        unwanted: Vec::new(),
        ignored: Vec::new(),
        pass: None,
        corrections: Corrections {
            log: Some(Corrected {
                talker: Talker::new("VW").unwrap(),
                by: 0.92,
                at: at.plus_seconds(-3600.0),
            }),
            ..Corrections::default()
        },
        answers: Answers::default(),
    }
}

fn band(middle: f64, spread: f64) -> Band {
    Band {
        p10: middle - spread,
        p50: middle,
        p90: middle + spread,
    }
}

fn point(aft_m: f64, starboard_m: f64, up_m: f64) -> ViewPoint {
    ViewPoint {
        aft_m,
        starboard_m,
        up_m,
    }
}

/// A rig whose kite stands `off_deg` off dead astern, + to starboard.
fn view(in_s: f64, off_deg: f64, lift_m: f64) -> RigView {
    let (sin, cos) = off_deg.to_radians().sin_cos();
    let along = |reach: f64, up: f64| point(reach * cos, 1.0 + reach * sin, up);
    let kite_line: Vec<_> = (0..=6)
        .map(|i| {
            let share = f64::from(i) / 6.0;
            along(52.0 * share, 3.0 + 46.0 * share.powf(0.85))
        })
        .collect();
    let clip = along(38.0, 36.0);
    let mut main_line: Vec<_> = (0..=5)
        .map(|i| {
            let share = f64::from(i) / 5.0;
            along(38.0 * share, 2.0 + 34.0 * share.powf(1.1))
        })
        .collect();
    main_line.extend((1..=6).map(|i| {
        let share = f64::from(i) / 6.0;
        along(
            38.0 + 34.0 * share.powf(1.4),
            36.0 - (36.0 - lift_m) * share,
        )
    }));
    let marker = along(63.0, 8.0 + lift_m);
    RigView {
        in_s,
        heading_deg_true: 69.0,
        wind_from_bow_deg: -45.0,
        kite_line,
        main_line,
        clip,
        marker,
        immersion: 0.3,
    }
}

fn fan() -> Vec<FanHeading> {
    (-18..18)
        .map(|i| {
            let turn_deg = f64::from(i) * 10.0;
            let into_wind = (turn_deg + 55.0).abs() < 45.0;
            let change = 6.0 * (turn_deg.to_radians() * 1.1).sin();
            FanHeading {
                heading_deg_true: (69.0 + turn_deg).rem_euclid(360.0),
                turn_deg,
                immersion: (!into_wind).then_some(0.3),
                kite_elevation_deg: (!into_wind).then_some(44.0 + turn_deg / 20.0),
                off_astern_deg: (!into_wind).then_some(45.0 + turn_deg / 2.0),
                main_line_change_m: (!into_wind).then_some(-change),
                clear_by_m: None,
                in_bite_zone: (-10.0..=40.0).contains(&turn_deg),
                unfishable: into_wind.then(|| "kite ahead of the beam".to_owned()),
            }
        })
        .collect()
}

pub fn forecast(made_at: Millis) -> Forecast {
    let t_s: Vec<f64> = (0..=60).map(|i| f64::from(i) * 2.0).collect();
    let lift = |t: f64| 7.0 / (1.0 + (-(t - 38.0) / 6.0).exp());
    let heights = |with_plan: bool| -> Vec<Band> {
        t_s.iter()
            .map(|&t| {
                let middle = 0.1 + if with_plan { 0.15 } else { 1.0 } * lift(t);
                band(middle, 0.3 + 0.02 * t * if with_plan { 0.4 } else { 1.0 })
            })
            .collect()
    };
    Forecast {
        made_at,
        horizon_s: 120.0,
        futures: 64,
        basis: "share of 64 futures, lines and kite as set, bait seen skipping".to_owned(),
        hands: Hands::default(),
        bait_height_m: heights(false),
        immersion: t_s.iter().map(|_| band(0.3, 0.1)).collect(),
        kite_elevation_deg: t_s.iter().map(|_| band(44.0, 3.0)).collect(),
        kite_off_astern_deg: t_s.iter().map(|_| band(45.0, 4.0)).collect(),
        bait_height_with_plan_m: heights(true),
        t_s,
        chances: vec![Chance {
            kind: Trouble::BaitAirborne,
            chance: 0.83,
            so_now: 0.0,
            later_s: None,
            onset_s: Some(band(34.0, 4.0)),
            chance_with_plan: Some(0.07),
        }],
        loads: vec![LoadAhead {
            part: LoadPart::RodHolder,
            strength_n: 300.0,
            share: band(0.55, 0.15),
        }],
        clearances: vec![ClearanceAhead {
            structure: "port outrigger".to_owned(),
            line: Line::Kite,
            clearance_m: 1.0,
            least_m: band(0.9, 0.5),
        }],
        turns_after: Vec::new(),
        turn: Some(TurnAhead {
            source: TurnSource::Route,
            starts_in_s: 26.0,
            by_deg: -40.0,
            rate_deg_s: 2.0,
            to_heading_deg_true: 29.0,
            chance: 0.9,
        }),
        plan: Some(LinePlan {
            steps: vec![
                PlanStep {
                    line: Line::Main,
                    by_m: 4.0,
                    start_in_s: 20.0,
                    over_s: 8.0,
                    pace_m_per_s: 0.5,
                    cranks: None,
                    in_one_go: false,
                },
                PlanStep {
                    line: Line::Main,
                    by_m: 2.5,
                    start_in_s: 48.0,
                    over_s: 5.0,
                    pace_m_per_s: 0.5,
                    cranks: None,
                    in_one_go: false,
                },
            ],
            skipping_without: 0.31,
            skipping_with: 0.9,
            shortfall: None,
        }),
        turn_limit: Some(TurnLimit {
            port_deg_s: Some(2.2),
            starboard_deg_s: Some(3.6),
            port_without_hands_deg_s: None,
            starboard_without_hands_deg_s: Some(1.5),
            tried_to_deg_s: 8.0,
            allowed_chance: 0.25,
            skips: true,
            for_deg: 40.0,
            why: String::new(),
        }),
        fan: fan(),
        rig_now: view(0.0, 35.0, 0.2),
        rig_then: view(60.0, 55.0, 6.0),
        bait_track: bait_track(),
        sea: None,
        crew: Crew {
            anchored: true,
            age_s: Some(180.0),
            learnt_age_s: None,
            note: "bait seen skipping".to_owned(),
        },
    }
}

/// A bait 72 m behind the boat that follows its turn to port.
fn bait_track() -> Vec<BaitAhead> {
    let mut place = (-50.0, -50.0);
    let steps = (0..=20).map(|i| {
        let in_s = 6.0 * f64::from(i);
        let way_deg = 69.0 - 40.0 / (1.0 + (-(in_s - 60.0) / 8.0).exp());
        let spread_m = 0.12 * in_s;
        let (sin, cos) = way_deg.to_radians().sin_cos();
        let ahead = BaitAhead {
            in_s,
            east_m: place.0,
            north_m: place.1,
            way_deg_true: way_deg,
            across_m: band(0.0, spread_m),
            along_m: band(0.0, 2.0 * spread_m),
        };
        place = (place.0 + 6.0 * 3.1 * sin, place.1 + 6.0 * 3.1 * cos);
        ahead
    });
    steps.collect()
}

/// Marks of every kind, and the bait's track among them.
fn marks(at: Millis, boat: Position) -> Vec<Mark> {
    let mark = |number, name: Option<&str>, source, ago_s: f64, bearing_deg: f64, range_m| {
        let way = Offset::polar(bearing_deg.to_radians(), range_m);
        Mark {
            number,
            name: name.map(str::to_owned),
            source,
            at: at.plus_seconds(-ago_s),
            as_of: at.plus_seconds(-ago_s),
            position: boat.moved(way).ok(),
            drift: None,
            sigma0_m: 10.0 + 0.1 * range_m,
        }
    };
    let mut drifting = mark(2, Some("birds"), MarkSource::ByEye, 95.0, 40.0, 260.0);
    drifting.drift = Some(MarkDrift {
        set_rad: 2.1,
        drift_mps: 0.4,
    });
    vec![
        mark(1, None, MarkSource::Here, 1260.0, 250.0, 640.0),
        drifting,
        mark(3, Some("edge"), MarkSource::Typed, 7200.0, 110.0, 1520.0),
        mark(
            1000,
            Some("REEF"),
            MarkSource::Destination,
            30.0,
            75.0,
            2400.0,
        ),
    ]
}

/// "Bait will fly" in 34 s; give 4 m of main line in 20 s.
pub fn will_fly(at: Millis, priority: Priority, state: AlertState) -> Advisory {
    Advisory {
        id: "bait-airborne-3".to_owned(),
        revision: 2,
        at,
        kind: Kind::BaitAirborne,
        priority,
        state,
        raised_at: at.plus_seconds(-8.0),
        onset_at: Some(at.plus_seconds(34.0)),
        countdown_s: 34.0,
        chance: Some(0.83),
        chance_with_plan: Some(0.07),
        chance_basis: "share of 64 futures, bait seen skipping".to_owned(),
        title: "Bait will fly".to_owned(),
        cause: "turn of 40° to port lifts the bait (from the route)".to_owned(),
        turn_at: Some(at.plus_seconds(26.0)),
        actions: vec![Action::MoveLine {
            line: Line::Main,
            by_m: 4.0,
            to_m: Some(122.0),
            start_at: at.plus_seconds(20.0),
            over_s: 8.0,
            pace_m_per_s: 0.5,
            cranks: None,
            portions: 1,
            in_one_go: false,
            changed: None,
        }],
        without_action: "bait out of the water".to_owned(),
        unwatched_since: None,
        outcome: None,
    }
}

/// A kite that sinks: see to it.
pub fn sinking(at: Millis) -> Advisory {
    Advisory {
        id: "off-corner-1".to_owned(),
        kind: Kind::OffCorner,
        title: "Kite leaves the bite zone".to_owned(),
        cause: "wind has shifted 12° clockwise and takes the kite out of the bite zone".to_owned(),
        turn_at: None,
        chance_with_plan: None,
        actions: vec![Action::LimitTurn { rate_deg_s: 2.0 }],
        without_action: String::new(),
        ..will_fly(at, Priority::Caution, AlertState::ActiveUnacknowledged)
    }
}

/// No trouble in sight.
fn calm(at: Millis) -> Forecast {
    let all = forecast(at);
    Forecast {
        plan: Some(LinePlan {
            steps: Vec::new(),
            skipping_without: 0.94,
            skipping_with: 0.94,
            shortfall: None,
        }),
        turn: None,
        bait_height_with_plan_m: Vec::new(),
        bait_height_m: all.t_s.iter().map(|_| band(0.05, 0.4)).collect(),
        ..all
    }
}

/// The names of the states that [`moment`] can show.
pub const MOMENTS: [&str; 29] = [
    "advice",
    "alarm",
    "take",
    "calm",
    "no-wind",
    "stale-heading",
    "rig-unset",
    "bite",
    "drag",
    "fish",
    "kite-turn",
    "kite-in",
    "landed",
    "kite-home",
    "turn",
    "danger",
    "overload",
    "shift",
    "done",
    "by-eye",
    "over",
    "made",
    "launch",
    "marks",
    "pass",
    "pass-on",
    "pass-line",
    "passed",
    "no-pass",
];

/// A pass over the birds: offered, accepted while advice asks for line, accepted, or refused.
fn pass(moment: &str) -> Option<PassNow> {
    let offered = PassNow {
        mark: 2,
        state: PassState::Offered,
        number: 1,
        legs: vec![PassLeg {
            side: PassSide::Port,
            by_deg: 40.0,
            rate_deg_s: 2.0,
            in_s: 12.0,
            then_heading_deg: 28.75,
        }],
        hold_heading_deg: Some(28.75),
        speed_kn: None,
        bait_closest_m: Some(4.2),
        in_s: Some(142.0),
        chance: Some(0.86),
        chance_of_marked: Some(0.31),
        likely: true,
        because: "the bait passes 4 m from the mark".to_owned(),
        lines: vec![PassLine {
            line: Line::Main,
            by_m: 8.0,
            in_s: 14.0,
            over_s: 7.0,
        }],
        refused: None,
    };
    match moment {
        "pass" => Some(offered),
        "pass-on" | "pass-line" => Some(PassNow {
            state: PassState::Accepted,
            ..offered
        }),
        "passed" => Some(PassNow::bare(2, 1, PassState::Passed)),
        "no-pass" => {
            let refused = PassRefused {
                why: "every heading that leads over the mark is one that the kite cannot be \
                      fished on"
                    .to_owned(),
                helps: "go round to windward of the mark first".to_owned(),
            };
            Some(PassNow::refused(2, 1, refused))
        }
        _ => None,
    }
}

/// What the track has made of two minutes straight ahead.
fn track(at: Millis, now: &VesselNow) -> Option<Track> {
    let mut track = BaitTrack::default();
    let speed_mps = 3.3;
    for ago_s in (0..=120).rev() {
        let then = at.plus_seconds(-f64::from(ago_s));
        let mut boat = now.clone();
        if let Some(here) = &mut boat.position {
            let way = Offset::polar(1.2, -speed_mps * f64::from(ago_s));
            here.value = here.value.moved(way).ok()?;
        }
        track.note(then, &boat, Some(&forecast(then)));
    }
    track.now(at, now, Some(&forecast(at)))
}

/// A launch in 14 kn with so many steps answered and these lines out: no forecast, no advice.
pub fn launching(now: &mut Snapshot, answered: u32, out_m: Option<(f64, f64)>) {
    now.deck.launch = Some(LaunchNow {
        begun_at: START,
        at: now.at,
        answered,
        wind_mps: 7.2,
        gust_mps: 9.26,
        speed_mps: 3.09,
        off_bow_rad: 60_f64.to_radians(),
        kite_line_m: 100.0,
    });
    now.deck.lines = LinesOut {
        kite_m: out_m.map(|(kite_m, _)| kite_m),
        main_m: out_m.map(|(_, main_m)| main_m),
    };
    now.deck.bait = None;
    now.advisories.clear();
    let reason =
        "a launch is under way: its steps are on the mate's page, the forecast begins when it ends";
    now.forecast = Err(NoForecast::of(vec![(Lack::Launch, reason.to_owned())]));
}

/// A vane that needs a correction, a log that has one, a compass that may be right, and the rest not
/// known.
fn calibration() -> CalibrationNow {
    let of = |what, talker: Option<&str>, turns, found, caution| Estimate {
        what,
        talker: talker.and_then(Talker::new),
        turns,
        found,
        caution,
    };
    let term = |total: f64, left: f64, sigma: f64| Term { total, left, sigma };
    let found = |terms: Vec<Term>, is_significant| {
        Ok(Found {
            terms,
            is_significant,
        })
    };
    let deg =
        |total: f64, sigma: f64| term(total.to_radians(), total.to_radians(), sigma.to_radians());
    CalibrationNow {
        estimates: vec![
            of(
                Correctable::WindAngle,
                Some("WI"),
                7,
                found(vec![deg(8.3, 2.1)], true),
                "a twisted mast, upwash and heel look the same as an offset of the vane",
            ),
            of(
                Correctable::WindSpeed,
                Some("WI"),
                2,
                Err("not enough turns yet: 2 of 3, each of 30 degrees or more".to_owned()),
                "upwash and the boat's own wind shadow look the same as an error of the cups",
            ),
            of(
                Correctable::Log,
                Some("VW"),
                7,
                found(vec![term(0.93, 1.01, 0.02)], false),
                "a current that changed with each turn looks the same",
            ),
            of(
                Correctable::Compass,
                Some("HC"),
                7,
                found(vec![deg(0.6, 0.9), deg(-1.1, 1.4), deg(0.4, 1.3)], false),
                "leeway from one side and a wrong variation look the same",
            ),
            of(
                Correctable::RateOfTurn,
                None,
                0,
                Err("no rate of turn with a heading yet".to_owned()),
                "a compass that drifts looks the same",
            ),
        ],
    }
}

/// One of [`MOMENTS`].
pub fn moment(name: &str, at: Millis) -> Snapshot {
    let mut snapshot = Snapshot {
        at,
        mode: Mode::Demo,
        clock_speed: 1.0,
        lag_s: 0.05,
        silenced_until: None,
        vessel: vessel(at),
        deck: deck(at),
        marks: Vec::new(),
        calibration: calibration(),
        pass: None,
        track: None,
        strike: None,
        forecast: Ok(Arc::new(forecast(at))),
        learnt: Some(LearntNow {
            reports: 23,
            at: at.plus_seconds(-3.0 * 3600.0),
        }),
        advisories: vec![
            will_fly(at, Priority::Warning, AlertState::ActiveUnacknowledged),
            sinking(at),
        ],
        feeds: vec![FeedNow {
            name: "masthead".to_owned(),
            accepted: 12_345,
            refused: BTreeMap::from([(Cause::BadChecksum, 3)]),
            kinds: BTreeMap::from([("MWV".to_owned(), 12_000), ("HDT".to_owned(), 345)]),
            last_at: Some(at.plus_seconds(-0.4)),
            longest_gap_s: 2.1,
            link: Some("open (1 connected)".to_owned()),
            rate_hz: 4.0,
        }],
    };
    let none = |reason: &str| Err(NoForecast::of(vec![(Lack::Sensor, reason.to_owned())]));
    match name {
        "marks" | "pass" | "pass-on" | "pass-line" | "passed" | "no-pass" => {
            if let Some(boat) = snapshot.vessel.position.as_ref().map(|here| here.value) {
                snapshot.marks = marks(at, boat);
                snapshot.deck.marks = snapshot.marks[..3].to_vec();
            }
            snapshot.track = track(at, &snapshot.vessel);
            snapshot.pass = pass(name);
            if name == "pass-line" {
                snapshot.advisories.clear();
                snapshot.forecast = Ok(Arc::new(calm(at)));
            }
            if name == "pass-on" || name == "pass-line" {
                snapshot.deck.intended_turn = Some(IntendedTurn {
                    told_at: at,
                    starts_at: at.plus_seconds(12.0),
                    by_rad: -40_f64.to_radians(),
                    rate_rad_s: 2_f64.to_radians(),
                });
            }
        }
        "alarm" => {
            let mut alarm = will_fly(at, Priority::Alarm, AlertState::ActiveUnacknowledged);
            alarm.onset_at = None;
            alarm.title = "Bait flies".to_owned();
            alarm.cause = "the turn to port under way lifts the bait (from the route)".to_owned();
            alarm.turn_at = None;
            alarm.actions = vec![Action::MoveLine {
                line: Line::Main,
                by_m: 5.5,
                to_m: Some(123.5),
                start_at: at.plus_seconds(-1.0),
                over_s: 11.0,
                pace_m_per_s: 0.5,
                cranks: None,
                portions: 1,
                in_one_go: true,
                changed: Some(Changed {
                    from_m: 9.0,
                    why: "after your report".to_owned(),
                }),
            }];
            snapshot.advisories[0] = alarm;
        }
        "take" => {
            let mut take = will_fly(at, Priority::Warning, AlertState::ActiveAcknowledged);
            take.kind = Kind::BaitDragging;
            take.title = "Bait will drag".to_owned();
            take.cause = "turning to starboard, end unknown: puts the bait under".to_owned();
            take.turn_at = None;
            take.actions = vec![Action::MoveLine {
                line: Line::Kite,
                by_m: -6.0,
                to_m: Some(64.0),
                start_at: at.plus_seconds(9.0),
                over_s: 12.0,
                pace_m_per_s: 0.5,
                cranks: Some(9.0),
                portions: 2,
                in_one_go: false,
                changed: None,
            }];
            snapshot.advisories = vec![take];
        }
        "calm" => {
            snapshot.advisories.clear();
            snapshot.forecast = Ok(Arc::new(calm(at)));
        }
        "no-wind" => {
            snapshot.vessel.apparent_wind = None;
            snapshot.vessel.true_wind = None;
            snapshot.vessel.missing = vec![Missing {
                quantity: Quantity::Wind,
                last_heard: Some(at.plus_seconds(-12.0)),
                why: "no wind (last from masthead WIMWV)".to_owned(),
            }];
            snapshot.advisories.clear();
            snapshot.forecast =
                none("no wind (last from masthead WIMWV): check the instrument and the network");
        }
        "stale-heading" => {
            if let Some(heading) = &mut snapshot.vessel.heading_true_rad {
                heading.at = at.plus_seconds(-8.0);
            }
        }
        "rig-unset" => {
            snapshot.deck.lines = LinesOut {
                kite_m: None,
                main_m: None,
            };
            snapshot.deck.bait = None;
            snapshot.advisories.clear();
            snapshot.forecast = none("main line out is not known: enter it");
        }
        "launch" => launching(&mut snapshot, 8, Some((32.0, 52.0))),
        "turn" => {
            snapshot.deck.intended_turn = Some(IntendedTurn {
                told_at: at.plus_seconds(-2.0),
                starts_at: at.plus_seconds(28.0),
                by_rad: -45_f64.to_radians(),
                rate_rad_s: 2_f64.to_radians(),
            });
        }
        "danger" => {
            let mut alarm = will_fly(at, Priority::Alarm, AlertState::ActiveAcknowledged);
            alarm.onset_at = Some(at.plus_seconds(6.0));
            snapshot.advisories = vec![
                danger(
                    at,
                    Kind::LineFoul,
                    "Line may foul the boat",
                    &[
                        "helm: to port go no further than 30°; to starboard the lines stand clear",
                        "mate: keep clear; never reach for a line under load or climb to free it",
                        "mate: if it catches, stop and wind the kite in (local rules and the skipper come first)",
                    ],
                ),
                alarm,
            ];
        }
        "overload" => {
            let warning = will_fly(at, Priority::Warning, AlertState::ActiveUnacknowledged);
            snapshot.advisories = vec![
                danger(
                    at,
                    Kind::LineOverload,
                    "Load may come near strength",
                    &[
                        "helm: put the turn off, or slow down before it",
                        "mate: be ready to wind the kite in while the load allows; a smaller kite \
                     suits this wind",
                        "stand clear of line, clip and rod: what breaks flies back; safety lanyard on \
                     the kite rod",
                    ],
                ),
                warning,
            ];
        }
        "shift" => {
            let mut shift = will_fly(at, Priority::Caution, AlertState::ActiveUnacknowledged);
            shift.kind = Kind::WindShift;
            shift.title = "Wind has shifted".to_owned();
            shift.cause = "wind has shifted 14° clockwise and moves the bait".to_owned();
            (shift.onset_at, shift.turn_at) = (None, None);
            (shift.chance, shift.chance_with_plan) = (None, None);
            shift.actions = vec![Action::MoveLine {
                line: Line::Main,
                by_m: -4.5,
                to_m: Some(113.5),
                start_at: at.plus_seconds(-1.0),
                over_s: 4.5,
                pace_m_per_s: 1.0,
                cranks: Some(10.0),
                portions: 4,
                in_one_go: false,
                changed: None,
            }];
            snapshot.advisories = vec![shift];
        }
        "done" => {
            let mut done = will_fly(at, Priority::Warning, AlertState::ActiveAcknowledged);
            done.title = "Bait may fly".to_owned();
            done.chance = Some(0.27);
            done.chance_with_plan = None;
            done.actions = vec![see("done; watch the bait")];
            snapshot.advisories = vec![done];
        }
        "by-eye" => {
            let mut seen = will_fly(at, Priority::Alarm, AlertState::ActiveUnacknowledged);
            seen.title = "Bait is flying".to_owned();
            (seen.onset_at, seen.turn_at) = (None, None);
            seen.cause = "seen by the crew; wind and gusts lift the bait; no turn".to_owned();
            seen.chance_with_plan = None;
            seen.actions = vec![
                Action::StepLine {
                    line: Line::Main,
                    least_m: 3.0,
                    most_m: 5.0,
                    until: "the bait touches".to_owned(),
                },
                see("line under load cuts: gloves on, never wrap line round a hand"),
            ];
            snapshot.advisories = vec![seen];
            let mut out_of_band = forecast(at);
            out_of_band.turn_limit = out_of_band.turn_limit.map(|limit| TurnLimit {
                port_deg_s: None,
                starboard_deg_s: None,
                starboard_without_hands_deg_s: None,
                skips: false,
                why: "get the bait skipping before you turn".to_owned(),
                ..limit
            });
            snapshot.forecast = Ok(Arc::new(out_of_band));
        }
        "over" => {
            let mut over = will_fly(at, Priority::Warning, AlertState::RectifiedUnacknowledged);
            over.outcome = Some(Outcome::Averted);
            snapshot.advisories = vec![over];
        }
        "made" => {
            snapshot.advisories.clear();
            let mut calm = forecast(at);
            calm.turn = None;
            snapshot.forecast = Ok(Arc::new(calm));
            snapshot.deck.intended_turn = Some(IntendedTurn {
                told_at: at.plus_seconds(-60.0),
                starts_at: at.plus_seconds(-35.0),
                by_rad: -45_f64.to_radians(),
                rate_rad_s: 2_f64.to_radians(),
            });
        }
        other => crate::invented_strike::show(other, &mut snapshot),
    }
    snapshot
}

fn see(what: &str) -> Action {
    Action::See {
        what: what.to_owned(),
    }
}

/// A danger to people, with its orders.
fn danger(at: Millis, kind: Kind, title: &str, orders: &[&str]) -> Advisory {
    Advisory {
        id: format!("{kind}-1"),
        kind,
        title: title.to_owned(),
        cause: "turn of 40° to port brings the line to the boat (from the route): kite line near \
                port outrigger"
            .to_owned(),
        chance: Some(0.4),
        chance_with_plan: None,
        actions: orders.iter().map(|what| see(what)).collect(),
        without_action: "the kite line may catch on port outrigger".to_owned(),
        ..will_fly(at, Priority::Alarm, AlertState::ActiveUnacknowledged)
    }
}

/// The HTTP room's surroundings: what the test turns, and what the room is given.
pub struct Boat {
    pub tick: watch::Sender<Arc<Snapshot>>,
    pub hub: AdvisoryHub,
    pub posts: mpsc::Receiver<CrewPost>,
    pub set_up: watch::Sender<Arc<SetUp>>,
    pub changes: mpsc::Receiver<SettingsPost>,
    pub recorder: watch::Sender<RecordReport>,
    pub outlet: watch::Sender<OutletNow>,
    pub learnt_trouble: watch::Sender<Option<String>>,
    pub logbook: watch::Sender<LogbookNow>,
    pub sources: Sources,
}

pub fn boat(first: Snapshot) -> Boat {
    let (tick, snapshot) = watch::channel(Arc::new(first));
    let (crew, posts) = mpsc::channel(8);
    let (to_keeper, changes) = mpsc::channel(8);
    let hub = AdvisoryHub::new(4);
    let entry = |part: &str, key: &str, name: &str, value: &str, unit: &str, grade| RigEntry {
        name: name.to_owned(),
        unit: unit.to_owned(),
        part: part.to_owned(),
        key: key.to_owned(),
        value: value.to_owned(),
        grade,
    };
    let set_up = SetUp {
        rig: vec![
            entry("kite", "area_m2", "Kite area", "1.1", "m²", Grade::Assumed),
            entry(
                "kite line",
                "clip_to_kite_m",
                "Clip to kite",
                "15",
                "m",
                Grade::Measured,
            ),
            entry(
                "main line",
                "diameter_mm",
                "Main line diameter",
                "1.2",
                "mm",
                Grade::Calibrated,
            ),
        ],
        bite_zone: BiteZone {
            from_deg: 30.0,
            to_deg: 60.0,
        },
        ..settings::parse(DEMO, "demo.toml")
            .unwrap()
            .set_up(Kept::Memory)
    };
    let set_up = watch::Sender::new(Arc::new(set_up));
    let recorder = watch::Sender::new(RecordReport {
        state: RecordState::Recording {
            file: "/var/lib/skimwatch/recordings/raw-000007-20260314T090000Z.nmea".into(),
            since: START.plus_seconds(-3600.0),
        },
        lines: 41_000,
        lost: 12,
        waiting: 0,
        deleted_files: 1,
    });
    let learnt_trouble = watch::Sender::new(None);
    let outlet = watch::Sender::new(OutletNow {
        state: OutletState::Working,
        sent: 12,
        ..OutletNow::new(OutletKind::Webhook, "192.168.4.20:80".to_owned())
    });
    let logbook = watch::Sender::new(LogbookNow::default());
    Boat {
        tick,
        posts,
        sources: Sources {
            snapshot,
            revisions: hub.clone(),
            crew,
            journal: watch::channel(JournalNow::default()).1,
            logbook: logbook.subscribe(),
            set_up: set_up.subscribe(),
            settings: to_keeper,
            recorder: Some(recorder.subscribe()),
            learnt_trouble: Some(learnt_trouble.subscribe()),
            outlets: vec![outlet.subscribe()],
            encryption: None,
            access: Access::open(),
        },
        hub,
        set_up,
        changes,
        recorder,
        outlet,
        learnt_trouble,
        logbook,
    }
}

/// Settings of the invented boat.
const DEMO: &str = include_str!("../../config/demo.toml");

/// Checks and takes changes of settings, in memory.
pub async fn keeper(mut changes: mpsc::Receiver<SettingsPost>, shown: watch::Sender<Arc<SetUp>>) {
    let mut now = settings::parse(DEMO, "demo.toml").unwrap();
    while let Some(post) = changes.recv().await {
        let wanted: Vec<_> = post
            .changes
            .into_iter()
            .map(|(key, value)| settings::setting_change(key, value))
            .collect();
        let answer = match now.changed(&wanted) {
            Ok(changed) => {
                let mut set_up = changed.set_up(Kept::Memory);
                set_up.revision = shown.borrow().revision + 1;
                now = changed;
                let set_up = Arc::new(set_up);
                shown.send_replace(Arc::clone(&set_up));
                Ok(set_up)
            }
            Err(SettingsError::Wrong { complaints }) => Err(SettingsRefusal::Wrong(complaints)),
            Err(SettingsError::Unreadable { .. }) => Err(SettingsRefusal::Ended),
        };
        let _ = post.reply.send(answer);
    }
}

/// Takes every crew input, answers with growing sequence numbers, and remembers it.
pub async fn stamper(mut posts: mpsc::Receiver<CrewPost>, seen: mpsc::UnboundedSender<CrewInput>) {
    let mut sequence = 0;
    while let Some(post) = posts.recv().await {
        sequence += 1;
        let _ = seen.send(post.input);
        let _ = post.reply.send(Ok(Recorded {
            sequence,
            kept: KeptIn::Disk,
        }));
    }
}

pub fn settings() -> ServeSettings {
    ServeSettings {
        heartbeat_s: 0.2,
        slow_client_s: 0.5,
        streams: 4,
        ..ServeSettings::default()
    }
}
