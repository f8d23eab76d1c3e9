//! Recorded logs for the commands that replay them.

use std::fs::File;
use std::io::IsTerminal;
use std::path::PathBuf;
use std::sync::Arc;

use indicatif::{ProgressBar, ProgressStyle};

use super::Failure;
use crate::drive::LogLine;
use crate::feed::FrameSettings;
use crate::record::LogReader;

/// A log that could be opened.
pub(super) struct Log {
    pub(super) name: Arc<str>,
    pub(super) bytes: u64,
    reader: LogReader<File>,
}

pub(super) fn open_logs(paths: &[PathBuf]) -> Result<Vec<Log>, Failure> {
    paths
        .iter()
        .map(|path| {
            let cannot = |error: std::io::Error| {
                Failure::unavailable(format!("cannot read the log {}: {error}", path.display()))
            };
            let metadata = std::fs::metadata(path).map_err(cannot)?;
            if metadata.is_dir() {
                return Err(Failure::unavailable(format!(
                    "{} is a directory; name the log files in it, in order of time",
                    path.display()
                )));
            }
            let reader = LogReader::open(path, FrameSettings::default()).map_err(cannot)?;
            let name = path.file_stem().unwrap_or_default().to_string_lossy();
            Ok(Log {
                name: name.as_ref().into(),
                bytes: metadata.len(),
                reader,
            })
        })
        .collect()
}

/// The lines of all logs, one after the other.
pub(super) fn lines(logs: Vec<Log>, bar: ProgressBar) -> impl Iterator<Item = LogLine> {
    logs.into_iter().flat_map(move |mut log| {
        let bar = bar.clone();
        let before = bar.position();
        std::iter::from_fn(move || {
            let item = log.reader.next()?;
            bar.set_position(before + log.reader.bytes_read());
            match item {
                Ok(item) => Some(LogLine::from_log(item, &log.name)),
                Err(error) => {
                    tracing::error!("{}: reading stopped: {error}", log.name);
                    None
                }
            }
        })
    })
}

/// A bar on standard error for long logs when somebody looks at it.
pub(super) fn progress(bytes: u64) -> ProgressBar {
    const LONG_BYTES: u64 = 2_000_000;
    if bytes < LONG_BYTES || !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let style = ProgressStyle::with_template("{bar:40} {bytes}/{total_bytes} {eta} left")
        .unwrap_or_else(|_| ProgressStyle::default_bar());
    ProgressBar::new(bytes).with_style(style)
}
