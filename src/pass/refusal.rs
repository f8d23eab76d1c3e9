//! Why no pass is offered.
//! In: the moment, the best plan that was found. Out: the cause and what would help, in words.

use super::judge::MOST_DOWN;
use super::mend::PassPlan;
use super::search::LONGEST_S;
use super::settled::{Bar, Settled};
use super::situation::Situation;
use crate::angles::wrap_signed;

/// Why no pass is offered.
#[derive(Debug, Clone, PartialEq)]
pub struct Refusal {
    /// The cause, in words.
    pub why: String,
    /// What would help.
    pub helps: String,
    /// The best chance that was found; `None` when no course leads there.
    pub best: Option<f64>,
}

/// The cause, given how the rig hangs at the usual speed and the best plan that was found.
pub(super) fn refusal(sit: &Situation<'_>, settled: &Settled, best: Option<&PassPlan>) -> Refusal {
    let [east, north] = sit.target.from_boat_m;
    let range_m = east.hypot(north);
    let chance = best.map(|plan| plan.judged.chance);
    let said = |why: &str, helps: &str| Refusal {
        why: why.to_owned(),
        helps: helps.to_owned(),
        best: chance,
    };
    if let Some(PassPlan { judged, .. }) = best {
        if judged.comes_down > MOST_DOWN {
            return said(
                "on the way there the kite might come down",
                "go to the other side of the mark first with small slow turns, or go faster",
            );
        }
        if judged.fouls > 0.5 {
            return said(
                "on the way there a line would probably come too near to the boat",
                "go to the other side of the mark first",
            );
        }
        if judged.skips < 0.6 {
            return said(
                "on every way there the bait probably flies or drags at the mark",
                "trim the bait until it skips and say so, or wait for a steadier wind",
            );
        }
        return said(
            "the bait would probably pass too far off",
            "wait until wind and course are steadier, or try from further away",
        );
    }
    if range_m > sit.boat.speed_mps * LONGEST_S {
        return said(
            "the mark is too far away at this speed",
            "go nearer, or faster",
        );
    }
    let bearing = wrap_signed(east.atan2(north));
    match settled.on(bearing).err().or_else(|| settled.usual_bar()) {
        Some(Bar::Light) => said(
            "on the way there the kite has too little wind",
            "go to the other side of the mark first, so that the way over it leads more into the wind, or go faster",
        ),
        Some(Bar::Line) => said(
            "on the way there the bait needs more line than can be used or moved in time",
            "go to the other side of the mark first, go slower, or use less kite line",
        ),
        Some(Bar::Kite) => said(
            "on the way there the kite would hang low or over the boat",
            "go to leeward of the mark first, or go faster",
        ),
        Some(Bar::Foul) => said(
            "on the way there a line comes too near to the boat",
            "go to the other side of the mark first",
        ),
        Some(Bar::Side) => said(
            "on the way there the kite would change sides",
            "allow that, or go to the other side of the mark first",
        ),
        Some(Bar::Sector) => said(
            "the way there leads through the sector that the captain has closed",
            "open it, or go to the other side of the mark first",
        ),
        None => said(
            "no way was found on which the bait has time to settle before the mark",
            "go further from the mark and try again",
        ),
    }
}
