//! What can be read, and who may ask: state, forecast, health, metrics, pages, host names.

use axum::body::{Body, to_bytes};
use axum::http::{Method, StatusCode, header};
use serde_json::{Value, json};
use skimwatch::advice::{AlertState, Priority};
use skimwatch::serve::{self, Bind, ServeError};
use tokio::net::TcpListener;
use tokio_util::sync::CancellationToken;
use tower::ServiceExt;

use crate::invented::{self, START, moment, will_fly};
use crate::serving::{advice, ask, get, get_request, post_request, to};

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
    assert!(answer["reasons"][0].as_str().unwrap().contains("no wind"));
    assert_eq!(get(&none, "/v1/advisories").await.json(), json!([]));
    let advisories = get(&advice(), "/v1/advisories").await.json();
    assert_eq!(advisories[0]["id"], "bait-airborne-3");
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
    assert_eq!(paths.len(), 48, "{:?}", paths.keys());
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
