//! The settings that a page may change, over HTTP.

use axum::body::Body;
use axum::http::{Method, StatusCode, header};
use serde_json::{Value, json};
use tokio::sync::mpsc;

use crate::invented;
use crate::serving::{advice, ask, get, put_request, to};

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
