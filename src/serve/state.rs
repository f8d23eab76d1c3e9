//! The snapshot as the API shows it: units in the names, degrees for people, an age on
//! everything.

use serde::Serialize;
use utoipa::ToSchema;

use super::corrected::{CorrectedAnswer, corrected};
use super::launch_state::LaunchState;
use super::marks_state::{MarkAnswer, marks};
use super::recorder::RecorderAnswer;
use super::sources::{JournalNow, OutletNow, Sources};
use super::strike_state::StrikeAnswer;
use super::vessel_state::VesselAnswer;
use crate::advice::Advisory;
use crate::decode::BaitState;
use crate::engine::{FeedNow, LATE_S, Mode, Snapshot};
use crate::forecast::BiteZone;
use crate::logbook::LogbookNow;
use crate::pass::PassNow;
use crate::settings::{CrewUnits, RigEntry};
use crate::time::Millis;
use crate::track::Track;
use crate::vessel::{DeckNow, Grade, Restored};

/// Everything at one moment.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct StateAnswer {
    /// Moment of the tick.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
    /// The same as Unix time in milliseconds.
    pub at_unix_ms: i64,
    /// What drives it: live instruments, a replay, the demo.
    pub mode: Mode,
    /// Seconds of `at` that pass in a second on the wall.
    pub clock_speed: f64,
    /// Seconds by which this is older than the clock that drives it, when it was answered.
    pub lag_s: f64,
    /// Whether that is more than 3 s: look at the sea, not here.
    pub late: bool,
    /// Version of the program.
    pub version: &'static str,
    /// Until when there is to be no sound.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub silenced_until: Option<Millis>,
    /// Counts the changes of settings since the start of the program; what they are now is at
    /// `/v1/settings`.
    pub settings_revision: u64,
    /// Units the crew thinks in, for pages; the API itself is SI and degrees.
    pub units: CrewUnits,
    /// The boat.
    pub vessel: VesselAnswer,
    /// What the crew has told.
    pub deck: DeckAnswer,
    /// Marks: those of the crew oldest first, of which the last 64 are kept, then those of the
    /// network, of which those heard last are.
    pub marks: Vec<MarkAnswer>,
    /// The bait's way over the ground, from the boat; `null` when its position is not known.
    pub track: Option<Track>,
    /// A fish on, or the kite on its way home, until the bait is out again.
    pub strike: Option<StrikeAnswer>,
    /// The pass of the bait over a mark; `null` when none is planned.
    pub pass: Option<PassNow>,
    /// Whether there is a forecast.
    pub forecast: ForecastState,
    /// What the crew's reports have taught of this kite; `null` when nothing.
    pub learnt: Option<LearntAnswer>,
    /// Why what was learnt or forgotten is not yet in `forecast.learnt_file`, with what a restart
    /// would do; `null` when it is.
    pub learnt_trouble: Option<String>,
    /// Whether what is heard reaches a recording.
    pub recorder: RecorderAnswer,
    /// Living advisories, most pressing first.
    pub advisories: Vec<Advisory>,
    /// How what the crew says is kept over a restart.
    pub journal: JournalNow,
    /// How the logbook stands.
    pub logbook: LogbookNow,
    /// Other devices that are told what happens; empty when none is.
    pub outlets: Vec<OutletNow>,
    /// Inputs.
    pub feeds: Vec<FeedAnswer>,
    /// The rig as set.
    pub rig: Vec<RigEntry>,
    /// Where bites come best.
    pub bite_zone: BiteZone,
}

/// Something the crew has said and when.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Told<T> {
    /// What was said; its unit stands in the name of the field that holds it.
    pub value: T,
    /// When.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
    /// Age at the moment of the tick.
    pub age_s: f64,
}

/// A turn the crew has announced.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct IntendedTurnAnswer {
    /// When it was announced.
    #[schema(value_type = String, format = DateTime)]
    pub told_at: Millis,
    /// When the helm goes over.
    #[schema(value_type = String, format = DateTime)]
    pub starts_at: Millis,
    /// Seconds until then; negative when under way.
    pub starts_in_s: f64,
    /// Change of heading, + to starboard.
    pub by_deg: f64,
    /// Rate, positive.
    pub rate_deg_s: f64,
}

/// What the crew has told.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DeckAnswer {
    /// Kite line out, rod tip to kite.
    pub kite_line_out_m: Option<f64>,
    /// Main line out, rod tip through the ring to the bait.
    pub main_line_out_m: Option<f64>,
    /// When the line count was last set or moved.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub lines_at: Option<Millis>,
    /// Line out from before a restart of the program that nobody has confirmed since; `null` when
    /// there is none. Posting the lines out confirms or corrects it.
    pub restored: Option<RestoredAnswer>,
    /// What the bait was last seen to do.
    pub bait: Option<Told<BaitState>>,
    /// Kite elevation last seen.
    pub kite_elevation_deg: Option<Told<f64>>,
    /// Kite bearing last seen, off dead astern, + to starboard.
    pub kite_off_astern_deg: Option<Told<f64>>,
    /// Whether the marker was last seen in the water.
    pub marker_in_water: Option<Told<bool>>,
    /// Corrections that the crew has put on instruments, in force now.
    pub corrections: Vec<CorrectedAnswer>,
    /// The announced turn.
    pub intended_turn: Option<IntendedTurnAnswer>,
    /// A bite that is being fought.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub bite_at: Option<Millis>,
    /// False after the crew has said that fishing stops, until it says that it starts.
    pub fishing: bool,
    /// The launch that is followed step by step; its steps are at `/v1/launch`. `null` when there is
    /// none.
    pub launch: Option<LaunchState>,
}

/// Line out from before a restart of the program.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RestoredAnswer {
    /// When it was told or last moved before the restart.
    #[schema(value_type = String, format = DateTime)]
    pub as_of: Millis,
    /// Its age at the moment of the tick; negative when the clock was wrong then or is now.
    pub age_s: f64,
    /// Whether it is taken as out. If not, nobody knows what is out, and this is what to ask about.
    pub used: bool,
    /// How far to trust it.
    pub grade: Grade,
    /// Kite line; `null` when it is confirmed or was not known.
    pub kite_line_out_m: Option<f64>,
    /// Main line; `null` when it is confirmed or was not known.
    pub main_line_out_m: Option<f64>,
}

/// Whether there is a forecast; the forecast itself is at `/v1/forecast`.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ForecastState {
    /// When it was made; `null` when there is none.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub made_at: Option<Millis>,
    /// Its age at the moment of the tick.
    pub age_s: Option<f64>,
    /// Why there is none, with what would cure it; empty when there is one.
    pub reasons: Vec<String>,
}

/// What the crew's reports have taught of the kite in use, today or earlier.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct LearntAnswer {
    /// How many reports.
    pub reports: u64,
    /// When the last of them was made.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
    /// Its age at the moment of the tick.
    pub age_s: f64,
}

/// An input and how long it has been silent.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FeedAnswer {
    /// The counts.
    #[serde(flatten)]
    pub counts: FeedNow,
    /// Seconds since the last accepted sentence; `null` before the first.
    pub last_age_s: Option<f64>,
}

impl StateAnswer {
    pub(super) fn new(snapshot: &Snapshot, sources: &Sources, lag_s: f64) -> Self {
        let at = snapshot.at;
        let set_up = sources.set_up.borrow();
        let recorder = RecorderAnswer::new(sources);
        Self {
            at,
            at_unix_ms: at.0,
            mode: snapshot.mode,
            clock_speed: snapshot.clock_speed,
            lag_s,
            late: lag_s > LATE_S,
            version: env!("CARGO_PKG_VERSION"),
            silenced_until: snapshot.silenced_until,
            settings_revision: set_up.revision,
            units: set_up.units,
            vessel: VesselAnswer::new(&snapshot.vessel, at),
            deck: DeckAnswer::new(&snapshot.deck, at),
            marks: marks(snapshot),
            track: snapshot.track.clone(),
            pass: snapshot.pass.clone(),
            strike: (snapshot.strike.as_ref()).map(|now| StrikeAnswer::new(now, &recorder)),
            forecast: match &snapshot.forecast {
                Ok(forecast) => ForecastState {
                    made_at: Some(forecast.made_at),
                    age_s: Some(at.seconds_since(forecast.made_at)),
                    reasons: Vec::new(),
                },
                Err(none) => ForecastState {
                    made_at: None,
                    age_s: None,
                    reasons: none.reasons.clone(),
                },
            },
            learnt: snapshot.learnt.map(|learnt| LearntAnswer {
                reports: learnt.reports,
                at: learnt.at,
                age_s: at.seconds_since(learnt.at),
            }),
            learnt_trouble: sources
                .learnt_trouble
                .as_ref()
                .and_then(|trouble| trouble.borrow().clone()),
            recorder,
            advisories: snapshot.advisories.clone(),
            journal: sources.journal.borrow().clone(),
            logbook: sources.logbook.borrow().clone(),
            outlets: sources.outlets_now(),
            feeds: snapshot
                .feeds
                .iter()
                .map(|feed| FeedAnswer {
                    last_age_s: feed.last_at.map(|last| at.seconds_since(last)),
                    counts: feed.clone(),
                })
                .collect(),
            rig: set_up.rig.clone(),
            bite_zone: set_up.bite_zone,
        }
    }
}

impl DeckAnswer {
    pub(super) fn new(deck: &DeckNow, at: Millis) -> Self {
        let seen = |angle: Option<(f64, Millis)>| {
            angle.map(|(radians, told)| Told {
                value: radians.to_degrees(),
                at: told,
                age_s: at.seconds_since(told),
            })
        };
        Self {
            kite_line_out_m: deck.lines.kite_m,
            main_line_out_m: deck.lines.main_m,
            lines_at: deck.lines_at,
            restored: deck.restored.map(|before| RestoredAnswer::new(before, at)),
            corrections: corrected(&deck.corrections),
            bait: deck.bait.map(|bait| Told {
                value: bait.state,
                at: bait.at,
                age_s: at.seconds_since(bait.at),
            }),
            kite_elevation_deg: seen(deck.elevation_rad),
            kite_off_astern_deg: seen(deck.bearing_rad),
            marker_in_water: deck.marker_in_water.map(|(in_water, told)| Told {
                value: in_water,
                at: told,
                age_s: at.seconds_since(told),
            }),
            intended_turn: deck.intended_turn.map(|turn| IntendedTurnAnswer {
                told_at: turn.told_at,
                starts_at: turn.starts_at,
                starts_in_s: turn.starts_at.seconds_since(at),
                by_deg: turn.by_rad.to_degrees(),
                rate_deg_s: turn.rate_rad_s.to_degrees(),
            }),
            bite_at: deck.bite_at(),
            fishing: deck.fishing,
            launch: deck.launch.as_ref().map(LaunchState::new),
        }
    }
}

impl RestoredAnswer {
    fn new(restored: Restored, at: Millis) -> Self {
        Self {
            as_of: restored.as_of,
            age_s: at.seconds_since(restored.as_of),
            used: restored.used,
            grade: Grade::Assumed,
            kite_line_out_m: restored.lines.kite_m,
            main_line_out_m: restored.lines.main_m,
        }
    }
}
