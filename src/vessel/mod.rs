//! Vessel: what the boat and the deck are doing now.
//!
//! In: typed observations with the moment they arrived and the feed they came by.
//! Out: [`VesselNow`], one believed value for each quantity with its source, age and grade,
//! and [`DeckNow`], what the crew has told about lines, bait and intended turn.
//! It must not know the rig model, the forecast, sockets or clocks.
//!
//! Corrections that the crew has put on an instrument are applied to what it sends, before anything
//! is believed (`corrections`); `measured` takes them out again for whoever looks for errors.
//!
//! A sender's own clock is never a time stamp here: only arrival counts. Every reading carries the
//! moment of its oldest input, with one exception: the variation that turns a magnetic direction
//! true belongs to the place, so its age is its own and does not make the direction older.

mod answers;
mod believe;
mod boat;
mod corrections;
mod crew_log;
mod deck;
mod distrust;
mod fold;
mod heard_marks;
mod hull_motion;
mod mark;
mod measured;
mod missing;
mod now;
mod samples;
mod sender;
mod settings;
mod source;
mod statistics;
mod strike;
mod told;
mod turn_rate;
mod unusable;
mod variation;
mod wind;

pub use crate::doubt::{Fault, Instrument};
pub use crate::geodesy::Position;
pub use answers::{AGAIN_S, Answered, Answers, moved_by};
pub use boat::Vessel;
pub use corrections::{CompassCurve, Corrected, Corrections};
pub use crew_log::{CrewEvent, CrewLog, Report, UNDO_WINDOW_S, can_be_retracted};
pub use deck::{Deck, LAUNCH_LAPSES_S, TURN_LINGERS_S};
pub use fold::MOST_MARKS;
pub use heard_marks::{HeardMarks, Here, MOST_HEARD, TARGET_LAPSES_S};
pub use hull_motion::HullMotion;
pub use mark::{LAST_OF_CREW, MARK_NAME_MAX, Mark, MarkDrift, MarkFromBoat, MarkSource};
pub use measured::{Heard, HeardFrom, Measured, MeasuredHeading};
pub use now::{
    ApparentWind, DeckNow, Doubted, Grade, IntendedTurn, LaunchNow, Missing, Quantity, Reading,
    Restored, SourceNow, TrueWind, VesselNow, WindStatistics,
};
pub use sender::{PatternError, Sender, SourcePattern};
pub use settings::{SOURCES, SourceOrder, StaleTimes, VesselSettings};
pub use strike::{Strike, StrikeCause, StrikeEnd, StrikeStep};
pub use told::{BaitSeen, LinesOut, PassTold};
pub use unusable::Unusable;
pub use wind::{Motion, apparent_wind, true_wind};
