//! The plan: what hands should do with the lines, how fast the helm may turn, and what each heading
//! would bring.
//!
//! In: the futures and what they share. Out: a [`Planned`] while trouble is likely, turn limits and
//! fan. Kept from one forecast to the next, because an order to the hands must not flicker, and
//! because limits and fan cost much and change slowly.

mod fan;
mod limit;
mod needs;
mod plainly;
mod portions;
mod search;

use crate::angles::wrap_signed;
use crate::forecast::filter::Particle;
use crate::forecast::futures::{Ahead, Move, Weighted, share};
use crate::forecast::shape::{FanHeading, TurnLimit};
use crate::forecast::trouble::Trouble;
use crate::time::Millis;
use fan::fan;
use limit::limit;
use portions::carried_on;
use search::{Search, plan};

pub use limit::beside;
pub use search::{Planned, steps};

/// A plan is searched for from this chance of trouble on.
pub const PLAN_FROM: f64 = 0.15;
/// Interval between plan searches with a turn ahead, and without; in between the last plan is
/// carried on.
const SEARCH_S: f64 = 6.0;
const SEARCH_STRAIGHT_S: f64 = 12.0;

/// What the plan was at the last forecast.
#[derive(Debug, Clone, Default)]
pub struct Planner {
    shown: Option<Shown>,
    /// When the last forecast was made, and its number of turns.
    last: Option<(Millis, usize)>,
    settled: Option<Settled>,
}

#[derive(Debug, Clone)]
struct Shown {
    searched_at: Millis,
    /// When the crew last changed the line count: a plan is for the line that was out.
    lines_at: Option<Millis>,
    moves: Vec<Move>,
}

/// Turn limits and fan, with what they were computed for.
#[derive(Debug, Clone)]
pub struct Settled {
    at: Millis,
    for_deg: Option<f64>,
    heading_rad: f64,
    pub fan: Vec<FanHeading>,
    pub limit: TurnLimit,
}

/// What a forecast is planned for.
#[derive(Debug, Clone, Copy)]
pub struct Occasion {
    pub at: Millis,
    /// When the crew last changed the line count; `None` while it is that of the settings.
    pub lines_at: Option<Millis>,
    /// The crew has reported something.
    pub news: bool,
}

impl Planner {
    /// No forecast could be made.
    pub fn interrupted(&mut self) {
        self.last = None;
    }

    /// Whether the plan that is shown asks hands to move line.
    pub fn asks(&self) -> bool {
        self.shown
            .as_ref()
            .is_some_and(|shown| !shown.moves.is_empty())
    }

    /// The plan while trouble is likely.
    pub fn plan(
        &mut self,
        occasion: Occasion,
        ahead: &Ahead<'_>,
        futures: &[Weighted],
    ) -> Option<Planned> {
        let _span = tracing::trace_span!("plan").entered();
        let Occasion { at, lines_at, news } = occasion;
        let turns = ahead.profile.turns.len();
        let last = self.last.replace((at, turns));
        let shown = self.shown.take();
        let trouble = [Trouble::BaitAirborne, Trouble::BaitDragging]
            .into_iter()
            .map(|kind| share(futures, kind, ahead.settings))
            .fold(0.0, f64::max);
        if trouble < PLAN_FROM {
            return None;
        }
        let carried = shown.filter(|shown| shown.lines_at == lines_at);
        let age = carried
            .as_ref()
            .map_or(f64::INFINITY, |shown| at.seconds_since(shown.searched_at));
        let changed = news || last.is_none_or(|(_, before)| before != turns);
        let interval_s = if turns > 0 {
            SEARCH_S
        } else {
            SEARCH_STRAIGHT_S
        };
        let search = if changed {
            Search::Anew
        } else if age >= interval_s {
            Search::Steady
        } else {
            Search::No
        };
        let passed_s = last.map_or(0.0, |(made_at, _)| at.seconds_since(made_at));
        let searched_at = match &carried {
            Some(shown) if search == Search::No => shown.searched_at,
            _ => at,
        };
        let moved_on =
            carried.map(|shown| carried_on(shown.moves, passed_s, &ahead.settings.hands));
        let planned = plan(ahead, futures, moved_on, search);
        self.shown = Some(Shown {
            searched_at,
            lines_at,
            moves: planned.moves.clone(),
        });
        Some(planned)
    }

    /// Fan and limits, recomputed only when they may have changed; `for_deg` is the change of
    /// heading of the coming turn.
    pub fn settle(
        &mut self,
        at: Millis,
        ahead: &Ahead<'_>,
        typical: &Particle,
        for_deg: Option<f64>,
        news: bool,
    ) {
        let heading_rad = ahead.profile.heading_rad;
        let stands = self.settled.as_ref().is_some_and(|old| {
            let same_turn = match (old.for_deg, for_deg) {
                (Some(a), Some(b)) => (a.abs() - b.abs()).abs() < 15.0,
                (None, None) => true,
                // The end of a turn does not need new limits at once.
                (Some(_), None) => true,
                (None, Some(_)) => false,
            };
            let age = at.seconds_since(old.at);
            // When time is short they are recomputed less often, and not after every report.
            let share = ahead.effort.share(ahead.settings);
            (!news || share < 1.0)
                && same_turn
                && (0.0..ahead.settings.settled_refresh_s / share).contains(&age)
                && wrap_signed(old.heading_rad - heading_rad).abs() < 0.15
        });
        if stands {
            return;
        }
        self.settled = Some(Settled {
            at,
            for_deg,
            heading_rad,
            fan: fan(typical, ahead),
            limit: limit(ahead, for_deg),
        });
    }

    /// Fan and limits as last computed.
    pub fn settled(&self) -> Option<&Settled> {
        self.settled.as_ref()
    }
}
