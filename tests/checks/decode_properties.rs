//! Whatever text comes in, the decoder does not panic and lets no number through that is not
//! finite and in range; and every crew input comes back as it was written.

use proptest::prelude::*;
use skimwatch::decode::{
    Asked, BaitState, CorrectBy, Correctable, Correction, CrewInput, Decoder, GeoPosition,
    LaunchDay, LaunchSaid, Line, MarkChange, MarkHow, MarkSaid, Observation, PassWord, PlanAnswer,
    Priority, SessionMark, SetAndDrift, SettingChange, StrikeWord, Talker, encode_crew,
};
use skimwatch::feed::{Frame, FrameSettings, Framer};
use skimwatch::units::{
    Angle, degrees, degrees_per_second, in_degrees, in_degrees_per_second, in_metres,
    in_metres_per_second, metres, metres_per_second,
};

use crate::decode_words::outside;

/// Well-formed sentences of every kind, to be damaged. Those that `decode_published` lists have
/// their source there; the others are invented, GNS from memory.
const SEEDS: &[&str] = &[
    "$WIMWV,214.8,R,0.1,K,A",
    "$WIMWV,12.1,T,10.1,N,A",
    "$WIMWD,302.4,T,289.6,M,10.5,N,5.4,M",
    "$IIVWR,75,R,1.0,N,0.51,M,1.85,K",
    "$IIVWT,024,L,018,N,,,,",
    "$HCHDG,98.3,0.0,E,12.6,W",
    "$HCHDM,093.8,M",
    "$GPHDT,274.07,T",
    "$GPTHS,274.07,A",
    "$VWVHW,45.0,T,43.0,M,3.5,N,6.4,K",
    "$VDVBW,12.3,-0.1,A,11.8,0.2,A,0.1,A,0.2,A",
    "$GPVTG,360.0,T,348.7,M,000.0,N,000.0,K",
    "$GPVTG,054,034,005.5,010.2",
    "$GPRMC,220516,A,5133.82,N,00042.24,W,173.8,231.8,130694,004.2,W",
    "$GNRMC,102014.00,A,5550.6082,N,03732.2488,E,000.00000,092.9,300518,,,A,V",
    "$GNGGA,001043.00,4404.14036,N,12118.85961,W,1,12,0.98,1113.0,M,-21.3,M",
    "$GNGNS,014035.00,4332.69262,S,17235.48549,E,RR,13,0.9,25.63,11.24,,",
    "$GNGLL,4404.14012,N,12118.85993,W,001037.00,A,A",
    "$HEROT,-11.23,A",
    "$IIRSA,10.5,A,0.4,A",
    "$GPAPB,A,A,0.10,R,N,V,V,011,M,DEST,011,M,011,M",
    "$GPRMB,A,0.66,L,003,004,4917.24,N,12309.57,W,001.3,052.5,000.5,V",
    "$GPBWC,220516,5130.02,N,00046.34,W,213.8,T,218.0,M,0004.6,N,EGLM",
    "$GPBOD,097.0,T,103.2,M,POINTB,POINTA",
    "$GPXTE,A,A,4.07,L,N",
    "$FTHSC,40.12,T,39.11,M",
    "$AGHTC,A,5.5,L,R,T,6.5,2.0,0.5,1.5,180.1,0.25,190.5,M,R",
    "$AGHTD,A,5.5,L,R,T,6.5,2.0,0.5,1.5,180.1,0.25,190.5,M,A,V,A,185.2",
    "$IIWPL,5503.4530,N,01037.2742,E,411",
    "$RATTM,02,1.43,170.5,T,0.16,264.4,T,1.42,36.9,N,,T,,,M",
    "$RATLL,01,3731.51052,N,02436.00000,E,TEST1,161617.88,T,",
    "$AIMOB,12345,A,101500.00,1,270526,101500.00,4530.000,N,01200.000,E,,,,",
    "$GPRTE,1,1,c,0,PBRCPK,PBRTO",
    "$GPZDA,160012.71,11,03,2004,-1,00",
    "$INDPT,2.3,0.0",
    "$IIDBT,34.3,f,10.45,M,5.71,F",
    "$INMTW,17.9,C",
    "$YXXDR,A,1.2,D,PITCH,A,-3.4,D,ROLL,D,0.35,M,HEAVE",
    "$PSKWT,1,LINES,80.00,140.00",
    "$PSKWT,2,MOVED,M,-3.00",
    "$PSKWT,2,PLAN,D,bait-airborne-3,2,M,12.00",
    "$PSKWT,3,TURN,40.00,6.000,21.60",
    "$PSKWT,4,MARK,birds,5130.02000,N,00046.34000,W",
    "$PSKWT,4,MARK,birds,5130.02000,N,00046.34000,W,E,250,3",
    "$PSKWT,4,DRIFT,3,120.0,0.400",
    "$PSKWT,5,SILENCE,10.0",
    "$PSKWT,6,CORNER,-45.00",
    "$PSKWT,7,ELEV,45.00",
    "$PSKWT,1,LAUNCH,B,7.20,9.80,3.09,60.00,100.00",
    "$PSKWT,1,LAUNCH,S,8,32.00,50.00",
    "$PSKWT,1,LAUNCH,E",
    "$PSKWT,8,STRIKE,DOWN",
    "$PSKWT,9,STRIKE,FISH,-135.00",
    "$PSKWT,0,BEFORE,75.250,1,LINES,110.00,132.00",
];

/// Pieces that real damage and a curious mind put into fields.
const PIECES: &[&str] = &[
    "",
    ",",
    ",,",
    ".",
    "-",
    "+",
    "0",
    "9",
    "360",
    "999",
    "-5",
    "1e5",
    "1e400",
    "nan",
    "NaN",
    "inf",
    "infinity",
    "-0.00",
    "176.",
    "49nan",
    "-1.-3",
    "0.-6",
    "A",
    "V",
    "N",
    "S",
    "E",
    "W",
    "T",
    "M",
    "R",
    "L",
    "K",
    "^",
    "^4",
    "^ZZ",
    "*",
    "*00",
    "$",
    "!",
    "\\",
    "\0",
    "\r\n",
    " ",
    "\u{e9}",
    "99999999999999999999999999999999999999999",
    "60",
    "6000",
    "18000.1",
    "235960",
];

fn damaged() -> impl Strategy<Value = String> {
    let cut = (any::<prop::sample::Index>(), 0usize..6, 0..PIECES.len());
    (0..SEEDS.len(), prop::collection::vec(cut, 0..4)).prop_map(|(seed, cuts)| {
        let mut text: Vec<char> = SEEDS[seed].chars().collect();
        for (at, removed, piece) in cuts {
            // The address stays, so that the damage reaches the field readers.
            let from = if text.len() > 7 {
                7 + at.index(text.len() - 6)
            } else {
                text.len()
            };
            let to = (from + removed).min(text.len());
            text.splice(from.min(to)..to, PIECES[piece].chars());
        }
        text.into_iter().collect()
    })
}

fn sound(sentence: &str) -> Result<(), TestCaseError> {
    let mut decoder = Decoder::new();
    if let Ok(decoded) = decoder.decode(sentence) {
        for observation in &decoded.observations {
            prop_assert_eq!(
                outside(observation),
                None,
                "{:?} from {}",
                observation,
                sentence
            );
        }
    }
    Ok(())
}

#[test]
fn every_seed_says_something() {
    for seed in SEEDS {
        let decoded = Decoder::new().decode(seed);
        assert!(
            decoded.as_ref().is_ok_and(|d| !d.observations.is_empty()),
            "{seed}: {decoded:?}"
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4096))]

    #[test]
    fn any_text_is_survived(text in "\\PC{0,120}") {
        sound(&text)?;
    }

    #[test]
    fn any_fields_after_a_known_address_are_sound(
        seed in 0..SEEDS.len(),
        fields in "[0-9A-Za-z,.+^-]{0,80}",
    ) {
        let address = SEEDS[seed].split(',').next().unwrap();
        sound(&format!("{address},{fields}"))?;
    }

    #[test]
    fn damaged_sentences_are_refused_or_sound(sentence in damaged()) {
        sound(&sentence)?;
    }

    #[test]
    fn wind_comes_back_to_the_digit(angle in 0u32..3600, speed in 0u32..1000) {
        let angle_deg = f64::from(angle) / 10.0;
        let sentence = format!("$WIMWV,{angle_deg:05.1},R,{:.1},M,A", f64::from(speed) / 10.0);
        let decoded = Decoder::new().decode(&sentence).unwrap();
        let wanted = Observation::ApparentWind {
            angle: Some(degrees(angle_deg)),
            speed: Some(skimwatch::units::metres_per_second(f64::from(speed) / 10.0)),
        };
        prop_assert_eq!(decoded.observations, vec![wanted]);
    }

    #[test]
    fn crew_inputs_come_back(input in crew_input(), seq in any::<u32>()) {
        let sentence = encode_crew(&input, seq);
        prop_assert!(sentence.len() <= 80, "{} is too long", sentence);
        let mut frames = Vec::new();
        Framer::new(FrameSettings::default())
            .push(format!("{sentence}\r\n").as_bytes(), &mut |frame| frames.push(frame));
        let [Frame::Sentence(framed)] = frames.as_slice() else {
            return Err(TestCaseError::fail(format!("{frames:?}")));
        };
        let decoded = Decoder::new().decode(&framed.text).unwrap();
        prop_assert_eq!(decoded.kind, "SKWT");
        let [Observation::Crew { seq: read_seq, input: read }] = decoded.observations.as_slice()
        else {
            return Err(TestCaseError::fail(sentence));
        };
        prop_assert_eq!(*read_seq, seq);
        prop_assert!(close(&input, read), "{:?} came back as {:?}", input, read);
        // What is read back is written the same again: live and replay see the same input.
        prop_assert_eq!(encode_crew(read, seq), sentence);
    }
}

/// The same input, numbers within the rounding that the crew sentence documents.
fn close(a: &CrewInput, b: &CrewInput) -> bool {
    let near = |x: f64, y: f64, step: f64| (x - y).abs() <= step / 2.0 + 1e-9;
    match (a, b) {
        (CrewInput::LinesOut { kite: k, main: m }, CrewInput::LinesOut { kite: l, main: n }) => {
            [(k, l), (m, n)].iter().all(|pair| match pair {
                (Some(x), Some(y)) => near(x.value, y.value, 0.01),
                (x, y) => x == y,
            })
        }
        (CrewInput::Moved { line: l, by: x }, CrewInput::Moved { line: k, by: y }) => {
            l == k && near(x.value, y.value, 0.01)
        }
        (CrewInput::Correct(x), CrewInput::Correct(y)) => {
            let degrees_near = |x: Angle, y: Angle| near(in_degrees(x), in_degrees(y), 0.01);
            let by = match (x.by, y.by) {
                (CorrectBy::WindAngle(x), CorrectBy::WindAngle(y)) => degrees_near(x, y),
                (CorrectBy::WindSpeed(x), CorrectBy::WindSpeed(y))
                | (CorrectBy::Log(x), CorrectBy::Log(y)) => near(x, y, 0.0001),
                (
                    CorrectBy::Compass {
                        offset,
                        sine,
                        cosine,
                    },
                    CorrectBy::Compass {
                        offset: offset2,
                        sine: sine2,
                        cosine: cosine2,
                    },
                ) => [(offset, offset2), (sine, sine2), (cosine, cosine2)]
                    .into_iter()
                    .all(|(x, y)| degrees_near(x, y)),
                (CorrectBy::RateOfTurn(x), CorrectBy::RateOfTurn(y)) => {
                    near(in_degrees_per_second(x), in_degrees_per_second(y), 0.001)
                }
                _ => false,
            };
            by && x.talker == y.talker
        }
        (CrewInput::Elevation(x), CrewInput::Elevation(y))
        | (CrewInput::Bearing(x), CrewInput::Bearing(y))
        | (
            CrewInput::Strike(StrikeWord::Fish { off_bow: x }),
            CrewInput::Strike(StrikeWord::Fish { off_bow: y }),
        ) => near(x.value.to_degrees(), y.value.to_degrees(), 0.01),
        (
            CrewInput::Turn { by, rate, in_s },
            CrewInput::Turn {
                by: by2,
                rate: rate2,
                in_s: in2,
            },
        ) => {
            near(by.value.to_degrees(), by2.value.to_degrees(), 0.01)
                && near(rate.value.to_degrees(), rate2.value.to_degrees(), 0.001)
                && near(*in_s, *in2, 0.01)
        }
        (
            CrewInput::Mark(MarkSaid {
                name: n,
                position: p,
                how: h,
                number: i,
            }),
            CrewInput::Mark(MarkSaid {
                name: o,
                position: q,
                how: g,
                number: j,
            }),
        ) => {
            let known = match (h, g) {
                (MarkHow::ByEye { range: x }, MarkHow::ByEye { range: y }) => {
                    near(in_metres(*x), in_metres(*y), 1.0)
                }
                (h, g) => h == g,
            };
            let step = 1e-5 / 60.0;
            let arc = |x: skimwatch::units::Angle, y: skimwatch::units::Angle| {
                near(x.value.to_degrees(), y.value.to_degrees(), step)
            };
            (n, i) == (o, j)
                && known
                && match (p, q) {
                    (Some(p), Some(q)) => {
                        arc(p.latitude, q.latitude) && arc(p.longitude, q.longitude)
                    }
                    (p, q) => p == q,
                }
        }
        (
            CrewInput::OfMark {
                number: m,
                change: MarkChange::Drifts(Some(x)),
            },
            CrewInput::OfMark {
                number: n,
                change: MarkChange::Drifts(Some(y)),
            },
        ) => {
            m == n
                && near(in_degrees(x.set), in_degrees(y.set), 0.1)
                && near(
                    in_metres_per_second(x.drift),
                    in_metres_per_second(y.drift),
                    0.001,
                )
        }
        (
            CrewInput::Plan {
                answer: a,
                asked: Some(x),
            },
            CrewInput::Plan {
                answer: b,
                asked: Some(y),
            },
        ) => {
            let told = |asked: &Asked| (asked.advisory.clone(), asked.revision, asked.line);
            a == b && told(x) == told(y) && near(in_metres(x.by), in_metres(y.by), 0.01)
        }
        (CrewInput::Launch(x), CrewInput::Launch(y)) => match (x, y) {
            (LaunchSaid::Begun(x), LaunchSaid::Begun(y)) => {
                let speeds = |day: &LaunchDay| [day.wind, day.gust, day.speed];
                let mut pairs = speeds(x).into_iter().zip(speeds(y));
                pairs.all(|(x, y)| near(in_metres_per_second(x), in_metres_per_second(y), 0.01))
                    && near(in_degrees(x.off_bow), in_degrees(y.off_bow), 0.01)
                    && near(in_metres(x.kite_line), in_metres(y.kite_line), 0.01)
            }
            (
                LaunchSaid::Answered { steps, kite, main },
                LaunchSaid::Answered {
                    steps: read,
                    kite: k,
                    main: m,
                },
            ) => {
                steps == read
                    && [(kite, k), (main, m)].into_iter().all(|pair| match pair {
                        (Some(x), Some(y)) => near(in_metres(*x), in_metres(*y), 0.01),
                        (x, y) => x == y,
                    })
            }
            (x, y) => x == y,
        },
        (CrewInput::Silence { minutes: x }, CrewInput::Silence { minutes: y }) => near(*x, *y, 0.1),
        (a, b) => a == b,
    }
}

/// Everything that can be said of a launch.
fn launch() -> impl Strategy<Value = CrewInput> {
    let line = || prop::option::of((0.0..=1000.0f64).prop_map(metres));
    let speed = || (0.0..=60.0f64).prop_map(metres_per_second);
    let day = (speed(), speed(), speed(), 0.0..=180.0f64, 0.0..=1000.0f64);
    prop_oneof![
        day.prop_map(|(wind, gust, speed, off_bow, kite_line)| {
            LaunchSaid::Begun(LaunchDay {
                wind,
                gust,
                speed,
                off_bow: degrees(off_bow),
                kite_line: metres(kite_line),
            })
        }),
        (0..=99_u32, line(), line()).prop_map(|(steps, kite, main)| LaunchSaid::Answered {
            steps,
            kite,
            main
        }),
        Just(LaunchSaid::Ended),
    ]
    .prop_map(CrewInput::Launch)
}

fn correction() -> impl Strategy<Value = CrewInput> {
    let part = || (-45.0..=45.0f64).prop_map(degrees);
    let by = prop_oneof![
        (-180.0..=180.0f64).prop_map(|deg| CorrectBy::WindAngle(degrees(deg))),
        (0.25..=4.0f64).prop_map(CorrectBy::WindSpeed),
        (0.25..=4.0f64).prop_map(CorrectBy::Log),
        (part(), part(), part()).prop_map(|(offset, sine, cosine)| CorrectBy::Compass {
            offset,
            sine,
            cosine
        }),
        (-10.0..=10.0f64).prop_map(|rate| CorrectBy::RateOfTurn(degrees_per_second(rate))),
    ];
    prop_oneof![
        ("[A-Z0-9]{2}", by).prop_map(|(talker, by)| {
            let talker = Talker::new(&talker).unwrap();
            CrewInput::Correct(Correction { talker, by })
        }),
        prop::sample::select(Correctable::ALL.to_vec()).prop_map(CrewInput::Uncorrect),
    ]
}

/// Every variant.
fn crew_input() -> impl Strategy<Value = CrewInput> {
    let line_m = || prop::option::of((0.0..=1000.0f64).prop_map(metres));
    let answer = prop_oneof![
        Just(PlanAnswer::Done),
        Just(PlanAnswer::Half),
        Just(PlanAnswer::Other)
    ];
    let asked = (
        "[a-z0-9-]{1,30}",
        any::<u32>(),
        any::<bool>(),
        -1000.0..=1000.0f64,
    )
        .prop_map(|(advisory, revision, kite, by)| Asked {
            advisory,
            revision,
            line: if kite { Line::Kite } else { Line::Main },
            by: metres(by),
        });
    let place =
        (-89.0..=89.0f64, -180.0..=180.0f64).prop_map(|(latitude, longitude)| GeoPosition {
            latitude: degrees(latitude),
            longitude: degrees(longitude),
        });
    prop_oneof![
        (line_m(), line_m())
            .prop_filter("one of the two", |(kite, main)| kite.is_some()
                || main.is_some())
            .prop_map(|(kite, main)| CrewInput::LinesOut { kite, main }),
        (any::<bool>(), -1000.0..=1000.0f64).prop_map(|(kite, by)| CrewInput::Moved {
            line: if kite { Line::Kite } else { Line::Main },
            by: metres(by),
        }),
        prop_oneof![
            Just(BaitState::Airborne),
            Just(BaitState::Skipping),
            Just(BaitState::Dragging)
        ]
        .prop_map(CrewInput::Bait),
        any::<u32>().prop_map(|of| CrewInput::Undo { of }),
        (0.0..=90.0f64).prop_map(|a| CrewInput::Elevation(degrees(a))),
        (-180.0..=180.0f64).prop_map(|a| CrewInput::Bearing(degrees(a))),
        any::<bool>().prop_map(CrewInput::MarkerInWater),
        (-720.0..=720.0f64, 0.01..=60.0f64, 0.0..=3600.0f64).prop_map(|(by, rate, in_s)| {
            CrewInput::Turn {
                by: degrees(by),
                rate: degrees_per_second(rate),
                in_s,
            }
        }),
        Just(CrewInput::CallOffTurn),
        (answer, prop::option::of(asked))
            .prop_map(|(answer, asked)| CrewInput::Plan { answer, asked }),
        Just(CrewInput::Bite),
        prop::sample::select(crate::strike_steps::WORDS.to_vec()).prop_map(CrewInput::Strike),
        (-180.0..=180.0f64).prop_map(|deg| {
            CrewInput::Strike(StrikeWord::Fish {
                off_bow: degrees(deg),
            })
        }),
        Just(CrewInput::Forget),
        ("[a-z]{1,20} [A-Z]{5}", any::<bool>())
            .prop_map(|(name, used)| CrewInput::Source { name, used }),
        correction(),
        launch(),
        // Names that fit beside everything else even when reserved or foreign letters are escaped.
        (
            prop::option::of("[ -~]{1,4}|[a-z]{1,14}|é[a-z]{1,8}|鳥"),
            prop::option::of(place),
            0..3_usize,
            1.0..=20_000.0f64,
            prop::option::of(1..=9999_u32),
        )
            .prop_map(|(name, position, how, range_m, number)| {
                let how = match (how, position) {
                    (0, Some(_)) => MarkHow::ByEye {
                        range: metres(range_m),
                    },
                    (1, Some(_)) => MarkHow::Typed,
                    _ => MarkHow::Here,
                };
                CrewInput::Mark(MarkSaid {
                    name,
                    position,
                    how,
                    number,
                })
            }),
        (1..=9999_u32, prop::option::of("[a-z]{1,20}|é[a-z]{1,10}")).prop_map(|(number, name)| {
            CrewInput::OfMark {
                number,
                change: MarkChange::Named(name),
            }
        }),
        (1..=9999_u32, 0.0..=359.9f64, 0.0..=5.0f64).prop_map(|(number, set, drift)| {
            CrewInput::OfMark {
                number,
                change: MarkChange::Drifts(Some(SetAndDrift {
                    set: degrees(set),
                    drift: metres_per_second(drift),
                })),
            }
        }),
        (1..=9999_u32, 0..4_usize).prop_map(|(mark, which)| CrewInput::Pass {
            mark,
            said: [
                PassWord::Ask,
                PassWord::Accept,
                PassWord::Decline,
                PassWord::End
            ][which],
        }),
        (1..=9999_u32, any::<bool>()).prop_map(|(number, removed)| CrewInput::OfMark {
            number,
            change: if removed {
                MarkChange::Removed
            } else {
                MarkChange::Drifts(None)
            },
        }),
        ("[a-z0-9-]{1,40}", 0..4_usize).prop_map(|(advisory, which)| {
            let known = [Priority::Caution, Priority::Warning, Priority::Alarm];
            CrewInput::Acknowledge {
                advisory,
                priority: known.get(which).copied(),
            }
        }),
        (0.0..=1440.0f64).prop_map(|minutes| CrewInput::Silence { minutes }),
        prop_oneof![Just(SessionMark::Start), Just(SessionMark::Stop)].prop_map(CrewInput::Session),
        (
            "[a-z][a-z_.0-9]{0,31}",
            prop::option::of("[a-z0-9./-]{1,16}"),
            0..=99_u32
        )
            .prop_map(|(key, value, more)| CrewInput::Setting {
                change: SettingChange { key, value },
                more,
            }),
    ]
}
