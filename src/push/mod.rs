//! Push: other devices aboard are told what happens, where the settings name them.
//!
//! In: the pictures, and the sections `[webhook]` and `[mqtt]`. Out: posts to a device, messages to a
//! broker, and how that goes. It must not know how an advisory is raised, and obeys nothing that it
//! is answered.
//!
//! # Webhook
//!
//! One JSON POST ([`crate::serve::LivingTold`]; in the OpenAPI document under `webhooks`) for every
//! revision of the living advisories: one comes, changes or ends, sound is silenced, or pictures stop
//! or come again (`late`). The first is sent at the start, so that a lamp of an earlier run goes out.
//!
//! # Topics
//!
//! MQTT 3.1.1, QoS 1, retained, below the prefix of the settings:
//!
//! | topic | payload |
//! |---|---|
//! | `availability` | `online`; `late` while pictures do not come; `offline` at the end, also as last will |
//! | `advisories` | JSON, as the webhook posts it |
//! | `numbers` | JSON ([`crate::serve::NumbersTold`]), at most every `numbers_s` |
//!
//! # Decisions
//!
//! - **The latest counts.** The queue is one revision long: while one is under way or fails, later
//!   ones take each other's place. Each says its revision, time and age, so nothing old passes for
//!   new, even if a device takes a post whose answer was lost.
//! - **Only aboard.** Neither way is encrypted, so neither leaves the boat's own network: addresses are
//!   checked in the settings, and again after each look-up of a name.
//! - **Nobody waits.** Each way has a task of its own that reads the pictures; neither engine nor
//!   pages know of it.
//! - **Client id.** It is made of the prefix and always the same, so that a broker ends the session
//!   of a killed run, with its last will, before it answers the next run. With an id of its own the
//!   old will would come after the new `online`.
//! - **The MQTT crate** is rumqttc without TLS: pure Rust on the runtime that is there, and the one
//!   client of the registry that is both kept up and used widely.

mod living;
mod mqtt;
mod place;
mod report;
mod secret;
mod webhook;

use std::sync::Arc;
use std::time::Duration;

use tokio::sync::watch;
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

use crate::engine::Snapshot;
use crate::serve::{OutletKind, OutletNow};
use crate::settings::{MqttSettings, WebhookSettings};
use mqtt::Publisher;
use report::Report;
use webhook::Webhook;

pub use mqtt::try_out as try_broker;
pub use webhook::try_out as try_webhook;

/// At the end a broker is not waited for longer.
const PARTING: Duration = Duration::from_secs(1);

/// Whoever is told.
#[derive(Debug)]
pub struct Outlets {
    /// How it goes.
    pub reports: Vec<watch::Receiver<OutletNow>>,
    tasks: TaskTracker,
}

impl Outlets {
    /// Tells everybody of the settings until shutdown.
    #[must_use]
    pub fn start(
        webhook: Option<&WebhookSettings>,
        mqtt: Option<&MqttSettings>,
        snapshot: &watch::Receiver<Arc<Snapshot>>,
        shutdown: &CancellationToken,
    ) -> Self {
        let (to, revisions) = watch::channel(None);
        let tasks = TaskTracker::new();
        let mut reports = Vec::new();
        let mut report = |kind, to: String| {
            let (report, now) = Report::new(OutletNow::new(kind, to), snapshot.clone());
            reports.push(now);
            report
        };
        if let Some(settings) = webhook {
            let report = report(OutletKind::Webhook, settings.to.to_string());
            let posting = Webhook::new(settings.clone(), revisions.clone(), report).run();
            let shutdown = shutdown.clone();
            tasks.spawn(async move { shutdown.run_until_cancelled(posting).await });
        }
        if let Some(settings) = mqtt {
            let report = report(OutletKind::Mqtt, settings.broker.to_string());
            let (settings, revisions) = (settings.clone(), revisions.clone());
            let publisher = Publisher::new(settings, revisions, snapshot.clone(), report);
            tasks.spawn(publisher.run(shutdown.clone()));
        }
        if !reports.is_empty() {
            let (snapshot, shutdown) = (snapshot.clone(), shutdown.clone());
            let following = living::follow(snapshot, to);
            // The publisher says good-bye itself.
            tokio::spawn(async move { shutdown.run_until_cancelled(following).await });
        }
        tasks.close();
        Self { reports, tasks }
    }

    /// Waits, after the shutdown, until the broker knows of it.
    pub async fn end(self) {
        let _ = tokio::time::timeout(PARTING, self.tasks.wait()).await;
    }
}
