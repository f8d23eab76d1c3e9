//! The HTTP room as the page tests run it: fed with invented moments that tick in real time.

use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use skimwatch::access::Access;
use skimwatch::decode::CrewInput;
use skimwatch::engine::Snapshot;
use skimwatch::logbook::LogbookNow;
use skimwatch::record::RecordReport;
use skimwatch::serve::{self, OutletNow};
use skimwatch::time::Millis;
use tokio::net::TcpListener;
use tokio::sync::{mpsc, watch};
use tokio_util::sync::CancellationToken;

use crate::browser::{Browser, browser_found};
use crate::invented::{self, START, keeper, moment, stamper};

/// A room whose moment ticks each second.
pub struct Room {
    pub base: String,
    port: u16,
    /// What a tick shows: made from the name and changed by the test.
    scene: Arc<Mutex<Scene>>,
    tick: Arc<watch::Sender<Arc<Snapshot>>>,
    pub recorder: watch::Sender<RecordReport>,
    pub outlet: watch::Sender<OutletNow>,
    pub learnt_trouble: watch::Sender<Option<String>>,
    pub logbook: watch::Sender<LogbookNow>,
    pub said: mpsc::UnboundedReceiver<CrewInput>,
    shutdown: CancellationToken,
    ended: tokio::task::JoinHandle<()>,
}

type Change = Box<dyn Fn(&mut Snapshot) + Send>;

struct Scene {
    name: &'static str,
    change: Change,
    fresh: bool,
    /// Counts what is shown; the milliseconds of its time, so that a page can be asked for it.
    number: i64,
}

impl Room {
    /// Opens on a port: 0 for any, or the one it had before.
    pub async fn open(name: &'static str, port: u16) -> Self {
        Self::open_to(Access::open(), name, port).await
    }

    /// Opens to those who may.
    pub async fn open_to(access: Access, name: &'static str, port: u16) -> Self {
        let listener = TcpListener::bind(("127.0.0.1", port)).await.unwrap();
        let port = listener.local_addr().unwrap().port();
        let mut boat = invented::boat(moment(name, START));
        boat.sources.access = access;
        let (sender, said) = mpsc::unbounded_channel();
        tokio::spawn(stamper(boat.posts, sender));
        tokio::spawn(keeper(boat.changes, boat.set_up));
        let scene = Arc::new(Mutex::new(Scene {
            name,
            change: Box::new(|_| {}),
            fresh: true,
            number: 0,
        }));
        let shutdown = CancellationToken::new();
        let tick = Arc::new(boat.tick);
        let (ticking, ticks) = (Arc::clone(&scene), Arc::clone(&tick));
        let ticker_end = shutdown.clone();
        tokio::spawn(async move {
            let began = Instant::now();
            let mut second = tokio::time::interval(Duration::from_millis(100));
            let mut last = u64::MAX;
            loop {
                tokio::select! {
                    () = ticker_end.cancelled() => return,
                    _ = second.tick() => {}
                }
                let mut scene = ticking.lock().unwrap();
                let fresh = std::mem::take(&mut scene.fresh);
                let at_s = began.elapsed().as_secs();
                if fresh || at_s != last {
                    last = at_s;
                    // Each tick is a second; the invented troubles move with it and come again
                    // every 20 s.
                    let mut snapshot =
                        moment(scene.name, START.plus_seconds((at_s / 20 * 20) as f64));
                    let now = moment(scene.name, START.plus_seconds(at_s as f64));
                    snapshot.at = Millis(now.at.0 + scene.number);
                    snapshot.vessel = now.vessel;
                    snapshot.feeds = now.feeds;
                    (scene.change)(&mut snapshot);
                    ticks.send_replace(Arc::new(snapshot));
                }
            }
        });
        let settings = skimwatch::settings::ServeSettings::default();
        let token = shutdown.clone();
        let sources = boat.sources;
        let ended = tokio::spawn(async move {
            serve::run(listener, settings, sources, token).await;
        });
        Self {
            base: format!("http://127.0.0.1:{port}"),
            port,
            scene,
            tick,
            recorder: boat.recorder,
            outlet: boat.outlet,
            learnt_trouble: boat.learnt_trouble,
            logbook: boat.logbook,
            said,
            shutdown,
            ended,
        }
    }

    /// Shows another moment at once.
    pub fn show(&self, name: &'static str) {
        self.show_with(name, |_| {});
    }

    /// Shows another moment and waits until the page has it.
    pub async fn show_on(&self, browser: &Browser, name: &'static str) {
        self.show(name);
        self.is_on(browser).await;
    }

    /// Waits until the page has what is shown.
    pub async fn is_on(&self, browser: &Browser) {
        let number = self.scene.lock().unwrap().number;
        page_has(browser, |ms| ms % 1000 == number).await;
    }

    /// Waits until the next state has come to the page and all its parts.
    pub async fn ticks_on(&self, browser: &Browser) {
        let before = page_ms(browser).await;
        page_has(browser, |ms| Some(ms) > before).await;
    }

    /// Waits until so many seconds of the boat have passed, without asking the page.
    pub async fn passes(&self, seconds: f64) {
        let mut tick = self.tick.subscribe();
        let end = tick.borrow().at.plus_seconds(seconds);
        let passing = tick.wait_for(|now| now.at >= end);
        let patience = Duration::from_secs_f64(seconds + 20.0);
        let passed = tokio::time::timeout(patience, passing).await;
        passed.expect("the room ticks").unwrap();
    }

    /// Shows another moment with a change.
    pub fn show_with(&self, name: &'static str, change: impl Fn(&mut Snapshot) + Send + 'static) {
        let mut scene = self.scene.lock().unwrap();
        scene.name = name;
        scene.change = Box::new(change);
        scene.fresh = true;
        scene.number = (scene.number + 1) % 1000;
    }

    /// Sends a moment at once, not with the next tick; gives the Unix time of sending in
    /// milliseconds.
    pub fn show_now(
        &self,
        name: &'static str,
        change: impl Fn(&mut Snapshot) + Send + 'static,
    ) -> f64 {
        let mut scene = self.scene.lock().unwrap();
        scene.name = name;
        scene.change = Box::new(change);
        let mut snapshot = moment(name, self.tick.borrow().at);
        (scene.change)(&mut snapshot);
        let sent = SystemTime::now().duration_since(UNIX_EPOCH).unwrap();
        self.tick.send_replace(Arc::new(snapshot));
        sent.as_secs_f64() * 1000.0
    }

    /// The next thing the crew says.
    pub async fn hear(&mut self) -> CrewInput {
        tokio::time::timeout(Duration::from_secs(20), self.said.recv())
            .await
            .expect("the crew says something within 20 s")
            .unwrap()
    }

    /// Asserts that the console is quiet and that only our own host was asked.
    pub async fn assert_clean(&self, browser: &Browser) {
        let complaints = browser.complaints().await;
        assert!(complaints.is_empty(), "{complaints:#?}");
        assert_own_host(browser, &self.base).await;
    }

    /// Stops, as when the program ends; gives the port for opening again.
    pub async fn stop(self) -> u16 {
        self.shutdown.cancel();
        self.ended.await.unwrap();
        self.port
    }
}

/// Asserts that only our own host was asked.
pub async fn assert_own_host(browser: &Browser, base: &str) {
    let requested = browser.requested().await;
    assert!(!requested.is_empty(), "the network log is empty");
    let foreign: Vec<_> = requested
        .iter()
        .filter(|url| !url.starts_with(base) && !url.starts_with("data:") && *url != "about:blank")
        .collect();
    assert!(foreign.is_empty(), "{foreign:?}");
}

/// The time of the state that a page has, in milliseconds.
async fn page_ms(browser: &Browser) -> Option<i64> {
    let state = "return import('/assets/link.js').then(link => link.boat.state?.at_unix_ms)";
    browser.run(state).await.as_i64()
}

/// Waits until a page has a state of such a time.
async fn page_has(browser: &Browser, wanted: impl Fn(i64) -> bool) {
    let end = Instant::now() + Duration::from_secs(30);
    while !page_ms(browser).await.is_some_and(&wanted) {
        assert!(Instant::now() < end, "the state does not come to the page");
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
}

/// Holds in a page that hears its room.
pub const LIVE: &str = "document.documentElement.dataset.link === 'live'";

/// A room and a page of it, live, on a phone held upright; `None` (and said) without a browser.
pub async fn on_a_phone(name: &'static str, page: &str) -> Option<(Room, Browser)> {
    if !browser_found() {
        return None;
    }
    let room = Room::open(name, 0).await;
    let browser = Browser::start().await;
    browser.screen(390, 844).await;
    browser.open(&format!("{}{page}", room.base)).await;
    browser.wait(LIVE).await;
    Some((room, browser))
}
