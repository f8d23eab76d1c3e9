//! `[alerts]`: where alert sentences go.

use std::net::SocketAddr;
use std::path::PathBuf;

use crate::feed::FeedName;
use crate::key::{Fallback, Key, Section};

pub(super) const ALERTS: Section = Section::new(
    "alerts",
    "Alerts on the boat's own network",
    "Without this section the daemon sends nothing. With it, living advisories go out as alert \
     sentences (ALF, ALC, HBT) for displays and buzzers, to each place that is given here.",
    KEYS,
)
.as_comment();

const KEYS: &[Key] = &[
    Key::form("udp", "address:port, such as 192.0.2.255:10110")
        .or(Fallback::Nothing)
        .about(
            "a UDP address: a display, or the network's broadcast address",
            "in the display's manual, or ask the gateway's own page",
        )
        .example("\"192.0.2.255:10110\""),
    Key::form("tcp", "address:port, such as 192.0.2.7:10111")
        .or(Fallback::Nothing)
        .about(
            "a TCP server that the daemon calls: a gateway",
            "in the gateway's own set-up page or manual",
        )
        .example("\"192.0.2.7:10111\""),
    Key::form("device", "the path of a serial device")
        .or(Fallback::Nothing)
        .about(
            "a serial port of which the transmit wires lead to a display's input; one that is no feed",
            "`skimwatch check` lists serial devices",
        )
        .example("\"/dev/serial/by-id/usb-display\""),
    Key::whole("baud", "bits/s", 4800, 921_600).default(AlertSettings::BAUD as f64).about(
        "for device: 4800 is the standard, 38400 high speed",
        "it is in the display's manual",
    ),
    Key::flag("txt", false).about(
        "whether each alert is told as TXT, too, in plain words",
        "yes if the display knows no ALF",
    ),
    Key::form("feed", "the name of a [[feed]]")
        .or(Fallback::Nothing)
        .about(
            "the feed on which displays answer: its ACN and ACK sentences acknowledge and silence. \
             Anybody who can send on that feed can do so. Without this key they do nothing",
            "nothing to measure: name the feed that the display's output is wired to",
        )
        .example("\"bridge\""),
];

/// Where alert sentences go, and whence answers come.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct AlertSettings {
    /// A UDP address.
    pub udp: Option<SocketAddr>,
    /// A TCP server.
    pub tcp: Option<SocketAddr>,
    /// A serial port and its speed.
    pub serial: Option<(PathBuf, u32)>,
    /// Whether older displays are told, too.
    pub with_txt: bool,
    /// The feed whose ACN and ACK count.
    pub feed: Option<FeedName>,
}

impl AlertSettings {
    /// `baud` by default.
    pub const BAUD: u32 = 4800;

    /// Whether there is any place to send to.
    #[must_use]
    pub fn go_somewhere(&self) -> bool {
        self.udp.is_some() || self.tcp.is_some() || self.serial.is_some()
    }
}
