//! Fair shares of clients: a bounded number of connections and of event streams ([`Seats`]), and of
//! concurrent requests ([`Permits`]). While there are enough for all, one client may hold any number.

use std::collections::BTreeMap;
use std::convert::Infallible;
use std::net::{IpAddr, SocketAddr};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio_util::sync::CancellationToken;

/// Concurrent ordinary requests, of all clients.
const PERMITS: usize = 16;
/// Concurrent ordinary requests of one client, so that some are always left for others.
const PERMITS_EACH: usize = 10;

/// A client, for fairness: an address. The whole address for IPv6 too, because all phones on a boat's
/// Wi-Fi share one /64.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Client {
    /// An address; an IPv4 address within IPv6 is that IPv4 address.
    At(IpAddr),
    /// A request that came over no socket.
    Unknown,
}

impl From<SocketAddr> for Client {
    fn from(address: SocketAddr) -> Self {
        Self::At(address.ip().to_canonical())
    }
}

impl<S: Sync> FromRequestParts<S> for Client {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Infallible> {
        Ok(parts.extensions.get().copied().unwrap_or(Self::Unknown))
    }
}

/// A bounded number of seats. When all are taken, a newcomer gets one from the client that holds
/// most: the one idle for longest or, if none is idle, the one at work for longest. A newcomer that
/// would itself hold most, or as many as anybody, gets an idle one or none.
#[derive(Debug)]
pub(super) struct Seats {
    most: usize,
    table: Mutex<Table>,
}

#[derive(Debug, Default)]
struct Table {
    /// Counts what happens here, so that "since" has an order.
    now: u64,
    taken: BTreeMap<u64, Taken>,
}

#[derive(Debug)]
struct Taken {
    client: Client,
    /// When it was taken or last fell idle.
    since: u64,
    /// Requests or streams under way on it.
    at_work: usize,
    displaced: CancellationToken,
}

impl Seats {
    pub fn new(most: usize) -> Arc<Self> {
        Arc::new(Self {
            most,
            table: Mutex::default(),
        })
    }

    fn table(&self) -> MutexGuard<'_, Table> {
        self.table.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A seat, idle at first; `None` when all are taken and none may be taken away for this client.
    pub fn take(self: &Arc<Self>, client: Client) -> Option<Arc<Seat>> {
        let mut table = self.table();
        if table.taken.len() >= self.most {
            let loser = table.loser(client)?;
            if let Some(lost) = table.taken.remove(&loser) {
                lost.displaced.cancel();
            }
        }
        let displaced = CancellationToken::new();
        let number = table.tick();
        table.taken.insert(
            number,
            Taken {
                client,
                since: number,
                at_work: 0,
                displaced: displaced.clone(),
            },
        );
        Some(Arc::new(Seat {
            seats: Arc::clone(self),
            number,
            displaced,
        }))
    }
}

impl Table {
    fn tick(&mut self) -> u64 {
        self.now += 1;
        self.now
    }

    /// The seat that is taken away for one more of this client.
    fn loser(&self, newcomer: Client) -> Option<u64> {
        let mut held = BTreeMap::from([(newcomer, 1_usize)]);
        for taken in self.taken.values() {
            *held.entry(taken.client).or_default() += 1;
        }
        let most = held.values().copied().max()?;
        let among_equals = held.get(&newcomer) == Some(&most);
        self.taken
            .iter()
            .filter(|(_, taken)| held.get(&taken.client) == Some(&most))
            .filter(|(_, taken)| taken.at_work == 0 || !among_equals)
            .min_by_key(|(_, taken)| (taken.at_work > 0, taken.since))
            .map(|(number, _)| *number)
    }
}

/// A seat; dropping it gives it back.
#[derive(Debug)]
pub(super) struct Seat {
    seats: Arc<Seats>,
    number: u64,
    displaced: CancellationToken,
}

impl Seat {
    /// Ends when the seat has been taken away.
    pub fn displaced(&self) -> impl Future<Output = ()> + Send + use<> {
        self.displaced.clone().cancelled_owned()
    }
}

impl Drop for Seat {
    fn drop(&mut self) {
        self.seats.table().taken.remove(&self.number);
    }
}

/// As long as it lives, its seat is not idle.
#[derive(Debug)]
pub(super) struct AtWork(Arc<Seat>);

impl AtWork {
    pub fn on(seat: Arc<Seat>) -> Self {
        if let Some(taken) = seat.seats.table().taken.get_mut(&seat.number) {
            taken.at_work += 1;
        }
        Self(seat)
    }
}

impl Drop for AtWork {
    fn drop(&mut self) {
        let mut table = self.0.seats.table();
        let now = table.tick();
        if let Some(taken) = table.taken.get_mut(&self.0.number) {
            taken.at_work = taken.at_work.saturating_sub(1);
            taken.since = now;
        }
    }
}

/// A bounded number of requests at work, of one client and in all; further ones wait.
#[derive(Debug)]
pub(super) struct Permits {
    all: Arc<Semaphore>,
    /// Only of clients that have a request here now.
    each: Mutex<BTreeMap<Client, Weak<Semaphore>>>,
}

/// A permit; dropping it gives it back.
#[derive(Debug)]
pub(super) struct Permit {
    _own: OwnedSemaphorePermit,
    _all: OwnedSemaphorePermit,
}

impl Permits {
    pub fn new() -> Self {
        Self {
            all: Arc::new(Semaphore::new(PERMITS)),
            each: Mutex::default(),
        }
    }

    /// Waits for one. The semaphores are never closed; were they, the request would only go
    /// unlimited.
    pub async fn take(&self, client: Client) -> Option<Permit> {
        let own = self.of(client).acquire_owned().await.ok()?;
        let all = Arc::clone(&self.all).acquire_owned().await.ok()?;
        Some(Permit {
            _own: own,
            _all: all,
        })
    }

    fn of(&self, client: Client) -> Arc<Semaphore> {
        let mut each = self.each.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(own) = each.get(&client).and_then(Weak::upgrade) {
            return own;
        }
        each.retain(|_, own| own.strong_count() > 0);
        let own = Arc::new(Semaphore::new(PERMITS_EACH));
        each.insert(client, Arc::downgrade(&own));
        own
    }
}

#[cfg(test)]
mod tests {
    use futures_util::FutureExt;

    use super::*;

    fn at(last: u8) -> Client {
        Client::from(SocketAddr::from(([192, 0, 2, last], 1)))
    }

    fn lost(seat: &Seat) -> bool {
        seat.displaced.is_cancelled()
    }

    #[test]
    fn an_address_is_a_client_whatever_its_port_and_dress() {
        let client = |text: &str| Client::from(text.parse::<SocketAddr>().unwrap());
        assert_eq!(client("192.0.2.7:1"), client("192.0.2.7:2"));
        assert_eq!(client("192.0.2.7:1"), client("[::ffff:192.0.2.7]:1"));
        assert_ne!(client("192.0.2.7:1"), client("192.0.2.8:1"));
        // Two phones on one network.
        assert_ne!(client("[2001:db8::1]:1"), client("[2001:db8::2]:1"));
    }

    #[test]
    fn alone_a_client_may_have_every_seat_and_then_only_idle_ones_anew() {
        let seats = Seats::new(3);
        let taken: Vec<_> = (0..3).map(|_| seats.take(at(1)).unwrap()).collect();
        let mut work: Vec<_> = taken.iter().cloned().map(AtWork::on).collect();
        assert!(seats.take(at(1)).is_none());
        // The first to fall idle again, not the first that came.
        work.remove(1);
        work.remove(0);
        let fourth = seats.take(at(1)).unwrap();
        assert!(!lost(&taken[0]) && lost(&taken[1]) && !lost(&taken[2]));
        assert!(!lost(&fourth));
    }

    #[test]
    fn a_newcomer_takes_from_whoever_has_most_and_idle_ones_first() {
        let seats = Seats::new(5);
        let greedy: Vec<_> = (0..4).map(|_| seats.take(at(1)).unwrap()).collect();
        let _work: Vec<_> = [0, 1, 3]
            .map(|i: usize| AtWork::on(Arc::clone(&greedy[i])))
            .into();
        let modest = seats.take(at(2)).unwrap();
        let third = seats.take(at(3)).unwrap();
        assert!(lost(&greedy[2]) && !lost(&greedy[0]));
        let _fourth = seats.take(at(4)).unwrap();
        assert!(lost(&greedy[0]), "none idle: the longest at work");
        // 2, 1, 1, 1: one more for client 3 leaves nobody with more than it has.
        let _all_at_work = [&modest, &third].map(|s| AtWork::on(Arc::clone(s)));
        assert!(seats.take(at(3)).is_none());
        assert!(!lost(&modest) && !lost(&third));
    }

    #[test]
    fn where_all_have_one_an_idle_one_makes_room() {
        let seats = Seats::new(2);
        let (one, two) = (seats.take(at(1)).unwrap(), seats.take(at(2)).unwrap());
        let _work = AtWork::on(Arc::clone(&one));
        let _three = seats.take(at(3)).unwrap();
        assert!(!lost(&one) && lost(&two));
    }

    #[test]
    fn a_seat_is_given_back_once() {
        let seats = Seats::new(2);
        let one = seats.take(at(1)).unwrap();
        let two = seats.take(at(1)).unwrap();
        let three = seats.take(at(2)).unwrap();
        assert!(lost(&one));
        drop(one);
        assert_eq!(seats.table().taken.len(), 2);
        drop((two, three));
        assert!(seats.table().taken.is_empty());
    }

    #[test]
    fn one_client_leaves_permits_for_another() {
        let permits = Permits::new();
        let take = |client| permits.take(client).now_or_never().flatten();
        let mut first: Vec<_> = (0..PERMITS_EACH).map(|_| take(at(1)).unwrap()).collect();
        assert!(take(at(1)).is_none());
        let second: Vec<_> = (PERMITS_EACH..PERMITS)
            .map(|_| take(at(2)).unwrap())
            .collect();
        assert!(take(at(2)).is_none());
        first.pop();
        assert!(take(at(2)).is_some());
        drop((first, second));
        assert!(take(at(3)).is_some());
        assert_eq!(
            permits.each.lock().unwrap().len(),
            1,
            "others are forgotten"
        );
    }
}
