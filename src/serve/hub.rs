//! Revisions of advisories for any number of readers: a bounded history, so that a client that
//! was away can catch up, and a broadcast, so that none waits for another.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{SystemTime, UNIX_EPOCH};

use tokio::sync::broadcast;

use crate::advice::Advisory;

/// Revisions that a reader may lag behind before it is dropped.
const LAG_LIMIT: usize = 64;

/// One revision with its place in the sequence.
#[derive(Debug)]
pub(super) struct Entry {
    /// 1, 2, 3, ... within this run of the program.
    pub number: u64,
    /// The revision.
    pub advisory: Advisory,
}

/// Where a new reader begins.
#[derive(Debug)]
pub(super) enum Start {
    /// No id was given: begin with what lives now.
    Fresh,
    /// The history reaches back to what the reader saw last: these it missed.
    Resumed(Vec<Arc<Entry>>),
    /// The history does not reach back so far; why, in words.
    Gap(String),
}

/// A reader's place: where to begin, the id that stands for "all up to here", what comes next.
#[derive(Debug)]
pub(super) struct Seat {
    pub start: Start,
    pub last_id: String,
    pub next: broadcast::Receiver<Arc<Entry>>,
}

/// Bounded history and broadcast of advisory revisions.
#[derive(Debug, Clone)]
pub struct AdvisoryHub {
    shared: Arc<Shared>,
}

#[derive(Debug)]
struct Shared {
    /// Distinguishes this run from the one before, whose numbers mean something else.
    run: String,
    history: usize,
    past: Mutex<Past>,
    sender: broadcast::Sender<Arc<Entry>>,
}

#[derive(Debug, Default)]
struct Past {
    pictures: u64,
    last: u64,
    entries: VecDeque<Arc<Entry>>,
}

impl AdvisoryHub {
    /// A hub that remembers the last `history` revisions.
    #[must_use]
    pub fn new(history: usize) -> Self {
        let since_epoch = SystemTime::now()
            .duration_since(UNIX_EPOCH)
            .unwrap_or_default();
        Self {
            shared: Arc::new(Shared {
                run: format!("{:x}", since_epoch.as_millis()),
                history,
                past: Mutex::default(),
                sender: broadcast::Sender::new(LAG_LIMIT),
            }),
        }
    }

    /// Sends the revisions of a picture to every reader, in this order. Never blocks.
    pub fn publish(&self, revisions: Vec<Advisory>) {
        let mut past = self.past();
        past.pictures += 1;
        for advisory in revisions {
            past.last += 1;
            let entry = Arc::new(Entry {
                number: past.last,
                advisory,
            });
            past.entries.push_back(Arc::clone(&entry));
            while past.entries.len() > self.shared.history {
                past.entries.pop_front();
            }
            // An error only says that nobody listens.
            let _ = self.shared.sender.send(entry);
        }
    }

    fn past(&self) -> MutexGuard<'_, Past> {
        (self.shared.past.lock()).unwrap_or_else(PoisonError::into_inner)
    }

    /// Pictures since the start.
    #[must_use]
    pub fn pictures(&self) -> u64 {
        self.past().pictures
    }

    /// Revisions published since the start.
    #[must_use]
    pub fn published(&self) -> u64 {
        self.past().last
    }

    /// The event id of a revision.
    pub(super) fn id_of(&self, number: u64) -> String {
        format!("{}-{number}", self.shared.run)
    }

    /// Subscribes a reader that last saw `last_event_id`, without a gap or a repetition.
    pub(super) fn seat(&self, last_event_id: Option<&str>) -> Seat {
        let past = self.past();
        let start = match last_event_id {
            None => Start::Fresh,
            Some(id) => self.resume(&past, id),
        };
        Seat {
            start,
            last_id: self.id_of(past.last),
            next: self.shared.sender.subscribe(),
        }
    }

    fn resume(&self, past: &Past, id: &str) -> Start {
        let Some((run, number)) = id
            .rsplit_once('-')
            .and_then(|(run, number)| Some((run, number.parse::<u64>().ok()?)))
        else {
            return Start::Gap("the last event id is none of ours".to_owned());
        };
        if run != self.shared.run || number > past.last {
            return Start::Gap("skimwatch was started anew since".to_owned());
        }
        let oldest = past.entries.front().map_or(past.last + 1, |e| e.number);
        if number + 1 < oldest {
            return Start::Gap(format!(
                "{} revisions came since, the history keeps {}",
                past.last - number,
                self.shared.history
            ));
        }
        Start::Resumed(
            past.entries
                .iter()
                .filter(|e| e.number > number)
                .cloned()
                .collect(),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::advice::{AlertState, Kind, Priority};
    use crate::time::Millis;

    fn revision(revision: u32) -> Advisory {
        Advisory {
            id: "off-corner-1".to_owned(),
            revision,
            at: Millis(0),
            kind: Kind::OffCorner,
            priority: Priority::Caution,
            state: AlertState::ActiveUnacknowledged,
            raised_at: Millis(0),
            onset_at: None,
            countdown_s: 0.0,
            chance: None,
            chance_with_plan: None,
            chance_basis: String::new(),
            title: String::new(),
            cause: String::new(),
            turn_at: None,
            actions: Vec::new(),
            without_action: String::new(),
            unwatched_since: None,
            outcome: None,
        }
    }

    fn numbers(start: &Start) -> Vec<u64> {
        match start {
            Start::Resumed(entries) => entries.iter().map(|e| e.number).collect(),
            other => panic!("expected a resumed seat, got {other:?}"),
        }
    }

    #[test]
    fn a_reader_catches_up_exactly() {
        let hub = AdvisoryHub::new(3);
        hub.publish((1..=5).map(revision).collect());
        assert_eq!((hub.pictures(), hub.published()), (1, 5));
        assert_eq!(numbers(&hub.seat(Some(&hub.id_of(3))).start), [4, 5]);
        assert_eq!(numbers(&hub.seat(Some(&hub.id_of(2))).start), [3, 4, 5]);
        assert!(numbers(&hub.seat(Some(&hub.id_of(5))).start).is_empty());
    }

    #[test]
    fn a_history_that_no_longer_reaches_back_says_so() {
        let hub = AdvisoryHub::new(3);
        hub.publish((1..=5).map(revision).collect());
        for id in [
            hub.id_of(1),
            hub.id_of(0),
            hub.id_of(6),
            "4".into(),
            "x-4".into(),
        ] {
            let seat = hub.seat(Some(&id));
            assert!(
                matches!(seat.start, Start::Gap(_)),
                "{id}: {:?}",
                seat.start
            );
            assert_eq!(seat.last_id, hub.id_of(5));
        }
        assert!(matches!(hub.seat(None).start, Start::Fresh));
    }

    #[test]
    fn publishing_never_waits_for_a_reader() {
        let hub = AdvisoryHub::new(2);
        let mut seat = hub.seat(None);
        hub.publish((0..1000).map(revision).collect());
        assert!(matches!(
            seat.next.try_recv(),
            Err(broadcast::error::TryRecvError::Lagged(_))
        ));
    }
}
