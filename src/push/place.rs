//! Reaching a place on the boat's own network.

use std::net::SocketAddr;

use tokio::net::{TcpStream, lookup_host};

use crate::settings::{Aboard, is_aboard};

/// Where a place is now.
///
/// # Errors
/// Why it is nowhere, or not aboard.
pub(super) async fn find(place: &Aboard) -> Result<SocketAddr, String> {
    let found = lookup_host((place.host.as_str(), place.port)).await;
    let found: Vec<_> = found
        .map_err(|why| format!("the name {} is not found ({why})", place.host))?
        .collect();
    // Devices aboard speak IPv4, and some only that.
    let aboard = found.iter().filter(|address| is_aboard(address.ip()));
    match aboard.min_by_key(|address| address.is_ipv6()) {
        Some(address) => Ok(*address),
        None => Err(match found.first() {
            Some(address) => format!(
                "{} leads to {}, which is not on the boat's own network: nothing is sent there",
                place.host,
                address.ip()
            ),
            None => format!("the name {} leads nowhere", place.host),
        }),
    }
}

/// A connection to it.
///
/// # Errors
/// Why there is none.
pub(super) async fn connect(place: &Aboard) -> Result<TcpStream, String> {
    let address = find(place).await?;
    let stream = TcpStream::connect(address).await;
    stream.map_err(|why| format!("no connection to {address} ({why}): is the device on?"))
}
