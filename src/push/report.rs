//! How telling goes, for state, metrics and log.

use std::sync::Arc;

use tokio::sync::watch;

use crate::engine::Snapshot;
use crate::serve::{OutletKind, OutletNow, OutletState};

/// How telling goes.
#[derive(Debug)]
pub(super) struct Report {
    now: watch::Sender<OutletNow>,
    /// For the time: that of the pictures, by which ages are shown.
    snapshot: watch::Receiver<Arc<Snapshot>>,
    /// The last revision that arrived.
    last: u64,
}

impl Report {
    pub fn new(
        now: OutletNow,
        snapshot: watch::Receiver<Arc<Snapshot>>,
    ) -> (Self, watch::Receiver<OutletNow>) {
        let (now, receiver) = watch::channel(now);
        let report = Self {
            now,
            snapshot,
            last: 0,
        };
        (report, receiver)
    }

    fn works(&self) {
        self.now.send_if_modified(|now| {
            let again = match now.state {
                OutletState::Working => return false,
                OutletState::Beginning => "",
                OutletState::Failing => " again",
            };
            tracing::info!("{} {} takes what it is told{again}", section(now), now.to);
            now.state = OutletState::Working;
            now.cause = None;
            now.failing_since = None;
            true
        });
    }

    /// A revision has arrived.
    pub fn sent(&mut self, revision: u64) {
        self.works();
        let skipped = revision.saturating_sub(self.last + 1);
        self.last = revision;
        self.now.send_modify(|now| {
            now.sent += 1;
            now.skipped += skipped;
        });
    }

    /// A try has failed. The log says so once, and when the cause is another.
    pub fn failed(&self, why: String) {
        let at = self.snapshot.borrow().at;
        self.now.send_modify(|now| {
            if now.state != OutletState::Failing || now.cause.as_ref() != Some(&why) {
                tracing::warn!(
                    "{} {}: {why}. It is tried again and again",
                    section(now),
                    now.to
                );
            }
            now.state = OutletState::Failing;
            now.cause = Some(why);
            now.failing_since.get_or_insert(at);
            now.failed += 1;
        });
    }
}

fn section(now: &OutletNow) -> &'static str {
    match now.kind {
        OutletKind::Webhook => "[webhook]",
        OutletKind::Mqtt => "[mqtt]",
    }
}
