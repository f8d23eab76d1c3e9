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
use crate::tls::{Names, PageCertificate, TlsError};

/// No computer that runs this is set to a moment before this one, the beginning of 2025.
const EARLIEST: Millis = Millis(1_735_689_600_000);
/// Days before the end of a certificate from which it is to be renewed.
const RENEW_DAYS: f64 = 21.0;
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

/// With which certificate the pages are encrypted, whom it names and until when it holds.
pub(super) fn certificate(findings: &mut Findings, settings: &Settings, path: &Path, now: Millis) {
    const ABOUT: &str = "tls";
    let serve = &settings.serve;
    match &serve.tls {
        Tls::Off if serve.bind.ip().is_loopback() => {
            return findings.good(ABOUT, "off, for this computer alone");
        }
        Tls::Off => {
            return findings.note(
                ABOUT,
                "off: whoever is on the Wi-Fi can read along; tls in [serve] encrypts",
            );
        }
        Tls::Files { .. } | Tls::Local => {}
    }
    let asked = Names::new(
        &serve.mdns_name,
        &serve.names,
        own_addresses(serve.bind.ip()),
    );
    match PageCertificate::look(&serve.tls, &settings.tls_file(path), &asked) {
        Ok(Some(found)) => one_certificate(findings, &found, now),
        Ok(None) => findings.note(ABOUT, "the daemon makes its certificate when it starts"),
        Err(why @ TlsError::Hidden { .. }) => findings.note(ABOUT, why.to_string()),
        Err(why) => findings.wrong(ABOUT, why.to_string()),
    }
}

fn one_certificate(findings: &mut Findings, found: &PageCertificate, now: Millis) {
    const ABOUT: &str = "tls";
    let words = format!(
        "certificate for {}, until {}",
        found.names.join(" "),
        found.until
    );
    let days_left = found.until.seconds_since(now) / 86_400.0;
    if now < found.from {
        let words = format!(
            "{words}, but only from {}: is this computer's clock right?",
            found.from
        );
        findings.wrong(ABOUT, words);
    } else if days_left <= 0.0 {
        findings.wrong(
            ABOUT,
            format!("{words}: it is over, and phones warn of it. Put a new one there"),
        );
    } else if days_left < RENEW_DAYS {
        findings.note(ABOUT, format!("{words}: {days_left:.0} days are left"));
    } else {
        findings.good(ABOUT, words);
    }
    if !found.leaves_out.is_empty() {
        findings.note(
            ABOUT,
            format!(
                "it does not name {}: phones that ask there are warned",
                found.leaves_out.join(" ")
            ),
        );
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

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::*;

    #[test]
    fn a_certificate_is_judged_by_its_days_and_its_names() {
        const DAY_S: f64 = 86_400.0;
        // 2026-03-14T10:00:00Z, invented.
        let from = Millis(1_773_482_400_000);
        let found = PageCertificate {
            names: vec!["skiff.local".to_owned()],
            leaves_out: Vec::new(),
            from,
            until: from.plus_seconds(100.0 * DAY_S),
        };
        let told = |after_days: f64, found: &PageCertificate| {
            let mut findings = Findings::default();
            let now = from.plus_seconds(after_days * DAY_S);
            one_certificate(&mut findings, found, now);
            findings.findings
        };
        for (after_days, verdict, words) in [
            (50.0, Verdict::Good, "skiff.local, until 2026-06-22"),
            (80.0, Verdict::Note, "20 days are left"),
            (100.5, Verdict::Wrong, "it is over"),
            (-0.5, Verdict::Wrong, "is this computer's clock right?"),
        ] {
            let told = told(after_days, &found);
            assert_eq!(told.len(), 1, "{told:?}");
            assert_eq!(told[0].verdict, verdict);
            assert!(told[0].words.contains(words), "{}", told[0].words);
        }
        let narrow = PageCertificate {
            leaves_out: vec!["table.lan".to_owned()],
            ..found
        };
        let told = told(50.0, &narrow);
        assert_eq!(told[1].verdict, Verdict::Note);
        assert!(told[1].words.contains("does not name table.lan:"));
    }
}
