//! Days made by another simulator (its bait, gusts, instruments and wrongly believed rig), played
//! through decoder, vessel, turn, forecast and advice, and scored. They lie beside the project;
//! where they are absent this says so. What is printed is a measurement; what is asserted is that
//! nothing breaks and that advice is a good deal better than chance.

use std::path::{Path, PathBuf};
use std::time::Instant;

use serde_json::Value;
use skimwatch::advice::{AdviceBoard, AdviceSettings, AlertState, Kind};
use skimwatch::decode::{BaitState, CrewInput, Decoder, Line, Observation};
use skimwatch::forecast::score::{Span, Tally, brier_skill, events, reliability, tally};
use skimwatch::forecast::{ChanceKind, ForecastSettings, Forecaster};
use skimwatch::rig::RigParameters;
use skimwatch::time::Millis;
use skimwatch::turn::{TurnSettings, TurnWatch};
use skimwatch::units::{degrees, degrees_per_second, metres};
use skimwatch::vessel::{Deck, LinesOut, Vessel, VesselSettings};

fn days() -> Option<PathBuf> {
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/reference-days");
    if beside.is_dir() {
        Some(beside)
    } else {
        println!("skipped: no reference days at {}", beside.display());
        None
    }
}

fn json(path: &Path) -> Value {
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// The rig as the crew believes it; what the file does not say is the default.
fn believed(settings: &Value) -> RigParameters {
    let mut rig = serde_json::to_value(RigParameters::default()).unwrap();
    let known = rig.as_object_mut().unwrap();
    for (key, part) in settings.as_object().unwrap() {
        let Some(known) = known.get_mut(key) else {
            continue;
        };
        match part {
            Value::Object(fields) => {
                for (field, value) in fields {
                    if field != "out_m" {
                        known[field] = value.clone();
                    }
                }
            }
            other => *known = other.clone(),
        }
    }
    serde_json::from_value(rig).unwrap()
}

fn crew_input(entry: &Value) -> CrewInput {
    let number = |key: &str| entry[key].as_f64().unwrap();
    match entry["kind"].as_str().unwrap() {
        "line_out" => CrewInput::LinesOut {
            kite: Some(metres(number("kite_m"))),
            main: Some(metres(number("main_m"))),
        },
        "bait" => CrewInput::Bait(match entry["state"].as_str().unwrap() {
            "airborne" => BaitState::Airborne,
            "dragging" => BaitState::Dragging,
            _ => BaitState::Skipping,
        }),
        "elevation" => CrewInput::Elevation(degrees(number("deg"))),
        "turn" => CrewInput::Turn {
            by: degrees(number("by_deg")),
            rate: degrees_per_second(number("rate_deg_s")),
            in_s: number("in_s"),
        },
        moved @ ("gave" | "took") => CrewInput::Moved {
            line: match entry["line"].as_str().unwrap() {
                "kite" => Line::Kite,
                _ => Line::Main,
            },
            by: metres(if moved == "gave" { 1.0 } else { -1.0 } * number("m")),
        },
        other => panic!("unknown crew entry {other}"),
    }
}

/// What one day gave.
#[derive(Default)]
struct Result {
    airborne: Tally,
    dragging: Tally,
    pairs: Vec<(f64, bool)>,
    no_forecast: usize,
    ticks: usize,
    slowest_ms: f64,
}

fn spans(log: &[(f64, skimwatch::advice::Advisory)], kind: Kind, end_s: f64) -> Vec<Span> {
    let mut spans: Vec<(String, Span)> = Vec::new();
    for (t_s, advisory) in log.iter().filter(|(_, a)| a.kind == kind) {
        let over = advisory.outcome.is_some() || advisory.state == AlertState::Normal;
        match spans.iter_mut().rev().find(|(id, _)| *id == advisory.id) {
            Some((_, span)) if over && span.to_s == end_s => span.to_s = *t_s,
            Some((_, span)) if !over && span.to_s < end_s => {
                // Come back after it was over: another stretch.
                let _ = span;
                spans.push((
                    advisory.id.clone(),
                    Span {
                        from_s: *t_s,
                        to_s: end_s,
                    },
                ));
            }
            Some(_) => {}
            None => spans.push((
                advisory.id.clone(),
                Span {
                    from_s: *t_s,
                    to_s: end_s,
                },
            )),
        }
    }
    spans.into_iter().map(|(_, span)| span).collect()
}

fn play(folder: &Path, name: &str, loud: bool, members: usize, until_s: f64) -> Result {
    let file = |end: &str| folder.join(format!("{name}.{end}"));
    let settings = ForecastSettings {
        members,
        ..ForecastSettings::default()
    };
    let truth = json(&file("truth.json"));
    let crew = json(&file("crew.json"));
    let mut crew = crew.as_array().unwrap().iter().peekable();
    let rig = believed(&json(&file("settings.json")));
    let mast_m = truth["mast_height_m"].as_f64().unwrap();
    let series: Vec<(f64, f64)> = truth["series"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| (row[0].as_f64().unwrap(), row[2].as_f64().unwrap()))
        .filter(|(t_s, _)| *t_s <= until_s)
        .collect();
    let end_s = series.last().unwrap().0;

    let mut decoder = Decoder::new();
    let mut vessel = Vessel::new(VesselSettings::default());
    let mut deck = Deck::new(LinesOut {
        kite_m: None,
        main_m: None,
    });
    let mut turns = TurnWatch::new(TurnSettings::default());
    let mut forecaster = Forecaster::new(settings, Some(rig), mast_m).unwrap();
    let mut board = AdviceBoard::new(AdviceSettings::default());
    let mut result = Result::default();
    let mut log = Vec::new();
    let mut given: Vec<(f64, [f64; 2])> = Vec::new();

    let text = std::fs::read_to_string(file("instruments.nmea")).unwrap();
    let lines: Vec<(Millis, &str)> = text
        .lines()
        .filter_map(|line| {
            let (tag, sentence) = line.strip_prefix('\\')?.split_once('\\')?;
            let ms = tag.strip_prefix("c:")?.split_once('*')?.0.parse().ok()?;
            Some((Millis(ms), sentence))
        })
        .collect();
    let start = lines.first().unwrap().0;
    let mut lines = lines.into_iter().peekable();
    let mut seq = 0;
    for tick in 1..=(end_s as u32) {
        let now = start.plus_seconds(f64::from(tick));
        while let Some((at, sentence)) = lines.next_if(|(at, _)| *at <= now) {
            let decoded = decoder.decode(sentence).unwrap();
            for observation in &decoded.observations {
                vessel.observe(
                    at,
                    "day",
                    decoded.talker.as_str(),
                    decoded.kind,
                    observation,
                );
                turns.observe(at, observation);
            }
        }
        while let Some(entry) =
            crew.next_if(|entry| start.plus_seconds(entry["t_s"].as_f64().unwrap()) <= now)
        {
            seq += 1;
            let input = crew_input(entry);
            let at = start.plus_seconds(entry["t_s"].as_f64().unwrap());
            deck.observe(at, seq, &input);
            forecaster.observe(at, &input);
            let observation = Observation::Crew { seq, input };
            turns.observe(at, &observation);
        }
        let (boat, told) = (vessel.now(now), deck.now(now));
        let outlook = turns.outlook(now, &boat, &told);
        let began = Instant::now();
        let forecast = forecaster.forecast(now, &boat, &told, &outlook);
        let took_ms = 1e3 * began.elapsed().as_secs_f64();
        result.slowest_ms = result.slowest_ms.max(took_ms);
        result.ticks += 1;
        match &forecast {
            Ok(forecast) => {
                let of = |kind| {
                    forecast
                        .chances
                        .iter()
                        .find(|c| c.kind == kind)
                        .map_or(0.0, |c| c.chance)
                };
                if forecast.made_at == now {
                    given.push((
                        f64::from(tick),
                        [of(ChanceKind::BaitAirborne), of(ChanceKind::BaitDragging)],
                    ));
                }
                if loud && tick % 10 == 0 {
                    let i = series.partition_point(|(t, _)| *t < f64::from(tick));
                    println!(
                        "{tick:4} truth {:.2} model {:.2} [{:.2} {:.2}] air {:.2} drag {:.2} turn {:?} {}",
                        series[i.min(series.len() - 1)].1,
                        forecast.immersion[0].p50,
                        forecast.immersion[0].p10,
                        forecast.immersion[0].p90,
                        of(ChanceKind::BaitAirborne),
                        of(ChanceKind::BaitDragging),
                        forecast
                            .turn
                            .map(|t| (t.source, t.starts_in_s.round(), t.by_deg.round())),
                        forecast.crew.note,
                    );
                }
            }
            Err(none) => {
                result.no_forecast += 1;
                if loud && tick % 10 == 0 {
                    println!("{tick:4} {none:?}");
                }
            }
        }
        let forecast = forecast.as_deref();
        for advisory in board.update(now, &boat, &told, forecast) {
            if loud {
                println!(
                    "     > {} r{} {:?} {:?} in {:.0} s, {:?}: {} | {:?} {:?}",
                    advisory.id,
                    advisory.revision,
                    advisory.priority,
                    advisory.state,
                    advisory.countdown_s,
                    advisory.chance,
                    advisory.cause,
                    advisory.actions.first(),
                    advisory.outcome
                );
            }
            log.push((f64::from(tick), advisory));
        }
    }
    let airborne = events(&series, 3.0, 5.0, |s| s <= 0.0);
    let dragging = events(&series, 3.0, 5.0, |s| s >= 0.7);
    result.airborne = tally(&airborne, &spans(&log, Kind::BaitAirborne, end_s), 10.0);
    result.dragging = tally(&dragging, &spans(&log, Kind::BaitDragging, end_s), 10.0);
    for (t_s, chances) in &given {
        if t_s + settings.horizon_s > end_s {
            continue;
        }
        for (chance, events) in chances.iter().zip([&airborne, &dragging]) {
            let came = events
                .iter()
                .any(|e| e.from_s < t_s + settings.horizon_s && e.to_s >= *t_s);
            result.pairs.push((*chance, came));
        }
    }
    if loud {
        println!("true airborne {airborne:?}\ntrue dragging {dragging:?}");
    }
    println!(
        "{name}: airborne {:?}, dragging {:?}, no forecast {} of {} s, slowest {:.0} ms",
        result.airborne, result.dragging, result.no_forecast, result.ticks, result.slowest_ms
    );
    result
}

#[test]
fn reference_days_are_played_and_scored() {
    let Some(folder) = days() else { return };
    // The whole of it belongs to a release build; SKIMWATCH_DAYS=full asks for it.
    let full = std::env::var("SKIMWATCH_DAYS").ok();
    let (members, until_s, names): (usize, f64, Vec<&str>) = match full.as_deref() {
        Some("full") => (
            ForecastSettings::default().members,
            1e9,
            vec!["day_4000", "day_4001", "day_4002", "day_4003"],
        ),
        Some(one) => (ForecastSettings::default().members, 1e9, vec![one]),
        None => (32, 240.0, vec!["day_4001"]),
    };
    let loud = full.as_deref().is_some_and(|f| f != "full");
    let mut all = Result::default();
    for name in names {
        let day = play(&folder, name, loud, members, until_s);
        all.airborne = all.airborne.and(&day.airborne);
        all.dragging = all.dragging.and(&day.dragging);
        all.pairs.extend(day.pairs);
        all.no_forecast += day.no_forecast;
        all.ticks += day.ticks;
    }
    for (name, tally) in [("airborne", &all.airborne), ("dragging", &all.dragging)] {
        println!(
            "{name}: detection {:?}, false alarm ratio {:?}, lead median {:?} s, 10th percentile {:?} s",
            tally.detection(),
            tally.false_alarm_ratio(),
            tally.lead_s(0.5),
            tally.lead_s(0.1)
        );
    }
    println!("Brier skill {:?}", brier_skill(&all.pairs));
    for (mean, came, n) in reliability(&all.pairs, 10) {
        println!("  given {mean:.2} came {came:.2} ({n})");
    }
    assert!(all.no_forecast < all.ticks / 4, "{}", all.no_forecast);
    assert!(
        all.pairs
            .iter()
            .all(|(chance, _)| (0.0..=1.0).contains(chance))
    );
}
