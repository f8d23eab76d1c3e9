//! The shapes of a forecast, as the rest of the program and the API show them.
//! Names carry units; angles are degrees here because people read these.

use std::fmt;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::sea::SeaReckoned;
use super::settings::Hands;
use crate::decode::Line;
use crate::time::Millis;
use crate::turn::TurnSource;

/// Quantiles over the futures at one moment.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Band {
    /// One future in ten lies below.
    pub p10: f64,
    /// Half of them lie below.
    pub p50: f64,
    /// Nine in ten lie below.
    pub p90: f64,
}

/// Kinds of trouble whose chance is forecast.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "kebab-case")]
#[schema(as = ChanceKind)]
pub enum Trouble {
    /// Bait out of the water for longer than a hop.
    BaitAirborne,
    /// Bait mostly under for longer than a dip.
    BaitDragging,
    /// Kite sinking.
    KiteSinking,
    /// Kite outside the bite zone.
    OffCorner,
    /// Line other than the bait's end touches the water.
    LineInWater,
    /// A line or the rod holder loaded to the share of its strength that the settings allow. Not
    /// given while no strength is known.
    LineOverload,
    /// Load at the ring near the strength of the band. Not given while that is not known.
    FalseRelease,
    /// A line nearer to a structure of the boat than its clearance. Not given without structures.
    LineFoul,
}

impl Trouble {
    /// All of them, in the order of a forecast.
    pub const ALL: [Self; 8] = [
        Self::BaitAirborne,
        Self::BaitDragging,
        Self::KiteSinking,
        Self::OffCorner,
        Self::LineInWater,
        Self::LineOverload,
        Self::FalseRelease,
        Self::LineFoul,
    ];

    /// Whether seconds count once it is likely. A kite off its corner costs bites, no more.
    #[must_use]
    pub fn presses(self) -> bool {
        match self {
            Self::OffCorner => false,
            Self::BaitAirborne
            | Self::BaitDragging
            | Self::KiteSinking
            | Self::LineInWater
            | Self::LineOverload
            | Self::FalseRelease
            | Self::LineFoul => true,
        }
    }

    /// Whether it is trouble of the bait.
    #[must_use]
    pub fn is_of_bait(self) -> bool {
        matches!(self, Self::BaitAirborne | Self::BaitDragging)
    }

    /// Whether it is trouble of bait or kite, not danger of lines.
    #[must_use]
    pub fn is_of_bait_or_kite(self) -> bool {
        match self {
            Self::BaitAirborne | Self::BaitDragging | Self::KiteSinking | Self::OffCorner => true,
            Self::LineInWater | Self::LineOverload | Self::FalseRelease | Self::LineFoul => false,
        }
    }

    /// Which way the main line brings it: +1 let out, -1 wound in; `None` where neither way does
    /// for certain.
    #[must_use]
    pub fn main_line_way(self) -> Option<f64> {
        match self {
            Self::BaitAirborne => Some(-1.0),
            Self::BaitDragging | Self::LineInWater => Some(1.0),
            Self::KiteSinking
            | Self::OffCorner
            | Self::LineOverload
            | Self::FalseRelease
            | Self::LineFoul => None,
        }
    }
}

/// The name that it has in JSON.
impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.serialize(f)
    }
}

/// Chance of one trouble within the horizon.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Chance {
    /// Which.
    pub kind: Trouble,
    /// Share of the futures in which it happens, 0..1.
    pub chance: f64,
    /// Share of the futures in which it is so already, 0..`chance`.
    pub so_now: f64,
    /// Seconds from `made_at` to onset, over the futures in which it happens; `None` when none.
    pub onset_s: Option<Band>,
    /// The same over those in which it begins later only; `None` when none.
    pub later_s: Option<Band>,
    /// The same chance with the line plan carried out; `None` when there is no plan.
    pub chance_with_plan: Option<f64>,
}

impl Chance {
    /// Share of its onsets that come within a time: linear between (0, 0), (p10, 0.1), (p50, 0.5),
    /// (p90, 0.9) and (horizon, 1) of the onset.
    #[must_use]
    pub fn onset_share(&self, within_s: f64, horizon_s: f64) -> f64 {
        if within_s >= horizon_s {
            return 1.0;
        }
        let Some(band) = &self.onset_s else {
            return (within_s / horizon_s).clamp(0.0, 1.0);
        };
        let mut before = (0.0, 0.0);
        for (t_s, share) in [
            (band.p10, 0.1),
            (band.p50, 0.5),
            (band.p90, 0.9),
            (horizon_s, 1.0),
        ] {
            if within_s < t_s {
                let part = (within_s - before.0) / (t_s - before.0);
                return before.1 + part.clamp(0.0, 1.0) * (share - before.1);
            }
            before = (t_s, share);
        }
        before.1
    }

    /// Chance that it begins within the time in which this share of its onsets comes, given that it
    /// is not so now; `None` when it is so in all futures already.
    #[must_use]
    pub fn begins(&self, share: f64) -> Option<f64> {
        let not_now = 1.0 - self.so_now;
        (not_now >= 1e-6).then(|| ((self.chance * share - self.so_now) / not_now).clamp(0.0, 1.0))
    }
}

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

/// What a forecast can lack.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Lack {
    /// The program has only begun.
    Beginning,
    /// A needed quantity has no live source.
    Sensor,
    /// The instruments live, but what follows from them is not known yet.
    Reading,
    /// The rig is not set.
    Rig,
    /// Nobody has said how much line is out.
    LineOut,
    /// So little line is out that clip or marker would hang at the rod.
    ShortLine,
    /// The model finds no way in which the rig hangs.
    Balance,
    /// The crew has stopped fishing.
    Stopped,
    /// A fish is on.
    Bite,
    /// A launch is under way: its steps say what to do.
    Launch,
    /// The computer is too slow to make one in time.
    Time,
}

impl Lack {
    /// Whether the crew wants it so.
    #[must_use]
    pub fn is_intended(self) -> bool {
        matches!(self, Self::Stopped | Self::Bite | Self::Launch)
    }
}

/// Why there is no forecast.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct NoForecast {
    /// In words, with the cure: one entry per cause.
    pub reasons: Vec<String>,
    /// What each of them is, in the same order.
    pub lacks: Vec<Lack>,
}

impl NoForecast {
    /// From each lack with its words.
    #[must_use]
    pub fn of(reasons: Vec<(Lack, String)>) -> Self {
        let (lacks, reasons) = reasons.into_iter().unzip();
        Self { reasons, lacks }
    }

    /// The computer has no time for one.
    #[must_use]
    pub fn too_slow() -> Self {
        let words = "this computer is too slow just now: its forecast would come too late";
        Self::of(vec![(Lack::Time, words.to_owned())])
    }

    /// Whether it is only time that is missing.
    #[must_use]
    pub fn is_too_slow(&self) -> bool {
        self.lacks.contains(&Lack::Time)
    }

    /// Whether the crew wants no forecast now.
    #[must_use]
    pub fn is_intended(&self) -> bool {
        self.lacks.iter().any(|lack| lack.is_intended())
    }

    /// Each lack with its words.
    pub fn told(&self) -> impl Iterator<Item = (Lack, &str)> {
        let reasons = self.reasons.iter().map(String::as_str);
        self.lacks.iter().copied().zip(reasons)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_trouble_is_left_out_of_all() {
        let schema = serde_json::to_value(<Trouble as utoipa::PartialSchema>::schema()).unwrap();
        let all = Trouble::ALL.map(|trouble| trouble.to_string());
        assert_eq!(schema["enum"], serde_json::json!(all));
    }

    #[test]
    fn onsets_are_shared_out_along_the_band() {
        let chance = |p10: f64, p50: f64, p90: f64| Chance {
            kind: Trouble::BaitAirborne,
            chance: 1.0,
            so_now: 0.0,
            later_s: None,
            onset_s: Some(Band { p10, p50, p90 }),
            chance_with_plan: None,
        };
        for (within_s, share) in [
            (0.0, 0.0),
            (5.0, 0.05),
            (10.0, 0.1),
            (15.0, 0.3),
            (20.0, 0.5),
            (30.0, 0.7),
            (80.0, 0.95),
            (120.0, 1.0),
        ] {
            let found = chance(10.0, 20.0, 40.0).onset_share(within_s, 120.0);
            assert!((found - share).abs() < 1e-12, "{within_s}: {found}");
        }
        // All onsets at one moment: none before it, nearly all at it.
        assert!(chance(0.0, 0.0, 0.0).onset_share(1.0, 120.0) >= 0.9);
    }
}
