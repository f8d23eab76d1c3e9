//! Notifications to the service manager, as in sd_notify(3): ready, alive, stopping.

use std::ffi::OsStr;
use std::io;
use std::os::unix::net::{SocketAddr, UnixDatagram};
use std::sync::Arc;
use std::time::{Duration, Instant};

use tokio::sync::watch;
use tokio_util::sync::CancellationToken;

use crate::engine::Snapshot;

/// The manager's socket.
struct Manager {
    socket: UnixDatagram,
    address: SocketAddr,
}

impl Manager {
    /// `name` as in `NOTIFY_SOCKET`: a path, or `@` and an abstract name.
    fn at(name: &OsStr) -> io::Result<Self> {
        let socket = UnixDatagram::unbound()?;
        // A manager that does not listen must not hold anybody up.
        socket.set_nonblocking(true)?;
        Ok(Self {
            socket,
            address: address(name)?,
        })
    }

    fn say(&self, what: &str) {
        if let Err(error) = self.socket.send_to_addr(what.as_bytes(), &self.address) {
            tracing::warn!("the service manager was not told {what}: {error}");
        }
    }
}

#[cfg(target_os = "linux")]
fn address(name: &OsStr) -> io::Result<SocketAddr> {
    use std::os::linux::net::SocketAddrExt as _;
    use std::os::unix::ffi::OsStrExt as _;
    match name.as_bytes() {
        [b'@', name @ ..] => SocketAddr::from_abstract_name(name),
        _ => SocketAddr::from_pathname(name),
    }
}

#[cfg(not(target_os = "linux"))]
fn address(name: &OsStr) -> io::Result<SocketAddr> {
    SocketAddr::from_pathname(name)
}

/// Tells the manager that we are ready, then with the engine's pictures that we are alive, and at
/// last that we stop. Without a manager it does nothing.
pub(super) async fn report(
    mut snapshot: watch::Receiver<Arc<Snapshot>>,
    shutdown: CancellationToken,
) {
    let Some(name) = std::env::var_os("NOTIFY_SOCKET") else {
        return;
    };
    let manager = match Manager::at(&name) {
        Ok(manager) => manager,
        Err(error) => {
            tracing::warn!("NOTIFY_SOCKET {}: {error}", name.display());
            return;
        }
    };
    manager.say("READY=1");
    // A picture comes every second; half the patience would do, a quarter leaves room for one lost.
    let pause = patience().map(|patience| patience / 4);
    let mut said = None::<Instant>;
    while let Some(Ok(())) = shutdown.run_until_cancelled(snapshot.changed()).await {
        if let Some(pause) = pause
            && said.is_none_or(|said| said.elapsed() >= pause)
        {
            manager.say("WATCHDOG=1");
            said = Some(Instant::now());
        }
    }
    manager.say("STOPPING=1");
}

/// How long the manager waits for a sign of life; `None` when it does not.
fn patience() -> Option<Duration> {
    let number = |key| std::env::var(key).ok()?.parse::<u64>().ok();
    // Meant for another process when it names one.
    if number("WATCHDOG_PID").is_some_and(|pid| pid != u64::from(std::process::id())) {
        return None;
    }
    number("WATCHDOG_USEC").map(Duration::from_micros)
}
