//! Log lines go to the journal when systemd runs us, else to standard error as plain text.
//! Standard output stays free for what a command prints.

use std::io::IsTerminal;

use tracing_subscriber::filter::{LevelFilter, Targets};
use tracing_subscriber::layer::SubscriberExt;
use tracing_subscriber::util::SubscriberInitExt;

/// Starts logging; `RUST_LOG` overrides the level by target (default: warnings, and our own at
/// info).
pub(super) fn start() {
    let usual = || {
        Targets::new()
            .with_default(LevelFilter::WARN)
            .with_target("skimwatch", LevelFilter::INFO)
    };
    let wanted = std::env::var("RUST_LOG").ok();
    let filter = wanted
        .filter(|words| !words.is_empty())
        .and_then(|words| words.parse().ok())
        .unwrap_or_else(usual);
    let registry = tracing_subscriber::registry().with(filter);
    // systemd sets this variable when standard error is connected to the journal.
    if std::env::var_os("JOURNAL_STREAM").is_some()
        && let Ok(journal) = tracing_journald::layer()
    {
        registry.with(journal).init();
        return;
    }
    registry
        .with(
            tracing_subscriber::fmt::layer()
                .with_writer(std::io::stderr)
                .with_ansi(std::io::stderr().is_terminal())
                .with_target(false),
        )
        .init();
}
