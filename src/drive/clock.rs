//! The two clocks: the system's, and the one that stamps live input.

use std::time::{Instant, SystemTime, UNIX_EPOCH};

use crate::time::Millis;

/// What the system's clock says.
pub(super) fn wall() -> Millis {
    let since = SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .unwrap_or_default();
    Millis(i64::try_from(since.as_millis()).unwrap_or_default())
}

/// The system's time at the start, carried on by the monotonic clock: a boat computer without a
/// clock battery has its time set (often by hours, either way) when the GNSS wakes up, and
/// neither a forecast nor an age may jump with it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Clock {
    wall: Millis,
    since: Instant,
}

impl Clock {
    pub fn start() -> Self {
        Self {
            wall: wall(),
            since: Instant::now(),
        }
    }

    pub fn now(&self) -> Millis {
        let passed = i64::try_from(self.since.elapsed().as_millis()).unwrap_or(i64::MAX);
        Millis(self.wall.0.saturating_add(passed))
    }
}
