//! One immutable picture of everything, written once a tick and read by page, API and metrics.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::Serialize;
use utoipa::ToSchema;

use crate::advice::Advisory;
use crate::calibrate::CalibrationNow;
use crate::cause::Cause;
use crate::forecast::{Forecast, Lack, LearntNow, NoForecast};
use crate::pass::PassNow;
use crate::strike::StrikeNow;
use crate::time::Millis;
use crate::track::Track;
use crate::vessel::{Deck, DeckNow, LinesOut, Mark, Vessel, VesselNow, VesselSettings};

/// A picture older than this, in seconds, must be shown as old.
pub const LATE_S: f64 = 3.0;

/// What drives the engine; always shown, so that nobody mistakes a replay for live data.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Mode {
    /// Instruments of this boat, now.
    Live,
    /// A recording.
    Replay,
    /// The embedded invented day.
    Demo,
}

/// One input as the page and the metrics show it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FeedNow {
    /// Name from the settings.
    pub name: String,
    /// Accepted sentences.
    pub accepted: u64,
    /// Refused or passed over, by cause.
    pub refused: BTreeMap<Cause, u64>,
    /// Sentences by kind ("MWV"). Of kinds that are not read only the first have a row of their
    /// own; "other" counts the rest.
    pub kinds: BTreeMap<String, u64>,
    /// When the last accepted sentence came.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub last_at: Option<Millis>,
    /// Longest silence so far, seconds.
    pub longest_gap_s: f64,
    /// State of its link in words; `None` where there is no link (a log, the demo).
    pub link: Option<String>,
    /// Accepted sentences a second over the last 10 s.
    pub rate_hz: f64,
}

/// Everything, at one moment.
#[derive(Debug, Clone)]
pub struct Snapshot {
    /// Moment of the tick.
    pub at: Millis,
    /// What drives it.
    pub mode: Mode,
    /// Speed of `at` relative to real time: 1 live, other values in replay and demo.
    pub clock_speed: f64,
    /// How far `at` was behind the driver's clock when the picture was published, seconds of real
    /// time.
    pub lag_s: f64,
    /// Until when the crew has silenced sounds; `None` when sound is on.
    pub silenced_until: Option<Millis>,
    /// The boat.
    pub vessel: VesselNow,
    /// What the crew has reported.
    pub deck: DeckNow,
    /// All marks: those of the crew oldest first, then those of the network.
    pub marks: Vec<Mark>,
    /// What the boat's turns show of the errors of her instruments.
    pub calibration: CalibrationNow,
    /// The pass over a mark that is planned or under way.
    pub pass: Option<PassNow>,
    /// The bait's way over the ground; `None` when the boat's position is not known.
    pub track: Option<Track>,
    /// A fish on, or the kite on its way home.
    pub strike: Option<StrikeNow>,
    /// The next two minutes, or why there is no forecast.
    pub forecast: Result<Arc<Forecast>, NoForecast>,
    /// What was learnt about this kite; `None` when nothing was.
    pub learnt: Option<LearntNow>,
    /// Living advisories, most pressing first.
    pub advisories: Vec<Advisory>,
    /// Inputs.
    pub feeds: Vec<FeedNow>,
}

impl Snapshot {
    /// What is shown before anything is known.
    #[must_use]
    pub fn blank(mode: Mode) -> Self {
        let at = Millis(0);
        Self {
            at,
            mode,
            clock_speed: 1.0,
            lag_s: 0.0,
            silenced_until: None,
            vessel: Vessel::new(VesselSettings::default()).now(at),
            deck: Deck::new(LinesOut {
                kite_m: None,
                main_m: None,
            })
            .now(at),
            marks: Vec::new(),
            calibration: CalibrationNow::default(),
            pass: None,
            track: None,
            strike: None,
            forecast: Err(NoForecast::of(vec![(
                Lack::Beginning,
                "nothing has been heard yet".to_owned(),
            )])),
            learnt: None,
            advisories: Vec::new(),
            feeds: Vec::new(),
        }
    }
}
