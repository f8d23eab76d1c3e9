//! `[[feed]]`: where NMEA 0183 comes from.

use std::collections::BTreeMap;
use std::net::{Ipv4Addr, SocketAddr};

use super::reader::Section;
use crate::feed::{ChecksumPolicy, Feed, FeedKind, FeedSpec, FrameSettings};

/// Reads every feed and looks for two that cannot live together. Besides the good feeds gives the
/// names of all, good or not.
pub(super) fn read(sections: Vec<Section<'_>>) -> (Vec<Feed>, Vec<String>) {
    let mut feeds = Vec::new();
    let mut names = Vec::new();
    let mut taken: BTreeMap<String, String> = BTreeMap::new();
    for mut section in sections {
        let name = section.needed_text("name");
        if let Some(name) = name {
            section.rename(name);
            names.push(name.to_owned());
        }
        let kind = section.needed_choice("kind", &FeedKind::WORDS);
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
                    for complaint in complaints {
                        section.place(complaint);
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

fn read_spec(section: &Section<'_>, kind: FeedKind) -> Option<FeedSpec> {
    match kind {
        FeedKind::Serial => {
            let device = section.needed_text("device");
            let baud = match section.any_whole("baud") {
                Some(baud) => u32::try_from(baud).unwrap_or(u32::MAX),
                None => FeedSpec::BAUD,
            };
            Some(FeedSpec::Serial {
                device: device?.into(),
                baud,
            })
        }
        FeedKind::TcpClient => Some(FeedSpec::TcpClient {
            address: section.needed_text("address")?.to_owned(),
        }),
        FeedKind::TcpServer => Some(FeedSpec::TcpServer {
            bind: bind(section)?,
        }),
        FeedKind::Udp => {
            let groups = section.parsed_list("groups", |text| {
                text.parse::<Ipv4Addr>()
                    .map_err(|_| "write a multicast address such as \"239.192.0.1\"".to_owned())
            });
            let interface = section.parsed("interface", |text| text.parse::<Ipv4Addr>().ok());
            let share_port = section.flag("share_port").unwrap_or(false);
            Some(FeedSpec::Udp {
                bind: bind(section)?,
                groups: groups.unwrap_or_default(),
                interface,
                share_port,
            })
        }
        FeedKind::File => Some(FeedSpec::File {
            path: section.needed_text("path")?.into(),
        }),
        FeedKind::Stdin => Some(FeedSpec::Stdin),
    }
}

fn bind(section: &Section<'_>) -> Option<SocketAddr> {
    section.needed_parsed("bind", |text| text.parse().ok())
}

fn read_frame(section: &Section<'_>) -> FrameSettings {
    let default = FrameSettings::default();
    FrameSettings {
        checksum: section
            .choice("checksum", &ChecksumPolicy::WORDS)
            .unwrap_or(default.checksum),
        max_line_bytes: section
            .any_whole("max_line_bytes")
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
