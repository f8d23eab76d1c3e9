//! Revisions of the living advisories: one whenever they change, and whenever pictures stop or come
//! again.

use std::sync::Arc;
use std::time::Duration;

use tokio::sync::watch;
use tokio::time::{Instant, timeout_at};

use crate::engine::{LATE_S, Snapshot};
use crate::serve::LivingTold;

/// What there is to tell; `None` before the first picture.
pub(super) type Revisions = watch::Receiver<Option<Arc<Revision>>>;

/// A revision, and when it was made.
#[derive(Debug)]
pub(super) struct Revision {
    told: LivingTold,
    made: Instant,
}

impl Revision {
    /// As it is sent now.
    pub fn now(&self) -> LivingTold {
        LivingTold {
            age_s: self.told.age_s + self.made.elapsed().as_secs_f64(),
            ..self.told.clone()
        }
    }

    pub fn number(&self) -> u64 {
        self.told.revision
    }

    pub fn is_late(&self) -> bool {
        self.told.late
    }
}

/// Makes revisions of the pictures for as long as there are any.
pub(super) async fn follow(
    mut snapshot: watch::Receiver<Arc<Snapshot>>,
    to: watch::Sender<Option<Arc<Revision>>>,
) {
    let mut last = None;
    let mut late_at = None;
    loop {
        let changed = match late_at {
            Some(end) => timeout_at(end, snapshot.changed()).await,
            None => Ok(snapshot.changed().await),
        };
        let now = Arc::clone(&snapshot.borrow_and_update());
        let told = match changed {
            Ok(Err(_)) => return,
            Ok(Ok(())) => {
                let left_s = (LATE_S - now.lag_s).max(0.0);
                late_at = Some(Instant::now() + Duration::from_secs_f64(left_s));
                revised(last.as_ref(), &now, now.lag_s)
            }
            Err(_) => {
                // There will be no later yet, only another picture.
                late_at = None;
                revised(last.as_ref(), &now, LATE_S.max(now.lag_s) + 0.001)
            }
        };
        if let Some(told) = told {
            last = Some(told.clone());
            let made = Instant::now();
            to.send_replace(Some(Arc::new(Revision { told, made })));
        }
    }
}

/// Another revision, if a picture of this age differs from what was told last.
fn revised(last: Option<&LivingTold>, now: &Snapshot, lag_s: f64) -> Option<LivingTold> {
    let late = lag_s > LATE_S;
    let is_the_same = last.is_some_and(|last| {
        let same = last.advisories.iter().zip(&now.advisories);
        last.late == late
            && last.silenced_until == now.silenced_until
            && last.advisories.len() == now.advisories.len()
            && same
                .into_iter()
                .all(|(a, b)| (&a.id, a.revision) == (&b.id, b.revision))
    });
    (!is_the_same).then(|| LivingTold {
        run_began_at: last.map_or(now.at, |last| last.run_began_at),
        revision: last.map_or(0, |last| last.revision) + 1,
        at: now.at,
        age_s: lag_s,
        late,
        silenced_until: now.silenced_until,
        advisories: now.advisories.clone(),
    })
}
