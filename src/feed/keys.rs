//! Keys of `[[feed]]`. Which of them a feed takes depends on its kind.

use super::frame::{ChecksumPolicy, FrameSettings};
use crate::key::{Fallback, Key, Section, words_of};

/// `[[feed]]`.
pub const FEED: Section = Section::new(
    "feed",
    "Where NMEA 0183 comes from: as many feeds as there are",
    "",
    KEYS,
)
.list(EXAMPLES);

/// What the word of `kind` means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FeedKind {
    /// A serial port.
    Serial,
    /// A TCP server that we call.
    TcpClient,
    /// A TCP port that others call.
    TcpServer,
    /// UDP datagrams.
    Udp,
    /// A file.
    File,
    /// Standard input.
    Stdin,
}

impl FeedKind {
    /// The words for it.
    pub const WORDS: [(&str, Self); 6] = [
        ("serial", Self::Serial),
        ("tcp-client", Self::TcpClient),
        ("tcp-server", Self::TcpServer),
        ("udp", Self::Udp),
        ("file", Self::File),
        ("stdin", Self::Stdin),
    ];
}

const KIND_WORDS: &[&str] = &words_of(&FeedKind::WORDS);

const CHECKSUM_WORDS: &[&str] = &words_of(&ChecksumPolicy::WORDS);

const LEAST_LINE: u64 = *FrameSettings::LINE_BYTES.start() as u64;
const MOST_LINE: u64 = *FrameSettings::LINE_BYTES.end() as u64;

pub(super) const KEYS: &[Key] = &[
    Key::form("name", "1 to 15 letters, digits, `_` or `-`")
        .about(
            "what the pages and the recordings call it; `crew` and `skimwatch` are not free",
            "a short name, such as \"masthead\"your own word; one for each input",
        )
        .given("\"masthead\""),
    Key::words("kind", KIND_WORDS)
        .about(
            "what brings the sentences",
            "by how the box is wired: its manual names port and protocol",
        )
        .given("\"serial\""),
    Key::form("device", "a path such as /dev/serial/by-id/...")
        .about(
            "for serial: the port",
            "`skimwatch check` lists the ports; a name below /dev/serial/by-id/ survives \
             replugging, /dev/ttyUSB0 may change",
        )
        .given("\"/dev/serial/by-id/usb-wind\""),
    Key::whole("baud", "bits/s", 1200, 921_600)
        .default(4800.0)
        .about(
            "for serial: 4800 is the standard, 38400 high speed",
            "it is in the talker's manual",
        )
        .given("4800"),
    Key::form("address", "host:port, such as 192.0.2.7:10110")
        .about(
            "for tcp-client: the box that we call",
            "in the box's own set-up page or manual",
        )
        .example("\"192.0.2.7:10110\""),
    Key::form("bind", "address:port, such as 0.0.0.0:10110")
        .about(
            "for udp and tcp-server: where we listen",
            "0.0.0.0 and the port to which the box sends; its set-up page tells it",
        )
        .example("\"0.0.0.0:10110\""),
    Key::list(
        "groups",
        "a multicast address, 224.0.0.0 to 239.255.255.255",
    )
    .about(
        "for udp: multicast groups to join",
        "in the sender's manual or set-up page",
    )
    .example("[\"239.192.0.1\"]"),
    Key::form(
        "interface",
        "the IPv4 address of one of this computer's interfaces",
    )
    .or(Fallback::Nothing)
    .about(
        "for udp: on which interface the groups are joined",
        "`ip address` lists them",
    )
    .example("\"192.0.2.7\""),
    Key::flag("share_port", false).about(
        "for udp: lets another program on this computer listen on the same port",
        "yes if another program here listens on that port, such as a plotter",
    ),
    Key::form("path", "the path of a file")
        .about(
            "for file: a named pipe, or a recording",
            "`ls` it as the user of the daemon",
        )
        .example("\"day.nmea\""),
    Key::words("checksum", CHECKSUM_WORDS)
        .or(Fallback::Word("required"))
        .about(
            "\"required\" refuses lines without a checksum; \"if-present\" takes them until the \
             same kind of line has once come with one; a wrong checksum is never taken",
            "`skimwatch check --listen 10` counts lines refused for want of one",
        ),
    Key::whole("max_line_bytes", "bytes", LEAST_LINE, MOST_LINE)
        .default(FrameSettings::USUAL_LINE_BYTES as f64)
        .about(
            "longest line; noise without line ends is cut there",
            "nothing to measure: leave the key away for the default",
        ),
    Key::flag("crew", false).about(
        "whether crew sentences ($PSKWT: line out, bait, turns, settings) on this feed are the \
             crew's; anybody on a network can send one, so as a rule only what is tapped on the \
             pages counts, and others are refused and counted as not-crew",
        "nothing to measure: leave it unless you wired a crew panel there",
    ),
];

const EXAMPLES: &str = r#"
[[feed]]
name = "bridge"
kind = "udp"
bind = "0.0.0.0:10110"

# A box that we call:
# [[feed]]
# name = "gateway"
# kind = "tcp-client"
# address = "192.0.2.7:10110"

# A port that others call:
# [[feed]]
# name = "callers"
# kind = "tcp-server"
# bind = "0.0.0.0:10111"

# A named pipe that another program writes to, or a file, read as fast as possible (`skimwatch
# replay --serve` plays a recording at its own pace):
# [[feed]]
# name = "day"
# kind = "file"
# path = "/run/instruments.pipe"

# Standard input:
# [[feed]]
# name = "pipe"
# kind = "stdin"
"#;
