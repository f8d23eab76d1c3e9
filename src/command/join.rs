//! How a phone finds the pages: addresses, a QR code on the terminal, a name on the network; and how
//! the first one joins.

use std::io::IsTerminal as _;
use std::net::{IpAddr, SocketAddr};

use mdns_sd::{DaemonEvent, ServiceDaemon, ServiceInfo};
use qrcode::QrCode;
use qrcode::render::unicode::Dense1x2;
use tokio_util::sync::CancellationToken;

use super::crew::in_fours;
use crate::access::Access;
use crate::settings::ServeSettings;

/// The kind of service, as DNS-SD calls web pages (RFC 6763, examples).
const WEB_PAGES: &str = "_http._tcp.local.";

/// Shows in log and terminal how a phone reaches the pages at `address`, and announces the mDNS name
/// until shutdown. Does nothing when only this computer can reach them.
pub(super) fn invite(
    address: SocketAddr,
    settings: &ServeSettings,
    access: &Access,
    shutdown: &CancellationToken,
) {
    let joining = tell_who_may_touch(address, access);
    if address.ip().is_loopback() {
        return;
    }
    let port = address.port();
    let page = |ip, port| format!("{}{joining}", page(ip, port));
    let addresses = own_addresses(address.ip());
    for ip in &addresses {
        tracing::info!("on a phone: {}", page(*ip, port));
    }
    match addresses.first() {
        Some(ip) if std::io::stderr().is_terminal() => match qr_code(&page(*ip, port)) {
            Some(code) => eprintln!("\n{code}\n"),
            None => tracing::warn!("no QR code: the address is too long"),
        },
        Some(_) => {}
        None => tracing::warn!(
            "this computer has no network address that a phone could use; join it to the boat's Wi-Fi and start again"
        ),
    }
    if settings.mdns_name.is_empty() {
        return;
    }
    if let Err(why) = answer_to_name(&settings.mdns_name, address, shutdown.clone()) {
        tracing::warn!(
            "no name {}.local on the network ({why}); phones use the address above. [serve] mdns_name = \"\" turns this off",
            settings.mdns_name
        );
    }
}

/// Says who may touch, and shows the code with which the first phone joins. Gives the path of the page
/// on which to join, empty where that is not the next thing to do.
fn tell_who_may_touch(address: SocketAddr, access: &Access) -> &'static str {
    const JOIN: &str = "phone";
    let Some(invited) = access.first_code() else {
        if access.locks().touch {
            tracing::info!(
                "phones that may touch: {}; `skimwatch crew invite` gives a code for another",
                access.phones().len()
            );
        } else if !address.ip().is_loopback() {
            tracing::warn!("everybody on this network may touch: [serve] touch = \"everybody\"");
        }
        return "";
    };
    tracing::info!(
        "everybody else only looks: the first phone that enters the code {} at /{JOIN} within {} \
         minutes becomes the keeper",
        in_fours(&invited.code),
        invited.good_for.as_secs() / 60
    );
    JOIN
}

/// The pages' address.
pub(super) fn page(ip: IpAddr, port: u16) -> String {
    format!("http://{}/", SocketAddr::new(ip, port))
}

/// Addresses at which others reach a socket bound to `bound`, those of private networks first.
pub(super) fn own_addresses(bound: IpAddr) -> Vec<IpAddr> {
    if !bound.is_unspecified() {
        return vec![bound];
    }
    let found = match if_addrs::get_if_addrs() {
        Ok(found) => found,
        Err(why) => {
            tracing::warn!("cannot list this computer's addresses ({why})");
            return Vec::new();
        }
    };
    in_order(found.into_iter().map(|interface| interface.ip()))
}

/// Phones on a boat speak IPv4; addresses that only hold on one link say nothing to a browser.
fn in_order(found: impl Iterator<Item = IpAddr>) -> Vec<IpAddr> {
    let mut addresses: Vec<_> = found
        .filter_map(|ip| match ip {
            IpAddr::V4(ip) if !ip.is_loopback() && !ip.is_link_local() => Some(ip),
            _ => None,
        })
        .collect();
    addresses.sort_by_key(|ip| (!ip.is_private(), *ip));
    addresses.dedup();
    addresses.into_iter().map(IpAddr::V4).collect()
}

/// The code as text, black on white whatever the terminal's colours.
fn qr_code(text: &str) -> Option<String> {
    let code = QrCode::new(text).ok()?;
    // A block of the character is ink: black ink on white paper.
    let drawn = code
        .render::<Dense1x2>()
        .dark_color(Dense1x2::Dark)
        .light_color(Dense1x2::Light)
        .build();
    let lines: Vec<_> = drawn
        .lines()
        .map(|line| format!("  \u{1b}[30;107m{line}\u{1b}[0m"))
        .collect();
    Some(lines.join("\n"))
}

fn answer_to_name(
    name: &str,
    address: SocketAddr,
    shutdown: CancellationToken,
) -> Result<(), mdns_sd::Error> {
    let host = format!("{name}.local.");
    let none: &[(&str, &str)] = &[];
    let mut service = if address.ip().is_unspecified() {
        ServiceInfo::new(WEB_PAGES, name, &host, "", address.port(), none)?.enable_addr_auto()
    } else {
        ServiceInfo::new(WEB_PAGES, name, &host, address.ip(), address.port(), none)?
    };
    service.set_requires_probe(true);
    let daemon = ServiceDaemon::new()?;
    let events = daemon.monitor()?;
    daemon.register(service)?;
    tracing::info!("on a phone: http://{name}.local:{}/", address.port());
    tokio::spawn(async move {
        loop {
            let event = tokio::select! {
                () = shutdown.cancelled() => break,
                event = events.recv_async() => event,
            };
            match event {
                Ok(DaemonEvent::NameChange(change)) => tracing::warn!(
                    "another device already answers to {}: this one is {} instead",
                    change.original,
                    change.new_name
                ),
                Ok(DaemonEvent::Error(why)) => tracing::warn!("name on the network: {why}"),
                Ok(_) => {}
                Err(_) => return,
            }
        }
        // Says good-bye, so that phones forget the name at once; nobody waits for it.
        let _ = daemon.shutdown();
    });
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_of_private_networks_come_first_and_useless_ones_not_at_all() {
        let found = [
            "127.0.0.1",
            "198.51.100.7",
            "169.254.3.4",
            "fe80::1",
            "192.168.4.1",
            "10.0.0.2",
        ];
        let ordered = in_order(found.iter().map(|ip| ip.parse().unwrap()));
        let ordered: Vec<_> = ordered.iter().map(ToString::to_string).collect();
        assert_eq!(ordered, ["10.0.0.2", "192.168.4.1", "198.51.100.7"]);
    }

    #[test]
    fn ink_stands_where_the_code_is_dark_with_a_quiet_edge_round_it() {
        /// Modules of edge that a reader needs (ISO/IEC 18004, from memory).
        const EDGE: usize = 4;
        let text = "http://192.168.4.1:8477/";
        let code = QrCode::new(text).unwrap();
        let (width, colours) = (code.width(), code.to_colors());
        let drawn = qr_code(text).unwrap();
        let lines: Vec<_> = drawn.lines().collect();
        assert_eq!(lines.len(), (width + 2 * EDGE).div_ceil(2));
        for (row, line) in lines.iter().enumerate() {
            let ink = line
                .strip_prefix("  \u{1b}[30;107m")
                .and_then(|rest| rest.strip_suffix("\u{1b}[0m"))
                .unwrap();
            assert_eq!(ink.chars().count(), width + 2 * EDGE);
            for (column, character) in ink.chars().enumerate() {
                let halves = match character {
                    ' ' => [false, false],
                    '\u{2580}' => [true, false],
                    '\u{2584}' => [false, true],
                    '\u{2588}' => [true, true],
                    other => panic!("{other:?}"),
                };
                for (half, inked) in halves.into_iter().enumerate() {
                    let x = column.wrapping_sub(EDGE);
                    let y = (2 * row + half).wrapping_sub(EDGE);
                    let dark =
                        x < width && y < width && colours[y * width + x] == qrcode::Color::Dark;
                    assert_eq!(inked, dark, "{x} {y}");
                }
            }
        }
    }
}
