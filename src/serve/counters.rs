//! What the HTTP room counts about itself.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};
use std::sync::{Mutex, PoisonError};

use super::taps::Whose;

/// Which event stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum StreamKind {
    Advisories,
    State,
}

/// Why a connection was closed for want of seats.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Want {
    Displaced,
    Full,
}

/// What the HTTP room counts about itself.
#[derive(Debug, Default)]
pub(super) struct Counters {
    pub requests: Mutex<BTreeMap<(String, u16), u64>>,
    pub busy: AtomicU64,
    pub advisory_readers: AtomicI64,
    pub state_readers: AtomicI64,
    pub revisions_handed: AtomicU64,
    pub states_handed: AtomicU64,
    pub streams_refused: AtomicU64,
    pub lagged: AtomicU64,
    pub stalled: AtomicU64,
    pub streams_displaced: AtomicU64,
    pub connections_displaced: AtomicU64,
    pub connections_full: AtomicU64,
    pub handshakes_failed: AtomicU64,
    pub client_too_fast: AtomicU64,
    pub all_too_fast: AtomicU64,
    pub crew_taken: AtomicU64,
    pub crew_refused: AtomicU64,
}

impl Counters {
    pub fn answered(&self, route: &str, status: u16) {
        *self
            .requests
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .entry((route.to_owned(), status))
            .or_default() += 1;
    }

    pub fn turned_away(&self) {
        self.busy.fetch_add(1, Ordering::Relaxed);
    }

    pub fn stream_opened(&self, kind: StreamKind) {
        self.readers(kind).fetch_add(1, Ordering::Relaxed);
    }

    pub fn stream_closed(&self, kind: StreamKind) {
        self.readers(kind).fetch_sub(1, Ordering::Relaxed);
    }

    pub fn readers(&self, kind: StreamKind) -> &AtomicI64 {
        match kind {
            StreamKind::Advisories => &self.advisory_readers,
            StreamKind::State => &self.state_readers,
        }
    }

    pub fn handed(&self, kind: StreamKind) -> &AtomicU64 {
        match kind {
            StreamKind::Advisories => &self.revisions_handed,
            StreamKind::State => &self.states_handed,
        }
    }

    pub fn event_handed(&self, kind: StreamKind) {
        self.handed(kind).fetch_add(1, Ordering::Relaxed);
    }

    pub fn stream_refused(&self) {
        self.streams_refused.fetch_add(1, Ordering::Relaxed);
    }

    pub fn reader_lagged(&self) {
        self.lagged.fetch_add(1, Ordering::Relaxed);
    }

    pub fn client_stalled(&self) {
        self.stalled.fetch_add(1, Ordering::Relaxed);
    }

    pub fn stream_displaced(&self) {
        self.streams_displaced.fetch_add(1, Ordering::Relaxed);
    }

    pub fn connection_closed(&self, want: Want) {
        let counter = match want {
            Want::Displaced => &self.connections_displaced,
            Want::Full => &self.connections_full,
        };
        counter.fetch_add(1, Ordering::Relaxed);
    }

    pub fn handshake_failed(&self) {
        self.handshakes_failed.fetch_add(1, Ordering::Relaxed);
    }

    pub fn too_fast(&self, whose: Whose) {
        let counter = match whose {
            Whose::Client => &self.client_too_fast,
            Whose::All => &self.all_too_fast,
        };
        counter.fetch_add(1, Ordering::Relaxed);
    }

    pub fn crew_input(&self, taken: bool) {
        let counter = if taken {
            &self.crew_taken
        } else {
            &self.crew_refused
        };
        counter.fetch_add(1, Ordering::Relaxed);
    }
}
