//! The kite wound in: its path, the load at the rod, the force at the handle, pace and time.
//! In: the situation and a heading. Out: one row a length.

use serde::Serialize;
use utoipa::ToSchema;

use super::situation::Situation;
use crate::rig::{Conditions, KiteAlone, KiteAloneIn};

/// The kite at one length of line.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct WindingPoint {
    /// Kite line out.
    pub kite_line_out_m: f64,
    /// Kite astern of the transom; negative is ahead.
    pub aft_m: f64,
    /// Kite to starboard of the middle.
    pub starboard_m: f64,
    /// Kite above the sea.
    pub up_m: f64,
    /// Load at the rod.
    pub load_n: f64,
    /// Pace of one person against it.
    pub pace_mps: f64,
}

/// The kite coming in.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Winding {
    /// From all line out to nearly none.
    pub path: Vec<WindingPoint>,
    /// Greatest load at the rod in the mean wind.
    pub load_n: f64,
    /// The same in gusts.
    pub gust_load_n: f64,
    /// Gust load as a share of what the rod's holder withstands; `null` when that is not set.
    pub holder_share: Option<f64>,
    /// Gust load as a share of the kite line's strength; `null` when that is not set.
    pub line_share: Option<f64>,
    /// Force at the handle in the mean wind, with an assumed reel.
    pub handle_n: f64,
    /// Time for all of it at one person's pace.
    pub time_s: f64,
}

/// Lengths of the path, as shares of what is out.
const SHARES: [f64; 8] = [1.0, 0.85, 0.7, 0.55, 0.4, 0.25, 0.12, 0.05];

/// Winds the kite in on a steady heading, as far as it stays up. `None` when it does not fly.
#[must_use]
pub fn wind_in(s: &Situation<'_>, kite_in: &KiteAloneIn<'_>, heading_rad: f64) -> Option<Winding> {
    let mut path = Vec::with_capacity(SHARES.len());
    let mut gust_load_n: f64 = 0.0;
    for share in SHARES {
        let conditions = s.conditions(heading_rad, share * s.kite_line_out_m);
        let Some((kite, pace_mps)) = wound(s, kite_in, &conditions) else {
            break;
        };
        let mut gust = conditions;
        gust.wind.speed_10m_mps = s.gust_mps.max(s.wind.speed_10m_mps);
        let in_gust = kite_in.fly(&gust, pace_mps);
        gust_load_n = gust_load_n.max(in_gust.map_or(kite.load_n, |kite| kite.load_n));
        let [aft_m, starboard_m, up_m] = kite.kite_m();
        path.push(WindingPoint {
            kite_line_out_m: share * s.kite_line_out_m,
            aft_m,
            starboard_m,
            up_m,
            load_n: kite.load_n,
            pace_mps,
        });
    }
    let last = path.last()?;
    let load_n = path.iter().map(|p| p.load_n).fold(0.0, f64::max);
    let between_s: f64 = path
        .windows(2)
        .map(|w| match w {
            [a, b] => {
                2.0 * (a.kite_line_out_m - b.kite_line_out_m) / (a.pace_mps + b.pace_mps).max(1e-9)
            }
            _ => 0.0,
        })
        .sum();
    let time_s = between_s + last.kite_line_out_m / last.pace_mps.max(1e-9);
    let p = s.rig.parameters();
    Some(Winding {
        load_n,
        gust_load_n,
        holder_share: p.rod_holder_strength_n.map(|n| gust_load_n / n),
        line_share: p.kite_line.strength_n.map(|n| gust_load_n / n),
        handle_n: s.winder.handle_n(load_n),
        time_s,
        path,
    })
}

/// The kite at one length, and its pace. Winding adds to the wind at the kite: the pace against the
/// load that this pace makes.
fn wound(
    s: &Situation<'_>,
    kite_in: &KiteAloneIn<'_>,
    conditions: &Conditions,
) -> Option<(KiteAlone, f64)> {
    let mut pace_mps = s.winder.pace_mps(kite_in.fly(conditions, 0.0)?.load_n);
    let mut kite = kite_in.fly(conditions, pace_mps)?;
    for _ in 0..3 {
        pace_mps = s.winder.pace_mps(kite.load_n);
        kite = kite_in.fly(conditions, pace_mps)?;
    }
    Some((kite, pace_mps))
}
