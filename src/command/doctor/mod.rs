//! `skimwatch doctor`: what somebody who helps from afar would ask, in lines that can be read out or
//! sent. It opens no feed, writes nothing, and tells neither secrets nor positions.

mod here;
mod running;

use std::path::{Path, PathBuf};

use axum::http::Method;
use clap::Args;
use serde::Serialize;
use serde_json::Value;

use super::daemon::{Daemon, reachable};
use super::{Failure, block_on, print_line};
use crate::settings::{self, Settings};
use crate::time::Millis;

/// Options of `doctor`.
#[derive(Debug, Args)]
pub(super) struct DoctorArguments {
    /// Settings file of the daemon.
    #[arg(
        long,
        value_name = "FILE",
        default_value = "/var/lib/skimwatch/skimwatch.toml"
    )]
    settings: PathBuf,
    /// One JSON object instead of lines.
    #[arg(long)]
    json: bool,
}

/// How a finding is to be taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
enum Verdict {
    Good,
    Note,
    Wrong,
}

/// One thing found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
struct Finding {
    about: &'static str,
    verdict: Verdict,
    words: String,
}

/// Everything found, in the order in which it is told.
#[derive(Debug, Default, Serialize)]
struct Findings {
    findings: Vec<Finding>,
}

impl Findings {
    fn add(&mut self, about: &'static str, verdict: Verdict, words: impl Into<String>) {
        self.findings.push(Finding {
            about,
            verdict,
            words: words.into(),
        });
    }

    fn good(&mut self, about: &'static str, words: impl Into<String>) {
        self.add(about, Verdict::Good, words);
    }

    fn note(&mut self, about: &'static str, words: impl Into<String>) {
        self.add(about, Verdict::Note, words);
    }

    fn wrong(&mut self, about: &'static str, words: impl Into<String>) {
        self.add(about, Verdict::Wrong, words);
    }

    fn count_wrong(&self) -> usize {
        let wrong = |finding: &&Finding| finding.verdict == Verdict::Wrong;
        self.findings.iter().filter(wrong).count()
    }

    fn lines(&self) -> String {
        let line = |finding: &Finding| {
            let mark = match finding.verdict {
                Verdict::Good => "  ok ",
                Verdict::Note => "note ",
                Verdict::Wrong => "WRONG",
            };
            format!("{mark}  {:<11}  {}", finding.about, finding.words)
        };
        let lines: Vec<_> = self.findings.iter().map(line).collect();
        lines.join("\n")
    }
}

pub(super) fn doctor(arguments: &DoctorArguments) -> Result<(), Failure> {
    let mut findings = Findings::default();
    findings.good(
        "version",
        format!(
            "skimwatch {} for {} {}",
            env!("CARGO_PKG_VERSION"),
            std::env::consts::ARCH,
            std::env::consts::OS
        ),
    );
    let now = Millis(chrono::Utc::now().timestamp_millis());
    here::clock(&mut findings, now);
    let path = arguments.settings.as_path();
    let read = settings::load(path);
    match &read {
        Ok(settings) => look(&mut findings, settings, path, now)?,
        Err(why) => {
            for line in why.to_string().lines() {
                findings.wrong("settings", line);
            }
        }
    }
    here::log(&mut findings);
    print_line(&if arguments.json {
        serde_json::to_string_pretty(&findings).map_err(Failure::fault)?
    } else {
        findings.lines()
    })?;
    match (read, findings.count_wrong()) {
        (Err(_), _) => Err(Failure::settings("the settings are wrong")),
        (_, 0) => Ok(()),
        (_, wrong) => Err(Failure::unavailable(format!("{wrong} of these are wrong"))),
    }
}

/// What sound settings lead to.
fn look(
    findings: &mut Findings,
    settings: &Settings,
    path: &Path,
    now: Millis,
) -> Result<(), Failure> {
    findings.good("settings", format!("{} are sound", path.display()));
    for note in settings.notes() {
        findings.note("settings", note);
    }
    here::devices(findings, settings);
    here::disk(findings, settings, path);
    here::addresses(findings, &settings.serve);
    here::certificate(findings, settings, path, now);
    let daemon = Daemon::new(settings, path).unwrap_or_else(|why| {
        findings.note("daemon", why.to_string());
        Daemon::at(reachable(settings.serve.bind))
    });
    let ask = async |path| daemon.demand(Method::GET, path, None).await;
    let (state, phones) = block_on(async {
        let state = ask("/v1/state").await;
        let locked = settings.serve.locks(settings.serve.bind).touch;
        let phones = match &state {
            Ok(_) if locked => Some(ask("/v1/phones").await),
            _ => None,
        };
        (state, phones)
    })?;
    match state {
        Ok(state) if state["version"].is_string() => running::look(findings, &state, now),
        Ok(_) => findings.wrong(
            "daemon",
            format!("what answers at {} is not skimwatch", daemon.address),
        ),
        Err(why) => findings.wrong("daemon", why.to_string()),
    }
    touch(findings, phones);
    Ok(())
}

/// Who may change anything.
fn touch(findings: &mut Findings, phones: Option<Result<Value, Failure>>) {
    const ABOUT: &str = "may touch";
    match phones {
        None => {}
        Some(Err(why)) => findings.note(ABOUT, why.to_string()),
        Some(Ok(phones)) => {
            let phones = phones.as_array().map(Vec::as_slice).unwrap_or_default();
            let keepers = phones.iter().filter(|phone| phone["role"] == "keeper");
            match (phones.len(), keepers.count()) {
                (0, _) => findings.note(
                    ABOUT,
                    "no phone has joined: the log shows the first code, or `skimwatch crew invite \
                     --keeper`",
                ),
                (all, 0) => findings.note(ABOUT, format!("phones: {all}, none of them a keeper")),
                (all, keepers) => {
                    findings.good(
                        ABOUT,
                        format!("phones: {all}, keepers among them: {keepers}"),
                    );
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn lines_say_what_is_wrong_and_json_the_same() {
        let mut findings = Findings::default();
        findings.good("clock", "right");
        findings.note("settings", "assumed");
        findings.wrong("daemon", "none");
        assert_eq!(
            findings.lines(),
            "  ok   clock        right\nnote   settings     assumed\nWRONG  daemon       none"
        );
        assert_eq!(findings.count_wrong(), 1);
        assert_eq!(
            serde_json::to_value(&findings).unwrap()["findings"][2],
            json!({"about": "daemon", "verdict": "wrong", "words": "none"})
        );
    }

    #[test]
    fn phones_are_counted_and_not_named() {
        let mut findings = Findings::default();
        let phones = json!([
            {"name": "tablet", "role": "keeper"}, {"name": "mate's phone", "role": "crew"}
        ]);
        touch(&mut findings, Some(Ok(phones)));
        touch(&mut findings, Some(Ok(json!([]))));
        assert_eq!(
            findings.findings[0].words,
            "phones: 2, keepers among them: 1"
        );
        assert_eq!(findings.findings[1].verdict, Verdict::Note);
    }
}
