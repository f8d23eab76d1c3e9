//! A connection whose phone may fall asleep or leave the network.

use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;

use socket2::{SockRef, TcpKeepalive};
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;
use tokio::time::{Instant, Sleep, sleep_until};

use super::counters::Counters;

/// Send buffer of one client: enough for the largest answer, small enough that a sleeping phone is
/// noticed after seconds.
const SEND_BUFFER_BYTES: usize = 128 * 1024;

/// Unsent bytes of one client from which on nothing more is taken for it: about two states. What waits
/// in the system is old when a slow phone gets it, and only what is not taken yet can be left out.
pub(super) const UNSENT_BYTES: u32 = 16 * 1024;

/// Silence after which TCP keep-alive probes a connection.
const PROBE_AFTER: Duration = Duration::from_secs(15);
/// Time between two probes.
const PROBE_AGAIN: Duration = Duration::from_secs(5);
/// Unanswered probes, or as long unacknowledged bytes, after which a connection is closed.
const PROBES: u32 = 3;
const GONE_AFTER: Duration = Duration::from_secs(30);

/// Tunes the socket; one that refuses an option still works.
fn tune(stream: &TcpStream) {
    let _ = stream.set_nodelay(true);
    let socket = SockRef::from(stream);
    let _ = socket.set_send_buffer_size(SEND_BUFFER_BYTES);
    let probing = TcpKeepalive::new()
        .with_time(PROBE_AFTER)
        .with_interval(PROBE_AGAIN)
        .with_retries(PROBES);
    let _ = socket.set_tcp_keepalive(&probing);
    // Probes rest while something sent waits for its answer.
    #[cfg(target_os = "linux")]
    let _ = socket.set_tcp_user_timeout(Some(GONE_AFTER));
    #[cfg(target_os = "linux")]
    let _ = socket.set_tcp_notsent_lowat(UNSENT_BYTES);
}

/// A connection that fails its writes once the other end has taken nothing for too long.
#[derive(Debug)]
pub(super) struct GuardedStream {
    stream: TcpStream,
    stalled_until: Option<Pin<Box<Sleep>>>,
    patience: Duration,
    counters: Arc<Counters>,
}

impl GuardedStream {
    pub(super) fn new(stream: TcpStream, patience: Duration, counters: Arc<Counters>) -> Self {
        tune(&stream);
        Self {
            stream,
            stalled_until: None,
            patience,
            counters,
        }
    }

    /// The first byte that the other end sends, without taking it; `None` when it leaves.
    pub(super) async fn first_byte(&self) -> io::Result<Option<u8>> {
        let mut byte = [0];
        let count = self.stream.peek(&mut byte).await?;
        Ok((count > 0).then_some(byte[0]))
    }

    /// Whether the other end is on this computer, too.
    pub(super) fn is_from_here(&self) -> bool {
        let ends = (self.stream.peer_addr(), self.stream.local_addr());
        matches!(ends, (Ok(peer), Ok(own)) if {
            let (peer, own) = (peer.ip().to_canonical(), own.ip().to_canonical());
            peer.is_loopback() || peer == own
        })
    }

    fn watch<T>(
        &mut self,
        cx: &mut Context<'_>,
        written: Poll<io::Result<T>>,
    ) -> Poll<io::Result<T>> {
        if written.is_ready() {
            self.stalled_until = None;
            return written;
        }
        let patience = self.patience;
        let timer = self
            .stalled_until
            .get_or_insert_with(|| Box::pin(sleep_until(Instant::now() + patience)));
        if timer.as_mut().poll(cx).is_ready() {
            self.counters.client_stalled();
            return Poll::Ready(Err(io::Error::new(
                io::ErrorKind::TimedOut,
                "the client takes no bytes",
            )));
        }
        Poll::Pending
    }
}

impl AsyncRead for GuardedStream {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buf: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_read(cx, buf)
    }
}

impl AsyncWrite for GuardedStream {
    fn poll_write(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buf: &[u8],
    ) -> Poll<io::Result<usize>> {
        let written = Pin::new(&mut self.stream).poll_write(cx, buf);
        self.watch(cx, written)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bufs: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        let written = Pin::new(&mut self.stream).poll_write_vectored(cx, bufs);
        self.watch(cx, written)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }
}

#[cfg(test)]
mod tests {
    use tokio::net::TcpListener;

    use super::*;

    #[tokio::test]
    async fn a_connection_is_probed() {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let client = TcpStream::connect(listener.local_addr().unwrap());
        let (client, accepted) = tokio::join!(client, listener.accept());
        let (_client, (stream, _)) = (client.unwrap(), accepted.unwrap());
        tune(&stream);
        let socket = SockRef::from(&stream);
        assert!(socket.keepalive().unwrap());
        assert_eq!(socket.tcp_keepalive_time().unwrap(), PROBE_AFTER);
        #[cfg(target_os = "linux")]
        assert_eq!(socket.tcp_user_timeout().unwrap(), Some(GONE_AFTER));
    }
}
