//! Event streams (Server-Sent Events). Each ends on the shutdown token, so that an open page
//! never keeps the program from stopping, and none waits for another.

use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use futures_util::{Stream, StreamExt, stream};
use serde::Serialize;
use tokio::sync::broadcast;
use tokio::time::{Instant, sleep};

use super::bucket::{Bucket, Pace};
use super::counters::{Counters, StreamKind};
use super::hub::{Entry, Start};
use super::problem::Problem;
use super::read::{ForecastAnswer, fresh};
use super::room::Room;
use super::seats::{AtWork, Client};
use super::who::Asker;
use crate::access::Visitor;
use crate::time::Millis;

/// How soon a page should try again after the link was lost.
const RETRY: Duration = Duration::from_millis(1000);

/// Interval of the state stream's heartbeat while no tick comes.
const BEAT: Duration = Duration::from_secs(2);

/// States for one reader: a replay at a hundred times the pace must not drown a phone, and what the
/// crew says must not wait because a tick was just shown.
const PACE: Pace = Pace {
    burst: 3.0,
    per_s: 10.0,
};

/// One reader's seat; dropping it gives the seat back.
#[derive(Debug)]
struct Reader {
    counters: Arc<Counters>,
    kind: StreamKind,
    _at_work: AtWork,
}

impl Reader {
    /// The place, and what ends when the stream must: at shutdown, when its phone is taken out, or
    /// when a client with fewer streams needs the place.
    fn enter(
        room: &Room,
        client: Client,
        visitor: &Visitor,
        kind: StreamKind,
    ) -> Result<(Self, impl Future<Output = ()> + Send + use<>), Problem> {
        let Some(seat) = room.stream_seats.take(client) else {
            room.counters.stream_refused();
            return Err(Problem::busy("every event stream is taken"));
        };
        room.counters.stream_opened(kind);
        let (shutdown, displaced) = (room.shutdown.clone(), seat.displaced());
        let taken_out = visitor.taken_out();
        let counters = Arc::clone(&room.counters);
        let over = async move {
            tokio::select! {
                () = shutdown.cancelled() => {}
                () = taken_out => {}
                () = displaced => counters.stream_displaced(),
            }
        };
        let reader = Self {
            counters: Arc::clone(&room.counters),
            kind,
            _at_work: AtWork::on(seat),
        };
        Ok((reader, over))
    }
}

impl Drop for Reader {
    fn drop(&mut self) {
        self.counters.stream_closed(self.kind);
    }
}

/// Heartbeat: the link is up although no tick came.
#[derive(Debug, Serialize)]
struct Beat {
    lag_s: f64,
}

/// Says that revisions were missed.
#[derive(Debug, Serialize)]
struct Gap {
    why: String,
}

/// Advisory revisions as they come.
///
/// Events: `living` (array, once at the start: what lives now), `advisory` (one revision, with
/// an id), `gap` (revisions were missed and the history no longer has them; `living` follows).
/// With the header `Last-Event-ID` the missed revisions come first instead of `living`.
/// A reader that cannot keep up is dropped; it may come back with its last id.
#[utoipa::path(get, path = "/v1/advisories/stream", tag = "read",
    security((), ("phone" = ["look"])),
    operation_id = "advisories_stream",
    params(("Last-Event-ID" = Option<String>, Header, description = "Last event id seen")),
    responses((status = 200, description = "text/event-stream of living, advisory, gap",
            content_type = "text/event-stream", body = String),
        (status = 403, description = "A page of another host asks", body = Problem,
            content_type = "application/problem+json"),
        (status = 503, description = "Every stream is taken", body = Problem,
            content_type = "application/problem+json")))]
pub(super) async fn advisories(
    State(room): State<Arc<Room>>,
    client: Client,
    Asker(visitor): Asker,
    headers: HeaderMap,
) -> Result<Response, Problem> {
    let (reader, over) = Reader::enter(&room, client, &visitor, StreamKind::Advisories)?;
    let last_id = headers
        .get("last-event-id")
        .and_then(|value| value.to_str().ok())
        .filter(|id| !id.is_empty());
    let seat = room.sources.revisions.seat(last_id);
    let mut first = Vec::new();
    match &seat.start {
        Start::Fresh => first.push(living(&room, &seat.last_id)),
        Start::Gap(why) => {
            first.push(json_event("gap", &Gap { why: why.clone() }));
            first.push(living(&room, &seat.last_id));
        }
        Start::Resumed(missed) => {
            first.extend(missed.iter().map(|entry| revision(&room, entry)));
        }
    }
    let heartbeat = Duration::from_secs_f64(room.settings.heartbeat_s);
    let coming = stream::unfold(
        (room, reader, seat.next),
        |(room, reader, mut next)| async {
            match next.recv().await {
                Ok(entry) => Some((revision(&room, &entry), (room, reader, next))),
                Err(broadcast::error::RecvError::Lagged(_)) => {
                    room.counters.reader_lagged();
                    None
                }
                Err(broadcast::error::RecvError::Closed) => None,
            }
        },
    );
    Ok(answer(
        stream::iter(first).chain(coming).take_until(over),
        Some(heartbeat),
    ))
}

/// The state as it changes, for pages.
///
/// Events: `state` (as `/v1/state`, one a tick), `forecast` (as `/v1/forecast`, when it is a
/// new one), `beat` (no tick for two seconds, but the link stands; with `lag_s`). At most ten states a
/// second, three of them at once after a pause; a reader that cannot keep up skips ticks.
#[utoipa::path(get, path = "/v1/state/stream", tag = "read",
    security((), ("phone" = ["look"])),
    operation_id = "state_stream",
    responses((status = 200, description = "text/event-stream of state, forecast, beat",
            content_type = "text/event-stream", body = String),
        (status = 403, description = "A page of another host asks", body = Problem,
            content_type = "application/problem+json"),
        (status = 503, description = "Every stream is taken", body = Problem,
            content_type = "application/problem+json")))]
pub(super) async fn state(
    State(room): State<Arc<Room>>,
    client: Client,
    Asker(visitor): Asker,
) -> Result<Response, Problem> {
    let (reader, over) = Reader::enter(&room, client, &visitor, StreamKind::State)?;
    let mut ticks = room.sources.snapshot.clone();
    ticks.mark_changed();
    let began = Instant::now();
    let bucket = Bucket::full(PACE, Duration::ZERO);
    let start = (room, reader, ticks, Shown::Nothing, bucket);
    let events = stream::unfold(
        start,
        move |(room, reader, mut ticks, mut shown, mut bucket)| async move {
            bucket.refill(began.elapsed());
            sleep(bucket.wait()).await;
            let batch = match tokio::time::timeout(BEAT, ticks.changed()).await {
                Err(_) => vec![json_event(
                    "beat",
                    &Beat {
                        lag_s: room.lag_s(),
                    },
                )],
                Ok(Err(_)) => return None,
                Ok(Ok(())) => {
                    let snapshot = Arc::clone(&ticks.borrow_and_update());
                    let mut batch = Vec::with_capacity(2);
                    let now = Shown::of(&snapshot.forecast);
                    if now != shown {
                        shown = now;
                        batch.push(match ForecastAnswer::new(&snapshot).to_json() {
                            Ok(json) => json_event("forecast", &json),
                            Err(error) => unwritable(&error),
                        });
                    }
                    batch.push(json_event("state", &room.state()));
                    room.counters.event_handed(StreamKind::State);
                    batch
                }
            };
            bucket.refill(began.elapsed());
            bucket.take();
            Some((stream::iter(batch), (room, reader, ticks, shown, bucket)))
        },
    )
    .flatten();
    Ok(answer(events.take_until(over), None))
}

/// Which forecast a reader has been sent.
#[derive(Debug, PartialEq)]
enum Shown {
    Nothing,
    MadeAt(Millis),
    None(Vec<String>),
}

impl Shown {
    fn of(forecast: &Result<Arc<crate::forecast::Forecast>, crate::forecast::NoForecast>) -> Self {
        match forecast {
            Ok(forecast) => Self::MadeAt(forecast.made_at),
            Err(none) => Self::None(none.reasons.clone()),
        }
    }
}

fn answer(
    events: impl Stream<Item = Event> + Send + 'static,
    heartbeat: Option<Duration>,
) -> Response {
    let first = stream::iter([Event::default().retry(RETRY).comment("skimwatch")]);
    let sse = Sse::new(first.chain(events).map(Ok::<_, Infallible>));
    match heartbeat {
        Some(interval) => fresh(sse.keep_alive(KeepAlive::new().interval(interval).text("beat"))),
        None => fresh(sse.into_response()),
    }
}

fn living(room: &Room, last_id: &str) -> Event {
    json_event("living", &room.snapshot().advisories).id(last_id)
}

fn revision(room: &Room, entry: &Entry) -> Event {
    room.counters.event_handed(StreamKind::Advisories);
    json_event("advisory", &entry.advisory).id(room.sources.revisions.id_of(entry.number))
}

fn json_event(name: &str, value: &impl Serialize) -> Event {
    match serde_json::to_string(value) {
        // JSON text holds no line ends, so `data` takes it whole.
        Ok(json) => Event::default().event(name).data(json),
        Err(error) => unwritable(&error),
    }
}

fn unwritable(error: &serde_json::Error) -> Event {
    tracing::error!(%error, "an event could not be written");
    Event::default().comment("unwritable event")
}
