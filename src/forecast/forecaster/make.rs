//! Makes the forecast: futures, chances, plan, fan, limits, drawings of the rig.

use std::sync::Arc;

use super::ready::Ready;
use super::{Forecaster, Made, Settled};
use crate::forecast::ahead::Ahead;
use crate::forecast::air::Gusts;
use crate::forecast::chances::{Weighted, bands, chances, moments_s, share};
use crate::forecast::effort::Effort;
use crate::forecast::ensemble::Ensemble;
use crate::forecast::fan::fan;
use crate::forecast::future::{Course, Move, run_from};
use crate::forecast::limit::limit;
use crate::forecast::plan::{plan, steps};
use crate::forecast::settings::ForecastSettings;
use crate::forecast::shape::{
    ChanceKind, Forecast, Lack, LinePlan, NoForecast, RigView, TurnAhead,
};
use crate::forecast::strain::{clearances_ahead, loads_ahead};
use crate::forecast::view::view;
use crate::time::Millis;
use crate::turn::{Outlook, TurnSource, wrap_rad};
use crate::vessel::{DeckNow, VesselNow};

/// A plan is searched for from this chance on.
const PLAN_FROM: f64 = 0.15;
/// Nothing hangs: said with what would help.
const UNBALANCED: &str = "the model finds no way this kite, line and bait hang in this wind: check \
     kite, line out and wind sensor; in very little wind the kite does not fly";
/// Interval between plan searches; in between the last plan is carried on.
const SEARCH_S: f64 = 6.0;

impl Forecaster {
    /// The last forecast, if it is still valid.
    fn stands(&self, at: Millis, outlook: &Outlook, news: bool) -> Option<Arc<Forecast>> {
        let made = self.made.as_ref().filter(|_| !news)?;
        let age = at.seconds_since(made.forecast.made_at);
        let turns = key(at, outlook, self.settings.horizon_s);
        let calm = turns.is_empty() && !outlook.turning;
        let same = made.turns.len() == turns.len()
            && (calm || age < 0.9)
            && made.turns.iter().zip(&turns).all(|(made, now)| {
                made.0 == now.0
                    && now.1.seconds_since(made.1).abs() < 1.5
                    && wrap_rad(now.2 - made.2).abs() < 0.05
            });
        (same && (0.0..self.settings.calm_refresh_s).contains(&age))
            .then(|| Arc::clone(&made.forecast))
    }

    pub(super) fn make(
        &mut self,
        at: Millis,
        vessel: &VesselNow,
        deck: &DeckNow,
        outlook: &Outlook,
        ready: &Ready,
        news: bool,
    ) -> Result<Arc<Forecast>, NoForecast> {
        if let Some(standing) = self.stands(at, outlook, news) {
            return Ok(standing);
        }
        let settings = self.settings;
        let ensemble = self.ensemble.take().unwrap_or_else(|| self.first_members());
        let structures = Arc::clone(&self.structures);
        let ahead = Ahead::new(
            at,
            &settings,
            &ensemble,
            ready.profile.clone(),
            ready.speed_mps,
            self.air.spread(),
            vessel.wind_statistics.as_ref(),
        )
        .minding(&structures)
        .within(ready.effort);
        let futures = ahead.all();
        let mut turns = turns_ahead(outlook, ready).into_iter();
        let turn = turns.next();
        let for_deg = turn.map(|t| t.by_deg).filter(|by| by.abs() >= 10.0);
        self.settle(at, &ahead, &ensemble, for_deg, news);
        let trouble = [ChanceKind::BaitAirborne, ChanceKind::BaitDragging]
            .into_iter()
            .map(|kind| share(&futures, kind, &settings))
            .fold(0.0, f64::max);
        let planned = (trouble >= PLAN_FROM).then(|| {
            let lines_at = deck.lines_at.unwrap_or(at);
            let last = self.plan.take();
            let carried = last.as_ref().filter(|(_, lines, _)| *lines == lines_at);
            let age = carried.map_or(f64::INFINITY, |(when, ..)| at.seconds_since(*when));
            let changed = news
                || self
                    .made
                    .as_ref()
                    .is_none_or(|made| made.turns.len() != ready.profile.turns.len());
            let search = changed || age >= SEARCH_S;
            let passed_s = self
                .made
                .as_ref()
                .map_or(0.0, |made| at.seconds_since(made.forecast.made_at));
            let moved_on = carried.map(|(_, _, moves)| {
                moves
                    .iter()
                    .map(|step| Move {
                        start_s: (step.start_s - passed_s).max(0.0),
                        ..*step
                    })
                    .collect()
            });
            let planned = plan(&ahead, &futures, moved_on, search);
            (
                planned,
                if search {
                    at
                } else {
                    carried.map_or(at, |c| c.0)
                },
                lines_at,
            )
        });
        let views = views(&ahead, &ensemble, vessel, at).filter(|_| !futures.is_empty());
        let Some((rig_now, rig_then)) = views else {
            self.made = None;
            self.ensemble = Some(ensemble);
            return Err(NoForecast::of(vec![(Lack::Balance, UNBALANCED.to_owned())]));
        };
        let t_s = moments_s(settings.horizon_s);
        let with_plan = planned
            .as_ref()
            .and_then(|(planned, ..)| planned.futures.as_deref());
        let settled = self.settled.as_ref();
        let forecast = Arc::new(Forecast {
            made_at: at,
            horizon_s: settings.horizon_s,
            members: futures.len(),
            basis: basis(&futures, ensemble.members.len(), ready.effort, &settings),
            hands: settings.hands,
            bait_height_m: bands(&futures, &t_s, |t| &t.bait_height_m),
            immersion: bands(&futures, &t_s, |t| &t.immersion),
            kite_elevation_deg: bands(&futures, &t_s, |t| &t.elevation_deg),
            kite_off_astern_deg: bands(&futures, &t_s, |t| &t.off_astern_deg),
            bait_height_with_plan_m: with_plan
                .map_or_else(Vec::new, |f| bands(f, &t_s, |t| &t.bait_height_m)),
            chances: chances(&futures, with_plan, &settings),
            loads: self
                .base
                .as_ref()
                .map_or_else(Vec::new, |base| loads_ahead(&futures, base)),
            clearances: clearances_ahead(&futures, &structures),
            turn,
            turns_after: turns.collect(),
            plan: planned.as_ref().map(|(planned, ..)| LinePlan {
                steps: steps(&planned.moves, &settings),
                skipping_without: planned.skipping_without,
                skipping_with: planned.skipping_with,
                shortfall: planned.shortfall.clone(),
            }),
            turn_limit: settled.map(|s| s.limit.clone()),
            fan: settled.map_or_else(Vec::new, |s| s.fan.clone()),
            rig_now,
            rig_then,
            crew: self.crew(at, deck),
            t_s,
        });
        self.plan =
            planned.map(|(planned, searched, lines_at)| (searched, lines_at, planned.moves));
        self.made = Some(Made {
            forecast: Arc::clone(&forecast),
            turns: key(at, outlook, settings.horizon_s),
        });
        self.ensemble = Some(ensemble);
        Ok(forecast)
    }

    /// Fan and limits, recomputed only when they may have changed.
    fn settle(
        &mut self,
        at: Millis,
        ahead: &Ahead<'_>,
        ensemble: &Ensemble,
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
                && wrap_rad(old.heading_rad - heading_rad).abs() < 0.15
        });
        if stands {
            return;
        }
        self.settled = Some(Settled {
            at,
            for_deg,
            heading_rad,
            fan: fan(
                &ensemble.typical,
                ahead.settings,
                heading_rad,
                ahead.speed_mps,
                ahead.structures,
            ),
            limit: limit(ahead, for_deg),
        });
    }
}

fn basis(
    futures: &[Weighted],
    members: usize,
    effort: Effort,
    settings: &ForecastSettings,
) -> String {
    let lost = futures
        .iter()
        .filter(|f| f.trace.ended_s.is_some() && !f.trace.kite_down)
        .map(|f| f.weight)
        .sum::<f64>();
    let mut words = format!(
        "Share of {} futures with other rigs, winds and gusts, drawn from {members} beliefs.",
        futures.len()
    );
    if effort.futures(settings.futures) < settings.futures {
        words.push_str(&format!(
            " Coarser than usual: the computer has no time for the {} wanted.",
            settings.futures
        ));
    }
    if lost > 0.05 {
        words.push_str(&format!(
            " In {:.0} of 100 the model gave up before the end.",
            100.0 * lost
        ));
    }
    words
}

/// What a forecast is made for: source, start and heading after it of each turn within the
/// horizon.
fn key(at: Millis, outlook: &Outlook, horizon_s: f64) -> Vec<(TurnSource, Millis, f64)> {
    let Some(profile) = &outlook.profile else {
        return Vec::new();
    };
    let turns = outlook.turns.iter().enumerate();
    turns
        .take_while(|(_, turn)| turn.starts_in_s < horizon_s)
        .map(|(i, turn)| {
            let starts_at = at.plus_seconds(turn.starts_in_s);
            (turn.source, starts_at, profile.heading_after_rad(i + 1))
        })
        .collect()
}

/// The turns within the horizon in the units that people read.
fn turns_ahead(outlook: &Outlook, ready: &Ready) -> Vec<TurnAhead> {
    let profile = &ready.profile;
    let turns = outlook.turns.iter().zip(&profile.turns).enumerate();
    turns
        .map(|(i, (turn, _))| TurnAhead {
            source: turn.source,
            starts_in_s: turn.starts_in_s,
            by_deg: turn.by_rad.to_degrees(),
            rate_deg_s: turn.rate_rad_s.to_degrees(),
            to_heading_deg_true: profile.heading_after_rad(i + 1).to_degrees(),
            chance: turn.doubt.chance,
        })
        .collect()
}

/// The typical rig now and at the end of the first turn, or of the horizon.
fn views(
    ahead: &Ahead<'_>,
    ensemble: &Ensemble,
    vessel: &VesselNow,
    at: Millis,
) -> Option<(RigView, RigView)> {
    let typical = &ensemble.typical;
    let (rig, state) = (typical.rig.as_ref()?, typical.state.clone()?);
    let (air, lines) = (typical.air?, typical.lines?);
    let horizon_s = ahead.settings.horizon_s;
    let then_s = if ahead.profile.turns.is_empty() {
        horizon_s
    } else {
        (ahead.profile.helm_done_s(0) + 2.0 * ahead.profile.yaw_time_constant_s)
            .ceil()
            .min(horizon_s)
    };
    let winds = Gusts::none().path(
        at,
        &air,
        (0.0, 0.0),
        vessel.wind_statistics.as_ref(),
        horizon_s,
    );
    let course = Course {
        profile: ahead.profile.clone(),
        speed_mps: ahead.speed_mps,
        winds: &winds,
        lines,
        moves: &[],
        structures: &[],
    };
    let (mut now, mut then) = (None, None);
    run_from(rig, state, course, then_s, |t_s, sample| {
        let drawn = view(t_s, sample);
        if now.is_none() {
            now = Some(drawn.clone());
        }
        then = Some(drawn);
    });
    now.zip(then)
}
