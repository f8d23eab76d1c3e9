//! Who sends on a feed on which several may send.

use std::fmt;
use std::net::{IpAddr, SocketAddr};
use std::str::FromStr;
use std::sync::Arc;
use std::time::{Duration, Instant};

use super::settings::FeedName;

/// A sender on a feed: its address, and its port where one address sends from several at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Origin {
    address: IpAddr,
    port: Option<u16>,
}

/// Stands between the name of a feed and the origin. No feed name holds it.
const AT: char = '@';

impl Origin {
    /// Feed and origin in one word, `net@192.0.2.7`, as a recording and the engine name them.
    #[must_use]
    pub fn label(feed: &FeedName, origin: Option<Self>) -> Arc<str> {
        match origin {
            Some(origin) => format!("{feed}{AT}{origin}").into(),
            None => feed.shared(),
        }
    }

    /// The feed in such a word, and the origin as text. A word that holds no address is all feed.
    #[must_use]
    pub fn split(label: &str) -> (&str, Option<&str>) {
        match label.rsplit_once(AT) {
            Some((feed, origin)) if origin.parse::<Self>().is_ok() => (feed, Some(origin)),
            _ => (label, None),
        }
    }
}

impl fmt::Display for Origin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.port {
            Some(port) => SocketAddr::new(self.address, port).fmt(f),
            None => self.address.fmt(f),
        }
    }
}

impl FromStr for Origin {
    type Err = std::net::AddrParseError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        if let Ok(whole) = text.parse::<SocketAddr>() {
            let (address, port) = (whole.ip(), Some(whole.port()));
            return Ok(Self { address, port });
        }
        let address = text.parse()?;
        Ok(Self {
            address,
            port: None,
        })
    }
}

/// A port that has been silent for so long has given its place to another one of its address.
const SILENT: Duration = Duration::from_secs(5);
/// Addresses, and ports of one address, that are told apart: more than any boat has.
const MOST_ADDRESSES: usize = 32;
const MOST_PORTS: usize = 8;

/// Tells the senders of datagrams apart. A program that is started again sends from another port, and
/// some send every datagram from a new one: those stay one sender. Two that speak by turns are two.
#[derive(Debug, Default)]
pub(super) struct Senders(Vec<Computer>);

/// One address.
#[derive(Debug)]
struct Computer {
    address: IpAddr,
    /// The port that stands for the address, and when it last spoke.
    main: (u16, Instant),
    /// Others, and whether the main one has spoken since they first did.
    newcomers: Vec<(u16, bool)>,
    /// Others that have spoken by turns with it.
    apart: Vec<u16>,
}

impl Senders {
    /// Who has sent a datagram that came at `now`.
    pub fn origin(&mut self, from: SocketAddr, now: Instant) -> Origin {
        let (address, port) = (from.ip().to_canonical(), from.port());
        let plain = Origin {
            address,
            port: None,
        };
        let Some(computer) = self.0.iter_mut().find(|one| one.address == address) else {
            if self.0.len() < MOST_ADDRESSES {
                self.0.push(Computer {
                    address,
                    main: (port, now),
                    newcomers: Vec::new(),
                    apart: Vec::new(),
                });
            }
            return plain;
        };
        if computer.is_apart(port, now) {
            Origin {
                address,
                port: Some(port),
            }
        } else {
            plain
        }
    }
}

impl Computer {
    fn is_apart(&mut self, port: u16, now: Instant) -> bool {
        if self.apart.contains(&port) {
            return true;
        }
        let (main, heard) = &mut self.main;
        if port == *main {
            *heard = now;
            for (_, overlapped) in &mut self.newcomers {
                *overlapped = true;
            }
            return false;
        }
        if now.duration_since(*heard) >= SILENT {
            self.main = (port, now);
            self.newcomers.retain(|(newcomer, _)| *newcomer != port);
            return false;
        }
        match self.newcomers.iter().find(|(one, _)| *one == port) {
            Some((_, true)) if self.apart.len() < MOST_PORTS => {
                self.newcomers.retain(|(newcomer, _)| *newcomer != port);
                self.apart.push(port);
                true
            }
            Some(_) => false,
            None => {
                if self.newcomers.len() >= MOST_PORTS {
                    self.newcomers.remove(0);
                }
                self.newcomers.push((port, false));
                false
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn origins(sent: &[(&str, f64)]) -> Vec<String> {
        let mut senders = Senders::default();
        let start = Instant::now();
        let heard = sent.iter().map(|(from, at_s)| {
            let at = start + Duration::from_secs_f64(*at_s);
            senders.origin(from.parse().unwrap(), at).to_string()
        });
        heard.collect()
    }

    #[test]
    fn two_that_speak_by_turns_are_two() {
        let (a, b) = ("192.0.2.7:4000", "192.0.2.7:4001");
        let told = origins(&[(a, 0.0), (b, 0.1), (a, 1.0), (b, 1.1), (a, 2.0), (b, 2.1)]);
        let (plain, apart) = ("192.0.2.7", "192.0.2.7:4001");
        assert_eq!(told, [plain, plain, plain, apart, plain, apart]);
        let other = origins(&[(a, 0.0), ("192.0.2.8:4000", 0.1)]);
        assert_eq!(other, ["192.0.2.7", "192.0.2.8"]);
    }

    #[test]
    fn one_that_starts_again_or_changes_its_port_with_each_datagram_stays_one() {
        let (a, b) = ("192.0.2.7:4000", "192.0.2.7:4001");
        let told = origins(&[(a, 0.0), (b, 9.0), (b, 10.0), (b, 11.0)]);
        assert!(told.iter().all(|one| one == "192.0.2.7"), "{told:?}");
        let ports: Vec<String> = (0..100)
            .map(|i| format!("192.0.2.7:{}", 4000 + i))
            .collect();
        let sent: Vec<(&str, f64)> = ports
            .iter()
            .enumerate()
            .map(|(i, from)| (from.as_str(), i as f64))
            .collect();
        let told = origins(&sent);
        assert!(told.iter().all(|one| one == "192.0.2.7"), "{told:?}");
    }

    #[test]
    fn labels_read_back_and_other_words_are_feeds() {
        let feed = FeedName::new("net").unwrap();
        for origin in [
            "192.0.2.7",
            "192.0.2.7:4001",
            "2001:db8::1",
            "[2001:db8::1]:9",
        ] {
            let label = Origin::label(&feed, origin.parse().ok());
            assert_eq!(Origin::split(&label), ("net", Some(origin)));
        }
        for word in ["net", "net@home", "@", "net@192.0.2", "a@b@c"] {
            assert_eq!(Origin::split(word), (word, None));
        }
    }

    #[test]
    fn no_more_senders_are_remembered_than_any_boat_has() {
        let mut senders = Senders::default();
        let now = Instant::now();
        for host in 0..=255 {
            for port in 1..100 {
                let from = SocketAddr::new([192, 0, 2, host].into(), port);
                senders.origin(from, now);
            }
        }
        assert_eq!(senders.0.len(), MOST_ADDRESSES);
        let most = senders.0.iter().map(|one| one.newcomers.len()).max();
        assert_eq!(most, Some(MOST_PORTS));
    }
}
