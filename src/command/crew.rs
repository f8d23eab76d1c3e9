//! `skimwatch crew`: lets phones in and takes them out, through the daemon that runs.

use std::path::PathBuf;

use axum::http::Method;
use clap::{Args, Subcommand};
use serde_json::{Value, json};

use super::daemon::Daemon;
use super::{Failure, block_on, print_line};
use crate::access::Role;
use crate::settings;

/// What to do with phones.
#[derive(Debug, Subcommand)]
pub(super) enum CrewCommand {
    /// Prints a code with which one phone joins, good for ten minutes.
    #[command(
        after_help = "Example:\n  sudo skimwatch crew invite --settings /var/lib/skimwatch/skimwatch.toml"
    )]
    Invite {
        #[command(flatten)]
        of: Of,
        /// The phone becomes a keeper: it may also change settings, and let phones in and take them
        /// out.
        #[arg(long)]
        keeper: bool,
    },
    /// Lists the phones that have joined.
    List {
        #[command(flatten)]
        of: Of,
    },
    /// Takes a phone out, at once.
    #[command(
        after_help = "Example:\n  sudo skimwatch crew revoke 3 --settings /var/lib/skimwatch/skimwatch.toml"
    )]
    Revoke {
        /// Its number in the list.
        #[arg(value_name = "NUMBER")]
        number: u32,
        #[command(flatten)]
        of: Of,
    },
}

/// Which daemon.
#[derive(Debug, Args)]
pub(super) struct Of {
    /// Settings file of the daemon that runs.
    #[arg(long, value_name = "FILE")]
    settings: PathBuf,
}

impl Of {
    fn ask(&self, method: Method, path: &str, body: Option<&Value>) -> Result<Value, Failure> {
        let settings = settings::load(&self.settings).map_err(Failure::settings)?;
        let daemon = Daemon::new(&settings, &self.settings)?;
        block_on(daemon.demand(method, path, body))?
    }
}

pub(super) fn crew(command: &CrewCommand) -> Result<(), Failure> {
    match command {
        CrewCommand::Invite { of, keeper } => {
            let role = if *keeper { Role::Keeper } else { Role::Crew };
            let body = json!({ "role": role });
            let invited = of.ask(Method::POST, "/v1/phones/invite", Some(&body))?;
            print_line(&format!(
                "code {}, good for one {} phone and {} minutes: enter it at /phone on that phone",
                in_fours(invited["code"].as_str().unwrap_or_default()),
                role.word(),
                invited["good_for_s"].as_u64().unwrap_or_default() / 60
            ))
        }
        CrewCommand::List { of } => {
            let phones = of.ask(Method::GET, "/v1/phones", None)?;
            let phones = phones.as_array().map(Vec::as_slice).unwrap_or_default();
            if phones.is_empty() {
                return print_line("no phone has joined");
            }
            for phone in phones {
                let text = |member: &str| phone[member].as_str().unwrap_or_default().to_owned();
                print_line(&format!(
                    "{:>3}  {:<24}  {:<6}  joined {}",
                    phone["number"],
                    text("name"),
                    text("role"),
                    text("joined_at")
                ))?;
            }
            Ok(())
        }
        CrewCommand::Revoke { number, of } => {
            let path = format!("/v1/phones/{number}");
            let out = of.ask(Method::DELETE, &path, None)?;
            let name = out["phone"]["name"].as_str().unwrap_or_default();
            let kept = if out["kept"] == "disk" {
                ""
            } else {
                "; the disk did not take it yet: a restart now would bring it back"
            };
            print_line(&format!("{name} is out{kept}"))
        }
    }
}

/// Digits as people read them out.
pub(super) fn in_fours(code: &str) -> String {
    let (first, second) = code.split_at_checked(4).unwrap_or((code, ""));
    format!("{first} {second}")
}
