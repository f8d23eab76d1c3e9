//! Codes that are typed wrong: each wrong one makes its client wait longer, all clients together have
//! a pace, and the log tells of them once a minute.

use std::collections::BTreeMap;
use std::time::Duration;

use super::seats::Client;

/// Wrong codes of a client that cost no waiting: a wet thumb.
const FREE: u32 = 3;
/// Longest wait of one client.
const WAIT_MOST: Duration = Duration::from_secs(60);
/// Of all clients together: so many at once, and then one in so long. In the ten minutes of a code
/// these are 140 of a hundred million.
const BURST: f64 = 20.0;
const ONE_IN: Duration = Duration::from_secs(5);
/// The log tells of wrong codes no more often.
const TELL_EVERY: Duration = Duration::from_secs(60);
/// A client that has given no wrong code for so long is forgotten.
const FORGET_AFTER: Duration = Duration::from_secs(1800);

#[derive(Debug, Clone, Copy)]
struct Wrong {
    count: u32,
    at: Duration,
}

impl Wrong {
    /// Until when no further code is taken.
    fn until(self) -> Duration {
        let beyond = self.count.saturating_sub(FREE);
        if beyond == 0 {
            return Duration::ZERO;
        }
        let wait = Duration::from_secs(1 << beyond.min(6));
        self.at + wait.min(WAIT_MOST)
    }
}

/// What was typed wrong, and by whom. Times are since some fixed moment.
#[derive(Debug)]
pub(super) struct Guesses {
    each: BTreeMap<Client, Wrong>,
    tokens: f64,
    filled_at: Duration,
    untold: u64,
    told_at: Option<Duration>,
}

impl Guesses {
    pub fn new() -> Self {
        Self {
            each: BTreeMap::new(),
            tokens: BURST,
            filled_at: Duration::ZERO,
            untold: 0,
            told_at: None,
        }
    }

    /// Whether a code of this client is looked at now; else whole seconds until it is. What is not
    /// looked at costs nothing.
    pub fn may_try(&mut self, client: Client, now: Duration) -> Result<(), u16> {
        let passed = now.saturating_sub(self.filled_at).as_secs_f64();
        self.tokens = (self.tokens + passed / ONE_IN.as_secs_f64()).min(BURST);
        self.filled_at = self.filled_at.max(now);
        let own = self.each.get(&client).map_or(Duration::ZERO, |w| w.until());
        let own_s = own.saturating_sub(now).as_secs_f64();
        let all_s = (1.0 - self.tokens).max(0.0) * ONE_IN.as_secs_f64();
        let wait_s = own_s.max(all_s);
        if wait_s > 0.0 {
            // At most a minute; a cast of a float saturates anyway.
            return Err(wait_s.ceil() as u16);
        }
        Ok(())
    }

    /// A code was wrong. Gives how many were since the log was told last, when it should be told.
    pub fn wrong(&mut self, client: Client, now: Duration) -> Option<u64> {
        self.tokens -= 1.0;
        self.each
            .retain(|_, wrong| now.saturating_sub(wrong.at) < FORGET_AFTER);
        let wrong = self
            .each
            .entry(client)
            .or_insert(Wrong { count: 0, at: now });
        wrong.count = wrong.count.saturating_add(1);
        wrong.at = now;
        self.untold += 1;
        let is_due = self
            .told_at
            .is_none_or(|told| now.saturating_sub(told) >= TELL_EVERY);
        if !is_due {
            return None;
        }
        self.told_at = Some(now);
        Some(std::mem::take(&mut self.untold))
    }

    /// A code was right.
    pub fn right(&mut self, client: Client) {
        self.each.remove(&client);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(last: u8) -> Client {
        Client::At([192, 0, 2, last].into())
    }

    fn s(seconds: u64) -> Duration {
        Duration::from_secs(seconds)
    }

    #[test]
    fn each_wrong_code_makes_its_client_wait_longer_up_to_a_minute() {
        let mut guesses = Guesses::new();
        for _ in 0..FREE {
            assert_eq!(guesses.may_try(at(1), s(0)), Ok(()));
            guesses.wrong(at(1), s(0));
        }
        let (mut now, mut waits) = (s(0), Vec::new());
        for _ in 0..8 {
            assert_eq!(guesses.may_try(at(1), now), Ok(()));
            guesses.wrong(at(1), now);
            let wait = guesses.may_try(at(1), now).unwrap_err();
            waits.push(wait);
            assert!(
                guesses
                    .may_try(at(1), now + s(u64::from(wait) - 1))
                    .is_err()
            );
            now += s(u64::from(wait));
        }
        assert_eq!(waits, [2, 4, 8, 16, 32, 60, 60, 60]);
        // Another client does not wait, and a right code ends the waiting.
        assert_eq!(guesses.may_try(at(2), now), Ok(()));
        guesses.wrong(at(1), now);
        guesses.right(at(1));
        assert_eq!(guesses.may_try(at(1), now), Ok(()));
    }

    #[test]
    fn a_thousand_codes_of_many_clients_take_more_than_an_hour() {
        let mut guesses = Guesses::new();
        let (mut now, mut told) = (s(0), Vec::new());
        for i in 0..1000_u32 {
            let client = Client::At(std::net::Ipv4Addr::from(0xc000_0000 + i).into());
            if let Err(wait) = guesses.may_try(client, now) {
                now += s(wait.into());
            }
            assert_eq!(guesses.may_try(client, now), Ok(()), "{i}");
            told.extend(guesses.wrong(client, now));
        }
        // 980 after the first twenty, one in 5 s: own arithmetic.
        assert_eq!(now, s(4900));
        assert_eq!(told.len(), 82, "once a minute");
        assert!(told.iter().sum::<u64>() <= 1000);
        // What is remembered is bounded: half an hour of them.
        assert!(guesses.each.len() <= 380, "{}", guesses.each.len());
    }
}
