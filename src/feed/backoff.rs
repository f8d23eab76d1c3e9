//! Pauses between attempts to open a feed.

use std::time::Duration;

const FIRST: Duration = Duration::from_millis(250);
const LONGEST: Duration = Duration::from_secs(15);

/// Doubling pauses from a quarter of a second to 15 s. Never none, so a source that opens and
/// fails at once cannot make us spin; short at first, because a replugged device is back soon.
#[derive(Debug)]
pub(super) struct Backoff {
    next: Duration,
}

impl Backoff {
    pub(super) fn new() -> Self {
        Self { next: FIRST }
    }

    /// The source worked: start again with the shortest pause.
    pub(super) fn reset(&mut self) {
        self.next = FIRST;
    }

    /// The pause before the next attempt.
    pub(super) fn pause(&mut self) -> Duration {
        let pause = self.next;
        self.next = (pause * 2).min(LONGEST);
        pause
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn doubles_up_to_the_longest_and_starts_again() {
        let mut backoff = Backoff::new();
        let pauses: Vec<f64> = (0..8).map(|_| backoff.pause().as_secs_f64()).collect();
        assert_eq!(pauses, [0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 15.0, 15.0]);
        backoff.reset();
        assert_eq!(backoff.pause(), FIRST);
    }
}
