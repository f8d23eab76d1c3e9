//! A bounded number of connections, shared fairly. A connection is closed when it sends no request,
//! when it no longer takes bytes, or when its phone has left the network. Otherwise a few idle or
//! sleeping phones would hold every seat for many minutes, until TCP itself gives up.

use std::convert::Infallible;
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
use tokio::net::TcpListener;
use tokio::time::timeout;
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;
use tower::ServiceExt;

use super::counters::{Counters, Want};
use super::guarded_stream::{GuardedStream, UNSENT_BYTES};
use super::link::{self, Link};
use super::seats::{AtWork, Client, Seat, Seats};
use crate::tls::Encryption;

/// Longest time from opening a connection to the end of its handshake, and from there or from its last
/// answer to the end of the next request's head.
const HEAD_DEADLINE: Duration = Duration::from_secs(8);

/// Longest time that open connections may delay the shutdown.
const PARTING: Duration = Duration::from_secs(3);

/// Serves connections until `shutdown`; each then finishes the answer it is giving.
pub(super) async fn serve(
    mut listener: GuardedListener,
    router: Router,
    encryption: Option<Encryption>,
    shutdown: CancellationToken,
) {
    let mut http = http1::Builder::new();
    http.timer(TokioTimer::new())
        .header_read_timeout(HEAD_DEADLINE)
        .max_buf_size(UNSENT_BYTES as usize);
    let open = TaskTracker::new();
    while let Some((stream, client, seat)) = shutdown.run_until_cancelled(listener.accept()).await {
        let (http, router, encryption) = (http.clone(), router.clone(), encryption.clone());
        let (shutdown, counters) = (shutdown.clone(), Arc::clone(&listener.counters));
        open.spawn(async move {
            let opening = timeout(HEAD_DEADLINE, link::open(encryption.as_ref(), stream));
            let opened = tokio::select! {
                opened = opening => opened,
                () = seat.displaced() => return counters.connection_closed(Want::Displaced),
                () = shutdown.cancelled() => return,
            };
            let Ok(Ok((stream, link))) = opened else {
                return counters.handshake_failed();
            };
            let service = service(router, client, link, Arc::clone(&seat));
            let mut connection = Box::pin(http.serve_connection(TokioIo::new(stream), service));
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
    let _ = timeout(PARTING, open.wait()).await;
}

/// Answers the requests of one connection. They know their client; until an answer is through, its
/// seat is at work.
fn service(
    router: Router,
    client: Client,
    link: Link,
    seat: Arc<Seat>,
) -> impl Service<
    Request<Incoming>,
    Response = Response<Body>,
    Error = Infallible,
    Future: Send + 'static,
> + Send {
    service_fn(move |mut request: Request<Incoming>| {
        request.extensions_mut().insert(client);
        request.extensions_mut().insert(link);
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
            let stream = GuardedStream::new(stream, self.patience, Arc::clone(&self.counters));
            return (stream, client, seat);
        }
    }
}
