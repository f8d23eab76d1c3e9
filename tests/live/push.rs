//! A device that is told by posts: it fails, hangs, is off, and comes back.

use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicU16, Ordering};

use axum::Router;
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode};
use axum::routing::post;
use serde_json::Value;
use skimwatch::advice::{Advisory, AlertState, Priority};
use skimwatch::engine::Snapshot;
use skimwatch::push::Outlets;
use skimwatch::serve::{OutletKind, OutletNow, OutletState};
use skimwatch::settings::{Aboard, MqttSettings, WebhookSettings};
use tokio::net::TcpListener;
use tokio::sync::{mpsc, watch};
use tokio::time::timeout;
use tokio_util::sync::CancellationToken;

use crate::PATIENCE;
use crate::invented::{START, moment, will_fly};

/// A device that is told: it answers what it is set to, or not at all.
struct Device {
    address: SocketAddr,
    heard: mpsc::UnboundedReceiver<(HeaderMap, Value)>,
    answers: Arc<AtomicU16>,
}

/// What a device is set to that takes a post and never answers.
const HANGS: u16 = 0;

#[derive(Clone)]
struct Desk {
    heard: mpsc::UnboundedSender<(HeaderMap, Value)>,
    answers: Arc<AtomicU16>,
}

async fn take(State(desk): State<Desk>, headers: HeaderMap, body: String) -> StatusCode {
    desk.heard
        .send((headers, serde_json::from_str(&body).unwrap()))
        .unwrap();
    match desk.answers.load(Ordering::SeqCst) {
        HANGS => std::future::pending().await,
        status => StatusCode::from_u16(status).unwrap(),
    }
}

impl Device {
    async fn at(address: &str, answers: u16) -> Self {
        let listener = TcpListener::bind(address).await.unwrap();
        let address = listener.local_addr().unwrap();
        let (to, heard) = mpsc::unbounded_channel();
        let answers = Arc::new(AtomicU16::new(answers));
        let desk = Desk {
            heard: to,
            answers: Arc::clone(&answers),
        };
        let app = Router::new().route("/told", post(take)).with_state(desk);
        tokio::spawn(async move { axum::serve(listener, app).await });
        Self {
            address,
            heard,
            answers,
        }
    }

    async fn hears(&mut self) -> (HeaderMap, Value) {
        let heard = timeout(PATIENCE, self.heard.recv()).await;
        heard.expect("a post").unwrap()
    }

    /// The first post with this revision.
    async fn hears_revision(&mut self, revision: u64) -> Value {
        loop {
            let (_, told) = self.hears().await;
            if told["revision"] == revision {
                return told;
            }
        }
    }

    fn settings(&self) -> WebhookSettings {
        webhook(self.address)
    }
}

fn aboard(address: SocketAddr) -> Aboard {
    Aboard {
        host: address.ip().to_string(),
        port: address.port(),
    }
}

fn webhook(address: SocketAddr) -> WebhookSettings {
    WebhookSettings {
        to: aboard(address),
        path: "/told".to_owned(),
        secret_file: None,
    }
}

pub(crate) fn flying(revision: u32) -> Advisory {
    let advisory = will_fly(START, Priority::Warning, AlertState::ActiveUnacknowledged);
    Advisory {
        revision,
        ..advisory
    }
}

/// A picture some seconds after the start with these advisories.
fn picture(after_s: f64, advisories: Vec<Advisory>) -> Arc<Snapshot> {
    let moment = moment("calm", START.plus_seconds(after_s));
    Arc::new(Snapshot {
        advisories,
        lag_s: 0.0,
        ..moment
    })
}

/// Pictures, and those who are told of them.
pub(crate) struct Boat {
    pictures: watch::Sender<Arc<Snapshot>>,
    pub(crate) outlets: Outlets,
    pub(crate) shutdown: CancellationToken,
}

impl Boat {
    pub(crate) fn new(webhook: Option<&WebhookSettings>, mqtt: Option<&MqttSettings>) -> Self {
        let (pictures, snapshot) = watch::channel(picture(0.0, Vec::new()));
        let shutdown = CancellationToken::new();
        let outlets = Outlets::start(webhook, mqtt, &snapshot, &shutdown);
        Self {
            pictures,
            outlets,
            shutdown,
        }
    }

    pub(crate) fn shows(&self, after_s: f64, advisories: Vec<Advisory>) {
        self.pictures.send_replace(picture(after_s, advisories));
    }

    /// How it goes, once that is so.
    pub(crate) async fn reports(&mut self, is_so: impl FnMut(&OutletNow) -> bool) -> OutletNow {
        let report = &mut self.outlets.reports[0];
        let now = timeout(PATIENCE, report.wait_for(is_so)).await;
        now.expect("a report").unwrap().clone()
    }
}

#[tokio::test]
async fn a_device_is_told_of_each_revision_once() {
    let mut device = Device::at("127.0.0.1:0", 204).await;
    let dir = tempfile::tempdir().unwrap();
    let secret_file = dir.path().join("secret");
    std::fs::write(&secret_file, "only-the-boat-knows\n").unwrap();
    let settings = WebhookSettings {
        secret_file: Some(secret_file),
        ..device.settings()
    };
    let mut boat = Boat::new(Some(&settings), None);
    boat.shows(1.0, Vec::new());
    let (headers, told) = device.hears().await;
    assert_eq!(headers["authorization"], "Bearer only-the-boat-knows");
    assert_eq!(headers["content-type"], "application/json");
    assert_eq!(headers["host"], device.address.to_string());
    assert_eq!(told["revision"], 1);
    assert_eq!(told["advisories"], serde_json::json!([]));
    assert_eq!(told["late"], false);
    // The same again is no revision; a change and an end are.
    boat.shows(2.0, Vec::new());
    boat.shows(3.0, vec![flying(1)]);
    let (_, told) = device.hears().await;
    assert_eq!(
        (&told["revision"], &told["at"]),
        (&2.into(), &START.plus_seconds(3.0).to_string().into())
    );
    assert_eq!(told["run_began_at"], START.plus_seconds(1.0).to_string());
    // The same words as in the API.
    assert_eq!(
        told["advisories"][0],
        serde_json::to_value(flying(1)).unwrap()
    );
    boat.reports(|now| now.sent == 2).await;
    boat.shows(4.0, vec![flying(2)]);
    assert_eq!(device.hears().await.1["advisories"][0]["revision"], 2);
    boat.reports(|now| now.sent == 3).await;
    boat.shows(5.0, Vec::new());
    assert_eq!(device.hears().await.1["revision"], 4);
    let now = boat.reports(|now| now.sent == 4).await;
    assert_eq!(
        (now.kind, now.state),
        (OutletKind::Webhook, OutletState::Working)
    );
    assert_eq!((now.failed, now.skipped, now.cause), (0, 0, None));
    // Pictures that stop are a revision of their own.
    let late = device.hears_revision(5).await;
    assert_eq!(late["late"], true);
    assert!(late["age_s"].as_f64().unwrap() >= 3.0, "{late}");
    assert!(device.heard.try_recv().is_err());
    boat.shutdown.cancel();
}

#[tokio::test]
async fn after_trouble_only_what_is_so_now_is_told() {
    let mut device = Device::at("127.0.0.1:0", 500).await;
    let mut boat = Boat::new(Some(&device.settings()), None);
    boat.shows(1.0, vec![flying(1)]);
    device.hears_revision(1).await;
    let now = boat.reports(|now| now.state == OutletState::Failing).await;
    assert_eq!(
        now.cause.as_deref(),
        Some("it answers 500 Internal Server Error")
    );
    assert_eq!(now.failing_since, Some(START.plus_seconds(1.0)));
    boat.shows(2.0, vec![flying(2)]);
    boat.shows(3.0, vec![flying(3)]);
    boat.shows(4.0, vec![flying(4)]);
    // A device that hangs holds up nobody but its own post.
    device.answers.store(HANGS, Ordering::SeqCst);
    let now = boat
        .reports(|now| now.cause.as_deref() == Some("no answer within 5 s"))
        .await;
    assert_eq!(now.sent, 0);
    assert_eq!(now.failing_since, Some(START.plus_seconds(1.0)));
    boat.shows(60.0, vec![flying(5)]);
    device.answers.store(200, Ordering::SeqCst);
    let now = boat.reports(|now| now.sent == 1).await;
    assert!(now.failed >= 2 && now.skipped >= 2, "{now:?}");
    assert_eq!((now.state, now.cause), (OutletState::Working, None));
    assert_eq!(now.failing_since, None);
    let mut last = 0;
    while let Ok((_, told)) = device.heard.try_recv() {
        let revision = told["revision"].as_u64().unwrap();
        assert!(revision >= last, "{revision} after {last}");
        last = revision;
        if told["advisories"][0]["revision"] == 5 {
            assert!(told["age_s"].as_f64().unwrap() < 30.0, "{told}");
        }
    }
    boat.shutdown.cancel();
}

#[tokio::test]
async fn a_device_that_is_off_is_found_when_it_comes() {
    // A port that is free again.
    let address = Device::at("127.0.0.1:0", 200).await.address;
    let gone = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let free = gone.local_addr().unwrap();
    drop(gone);
    assert_ne!(address, free);
    let mut boat = Boat::new(Some(&webhook(free)), None);
    boat.shows(1.0, vec![flying(1)]);
    let now = boat.reports(|now| now.failed >= 2).await;
    assert!(now.cause.unwrap().contains("is the device on?"));
    let mut device = Device::at(&free.to_string(), 200).await;
    let told = device.hears_revision(1).await;
    assert!(told["age_s"].as_f64().unwrap() > 0.2, "{told}");
    boat.reports(|now| now.sent == 1).await;
    // Something that does not speak HTTP.
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let mut boat = Boat::new(Some(&webhook(listener.local_addr().unwrap())), None);
    tokio::spawn(async move {
        while let Ok((stream, _)) = listener.accept().await {
            let _ = stream.try_write(b"SSH-2.0-x\r\n");
        }
    });
    boat.shows(1.0, Vec::new());
    let now = boat.reports(|now| now.failed >= 1).await;
    assert!(now.cause.unwrap().contains("does it speak HTTP?"));
}

#[tokio::test]
async fn a_secret_is_never_told() {
    let device = Device::at("127.0.0.1:0", 200).await;
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("secret");
    let settings = WebhookSettings {
        secret_file: Some(file.clone()),
        ..device.settings()
    };
    let mut boat = Boat::new(Some(&settings), None);
    boat.shows(1.0, Vec::new());
    let cause = boat.reports(|now| now.failed >= 1).await.cause.unwrap();
    assert!(cause.contains("cannot be read"), "{cause}");
    std::fs::write(&file, "hush hush\n").unwrap();
    let wrong = |now: &OutletNow| {
        now.cause
            .as_ref()
            .is_some_and(|cause| cause.contains("1 line"))
    };
    let cause = boat.reports(wrong).await.cause.unwrap();
    assert!(!cause.contains("hush"), "{cause}");
    // Cured without a restart.
    std::fs::write(&file, "hush\n").unwrap();
    boat.reports(|now| now.sent == 1).await;
    assert!(!format!("{:?}", boat.outlets).contains("hush"));
}

#[tokio::test]
async fn a_name_that_leads_off_the_boat_is_refused() {
    // An address that a host file gives a name would need rights here; one in numbers is looked up
    // the same way (RFC 5737).
    let settings = WebhookSettings {
        to: Aboard {
            host: "203.0.113.7".to_owned(),
            port: 80,
        },
        path: "/".to_owned(),
        secret_file: None,
    };
    let mut boat = Boat::new(Some(&settings), None);
    boat.shows(1.0, Vec::new());
    let cause = boat.reports(|now| now.failed >= 1).await.cause.unwrap();
    assert!(
        cause.contains("203.0.113.7, which is not on the boat's own network"),
        "{cause}"
    );
}
