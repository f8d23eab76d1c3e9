//! A token bucket: so many at once, and a steady pace. It knows neither a clock nor what is counted:
//! `now` is the time since some fixed moment.

use std::time::Duration;

/// Burst, and sustained rate.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pace {
    pub burst: f64,
    pub per_s: f64,
}

/// What is left of a pace.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bucket {
    pace: Pace,
    tokens: f64,
    at: Duration,
}

impl Bucket {
    pub fn full(pace: Pace, now: Duration) -> Self {
        Self {
            pace,
            tokens: pace.burst,
            at: now,
        }
    }

    pub fn refill(&mut self, now: Duration) {
        let passed_s = now.saturating_sub(self.at).as_secs_f64();
        self.tokens = (self.tokens + self.pace.per_s * passed_s).min(self.pace.burst);
        self.at = self.at.max(now);
    }

    pub fn is_full(&self) -> bool {
        self.tokens >= self.pace.burst
    }

    /// How long until there is a token; zero when there is one.
    pub fn wait(&self) -> Duration {
        Duration::from_secs_f64(((1.0 - self.tokens) / self.pace.per_s).max(0.0))
    }

    /// Takes a token.
    pub fn take(&mut self) {
        self.tokens -= 1.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_burst_at_once_then_the_steady_pace_and_a_pause_saves_no_more_than_a_burst() {
        let pace = Pace {
            burst: 3.0,
            per_s: 10.0,
        };
        let mut bucket = Bucket::full(pace, Duration::ZERO);
        let mut now = Duration::ZERO;
        let taken_at = |bucket: &mut Bucket, now: &mut Duration| {
            bucket.refill(*now);
            *now += bucket.wait();
            bucket.refill(*now);
            bucket.take();
            now.as_millis()
        };
        // Own arithmetic: three at once, then one each tenth of a second.
        let first: Vec<u128> = (0..5).map(|_| taken_at(&mut bucket, &mut now)).collect();
        assert_eq!(first, [0, 0, 0, 100, 200]);
        now += Duration::from_secs(60);
        let later: Vec<u128> = (0..4).map(|_| taken_at(&mut bucket, &mut now)).collect();
        assert_eq!(later, [60_200, 60_200, 60_200, 60_300]);
    }
}
