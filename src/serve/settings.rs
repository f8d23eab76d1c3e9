//! Settings of the HTTP room.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};

/// How the HTTP room behaves.
#[derive(Debug, Clone, PartialEq)]
pub struct ServeSettings {
    /// Address and port to listen on. Only this device by default; `0.0.0.0:8477` for the
    /// phones on the boat's Wi-Fi.
    pub bind: SocketAddr,
    /// Seconds between comments on a quiet advisory stream.
    pub heartbeat_s: f64,
    /// Advisory revisions kept for clients that come back.
    pub history: usize,
    /// Seconds that a client may leave written bytes untaken before it is dropped.
    pub slow_client_s: f64,
    /// Connections at once. When all are taken, a newcomer takes the place of an idle one, or of
    /// one of the address that holds most.
    pub connections: usize,
    /// Event streams at once. When all are taken, a newcomer takes the place of one of the address
    /// that holds most, or is refused if that is its own.
    pub streams: usize,
    /// Name by which phones find the program on the boat's network, without `.local`; empty for
    /// none.
    pub mdns_name: String,
    /// Further host names by which browsers may ask, besides addresses, `localhost` and
    /// `mdns_name.local`.
    pub names: Vec<String>,
}

impl Default for ServeSettings {
    fn default() -> Self {
        Self {
            bind: SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), 8477),
            heartbeat_s: 15.0,
            history: 512,
            slow_client_s: 10.0,
            connections: 96,
            streams: 48,
            mdns_name: "skimwatch".to_owned(),
            names: Vec::new(),
        }
    }
}

/// A setting out of its range.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{key} is {value}; allowed is {allowed}")]
pub struct ServeComplaint {
    /// Key within the `[serve]` section.
    pub key: &'static str,
    /// What was given.
    pub value: String,
    /// What is allowed.
    pub allowed: &'static str,
}

impl ServeSettings {
    /// Every complaint about these settings; empty when they can be used.
    #[must_use]
    pub fn check(&self) -> Vec<ServeComplaint> {
        let mut complaints = Vec::new();
        let mut expect = |good: bool, key, value: String, allowed| {
            if !good {
                complaints.push(ServeComplaint {
                    key,
                    value,
                    allowed,
                });
            }
        };
        expect(
            (0.1..=60.0).contains(&self.heartbeat_s),
            "heartbeat_s",
            self.heartbeat_s.to_string(),
            "0.1 to 60 seconds",
        );
        expect(
            (1..=10_000).contains(&self.history),
            "history",
            self.history.to_string(),
            "1 to 10000 revisions",
        );
        expect(
            (0.1..=120.0).contains(&self.slow_client_s),
            "slow_client_s",
            self.slow_client_s.to_string(),
            "0.1 to 120 seconds",
        );
        expect(
            (2..=1000).contains(&self.connections),
            "connections",
            self.connections.to_string(),
            "2 to 1000",
        );
        expect(
            self.streams >= 1 && self.streams < self.connections,
            "streams",
            self.streams.to_string(),
            "1 to one less than connections",
        );
        // A label as RFC 1123 has it.
        let name = &self.mdns_name;
        expect(
            name.len() <= 63
                && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '-')
                && !name.starts_with('-')
                && !name.ends_with('-'),
            "mdns_name",
            name.clone(),
            "up to 63 letters, digits and hyphens, no hyphen at either end, without .local; empty for none",
        );
        for name in &self.names {
            expect(
                (1..=253).contains(&name.len())
                    && name
                        .chars()
                        .all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '.'),
                "names",
                name.clone(),
                "host names as a browser shows them, such as \"chart-table.local\", without port",
            );
        }
        complaints
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn defaults_pass_and_stay_on_this_device() {
        let settings = ServeSettings::default();
        assert_eq!(settings.check(), []);
        assert!(settings.bind.ip().is_loopback());
    }

    #[test]
    fn every_complaint_names_key_value_and_range() {
        let settings = ServeSettings {
            heartbeat_s: f64::NAN,
            history: 0,
            slow_client_s: 0.0,
            connections: 1,
            streams: 9,
            mdns_name: "boat.local".to_owned(),
            names: vec![
                "chart-table".to_owned(),
                "http://chart-table:8477/".to_owned(),
            ],
            ..ServeSettings::default()
        };
        let complaints = settings.check();
        let keys: Vec<_> = complaints.iter().map(|c| c.key).collect();
        assert_eq!(
            keys,
            [
                "heartbeat_s",
                "history",
                "slow_client_s",
                "connections",
                "streams",
                "mdns_name",
                "names"
            ]
        );
        assert_eq!(
            complaints[1].to_string(),
            "history is 0; allowed is 1 to 10000 revisions"
        );
    }
}
