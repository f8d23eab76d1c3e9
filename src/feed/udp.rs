//! UDP: unicast, broadcast, multicast; plain datagrams and those of IEC 61162-450.
//!
//! Each datagram is framed alone: it may hold several sentences, and its last line needs no
//! line end. The `UdPbC` header is the framer's affair.

use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::time::{Duration, Instant};

use socket2::{Domain, Protocol, Socket, Type};
use tokio::net::UdpSocket;
use tokio::time::timeout;

use super::Failure;
use super::framer::Framer;
use super::intake::Intake;
use super::origin::Senders;
use super::tcp::bind_failure;

/// Silence after which multicast groups are joined again: nothing else restores them when an
/// interface has gone down and up, or a switch has dropped the membership.
const REJOIN_AFTER: Duration = Duration::from_secs(30);

/// Receive buffer for bursts of a busy network while the daemon is at work elsewhere.
const RECEIVE_BUFFER_BYTES: usize = 256 * 1024;

/// Where and how to listen; see [`super::FeedSpec::Udp`].
#[derive(Debug, Clone, Copy)]
pub(super) struct Listen<'a> {
    pub(super) bind: SocketAddr,
    pub(super) groups: &'a [Ipv4Addr],
    pub(super) interface: Option<Ipv4Addr>,
    pub(super) share_port: bool,
}

/// Receives datagrams until the socket fails.
pub(super) async fn session(listen: Listen<'_>, intake: &Intake, framer: &mut Framer) -> Failure {
    let mut socket = match open(listen) {
        Ok(socket) => socket,
        Err(failure) => return failure,
    };
    intake.opened(1);
    let mut senders = Senders::default();
    let mut buffer = vec![0; usize::from(u16::MAX)];
    loop {
        match timeout(REJOIN_AFTER, socket.recv_from(&mut buffer)).await {
            Ok(Ok((count, from))) => {
                let origin = senders.origin(from, Instant::now());
                intake.take_datagram(framer, buffer.get(..count).unwrap_or_default(), origin);
            }
            Ok(Err(error)) => {
                return Failure(format!(
                    "UDP port {}: receiving failed: {error}",
                    listen.bind
                ));
            }
            Err(_) if listen.groups.is_empty() => {}
            Err(_) => {
                drop(socket);
                socket = match open(listen) {
                    Ok(socket) => socket,
                    Err(failure) => return failure,
                };
            }
        }
    }
}

fn open(listen: Listen<'_>) -> Result<UdpSocket, Failure> {
    let bound = || -> io::Result<Socket> {
        let domain = Domain::for_address(listen.bind);
        let socket = Socket::new(domain, Type::DGRAM, Some(Protocol::UDP))?;
        socket.set_nonblocking(true)?;
        if listen.share_port || !listen.groups.is_empty() {
            socket.set_reuse_address(true)?;
        }
        if !listen.groups.is_empty() {
            // Only our own groups, not those that other programs have joined.
            socket.set_multicast_all_v4(false)?;
        }
        if let Err(error) = socket.set_recv_buffer_size(RECEIVE_BUFFER_BYTES) {
            tracing::debug!(%error, "receive buffer left as it is");
        }
        socket.bind(&listen.bind.into())?;
        Ok(socket)
    };
    let socket = bound().map_err(|error| bind_failure("UDP", listen.bind, &error))?;
    let interface = listen.interface.unwrap_or(Ipv4Addr::UNSPECIFIED);
    for group in listen.groups {
        socket
            .join_multicast_v4(group, &interface)
            .map_err(|error| {
                Failure(format!(
                    "UDP port {}: joining group {group} on interface {interface}: {error}; \
                     is the network up, and the interface address right?",
                    listen.bind
                ))
            })?;
    }
    UdpSocket::from_std(socket.into())
        .map_err(|error| Failure(format!("UDP port {}: {error}", listen.bind)))
}
