//! All of today's rig: every kite, the best of them and why, the tackle.
//! In: locker and day. Out: the report.

use serde::Serialize;
use utoipa::ToSchema;

use super::check::{Check, Verdict};
use super::day::{Day, DayOrigin};
use super::kite::{KiteToday, Settled, kite_today};
use super::parts::Locker;
use super::swaps::{Swap, swaps};
use super::tackle::{Asked, tackle_checks};
use crate::rig::Kite;

/// What the kite of `[rig]` is called.
const FLOWN: &str = "flown now";

/// Today's rig.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RigToday {
    /// The day looked at.
    pub day: Day,
    /// Where its numbers come from.
    pub origin: DayOrigin,
    /// Wind of the lulls at 10 m: as far below the mean as the gusts are above it (assumption).
    pub lull_mps: f64,
    /// Every kite: the one flown now, then those of the locker.
    pub kites: Vec<KiteToday>,
    /// Name of the kite to fly; `null` when none can be fished.
    pub best: Option<String>,
    /// Why that one, or why none.
    pub why: String,
    /// Lines, leader, band, ring, reels, for the best kite.
    pub tackle: Vec<Check>,
    /// Other parts of the locker in place of those in use, with the best kite.
    pub swaps: Vec<Swap>,
}

/// Looks at every kite and all tackle for a day.
#[must_use]
pub fn rig_today(locker: &Locker, day: &Day, origin: DayOrigin) -> RigToday {
    let flown = std::iter::once((FLOWN, &locker.flown.kite));
    let others = locker
        .kites
        .iter()
        .map(|named| (named.name.as_str(), &named.part));
    let found: Vec<(KiteToday, Option<Settled>, &Kite)> = flown
        .chain(others)
        .map(|(name, kite)| {
            let (today, settled) = kite_today(locker, day, name, kite);
            (today, settled, kite)
        })
        .collect();
    let best = found
        .iter()
        .filter(|(today, ..)| today.verdict != Verdict::Wrong)
        .max_by(|(a, ..), (b, ..)| rank(a).total_cmp(&rank(b)));
    let asked = Asked {
        settled: best.and_then(|(_, settled, _)| settled.as_ref()),
        kite_line_out_m: day.kite_line_out_m,
    };
    RigToday {
        day: *day,
        origin,
        lull_mps: day.lull_mps(),
        why: why(
            &found.iter().map(|(today, ..)| today).collect::<Vec<_>>(),
            best.map(|(today, ..)| today),
        ),
        tackle: tackle_checks(locker, asked),
        swaps: best.map_or_else(Vec::new, |(_, _, kite)| swaps(locker, day, kite)),
        best: best.map(|(today, ..)| today.name.clone()),
        kites: found.into_iter().map(|(today, ..)| today).collect(),
    }
}

/// The kite of `[rig]` alone.
#[must_use]
pub fn flown_today(locker: &Locker, day: &Day) -> KiteToday {
    kite_today(locker, day, FLOWN, &locker.flown.kite).0
}

/// Good ones before others, then by margin.
fn rank(kite: &KiteToday) -> f64 {
    let good = f64::from(u8::from(kite.verdict == Verdict::Good));
    // A margin is positive and in practice below ten.
    1e3 * good + kite.margin.unwrap_or(0.0)
}

fn why(kites: &[&KiteToday], best: Option<&KiteToday>) -> String {
    let good = kites
        .iter()
        .filter(|kite| kite.verdict == Verdict::Good)
        .count();
    match (best, good) {
        (None, _) => {
            let flown = kites.first().and_then(|kite| kite.cannot.clone());
            format!(
                "no kite aboard can be fished in this wind. The one flown now: {}",
                flown.unwrap_or_default()
            )
        }
        (Some(_), 0) => "no kite goes from lull to gust with all parts within their shares; this one comes nearest".to_owned(),
        (Some(_), 1) => "the only one that goes from lull to gust with all parts within their shares".to_owned(),
        (Some(_), _) => "of those that go from lull to gust with all parts within their shares, it keeps furthest from both ends of its range of wind".to_owned(),
    }
}
