//! What is found on this computer, whether or not a daemon runs.

use std::path::{Path, PathBuf};
use std::process::Command;

use super::Findings;
use crate::command::check::serial_devices;
use crate::command::join::{Pages, own_addresses};
use crate::feed::FeedSpec;
use crate::logbook::{LEAST_FREE, free_bytes};
use crate::settings::{ServeSettings, Settings, Tls};
use crate::time::Millis;

/// No computer that runs this is set to a moment before this one, the beginning of 2025.
const EARLIEST: Millis = Millis(1_735_689_600_000);
const MIB: u64 = 1024 * 1024;
/// Lines of the log that are shown.
const LOG_LINES: &str = "8";

pub(super) fn clock(findings: &mut Findings, now: Millis) {
    if now < EARLIEST {
        findings.wrong(
            "clock",
            format!("{now} by this computer, which is long past: set it, or let it hear the time"),
        );
    } else {
        findings.good("clock", format!("{now} by this computer"));
    }
}

/// Serial devices, and those of the settings that are not there.
pub(super) fn devices(findings: &mut Findings, settings: &Settings) {
    const ABOUT: &str = "devices";
    match serial_devices() {
        Ok(names) if names.is_empty() => findings.good(ABOUT, "no serial devices"),
        Ok(names) => findings.good(ABOUT, names.join(", ")),
        Err(why) => findings.note(ABOUT, format!("cannot list serial devices: {why}")),
    }
    for feed in &settings.feeds {
        if let FeedSpec::Serial { device, .. } = &feed.spec
            && !device.exists()
        {
            let device = device.display();
            findings.wrong(
                ABOUT,
                format!(
                    "{device} of feed {} is not there: is it plugged in?",
                    feed.name
                ),
            );
        }
    }
}

/// Room on the disks that are written to.
pub(super) fn disk(findings: &mut Findings, settings: &Settings, path: &Path) {
    let record = settings.record.as_ref().map(|record| record.dir());
    let logbook = settings.logbook_file(path);
    let mut dirs: Vec<PathBuf> = [record, logbook.parent(), path.parent()]
        .into_iter()
        .flatten()
        .map(Path::to_owned)
        .collect();
    dirs.sort();
    dirs.dedup();
    for dir in dirs {
        let name = dir.display();
        // One that the daemon makes is on the disk of the one above it.
        let there = dir.ancestors().find(|dir| dir.exists());
        match free_bytes(there.unwrap_or(Path::new("."))) {
            Ok(free) if free < LEAST_FREE => {
                findings.wrong("disk", format!("{name}: only {} MiB free", free / MIB));
            }
            Ok(free) => findings.good("disk", format!("{name}: {} MiB free", free / MIB)),
            Err(why) => findings.wrong("disk", format!("{name}: {why}")),
        }
    }
}

/// How a phone reaches the pages.
pub(super) fn addresses(findings: &mut Findings, serve: &ServeSettings) {
    const ABOUT: &str = "addresses";
    let (ip, port) = (serve.bind.ip(), serve.bind.port());
    let there = Pages {
        address: serve.bind,
        encrypted: serve.tls != Tls::Off,
    };
    if ip.is_loopback() {
        let words = format!(
            "{}, on this computer alone: see bind in [serve]",
            there.at(ip)
        );
        findings.note(ABOUT, words);
        return;
    }
    let pages: Vec<_> = own_addresses(ip)
        .into_iter()
        .map(|ip| there.at(ip))
        .collect();
    if pages.is_empty() {
        findings.wrong(ABOUT, "none that a phone could use: join the boat's Wi-Fi");
    } else {
        findings.good(ABOUT, pages.join(" "));
    }
    if !serve.mdns_name.is_empty() {
        findings.good(
            ABOUT,
            format!(
                "{}://{}.local:{port}/ by mDNS",
                there.scheme(),
                serve.mdns_name
            ),
        );
    }
    if !serve.locks(serve.bind).touch {
        findings.note("may touch", "everybody on this network");
    }
}

/// The last warnings and errors of the service, where the system keeps a journal of it.
pub(super) fn log(findings: &mut Findings) {
    const ABOUT: &str = "log";
    let journal = Command::new("journalctl")
        .args([
            "--quiet",
            "--no-pager",
            "--output=short-iso",
            "--no-hostname",
        ])
        .args([
            "--unit=skimwatch",
            "--priority=warning",
            "--lines",
            LOG_LINES,
        ])
        .output();
    match journal {
        Ok(output) if output.status.success() => {
            let text = String::from_utf8_lossy(&output.stdout);
            let mut lines = text.lines().peekable();
            if lines.peek().is_none() {
                findings.good(ABOUT, "no warnings that this user may read");
            }
            lines.for_each(|line| findings.note(ABOUT, line));
        }
        _ => findings.note(
            ABOUT,
            "no journal of the system: look where the daemon's log goes",
        ),
    }
}
