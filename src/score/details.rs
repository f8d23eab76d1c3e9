//! Every scored event, advisory and chance, to find out which event was missed and which chance was
//! wrong. Times are seconds after the first line of the recording.

use serde::Serialize;

use super::labels::Cause;
use super::marks::{Class, Fate};
use crate::forecast::Trouble;

/// One entry.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "is", rename_all = "kebab-case")]
pub enum Detail {
    /// An event of the truth.
    Event {
        /// Which trouble.
        trouble: Trouble,
        /// When the bait left its band.
        onset_s: f64,
        /// When it was back.
        end_s: f64,
        /// Why.
        cause: Cause,
        /// Class in which it is counted; `None`: not scored.
        class: Option<Class>,
        /// Whether an advisory foretold it.
        detected: bool,
        /// How early; `None` also where the advisory has given its lead to an earlier event.
        lead_s: Option<f64>,
    },
    /// An advisory, from raised until over.
    Advisory {
        /// Which trouble.
        trouble: Trouble,
        /// When.
        raised_s: f64,
        /// When it ended; `None`: not before the end of the recording.
        over_s: Option<f64>,
        /// Class in which it is counted.
        class: Class,
        /// What became of it.
        fate: Fate,
    },
    /// A chance and its outcome, for the full and the shortened horizon.
    Chance {
        /// Which trouble.
        trouble: Trouble,
        /// When the forecast was made.
        made_s: f64,
        /// The chance it gave for its horizon.
        chance: f64,
        /// The part of it for trouble that is on already.
        so_now: f64,
        /// Median of the onset, seconds from when the forecast was made.
        onset_in_s: Option<f64>,
        /// Whether it came in the horizon.
        came: bool,
        /// Seconds until hands or an unannounced turn intervened, if kept.
        window_s: Option<f64>,
        /// The chance until then, and whether it came by then.
        until: Option<(f64, bool)>,
    },
}
