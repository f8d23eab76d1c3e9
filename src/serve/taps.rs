//! Rate limit of posts: each client, and all together. No crew comes near it in normal use; it keeps
//! a runaway phone from flooding recording and forecast.

use std::collections::BTreeMap;
use std::time::Duration;

use super::bucket::{Bucket, Pace};
use super::seats::Client;

/// For one client: burst, and sustained rate.
const EACH: Pace = Pace {
    burst: 20.0,
    per_s: 4.0,
};
/// For all together: three times that.
const ALL: Pace = Pace {
    burst: 60.0,
    per_s: 12.0,
};

/// Whose pace was too fast.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Whose {
    Client,
    All,
}

/// A post that came too soon.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct TooFast {
    pub whose: Whose,
    /// Whole seconds after which another is taken.
    pub after_s: u16,
}

/// The token buckets.
#[derive(Debug)]
pub(super) struct Taps {
    all: Bucket,
    /// Of clients whose bucket is not full: never many, as `all` bounds how many taps are taken.
    each: BTreeMap<Client, Bucket>,
}

impl Taps {
    pub fn new() -> Self {
        Self {
            all: Bucket::full(ALL, Duration::ZERO),
            each: BTreeMap::new(),
        }
    }

    /// Takes one post of a client, `now` after some fixed moment. What is refused costs nothing.
    pub fn take(&mut self, client: Client, now: Duration) -> Result<(), TooFast> {
        self.all.refill(now);
        for bucket in self.each.values_mut() {
            bucket.refill(now);
        }
        self.each.retain(|_, own| !own.is_full());
        let mut own = self
            .each
            .get(&client)
            .copied()
            .unwrap_or_else(|| Bucket::full(EACH, now));
        for (bucket, whose) in [(&own, Whose::Client), (&self.all, Whose::All)] {
            let wait = bucket.wait();
            if !wait.is_zero() {
                // A cast of a float saturates.
                let after_s = wait.as_secs_f64().ceil() as u16;
                return Err(TooFast { whose, after_s });
            }
        }
        own.take();
        self.all.take();
        self.each.insert(client, own);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(last: u8) -> Client {
        Client::At([192, 0, 2, last].into())
    }

    fn ms(ms: u64) -> Duration {
        Duration::from_millis(ms)
    }

    /// How many of these posts are taken at one moment.
    fn taken(taps: &mut Taps, client: Client, posts: usize, now: Duration) -> usize {
        (0..posts)
            .filter(|_| taps.take(client, now).is_ok())
            .count()
    }

    #[test]
    fn a_burst_then_the_steady_pace_and_another_client_is_not_touched() {
        let mut taps = Taps::new();
        assert_eq!(taken(&mut taps, at(1), 50, ms(0)), 20);
        assert_eq!(
            taps.take(at(1), ms(0)),
            Err(TooFast {
                whose: Whose::Client,
                after_s: 1
            })
        );
        assert_eq!(taken(&mut taps, at(2), 10, ms(0)), 10);
        assert!(taps.take(at(1), ms(200)).is_err());
        // Four in a second, also for one that never stops asking.
        let steady: usize = (0..100)
            .map(|i| taken(&mut taps, at(1), 1, ms(200 + 100 * i)))
            .sum();
        assert_eq!(steady, 40);
        // As long as said is long enough.
        assert!(taps.take(at(1), ms(11_101)).is_ok());
    }

    #[test]
    fn all_together_have_a_pace_too() {
        let mut taps = Taps::new();
        for client in 1..=3 {
            assert_eq!(taken(&mut taps, at(client), 30, ms(0)), 20);
        }
        let too_fast = taps.take(at(4), ms(0)).unwrap_err();
        assert_eq!(too_fast.whose, Whose::All);
        // What was refused has cost client 4 nothing.
        let after = ms(1000 * u64::from(too_fast.after_s));
        assert_eq!(taken(&mut taps, at(4), 30, after), 12);
    }

    #[test]
    fn the_most_that_is_remembered_is_bounded() {
        let mut taps = Taps::new();
        let mut most = 0;
        for i in 0..5000_u32 {
            let client = Client::At(std::net::Ipv4Addr::from(0xc000_0000 + i).into());
            let _ = taps.take(client, ms(u64::from(i) * 10));
            most = most.max(taps.each.len());
        }
        // A bucket with one token gone is full after a quarter of a second: own arithmetic.
        assert!((1..=63).contains(&most), "{most}");
        // A clock that goes back and forth gives nothing.
        assert!(taps.take(at(1), ms(0)).is_err());
        assert!(taps.take(at(1), ms(49_990)).is_err());
    }

    #[test]
    fn ten_quick_taps_are_honest_again_and_again() {
        let mut taps = Taps::new();
        for round in 0..20 {
            assert_eq!(taken(&mut taps, at(1), 10, ms(round * 3000)), 10);
        }
    }
}
