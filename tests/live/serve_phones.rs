//! Who may touch, over HTTP: the table of routes, joining, wrong codes, phones that are taken out,
//! pages of other sites that have the cookie.

use std::collections::{BTreeMap, BTreeSet};
use std::net::{IpAddr, Ipv4Addr};

use axum::Router;
use axum::body::Body;
use axum::http::{HeaderMap, Method, Request, StatusCode, header};
use serde_json::{Value, json};
use skimwatch::access::{Access, Locks, PhoneName, Role};
use skimwatch::serve;
use skimwatch::time::Millis;
use tokio_util::sync::CancellationToken;
use tower::ServiceExt;

use crate::PATIENCE;
use crate::invented::{self, Boat};
use crate::serving::{Answer, advice, get_request, read_answer, run, stamped, to};

const OWN: &str = "http://127.0.0.1:8477";

/// A boat where touching needs a phone that has joined, or looking too.
fn locked(look: bool) -> Boat {
    let mut boat = advice();
    boat.sources.access = Access::new(Locks { touch: true, look }, None);
    boat
}

/// The token of a phone that joins.
fn joined(boat: &Boat, role: Role, name: &str) -> String {
    let access = &boat.sources.access;
    let code = access.invite(role).unwrap().code;
    let name = PhoneName::new(name).unwrap();
    let joined = access.join(&code, name, Millis(0)).unwrap();
    joined.token.secret().to_owned()
}

fn app(boat: &Boat) -> Router {
    serve::app(
        invented::settings(),
        boat.sources.clone(),
        CancellationToken::new(),
    )
}

async fn ask(app: &Router, request: Request<Body>) -> Answer {
    read_answer(app.clone().oneshot(request).await.unwrap()).await
}

fn request(method: Method, path: &str, headers: &[(&str, &str)], body: &str) -> Request<Body> {
    let mut request = to(method, path);
    if !body.is_empty() {
        request = request.header(header::CONTENT_TYPE, "application/json");
    }
    for (name, value) in headers {
        request = request.header(*name, *value);
    }
    request.body(Body::from(body.to_owned())).unwrap()
}

async fn with_token(app: &Router, method: Method, path: &str, token: &str) -> Answer {
    let bearer = format!("Bearer {token}");
    let headers: &[(&str, &str)] = &[("authorization", &bearer)];
    let headers = if token.is_empty() { &[] } else { headers };
    ask(app, request(method, path, headers, "")).await
}

/// Every route of the document with what it declares: method, path, need.
async fn table(app: &Router) -> Vec<(Method, String, &'static str)> {
    let document = ask(app, get_request("/v1/openapi.json")).await.json();
    let mut table = Vec::new();
    for (path, methods) in document["paths"].as_object().unwrap() {
        let path = path
            .replace("{id}", "none")
            .replace("{day}", "2026-06-01")
            .replace("{number}", "7");
        for (method, operation) in methods.as_object().unwrap() {
            let method = Method::from_bytes(method.to_uppercase().as_bytes()).unwrap();
            let declared = &operation["security"];
            let either = |role: &str| json!([{"phone": [role]}, {"bearer": [role]}]);
            let need = if *declared == json!([{}]) {
                "nothing"
            } else if *declared == json!([{}, {"phone": ["look"]}, {"bearer": ["look"]}]) {
                "look"
            } else if *declared == either("crew") {
                "crew"
            } else if *declared == either("keeper") {
                "keeper"
            } else {
                panic!("{method} {path} declares {declared}");
            };
            table.push((method, path.clone(), need));
        }
    }
    table
}

#[tokio::test]
async fn every_route_declares_what_it_needs_and_what_changes_anything_is_locked() {
    let table = table(&app(&advice())).await;
    let of = |wanted: &str| -> BTreeSet<String> {
        let of = table.iter().filter(|(_, _, need)| *need == wanted);
        of.map(|(method, path, _)| format!("{method} {path}"))
            .collect()
    };
    assert_eq!(
        of("nothing"),
        [
            // For a phone that does not trust the boat yet.
            "GET /boat-certificate.crt",
            "GET /v1/phone",
            "POST /v1/phone/join"
        ]
        .map(String::from)
        .into()
    );
    assert_eq!(
        of("keeper"),
        [
            "DELETE /v1/phones/7",
            "GET /v1/phones",
            "POST /v1/crew/forget",
            "POST /v1/phones/invite",
            "PUT /v1/settings",
        ]
        .map(String::from)
        .into()
    );
    for (method, path, need) in &table {
        match *need {
            "look" => assert_eq!(method, Method::GET, "{path}"),
            "crew" => assert_ne!(method, Method::GET, "{path}"),
            _ => {}
        }
    }
}

#[tokio::test]
async fn a_guest_may_look_and_a_crew_phone_may_not_what_a_keepers_may() {
    let boat = locked(false);
    let crew = joined(&boat, Role::Crew, "mate's phone");
    let app = app(&boat);
    let mut refused = BTreeMap::new();
    for (method, path, need) in table(&app).await {
        if path.ends_with("/stream") || need == "nothing" {
            continue;
        }
        let place = format!("{method} {path}");
        let guest = with_token(&app, method.clone(), &path, "").await;
        if need == "look" {
            assert_ne!(guest.status, StatusCode::UNAUTHORIZED, "{place}");
            continue;
        }
        let problem = guest.problem(401, "not-joined");
        assert!(problem["cure"].as_str().unwrap().contains("/phone"));
        assert!(guest.headers.contains_key(header::WWW_AUTHENTICATE));
        *refused.entry(need).or_insert(0) += 1;
        // A token that nobody has is worth nothing.
        let wrong = with_token(&app, method.clone(), &path, &"0".repeat(64)).await;
        wrong.problem(401, "not-joined");
        if need == "keeper" {
            let crew = with_token(&app, method, &path, &crew).await;
            let problem = crew.problem(403, "not-a-keeper");
            assert!(problem["detail"].as_str().unwrap().contains("mate's phone"));
        }
    }
    // Twenty-five inputs of the crew: all that change anything but forget and settings.
    assert_eq!(refused, BTreeMap::from([("crew", 25), ("keeper", 5)]));
}

#[tokio::test]
async fn what_a_phone_says_goes_with_its_name_and_no_other_method_opens_a_door() {
    let mut boat = locked(false);
    let crew = joined(&boat, Role::Crew, "mate's phone");
    let app = app(&boat);
    let asking = tokio::spawn({
        let (app, crew) = (app.clone(), crew.clone());
        async move {
            with_token(&app, Method::POST, "/v1/crew/bite", &crew)
                .await
                .status
        }
    });
    let post = tokio::time::timeout(PATIENCE, boat.posts.recv()).await;
    let post = post.unwrap().unwrap();
    assert_eq!(post.by.as_deref(), Some("mate's phone"));
    let recorded = serve::Recorded {
        sequence: 1,
        kept: skimwatch::record::KeptIn::Disk,
    };
    post.reply.send(Ok(recorded)).unwrap();
    assert_eq!(asking.await.unwrap(), StatusCode::ACCEPTED);
    for method in [Method::PATCH, Method::OPTIONS, Method::PUT, Method::TRACE] {
        let answer = with_token(&app, method, "/v1/crew/bite", "").await;
        answer.problem(405, "wrong-method");
        assert_eq!(answer.headers[header::ALLOW], "POST");
    }
    let answer = with_token(&app, Method::DELETE, "/v1/state", "").await;
    answer.problem(405, "wrong-method");
    assert_eq!(answer.headers[header::ALLOW], "GET,HEAD");
}

#[tokio::test]
async fn where_looking_is_locked_only_the_pages_themselves_are_open() {
    let boat = locked(true);
    let crew = joined(&boat, Role::Crew, "mate");
    let app = app(&boat);
    for (method, path, need) in table(&app).await {
        if need != "nothing" {
            let guest = with_token(&app, method, &path, "").await;
            guest.problem(401, "not-joined");
        }
    }
    for path in ["/", "/helm", "/phone", "/assets/phone_page.js"] {
        let page = with_token(&app, Method::GET, path, "").await;
        assert_eq!(page.status, StatusCode::OK, "{path}");
    }
    let state = with_token(&app, Method::GET, "/v1/state", &crew).await;
    assert_eq!(state.status, StatusCode::OK);
    let this = with_token(&app, Method::GET, "/v1/phone", "").await.json();
    assert_eq!(this["may_look"], false);
}

async fn join(app: &Router, code: &str, name: &str, token: &str) -> Answer {
    let body = json!({"code": code, "name": name, "token": token}).to_string();
    ask(
        app,
        request(Method::POST, "/v1/phone/join", &[("origin", OWN)], &body),
    )
    .await
}

/// The cookie that an answer sets, as a browser shows it again.
fn cookie(headers: &HeaderMap) -> String {
    let set = headers[header::SET_COOKIE].to_str().unwrap();
    set.split_once(';').unwrap().0.to_owned()
}

#[tokio::test]
async fn the_first_code_joins_a_keeper_who_lets_others_in() {
    let mut boat = locked(false);
    let first = boat.sources.access.first_code().unwrap().code;
    let (app, mut said) = stamped(&mut boat);
    let keeper = join(&app, &first, "skipper's phone", "cookie").await;
    assert_eq!(keeper.status, StatusCode::OK, "{}", keeper.text);
    let set = keeper.headers[header::SET_COOKIE].to_str().unwrap();
    assert!(set.contains("; HttpOnly") && set.contains("; SameSite=Strict"));
    assert_eq!(keeper.headers[header::CACHE_CONTROL], "no-store");
    assert_eq!(keeper.json()["phone"]["role"], "keeper");
    // Only a program that asks is told its token.
    assert!(keeper.json()["bearer"].is_null());
    let keeper = cookie(&keeper.headers);
    let shown = [("cookie", keeper.as_str()), ("origin", OWN)];
    let by_keeper =
        async |method, path: &str, body: &str| ask(&app, request(method, path, &shown, body)).await;
    let invited = by_keeper(Method::POST, "/v1/phones/invite", r#"{"role": "crew"}"#).await;
    let code = invited.json()["code"].as_str().unwrap().to_owned();
    assert_eq!(invited.json()["good_for_s"], 600);

    join(&app, &code, "a,b", "bearer")
        .await
        .problem(422, "no-phone-name");
    let taken = join(&app, &code, "Skipper's Phone", "bearer").await;
    taken.problem(409, "name-taken");
    let crew = join(&app, &code, "mate's phone", "bearer").await.json();
    let crew = crew["bearer"].as_str().unwrap().to_owned();
    join(&app, &code, "another", "bearer")
        .await
        .problem(403, "wrong-code");

    let this = with_token(&app, Method::GET, "/v1/phone", &crew).await;
    assert!(!this.headers.contains_key(header::SET_COOKIE));
    let this = this.json();
    assert_eq!(this["name"], "mate's phone");
    assert_eq!(
        (&this["may_touch"], &this["may_keep"]),
        (&json!(true), &json!(false))
    );
    // A cookie is set anew with every visit.
    let this = by_keeper(Method::GET, "/v1/phone", "").await;
    assert_eq!(cookie(&this.headers), keeper);

    let bite = with_token(&app, Method::POST, "/v1/crew/bite", &crew).await;
    assert_eq!(bite.status, StatusCode::ACCEPTED);
    assert!(said.try_recv().is_ok());
    let phones = by_keeper(Method::GET, "/v1/phones", "").await.json();
    let names: Vec<_> = phones
        .as_array()
        .unwrap()
        .iter()
        .map(|p| &p["name"])
        .collect();
    assert_eq!(names, ["skipper's phone", "mate's phone"]);
    assert_eq!(phones[0]["is_this"], true);

    let out = by_keeper(Method::DELETE, "/v1/phones/2", "").await;
    assert_eq!(out.json()["phone"]["name"], "mate's phone");
    let out = by_keeper(Method::DELETE, "/v1/phones/2", "").await;
    out.problem(404, "no-such-phone");
    let late = with_token(&app, Method::POST, "/v1/crew/bite", &crew).await;
    let problem = late.problem(401, "not-joined");
    assert!(problem["detail"].as_str().unwrap().contains("taken out"));
    assert!(said.try_recv().is_err(), "nothing of it is said");
}

#[tokio::test]
async fn a_page_of_another_site_does_nothing_with_the_cookie() {
    let mut boat = locked(false);
    let crew = format!("skimwatch_phone={}", joined(&boat, Role::Crew, "mate"));
    let (app, mut said) = stamped(&mut boat);
    let bite = async |headers: &[(&str, &str)]| {
        let mut all = vec![("cookie", crew.as_str())];
        all.extend(headers);
        ask(&app, request(Method::POST, "/v1/crew/bite", &all, "")).await
    };
    for headers in [
        &[("origin", "http://evil.example")][..],
        &[("origin", "null")],
        &[("origin", OWN), ("sec-fetch-site", "cross-site")],
        // A form of another site in an old browser: it names no page.
        &[("content-type", "application/x-www-form-urlencoded")],
        &[("referer", "http://evil.example/form")],
        &[],
    ] {
        bite(headers).await.problem(403, "foreign-page");
    }
    assert!(said.try_recv().is_err(), "nothing is said");
    assert_eq!(bite(&[("origin", OWN)]).await.status, StatusCode::ACCEPTED);
    assert!(said.try_recv().is_ok());
}

#[tokio::test]
async fn where_nothing_is_locked_nobody_joins() {
    let app = app(&advice());
    join(&app, "12345678", "mate", "cookie")
        .await
        .problem(409, "nothing-locked");
    let body = r#"{"role": "crew"}"#;
    let invite = request(Method::POST, "/v1/phones/invite", &[], body);
    ask(&app, invite).await.problem(409, "nothing-locked");
    let this = with_token(&app, Method::GET, "/v1/phone", "").await.json();
    assert_eq!(
        (&this["locked"], &this["may_keep"]),
        (&json!(false), &json!(true))
    );
}

/// A phone of its own address.
fn phone(last: u8) -> reqwest::Client {
    reqwest::Client::builder()
        .local_address(IpAddr::from(Ipv4Addr::new(127, 0, 0, last)))
        .build()
        .unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_thousand_wrong_codes_never_succeed_and_do_not_shut_the_door() {
    let boat = locked(false);
    let code = boat.sources.access.invite(Role::Crew).unwrap().code;
    let room = run(boat).await;
    let url = format!("{}/v1/phone/join", room.base);
    let join = async |phone: &reqwest::Client, code: &str, name: &str| {
        let body = json!({"code": code, "name": name});
        let answer = phone.post(&url).json(&body).send().await.unwrap();
        (
            answer.status().as_u16(),
            answer.json::<Value>().await.unwrap(),
        )
    };
    let guest = phone(2);
    let mut answers = BTreeMap::new();
    let mut number: u32 = code.parse().unwrap();
    for _ in 0..1000 {
        number = (number + 1) % 100_000_000;
        let (status, problem) = join(&guest, &format!("{number:08}"), "guest").await;
        let kind = problem["type"].as_str().unwrap().to_owned();
        *answers.entry((status, kind)).or_insert(0) += 1;
    }
    let count = |status: u16, slug: &str| {
        let kind = format!("urn:skimwatch:problem:{slug}");
        answers.get(&(status, kind)).copied().unwrap_or(0)
    };
    let (looked_at, slowed) = (count(403, "wrong-code"), count(429, "too-many-codes"));
    let paced = count(429, "too-fast");
    assert_eq!(looked_at + slowed + paced, 1000, "{answers:?}");
    // Three free, then after 2, 4, 8, 16 ... seconds: nine of them take four minutes.
    assert!((4..=12).contains(&looked_at), "{answers:?}");
    assert!(slowed > 0, "{answers:?}");
    // Even the right one is not looked at from there now, and counts from elsewhere.
    assert_eq!(join(&guest, &code, "guest").await.0, 429);
    assert_eq!(join(&phone(3), &code, "mate").await.0, 200);
    assert_eq!(room.boat.sources.access.phones().len(), 1);
    room.shutdown.cancel();
}

#[tokio::test(flavor = "multi_thread")]
async fn the_streams_of_a_phone_end_when_it_is_taken_out() {
    let boat = locked(true);
    let mate = joined(&boat, Role::Crew, "mate");
    let helm = joined(&boat, Role::Crew, "helm");
    let room = run(boat).await;
    let open = async |path: &str, token: &str| {
        let url = format!("{}{path}", room.base);
        phone(1).get(url).bearer_auth(token).send().await.unwrap()
    };
    let paths = ["/v1/state/stream", "/v1/advisories/stream"];
    let mut streams = Vec::new();
    for path in paths {
        streams.push(open(path, &mate).await);
    }
    let mut other = open(paths[0], &helm).await;
    assert_eq!(other.status(), 200);
    let access = room.boat.sources.access.clone();
    assert_eq!(access.take_out(1).unwrap().0.name.to_string(), "mate");
    for stream in streams {
        assert_eq!(stream.status(), 200);
        let ended = tokio::time::timeout(PATIENCE, stream.bytes()).await;
        ended.expect("the stream ends").unwrap();
    }
    for path in paths {
        assert_eq!(open(path, &mate).await.status(), 401);
    }
    room.tick(1.0);
    let more = tokio::time::timeout(PATIENCE, other.chunk()).await;
    assert!(more.unwrap().unwrap().is_some(), "others go on");
    room.shutdown.cancel();
}

#[tokio::test]
async fn every_answer_has_the_headers_that_keep_other_sites_out() {
    let boat = advice();
    for path in ["/", "/phone", "/v1/state", "/assets/sheet.css", "/nowhere"] {
        let answer = ask(&app(&boat), get_request(path)).await;
        let header = |name: &str| answer.headers[name].to_str().unwrap().to_owned();
        let policy = header("content-security-policy");
        for rule in [
            "default-src 'none'",
            "script-src 'self'",
            "frame-ancestors 'none'",
            "form-action 'none'",
            "base-uri 'none'",
        ] {
            assert!(policy.contains(rule), "{path}: {policy}");
        }
        assert!(!policy.contains("unsafe"), "{path}: {policy}");
        assert_eq!(header("x-content-type-options"), "nosniff", "{path}");
        assert_eq!(header("x-frame-options"), "DENY", "{path}");
        assert_eq!(header("referrer-policy"), "no-referrer", "{path}");
        assert_eq!(header("cross-origin-resource-policy"), "same-origin");
        let permissions = header("permissions-policy");
        for rule in ["camera=()", "microphone=()", "screen-wake-lock=(self)"] {
            assert!(permissions.contains(rule), "{path}: {permissions}");
        }
    }
}
