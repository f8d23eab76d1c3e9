//! Output of `skimwatch simulate`, in the format of the reference cases.
//! In: samples. Out: serialisable rows. Knows no solver.

use serde::Serialize;

use super::sample::Sample;
use super::trim::Steady;
use crate::angles::wrap_positive_deg;

/// A settled state.
#[derive(Debug, Clone, Serialize)]
#[allow(non_snake_case, reason = "field names of the published format")]
pub struct SteadyOut {
    /// Largest force left on any body, N.
    pub residual_N: f64,
    /// From the kite rod tip.
    pub kite_elevation_deg: f64,
    /// From the kite rod tip.
    pub kite_azimuth_deg_true: f64,
    /// Above the sea.
    pub kite_height_m: f64,
    /// Above the sea.
    pub clip_height_m: f64,
    /// At the rod tip.
    pub kite_line_tension_at_tip_N: f64,
    /// At the kite.
    pub apparent_wind_at_kite_mps: f64,
    /// At the kite, starboard positive.
    pub apparent_wind_from_rel_bow_deg: f64,
    /// Middle of the bait above the sea.
    pub bait_height_m: f64,
    /// Share under water.
    pub immersion: f64,
    /// Behind the main rod tip.
    pub bait_aft_m: f64,
    /// To starboard of the main rod tip.
    pub bait_starboard_m: f64,
    /// At the rod tip.
    pub main_line_tension_at_reel_N: f64,
    /// At the ring.
    pub main_line_tension_at_ring_N: f64,
    /// At the bait.
    pub bait_line_tension_N: f64,
    /// Above the sea.
    pub marker_height_m: f64,
    /// Rod tip to ring.
    pub reel_leg_m: f64,
    /// Ring to bait.
    pub hang_leg_m: f64,
    /// Any line but the piece at the bait in the water.
    pub line_wet: bool,
    /// Rod tip to bait.
    pub main_line_out_m: f64,
    /// Why no crew could use this trim; absent when one could.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unusable: Option<String>,
}

/// One row of the series.
#[derive(Debug, Clone, Serialize)]
#[allow(non_snake_case, reason = "field names of the published format")]
pub struct Row {
    /// Time.
    pub t_s: f64,
    /// Heading.
    pub heading_deg_true: f64,
    /// Rate of turn.
    pub yaw_rate_deg_s: f64,
    /// From the kite rod tip.
    pub kite_elevation_deg: f64,
    /// From the kite rod tip.
    pub kite_azimuth_deg_true: f64,
    /// Above the sea.
    pub kite_height_m: f64,
    /// Above the sea.
    pub clip_height_m: f64,
    /// Middle of the bait above the sea.
    pub bait_height_m: f64,
    /// Share under water.
    pub immersion: f64,
    /// Behind the main rod tip.
    pub bait_aft_m: f64,
    /// To starboard of the main rod tip.
    pub bait_starboard_m: f64,
    /// At the rod tip.
    pub kite_line_tension_at_tip_N: f64,
    /// At the rod tip.
    pub main_line_tension_at_reel_N: f64,
    /// Rod tip to ring.
    pub reel_leg_m: f64,
    /// Boat over the ground, east.
    pub boat_x_m: f64,
    /// Boat over the ground, north.
    pub boat_y_m: f64,
    /// Fastest body relative to the boat; in the last row only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max_node_speed_rel_boat_mps: Option<f64>,
}

/// What happened.
#[derive(Debug, Clone, Default, Serialize)]
#[allow(non_snake_case, reason = "field names of the published format")]
pub struct Events {
    /// Out of the water for more than half a second.
    pub bait_leaves_water: bool,
    /// Start of the first such time.
    pub bait_leaves_at_s: Option<f64>,
    /// The same from helm over.
    pub bait_leaves_after_turn_start_s: Option<f64>,
    /// Nine tenths under for more than a second.
    pub bait_dragged: bool,
    /// Start of the first such time.
    pub bait_dragged_at_s: Option<f64>,
    /// The same from helm over.
    pub bait_dragged_after_turn_start_s: Option<f64>,
    /// In all.
    pub seconds_out_of_water: f64,
    /// In all.
    pub seconds_fully_under: f64,
    /// Greatest.
    pub max_bait_height_m: f64,
    /// When.
    pub max_bait_height_at_s: f64,
    /// Least.
    pub min_bait_height_m: f64,
    /// When.
    pub min_bait_height_at_s: f64,
    /// Least.
    pub kite_elevation_min_deg: f64,
    /// Greatest.
    pub kite_elevation_max_deg: f64,
    /// Least.
    pub clip_height_min_m: f64,
    /// Greatest.
    pub clip_height_max_m: f64,
    /// Least.
    pub kite_line_tension_min_N: f64,
    /// Greatest.
    pub kite_line_tension_max_N: f64,
    /// Least.
    pub main_line_tension_min_N: f64,
    /// Greatest.
    pub main_line_tension_max_N: f64,
}

/// What the new heading asks.
#[derive(Debug, Clone, Serialize)]
pub struct AfterTurn {
    /// New heading.
    pub heading_deg_true: f64,
    /// Main line that trims it there.
    pub trimmed_main_line_m: Option<f64>,
    /// Trimmed there less trimmed before; positive is pay out.
    pub correction_m: Option<f64>,
    /// Settled with that line.
    pub trimmed_steady: Option<SteadyOut>,
    /// Settled with the old line.
    pub steady_same_line: Option<SteadyOut>,
    /// Why there is no trim, or none a crew could use.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_trim: Option<String>,
}

/// Why a run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum EndReason {
    /// All of the time asked for.
    Duration,
    /// Kite in the water.
    KiteInWater,
    /// Kite line slack: the kite is on its way into the water.
    KiteFalls,
    /// No solution.
    Diverged,
    /// Nothing to start from.
    NoSteady,
}

/// Which way a turn goes: whether it ends nearer the wind's eye than it began.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum TurnSense {
    /// Nearer.
    Toward,
    /// Further.
    Away,
    /// As far, on the other side.
    Across,
}

/// Everything `simulate` prints.
#[derive(Debug, Clone, Serialize)]
pub struct SimulationOutput {
    /// A settled start was found and the run went through.
    pub ok: bool,
    /// Why it ended.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub end_reason: Option<EndReason>,
    /// Why there is no settled start.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_trim: Option<String>,
    /// Settled on the heading at the start.
    pub steady: Option<SteadyOut>,
    /// Main line that puts a quarter of the bait under on the heading at the start.
    pub trimmed_main_line_m: Option<f64>,
    /// Any line but the piece at the bait in the water.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line_wet: Option<bool>,
    /// Largest wet share of a piece.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line_wet_max_fraction: Option<f64>,
    /// First wet, if ever; absent when there was no run.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line_wet_first_s: Option<Option<f64>>,
    /// What happened.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub events: Option<Events>,
    /// Last row.
    #[serde(rename = "final", skip_serializing_if = "Option::is_none")]
    pub last: Option<Row>,
    /// Every half second.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub series: Vec<Row>,
    /// What the new heading asks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after_turn: Option<AfterTurn>,
    /// Heading from the wind's eye when there is no turn, -180 to 180.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rel_heading_deg: Option<f64>,
    /// The same before a turn.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rel_heading_before_deg: Option<f64>,
    /// And after it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rel_heading_after_deg: Option<f64>,
    /// Which way the turn goes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub turn_sense: Option<TurnSense>,
}

pub(crate) fn told(s: &Steady, unusable: Option<String>) -> SteadyOut {
    let p = &s.sample;
    SteadyOut {
        residual_N: s.residual_n,
        kite_elevation_deg: p.kite_elevation_rad.to_degrees(),
        kite_azimuth_deg_true: p.kite_azimuth_rad.to_degrees(),
        kite_height_m: p.kite_height_m,
        clip_height_m: p.clip_height_m,
        kite_line_tension_at_tip_N: p.kite_line_tension_n,
        apparent_wind_at_kite_mps: p.apparent_wind_at_kite_mps,
        apparent_wind_from_rel_bow_deg: p.apparent_wind_at_kite_from_bow_rad.to_degrees(),
        bait_height_m: p.bait_height_m,
        immersion: p.immersion,
        bait_aft_m: p.bait_aft_m,
        bait_starboard_m: p.bait_starboard_m,
        main_line_tension_at_reel_N: p.main_line_tension_n,
        main_line_tension_at_ring_N: p.main_line_tension_at_ring_n,
        bait_line_tension_N: p.bait_line_tension_n,
        marker_height_m: p.marker_height_m,
        reel_leg_m: p.reel_leg_m,
        hang_leg_m: p.hang_leg_m,
        line_wet: p.line_wet_fraction > 0.0,
        main_line_out_m: s.main_line_m,
        unusable,
    }
}

pub(crate) fn row(s: &Sample, boat: [f64; 2]) -> Row {
    Row {
        t_s: s.t_s,
        heading_deg_true: wrap_positive_deg(s.heading_rad.to_degrees()),
        yaw_rate_deg_s: s.yaw_rate_rad_s.to_degrees(),
        kite_elevation_deg: s.kite_elevation_rad.to_degrees(),
        kite_azimuth_deg_true: s.kite_azimuth_rad.to_degrees(),
        kite_height_m: s.kite_height_m,
        clip_height_m: s.clip_height_m,
        bait_height_m: s.bait_height_m,
        immersion: s.immersion,
        bait_aft_m: s.bait_aft_m,
        bait_starboard_m: s.bait_starboard_m,
        kite_line_tension_at_tip_N: s.kite_line_tension_n,
        main_line_tension_at_reel_N: s.main_line_tension_n,
        reel_leg_m: s.reel_leg_m,
        boat_x_m: boat[0],
        boat_y_m: boat[1],
        max_node_speed_rel_boat_mps: None,
    }
}
