//! The boat's own network: what is on it, and a place there.

use std::fmt;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};

use axum::http::uri::Authority;

/// A place on the boat's own network.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Aboard {
    /// Name or address; an IPv6 address without brackets.
    pub host: String,
    /// Port.
    pub port: u16,
}

impl Aboard {
    /// By host and port as an address has them; the error says what is wrong.
    pub(super) fn of(authority: &Authority, port: u16) -> Result<Self, String> {
        if authority.as_str().contains('@') {
            return Err("must not hold a user or a password".to_owned());
        }
        let host = authority.host();
        let bare = host
            .strip_prefix('[')
            .and_then(|host| host.strip_suffix(']'))
            .unwrap_or(host);
        if bare.is_empty() {
            return Err("names no host".to_owned());
        }
        if let Ok(ip) = bare.parse::<IpAddr>()
            && !is_aboard(ip)
        {
            return Err(format!("{ip} is not on the boat's own network"));
        }
        Ok(Self {
            host: bare.to_owned(),
            port: authority.port_u16().unwrap_or(port),
        })
    }
}

impl fmt::Display for Aboard {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.host.contains(':') {
            write!(f, "[{}]:{}", self.host, self.port)
        } else {
            write!(f, "{}:{}", self.host, self.port)
        }
    }
}

/// The networks of a boat: loopback, private, link-local (RFC 1122, 1918, 3927, 4193, 4291), each with
/// the length of its prefix.
pub const NETWORKS_ABOARD: [(IpAddr, u8); 8] = [
    (IpAddr::V4(Ipv4Addr::new(127, 0, 0, 0)), 8),
    (IpAddr::V4(Ipv4Addr::new(10, 0, 0, 0)), 8),
    (IpAddr::V4(Ipv4Addr::new(172, 16, 0, 0)), 12),
    (IpAddr::V4(Ipv4Addr::new(192, 168, 0, 0)), 16),
    (IpAddr::V4(Ipv4Addr::new(169, 254, 0, 0)), 16),
    (IpAddr::V6(Ipv6Addr::LOCALHOST), 128),
    (IpAddr::V6(Ipv6Addr::new(0xfc00, 0, 0, 0, 0, 0, 0, 0)), 7),
    (IpAddr::V6(Ipv6Addr::new(0xfe80, 0, 0, 0, 0, 0, 0, 0)), 10),
];

/// Whether an address is in one of them.
#[must_use]
pub fn is_aboard(ip: IpAddr) -> bool {
    let ip = ip.to_canonical();
    NETWORKS_ABOARD
        .iter()
        .any(|(network, length)| match (network, ip) {
            (IpAddr::V4(network), IpAddr::V4(ip)) => {
                (network.to_bits() ^ ip.to_bits()).leading_zeros() >= u32::from(*length)
            }
            (IpAddr::V6(network), IpAddr::V6(ip)) => {
                (network.to_bits() ^ ip.to_bits()).leading_zeros() >= u32::from(*length)
            }
            _ => false,
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(text: &str) -> Result<String, String> {
        Aboard::of(&text.parse().unwrap(), 1883).map(|place| place.to_string())
    }

    #[test]
    fn places_of_the_boats_own_network_are_taken() {
        for (text, expected) in [
            ("127.0.0.1", "127.0.0.1:1883"),
            ("192.168.4.20:8080", "192.168.4.20:8080"),
            ("169.254.3.4", "169.254.3.4:1883"),
            ("[::1]:99", "[::1]:99"),
            ("[fd00::7]", "[fd00::7]:1883"),
            ("[fe80::7]", "[fe80::7]:1883"),
            ("[::ffff:10.0.0.7]", "[::ffff:10.0.0.7]:1883"),
            ("buzzer.local", "buzzer.local:1883"),
        ] {
            assert_eq!(place(text).as_deref(), Ok(expected));
        }
    }

    #[test]
    fn others_are_refused_by_name() {
        // Documentation addresses of RFC 5737 and RFC 3849 stand for the internet.
        for text in [
            "192.0.2.7",
            "203.0.113.7:80",
            "0.0.0.0",
            "[2001:db8::1]",
            "[::ffff:192.0.2.7]",
        ] {
            let why = place(text).unwrap_err();
            assert!(why.contains("is not on the boat's own network"), "{why}");
        }
        assert!(place("mate:secret@127.0.0.1").unwrap_err().contains("user"));
    }
}
