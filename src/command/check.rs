//! `skimwatch check`: are the settings right, can recordings and logbook be written, and what does
//! each feed send?

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::Args;
use tokio::sync::mpsc;
use tokio_util::sync::CancellationToken;

use super::Failure;
use super::rig::{self, DayArguments};
use crate::decode::Decoder;
use crate::feed::{self, Arrival, Feed};
use crate::logbook;
use crate::push;
use crate::record::{self, RecordSettings};
use crate::settings::{self, Settings, Tls};
use crate::tls::{Encryption, Names};

/// Options of `check`.
#[derive(Debug, Args)]
pub(super) struct CheckArguments {
    /// Settings file.
    #[arg(long, value_name = "FILE")]
    settings: PathBuf,
    /// How long to listen to the feeds, seconds; 0 checks the settings only, and writes nothing.
    #[arg(long, default_value_t = 5.0, value_name = "S", value_parser = listen_s)]
    listen: f64,
    /// The day for the check of today's rig.
    #[command(flatten)]
    day: DayArguments,
}

fn listen_s(text: &str) -> Result<f64, String> {
    super::number_within(text, 0.0, 3600.0, " seconds")
}

/// What one feed sent while we listened.
#[derive(Debug, Default)]
struct Heard {
    kinds: BTreeMap<String, (u64, &'static str)>,
    usable: u64,
}

/// Addresses that are listed one by one; those whose kind is read may be more.
const MOST_LISTED: usize = 64;
const MOST_READ: usize = 500;
/// Characters of an address that are shown.
const ADDRESS_CHARACTERS: usize = 16;

impl Heard {
    /// The row under which an address is counted.
    fn row(&self, address: &str) -> String {
        let address: String = address.chars().take(ADDRESS_CHARACTERS).collect();
        let most = if address.get(2..).is_some_and(crate::decode::reads) {
            MOST_READ
        } else {
            MOST_LISTED
        };
        if self.kinds.contains_key(&address) || self.kinds.len() < most {
            address
        } else {
            "other addresses".to_owned()
        }
    }
}

pub(super) fn check(arguments: &CheckArguments) -> Result<(), Failure> {
    let settings = settings::load(&arguments.settings).map_err(Failure::settings)?;
    println!("{}: settings are sound", arguments.settings.display());
    for note in settings.notes() {
        println!("  note: {note}");
    }
    println!("{}", rig::report(&settings, &arguments.day)?);
    list_serial_devices();
    if arguments.listen <= 0.0 {
        return Ok(());
    }
    let mut wrong = Vec::new();
    wrong.extend(try_recording(settings.record.as_ref()));
    wrong.extend(try_logbook(&settings, &arguments.settings));
    wrong.extend(try_certificate(&settings, &arguments.settings));
    wrong.extend(super::block_on(try_outlets(&settings))?);
    if !settings.feeds.is_empty() {
        println!(
            "listening to {} feed(s) for {} s ...",
            settings.feeds.len(),
            arguments.listen
        );
        let silent = super::block_on(listen(&settings.feeds, arguments.listen))?;
        if !silent.is_empty() {
            wrong.push(format!("nothing usable from: {}", silent.join(", ")));
        }
    }
    if wrong.is_empty() {
        Ok(())
    } else {
        Err(Failure::unavailable(wrong.join("\n")))
    }
}

/// Says whether recordings can be written, and gives what is wrong if not.
fn try_recording(settings: Option<&RecordSettings>) -> Option<String> {
    let Some(settings) = settings else {
        println!("recording: off, for there is no [record]");
        return None;
    };
    let dir = settings.dir().display();
    match record::try_out(settings) {
        Ok(()) => {
            println!("recording: {dir} can be written by the user of this check");
            None
        }
        Err(why) => {
            println!("recording: {why}");
            Some(format!("recordings cannot be written: {why}"))
        }
    }
}

/// Says whether the logbook can be written, and gives what is wrong if not.
fn try_logbook(settings: &Settings, path: &Path) -> Option<String> {
    const MIB: u64 = 1024 * 1024;
    let file = settings.logbook_file(path);
    match logbook::try_out(&file) {
        Ok(tried) => {
            let used_mib = tried.used_bytes.unwrap_or(0).div_ceil(MIB);
            let (free_mib, max_mib) = (tried.free_bytes / MIB, settings.logbook.max_mib);
            println!(
                "logbook: {} can be written by the user of this check; it holds {used_mib} MiB of at \
                 most {max_mib}, and {free_mib} MiB are free",
                file.display()
            );
            if max_mib > used_mib + free_mib {
                println!(
                    "  note: the disk is full before it is: lower max_mib in [logbook], or make room"
                );
            }
            None
        }
        Err(why) => {
            println!("logbook: {why}");
            Some(format!("the logbook cannot be written: {why}"))
        }
    }
}

/// Says whether the boat's own certificate fits its key, and gives what is wrong if not.
fn try_certificate(settings: &Settings, path: &Path) -> Option<String> {
    let tls = &settings.serve.tls;
    if !matches!(tls, Tls::Files { .. }) {
        return None;
    }
    let kept = settings.tls_file(path);
    match Encryption::open(tls, &kept, Names::default, CancellationToken::new()) {
        Ok(_) => {
            println!("tls: certificate and key can be read, and belong together");
            None
        }
        Err(why) => {
            println!("tls: {why}");
            Some(why.to_string())
        }
    }
}

/// Says whether other devices can be told, and gives what is wrong if not. Nothing is told yet.
async fn try_outlets(settings: &Settings) -> Vec<String> {
    let mut tried = Vec::new();
    if let Some(webhook) = &settings.webhook {
        tried.push(("webhook", &webhook.to, push::try_webhook(webhook).await));
    }
    if let Some(mqtt) = &settings.mqtt {
        tried.push(("mqtt", &mqtt.broker, push::try_broker(mqtt).await));
    }
    let mut wrong = Vec::new();
    for (section, to, outcome) in tried {
        match outcome {
            Ok(()) => println!("{section}: {to} can be reached"),
            Err(why) => {
                println!("{section}: {to}: {why}");
                wrong.push(format!("[{section}] {to}: {why}"));
            }
        }
    }
    wrong
}

/// Names of the serial devices of this computer.
pub(super) fn serial_devices() -> tokio_serial::Result<Vec<String>> {
    // Where the system keeps no list of them, as in a container without /sys, the library panics.
    if !Path::new("/sys/class/tty").is_dir() {
        return Ok(Vec::new());
    }
    let ports = tokio_serial::available_ports()?;
    Ok(ports.into_iter().map(|port| port.port_name).collect())
}

fn list_serial_devices() {
    match serial_devices() {
        Ok(names) if names.is_empty() => println!("serial devices: none found"),
        Ok(names) => {
            println!("serial devices:");
            for name in names {
                println!("  {name}");
            }
        }
        Err(error) => println!("serial devices: cannot list them: {error}"),
    }
}

async fn listen(feeds: &[Feed], seconds: f64) -> Vec<String> {
    let shutdown = CancellationToken::new();
    let (to_us, mut arrivals) = mpsc::channel::<Arrival>(1024);
    let handles: Vec<_> = feeds
        .iter()
        .map(|feed| feed::spawn(feed.clone(), to_us.clone(), shutdown.clone()))
        .collect();
    drop(to_us);
    let mut heard: BTreeMap<String, (Decoder, Heard)> = BTreeMap::new();
    let is_crew = |name: &str| {
        feeds
            .iter()
            .any(|feed| feed.crew && feed.name.as_str() == name)
    };
    let end = tokio::time::Instant::now() + Duration::from_secs_f64(seconds);
    while let Ok(Some(arrival)) = tokio::time::timeout_at(end, arrivals.recv()).await {
        let (decoder, heard) = heard.entry(arrival.feed.as_str().to_owned()).or_default();
        let verdict = match decoder.decode(&arrival.sentence.text) {
            Ok(decoded) if decoded.is_void() => "says nothing (empty or not valid)",
            Ok(decoded) if decoded.is_crew() && !is_crew(arrival.feed.as_str()) => {
                "refused (not-crew): if the crew speaks on this feed, set crew = true for it"
            }
            Ok(_) => {
                heard.usable += 1;
                "understood"
            }
            Err(reject) => reject.cause().words(),
        };
        let address = heard.row(arrival.sentence.address());
        let entry = heard.kinds.entry(address).or_insert((0, verdict));
        entry.0 += 1;
        entry.1 = verdict;
    }
    let mut silent = Vec::new();
    for handle in &handles {
        let name = handle.name.as_str();
        let report = handle.report.borrow().clone();
        let empty = (Decoder::default(), Heard::default());
        let (_, heard) = heard.get(name).unwrap_or(&empty);
        println!("feed {name}: {}", report.link);
        for (address, (count, verdict)) in &heard.kinds {
            println!(
                "  {address}: {:.1} a second, {verdict}",
                *count as f64 / seconds
            );
        }
        if report.counters.rejections() > 0 {
            let rejected: Vec<_> = report
                .counters
                .rejected
                .iter()
                .map(|(cause, count)| format!("{count} {}", cause.words()))
                .collect();
            println!(
                "  refused: {}; many of these point to a wrong baud rate or a noisy wire",
                rejected.join(", ")
            );
        }
        if heard.usable == 0 {
            silent.push(name.to_owned());
        }
    }
    shutdown.cancel();
    silent
}
