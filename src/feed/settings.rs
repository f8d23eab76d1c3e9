//! Checked settings of one feed; each error names the key and what is allowed.

use std::fmt;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;

use super::frame::FrameSettings;
use super::keys::KEYS;
use crate::key::{Complaint, Key, default_of, row_of};

/// One feed as the settings name it.
#[derive(Debug, Clone, PartialEq)]
pub struct Feed {
    /// What the crew calls it; also the `s:` of its lines in recordings.
    pub name: FeedName,
    /// Where its bytes come from.
    pub spec: FeedSpec,
    /// How they are framed.
    pub frame: FrameSettings,
    /// Whether crew sentences on it are accepted. Off by default, because anybody on a network can
    /// send one.
    pub crew: bool,
}

impl Feed {
    /// Checks everything about the feed; all complaints at once.
    ///
    /// # Errors
    /// Each complaint names the key, what it got and what is allowed.
    pub fn new(name: &str, spec: FeedSpec, frame: FrameSettings) -> Result<Self, Vec<Complaint>> {
        let mut complaints = spec.complaints();
        if !FrameSettings::LINE_BYTES.contains(&frame.max_line_bytes) {
            const LINE: &Key = row_of(KEYS, "max_line_bytes");
            complaints.push(LINE.refuse(frame.max_line_bytes));
        }
        match FeedName::new(name) {
            Ok(name) if [CREW_FEED, OWN_FEED].contains(&name.as_str()) => {
                complaints.insert(
                    0,
                    NAME.clash(
                        format_args!("\"{name}\""),
                        "is not free".to_owned(),
                        "give it any other name; `crew` stands for what the crew says on the \
                         pages, `skimwatch` for the daemon itself",
                    ),
                );
                Err(complaints)
            }
            Ok(name) if complaints.is_empty() => Ok(Self {
                name,
                spec,
                frame,
                crew: false,
            }),
            Ok(_) => Err(complaints),
            Err(complaint) => {
                complaints.insert(0, *complaint);
                Err(complaints)
            }
        }
    }
}

const NAME: &Key = row_of(KEYS, "name");

/// Name of the feed that carries what the crew says.
pub const CREW_FEED: &str = "crew";

/// Name under which a recording tells what the daemon itself did.
pub const OWN_FEED: &str = "skimwatch";

/// Callers a TCP server feed holds at a time. One more takes the place of the one that has sent
/// nothing for longest; where all have sent something lately it is turned away and counted.
pub const MAX_PEERS: usize = 16;

/// Name of a feed: 1 to 15 of the characters `A-Z a-z 0-9 _ -` (what a TAG block's source may
/// hold). Cheap to clone.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct FeedName(Arc<str>);

impl FeedName {
    /// Checks the characters and the length.
    ///
    /// # Errors
    /// When either is not allowed.
    pub fn new(name: &str) -> Result<Self, Box<Complaint>> {
        let allowed = |b: u8| b.is_ascii_alphanumeric() || b == b'_' || b == b'-';
        if (1..=15).contains(&name.len()) && name.bytes().all(allowed) {
            Ok(Self(name.into()))
        } else {
            Err(Box::new(NAME.refuse(format_args!("\"{name}\""))))
        }
    }

    /// The name under which the crew's own inputs are recorded.
    #[must_use]
    pub fn crew() -> Self {
        Self(CREW_FEED.into())
    }

    /// The name under which a recording tells what the daemon itself did.
    #[must_use]
    pub fn own() -> Self {
        Self(OWN_FEED.into())
    }

    /// Its text, shared.
    #[must_use]
    pub fn shared(&self) -> Arc<str> {
        Arc::clone(&self.0)
    }

    /// The name.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for FeedName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Where a feed's bytes come from.
#[derive(Debug, Clone, PartialEq)]
pub enum FeedSpec {
    /// A serial port. It may be absent at the start and go away at any time.
    Serial {
        /// Device path; a name below `/dev/serial/by-id/` survives replugging.
        device: PathBuf,
        /// Bits per second: 4800 (the standard), 38400 (high speed), 115200 or any other
        /// from 1200 to 921600. 8 data bits, no parity, 1 stop bit.
        baud: u32,
    },
    /// A TCP server to connect to.
    TcpClient {
        /// `host:port`.
        address: String,
    },
    /// A TCP port for others to connect to, up to [`MAX_PEERS`] at a time.
    TcpServer {
        /// Address and port to listen on.
        bind: SocketAddr,
    },
    /// UDP datagrams: unicast, broadcast or multicast, plain or IEC 61162-450.
    Udp {
        /// Address and port to listen on, such as `0.0.0.0:10110`.
        bind: SocketAddr,
        /// Multicast groups to join; none for unicast and broadcast.
        groups: Vec<Ipv4Addr>,
        /// Address of the interface to join them on; `None` leaves it to the system.
        interface: Option<Ipv4Addr>,
        /// Let other programs on this machine listen on the same port (for broadcast; always
        /// so with `groups`). Without it a taken port is an error, which is what unicast needs.
        share_port: bool,
    },
    /// A named pipe, or a file read once from its beginning, as fast as its sentences are taken.
    File {
        /// Path of the file.
        path: PathBuf,
    },
    /// Standard input, as it comes.
    Stdin,
}

impl FeedSpec {
    /// Bits per second of a serial feed by default.
    pub const BAUD: u32 = default_of(KEYS, "baud") as u32;

    /// Everything that is wrong with it.
    fn complaints(&self) -> Vec<Complaint> {
        const DEVICE: &Key = row_of(KEYS, "device");
        const BAUD: &Key = row_of(KEYS, "baud");
        const ADDRESS: &Key = row_of(KEYS, "address");
        const PATH: &Key = row_of(KEYS, "path");
        let number = |key: &Key, value: f64| (!key.allowed.holds(value)).then(|| key.refuse(value));
        let text = |key: &Key, text: &str, is_good: bool| {
            (!is_good).then(|| key.refuse(format_args!("\"{text}\"")))
        };
        let found = match self {
            Self::Serial { device, baud } => [
                text(DEVICE, "", !device.as_os_str().is_empty()),
                number(BAUD, f64::from(*baud)),
            ],
            Self::TcpClient { address } => {
                let port = address
                    .rsplit_once(':')
                    .filter(|(host, _)| !host.is_empty());
                let good = port.is_some_and(|(_, port)| port.parse::<u16>().is_ok_and(|p| p > 0));
                [text(ADDRESS, address, good), None]
            }
            Self::TcpServer { .. } | Self::Stdin => [None, None],
            Self::Udp {
                bind,
                groups,
                interface,
                ..
            } => return multicast_complaints(*bind, groups, *interface),
            Self::File { path } => [text(PATH, "", !path.as_os_str().is_empty()), None],
        };
        found.into_iter().flatten().collect()
    }
}

fn multicast_complaints(
    bind: SocketAddr,
    groups: &[Ipv4Addr],
    interface: Option<Ipv4Addr>,
) -> Vec<Complaint> {
    const GROUPS: &Key = row_of(KEYS, "groups");
    const BIND: &Key = row_of(KEYS, "bind");
    const INTERFACE: &Key = row_of(KEYS, "interface");
    let mut found: Vec<_> = groups
        .iter()
        .filter(|group| !group.is_multicast())
        .map(|group| GROUPS.refuse(group))
        .collect();
    // Bound to a unicast address, a socket gets no multicast on Linux.
    let fits = match bind.ip() {
        IpAddr::V4(ip) => ip.is_unspecified() || ip.is_multicast(),
        IpAddr::V6(_) => false,
    };
    if !groups.is_empty() && !fits {
        let problem = "must be 0.0.0.0:port or group:port when groups are joined";
        found.push(BIND.clash(bind, problem.to_owned(), ""));
    }
    if let Some(interface) = interface.filter(|_| groups.is_empty()) {
        let problem = "stands without groups".to_owned();
        found.push(INTERFACE.clash(interface, problem, "give it only together with groups"));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn keys(name: &str, spec: FeedSpec) -> Vec<String> {
        match Feed::new(name, spec, FrameSettings::default()) {
            Ok(_) => Vec::new(),
            Err(complaints) => complaints.into_iter().map(|c| c.key).collect(),
        }
    }

    #[test]
    fn sound_settings_pass() {
        let spec = FeedSpec::Serial {
            device: "/dev/ttyUSB0".into(),
            baud: 4800,
        };
        assert!(keys("wind", spec).is_empty());
        let spec = FeedSpec::TcpClient {
            address: "[2001:db8::1]:10110".into(),
        };
        assert!(keys("gps_2-a", spec).is_empty());
    }

    #[test]
    fn the_name_of_the_crews_own_inputs_is_not_given_away() {
        let spec = FeedSpec::Stdin;
        let complaints = Feed::new("crew", spec, FrameSettings::default()).unwrap_err();
        let [complaint] = &complaints[..] else {
            panic!("{complaints:?}")
        };
        assert!(complaint.to_string().starts_with("name = \"crew\": "));
    }

    #[test]
    fn every_complaint_is_listed() {
        let spec = FeedSpec::Serial {
            device: "".into(),
            baud: 300,
        };
        assert_eq!(keys("main wind!", spec), ["name", "device", "baud"]);
        let spec = FeedSpec::Udp {
            bind: "[::]:60001".parse().unwrap(),
            groups: vec![Ipv4Addr::new(192, 0, 2, 1)],
            interface: None,
            share_port: false,
        };
        assert_eq!(keys("udp", spec), ["groups", "bind"]);
        for address in ["", "boat", ":10110", "boat:0", "boat:99999"] {
            let address = address.to_owned();
            assert_eq!(keys("tcp", FeedSpec::TcpClient { address }), ["address"]);
        }
        let path = PathBuf::new();
        assert_eq!(keys("file", FeedSpec::File { path }), ["path"]);
    }

    #[test]
    fn message_says_key_got_and_allowed() {
        let frame = FrameSettings {
            max_line_bytes: 10,
            ..FrameSettings::default()
        };
        let complaints = Feed::new("a", FeedSpec::Stdin, frame).unwrap_err();
        assert_eq!(
            complaints[0].to_string(),
            "max_line_bytes = 10: must be 82 to 65535; nothing to measure: leave the key away for the default"
        );
    }
}
