//! The HTTP room under test: ordinary routes straight through the router, streams over a real
//! socket.

use std::net::{IpAddr, Ipv4Addr};
use std::sync::Arc;

use axum::body::{Body, to_bytes};
use axum::http::request::Builder;
use axum::http::{Method, Request, StatusCode, header};
use futures_util::StreamExt;
use serde_json::Value;
use skimwatch::advice::{AlertState, Priority};
use skimwatch::decode::CrewInput;
use skimwatch::serve;
use skimwatch::settings::ServeSettings;
use tokio::net::TcpListener;
use tokio::sync::mpsc;
use tokio_util::sync::CancellationToken;
use tower::ServiceExt;

use crate::PATIENCE;
use crate::invented::{self, Boat, START, moment, stamper, will_fly};

pub(crate) fn advice() -> Boat {
    invented::boat(moment("advice", START))
}

pub(crate) struct Answer {
    pub(crate) status: StatusCode,
    pub(crate) headers: axum::http::HeaderMap,
    pub(crate) text: String,
}

impl Answer {
    pub(crate) fn json(&self) -> Value {
        serde_json::from_str(&self.text).unwrap()
    }

    /// Asserts that it is a complete problem document of this kind, and gives it.
    pub(crate) fn problem(&self, status: u16, slug: &str) -> Value {
        assert_eq!(self.status.as_u16(), status, "{}", self.text);
        assert_eq!(
            self.headers[header::CONTENT_TYPE],
            "application/problem+json"
        );
        let problem = self.json();
        assert_eq!(problem["type"], format!("urn:skimwatch:problem:{slug}"));
        assert_eq!(problem["status"], status);
        for member in ["title", "detail", "cure"] {
            assert!(!problem[member].as_str().unwrap().is_empty(), "{member}");
        }
        problem
    }
}

pub(crate) async fn ask(boat: &Boat, request: Request<Body>) -> Answer {
    let app = serve::app(
        invented::settings(),
        boat.sources.clone(),
        CancellationToken::new(),
    );
    read_answer(app.oneshot(request).await.unwrap()).await
}

pub(crate) async fn read_answer(response: axum::http::Response<Body>) -> Answer {
    let (parts, body) = response.into_parts();
    let bytes = to_bytes(body, 4 << 20).await.unwrap();
    Answer {
        status: parts.status,
        headers: parts.headers,
        text: String::from_utf8(bytes.to_vec()).unwrap(),
    }
}

pub(crate) async fn get(boat: &Boat, path: &str) -> Answer {
    ask(boat, get_request(path)).await
}

/// A request to an address.
pub(crate) fn to(method: Method, path: &str) -> Builder {
    Request::builder()
        .method(method)
        .uri(path)
        .header(header::HOST, "127.0.0.1:8477")
}

pub(crate) fn get_request(path: &str) -> Request<Body> {
    to(Method::GET, path).body(Body::empty()).unwrap()
}

pub(crate) fn put_request(path: &str, body: &str) -> Request<Body> {
    to(Method::PUT, path)
        .header(header::CONTENT_TYPE, "application/json")
        .body(Body::from(body.to_owned()))
        .unwrap()
}

pub(crate) fn post_request(path: &str, body: &str) -> Request<Body> {
    to(Method::POST, path)
        .header(header::CONTENT_TYPE, "application/json")
        .body(Body::from(body.to_owned()))
        .unwrap()
}

/// The app of a boat with a stamper that says yes, and what that is given.
pub(crate) fn stamped(boat: &mut Boat) -> (axum::Router, mpsc::UnboundedReceiver<CrewInput>) {
    let (sender, said) = mpsc::unbounded_channel();
    let posts = std::mem::replace(&mut boat.posts, mpsc::channel(1).1);
    tokio::spawn(stamper(posts, sender));
    let app = serve::app(
        invented::settings(),
        boat.sources.clone(),
        CancellationToken::new(),
    );
    (app, said)
}

/// Posts, with a stamper that says yes; what it was given comes back too.
pub(crate) async fn post(path: &str, body: &str) -> (Answer, Vec<CrewInput>) {
    post_at("advice", path, body).await
}

/// The same at another moment.
pub(crate) async fn post_at(name: &str, path: &str, body: &str) -> (Answer, Vec<CrewInput>) {
    let mut boat = invented::boat(moment(name, START));
    let (sender, mut seen) = mpsc::unbounded_channel();
    let posts = std::mem::replace(&mut boat.posts, mpsc::channel(1).1);
    let stamping = tokio::spawn(stamper(posts, sender));
    let answer = ask(&boat, post_request(path, body)).await;
    stamping.abort();
    let mut inputs = Vec::new();
    while let Ok(input) = seen.try_recv() {
        inputs.push(input);
    }
    (answer, inputs)
}

/// A running room on a port of its own.
pub(crate) struct Running {
    pub(crate) boat: Boat,
    pub(crate) base: String,
    pub(crate) shutdown: CancellationToken,
    pub(crate) ended: tokio::task::JoinHandle<()>,
}

pub(crate) async fn run(boat: Boat) -> Running {
    run_with(boat, invented::settings()).await
}

pub(crate) async fn run_with(boat: Boat, settings: ServeSettings) -> Running {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let base = format!("http://{}", listener.local_addr().unwrap());
    let shutdown = CancellationToken::new();
    let ended = tokio::spawn(serve::run(
        listener,
        settings,
        boat.sources.clone(),
        shutdown.clone(),
    ));
    Running {
        boat,
        base,
        shutdown,
        ended,
    }
}

impl Running {
    pub(crate) fn publish(&self, revisions: std::ops::RangeInclusive<u32>) {
        let advisory = will_fly(START, Priority::Warning, AlertState::ActiveUnacknowledged);
        self.boat.hub.publish(
            revisions
                .map(|revision| skimwatch::advice::Advisory {
                    revision,
                    ..advisory.clone()
                })
                .collect(),
        );
    }

    /// A tick so many seconds after the start.
    pub(crate) fn tick(&self, after_s: f64) {
        let now = moment("advice", START.plus_seconds(after_s));
        self.boat.tick.send_replace(Arc::new(now));
    }

    /// One line of the metrics. Asks from an address of its own: the room may close what comes from
    /// an address that takes too much.
    pub(crate) async fn metric(&self, line_start: &str) -> String {
        let client = reqwest::Client::builder()
            .local_address(IpAddr::from(Ipv4Addr::new(127, 0, 0, 9)))
            .build()
            .unwrap();
        let answer = client.get(format!("{}/metrics", self.base)).send().await;
        let text = answer.unwrap().text().await.unwrap();
        let line = text.lines().find(|l| l.starts_with(line_start)).unwrap();
        line.rsplit_once(' ').unwrap().1.to_owned()
    }
}

#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Event {
    name: String,
    pub(crate) id: String,
    data: String,
    pub(crate) comment: bool,
}

/// A small event-stream reader (fields as in the WHATWG HTML standard, "Server-sent events").
pub(crate) struct Stream {
    bytes: futures_util::stream::BoxStream<'static, reqwest::Result<Vec<u8>>>,
    buffer: String,
}

impl Stream {
    pub(crate) async fn open(base: &str, path: &str, last_id: Option<&str>) -> Self {
        let mut request = reqwest::Client::new().get(format!("{base}{path}"));
        if let Some(id) = last_id {
            request = request.header("Last-Event-ID", id);
        }
        let response = request.send().await.unwrap();
        assert_eq!(response.status(), 200);
        assert_eq!(response.headers()["content-type"], "text/event-stream");
        Self {
            bytes: response
                .bytes_stream()
                .map(|b| b.map(|b| b.to_vec()))
                .boxed(),
            buffer: String::new(),
        }
    }

    /// The next block, comments too; `None` at the end.
    pub(crate) async fn block(&mut self) -> Option<Event> {
        loop {
            if let Some((block, rest)) = self.buffer.split_once("\n\n") {
                let mut event = Event::default();
                for line in block.lines() {
                    match line.split_once(':').unwrap() {
                        ("", _) => event.comment = true,
                        ("event", value) => event.name = value.trim().to_owned(),
                        ("id", value) => event.id = value.trim().to_owned(),
                        ("data", value) => event.data = value.trim().to_owned(),
                        _ => {}
                    }
                }
                self.buffer = rest.to_owned();
                return Some(event);
            }
            let next = tokio::time::timeout(PATIENCE, self.bytes.next())
                .await
                .expect("something within 20 s")?;
            self.buffer
                .push_str(std::str::from_utf8(&next.ok()?).unwrap());
        }
    }

    /// The next event that is no comment.
    pub(crate) async fn event(&mut self) -> Option<Event> {
        loop {
            let event = self.block().await?;
            if !event.name.is_empty() {
                return Some(event);
            }
        }
    }

    pub(crate) async fn named(&mut self, name: &str) -> (Event, Value) {
        let event = self.event().await.unwrap();
        assert_eq!(event.name, name);
        let value = serde_json::from_str(&event.data).unwrap();
        (event, value)
    }
}
