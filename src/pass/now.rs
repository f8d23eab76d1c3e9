//! The pass as the API shows it.

use serde::Serialize;
use utoipa::ToSchema;

use super::course::{Leg, LineOrder};
use super::judge::NEAR_M;
use super::mend::PassPlan;
use crate::decode::Line;
use crate::units::KNOT_MPS;

/// How far a pass has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PassState {
    /// Planned, or refused; nobody has answered.
    Offered,
    /// Accepted; its first turn is to come.
    Accepted,
    /// The boat is on it.
    UnderWay,
    /// The bait has been at the mark.
    Passed,
    /// Declined.
    Declined,
    /// Ended before the mark.
    Ended,
}

/// Which way to turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
#[schema(as = PassSide)]
pub enum Side {
    /// To port.
    Port,
    /// To starboard.
    Starboard,
}

/// One turn of a pass.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct PassLeg {
    /// Which way.
    pub side: Side,
    /// How far, positive.
    pub by_deg: f64,
    /// Rate, positive.
    pub rate_deg_s: f64,
    /// Seconds until the helm goes over; negative when under way.
    pub in_s: f64,
    /// True heading to hold then, 0..360.
    pub then_heading_deg: f64,
}

/// Line to move for a pass.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct PassLine {
    /// Which line.
    pub line: Line,
    /// + let out, - wind in.
    pub by_m: f64,
    /// Seconds until it begins; negative when under way.
    pub in_s: f64,
    /// How long it takes.
    pub over_s: f64,
}

/// Why no pass is offered.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct PassRefused {
    /// The cause.
    pub why: String,
    /// What would help.
    pub helps: String,
}

/// The course on which the bait crosses a mark. It knows no traffic, depth or land: the look-out and
/// the chart decide.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PassNow {
    /// Number of the mark.
    pub mark: u32,
    /// How far it has come.
    pub state: PassState,
    /// Which pass over this mark: 1, and 2 after the first.
    pub number: u32,
    /// The turns to come, the first one first; empty: hold the heading.
    pub legs: Vec<PassLeg>,
    /// True heading to hold at last, 0..360; `null` without a plan.
    pub hold_heading_deg: Option<f64>,
    /// Speed through the water to keep, knots; `null` to keep the present one.
    pub speed_kn: Option<f64>,
    /// How near the bait comes to the place that is marked: the middle of the futures.
    pub bait_closest_m: Option<f64>,
    /// Seconds until it is there.
    pub in_s: Option<f64>,
    /// Chance that it passes within 15 m of that place and skips in 16 of the
    /// 20 s before; 0..1.
    pub chance: Option<f64>,
    /// The same for what was seen there: how well its place is known counts, too.
    pub chance_of_marked: Option<f64>,
    /// Whether that is likely.
    pub likely: bool,
    /// In words.
    pub because: String,
    /// Line to move with it.
    pub lines: Vec<PassLine>,
    /// Why there is no plan; `null` when there is one.
    pub refused: Option<PassRefused>,
}

impl PassLeg {
    pub(super) fn new(leg: &Leg, in_s: f64, to_rad: f64) -> Self {
        Self {
            side: if leg.by_rad < 0.0 {
                Side::Port
            } else {
                Side::Starboard
            },
            by_deg: leg.by_rad.abs().to_degrees(),
            rate_deg_s: leg.rate_rad_s.to_degrees(),
            in_s,
            then_heading_deg: to_rad.to_degrees(),
        }
    }
}

impl PassLine {
    pub(super) fn new(order: &LineOrder, in_s: f64) -> Self {
        Self {
            line: Line::Main,
            by_m: order.by_m,
            in_s,
            over_s: order.over_s,
        }
    }
}

impl PassNow {
    /// A pass of which only its state is known.
    #[must_use]
    pub fn bare(mark: u32, number: u32, state: PassState) -> Self {
        Self {
            mark,
            state,
            number,
            legs: Vec::new(),
            hold_heading_deg: None,
            speed_kn: None,
            bait_closest_m: None,
            in_s: None,
            chance: None,
            chance_of_marked: None,
            likely: false,
            because: String::new(),
            lines: Vec::new(),
            refused: None,
        }
    }

    /// A pass for which there is no plan.
    #[must_use]
    pub fn refused(mark: u32, number: u32, refused: PassRefused) -> Self {
        Self {
            refused: Some(refused),
            ..Self::bare(mark, number, PassState::Offered)
        }
    }

    pub(super) fn planned(
        mark: u32,
        number: u32,
        state: PassState,
        plan: &PassPlan,
        legs: Vec<PassLeg>,
        lines: Vec<PassLine>,
        in_s: f64,
    ) -> Self {
        let mut because = format!(
            "in {:.0} of 100 futures the bait passes within {NEAR_M:.0} m of the marked place and \
             skips; it skips there in {:.0}",
            100.0 * plan.judged.chance,
            100.0 * plan.judged.skips
        );
        if plan.beyond_limits {
            because.push_str("; in the turn it may fly or drag");
        }
        if plan.on_flat_water {
            because.push_str("; reckoned on flat water");
        }
        Self {
            legs,
            hold_heading_deg: Some(plan.hold_rad.to_degrees()),
            speed_kn: plan
                .changes_speed
                .then_some(plan.course.speed_mps / KNOT_MPS),
            bait_closest_m: Some(plan.judged.closest_m),
            in_s: Some(in_s),
            chance: Some(plan.judged.chance),
            chance_of_marked: Some(plan.judged.chance_of_marked),
            likely: plan.likely(),
            because,
            lines,
            ..Self::bare(mark, number, state)
        }
    }
}
