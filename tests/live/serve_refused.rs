//! The HTTP room and what it refuses: posts faster than any crew's, bodies that are no objects,
//! pages of other hosts, requests for no host.

use std::net::{IpAddr, Ipv4Addr};
use std::time::Duration;

use axum::body::Body;
use axum::http::{Method, StatusCode, Version, header};
use serde_json::{Value, json};
use skimwatch::serve;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::sync::mpsc;
use tokio::time::Instant;
use tokio_util::sync::CancellationToken;
use tower::ServiceExt;

use crate::PATIENCE;
use crate::invented::{self, stamper};
use crate::serving::{
    Answer, advice, ask, get, get_request, post, post_request, read_answer, run, stamped, to,
};

/// Burst and steady pace of one client (`src/serve/taps.rs`).
const BURST: usize = 20;
const PER_S: f64 = 4.0;

/// The document under /v1/openapi.json.
async fn api() -> Value {
    get(&advice(), "/v1/openapi.json").await.json()
}

#[tokio::test]
async fn posts_without_end_are_refused_until_the_time_that_is_said() {
    let mut boat = advice();
    let (app, mut said) = stamped(&mut boat);
    let bite = async || {
        let request = post_request("/v1/crew/bite", "");
        read_answer(app.clone().oneshot(request).await.unwrap()).await
    };
    let began = Instant::now();
    let mut taken = 0;
    let refused = loop {
        let answer = bite().await;
        if answer.status == StatusCode::TOO_MANY_REQUESTS {
            break answer;
        }
        assert_eq!(answer.status, StatusCode::ACCEPTED, "{}", answer.text);
        taken += 1;
        let most = BURST + (began.elapsed().as_secs_f64() * PER_S).ceil() as usize;
        assert!(taken <= most, "{taken} taken, {most} allowed by now");
    };
    assert!(taken >= BURST, "{taken}");
    let problem = refused.problem(429, "too-fast");
    let after_s: u64 = refused.headers[header::RETRY_AFTER]
        .to_str()
        .unwrap()
        .parse()
        .unwrap();
    assert_eq!(problem["retry_after_s"], after_s);
    let cure = problem["cure"].as_str().unwrap();
    assert!(cure.contains(&format!("in {after_s} s")), "{cure}");
    // Reading is never slowed.
    let read = app.clone().oneshot(get_request("/v1/state")).await.unwrap();
    assert_eq!(read.status(), StatusCode::OK);
    let metrics = app.clone().oneshot(get_request("/metrics")).await.unwrap();
    let metrics = read_answer(metrics).await.text;
    let counted = "skimwatch_http_too_fast_total{whose=\"client\"} 1";
    assert!(metrics.lines().any(|line| line == counted), "{metrics}");

    let told = Instant::now();
    loop {
        let asked = told.elapsed();
        let status = bite().await.status;
        if status == StatusCode::ACCEPTED {
            break;
        }
        assert!(
            asked < Duration::from_secs(after_s),
            "refused for longer than was said: {status}"
        );
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    let mut heard = 0;
    while said.try_recv().is_ok() {
        heard += 1;
    }
    assert_eq!(heard, taken + 1, "what is refused goes nowhere");
}

#[tokio::test]
async fn one_phone_gone_wild_does_not_hush_another() {
    let mut boat = advice();
    let posts = std::mem::replace(&mut boat.posts, mpsc::channel(1).1);
    let (sender, _said) = mpsc::unbounded_channel();
    tokio::spawn(stamper(posts, sender));
    let room = run(boat).await;
    let phone = |last: u8| {
        reqwest::Client::builder()
            .local_address(IpAddr::from(Ipv4Addr::new(127, 0, 0, last)))
            .build()
            .unwrap()
    };
    let bite = async |phone: &reqwest::Client| {
        let url = format!("{}/v1/crew/bite", room.base);
        phone.post(url).send().await.unwrap().status().as_u16()
    };
    let (wild, calm) = (phone(1), phone(2));
    let end = Instant::now() + PATIENCE;
    while bite(&wild).await != 429 {
        assert!(Instant::now() < end, "never refused");
    }
    assert_eq!(bite(&calm).await, 202);
    // So are settings: an empty change is refused for that, and in the end for its pace.
    let end = Instant::now() + PATIENCE;
    loop {
        let put = phone(3).put(format!("{}/v1/settings", room.base));
        let answer = put.json(&json!({})).send().await.unwrap();
        if answer.status() == 429 {
            break;
        }
        assert_eq!(answer.status(), 422);
        assert!(Instant::now() < end, "never refused");
    }
    room.shutdown.cancel();
}

#[tokio::test]
async fn the_interface_document_tells_of_paces_and_foreign_pages() {
    let api = api().await;
    let mut paced = 0;
    for (path, methods) in api["paths"].as_object().unwrap() {
        for (method, operation) in methods.as_object().unwrap() {
            let too_fast = &operation["responses"]["429"];
            if method == "get" {
                assert!(too_fast.is_null(), "{method} {path}");
                continue;
            }
            let problem = &too_fast["content"]["application/problem+json"]["schema"]["$ref"];
            assert_eq!(problem, "#/components/schemas/Problem", "{method} {path}");
            let seconds = &too_fast["headers"]["Retry-After"]["schema"]["type"];
            assert_eq!(seconds, "integer", "{method} {path}");
            paced += 1;
        }
    }
    // Twenty-five inputs of the crew, the settings, three of phones.
    assert_eq!(paced, 30);
    for path in ["/v1/state/stream", "/v1/advisories/stream"] {
        assert!(api["paths"][path]["get"]["responses"]["403"].is_object());
    }
}

#[tokio::test]
async fn a_body_that_is_no_object_is_refused() {
    for (path, body) in [
        ("/v1/crew/mark", "[]"),
        ("/v1/crew/lines-out", "[70, 118]"),
        ("/v1/crew/moved", r#"["main", 3]"#),
        ("/v1/crew/bait", "null"),
        ("/v1/crew/undo", "1"),
        (
            "/v1/crew/plan",
            r#"{"answer": "done", "asked": ["bait-airborne-3", 2, "main", 4.0]}"#,
        ),
    ] {
        let (answer, inputs) = post(path, body).await;
        let problem = answer.problem(422, "unreadable-body");
        let detail = problem["detail"].as_str().unwrap();
        assert!(detail.contains("expected an object"), "{detail}");
        assert_eq!(inputs, [], "{path}");
    }
    let array = to(Method::PUT, "/v1/settings")
        .header(header::CONTENT_TYPE, "application/json")
        .body(Body::from("[]"))
        .unwrap();
    ask(&advice(), array).await.problem(422, "unreadable-body");
    // Nothing asked is still nothing asked.
    let (answer, _) = post("/v1/crew/plan", r#"{"answer": "done", "asked": null}"#).await;
    assert_eq!(answer.status, StatusCode::ACCEPTED, "{}", answer.text);
}

async fn with_header(method: Method, path: &str, name: &str, value: &str) -> Answer {
    let request = to(method, path)
        .header(name, value)
        .body(Body::empty())
        .unwrap();
    let app = serve::app(
        invented::settings(),
        advice().sources,
        CancellationToken::new(),
    );
    let response = app.oneshot(request).await.unwrap();
    let kind = response.headers().get(header::CONTENT_TYPE);
    if kind.is_some_and(|kind| kind == "text/event-stream") {
        return Answer {
            status: response.status(),
            headers: response.headers().clone(),
            text: String::new(),
        };
    }
    read_answer(response).await
}

#[tokio::test]
async fn a_page_of_another_host_takes_no_stream() {
    for path in ["/v1/state/stream", "/v1/advisories/stream"] {
        for (name, value) in [
            ("origin", "http://elsewhere.example"),
            ("origin", "https://127.0.0.1:8477"),
            ("referer", "http://elsewhere.example/page"),
            ("sec-fetch-site", "cross-site"),
        ] {
            let answer = with_header(Method::GET, path, name, value).await;
            answer.problem(403, "foreign-page");
        }
        for (name, value) in [
            ("origin", "http://127.0.0.1:8477"),
            ("sec-fetch-site", "same-origin"),
            ("accept", "text/event-stream"),
        ] {
            let answer = with_header(Method::GET, path, name, value).await;
            assert_eq!(answer.status, StatusCode::OK, "{name}: {value}");
        }
    }
    // A link from elsewhere leads to the pages.
    for path in ["/", "/helm", "/v1/state"] {
        let answer = with_header(Method::GET, path, "sec-fetch-site", "cross-site").await;
        assert_eq!(answer.status, StatusCode::OK, "{path}");
    }
}

#[tokio::test]
async fn our_name_over_another_scheme_is_another_page() {
    let other = "https://127.0.0.1:8477";
    let answer = with_header(Method::POST, "/v1/crew/bite", "origin", other).await;
    answer.problem(403, "foreign-page");
}

/// The whole answer to a request as it is written.
async fn raw(base: &str, request: &str) -> String {
    let address = base.strip_prefix("http://").unwrap();
    let mut client = TcpStream::connect(address).await.unwrap();
    client.write_all(request.as_bytes()).await.unwrap();
    let mut answer = String::new();
    let reading = client.read_to_string(&mut answer);
    let read = tokio::time::timeout(PATIENCE, reading).await;
    read.expect("an answer and an end").unwrap();
    answer
}

#[tokio::test]
async fn a_request_is_for_one_host() {
    let room = run(advice()).await;
    let ours = "Host: 127.0.0.1\r\n";
    for (version, hosts, status) in [
        ("1.1", String::new(), 400),
        ("1.1", format!("{ours}{ours}"), 400),
        ("1.0", format!("{ours}{ours}"), 400),
        ("1.1", "Host:\r\n".to_owned(), 421),
        ("1.1", ours.to_owned(), 200),
        ("1.0", String::new(), 200),
    ] {
        let request = format!("GET /v1/state HTTP/{version}\r\n{hosts}Connection: close\r\n\r\n");
        let answer = raw(&room.base, &request).await;
        let begin = format!("HTTP/{version} {status} ");
        assert!(answer.starts_with(&begin), "{request}{answer}");
        let problem = answer.contains("urn:skimwatch:problem:not-one-host");
        assert_eq!(problem, status == 400, "{answer}");
    }
    room.shutdown.cancel();
    let old = axum::http::Request::get("/v1/state")
        .version(Version::HTTP_10)
        .body(Body::empty())
        .unwrap();
    assert_eq!(ask(&advice(), old).await.status, StatusCode::OK);
}

#[tokio::test]
async fn odd_methods_and_paths_add_no_lines_to_the_metrics() {
    let app = serve::app(
        invented::settings(),
        advice().sources,
        CancellationToken::new(),
    );
    for i in 0..200 {
        let method = Method::from_bytes(format!("ODD{i}").as_bytes()).unwrap();
        for path in [
            "/v1/state".to_owned(),
            format!("/nowhere/{i}"),
            format!("/?{i}"),
        ] {
            let request = to(method.clone(), &path).body(Body::empty()).unwrap();
            let status = app.clone().oneshot(request).await.unwrap().status();
            assert!(status.is_client_error(), "{method} {path}: {status}");
        }
    }
    let metrics = app.oneshot(get_request("/metrics")).await.unwrap();
    let metrics = read_answer(metrics).await.text;
    let counted: Vec<_> = metrics
        .lines()
        .filter_map(|line| line.strip_prefix("skimwatch_http_requests_total{"))
        .filter_map(|line| line.split_once('}'))
        .map(|(labels, _)| labels)
        .collect();
    assert_eq!(
        counted,
        [
            r#"route="/",status="405""#,
            r#"route="/v1/state",status="405""#,
            r#"route="none",status="404""#,
        ]
    );
}
