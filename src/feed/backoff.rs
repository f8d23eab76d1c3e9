//! Pauses between attempts to reach something.

use std::time::Duration;

const FIRST: Duration = Duration::from_millis(250);

/// Longest pause before a serial port, file or UDP port is tried again.
pub(super) const LONGEST: Duration = Duration::from_secs(15);

/// Longest pause before a TCP server is called again: a gateway that has come back must be read
/// within 5 s, and a connection attempt costs the network next to nothing.
pub(super) const LONGEST_TCP: Duration = Duration::from_secs(2);

/// Exponential backoff: pauses double from a quarter of a second to the longest. Never zero, so a
/// source that opens and fails at once cannot cause a busy loop; short at first, because a device
/// that was replugged is back soon.
#[derive(Debug)]
pub struct Backoff {
    next: Duration,
    longest: Duration,
}

impl Backoff {
    /// Begins with the shortest pause.
    #[must_use]
    pub fn new(longest: Duration) -> Self {
        Self {
            next: FIRST,
            longest,
        }
    }

    /// The source worked: start again with the shortest pause.
    pub fn reset(&mut self) {
        self.next = FIRST;
    }

    /// The pause before the next attempt.
    pub fn pause(&mut self) -> Duration {
        let pause = self.next;
        self.next = (pause * 2).min(self.longest);
        pause
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn doubles_up_to_the_longest_and_starts_again() {
        let pauses = |longest| {
            let mut backoff = Backoff::new(longest);
            let pauses: Vec<f64> = (0..8).map(|_| backoff.pause().as_secs_f64()).collect();
            backoff.reset();
            assert_eq!(backoff.pause(), FIRST);
            pauses
        };
        assert_eq!(pauses(LONGEST), [0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 15.0, 15.0]);
        assert_eq!(
            pauses(LONGEST_TCP),
            [0.25, 0.5, 1.0, 2.0, 2.0, 2.0, 2.0, 2.0]
        );
    }
}
