//! The interface document against what the room answers: every status, every range of a number.

use std::collections::BTreeSet;

use axum::body::Body;
use axum::http::{Method, Request, header};
use serde_json::{Value, json};

use crate::serving::{advice, ask, get, post_at, to};

async fn document() -> Value {
    get(&advice(), "/v1/openapi.json").await.json()
}

/// Every operation: path, method, what the document says of it.
fn operations(document: &Value) -> Vec<(String, Method, &Value)> {
    let paths = document["paths"].as_object().unwrap();
    let each = paths.iter().flat_map(|(path, methods)| {
        let path = path.replace("{id}", "none").replace("{day}", "2026-06-01");
        methods
            .as_object()
            .unwrap()
            .iter()
            .map(move |(name, operation)| {
                let method = Method::from_bytes(name.to_uppercase().as_bytes()).unwrap();
                (path.clone(), method, operation)
            })
    });
    each.collect()
}

#[tokio::test]
async fn every_answer_says_what_it_means() {
    let document = document().await;
    let operations = operations(&document);
    assert_eq!(operations.len(), 49);
    let mut ids = BTreeSet::new();
    for (path, method, operation) in operations {
        assert!(
            ids.insert(operation["operationId"].as_str().unwrap()),
            "{path}"
        );
        for (status, answer) in operation["responses"].as_object().unwrap() {
            let description = answer["description"].as_str().unwrap_or_default();
            assert!(!description.is_empty(), "{method} {path} {status}");
        }
    }
}

/// Wrong requests of every kind to every route; each answer must be one that the document names.
#[tokio::test]
async fn what_is_refused_is_refused_as_documented() {
    let document = document().await;
    let json = "application/json";
    let long = format!("{{\"name\": \"{}\"}}", "x".repeat(17_000));
    for (path, method, operation) in operations(&document) {
        if path.ends_with("/stream") {
            continue;
        }
        let reads = method == Method::GET;
        let wants_body = operation["requestBody"].is_object();
        let request = |host: &str, kind: &str, body: &str| {
            Request::builder()
                .method(method.clone())
                .uri(&path)
                .header(header::HOST, host)
                .header(header::CONTENT_TYPE, kind)
                .body(Body::from(body.to_owned()))
                .unwrap()
        };
        let own = "127.0.0.1:8477";
        let mut wrong = vec![
            (421, request("evil.example", json, "")),
            (413, request(own, json, &long)),
        ];
        let mut nowhere = request(own, json, "");
        nowhere.headers_mut().remove(header::HOST);
        wrong.push((400, nowhere));
        if !reads {
            let mut foreign = request(own, json, "");
            let page = "http://evil.example".parse().unwrap();
            foreign.headers_mut().insert(header::ORIGIN, page);
            wrong.push((403, foreign));
        }
        if wants_body {
            wrong.push((400, request(own, json, "{")));
            wrong.push((415, request(own, "text/plain", "{}")));
            wrong.push((422, request(own, json, "[]")));
        }
        // No such advisory; no logbook.
        if path.contains("none") || path.contains("/days") {
            wrong.push((404, request(own, json, "")));
        }
        for (status, request) in wrong {
            let answer = ask(&advice(), request).await;
            assert_eq!(answer.status.as_u16(), status, "{method} {path}");
            let described = &operation["responses"][status.to_string()]["content"];
            assert!(
                described["application/problem+json"].is_object(),
                "{method} {path} answers {status}, which is not documented"
            );
        }
    }
}

#[tokio::test]
async fn a_path_that_is_no_text_is_a_problem() {
    let request = to(Method::POST, "/v1/advisories/%FF/acknowledge")
        .body(Body::empty())
        .unwrap();
    ask(&advice(), request)
        .await
        .problem(400, "unreadable-path");
}

/// A body that is right but for one field, which is left to the caller.
fn right_but_for(shape: &str, field: &str, advisory: &Value) -> (&'static str, Value) {
    match shape {
        "LinesOutBody" => ("/v1/crew/lines-out", json!({})),
        "MovedBody" => ("/v1/crew/moved", json!({"line": "main"})),
        "ElevationBody" => ("/v1/crew/elevation", json!({})),
        "BearingBody" => ("/v1/crew/bearing", json!({})),
        "TurnBody" => (
            "/v1/crew/turn",
            json!({"by_deg": 40.0, "rate_deg_s": 5.0, "in_s": 10.0}),
        ),
        "AskedBody" => (
            "/v1/crew/plan",
            json!({"advisory": advisory, "revision": 1, "line": "kite"}),
        ),
        "MarkBody" if field == "bearing_deg_true" => ("/v1/crew/mark", json!({"range_m": 100.0})),
        "MarkBody" if ["range_m", "off_bow_deg"].contains(&field) => (
            "/v1/crew/mark",
            json!({"off_bow_deg": 10.0, "range_m": 100.0}),
        ),
        "MarkBody" => (
            "/v1/crew/mark",
            json!({"latitude_deg": 10.0, "longitude_deg": 20.0}),
        ),
        "DriftBody" => (
            "/v1/crew/mark/1/drift",
            json!({"set_deg_true": 10.0, "drift_mps": 0.5}),
        ),
        "LaunchBody" => (
            "/v1/crew/launch",
            json!({"wind_mps": 0.5, "gust_mps": 60.0, "speed_mps": 3.0, "off_bow_deg": 60.0,
                "kite_line_out_m": 100.0}),
        ),
        "LaunchStepBody" => ("/v1/crew/launch/step", json!({"answered": 7})),
        "PassBody" => ("/v1/crew/pass", json!({"said": "ask", "mark": 1})),
        "StrikeBody" => ("/v1/crew/strike", json!({"said": "fish"})),
        "SilenceBody" => ("/v1/silence", json!({})),
        other => panic!("a body for {other} is missing here"),
    }
}

#[tokio::test]
async fn numbers_are_taken_within_the_documented_range_and_refused_beyond() {
    let document = document().await;
    let advisory = get(&advice(), "/v1/advisories").await.json()[0]["id"].clone();
    let mut tried = 0;
    let shapes = document["components"]["schemas"].as_object().unwrap();
    for (shape, schema) in shapes.iter().filter(|(name, _)| name.ends_with("Body")) {
        for (field, what) in schema["properties"].as_object().unwrap() {
            let kind = what["type"].to_string();
            if !kind.contains("number") && !kind.contains("integer") {
                continue;
            }
            let bound = |name: &str| {
                let bound = what[name].as_f64();
                bound.unwrap_or_else(|| panic!("{shape}.{field} has no {name}"))
            };
            let (least, most) = (bound("minimum"), bound("maximum"));
            if kind.contains("integer") {
                continue;
            }
            tried += 1;
            for (value, taken) in [
                (least, true),
                (most, true),
                (least - 0.01, false),
                (most + 0.01, false),
            ] {
                let (path, mut body) = right_but_for(shape, field, &advisory);
                body[field] = json!(value);
                if shape == "AskedBody" {
                    body = json!({"answer": "done", "asked": body});
                }
                let moment = match shape.as_str() {
                    "StrikeBody" => "bite",
                    "DriftBody" => "marks",
                    _ => "advice",
                };
                let (answer, inputs) = post_at(moment, path, &body.to_string()).await;
                if taken {
                    assert_eq!(answer.status.as_u16(), 202, "{body}: {}", answer.text);
                    assert_eq!(inputs.len(), 1, "{body}");
                } else {
                    let problem = answer.problem(422, "out-of-range");
                    assert_eq!(problem["field"], field.as_str(), "{body}");
                    let cure = problem["cure"].as_str().unwrap();
                    assert!(cure.contains(&format!("{least} to {most}")), "{cure}");
                    assert!(inputs.is_empty(), "{body}");
                }
            }
        }
    }
    assert_eq!(tried, 25);
}
