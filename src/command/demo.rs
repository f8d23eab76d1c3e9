//! `skimwatch demo`: the embedded invented day through the real chain.

use std::net::SocketAddr;

use clap::Args;

use super::Failure;
use super::page::{Page, open_page};
use crate::drive::{LogLine, TimeSource};
use crate::engine::Mode;
use crate::feed::{CREW_FEED, Frame, FrameSettings, Framer};
use crate::scene::{Played, demo_day, play};
use crate::settings;
use crate::time::Millis;

/// Settings of the demo, part of the program.
const SETTINGS: &str = include_str!("../../config/demo.toml");

/// Options of `demo`.
#[derive(Debug, Args)]
pub(super) struct DemoArguments {
    /// Seconds of the day a second.
    #[arg(long, default_value_t = 1.0, value_name = "N", value_parser = super::speed)]
    speed: f64,
    /// Address and port of the page.
    #[arg(long, value_name = "ADDRESS:PORT")]
    bind: Option<SocketAddr>,
}

pub(super) fn demo(arguments: &DemoArguments) -> Result<(), Failure> {
    let mut settings = settings::parse(SETTINGS, "config/demo.toml (part of the program)")
        .map_err(Failure::settings)?;
    if let Some(bind) = arguments.bind {
        settings.serve.bind = bind;
    }
    let start = Millis(chrono::Utc::now().timestamp_millis().div_euclid(1000) * 1000);
    let day = demo_day(start, &settings.rig.parameters).map_err(Failure::data)?;
    let played = play(&day).map_err(Failure::data)?;
    let page = Page::new(&settings, Mode::Demo)?;
    open_page(page, arguments.speed, days(played), || Ok(()))
}

/// The day over and over, each time later by its own length; through framer and decoder like
/// any feed's bytes.
fn days(day: Played) -> impl Iterator<Item = LogLine> + Send {
    let length_ms = match (day.lines.first(), day.lines.last()) {
        (Some(first), Some(last)) => (last.0.0 - first.0.0).div_euclid(1000) * 1000 + 2000,
        _ => 1000,
    };
    (0..).flat_map(move |round| {
        let mut framer = Framer::new(FrameSettings::default());
        let mut items = Vec::with_capacity(day.lines.len());
        for (at, line) in &day.lines {
            let at = Millis(at.0 + round * length_ms);
            let feed = if line.starts_with("$P") {
                CREW_FEED
            } else {
                "demo"
            };
            framer.push(format!("{line}\r\n").as_bytes(), &mut |frame| {
                if let Frame::Sentence(sentence) = frame {
                    items.push(LogLine::Sentence {
                        stamped: Some((at, TimeSource::Tag)),
                        feed: feed.into(),
                        text: sentence.text,
                    });
                }
            });
        }
        items
    })
}
