//! State shared by all handlers.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use tokio::time::Instant;
use tokio_util::sync::CancellationToken;

use super::counters::Counters;
use super::guesses::Guesses;
use super::said::Said;
use super::seats::{Permits, Seats};
use super::sources::Sources;
use super::state::StateAnswer;
use super::taps::Taps;
use crate::engine::Snapshot;
use crate::launch::{Launch, NoLaunch};
use crate::locker::{Day, RigToday};
use crate::logbook::Season;
use crate::settings::ServeSettings;

/// What was made last: revision of the settings, day, answer.
pub(super) type Last<T> = Option<(u64, Day, Arc<T>)>;

/// Today's rig and the launch as last looked at. One is made at a time.
#[derive(Debug, Default)]
pub(super) struct Looked {
    pub rig: Last<RigToday>,
    pub launch: Last<Result<Launch, NoLaunch>>,
}

/// See [`Looked`].
pub(super) type LastLooked = Arc<tokio::sync::Mutex<Looked>>;

/// State shared by all handlers.
#[derive(Debug)]
pub(super) struct Room {
    pub sources: Sources,
    pub settings: ServeSettings,
    pub counters: Arc<Counters>,
    /// What the crew may undo.
    pub said: Said,
    /// Answers to a plan are taken one at a time, so that the second of two learns of the first.
    pub answering: tokio::sync::Mutex<()>,
    /// Today's rig and the launch, as last looked at.
    pub rig_today: LastLooked,
    /// The days of the logbook counted so far.
    pub season: Arc<Mutex<Season>>,
    pub shutdown: CancellationToken,
    pub permits: Permits,
    pub stream_seats: Arc<Seats>,
    pub taps: Mutex<Taps>,
    /// Wrong codes to join with.
    pub guesses: Mutex<Guesses>,
    pub opened: Instant,
    last_tick_ms: AtomicU64,
}

impl Room {
    pub fn new(settings: ServeSettings, sources: Sources, shutdown: CancellationToken) -> Self {
        Self {
            counters: Arc::default(),
            said: Said::default(),
            answering: tokio::sync::Mutex::default(),
            rig_today: LastLooked::default(),
            season: Arc::default(),
            permits: Permits::new(),
            stream_seats: Seats::new(settings.streams),
            taps: Mutex::new(Taps::new()),
            guesses: Mutex::new(Guesses::new()),
            opened: Instant::now(),
            last_tick_ms: AtomicU64::new(0),
            sources,
            settings,
            shutdown,
        }
    }

    /// The picture of the last tick.
    pub fn snapshot(&self) -> Arc<Snapshot> {
        Arc::clone(&self.sources.snapshot.borrow())
    }

    /// Wall time since the last tick arrived.
    pub fn since_tick(&self) -> Duration {
        self.opened.elapsed().saturating_sub(Duration::from_millis(
            self.last_tick_ms.load(Ordering::Relaxed),
        ))
    }

    /// Seconds by which the last picture is older now than the clock that drives the engine.
    pub fn lag_s(&self) -> f64 {
        self.snapshot().lag_s + self.since_tick().as_secs_f64()
    }

    /// Everything as the API shows it.
    pub fn state(&self) -> StateAnswer {
        StateAnswer::new(&self.snapshot(), &self.sources, self.lag_s())
    }

    /// Notes the wall time of each tick until shutdown.
    pub async fn watch_ticks(self: Arc<Self>) {
        let mut snapshot = self.sources.snapshot.clone();
        loop {
            tokio::select! {
                () = self.shutdown.cancelled() => return,
                changed = snapshot.changed() => {
                    if changed.is_err() {
                        return;
                    }
                    let now_ms = u64::try_from(self.opened.elapsed().as_millis());
                    self.last_tick_ms
                        .store(now_ms.unwrap_or(u64::MAX), Ordering::Relaxed);
                }
            }
        }
    }
}
