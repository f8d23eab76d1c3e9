//! `[[feed]]`: where NMEA 0183 comes from.

use std::collections::BTreeMap;
use std::net::{Ipv4Addr, SocketAddr};

use super::reader::Section;
use crate::feed::{ChecksumPolicy, Feed, FeedSpec, FrameSettings};

#[derive(Debug, Clone, Copy)]
enum Kind {
    Serial,
    TcpClient,
    TcpServer,
    Udp,
    File,
    Stdin,
}

const KINDS: &[(&str, Kind)] = &[
    ("serial", Kind::Serial),
    ("tcp-client", Kind::TcpClient),
    ("tcp-server", Kind::TcpServer),
    ("udp", Kind::Udp),
    ("file", Kind::File),
    ("stdin", Kind::Stdin),
];

const CHECKSUMS: &[(&str, ChecksumPolicy)] = &[
    ("required", ChecksumPolicy::Required),
    ("if-present", ChecksumPolicy::IfPresent),
];

/// Reads every feed and looks for two that cannot live together. Besides the good feeds gives the
/// names of all, good or not.
pub(super) fn read(sections: Vec<Section<'_>>) -> (Vec<Feed>, Vec<String>) {
    let mut feeds = Vec::new();
    let mut names = Vec::new();
    let mut taken: BTreeMap<String, String> = BTreeMap::new();
    for mut section in sections {
        let name = section.needed_text(
            "name",
            "a short name that the page shows, like \"masthead\"",
        );
        if let Some(name) = name {
            section.rename(name);
            names.push(name.to_owned());
        }
        let kind = read_kind(&section);
        let spec = kind.and_then(|kind| read_spec(&section, kind));
        let frame = read_frame(&section);
        let crew = section.flag("crew").unwrap_or(false);
        if let Some(name) = name {
            claim(&section, &mut taken, "name", &format!("name {name}"), name);
        }
        if let (Some(name), Some(spec)) = (name, spec) {
            if let Some((key, place)) = exclusive(&spec) {
                claim(&section, &mut taken, key, &place, name);
            }
            match Feed::new(name, spec, frame) {
                Ok(feed) => feeds.push(Feed { crew, ..feed }),
                Err(complaints) => {
                    for wrong in complaints {
                        section.complain(
                            wrong.key,
                            "is out of range",
                            format!("allowed: {}", wrong.allowed),
                        );
                    }
                }
            }
        }
        // Which keys there are depends on the kind: without one none can be called unknown.
        if kind.is_some() {
            section.finish();
        }
    }
    (feeds, names)
}

fn read_kind(section: &Section<'_>) -> Option<Kind> {
    section.needed_text(
        "kind",
        "one of \"serial\", \"tcp-client\", \"tcp-server\", \"udp\", \"file\", \"stdin\"",
    )?;
    section.choice("kind", KINDS)
}

fn read_spec(section: &Section<'_>, kind: Kind) -> Option<FeedSpec> {
    match kind {
        Kind::Serial => {
            let device = section.needed_text(
                "device",
                "the serial port; a name below /dev/serial/by-id/ survives replugging",
            );
            let baud = match section.whole("baud") {
                Some(baud) => u32::try_from(baud).unwrap_or(u32::MAX),
                None => 4800,
            };
            Some(FeedSpec::Serial {
                device: device?.into(),
                baud,
            })
        }
        Kind::TcpClient => Some(FeedSpec::TcpClient {
            address: section
                .needed_text("address", "host:port, such as 192.0.2.7:10110")?
                .to_owned(),
        }),
        Kind::TcpServer => Some(FeedSpec::TcpServer {
            bind: bind(section, "0.0.0.0:10110")?,
        }),
        Kind::Udp => {
            let groups = section.parsed_list("groups", |text| {
                text.parse::<Ipv4Addr>()
                    .map_err(|_| "write a multicast address such as \"239.192.0.1\"".to_owned())
            });
            let interface = section.parsed(
                "interface",
                |text| text.parse::<Ipv4Addr>().ok(),
                "the IPv4 address of one of this computer's interfaces",
            );
            let share_port = section.flag("share_port").unwrap_or(false);
            Some(FeedSpec::Udp {
                bind: bind(section, "0.0.0.0:10110")?,
                groups: groups.unwrap_or_default(),
                interface,
                share_port,
            })
        }
        Kind::File => Some(FeedSpec::File {
            path: section
                .needed_text("path", "the path of a named pipe or a file")?
                .into(),
        }),
        Kind::Stdin => Some(FeedSpec::Stdin),
    }
}

fn bind(section: &Section<'_>, example: &str) -> Option<SocketAddr> {
    let wanted = format!("address:port, such as {example}");
    section.needed_text("bind", &wanted)?;
    section.parsed("bind", |text| text.parse().ok(), &wanted)
}

fn read_frame(section: &Section<'_>) -> FrameSettings {
    let default = FrameSettings::default();
    FrameSettings {
        checksum: section
            .choice("checksum", CHECKSUMS)
            .unwrap_or(default.checksum),
        max_line_bytes: section
            .whole("max_line_bytes")
            .map_or(default.max_line_bytes, |bytes| {
                usize::try_from(bytes).unwrap_or(usize::MAX)
            }),
    }
}

/// What only one feed can have, and the key that says it.
fn exclusive(spec: &FeedSpec) -> Option<(&'static str, String)> {
    match spec {
        FeedSpec::Serial { device, .. } => Some(("device", format!("port {}", device.display()))),
        FeedSpec::TcpServer { bind } => Some(("bind", format!("TCP port {}", bind.port()))),
        FeedSpec::Udp {
            bind,
            groups,
            share_port,
            ..
        } => (groups.is_empty() && !share_port)
            .then(|| ("bind", format!("UDP port {}", bind.port()))),
        FeedSpec::Stdin => Some(("kind", "standard input".to_owned())),
        FeedSpec::TcpClient { .. } | FeedSpec::File { .. } => None,
    }
}

fn claim(
    section: &Section<'_>,
    taken: &mut BTreeMap<String, String>,
    key: &str,
    place: &str,
    name: &str,
) {
    if let Some(first) = taken.get(place) {
        section.complain(
            key,
            format!("{place} is already that of feed \"{first}\""),
            "give each feed its own",
        );
    } else {
        taken.insert(place.to_owned(), name.to_owned());
    }
}
