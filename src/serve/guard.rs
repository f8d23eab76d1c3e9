//! A bounded number of connections, shared fairly. A connection is closed when it sends no request,
//! when it no longer takes bytes, or when its phone has left the network. Otherwise a few idle or
//! sleeping phones would hold every seat for many minutes, until TCP itself gives up.

use std::convert::Infallible;
use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;

use axum::Router;
use axum::body::{Body, Bytes, HttpBody};
use axum::serve::Listener;
use hyper::body::{Frame, Incoming, SizeHint};
use hyper::server::conn::http1;
use hyper::service::{Service, service_fn};
use hyper::{Request, Response};
use hyper_util::rt::{TokioIo, TokioTimer};
use socket2::{SockRef, TcpKeepalive};
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::time::{Instant, Sleep, sleep_until};
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;
use tower::ServiceExt;

use super::counters::{Counters, Want};
use super::seats::{AtWork, Client, Seat, Seats};

/// Send buffer of one client: enough for the largest answer, small enough that a sleeping phone is
/// noticed after seconds.
const SEND_BUFFER_BYTES: usize = 128 * 1024;

/// Longest time from opening a connection, or from its last answer, to the end of the next request's
/// head.
const HEAD_DEADLINE: Duration = Duration::from_secs(8);

/// Silence after which TCP keep-alive probes a connection.
const PROBE_AFTER: Duration = Duration::from_secs(15);
/// Time between two probes.
const PROBE_AGAIN: Duration = Duration::from_secs(5);
/// Unanswered probes, or as long unacknowledged bytes, after which a connection is closed.
const PROBES: u32 = 3;
const GONE_AFTER: Duration = Duration::from_secs(30);

/// Longest time that open connections may delay the shutdown.
const PARTING: Duration = Duration::from_secs(3);

/// Serves connections until `shutdown`; each then finishes the answer it is giving.
pub(super) async fn serve(
    mut listener: GuardedListener,
    router: Router,
    shutdown: CancellationToken,
) {
    let mut http = http1::Builder::new();
    http.timer(TokioTimer::new())
        .header_read_timeout(HEAD_DEADLINE);
    let open = TaskTracker::new();
    while let Some((stream, client, seat)) = shutdown.run_until_cancelled(listener.accept()).await {
        let service = service(router.clone(), client, Arc::clone(&seat));
        let mut connection = Box::pin(http.serve_connection(TokioIo::new(stream), service));
        let (shutdown, counters) = (shutdown.clone(), Arc::clone(&listener.counters));
        open.spawn(async move {
            tokio::select! {
                // However it ends, the other end knows as much as we do.
                _ended = connection.as_mut() => {}
                () = seat.displaced() => counters.connection_closed(Want::Displaced),
                () = shutdown.cancelled() => {
                    connection.as_mut().graceful_shutdown();
                    let _ = connection.await;
                }
            }
        });
    }
    drop(listener);
    open.close();
    // A client in the middle of a request is not waited for longer.
    let _ = tokio::time::timeout(PARTING, open.wait()).await;
}

/// Answers the requests of one connection. They know their client; until an answer is through, its
/// seat is at work.
fn service(
    router: Router,
    client: Client,
    seat: Arc<Seat>,
) -> impl Service<
    Request<Incoming>,
    Response = Response<Body>,
    Error = Infallible,
    Future: Send + 'static,
> + Send {
    service_fn(move |mut request: Request<Incoming>| {
        request.extensions_mut().insert(client);
        let at_work = AtWork::on(Arc::clone(&seat));
        let answering = router.clone().oneshot(request);
        async move {
            let answer = answering.await?;
            Ok(answer.map(|body| {
                Body::new(WorkedBody {
                    body,
                    _at_work: at_work,
                })
            }))
        }
    })
}

/// The body of an answer; its connection is at work until it is dropped.
#[derive(Debug)]
struct WorkedBody {
    body: Body,
    _at_work: AtWork,
}

impl HttpBody for WorkedBody {
    type Data = Bytes;
    type Error = axum::Error;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, axum::Error>>> {
        Pin::new(&mut self.body).poll_frame(cx)
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}

/// The listener.
#[derive(Debug)]
pub(super) struct GuardedListener {
    listener: TcpListener,
    seats: Arc<Seats>,
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
            seats: Seats::new(connections),
            patience,
            counters,
        }
    }

    /// The next connection that gets a seat. One without is closed at once: who it is shows only
    /// after it is accepted, and left to wait it would hold up those behind it.
    async fn accept(&mut self) -> (GuardedStream, Client, Arc<Seat>) {
        loop {
            let (stream, address) = Listener::accept(&mut self.listener).await;
            let client = Client::from(address);
            let Some(seat) = self.seats.take(client) else {
                self.counters.connection_closed(Want::Full);
                continue;
            };
            tune(&stream);
            let stream = GuardedStream {
                stream,
                stalled_until: None,
                patience: self.patience,
                counters: Arc::clone(&self.counters),
            };
            return (stream, client, seat);
        }
    }
}

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
