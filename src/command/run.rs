//! `skimwatch run`: the daemon.

use std::path::Path;

use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::mpsc;

use super::join::{Pages, invite, own_addresses};
use super::page::{Page, announce, shutdown_on_signal, together};
use super::{Failure, service};
use crate::access::Access;
use crate::drive::{Journal, LearntFile, Live, send_alerts};
use crate::engine::{Engine, Mode};
use crate::feed;
use crate::logbook::Logbook;
use crate::push::Outlets;
use crate::record::Recorder;
use crate::serve::{self, Bind};
use crate::settings::{self, AlertSettings, LengthUnit, Settings};
use crate::tls::{Encryption, Names};

/// Sentences that may wait to be stamped.
const ARRIVALS: usize = 1024;

pub(super) fn run(path: &Path) -> Result<(), Failure> {
    let settings = settings::load(path).map_err(Failure::settings)?;
    settings
        .needs_feeds(&path.display().to_string())
        .map_err(Failure::settings)?;
    super::block_on(daemon(settings, path))?
}

async fn daemon(settings: Settings, path: &Path) -> Result<(), Failure> {
    let listener = serve::bind(Bind::Settings(settings.serve.bind))
        .await
        .map_err(Failure::unavailable)?;
    let address = listener.local_addr().unwrap_or(settings.serve.bind);
    let shutdown = shutdown_on_signal()?;
    survive_size_limit()?;
    settings::clear_up_after_save(path);
    let names = {
        let (mdns_name, names) = (
            settings.serve.mdns_name.clone(),
            settings.serve.names.clone(),
        );
        move || Names::new(&mdns_name, &names, own_addresses(address.ip()))
    };
    let encryption = Encryption::open(
        &settings.serve.tls,
        &settings.tls_file(path),
        names,
        shutdown.clone(),
    )
    .map_err(Failure::unavailable)?;
    let pages = Pages {
        address,
        encrypted: encryption.is_some(),
    };
    let access = Access::new(
        settings.serve.locks(address),
        Some(settings.phones_file(path)),
    );
    // The console's key lies there now: whoever has read this can use it.
    announce(pages, Mode::Live);
    invite(pages, &settings.serve, &access, &shutdown);

    let mut page = Page::new(&settings, Mode::Live)?;
    let learnt = settings
        .learnt_file
        .clone()
        .and_then(|path| LearntFile::open(path, &mut page.engine.forecaster));
    let journal = Journal::open(
        settings.journal_file(path),
        &settings.restart,
        page.engine.lines_out,
        page.engine.crew_feeds.clone(),
    );
    page.journal = journal.report();
    let recorder = settings.record.clone().map(Recorder::start);
    let logbook = Logbook::start(
        settings.logbook_file(path),
        settings.logbook.max_bytes(),
        page.engine.crew_feeds.clone(),
    );
    let mut desk = page.desk(Some(path.to_owned()), access);
    desk.sources.logbook = logbook.report();
    desk.sources.recorder = recorder.as_ref().map(Recorder::report);
    desk.sources.learnt_trouble = learnt.as_ref().map(LearntFile::trouble);
    let outlets = Outlets::start(
        settings.webhook.as_ref(),
        settings.mqtt.as_ref(),
        &desk.sources.snapshot,
        &shutdown,
    );
    desk.sources.outlets = outlets.reports.clone();
    if let Some((encryption, keeping)) = encryption {
        desk.sources.encryption = Some(encryption);
        tokio::spawn(keeping);
    }
    tokio::spawn(desk.keeper.run(shutdown.clone()));
    let (to_stamper, arrivals) = mpsc::channel(ARRIVALS);
    let mut feeds = Vec::new();
    let commands = settings.alerts.as_ref().map(|alerts| {
        let in_feet = settings.units.length == LengthUnit::Feet;
        let (snapshot, crew) = (desk.sources.snapshot.clone(), desk.sources.crew.clone());
        send_alerts(alerts, in_feet, snapshot, crew, shutdown.clone())
    });
    for feed in &settings.feeds {
        let mut arrivals = to_stamper.clone();
        let answers = |alerts: &AlertSettings| alerts.feed.as_ref() == Some(&feed.name);
        if settings.alerts.as_ref().is_some_and(answers)
            && let Some(commands) = &commands
        {
            let (heard, from) = mpsc::channel(ARRIVALS);
            tokio::spawn(
                commands
                    .clone()
                    .listen(from, std::mem::replace(&mut arrivals, heard)),
            );
        }
        feeds.push(feed::spawn(feed.clone(), arrivals, shutdown.clone()));
    }
    drop(to_stamper);
    let live = Live {
        arrivals,
        crew: desk.crew,
        learnt,
        recorder,
        journal: Some(journal),
        logbook: Some(logbook),
        reports: feeds
            .iter()
            .map(|feed| (feed.name.clone(), feed.report.clone()))
            .collect(),
        shutdown: shutdown.clone(),
    };
    let engine = Engine::new(page.engine, Mode::Live);
    let reporting = tokio::spawn(service::report(
        desk.sources.snapshot.clone(),
        shutdown.clone(),
    ));
    let running = tokio::spawn(live.run(engine, desk.publish));
    let driver = async {
        match running.await {
            Ok(ended) => ended.map_err(Failure::fault),
            Err(error) => Err(Failure::fault(format!("the driver stopped: {error}"))),
        }
    };
    let server = serve::run(listener, page.serve, desk.sources, shutdown.clone());
    let ended = together(driver, server, &shutdown).await;
    outlets.end().await;
    // Its last word; had it died, there would be none to wait for.
    let _ = reporting.await;
    ended
}

/// Lets a file that reaches the limit on file sizes (`RLIMIT_FSIZE`) be an error of writing like any
/// other: the system's signal for it would end the program without a word.
fn survive_size_limit() -> Result<(), Failure> {
    // Taken over once, it stays so, listened to or not.
    signal(SignalKind::from_raw(libc::SIGXFSZ))
        .map(drop)
        .map_err(|error| Failure::unavailable(format!("cannot watch for signals: {error}")))
}
