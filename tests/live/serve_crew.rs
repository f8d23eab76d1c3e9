//! What the crew posts: each body becomes an input, and what does not fit goes nowhere.

use std::time::{Duration, Instant};

use axum::body::Body;
use axum::http::{Method, StatusCode, header};
use serde_json::{Value, json};
use skimwatch::advice::Priority;
use skimwatch::decode::{
    Asked, BaitState, CorrectBy, Correctable, Correction, CrewInput, GeoPosition, LaunchDay,
    LaunchSaid, Line, MarkChange, MarkHow, MarkSaid, PlanAnswer, SessionMark, SetAndDrift,
    StrikeWord, Talker,
};
use skimwatch::geodesy::Position;
use skimwatch::{serve, units};
use tokio_util::sync::CancellationToken;
use tower::ServiceExt;

use crate::invented::{self, START, moment};
use crate::serving::{advice, ask, get, post, post_at, post_request, read_answer, stamped, to};

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
        (
            "/v1/crew/launch",
            r#"{"wind_mps": 7, "gust_mps": 9, "speed_mps": 3, "off_bow_deg": 60, "kite_line_out_m": 100}"#,
            CrewInput::Launch(LaunchSaid::Begun(LaunchDay {
                wind: units::metres_per_second(7.0),
                gust: units::metres_per_second(9.0),
                speed: units::metres_per_second(3.0),
                off_bow: degrees(60.0),
                kite_line: metres(100.0),
            })),
        ),
        (
            "/v1/crew/launch/step",
            r#"{"answered": 8, "kite_line_out_m": 32, "main_line_out_m": 50}"#,
            CrewInput::Launch(LaunchSaid::Answered {
                steps: 8,
                kite: Some(metres(32.0)),
                main: Some(metres(50.0)),
            }),
        ),
        (
            "/v1/crew/launch/end",
            "",
            CrewInput::Launch(LaunchSaid::Ended),
        ),
        (
            "/v1/crew/strike",
            r#"{"said": "home"}"#,
            CrewInput::Strike(StrikeWord::Home),
        ),
        ("/v1/crew/forget", "", CrewInput::Forget),
        (
            "/v1/crew/instrument",
            r#"{"name": "masthead WIMWV", "used": false}"#,
            CrewInput::Source {
                name: "masthead WIMWV".to_owned(),
                used: false,
            },
        ),
        (
            "/v1/crew/correction",
            r#"{"what": "wind_angle", "on": true}"#,
            // What the invented moment shows.
            CrewInput::Correct(Correction {
                talker: Talker::new("WI").unwrap(),
                by: CorrectBy::WindAngle(units::radians(8.3_f64.to_radians())),
            }),
        ),
        (
            "/v1/crew/correction",
            r#"{"what": "log", "on": false}"#,
            CrewInput::Uncorrect(Correctable::Log),
        ),
        (
            "/v1/crew/mark",
            r#"{"name": "birds"}"#,
            // Where the invented boat is:
            CrewInput::Mark(MarkSaid {
                name: Some("birds".to_owned()),
                position: boat_at(),
                how: MarkHow::Here,
                number: None,
            }),
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

#[tokio::test]
async fn a_step_of_a_strike_fits_what_is_so_or_is_refused() {
    let mut boat = invented::boat(moment("bite", START));
    let (app, mut said) = stamped(&mut boat);
    let answer = async |body: &str| {
        let request = post_request("/v1/crew/strike", body);
        read_answer(app.clone().oneshot(request).await.unwrap()).await
    };
    let down = r#"{"said": "marker_down"}"#;
    assert_eq!(answer(down).await.status, StatusCode::ACCEPTED);
    let heard = said.recv().await.unwrap();
    assert_eq!(heard, CrewInput::Strike(StrikeWord::MarkerDown));
    let fish = answer(r#"{"said": "fish", "off_bow_deg": -135}"#).await;
    assert_eq!(fish.status, StatusCode::ACCEPTED);
    let off_bow = units::degrees(-135.0);
    let heard = said.recv().await.unwrap();
    assert_eq!(heard, CrewInput::Strike(StrikeWord::Fish { off_bow }));
    // A step of the way home, and home itself, while a fish is on.
    for word in ["bait_in", "stays_out", "home"] {
        let body = json!({ "said": word }).to_string();
        answer(&body).await.problem(409, "not-that-step");
    }
    for (body, slug) in [
        (r#"{"said": "fish"}"#, "incomplete"),
        (r#"{"said": "tight", "off_bow_deg": 1}"#, "incomplete"),
        (r#"{"said": "fish", "off_bow_deg": 181}"#, "out-of-range"),
    ] {
        answer(body).await.problem(422, slug);
    }
    // With nothing on, only the kite can be called home.
    let (refused, inputs) = post("/v1/crew/strike", down).await;
    refused.problem(409, "not-that-step");
    assert_eq!(inputs, []);
}

#[tokio::test]
async fn the_state_tells_how_the_strike_stands() {
    let state = get(&invented::boat(moment("kite-turn", START)), "/v1/state").await;
    let strike = &state.json()["strike"];
    assert_eq!(strike["cause"], "bite");
    assert_eq!(strike["step"], "turn");
    assert_eq!(strike["steps"][0]["answered"], true);
    assert_eq!(strike["steps"][4]["who"], "helm");
    assert_eq!(strike["fish"]["off_bow_deg"], 135.0);
    assert_eq!(strike["then"]["kite_line_out_m"], 70.0);
    assert!(strike["then"]["heading_deg_true"].is_number());
    let kite = &strike["kite"];
    assert!(kite["heading_deg_true"].is_number() && kite["nearest"].is_string());
    let path = kite["winding"]["path"].as_array().unwrap();
    assert!(path.len() > 4, "{path:?}");
    assert!(kite["winding"]["holder_share"].is_number());
    assert_eq!(
        get(&advice(), "/v1/state").await.json()["strike"],
        Value::Null
    );
}

/// Where the invented boat is.
fn boat_at() -> Option<GeoPosition> {
    let position = moment("advice", START).vessel.position;
    position.map(|here| here.value.into())
}

/// What a body of `/v1/crew/mark` becomes, in this picture.
async fn marked(moment_name: &str, body: &str) -> MarkSaid {
    let (answer, inputs) = post_at(moment_name, "/v1/crew/mark", body).await;
    assert_eq!(answer.status, StatusCode::ACCEPTED, "{}", answer.text);
    let Some(CrewInput::Mark(said)) = inputs.into_iter().next() else {
        panic!("no mark");
    };
    said
}

#[tokio::test]
async fn a_mark_is_here_or_at_a_position_or_seen_from_the_boat() {
    let boat = boat_at().unwrap();
    let typed = marked(
        "advice",
        r#"{"latitude_deg": -12.5, "longitude_deg": 179.5}"#,
    )
    .await;
    assert_eq!((typed.how, typed.number), (MarkHow::Typed, None));
    assert!((units::in_degrees(typed.position.unwrap().latitude) + 12.5).abs() < 1e-9);
    // The invented boat heads 1.2 rad: 30 degrees to port of it, 250 m away.
    let seen = marked(
        "advice",
        r#"{"off_bow_deg": -30, "range_m": 250, "name": "birds"}"#,
    )
    .await;
    let range = units::metres(250.0);
    assert_eq!(seen.how, MarkHow::ByEye { range });
    let way = Position::from(boat)
        .way_to(seen.position.unwrap().into())
        .unwrap();
    assert!((way.range_m() - 250.0).abs() < 0.01);
    assert!((way.bearing_rad() - (1.2 - 30_f64.to_radians())).abs() < 1e-4);
    let by_bearing = marked("advice", r#"{"bearing_deg_true": 270, "range_m": 250}"#).await;
    let way = Position::from(boat)
        .way_to(by_bearing.position.unwrap().into())
        .unwrap();
    assert!((way.bearing_rad().to_degrees() - 270.0).abs() < 0.01);
    for (body, slug) in [
        (r#"{"off_bow_deg": 10}"#, "incomplete"),
        (r#"{"range_m": 100}"#, "incomplete"),
        (
            r#"{"range_m": 100, "off_bow_deg": 1, "bearing_deg_true": 1}"#,
            "incomplete",
        ),
        (
            r#"{"range_m": 100, "off_bow_deg": 1, "latitude_deg": 1, "longitude_deg": 1}"#,
            "incomplete",
        ),
        (
            r#"{"latitude_deg": 89.5, "longitude_deg": 0}"#,
            "out-of-range",
        ),
    ] {
        let (answer, inputs) = post("/v1/crew/mark", body).await;
        answer.problem(422, slug);
        assert_eq!(inputs, [], "{body}");
    }
    // From a boat of which nobody knows where it is or points, nothing can be seen.
    let mut blind = advice();
    for (lost, what) in [("position", "position"), ("heading", "heading")] {
        let mut now = moment("advice", START);
        match lost {
            "position" => now.vessel.position = None,
            _ => now.vessel.heading_true_rad = None,
        }
        blind.tick.send_replace(std::sync::Arc::new(now));
        let (app, _said) = stamped(&mut blind);
        let request = post_request("/v1/crew/mark", r#"{"off_bow_deg": 1, "range_m": 100}"#);
        let answer = read_answer(app.oneshot(request).await.unwrap()).await;
        let problem = answer.problem(409, "boat-unknown");
        assert!(
            problem["detail"].as_str().unwrap().contains(what),
            "{problem}"
        );
        blind = advice();
    }
}

#[tokio::test]
async fn marks_are_listed_named_moved_and_removed_by_number() {
    let boat = invented::boat(moment("marks", START));
    let listed = get(&boat, "/v1/marks").await.json();
    assert_eq!(get(&boat, "/v1/state").await.json()["marks"], listed);
    let birds = &listed[1];
    assert_eq!(
        (&birds["number"], &birds["name"]),
        (&json!(2), &json!("birds"))
    );
    assert_eq!(birds["source"], "by_eye");
    assert_eq!(birds["to_fish"], true);
    let from = &birds["from_boat"];
    let (east, north) = (
        from["east_m"].as_f64().unwrap(),
        from["north_m"].as_f64().unwrap(),
    );
    // 260 m at 40 degrees, and 95 s of 0.4 m/s toward 2.1 rad (own arithmetic).
    let (wanted_east, wanted_north) = (
        260.0 * 40_f64.to_radians().sin() + 38.0 * 2.1_f64.sin(),
        260.0 * 40_f64.to_radians().cos() + 38.0 * 2.1_f64.cos(),
    );
    assert!(
        (east - wanted_east).abs() < 0.1 && (north - wanted_north).abs() < 0.1,
        "{from}"
    );
    assert!((from["range_m"].as_f64().unwrap() - east.hypot(north)).abs() < 1e-6);
    assert!(birds["sigma_m"].as_f64().unwrap() > 10.0);
    let track = &get(&boat, "/v1/state").await.json()["track"];
    assert!(track["past"].as_array().unwrap().len() > 20, "{track}");
    assert_eq!(track["ahead"].as_array().unwrap().len(), 21);

    let of = |number: u32, change: MarkChange| CrewInput::OfMark { number, change };
    let set = units::degrees(120.0);
    for (path, body, expected) in [
        (
            "/v1/crew/mark/2/name",
            r#"{"name": "slick"}"#,
            of(2, MarkChange::Named(Some("slick".to_owned()))),
        ),
        (
            "/v1/crew/mark/2/name",
            r#"{"name": ""}"#,
            of(2, MarkChange::Named(None)),
        ),
        (
            "/v1/crew/mark/2/drift",
            r#"{"set_deg_true": 120, "drift_mps": 0.5}"#,
            of(
                2,
                MarkChange::Drifts(Some(SetAndDrift {
                    set,
                    drift: units::metres_per_second(0.5),
                })),
            ),
        ),
        (
            "/v1/crew/mark/2/drift",
            "{}",
            of(2, MarkChange::Drifts(None)),
        ),
    ] {
        let (answer, inputs) = post_at("marks", path, body).await;
        assert_eq!(
            answer.status,
            StatusCode::ACCEPTED,
            "{path}: {}",
            answer.text
        );
        assert_eq!(inputs, [expected], "{path}");
    }
    for (path, body, status, slug) in [
        (
            "/v1/crew/mark/7/name",
            r#"{"name": "a"}"#,
            404,
            "no-such-mark",
        ),
        (
            "/v1/crew/mark/1000/name",
            r#"{"name": "a"}"#,
            409,
            "mark-of-network",
        ),
        (
            "/v1/crew/mark/2/drift",
            r#"{"drift_mps": 1}"#,
            422,
            "incomplete",
        ),
        (
            "/v1/crew/instrument",
            r#"{"name": "nobody WIMWV", "used": true}"#,
            404,
            "no-such-source",
        ),
        ("/v1/crew/mark/x/drift", "{}", 400, "unreadable-path"),
    ] {
        let (answer, inputs) = post_at("marks", path, body).await;
        answer.problem(status, slug);
        assert_eq!(inputs, [], "{path}");
    }
    let mut boat = invented::boat(moment("marks", START));
    let (app, mut said) = stamped(&mut boat);
    let remove = async |number: u32| {
        let request = to(Method::DELETE, &format!("/v1/crew/mark/{number}"));
        let request = request.body(Body::empty()).unwrap();
        read_answer(app.clone().oneshot(request).await.unwrap()).await
    };
    for number in [3, 1000] {
        assert_eq!(remove(number).await.status, StatusCode::ACCEPTED);
        assert_eq!(said.recv().await, Some(of(number, MarkChange::Removed)));
    }
    remove(4).await.problem(404, "no-such-mark");
    // A removal can be taken back.
    let undo = post_request("/v1/crew/undo", r#"{"sequence": 1}"#);
    let undone = app.clone().oneshot(undo).await.unwrap();
    assert_eq!(undone.status(), StatusCode::ACCEPTED);
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
            "-89 to 89",
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
    assert!(asked.elapsed() < Duration::from_secs(20));
    drop(_posts);
    let response = app
        .oneshot(post_request("/v1/crew/bite", ""))
        .await
        .unwrap();
    assert_eq!(response.status(), StatusCode::SERVICE_UNAVAILABLE);
}

#[tokio::test]
async fn only_what_is_known_is_corrected_and_only_what_is_corrected_taken_off() {
    for (body, problem) in [
        (
            r#"{"what": "wind_speed", "on": true}"#,
            "nothing-to-correct",
        ),
        (r#"{"what": "compass", "on": true}"#, "nothing-to-correct"),
        (r#"{"what": "wind_angle", "on": false}"#, "not-corrected"),
    ] {
        let (answer, inputs) = post("/v1/crew/correction", body).await;
        assert_eq!(answer.status, StatusCode::CONFLICT, "{body}");
        let kind = answer.json()["type"].as_str().unwrap().to_owned();
        assert!(kind.ends_with(problem), "{kind}");
        assert!(inputs.is_empty());
    }
    let found = get(&advice(), "/v1/calibration").await.json();
    let estimates = found["estimates"].as_array().unwrap();
    assert_eq!(estimates.len(), Correctable::ALL.len());
    let vane = &estimates[0];
    assert_eq!(vane["what"], "wind_angle");
    assert_eq!(
        (&vane["significant"], &vane["turns"]),
        (&json!(true), &json!(7))
    );
    assert!((vane["terms"][0]["total"].as_f64().unwrap() - 8.3).abs() < 1e-9);
    assert!(
        estimates[1]["not_known"]
            .as_str()
            .unwrap()
            .contains("2 of 3")
    );
    assert_eq!(estimates[2]["corrected"]["by"], json!([0.92]));
    let state = get(&advice(), "/v1/state").await.json();
    let corrections = &state["deck"]["corrections"];
    assert_eq!(corrections[0]["what"], "log");
    assert!(corrections[0]["at"].is_string());
}
