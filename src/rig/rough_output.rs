//! What `skimwatch simulate` prints of a scenario in a seaway, in the format of the reference cases.
//! In: numbers of runs. Out: serialisable tables. Definitions: `rough.rs`. Knows no solver.

use serde::Serialize;

use super::output::{AfterTurn, EndReason, SteadyOut};

/// Declares numbers of one run, which are combined over seeds one by one.
macro_rules! figures {
    ($(#[$doc:meta])* $name:ident { $($(#[$field_doc:meta])* $field:ident,)* }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, Default, Serialize)]
        #[allow(non_snake_case, reason = "field names of the published format")]
        pub struct $name {
            $($(#[$field_doc])* pub $field: f64,)*
        }

        impl $name {
            /// Combined over seeds, number by number.
            pub(super) fn over<'a>(
                seeds: impl Iterator<Item = &'a Self> + Clone,
                combine: impl Fn(&[f64]) -> f64,
            ) -> Self {
                Self {
                    $($field: combine(&seeds.clone().map(|s| s.$field).collect::<Vec<_>>()),)*
                }
            }
        }
    };
}

figures! {
    /// Statistics of a steady stretch. Heights are above the mean level unless said.
    SeaStats {
        /// Share of time in contact with the water.
        contact_share,
        /// Share of time at least seven tenths under.
        under_share,
        /// Mean immersion.
        immersion_mean,
        /// Contacts after at least 0.2 s out of the water.
        touches_per_min,
        /// Mean height of the bait.
        bait_height_mean_m,
        /// Its standard deviation.
        bait_height_std_m,
        /// Greatest height of the bait over the water under it.
        bait_over_water_max_m,
        /// From the moving kite rod tip.
        kite_elevation_mean_deg,
        /// Its standard deviation.
        kite_elevation_std_deg,
        /// Main line at the rod tip.
        reel_tension_mean_N,
        /// Exceeded in 1 % of the time.
        reel_tension_p99_N,
        /// Kite line at the rod tip.
        kite_line_tension_mean_N,
        /// Exceeded in 1 % of the time.
        kite_line_tension_p99_N,
        /// Share of time without tension in the main line at the rod tip.
        reel_slack_share,
        /// Standard deviation of heave.
        heave_std_m,
        /// Of pitch.
        pitch_std_deg,
        /// Of roll.
        roll_std_deg,
        /// Of the height of the main rod tip.
        main_tip_height_std_m,
        /// Of the water's level at the bait.
        water_at_bait_std_m,
        /// Share of moments in this state.
        share_airborne,
        /// Share of moments in this state.
        share_skipping,
        /// Share of moments in this state.
        share_dragging,
    }
}

/// Statistics over all seeds.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct SeaSummary {
    /// Mean over the seeds.
    #[serde(flatten)]
    pub mean: SeaStats,
    /// Median of the longest unbroken time out of the water in a minute, s.
    pub longest_out_p50_s: f64,
    /// Its 90th percentile.
    pub longest_out_p90_s: f64,
}

/// What a turn did with one seed, or on flat water.
#[derive(Debug, Clone, Copy, Default, Serialize)]
#[allow(non_snake_case, reason = "field names of the published format")]
pub struct SeaTurn {
    /// Last contact before the end of the first airborne window; negative: out since before the
    /// turn.
    pub last_touch_before_airborne_s: Option<f64>,
    /// Start of the first dragging window.
    pub dragging_from_s: Option<f64>,
    /// Greatest height of the bait above the mean level.
    pub largest_height_m: f64,
    /// And above the water under it.
    pub largest_height_over_water_m: f64,
    /// Share of the windows after helm over.
    pub share_airborne_after: f64,
    /// Share of the windows after helm over.
    pub share_skipping_after: f64,
    /// Share of the windows after helm over.
    pub share_dragging_after: f64,
    /// Share of the time before helm over in contact.
    pub contact_share_before: f64,
    /// Greatest load of the main line at its rod tip.
    pub reel_tension_max_N: f64,
    /// Greatest load of the kite line at its rod tip.
    pub kite_line_tension_max_N: f64,
}

/// One event over the seeds.
#[derive(Debug, Clone, Copy, Default, Serialize)]
pub struct SeaEvent {
    /// Seeds with which it happened.
    pub share_of_seeds: f64,
    /// Median over these.
    pub median: Option<f64>,
    /// 10th percentile.
    pub p10: Option<f64>,
    /// 90th percentile.
    pub p90: Option<f64>,
}

/// Events of a turn over the seeds; as in [`SeaTurn`].
#[derive(Debug, Clone, Copy, Default, Serialize)]
#[allow(
    non_snake_case,
    missing_docs,
    reason = "names of the published format, explained in SeaTurn"
)]
pub struct SeaEvents {
    pub last_touch_before_airborne_s: SeaEvent,
    pub dragging_from_s: SeaEvent,
    pub largest_height_m: SeaEvent,
    pub largest_height_over_water_m: SeaEvent,
    pub share_airborne_after: SeaEvent,
    pub share_skipping_after: SeaEvent,
    pub share_dragging_after: SeaEvent,
    pub reel_tension_max_N: SeaEvent,
    pub kite_line_tension_max_N: SeaEvent,
}

/// One seed.
#[derive(Debug, Clone, Serialize)]
pub struct SeaSeed {
    /// Seed of the waves.
    pub seed: u64,
    /// Why its run ended.
    pub end_reason: EndReason,
    /// Statistics of a steady stretch.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub stats: Option<SeaStats>,
    /// Longest unbroken time out of the water in each minute of it, s.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub longest_out_s: Vec<f64>,
    /// What the turn did.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub turn: Option<SeaTurn>,
}

/// Everything `simulate` prints of a scenario in a seaway.
#[derive(Debug, Clone, Serialize)]
pub struct SeaOutput {
    /// A settled start was found and every seed's run went through.
    pub ok: bool,
    /// Why there is no settled start.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_trim: Option<String>,
    /// Settled on flat water with the main line of the scenario.
    pub steady: Option<SteadyOut>,
    /// Main line out, m.
    pub main_line_out_m: Option<f64>,
    /// Main line that puts a quarter of the bait under on flat water.
    pub trimmed_main_line_m: Option<f64>,
    /// Immersion on flat water with the line out.
    pub main_line_flat_immersion: Option<f64>,
    /// Heading at the start from the wind's eye, -180 to 180.
    pub rel_heading_deg: f64,
    /// Length of the window that decides the state, s.
    pub window_s: f64,
    /// Statistics of a steady stretch over all seeds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stats: Option<SeaSummary>,
    /// Standard deviation between seeds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stats_seed_sd: Option<SeaStats>,
    /// Events of a turn over all seeds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub events: Option<SeaEvents>,
    /// The same on flat water.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub flat_sea_events: Option<SeaTurn>,
    /// What the new heading asks on flat water.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after_turn: Option<AfterTurn>,
    /// Every seed.
    pub per_seed: Vec<SeaSeed>,
}
