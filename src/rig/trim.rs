//! A trim: what is asked of the settled solver, what it answers, and which answers no crew can use.
//! Types and limits only; it must not know how a trim is found.

use thiserror::Error;

use super::parameters::RigError;
use super::sample::{Sample, State};

/// What is given of the main line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum MainLine {
    /// This much is out, m.
    Out(f64),
    /// As much as puts this share of the bait under water, 0 to 1.
    Immersion(f64),
}

/// A settled rig.
#[derive(Debug, Clone)]
pub struct Steady {
    /// Main line out, m.
    pub main_line_m: f64,
    /// What it looks like.
    pub sample: Sample,
    /// Largest force left on any body or node, N.
    pub residual_n: f64,
    /// State to go on from.
    pub state: State,
}

/// Why there is no usable trim, and what would make one.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum NoTrim {
    /// A number given makes no sense.
    #[error("conditions refused: {}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    Refused(Vec<RigError>),
    /// The kite does not carry itself, line and bait.
    #[error(
        "too little wind: {apparent_mps:.1} m/s at the kite lifts {lift_n:.1} N against {weight_n:.1} N of kite, line and bait. More boat speed toward the wind, a larger kite or a lighter bait would make it fly"
    )]
    TooLittleWind {
        /// Apparent wind at the kite, m/s.
        apparent_mps: f64,
        /// Lift there, N.
        lift_n: f64,
        /// What it has to carry, N.
        weight_n: f64,
    },
    /// More main line than a crew works with, or none is enough.
    #[error(
        "too much wind on the hanging line: it would need {} of main line out. A shorter kite line, a heading further from the wind, less speed or a smaller kite would make it fishable",
        .main_line_m.map_or_else(|| "more than any length".to_owned(), |m| format!("{m:.0} m"))
    )]
    TooMuchLine {
        /// The formal length, when there is one, m.
        main_line_m: Option<f64>,
    },
    /// The bait hangs ahead of the boat.
    #[error(
        "the bait would hang {ahead_m:.0} m ahead of the rod tip. More boat speed or a heading away from dead downwind would bring it astern"
    )]
    BaitAhead {
        /// How far ahead of the main rod tip, m.
        ahead_m: f64,
    },
    /// The kite hangs too low to carry the lines clear.
    #[error(
        "the kite would hang at {elevation_deg:.0} degrees only. More apparent wind or a kite with more lift is needed"
    )]
    KiteLow {
        /// Elevation from the rod tip, degrees.
        elevation_deg: f64,
    },
    /// A line other than the one at the bait lies in the water.
    #[error("line would lie in the water. More kite line or less main line would lift it clear")]
    LineInWater,
    /// The solver found no balance; nothing may be concluded from it.
    #[error("no balance found within {steps} solver steps (force left {residual_n:.3} N)")]
    NotConverged {
        /// Steps tried.
        steps: u32,
        /// Force left over, N.
        residual_n: f64,
    },
}

/// Longest main line a crew works with, m (common practice, no source; the reference cases call
/// over 300 m no usable trim).
pub const LONGEST_MAIN_LINE_M: f64 = 300.0;
/// Lowest kite that keeps its lines clear, radians (own limit: about 20 degrees).
pub const LOWEST_KITE_RAD: f64 = 0.35;
/// The bait may lie this far forward of the beam, as aft over starboard (about 20 degrees, own
/// limit): further ahead the boat runs over its line.
const FORWARD_OF_BEAM: f64 = -0.364;

/// Immersion to which a skipping bait is trimmed: the middle of its band (the reference cases use
/// the same).
pub const TRIM_IMMERSION: f64 = 0.25;

/// Why no crew could use this settled state.
pub(crate) fn unusable(found: &Steady, main_line: MainLine) -> Option<NoTrim> {
    let s = &found.sample;
    let trimmed = matches!(main_line, MainLine::Immersion(_));
    if s.kite_elevation_rad < LOWEST_KITE_RAD {
        return Some(NoTrim::KiteLow {
            elevation_deg: s.kite_elevation_rad.to_degrees(),
        });
    }
    if trimmed && found.main_line_m > LONGEST_MAIN_LINE_M {
        return Some(NoTrim::TooMuchLine {
            main_line_m: Some(found.main_line_m),
        });
    }
    if s.bait_aft_m < FORWARD_OF_BEAM * s.bait_starboard_m.abs() && s.bait_aft_m < -1.0 {
        return Some(NoTrim::BaitAhead {
            ahead_m: -s.bait_aft_m,
        });
    }
    (trimmed && s.line_wet_fraction > 0.0).then_some(NoTrim::LineInWater)
}
