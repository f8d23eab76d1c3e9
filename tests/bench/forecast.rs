//! How long one whole forecast takes, and how that grows with futures, horizon and threads.
//! `cargo bench --bench forecast` prints the times; wanted on one core: 300 ms for a full forecast
//! (default futures, 120 s, plan, fan, limits, structures), 500 ms from a new turn intent to its
//! answer.

use std::hint::black_box;
use std::sync::Arc;

use criterion::{BatchSize, Bencher, BenchmarkId, Criterion, criterion_group, criterion_main};
use skimwatch::decode::{CrewInput, encode_crew};
use skimwatch::engine::{Engine, Event, Mode, Snapshot};
use skimwatch::forecast::{Effort, Forecast, Forecaster, NoForecast};
use skimwatch::scene::{Gusts, Script, play};
use skimwatch::settings;
use skimwatch::time::Millis;
use skimwatch::turn::{Outlook, TurnSettings, TurnWatch};
use skimwatch::units::{degrees, degrees_per_second};

const DEMO: &str = include_str!("../../config/demo.toml");
/// Invented.
const START: Millis = Millis(1_780_300_800_000);
/// When the crew announces a turn.
const TOLD_S: u32 = 60;

/// One tick of the way there.
struct Step {
    snapshot: Snapshot,
    outlook: Outlook,
}

/// The demo's boat on a straight course with these keys of `[forecast]`; at the last tick the crew
/// has announced a turn.
fn way(keys: &str) -> (Forecaster, Vec<Step>) {
    let text = format!("{DEMO}\n[forecast]\n{keys}\n");
    let settings = settings::parse(&text, "config/demo.toml").expect("the demo's settings");
    let script = Script {
        bait_reports_every_s: Some(20.0),
        // A wind without any gusts looks like a frozen vane.
        gusts: Gusts::OF_THE_DEMO,
        ..Script::straight(START, settings.rig.parameters.clone(), 70.0)
    };
    let played = play(&script).expect("the scene plays");
    let mut parts = settings.engine().expect("the demo's engine");
    parts.feeds.clear();
    let mut forecaster = parts.forecaster.clone();
    let mut engine = Engine::new(parts, Mode::Replay);
    let mut watch = TurnWatch::new(TurnSettings::default());
    let mut lines = played.lines.iter().peekable();
    let mut steps = Vec::new();
    for second in 1..=TOLD_S + 1 {
        let at = START.plus_seconds(f64::from(second));
        while let Some((when, text)) = lines.next_if(|(when, _)| *when <= at) {
            let feed = if text.starts_with("$PSKWT") {
                "crew"
            } else {
                "instruments"
            };
            let _ = engine.take(Event::Line {
                at: *when,
                feed,
                text,
            });
        }
        if second > TOLD_S {
            let turn = CrewInput::Turn {
                by: degrees(-50.0),
                rate: degrees_per_second(3.0),
                in_s: 20.0,
            };
            let _ = engine.take(Event::Line {
                at,
                feed: "crew",
                text: &encode_crew(&turn, 900),
            });
        }
        let picture = engine.take(Event::Tick { at }).expect("a tick shows");
        let snapshot = picture.snapshot;
        let outlook = watch.outlook(at, &snapshot.vessel, &snapshot.deck);
        steps.push(Step { snapshot, outlook });
    }
    let last = steps.len() - 1;
    for step in &steps[..last] {
        let _ = foresee(&mut forecaster, step);
    }
    (forecaster, steps)
}

fn foresee(forecaster: &mut Forecaster, step: &Step) -> Result<Arc<Forecast>, NoForecast> {
    let Step { snapshot, outlook } = step;
    forecaster.forecast(
        snapshot.at,
        &snapshot.vessel,
        &snapshot.deck,
        outlook,
        Effort::FULL,
    )
}

/// Measures the answer to a new turn intent on so many threads.
fn answer(b: &mut Bencher<'_>, keys: &str, threads: usize) {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
    let pool = pool.expect("threads");
    let (forecaster, steps) = pool.install(|| way(keys));
    let told = steps.last().expect("steps were made");
    let mut answered = forecaster.clone();
    pool.install(|| foresee(&mut answered, told))
        .expect("a forecast to measure");
    b.iter_batched(
        || forecaster.clone(),
        |mut f| pool.install(|| black_box(foresee(&mut f, told))),
        BatchSize::LargeInput,
    );
}

fn forecast(c: &mut Criterion) {
    let mut group = c.benchmark_group("forecast");
    group.sample_size(10);
    group.bench_function(
        "new turn intent: all futures, plan search, fan, limits",
        |b| answer(b, "", 1),
    );
    for futures in [32, 64, 128, 256, 512] {
        group.bench_function(BenchmarkId::new("futures", futures), |b| {
            answer(b, &format!("futures = {futures}"), 1);
        });
    }
    for horizon_s in [60, 120, 240] {
        group.bench_function(BenchmarkId::new("horizon_s", horizon_s), |b| {
            answer(b, &format!("horizon_s = {horizon_s}"), 1);
        });
    }
    for threads in [1, 2, 4] {
        group.bench_function(BenchmarkId::new("threads", threads), |b| {
            answer(b, "", threads);
        });
    }
    group.finish();
}

criterion_group!(benches, forecast);
criterion_main!(benches);
