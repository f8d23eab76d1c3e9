//! Where the time goes: two invented days through the engine on one core, and the share of each
//! phase. `cargo bench --bench profile` prints the table; with `-- --json FILE` it also writes it,
//! and `-- --days DIR` only writes the two days as recordings.
//!
//! The phases are the spans of the program (level trace, which costs nothing while nobody listens).
//! A phase's time is its own, without the phases in it.

use std::collections::BTreeMap;
use std::fmt;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use axum::Router;
use axum::body::Body;
use axum::http::{Request, header};
use serde_json::{Value, json};
use skimwatch::engine::{Engine, Event as Input, Mode, Snapshot};
use skimwatch::feed::{FeedName, RawSentence};
use skimwatch::logbook::LogbookNow;
use skimwatch::record::recorded_line;
use skimwatch::scene::{Gusts, Instruments, Script, demo_day, play};
use skimwatch::serve::{self, AdvisoryHub, JournalNow, Sources};
use skimwatch::settings::{self, Kept, Settings};
use skimwatch::time::Millis;
use tokio::sync::{mpsc, watch};
use tokio_util::sync::CancellationToken;
use tower::ServiceExt;
use tracing::field::{Field, Visit};
use tracing::span::{Attributes, Id, Record};
use tracing::{Event, Metadata, Subscriber};

const DEMO: &str = include_str!("../../config/demo.toml");
/// Invented.
const START: Millis = Millis(1_780_300_800_000);

/// Phases in the order of the table, with what each is. The names in the middle are spans.
const PHASES: [(&str, &str); 9] = [
    (
        "sentences",
        "decode, vessel, turn: what every sentence costs",
    ),
    ("filter", "particles brought to the present and weighed"),
    ("futures", "every future run to the horizon"),
    ("plan", "corrections searched and judged"),
    ("fan", "settled states on all headings"),
    ("limits", "greatest turn rates"),
    (
        "forecast",
        "the rest of a forecast: draws, bands, chances, views",
    ),
    ("picture", "snapshot and advisories"),
    ("json", "state and forecast as JSON for one phone"),
];

/// Sums own times by span, and the effort of the runs.
#[derive(Debug, Default)]
struct Clockwork {
    within: Mutex<Within>,
    runs: AtomicU64,
    steps: AtomicU64,
    newton_steps: AtomicU64,
}

/// Spans are entered on one thread only; the rig's runs, on any, are events.
#[derive(Debug, Default)]
struct Within {
    names: Vec<&'static str>,
    open: Vec<(usize, Instant, Duration)>,
    own: BTreeMap<&'static str, Duration>,
}

/// The clockwork as the program's subscriber.
struct Listener(Arc<Clockwork>);

impl Subscriber for Listener {
    fn enabled(&self, metadata: &Metadata<'_>) -> bool {
        metadata.target().starts_with("skimwatch::")
    }

    fn new_span(&self, attributes: &Attributes<'_>) -> Id {
        let mut within = self.0.lock();
        let name = attributes.metadata().name();
        let known = within.names.iter().position(|known| *known == name);
        let index = known.unwrap_or_else(|| {
            within.names.push(name);
            within.names.len() - 1
        });
        Id::from_u64(index as u64 + 1)
    }

    fn enter(&self, id: &Id) {
        let index = id.into_u64() as usize - 1;
        let mut within = self.0.lock();
        within.open.push((index, Instant::now(), Duration::ZERO));
    }

    fn exit(&self, _: &Id) {
        let mut within = self.0.lock();
        let Some((index, since, others)) = within.open.pop() else {
            return;
        };
        let whole = since.elapsed();
        let name = within.names[index];
        *within.own.entry(name).or_default() += whole.saturating_sub(others);
        if let Some((.., others)) = within.open.last_mut() {
            *others += whole;
        }
    }

    fn event(&self, event: &Event<'_>) {
        event.record(&mut Effort(&self.0));
    }

    fn record(&self, _: &Id, _: &Record<'_>) {}
    fn record_follows_from(&self, _: &Id, _: &Id) {}
}

/// Reads the event of a run.
struct Effort<'a>(&'a Clockwork);

impl Visit for Effort<'_> {
    fn record_u64(&mut self, field: &Field, value: u64) {
        match field.name() {
            "steps" => {
                self.0.runs.fetch_add(1, Ordering::Relaxed);
                self.0.steps.fetch_add(value, Ordering::Relaxed);
            }
            "newton_steps" => {
                self.0.newton_steps.fetch_add(value, Ordering::Relaxed);
            }
            _ => {}
        }
    }

    fn record_debug(&mut self, _: &Field, _: &dyn fmt::Debug) {}
}

impl Clockwork {
    fn lock(&self) -> std::sync::MutexGuard<'_, Within> {
        self.within.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Own times of all spans so far.
    fn spent(&self) -> Duration {
        self.lock().own.values().sum()
    }

    fn reset(&self) {
        *self.lock() = Within::default();
        for count in [&self.runs, &self.steps, &self.newton_steps] {
            count.store(0, Ordering::Relaxed);
        }
    }
}

/// The pages' server without a socket, and where it is shown pictures.
struct Page {
    app: Router,
    tick: watch::Sender<Arc<Snapshot>>,
    runtime: tokio::runtime::Runtime,
    _kept: Box<dyn std::any::Any>,
}

impl Page {
    fn new(settings: &Settings) -> Self {
        let (tick, snapshot) = watch::channel(Arc::new(Snapshot::blank(Mode::Replay)));
        let (crew, posts) = mpsc::channel(1);
        let (changes, keeper) = mpsc::channel(1);
        let (set_up, shown) = watch::channel(Arc::new(settings.set_up(Kept::Memory)));
        let sources = Sources {
            snapshot,
            revisions: AdvisoryHub::new(16),
            crew,
            journal: watch::channel(JournalNow::default()).1,
            logbook: watch::channel(LogbookNow::default()).1,
            set_up: shown,
            settings: changes,
            recorder: None,
            learnt_trouble: None,
            outlets: Vec::new(),
            encryption: None,
            access: skimwatch::access::Access::open(),
        };
        Self {
            app: serve::app(settings.serve.clone(), sources, CancellationToken::new()),
            tick,
            runtime: tokio::runtime::Builder::new_current_thread()
                .enable_all()
                .build()
                .expect("a runtime"),
            _kept: Box::new((posts, keeper, set_up)),
        }
    }

    /// Bytes of one answer.
    fn get(&self, path: &str) -> usize {
        let request = Request::get(path)
            .header(header::HOST, "127.0.0.1:8477")
            .body(Body::empty())
            .expect("a request");
        self.runtime.block_on(async {
            let answer = self.app.clone().oneshot(request).await.expect("infallible");
            assert!(answer.status().is_success(), "{path}: {}", answer.status());
            let body = axum::body::to_bytes(answer.into_body(), 4 << 20).await;
            body.expect("a whole body").len()
        })
    }
}

/// A straight course in the wind of the demo's day, with what a quiet crew reports.
fn calm_day(settings: &Settings) -> Script {
    Script {
        gusts: Gusts::OF_THE_DEMO,
        instruments: Instruments::default(),
        bait_reports_every_s: Some(120.0),
        ..Script::straight(START, settings.rig.parameters.clone(), 720.0)
    }
}

/// Plays a day and gives what it cost.
fn profile(clockwork: &Clockwork, settings: &Settings, script: &Script) -> Value {
    let played = play(script).expect("the day plays");
    let mut parts = settings.engine().expect("the demo's engine");
    parts.feeds.clear();
    let mut engine = Engine::new(parts, Mode::Replay);
    let page = Page::new(settings);
    let mut lines = played.lines.iter().peekable();
    let (mut hearing, mut writing) = (Duration::ZERO, Duration::ZERO);
    let (mut pictures, mut forecasts, mut heard, mut bytes) = (0_u32, 0_u32, 0_u32, 0);
    clockwork.reset();
    let mut last_made = None;
    for second in 1..=(script.duration_s as u32) {
        let tick = script.start.plus_seconds(f64::from(second));
        let mut wanted = Vec::new();
        while let Some((when, text)) = lines.next_if(|(when, _)| *when <= tick) {
            let feed = if text.starts_with("$PSKWT") {
                "crew"
            } else {
                "instruments"
            };
            let (begun, before) = (Instant::now(), clockwork.spent());
            if engine.hear(*when, feed, text) {
                wanted.push(*when);
            }
            // What a report of the crew sets off in the filter is the filter's.
            hearing += begun.elapsed() - (clockwork.spent() - before);
            heard += 1;
        }
        // As the daemon does, one picture of all that has been heard.
        let at = wanted.last().copied().filter(|at| *at < tick);
        for at in at.into_iter().chain([tick]) {
            let picture = engine.take(Input::Tick { at }).expect("a tick shows");
            pictures += 1;
            let made = picture.snapshot.forecast.as_ref().ok().map(|f| f.made_at);
            page.tick.send_replace(Arc::new(picture.snapshot));
            let begun = Instant::now();
            bytes += page.get("/v1/state");
            if made != last_made {
                forecasts += u32::from(made.is_some());
                last_made = made;
                bytes += page.get("/v1/forecast");
            }
            writing += begun.elapsed();
        }
    }
    let mut own = std::mem::take(&mut clockwork.lock().own);
    own.insert("sentences", hearing);
    own.insert("json", writing);
    let whole: Duration = own.values().sum();
    let share = |name| own.get(name).map_or(0.0, Duration::as_secs_f64) / whole.as_secs_f64();
    let per = |count: &AtomicU64, by: u64| count.load(Ordering::Relaxed) as f64 / by.max(1) as f64;
    let runs = clockwork.runs.load(Ordering::Relaxed);
    json!({
        "seconds": script.duration_s,
        "cpu_s": whole.as_secs_f64(),
        "sentences": heard,
        "pictures": pictures,
        "forecasts": forecasts,
        "runs_a_forecast": per(&clockwork.runs, u64::from(forecasts)),
        "steps_a_run": per(&clockwork.steps, runs),
        "newton_steps_a_run": per(&clockwork.newton_steps, runs),
        "json_bytes_a_picture": bytes / pictures.max(1) as usize,
        "share": PHASES.iter().map(|(name, _)| (*name, share(name))).collect::<BTreeMap<_, _>>(),
    })
}

/// A day as a recording.
fn recording(script: &Script) -> String {
    let played = play(script).expect("the day plays");
    let instruments = FeedName::new("instruments").expect("a name");
    let lines = played.lines.into_iter().map(|(at, line)| {
        let crew = line.starts_with("$PSKWT").then(FeedName::crew);
        let feed = crew.unwrap_or_else(|| instruments.clone());
        recorded_line(at, feed.as_str(), &RawSentence::own(line))
    });
    lines.collect()
}

/// What follows a word of the command line.
fn after(word: &str) -> Option<String> {
    let mut words = std::env::args().skip_while(|given| given != word);
    words.next()?;
    Some(words.next().expect("a path after the word"))
}

fn main() {
    // One core, so that times add up to the whole.
    rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build_global()
        .expect("the first pool");
    let clockwork = Arc::new(Clockwork::default());
    tracing::subscriber::set_global_default(Listener(Arc::clone(&clockwork)))
        .expect("the first subscriber");
    let settings = settings::parse(DEMO, "config/demo.toml").expect("the demo's settings");
    let demo = demo_day(START, &settings.rig.parameters).expect("the demo's day");
    let scripts = [("turn-rich", demo), ("calm", calm_day(&settings))];
    if let Some(folder) = after("--days") {
        for (name, script) in &scripts {
            let path = std::path::Path::new(&folder).join(format!("{name}.nmea"));
            std::fs::write(path, recording(script)).expect("the folder can be written");
        }
        return;
    }
    let days = scripts.map(|(name, script)| (name, profile(&clockwork, &settings, &script)));
    println!("| | {} | {} |\n|---|---|---|", days[0].0, days[1].0);
    for (name, what) in PHASES {
        let shares = days.each_ref().map(|(_, day)| day["share"][name].as_f64());
        let [a, b] = shares.map(|share| 100.0 * share.unwrap_or(0.0));
        println!("| {what} | {a:.1} % | {b:.1} % |");
    }
    for (key, what, digits) in [
        ("cpu_s", "seconds on one core for 720 s", 1),
        ("forecasts", "forecasts", 0),
        ("runs_a_forecast", "runs of the rig a forecast", 0),
        ("steps_a_run", "time steps a run", 0),
        ("newton_steps_a_run", "Newton steps a run", 0),
        ("json_bytes_a_picture", "bytes of JSON a picture", 0),
    ] {
        let [a, b] = days.each_ref().map(|(_, day)| day[key].as_f64());
        let [a, b] = [a, b].map(Option::unwrap_or_default);
        println!("| {what} | {a:.digits$} | {b:.digits$} |");
    }
    if let Some(path) = after("--json") {
        let all: BTreeMap<_, _> = days.into_iter().collect();
        let text = serde_json::to_string_pretty(&all).expect("plain values");
        std::fs::write(path, text).expect("the file can be written");
    }
}
