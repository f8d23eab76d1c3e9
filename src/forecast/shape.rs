//! The shapes of a forecast, as the rest of the program and the API show them.
//! Names carry units; angles are degrees here because people read these.

use serde::Serialize;
use utoipa::ToSchema;

use super::hands::Hands;
use super::sea::SeaReckoned;
use super::trouble::{Band, Chance};
use crate::decode::Line;
use crate::time::Millis;
use crate::turn::TurnSource;

/// What carries a load.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum LoadPart {
    /// Kite line.
    KiteLine,
    /// Main line.
    MainLine,
    /// The band between ring and clip.
    Band,
    /// Holder of the kite rod.
    RodHolder,
}

/// Greatest load of one part within the horizon.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct LoadAhead {
    /// Which.
    pub part: LoadPart,
    /// Its strength, as the settings give it.
    pub strength_n: f64,
    /// Greatest load over strength, over the futures. Gusts shorter than a second are not included.
    pub share: Band,
}

/// Least distance of one line to one structure of the boat within the horizon.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ClearanceAhead {
    /// What the crew calls the structure.
    pub structure: String,
    /// Which line.
    pub line: Line,
    /// Nearer than this is foul.
    pub clearance_m: f64,
    /// Least distance, over the futures.
    pub least_m: Band,
}

/// A turn that the forecast takes into account.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct TurnAhead {
    /// Where it is known from.
    pub source: TurnSource,
    /// Seconds until the helm goes over; negative when under way.
    pub starts_in_s: f64,
    /// Change still to come, + to starboard.
    pub by_deg: f64,
    /// Rate, positive.
    pub rate_deg_s: f64,
    /// True heading after it.
    pub to_heading_deg_true: f64,
    /// How sure the source is, 0..1.
    pub chance: f64,
}

/// One correction of one line.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct PlanStep {
    /// Which line.
    pub line: Line,
    /// + give, - take.
    pub by_m: f64,
    /// Seconds from `made_at` to begin.
    pub start_in_s: f64,
    /// How long it takes at the crew's pace.
    pub over_s: f64,
    /// The crew's pace with this reel.
    pub pace_m_per_s: f64,
    /// Turns of this reel's handle when taking; `None` when giving, which is done by the drag.
    pub cranks: Option<f64>,
    /// Whether it is more than the crew moves between two looks at the bait: there is no time for
    /// portions, or there would be too many.
    pub in_one_go: bool,
}

/// The fewest corrections found that keep the bait skipping.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LinePlan {
    /// In order of time; empty when nothing needs doing.
    pub steps: Vec<PlanStep>,
    /// Share of time in which the bait skips without the plan, over the futures, 0..1.
    pub skipping_without: f64,
    /// The same with it.
    pub skipping_with: f64,
    /// What it cannot achieve, in words; `None` when it achieves all.
    pub shortfall: Option<String>,
}

/// How fast the helm may turn. The rates are those at which the chance of a flying or dragging bait
/// stays below `allowed_chance`.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct TurnLimit {
    /// Greatest rate to port with hands that follow; `None` when none of the rates tried is good for
    /// `for_deg`.
    pub port_deg_s: Option<f64>,
    /// Greatest rate to starboard; `None` likewise.
    pub starboard_deg_s: Option<f64>,
    /// Greatest rate to port with nobody at the reel; `None` likewise.
    pub port_without_hands_deg_s: Option<f64>,
    /// Greatest rate to starboard with nobody at the reel; `None` likewise.
    pub starboard_without_hands_deg_s: Option<f64>,
    /// The highest rate tried: a limit as high as this means any usual rate.
    pub tried_to_deg_s: f64,
    /// Chance of trouble up to which a rate is good, 0..1.
    pub allowed_chance: f64,
    /// Whether the bait skips, and goes on skipping on this heading for a while. If not, no rate is
    /// given: it must skip before any turn can be judged.
    pub skips: bool,
    /// Change of heading the limits were worked out for.
    pub for_deg: f64,
    /// In words: the steps to turn in, or why no rate is given; empty when there is nothing to add.
    pub why: String,
}

/// Settled state on one heading.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FanHeading {
    /// True heading.
    pub heading_deg_true: f64,
    /// The same from the present heading, -180..180, + to starboard.
    pub turn_deg: f64,
    /// Settled immersion with the line that is out; `None` when there is no trim.
    pub immersion: Option<f64>,
    /// Kite elevation.
    pub kite_elevation_deg: Option<f64>,
    /// Kite bearing off dead astern, + to starboard.
    pub off_astern_deg: Option<f64>,
    /// Main line to give (+) or take (-) from now for a well-trimmed bait.
    pub main_line_change_m: Option<f64>,
    /// How much further than their clearance the lines stay from the structures of the boat;
    /// negative: foul. `None` without structures or settled state.
    pub clear_by_m: Option<f64>,
    /// Whether the kite stands in the bite zone.
    pub in_bite_zone: bool,
    /// Why it cannot be fished; `None` when it can.
    pub unfishable: Option<String>,
}

/// A point in boat axes: metres astern of the transom, to starboard, above the water.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct ViewPoint {
    /// Positive astern.
    pub aft_m: f64,
    /// Positive to starboard.
    pub starboard_m: f64,
    /// Above the water.
    pub up_m: f64,
}

/// The rig drawn true to scale.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RigView {
    /// Seconds from `made_at`.
    pub in_s: f64,
    /// Heading then.
    pub heading_deg_true: f64,
    /// Apparent wind at the kite, from, relative to the bow, -180..180.
    pub wind_from_bow_deg: f64,
    /// Kite rod tip, line nodes, clip, ..., kite.
    pub kite_line: Vec<ViewPoint>,
    /// Main rod tip, line nodes, ring, ..., marker, bait.
    pub main_line: Vec<ViewPoint>,
    /// The clip.
    pub clip: ViewPoint,
    /// The marker.
    pub marker: ViewPoint,
    /// Immersion of the bait, 0..1.
    pub immersion: f64,
}

/// Where the bait will be at one moment: over the water, from where the boat is at `made_at`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct BaitAhead {
    /// Seconds from `made_at`.
    pub in_s: f64,
    /// East: half of the futures lie further east.
    pub east_m: f64,
    /// North: half of the futures lie further north.
    pub north_m: f64,
    /// Direction in which it goes there, true.
    pub way_deg_true: f64,
    /// Futures across that way from there, + to the right.
    pub across_m: Band,
    /// Futures along that way from there, + in front.
    pub along_m: Band,
}

/// Effect of the crew's reports on the beliefs.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Crew {
    /// Whether a recent "skipping" report anchors the line.
    pub anchored: bool,
    /// Age of the last report, seconds.
    pub age_s: Option<f64>,
    /// Age of what was recalled from earlier days, seconds; `None` when nothing was.
    pub learnt_age_s: Option<f64>,
    /// In words: what the crew has reported, and how that agrees with the model.
    pub note: String,
}

/// The next two minutes.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Forecast {
    /// When it was made.
    #[schema(value_type = String, format = DateTime)]
    pub made_at: Millis,
    /// How far it reaches.
    pub horizon_s: f64,
    /// Number of futures.
    pub futures: usize,
    /// How the chances were made, in words.
    pub basis: String,
    /// What hands can do, as it is set.
    pub hands: Hands,
    /// Moments of the bands, seconds from `made_at`.
    pub t_s: Vec<f64>,
    /// Bait height above the water.
    pub bait_height_m: Vec<Band>,
    /// Immersion.
    pub immersion: Vec<Band>,
    /// Kite elevation.
    pub kite_elevation_deg: Vec<Band>,
    /// Kite bearing off dead astern, + to starboard.
    pub kite_off_astern_deg: Vec<Band>,
    /// Bait height if the plan is carried out; empty without a plan.
    pub bait_height_with_plan_m: Vec<Band>,
    /// Chances of each trouble.
    pub chances: Vec<Chance>,
    /// Loads of every part whose strength is known.
    pub loads: Vec<LoadAhead>,
    /// Distances of both lines to every structure.
    pub clearances: Vec<ClearanceAhead>,
    /// The turn taken into account; of several the one that begins first.
    pub turn: Option<TurnAhead>,
    /// Turns that follow it.
    pub turns_after: Vec<TurnAhead>,
    /// Corrections.
    pub plan: Option<LinePlan>,
    /// Turn limits.
    pub turn_limit: Option<TurnLimit>,
    /// Settled states on all headings; empty until computed.
    pub fan: Vec<FanHeading>,
    /// The rig now.
    pub rig_now: RigView,
    /// The rig at the end of the turn or horizon.
    pub rig_then: RigView,
    /// Where the bait goes over the water.
    pub bait_track: Vec<BaitAhead>,
    /// The sea that it reckons with; `null` where none is known: then as on flat water.
    pub sea: Option<SeaReckoned>,
    /// Effect of the crew's reports.
    pub crew: Crew,
}

impl LinePlan {
    /// Its corrections, each with its portions.
    pub fn corrections(&self) -> impl Iterator<Item = &[PlanStep]> {
        self.steps
            .chunk_by(|a, b| (a.line, a.by_m) == (b.line, b.by_m))
    }
}

impl Forecast {
    /// All turns taken into account, in order of their start.
    pub fn turns(&self) -> impl Iterator<Item = &TurnAhead> {
        self.turn.iter().chain(&self.turns_after)
    }

    /// The turn that can cause a trouble: the last one that begins before the median onset, or at
    /// most `close_s` after it.
    #[must_use]
    pub fn turn_behind(&self, chance: &Chance, close_s: f64) -> Option<TurnAhead> {
        let by_s = close_s + chance.onset_s.map_or(0.0, |onset| onset.p50);
        self.turns()
            .take_while(|turn| turn.starts_in_s <= by_s)
            .last()
            .copied()
    }
}
