//! A listener that hands out a bounded number of connections and cuts one whose other end has
//! stopped taking bytes. Without it a phone that fell asleep would hold its stream for many
//! minutes, until TCP itself gives up.

use std::io;
use std::net::SocketAddr;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;

use axum::serve::Listener;
use socket2::SockRef;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::time::{Instant, Sleep, sleep_until};

use super::metrics::Counters;

/// Bytes the system may hold for one client: enough for the largest answer, small enough that
/// a sleeping phone is noticed after seconds.
const SEND_BUFFER_BYTES: usize = 128 * 1024;

/// The listener.
#[derive(Debug)]
pub(super) struct GuardedListener {
    listener: TcpListener,
    seats: Arc<Semaphore>,
    patience: Duration,
    counters: Arc<Counters>,
}

impl GuardedListener {
    pub(super) fn new(
        listener: TcpListener,
        connections: usize,
        patience: Duration,
        counters: Arc<Counters>,
    ) -> Self {
        Self {
            listener,
            seats: Arc::new(Semaphore::new(connections)),
            patience,
            counters,
        }
    }
}

impl Listener for GuardedListener {
    type Io = GuardedStream;
    type Addr = SocketAddr;

    async fn accept(&mut self) -> (Self::Io, Self::Addr) {
        let seat = Arc::clone(&self.seats).acquire_owned().await.ok();
        let (stream, address) = Listener::accept(&mut self.listener).await;
        // Both only tune: a socket that refuses them still works.
        let _ = stream.set_nodelay(true);
        let _ = SockRef::from(&stream).set_send_buffer_size(SEND_BUFFER_BYTES);
        let guarded = GuardedStream {
            stream,
            stalled_until: None,
            patience: self.patience,
            counters: Arc::clone(&self.counters),
            _seat: seat,
        };
        (guarded, address)
    }

    fn local_addr(&self) -> io::Result<Self::Addr> {
        self.listener.local_addr()
    }
}

/// A connection that fails its writes once the other end has taken nothing for too long.
#[derive(Debug)]
pub(super) struct GuardedStream {
    stream: TcpStream,
    stalled_until: Option<Pin<Box<Sleep>>>,
    patience: Duration,
    counters: Arc<Counters>,
    _seat: Option<OwnedSemaphorePermit>,
}

impl GuardedStream {
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
