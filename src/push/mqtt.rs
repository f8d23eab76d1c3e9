//! Messages to one broker.

use std::sync::Arc;
use std::time::Duration;

use rumqttc::{
    AsyncClient, ConnectReturnCode, ConnectionError, Event, EventLoop, LastWill, MqttOptions,
    NetworkOptions, Packet, QoS,
};
use tokio::sync::{mpsc, watch};
use tokio::time::{Instant, sleep_until, timeout};
use tokio_util::sync::CancellationToken;
use tokio_util::task::AbortOnDropHandle;

use super::living::Revisions;
use super::report::Report;
use super::{place, secret};
use crate::engine::Snapshot;
use crate::feed::Backoff;
use crate::serve::NumbersTold;
use crate::settings::MqttSettings;

/// Longest wait for a connection, and for the broker to take a message.
const PATIENCE: Duration = Duration::from_secs(5);
/// Longest pause between two tries.
const LONGEST: Duration = Duration::from_secs(10);
/// Silence after which broker and client ask each other; the last will comes half as late again.
const KEEP_ALIVE: Duration = Duration::from_secs(10);
/// Longest message: many advisories, each with all its words.
const LARGEST_BYTES: usize = 256 * 1024;
/// Longest that anything the broker sends may be: no more than it answers.
const LARGEST_ANSWER_BYTES: usize = 4096;

const ONLINE: &str = "online";
const LATE: &str = "late";
const OFFLINE: &str = "offline";

/// Answers that may wait; one message is under way at a time.
const ANSWERS: usize = 4;

/// What a message is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Topic {
    Availability,
    Advisories,
    Numbers,
}

impl Topic {
    fn name(self, prefix: &str) -> String {
        let name = match self {
            Self::Availability => "availability",
            Self::Advisories => "advisories",
            Self::Numbers => "numbers",
        };
        format!("{prefix}/{name}")
    }
}

/// Publishes until shutdown.
#[derive(Debug)]
pub(super) struct Publisher {
    settings: MqttSettings,
    revisions: Revisions,
    snapshot: watch::Receiver<Arc<Snapshot>>,
    report: Report,
}

impl Publisher {
    pub fn new(
        settings: MqttSettings,
        revisions: Revisions,
        snapshot: watch::Receiver<Arc<Snapshot>>,
        report: Report,
    ) -> Self {
        Self {
            settings,
            revisions,
            snapshot,
            report,
        }
    }

    pub async fn run(mut self, shutdown: CancellationToken) {
        let mut backoff = Backoff::new(LONGEST);
        // Before the first picture there is nothing to tell.
        let has_begun = self.revisions.wait_for(Option::is_some).await.map(drop);
        while has_begun.is_ok() {
            let why = match open(&self.settings, "").await {
                Ok((client, events)) => {
                    let (was_in, why) = self.session(client, events, &shutdown).await;
                    if was_in {
                        backoff.reset();
                    }
                    why
                }
                Err(why) => why,
            };
            if shutdown.is_cancelled() {
                return;
            }
            self.report.failed(why);
            let pausing = tokio::time::sleep(backoff.pause());
            if shutdown.run_until_cancelled(pausing).await.is_none() {
                return;
            }
        }
    }
}

/// What the broker has said.
#[derive(Debug)]
enum Heard {
    Connected,
    Taken,
}

/// What the broker has been told in this session.
#[derive(Debug)]
struct Told {
    availability: Option<&'static str>,
    revision: Option<u64>,
    /// Whether a picture came since the last message with numbers.
    has_news: bool,
    /// When the last picture came.
    picture_at: Instant,
    /// When numbers may be told.
    numbers_from: Instant,
}

impl Publisher {
    /// Publishes until that fails or is to end; gives whether the broker had let us in, and why it
    /// ended.
    async fn session(
        &mut self,
        client: AsyncClient,
        events: EventLoop,
        shutdown: &CancellationToken,
    ) -> (bool, String) {
        let (to_us, mut heard) = mpsc::channel(ANSWERS);
        // Its own task: whatever a broker sends that the client does not expect ends only that.
        let mut listening = AbortOnDropHandle::new(tokio::spawn(listen(events, to_us)));
        let mut is_in = false;
        let why = tokio::select! {
            ended = &mut listening => {
                ended.unwrap_or_else(|why| format!("what it sends is not understood ({why})"))
            }
            why = self.tell(&client, &mut heard, &mut is_in, shutdown) => why,
        };
        (is_in, why)
    }

    async fn tell(
        &mut self,
        client: &AsyncClient,
        heard: &mut mpsc::Receiver<Heard>,
        is_in: &mut bool,
        shutdown: &CancellationToken,
    ) -> String {
        if !matches!(heard.recv().await, Some(Heard::Connected)) {
            return until_it_ends().await;
        }
        *is_in = true;
        let now = Instant::now();
        let mut told = Told {
            availability: None,
            revision: None,
            has_news: true,
            picture_at: now,
            numbers_from: now,
        };
        loop {
            let (topic, payload) = self.next(&mut told, shutdown).await;
            let is_last = payload == OFFLINE.as_bytes();
            let name = topic.name(&self.settings.prefix);
            if let Err(why) = client.publish(name, QoS::AtLeastOnce, true, payload).await {
                return why.to_string();
            }
            match timeout(PATIENCE, heard.recv()).await {
                Ok(Some(_)) => {}
                Ok(None) => return until_it_ends().await,
                Err(_) => return format!("it takes no message within {} s", PATIENCE.as_secs()),
            }
            if is_last {
                // Whether it hears that or not, it knows.
                let _ = client.disconnect().await;
                return until_it_ends().await;
            }
            if let (Topic::Advisories, Some(revision)) = (topic, told.revision) {
                self.report.sent(revision);
            }
        }
    }

    /// The next message that is due.
    async fn next(&mut self, told: &mut Told, shutdown: &CancellationToken) -> (Topic, Vec<u8>) {
        loop {
            if shutdown.is_cancelled() {
                return (Topic::Availability, OFFLINE.into());
            }
            if let Some(due) = self.due(told) {
                return due;
            }
            let numbers_from = told.numbers_from;
            tokio::select! {
                () = shutdown.cancelled() => {}
                Ok(()) = self.revisions.changed() => {}
                Ok(()) = self.snapshot.changed() => {
                    told.has_news = true;
                    told.picture_at = Instant::now();
                }
                () = sleep_until(numbers_from), if told.has_news => {}
            }
        }
    }

    /// The message that is due now. What is so is told before that we are there to tell it.
    fn due(&mut self, told: &mut Told) -> Option<(Topic, Vec<u8>)> {
        let revision = self.revisions.borrow_and_update().clone()?;
        if told.revision != Some(revision.number()) {
            told.revision = Some(revision.number());
            return Some((Topic::Advisories, json(&revision.now())));
        }
        let availability = if revision.is_late() { LATE } else { ONLINE };
        if told.availability != Some(availability) {
            told.availability = Some(availability);
            told.has_news = true;
            return Some((Topic::Availability, availability.into()));
        }
        let now = Instant::now();
        if told.has_news && told.numbers_from <= now {
            told.has_news = false;
            told.numbers_from = now + Duration::from_secs_f64(self.settings.numbers_s);
            let snapshot = Arc::clone(&self.snapshot.borrow_and_update());
            let lag_s = snapshot.lag_s + told.picture_at.elapsed().as_secs_f64();
            return Some((Topic::Numbers, json(&NumbersTold::new(&snapshot, lag_s))));
        }
        None
    }
}

/// The end of a session is told by whoever listens.
async fn until_it_ends<T>() -> T {
    std::future::pending().await
}

fn json(told: &impl serde::Serialize) -> Vec<u8> {
    // Numbers and texts: nothing that JSON could not hold.
    serde_json::to_vec(told).unwrap_or_default()
}

/// Keeps the connection going until it fails; gives why. Of what the broker sends only its answers
/// count.
async fn listen(mut events: EventLoop, to: mpsc::Sender<Heard>) -> String {
    loop {
        let heard = match events.poll().await {
            Ok(Event::Incoming(Packet::ConnAck(_))) => Heard::Connected,
            Ok(Event::Incoming(Packet::PubAck(_))) => Heard::Taken,
            Ok(_) => continue,
            Err(why) => return words(why),
        };
        // There is room: it answers only what it was sent, one at a time.
        let _ = to.try_send(heard);
    }
}

fn words(why: ConnectionError) -> String {
    match why {
        ConnectionError::ConnectionRefused(
            ConnectReturnCode::BadUserNamePassword | ConnectReturnCode::NotAuthorized,
        ) => "it refuses user and password: put those that it knows into login_file".to_owned(),
        ConnectionError::ConnectionRefused(code) => format!("it refuses the connection ({code:?})"),
        ConnectionError::NetworkTimeout | ConnectionError::FlushTimeout => {
            format!("no answer within {} s", PATIENCE.as_secs())
        }
        other => format!("the connection failed ({other}): does the broker run there?"),
    }
}

/// A client for the broker as it is found now, not yet connected.
async fn open(
    settings: &MqttSettings,
    id_ending: &str,
) -> Result<(AsyncClient, EventLoop), String> {
    let address = match timeout(PATIENCE, place::find(&settings.broker)).await {
        Ok(found) => found?,
        Err(_) => return Err("the look-up of its name takes too long".to_owned()),
    };
    let id = settings.prefix.replace('/', "-") + id_ending;
    // The client puts host and port together again: an IPv6 address needs its brackets.
    let address_text = address.to_string();
    let (host, _) = address_text.rsplit_once(':').unwrap_or((&address_text, ""));
    let mut options = MqttOptions::new(id, host, address.port());
    options
        .set_keep_alive(KEEP_ALIVE)
        .set_max_packet_size(LARGEST_ANSWER_BYTES, LARGEST_BYTES);
    if let Some(path) = &settings.login_file {
        let [user, password] = secret::lines(path, ["the user", "the password"]).await?;
        options.set_credentials(user, password);
    }
    let is_ours = id_ending.is_empty();
    if is_ours {
        let topic = Topic::Availability.name(&settings.prefix);
        options.set_last_will(LastWill::new(topic, OFFLINE, QoS::AtLeastOnce, true));
    }
    let (client, mut events) = AsyncClient::new(options, 1);
    let mut network = NetworkOptions::new();
    network.set_connection_timeout(PATIENCE.as_secs());
    events.set_network_options(network);
    Ok((client, events))
}

/// Whether the broker lets us in. Nothing is published.
///
/// # Errors
/// Why not.
pub async fn try_out(settings: &MqttSettings) -> Result<(), String> {
    let (client, mut events) = open(settings, "-check").await?;
    events.poll().await.map_err(words)?;
    // Whether that arrives or not: we are gone.
    let _ = client.disconnect().await;
    let _ = timeout(PATIENCE, events.poll()).await;
    Ok(())
}
