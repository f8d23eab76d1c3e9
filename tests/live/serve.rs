//! The HTTP room: ordinary routes straight through the router, streams over a real socket.

use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::body::{Body, to_bytes};
use axum::http::request::Builder;
use axum::http::{Method, Request, StatusCode, header};
use futures_util::StreamExt;
use serde_json::{Value, json};
use skimwatch::advice::{AlertState, Priority};
use skimwatch::decode::{Asked, BaitState, CrewInput, Line, PlanAnswer, SessionMark};
use skimwatch::serve::{self, Bind, ServeError};
use skimwatch::settings::ServeSettings;
use skimwatch::units;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpSocket, TcpStream};
use tokio::sync::mpsc;
use tokio_util::sync::CancellationToken;
use tower::ServiceExt;

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

fn put_request(path: &str, body: &str) -> Request<Body> {
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
    let mut boat = advice();
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

#[tokio::test]
async fn state_shows_units_ages_grades_and_sources() {
    let answer = get(&advice(), "/v1/state").await;
    assert_eq!(answer.status, StatusCode::OK);
    assert_eq!(answer.headers[header::CACHE_CONTROL], "no-store");
    let state = answer.json();
    assert_eq!(state["at"], "2026-03-14T10:00:00.000Z");
    assert_eq!(state["at_unix_ms"], START.0);
    assert_eq!(state["mode"], "demo");
    let heading = &state["vessel"]["heading_deg_true"];
    assert!((heading["value"].as_f64().unwrap() - 1.2_f64.to_degrees()).abs() < 1e-9);
    assert_eq!(heading["age_s"], 0.2);
    assert_eq!(heading["grade"], "measured");
    assert_eq!(heading["source"], "compass HEHDT");
    assert_eq!(state["vessel"]["rudder_deg"], Value::Null);
    assert_eq!(state["deck"]["main_line_out_m"], 118.0);
    assert_eq!(state["deck"]["bait"]["age_s"], 150.0);
    assert_eq!(state["feeds"][0]["refused"]["bad-checksum"], 3);
    assert_eq!(state["advisories"][0]["actions"][0]["do"], "move_line");
    assert_eq!(
        state["units"],
        json!({"length": "m", "speed": "kn", "weight": "kg"})
    );
}

#[tokio::test]
async fn forecast_or_the_reasons_why_there_is_none() {
    let answer = get(&advice(), "/v1/forecast").await.json();
    assert_eq!(answer["forecast"]["t_s"].as_array().unwrap().len(), 61);
    assert_eq!(answer["reasons"], json!([]));
    let none = invented::boat(moment("no-wind", START));
    let answer = get(&none, "/v1/forecast").await.json();
    assert_eq!(answer["forecast"], Value::Null);
    assert!(answer["reasons"][0].as_str().unwrap().contains("No wind"));
    assert_eq!(get(&none, "/v1/advisories").await.json(), json!([]));
    let advisories = get(&advice(), "/v1/advisories").await.json();
    assert_eq!(advisories[0]["id"], "bait-airborne-3");
}

#[tokio::test]
async fn every_crew_input_has_a_route() {
    let metres = units::metres;
    let degrees = units::degrees;
    let table = [
        (
            "/v1/crew/lines-out",
            r#"{"kite_line_out_m": 70, "main_line_out_m": 118.5}"#,
            CrewInput::LinesOut {
                kite: Some(metres(70.0)),
                main: Some(metres(118.5)),
            },
        ),
        (
            "/v1/crew/moved",
            r#"{"line": "main", "by_m": -3}"#,
            CrewInput::Moved {
                line: Line::Main,
                by: metres(-3.0),
            },
        ),
        (
            "/v1/crew/bait",
            r#"{"state": "dragging"}"#,
            CrewInput::Bait(BaitState::Dragging),
        ),
        (
            "/v1/crew/elevation",
            r#"{"elevation_deg": 44}"#,
            CrewInput::Elevation(degrees(44.0)),
        ),
        (
            "/v1/crew/bearing",
            r#"{"off_astern_deg": -40}"#,
            CrewInput::Bearing(degrees(-40.0)),
        ),
        (
            "/v1/crew/marker",
            r#"{"in_water": true}"#,
            CrewInput::MarkerInWater(true),
        ),
        (
            "/v1/crew/turn",
            r#"{"by_deg": -45, "rate_deg_s": 2, "in_s": 15}"#,
            CrewInput::Turn {
                by: degrees(-45.0),
                rate: units::degrees_per_second(2.0),
                in_s: 15.0,
            },
        ),
        ("/v1/crew/turn/call-off", "{}", CrewInput::CallOffTurn),
        (
            "/v1/crew/plan",
            r#"{"answer": "half"}"#,
            // What is shown: the invented advisory asks for 4 m.
            CrewInput::Plan {
                answer: PlanAnswer::Half,
                asked: Some(asked("bait-airborne-3", 2, 4.0)),
            },
        ),
        ("/v1/crew/bite", "", CrewInput::Bite),
        ("/v1/crew/forget", "", CrewInput::Forget),
        (
            "/v1/crew/mark",
            r#"{"name": "birds"}"#,
            CrewInput::Mark {
                name: Some("birds".to_owned()),
                position: None,
            },
        ),
        (
            "/v1/crew/session",
            r#"{"fishing": "stop"}"#,
            CrewInput::Session(SessionMark::Stop),
        ),
        (
            "/v1/advisories/bait-airborne-3/acknowledge",
            "",
            CrewInput::Acknowledge {
                advisory: "bait-airborne-3".to_owned(),
                priority: Some(Priority::Warning),
            },
        ),
        (
            "/v1/silence",
            r#"{"minutes": 5}"#,
            CrewInput::Silence { minutes: 5.0 },
        ),
    ];
    for (path, body, expected) in table {
        let (answer, inputs) = post(path, body).await;
        assert_eq!(
            answer.status,
            StatusCode::ACCEPTED,
            "{path}: {}",
            answer.text
        );
        assert_eq!(
            answer.json(),
            json!({"sequence": 1, "kept": "disk"}),
            "{path}"
        );
        assert_eq!(inputs, [expected], "{path}");
    }
}

fn asked(advisory: &str, revision: u32, by_m: f64) -> Asked {
    Asked {
        advisory: advisory.to_owned(),
        revision,
        line: Line::Main,
        by: units::metres(by_m),
    }
}

#[tokio::test]
async fn an_answer_says_to_what_and_a_second_one_is_told_so() {
    let mut boat = advice();
    let (app, mut said) = stamped(&mut boat);
    let answer = async |body: String| {
        let request = post_request("/v1/crew/plan", &body);
        read_answer(app.clone().oneshot(request).await.unwrap()).await
    };
    let body = |revision: u32, by_m: f64| {
        format!(
            r#"{{"answer": "done", "asked": {{"advisory": "bait-airborne-3", "revision": {revision}, "line": "main", "by_m": {by_m}}}}}"#
        )
    };
    // Two phones at once, then a third, then one that has read what came of it.
    let (one, two) = tokio::join!(answer(body(1, 6.0)), answer(body(1, 6.0)));
    let mut both = [one.status, two.status];
    both.sort();
    assert_eq!(both, [StatusCode::ACCEPTED, StatusCode::CONFLICT]);
    for body in [
        body(1, 6.0),
        body(2, 4.0),
        r#"{"answer": "half"}"#.to_owned(),
    ] {
        let problem = answer(body).await.problem(409, "answered-already");
        let detail = problem["detail"].as_str().unwrap();
        assert!(
            detail.contains("main line") && detail.contains("done"),
            "{detail}"
        );
    }
    // Later the next revision is another question; the old one stays answered.
    let mut later = moment("advice", START);
    later.at = START.plus_seconds(4.0);
    boat.tick.send_replace(std::sync::Arc::new(later.clone()));
    answer(r#"{"answer": "done"}"#.to_owned())
        .await
        .problem(409, "answered-already");
    answer(body(1, 6.0)).await.problem(409, "answered-already");
    assert_eq!(answer(body(2, 4.0)).await.status, StatusCode::ACCEPTED);
    // What asks for nothing, or is not there, or asks for the moon.
    let strange = body(2, 4.0).replace("airborne-3", "airborne-9");
    answer(strange).await.problem(404, "no-such-advisory");
    for by_m in [0.0, 201.0] {
        let problem = answer(body(9, by_m)).await.problem(422, "out-of-range");
        assert_eq!(problem["field"], "by_m");
    }
    later.advisories.clear();
    boat.tick.send_replace(std::sync::Arc::new(later));
    answer(r#"{"answer": "other"}"#.to_owned())
        .await
        .problem(409, "nothing-asked");

    drop(app);
    let mut heard = Vec::new();
    while let Ok(input) = said.try_recv() {
        heard.push(input);
    }
    let done = |revision, by_m| CrewInput::Plan {
        answer: PlanAnswer::Done,
        asked: Some(asked("bait-airborne-3", revision, by_m)),
    };
    assert_eq!(heard, [done(1, 6.0), done(2, 4.0)]);
}

#[tokio::test]
async fn what_is_out_of_range_names_field_and_cure_and_goes_nowhere() {
    let table = [
        (
            "/v1/crew/lines-out",
            r#"{"kite_line_out_m": -1}"#,
            "kite_line_out_m",
            "0 to 1000",
        ),
        (
            "/v1/crew/moved",
            r#"{"line": "kite", "by_m": 101}"#,
            "by_m",
            "-100 to 100",
        ),
        (
            "/v1/crew/moved",
            r#"{"line": "kite", "by_m": 0}"#,
            "by_m",
            "not 0",
        ),
        (
            "/v1/crew/elevation",
            r#"{"elevation_deg": 91}"#,
            "elevation_deg",
            "0 to 90",
        ),
        (
            "/v1/crew/bearing",
            r#"{"off_astern_deg": 181}"#,
            "off_astern_deg",
            "-180 to 180",
        ),
        (
            "/v1/crew/turn",
            r#"{"by_deg": 200, "rate_deg_s": 2, "in_s": 0}"#,
            "by_deg",
            "-180 to 180",
        ),
        (
            "/v1/crew/turn",
            r#"{"by_deg": 20, "rate_deg_s": 0, "in_s": 0}"#,
            "rate_deg_s",
            "0.1 to 30",
        ),
        (
            "/v1/crew/turn",
            r#"{"by_deg": 20, "rate_deg_s": 2, "in_s": -1}"#,
            "in_s",
            "0 to 600",
        ),
        (
            "/v1/crew/mark",
            r#"{"latitude_deg": 91, "longitude_deg": 0}"#,
            "latitude_deg",
            "-90 to 90",
        ),
        ("/v1/silence", r#"{"minutes": 61}"#, "minutes", "0 to 60"),
    ];
    for (path, body, field, cure) in table {
        let (answer, inputs) = post(path, body).await;
        let problem = answer.problem(422, "out-of-range");
        assert_eq!(problem["field"], field, "{path}");
        assert!(
            problem["cure"].as_str().unwrap().contains(cure),
            "{problem}"
        );
        assert_eq!(inputs, [], "{path}");
    }
    for (path, body) in [
        ("/v1/crew/lines-out", "{}"),
        ("/v1/crew/mark", r#"{"latitude_deg": 9}"#),
        ("/v1/crew/mark", r#"{"name": "a,b*c"}"#),
    ] {
        let (answer, inputs) = post(path, body).await;
        answer.problem(422, "incomplete");
        assert_eq!(inputs, [], "{path}");
    }
}

#[tokio::test]
async fn only_what_was_said_lately_is_taken_back_and_once() {
    let mut boat = advice();
    let (app, mut said) = stamped(&mut boat);
    let status = async |path: &str, body: &str| {
        let response = app.clone().oneshot(post_request(path, body)).await;
        response.unwrap().status()
    };
    let undo = async |sequence: u32| {
        status("/v1/crew/undo", &format!("{{\"sequence\": {sequence}}}")).await
    };
    assert_eq!(undo(1).await, StatusCode::NOT_FOUND);
    let dragging = r#"{"state": "dragging"}"#;
    assert_eq!(
        status("/v1/crew/bait", dragging).await,
        StatusCode::ACCEPTED
    );
    assert_eq!(undo(2).await, StatusCode::NOT_FOUND);
    assert_eq!(undo(1).await, StatusCode::ACCEPTED);
    assert_eq!(undo(1).await, StatusCode::NOT_FOUND);
    assert_eq!(
        status("/v1/crew/bait", dragging).await,
        StatusCode::ACCEPTED
    );
    // The deck's window is over: nothing would come of it.
    boat.tick.send_modify(|now| {
        *now = std::sync::Arc::new(invented::moment("advice", START.plus_seconds(16.0)))
    });
    let response = app
        .clone()
        .oneshot(post_request("/v1/crew/undo", r#"{"sequence": 3}"#))
        .await
        .unwrap();
    let bytes = axum::body::to_bytes(response.into_body(), 10_000)
        .await
        .unwrap();
    let problem: Value = serde_json::from_slice(&bytes).unwrap();
    assert_eq!(problem["type"], "urn:skimwatch:problem:nothing-to-undo");
    assert!(
        problem["detail"]
            .as_str()
            .unwrap()
            .contains("number 3 was not said")
    );
    let bait = || CrewInput::Bait(BaitState::Dragging);
    for expected in [bait(), CrewInput::Undo { of: 1 }, bait()] {
        assert_eq!(said.recv().await, Some(expected));
    }
    assert!(said.try_recv().is_err(), "what is refused goes nowhere");
}

#[tokio::test]
async fn what_cannot_be_read_is_a_problem_with_a_cure() {
    let unknown = r#"{"line": "main", "by_m": 1, "by_ft": 3}"#;
    let (answer, _) = post("/v1/crew/moved", unknown).await;
    let problem = answer.problem(422, "unreadable-body");
    assert!(problem["detail"].as_str().unwrap().contains("by_ft"));
    post("/v1/crew/moved", "{")
        .await
        .0
        .problem(400, "unreadable-body");
    let long = format!(r#"{{"name": "{}"}}"#, "x".repeat(20_000));
    let problem = post("/v1/crew/mark", &long)
        .await
        .0
        .problem(413, "unreadable-body");
    assert!(
        problem["cure"]
            .as_str()
            .unwrap()
            .contains("at most 16384 bytes")
    );
    let boat = advice();
    let plain = to(Method::POST, "/v1/crew/bait")
        .body(Body::from(r#"{"state": "dragging"}"#))
        .unwrap();
    ask(&boat, plain).await.problem(415, "unreadable-body");
    get(&boat, "/v2/state").await.problem(404, "no-such-path");
    get(&boat, "/v1/crew/bite")
        .await
        .problem(405, "wrong-method");
    post("/v1/advisories/off-corner-9/acknowledge", "")
        .await
        .0
        .problem(404, "no-such-advisory");
}

#[tokio::test]
async fn a_page_of_another_host_cannot_press_our_buttons() {
    let boat = advice();
    let mut request = post_request("/v1/crew/bite", "");
    let headers = request.headers_mut();
    headers.insert(header::HOST, "192.0.2.1:8477".parse().unwrap());
    headers.insert(header::ORIGIN, "http://elsewhere.example".parse().unwrap());
    ask(&boat, request).await.problem(403, "foreign-page");
    let answer = get(&boat, "/v1/state").await;
    assert!(!answer.headers.contains_key("access-control-allow-origin"));
    let policy = answer.headers[header::CONTENT_SECURITY_POLICY]
        .to_str()
        .unwrap();
    assert!(policy.contains("default-src 'none'"), "{policy}");
}

#[tokio::test]
async fn a_name_that_another_site_could_own_is_not_answered() {
    let boat = advice();
    for path in ["/", "/v1/state", "/v1/settings", "/nowhere"] {
        let mut request = get_request(path);
        let host = "rebound.example:8477".parse().unwrap();
        request.headers_mut().insert(header::HOST, host);
        let problem = ask(&boat, request).await.problem(421, "unknown-host");
        assert!(problem["cure"].as_str().unwrap().contains("[serve]"));
    }
    for host in ["127.0.0.1:8477", "skimwatch.local:8477"] {
        let mut request = get_request("/v1/state");
        request
            .headers_mut()
            .insert(header::HOST, host.parse().unwrap());
        assert_eq!(ask(&boat, request).await.status, StatusCode::OK, "{host}");
    }
}

#[tokio::test]
async fn a_refusing_or_silent_stamper_is_told_to_the_crew() {
    let mut boat = advice();
    let refusing = tokio::spawn(async move {
        let post = boat.posts.recv().await.unwrap();
        post.reply.send(Err("not now".to_owned())).unwrap();
        boat.posts
    });
    let request = post_request("/v1/crew/bite", "");
    let app = serve::app(
        invented::settings(),
        boat.sources.clone(),
        CancellationToken::new(),
    );
    let response = app.clone().oneshot(request).await.unwrap();
    assert_eq!(response.status(), StatusCode::CONFLICT);
    // Held but never answered: the deadline answers.
    let _posts = refusing.await.unwrap();
    let asked = Instant::now();
    let response = app
        .clone()
        .oneshot(post_request("/v1/crew/bite", ""))
        .await
        .unwrap();
    assert_eq!(response.status(), StatusCode::SERVICE_UNAVAILABLE);
    assert_eq!(response.headers()[header::RETRY_AFTER], "1");
    assert!(asked.elapsed() < Duration::from_secs(5));
    drop(_posts);
    let response = app
        .oneshot(post_request("/v1/crew/bite", ""))
        .await
        .unwrap();
    assert_eq!(response.status(), StatusCode::SERVICE_UNAVAILABLE);
}

#[tokio::test]
async fn health_and_metrics_tell_how_it_fares() {
    let boat = advice();
    boat.hub.publish(vec![will_fly(
        START,
        Priority::Warning,
        AlertState::ActiveUnacknowledged,
    )]);
    let health = get(&boat, "/healthz").await;
    assert_eq!(health.status, StatusCode::OK);
    assert_eq!(health.json()["ticking"], true);
    let metrics = get(&boat, "/metrics").await;
    assert!(
        metrics.headers[header::CONTENT_TYPE]
            .to_str()
            .unwrap()
            .starts_with("text/plain; version=0.0.4")
    );
    for line in [
        r#"skimwatch_feed_sentences_accepted_total{feed="masthead"} 12345"#,
        r#"skimwatch_feed_sentences_refused_total{feed="masthead",cause="bad-checksum"} 3"#,
        r#"skimwatch_reading_age_seconds{quantity="heading"} 0.2"#,
        r#"skimwatch_forecast_chance_ratio{kind="bait-airborne"} 0.83"#,
        r#"skimwatch_advisories_living{priority="warning"} 1"#,
        "skimwatch_advisory_revisions_total 1",
        r#"skimwatch_mode_info{mode="demo"} 1"#,
    ] {
        assert!(
            metrics.text.lines().any(|l| l == line),
            "{line}\n{}",
            metrics.text
        );
    }
    // Every sample belongs to a metric whose HELP and TYPE came before it.
    let mut known = "";
    for line in metrics.text.lines() {
        if let Some(rest) = line.strip_prefix("# HELP ") {
            known = rest.split_once(' ').unwrap().0;
        } else if !line.starts_with("# TYPE ") {
            let name = line.split(['{', ' ']).next().unwrap();
            assert_eq!(name, known, "{line}");
            assert!(
                line.rsplit_once(' ').unwrap().1.parse::<f64>().is_ok(),
                "{line}"
            );
        }
    }
}

#[tokio::test]
async fn the_interface_document_comes_from_the_code() {
    let boat = advice();
    let api = get(&boat, "/v1/openapi.json").await.json();
    assert!(api["openapi"].as_str().unwrap().starts_with("3."));
    let paths = api["paths"].as_object().unwrap();
    assert_eq!(paths.len(), 24, "{:?}", paths.keys());
    // Every reference leads somewhere.
    let text = api.to_string();
    let schemas = &api["components"]["schemas"];
    for part in text.split("#/components/schemas/").skip(1) {
        let name = part.split('"').next().unwrap();
        assert!(schemas[name].is_object(), "{name} is not described");
    }
    let docs = get(&boat, "/v1/docs").await;
    assert!(docs.text.contains("/assets/docs.js"));
}

#[tokio::test]
async fn pages_are_embedded_and_revalidated() {
    let boat = advice();
    for (path, kind) in [
        ("/", "text/html; charset=utf-8"),
        ("/helm", "text/html; charset=utf-8"),
        ("/rig", "text/html; charset=utf-8"),
        ("/assets/mate.js", "text/javascript; charset=utf-8"),
        ("/assets/sheet.css", "text/css; charset=utf-8"),
        ("/assets/icon.svg", "image/svg+xml"),
        ("/manifest.webmanifest", "application/manifest+json"),
    ] {
        let answer = get(&boat, path).await;
        assert_eq!(answer.status, StatusCode::OK, "{path}");
        assert_eq!(answer.headers[header::CONTENT_TYPE], kind, "{path}");
        assert_eq!(answer.headers[header::CACHE_CONTROL], "no-cache");
        let again = to(Method::GET, path)
            .header(header::IF_NONE_MATCH, &answer.headers[header::ETAG])
            .body(Body::empty())
            .unwrap();
        let again = ask(&boat, again).await;
        assert_eq!(again.status, StatusCode::NOT_MODIFIED, "{path}");
        assert!(again.text.is_empty());
    }
}

#[tokio::test]
async fn a_taken_port_names_key_and_cure() {
    let taken = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = taken.local_addr().unwrap();
    for (bind, key) in [
        (Bind::Settings(address), "with [serve] bind"),
        (Bind::Option(address), "with --bind"),
    ] {
        let error = serve::bind(bind).await.unwrap_err();
        assert!(matches!(error, ServeError::PortInUse { .. }));
        let text = error.to_string();
        assert!(
            text.contains(key) && text.contains("another port"),
            "{text}"
        );
    }
}

/// A running room on a port of its own.
pub(crate) struct Running {
    boat: Boat,
    pub(crate) base: String,
    pub(crate) shutdown: CancellationToken,
    ended: tokio::task::JoinHandle<()>,
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
    fn publish(&self, revisions: std::ops::RangeInclusive<u32>) {
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

    pub(crate) async fn metric(&self, line_start: &str) -> String {
        let text = reqwest::get(format!("{}/metrics", self.base))
            .await
            .unwrap()
            .text()
            .await
            .unwrap();
        let line = text.lines().find(|l| l.starts_with(line_start)).unwrap();
        line.rsplit_once(' ').unwrap().1.to_owned()
    }
}

#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Event {
    name: String,
    id: String,
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
            let next = tokio::time::timeout(Duration::from_secs(5), self.bytes.next())
                .await
                .expect("something within 5 s")?;
            self.buffer
                .push_str(std::str::from_utf8(&next.ok()?).unwrap());
        }
    }

    /// The next event that is no comment.
    async fn event(&mut self) -> Option<Event> {
        loop {
            let event = self.block().await?;
            if !event.name.is_empty() {
                return Some(event);
            }
        }
    }

    async fn named(&mut self, name: &str) -> (Event, Value) {
        let event = self.event().await.unwrap();
        assert_eq!(event.name, name);
        let value = serde_json::from_str(&event.data).unwrap();
        (event, value)
    }
}

const STREAM: &str = "/v1/advisories/stream";

#[tokio::test]
async fn revisions_come_as_they_are_published_with_ids() {
    let room = run(advice()).await;
    let mut stream = Stream::open(&room.base, STREAM, None).await;
    let (_, living) = stream.named("living").await;
    assert_eq!(living.as_array().unwrap().len(), 2);
    room.publish(1..=2);
    let (first, value) = stream.named("advisory").await;
    assert_eq!(value["revision"], 1);
    let (second, value) = stream.named("advisory").await;
    assert_eq!(value["revision"], 2);
    assert_ne!(first.id, second.id);
    room.shutdown.cancel();
}

#[tokio::test]
async fn a_client_that_comes_back_gets_what_it_missed_or_is_told() {
    let room = run(advice()).await;
    room.publish(1..=1);
    let mut stream = Stream::open(&room.base, STREAM, None).await;
    let (living, _) = stream.named("living").await;
    drop(stream);
    room.publish(2..=3);
    let mut stream = Stream::open(&room.base, STREAM, Some(&living.id)).await;
    assert_eq!(stream.named("advisory").await.1["revision"], 2);
    assert_eq!(stream.named("advisory").await.1["revision"], 3);
    drop(stream);
    // The history of these tests keeps four.
    room.publish(4..=9);
    let mut stream = Stream::open(&room.base, STREAM, Some(&living.id)).await;
    let (_, gap) = stream.named("gap").await;
    assert!(gap["why"].as_str().unwrap().contains("keeps 4"), "{gap}");
    stream.named("living").await;
    room.publish(10..=10);
    assert_eq!(stream.named("advisory").await.1["revision"], 10);
    let mut stream = Stream::open(&room.base, STREAM, Some("another-run-5")).await;
    let (_, gap) = stream.named("gap").await;
    assert!(gap["why"].as_str().unwrap().contains("started anew"));
    room.shutdown.cancel();
}

#[tokio::test]
async fn a_quiet_stream_says_that_it_is_alive() {
    let room = run(advice()).await;
    let mut stream = Stream::open(&room.base, STREAM, None).await;
    stream.named("living").await;
    for _ in 0..3 {
        assert!(stream.block().await.unwrap().comment);
    }
    room.shutdown.cancel();
}

#[tokio::test]
async fn the_state_stream_follows_ticks_and_sends_a_forecast_once() {
    let room = run(advice()).await;
    let mut stream = Stream::open(&room.base, "/v1/state/stream", None).await;
    let (_, forecast) = stream.named("forecast").await;
    assert_eq!(forecast["forecast"]["members"], 64);
    assert_eq!(stream.named("state").await.1["at_unix_ms"], START.0);
    // A tick with the same forecast, then one with another.
    let mut next = moment("advice", START);
    next.at = START.plus_seconds(1.0);
    room.boat.tick.send_replace(Arc::new(next));
    assert_eq!(stream.named("state").await.1["at_unix_ms"], START.0 + 1000);
    room.boat
        .tick
        .send_replace(Arc::new(moment("no-wind", START.plus_seconds(2.0))));
    assert_eq!(stream.named("forecast").await.1["forecast"], Value::Null);
    stream.named("state").await;
    // Without a tick it still beats.
    stream.named("beat").await;
    room.shutdown.cancel();
}

#[tokio::test]
async fn shutdown_ends_open_streams_at_once() {
    let room = run(advice()).await;
    let mut first = Stream::open(&room.base, STREAM, None).await;
    let mut second = Stream::open(&room.base, "/v1/state/stream", None).await;
    first.event().await.unwrap();
    second.event().await.unwrap();
    let asked = Instant::now();
    room.shutdown.cancel();
    room.ended.await.unwrap();
    assert!(
        asked.elapsed() < Duration::from_secs(1),
        "{:?}",
        asked.elapsed()
    );
    while first.block().await.is_some() {}
    while second.block().await.is_some() {}
}

#[tokio::test]
async fn more_streams_than_seats_are_refused_openly() {
    let room = run(advice()).await;
    let mut open = Vec::new();
    for _ in 0..invented::settings().streams {
        open.push(Stream::open(&room.base, STREAM, None).await);
    }
    let refused = reqwest::get(format!("{}{STREAM}", room.base))
        .await
        .unwrap();
    assert_eq!(refused.status(), 503);
    assert_eq!(
        refused.headers()["content-type"],
        "application/problem+json"
    );
    assert_eq!(
        room.metric("skimwatch_stream_readers{stream=\"advisories\"}")
            .await,
        "4"
    );
    room.shutdown.cancel();
}

/// Opens a stream and never reads from it, with a receive buffer that fills soon.
async fn sleeping_client(base: &str, path: &str) -> TcpStream {
    let socket = TcpSocket::new_v4().unwrap();
    socket.set_recv_buffer_size(2048).unwrap();
    let address = base.strip_prefix("http://").unwrap().parse().unwrap();
    let mut client = socket.connect(address).await.unwrap();
    let request = format!("GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n");
    client.write_all(request.as_bytes()).await.unwrap();
    client
}

#[tokio::test]
async fn a_slow_client_is_dropped_and_counted_and_slows_nobody() {
    let room = run(advice()).await;
    let mut sleeper = sleeping_client(&room.base, "/v1/state/stream").await;
    let mut awake = Stream::open(&room.base, "/v1/state/stream", None).await;
    awake.named("forecast").await;
    awake.named("state").await;
    let stalled = "skimwatch_stream_dropped_total{cause=\"stalled\"}";
    let began = Instant::now();
    let mut tick = 0;
    while room.metric(stalled).await == "0" {
        assert!(began.elapsed() < Duration::from_secs(20), "never dropped");
        tick += 1;
        let at = START.plus_seconds(f64::from(tick));
        let sent = Instant::now();
        room.boat.tick.send_replace(Arc::new(moment("advice", at)));
        awake.named("forecast").await;
        let (_, state) = awake.named("state").await;
        assert_eq!(state["at_unix_ms"], at.0);
        assert!(
            sent.elapsed() < Duration::from_millis(500),
            "{:?}",
            sent.elapsed()
        );
    }
    // The sleeper's connection is really gone: what was under way ends.
    let mut rest = Vec::new();
    let end = tokio::time::timeout(Duration::from_secs(5), sleeper.read_to_end(&mut rest)).await;
    assert!(end.is_ok(), "the connection is still open");
    room.shutdown.cancel();
}

#[tokio::test]
async fn a_reader_too_far_behind_is_dropped_and_can_come_back() {
    let room = run(advice()).await;
    let mut stream = Stream::open(&room.base, STREAM, None).await;
    let (living, _) = stream.named("living").await;
    // More at once than the room lets a reader lag behind.
    room.publish(1..=500);
    let mut came = 0;
    while stream.event().await.is_some() {
        came += 1;
    }
    assert!(came < 500, "nothing was dropped");
    let lagged = "skimwatch_stream_dropped_total{cause=\"lagged\"}";
    assert_eq!(room.metric(lagged).await, "1");
    let mut again = Stream::open(&room.base, STREAM, Some(&living.id)).await;
    again.named("gap").await;
    room.shutdown.cancel();
}

#[tokio::test]
async fn settings_are_read_and_changed_key_by_key() {
    let mut boat = advice();
    let changes = std::mem::replace(&mut boat.changes, mpsc::channel(1).1);
    tokio::spawn(invented::keeper(changes, boat.set_up.clone()));
    let answer = get(&boat, "/v1/settings").await;
    assert_eq!(answer.headers[header::CACHE_CONTROL], "no-store");
    let before = answer.json();
    assert_eq!(before["kept"], json!({"in": "memory"}));
    let entry = |answer: &Value, key: &str| {
        let all = answer["settings"].as_array().unwrap();
        all.iter().find(|e| e["key"] == key).unwrap().clone()
    };
    let area = entry(&before, "rig.kite.area_m2");
    // Values of config/demo.toml.
    assert_eq!(area["value"], 1.3);
    assert_eq!(area["grade"], "own");
    assert_eq!(area["unit"], "m²");
    assert_eq!(area["range"], json!([0.1, 20.0]));
    assert!(!area["explanation"].as_str().unwrap().is_empty());
    assert_eq!(entry(&before, "rig.marker.mass_kg")["grade"], "assumed");
    let holder = entry(&before, "rig.rod_holder_strength_n");
    assert_eq!(
        (&holder["grade"], &holder["value"]),
        (&json!("unset"), &Value::Null)
    );

    let changed = ask(
        &boat,
        put_request(
            "/v1/settings",
            r#"{"rig.kite.area_m2": 1.5, "crew.length": "ft", "rig.band_strength_n": null}"#,
        ),
    )
    .await;
    assert_eq!(changed.status, StatusCode::OK, "{}", changed.text);
    let after = changed.json();
    assert_eq!(entry(&after, "rig.kite.area_m2")["value"], 1.5);
    assert_eq!(entry(&after, "rig.band_strength_n")["grade"], "unset");
    assert_eq!(after["units"]["length"], "ft");
    let state = get(&boat, "/v1/state").await.json();
    assert_eq!(state["units"]["length"], "ft");
    assert_eq!(state["settings_revision"], 1);

    // All or nothing, and every complaint under its key.
    let refused = ask(
        &boat,
        put_request(
            "/v1/settings",
            r#"{"rig.kite.area_m2": 99, "rig.bait.length_m": null, "crew.speed": "m/s", "feed": "x"}"#,
        ),
    )
    .await;
    let problem = refused.problem(422, "settings-wrong");
    let keys: Vec<_> = problem["keys"]
        .as_array()
        .unwrap()
        .iter()
        .map(|k| k["key"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(keys, ["feed", "rig.kite.area_m2"]);
    assert!(
        problem["keys"][1]["problem"]
            .as_str()
            .unwrap()
            .contains("0.1 to 20")
    );
    assert_eq!(get(&boat, "/v1/settings").await.json(), after);
    let missing = ask(
        &boat,
        put_request("/v1/settings", r#"{"rig.bait.length_m": null}"#),
    )
    .await;
    assert_eq!(
        missing.problem(422, "settings-wrong")["keys"][0]["key"],
        "rig.bait.length_m"
    );

    ask(&boat, put_request("/v1/settings", "{}"))
        .await
        .problem(422, "incomplete");
    ask(
        &boat,
        put_request("/v1/settings", r#"{"rig.kite.cl": [1]}"#),
    )
    .await
    .problem(422, "unreadable-body");
    let foreign = to(Method::PUT, "/v1/settings")
        .header(header::ORIGIN, "http://elsewhere.example")
        .header(header::CONTENT_TYPE, "application/json")
        .body(Body::from("{\"crew.length\": \"m\"}"))
        .unwrap();
    ask(&boat, foreign).await.problem(403, "foreign-page");
}

#[tokio::test]
async fn settings_that_nobody_keeps_are_refused() {
    let mut boat = advice();
    boat.changes = mpsc::channel(1).1;
    ask(
        &boat,
        put_request("/v1/settings", r#"{"crew.length": "ft"}"#),
    )
    .await
    .problem(503, "not-taking-input");
}

#[tokio::test]
async fn the_manifest_says_all_that_a_home_screen_wants() {
    let boat = advice();
    let manifest = get(&boat, "/manifest.webmanifest").await.json();
    for key in ["name", "short_name", "start_url", "display", "id"] {
        assert!(manifest[key].is_string(), "{key}");
    }
    let icons = manifest["icons"].as_array().unwrap();
    for icon in icons {
        let app = serve::app(
            invented::settings(),
            boat.sources.clone(),
            CancellationToken::new(),
        );
        let path = icon["src"].as_str().unwrap();
        let request = get_request(path);
        let response = app.oneshot(request).await.unwrap();
        assert_eq!(
            response.headers()[header::CONTENT_TYPE],
            icon["type"].as_str().unwrap()
        );
        let bytes = to_bytes(response.into_body(), 1 << 20).await.unwrap();
        if icon["type"] == "image/png" {
            assert_eq!(&bytes[..8], b"\x89PNG\r\n\x1a\n", "{path}");
            let side = |at: usize| u32::from_be_bytes(bytes[at..at + 4].try_into().unwrap());
            assert_eq!(icon["sizes"], format!("{}x{}", side(16), side(20)));
        }
    }
    let sized = |size: &str| {
        icons
            .iter()
            .any(|i| i["sizes"] == size && i["purpose"].is_null())
    };
    assert!(sized("192x192") && sized("512x512"));
    assert!(icons.iter().any(|icon| icon["purpose"] == "maskable"));
}
