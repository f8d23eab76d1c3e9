//! One by one what the marks count: for whoever wants to know which event was missed and when a
//! chance was wrong. Times are seconds after the first line of the recording.

use serde::Serialize;

use super::labels::{Cause, Trouble};
use super::marks::{Class, Fate};

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
        /// What it is counted with; `None`: not scored.
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
        /// When it was over; `None`: at the end of the recording it was not.
        over_s: Option<f64>,
        /// What it is counted with.
        class: Class,
        /// What became of it.
        fate: Fate,
    },
    /// A chance with what came of it, both sets.
    Chance {
        /// Which trouble.
        trouble: Trouble,
        /// When the forecast was made.
        made_s: f64,
        /// The chance it gave for its horizon.
        chance: f64,
        /// How much of it was for trouble that is on already.
        so_now: f64,
        /// Seconds until half of the members in which it comes have it.
        onset_in_s: Option<f64>,
        /// Whether it came in the horizon.
        came: bool,
        /// Seconds until hands or a turn that nobody had told intervened, if kept.
        window_s: Option<f64>,
        /// The chance until then, and whether it came by then.
        until: Option<(f64, bool)>,
    },
}
