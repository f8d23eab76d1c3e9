//! Wiring shared by every command that shows a page: listener, readers, signals.

use std::net::Ipv4Addr;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{mpsc, watch};
use tokio_util::sync::CancellationToken;

use super::Failure;
use super::join::{Pages, invite};
use crate::access::Access;
use crate::drive::{InForce, Keeper, LogLine, Pace, Replay};
use crate::engine::{Engine, EngineSettings, Mode, Picture, Snapshot};
use crate::logbook::LogbookNow;
use crate::serve::{self, AdvisoryHub, Bind, CrewPost, JournalNow, Sources};
use crate::settings::{ServeSettings, Settings};

/// Crew posts that may wait to be stamped.
const CREW_QUEUE: usize = 32;

/// Changes of settings that may wait for the keeper.
const SETTINGS_QUEUE: usize = 4;

/// At the end a picture that is being made is not waited for longer.
const PARTING: Duration = Duration::from_secs(2);

/// What a page shows and where.
#[derive(Debug)]
pub(super) struct Page {
    pub(super) mode: Mode,
    pub(super) serve: ServeSettings,
    pub(super) engine: EngineSettings,
    /// How what the crew says is kept over a restart.
    pub(super) journal: watch::Receiver<JournalNow>,
    settings: Settings,
}

/// Both ends of the channels between a driver and the page.
pub(super) struct Desk {
    pub(super) sources: Sources,
    pub(super) crew: mpsc::Receiver<CrewPost>,
    pub(super) publish: Box<dyn FnMut(Picture) + Send>,
    pub(super) keeper: Keeper,
}

impl Page {
    pub(super) fn new(settings: &Settings, mode: Mode) -> Result<Self, Failure> {
        Ok(Self {
            mode,
            serve: settings.serve.clone(),
            engine: settings.engine().map_err(Failure::settings)?,
            journal: watch::channel(JournalNow::default()).1,
            settings: settings.clone(),
        })
    }

    /// `file` is where a page's changes of settings are saved; `None` for nowhere.
    pub(super) fn desk(&self, file: Option<PathBuf>, access: Access) -> Desk {
        let (to_readers, snapshot) = watch::channel(Arc::new(Snapshot::blank(self.mode)));
        let (posts, crew) = mpsc::channel(CREW_QUEUE);
        let revisions = AdvisoryHub::new(self.serve.history);
        let hub = revisions.clone();
        let (settings, changes) = mpsc::channel(SETTINGS_QUEUE);
        let (in_force, keeper) = InForce::new(self.settings.clone(), file, changes, posts.clone());
        Desk {
            sources: Sources {
                snapshot,
                revisions,
                crew: posts,
                journal: self.journal.clone(),
                logbook: watch::channel(LogbookNow::default()).1,
                set_up: in_force.set_up(),
                settings,
                recorder: None,
                learnt_trouble: None,
                outlets: Vec::new(),
                encryption: None,
                access,
            },
            crew,
            keeper,
            publish: Box::new(move |picture| {
                if let Some(source) = picture.revised {
                    in_force.revised(source);
                }
                hub.publish(picture.revisions);
                to_readers.send_replace(Arc::new(picture.snapshot));
            }),
        }
    }
}

/// Cancelled by ctrl-c or the service manager.
pub(super) fn shutdown_on_signal() -> Result<CancellationToken, Failure> {
    use tokio::signal::unix::{SignalKind, signal};
    let token = CancellationToken::new();
    // Watched from here on, not from when the task first runs: a signal before that would kill.
    let watch = |kind| {
        signal(kind)
            .map_err(|error| Failure::unavailable(format!("cannot watch for signals: {error}")))
    };
    let mut interrupt = watch(SignalKind::interrupt())?;
    let mut terminate = watch(SignalKind::terminate())?;
    let cancel = token.clone();
    tokio::spawn(async move {
        tokio::select! {
            _ = interrupt.recv() => {}
            _ = terminate.recv() => {}
        }
        tracing::info!("stopping");
        cancel.cancel();
    });
    Ok(token)
}

/// Says on the terminal where the page is.
pub(super) fn announce(pages: Pages, mode: Mode) {
    let what = match mode {
        Mode::Live => "the boat, live",
        Mode::Replay => "a replay, not the sea",
        Mode::Demo => "an invented day, not the sea",
    };
    let mut here = pages.address.ip();
    if here.is_unspecified() {
        here = Ipv4Addr::LOCALHOST.into();
    }
    tracing::info!("page at {} ({what}); stop with ctrl-c", pages.at(here));
}

/// Runs what drives the engine and what serves the pages until `shutdown`. A driver that fails ends
/// both: a page that shows an old picture is worse than none.
pub(super) async fn together(
    driver: impl Future<Output = Result<(), Failure>>,
    server: impl Future<Output = ()>,
    shutdown: &CancellationToken,
) -> Result<(), Failure> {
    let driver = async {
        let ended = driver.await;
        if ended.is_err() {
            shutdown.cancel();
        }
        ended
    };
    let (ended, ()) = tokio::join!(driver, server);
    ended
}

/// Plays `items` at their pace and shows them until a signal. At their end `verdict` says whether
/// reading them succeeded.
pub(super) fn open_page(
    page: Page,
    speed: f64,
    items: impl Iterator<Item = LogLine> + Send + 'static,
    verdict: impl FnOnce() -> Result<(), Failure> + Send + 'static,
) -> Result<(), Failure> {
    super::block_on(async move {
        let listener = serve::bind(Bind::Option(page.serve.bind))
            .await
            .map_err(Failure::unavailable)?;
        let address = listener.local_addr().unwrap_or(page.serve.bind);
        let shutdown = shutdown_on_signal()?;
        let pages = Pages {
            address,
            encrypted: false,
        };
        let access = Access::new(page.serve.locks(address), None);
        announce(pages, page.mode);
        invite(pages, &page.serve, &access, &shutdown);
        let desk = page.desk(None, access);
        tokio::spawn(desk.keeper.run(shutdown.clone()));
        let replay = Replay::new(Engine::new(page.engine, page.mode), Some(desk.crew)).keeping_up();
        let stop = shutdown.clone();
        let mut show = desk.publish;
        let publish = move |mut picture: Picture| {
            picture.snapshot.clock_speed = speed;
            show(picture);
        };
        // Its own thread: a forecast may take a while and must not hold up the page.
        let playing = tokio::task::spawn_blocking(move || -> Result<(), Failure> {
            let runtime = tokio::runtime::Builder::new_current_thread()
                .enable_time()
                .build()
                .map_err(|error| Failure::unavailable(format!("cannot play: {error}")))?;
            let playing = replay.run(items, Pace::Times(speed), stop.clone(), publish);
            runtime.block_on(playing);
            if stop.is_cancelled() {
                return Ok(());
            }
            verdict()?;
            tracing::info!("the log has ended; the page keeps its last picture");
            Ok(())
        });
        let stopping = shutdown.clone();
        let driver = async move {
            let parting = async {
                stopping.cancelled().await;
                tokio::time::sleep(PARTING).await;
            };
            tokio::select! {
                played = playing => {
                    played.map_err(|error| Failure::fault(format!("the player stopped: {error}")))?
                }
                // In the middle of a forecast that nobody will see.
                () = parting => Ok(()),
            }
        };
        let server = serve::run(listener, page.serve, desk.sources, shutdown.clone());
        together(driver, server, &shutdown).await
    })?
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_driver_that_fails_ends_the_pages_too() {
        let shutdown = CancellationToken::new();
        let driver = std::future::ready(Err(Failure::fault("invented")));
        let both = together(driver, shutdown.cancelled(), &shutdown);
        let ended = tokio::time::timeout(Duration::from_secs(5), both).await;
        let failure = ended.expect("both end").unwrap_err();
        assert_eq!(failure.status, super::super::EXIT_FAULT);
    }

    #[tokio::test]
    async fn a_log_that_has_ended_leaves_its_page() {
        let shutdown = CancellationToken::new();
        let both = together(std::future::ready(Ok(())), shutdown.cancelled(), &shutdown);
        tokio::pin!(both);
        let soon = Duration::from_millis(50);
        assert!(tokio::time::timeout(soon, both.as_mut()).await.is_err());
        shutdown.cancel();
        assert!(both.await.is_ok());
    }
}
