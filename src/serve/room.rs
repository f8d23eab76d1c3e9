//! What every handler shares.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use tokio::sync::Semaphore;
use tokio::time::Instant;
use tokio_util::sync::CancellationToken;

use super::metrics::Counters;
use super::said::Said;
use super::settings::ServeSettings;
use super::sources::Sources;
use super::state::StateAnswer;
use crate::engine::Snapshot;

/// Ordinary requests at work at once.
const REQUEST_PERMITS: usize = 16;

/// What every handler shares.
#[derive(Debug)]
pub(super) struct Room {
    pub sources: Sources,
    pub settings: ServeSettings,
    pub counters: Arc<Counters>,
    /// What the crew may take back.
    pub said: Said,
    /// Answers are taken one at a time: of two at once the second is to hear of the first.
    pub answering: tokio::sync::Mutex<()>,
    pub shutdown: CancellationToken,
    pub permits: Semaphore,
    pub stream_seats: Arc<Semaphore>,
    opened: Instant,
    last_tick_ms: AtomicU64,
}

impl Room {
    pub fn new(settings: ServeSettings, sources: Sources, shutdown: CancellationToken) -> Self {
        Self {
            counters: Arc::default(),
            said: Said::default(),
            answering: tokio::sync::Mutex::default(),
            permits: Semaphore::new(REQUEST_PERMITS),
            stream_seats: Arc::new(Semaphore::new(settings.streams)),
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

    /// A picture as the API shows it.
    pub fn state(&self, snapshot: &Snapshot) -> StateAnswer {
        StateAnswer::new(
            snapshot,
            &self.sources.set_up.borrow(),
            &self.sources.journal.borrow(),
        )
    }

    /// Seconds on the wall since the last tick arrived.
    pub fn since_tick(&self) -> Duration {
        self.opened.elapsed().saturating_sub(Duration::from_millis(
            self.last_tick_ms.load(Ordering::Relaxed),
        ))
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
