//! Makes the forecast: futures, chances, plan, fan, limits, drawings of the rig.

use super::air::{AirMemory, WindOnward};
use super::basis::crew;
use super::effort::Effort;
use super::filter::{Filter, Particle};
use super::futures::{
    Ahead, Coming, Course, Gusts, Slot, Weighted, bait_ahead, bands, chances, clearances_ahead,
    loads_ahead, moments_s, run_from, view,
};
use super::helm::HelmMemory;
use super::lack::{Lack, NoForecast};
use super::memory::KiteMemory;
use super::plan::{Occasion, Planned, Planner, beside, steps};
use super::ready::Ready;
use super::sea::{Meeting, SeaAhead, SeaReckoned, reckon};
use super::settings::ForecastSettings;
use super::shape::{Forecast, LinePlan, RigView, TurnAhead};
use super::standing::Made;
use crate::rig::{RigParameters, Structure};
use crate::time::Millis;
use crate::turn::Outlook;
use crate::vessel::DeckNow;

/// Nothing hangs: said with what would help.
const UNBALANCED: &str = "the model finds no way this kite, line and bait hang in this wind: check \
     kite, line out and wind sensor; in very little wind the kite does not fly";
/// What a forecast is made of, and the planner that carries the plan from one to the next.
pub(super) struct Parts<'a> {
    pub settings: &'a ForecastSettings,
    pub rig: Option<&'a RigParameters>,
    pub structures: &'a [Structure],
    pub air: &'a AirMemory,
    pub helm: &'a HelmMemory,
    pub filter: &'a Filter,
    pub slots: &'a [Slot],
    pub memory: &'a KiteMemory,
    pub planner: &'a mut Planner,
}

impl Parts<'_> {
    /// Makes a forecast.
    pub fn make(
        self,
        at: Millis,
        deck: &DeckNow,
        outlook: &Outlook,
        ready: &Ready,
        news: bool,
    ) -> Result<Made, NoForecast> {
        let settings = self.settings;
        let unbalanced = || NoForecast::of(vec![(Lack::Balance, UNBALANCED.to_owned())]);
        let particles = self.filter.particles().ok_or_else(unbalanced)?;
        let wind = self.air.onward().ok_or_else(unbalanced)?;
        let helm = self.helm.onward().ok_or_else(unbalanced)?;
        let typical = particles.typical();
        let sea = sea(settings, typical, ready);
        let sea_ahead = sea.zip(typical.rig.as_ref());
        let sea_ahead = sea_ahead.map(|((sea, meeting), rig)| SeaAhead::new(&sea, rig, meeting));
        let mut ahead = Ahead::new(
            at,
            settings,
            particles,
            self.slots,
            Coming {
                profile: ready.profile.clone(),
                speed_mps: ready.speed_mps,
                wind,
                helm,
            },
        )
        .minding(self.structures)
        .at_sea(sea_ahead)
        .within(ready.effort);
        let futures = tracing::trace_span!("futures").in_scope(|| ahead.run_enough());
        let mut turns = turns_ahead(outlook, ready).into_iter();
        let turn = turns.next();
        let for_deg = turn.map(|t| t.by_deg).filter(|by| by.abs() >= 10.0);
        self.planner.settle(at, &ahead, typical, for_deg, news);
        let occasion = Occasion {
            at,
            lines_at: deck.lines_at,
            news,
        };
        let planned = self.planner.plan(occasion, &ahead, &futures);
        let views = views(&ahead, typical, wind, at).filter(|_| !futures.is_empty());
        let (rig_now, rig_then) = views.ok_or_else(unbalanced)?;
        let with_plan = planned.as_ref().and_then(|plan| plan.futures.as_deref());
        let settled = self.planner.settled();
        let rig = self.rig;
        let t_s = moments_s(settings.horizon_s);
        let fallen = particles.fallen();
        let chances = chances(&futures, with_plan, fallen, settings);
        let turn_limit = settled.map(|s| beside(s.limit.clone(), turn.as_ref(), &chances));
        let forecast = Forecast {
            made_at: at,
            horizon_s: settings.horizon_s,
            futures: futures.len(),
            basis: basis(
                &futures,
                (particles.all().len(), fallen),
                ready.effort,
                settings,
            ),
            hands: settings.hands,
            bait_height_m: bands(&futures, &t_s, |t| &t.bait_height_m),
            immersion: bands(&futures, &t_s, |t| &t.immersion),
            kite_elevation_deg: bands(&futures, &t_s, |t| &t.elevation_deg),
            kite_off_astern_deg: bands(&futures, &t_s, |t| &t.off_astern_deg),
            bait_height_with_plan_m: with_plan
                .map_or_else(Vec::new, |f| bands(f, &t_s, |t| &t.bait_height_m)),
            chances,
            loads: rig.map_or_else(Vec::new, |rig| loads_ahead(&futures, rig)),
            clearances: clearances_ahead(&futures, self.structures),
            turn,
            turns_after: turns.collect(),
            plan: planned.as_ref().map(|planned| line_plan(planned, settings)),
            turn_limit,
            fan: settled.map_or_else(Vec::new, |s| s.fan.clone()),
            rig_now,
            rig_then,
            bait_track: bait_ahead(&futures, settings.horizon_s),
            sea: sea.map(|(sea, _)| sea),
            crew: crew(at, deck, self.filter, self.memory, rig, &settings.doubt),
            t_s,
        };
        Ok(Made::new(forecast, outlook, ready, particles))
    }
}

/// The sea to reckon with, and how the boat meets it.
fn sea(
    settings: &ForecastSettings,
    typical: &Particle,
    ready: &Ready,
) -> Option<(SeaReckoned, Meeting)> {
    let meeting = Meeting {
        heading_rad: ready.profile.heading_rad,
        speed_mps: ready.speed_mps,
        wind_from_rad: typical.air?.mean.from_rad,
    };
    let sea = reckon(&settings.sea, ready.hull_motion.as_ref(), meeting)?;
    Some((sea, meeting))
}

fn line_plan(planned: &Planned, settings: &ForecastSettings) -> LinePlan {
    LinePlan {
        steps: steps(&planned.moves, settings),
        skipping_without: planned.skipping_without,
        skipping_with: planned.skipping_with,
        shortfall: planned.shortfall.clone(),
    }
}

fn basis(
    futures: &[Weighted],
    (particles, fallen): (usize, f64),
    effort: Effort,
    settings: &ForecastSettings,
) -> String {
    let lost = futures
        .iter()
        .filter(|f| f.trace.ended_s.is_some() && !f.trace.kite_down)
        .map(|f| f.weight)
        .sum::<f64>();
    let mut words = format!(
        "Share of {} futures with other rigs, winds and gusts, drawn from {particles} beliefs.",
        futures.len()
    );
    if effort.futures(settings.futures) < settings.futures {
        words.push_str(&format!(
            " Coarser than usual: the computer has no time for the {} wanted.",
            settings.futures
        ));
    }
    if fallen > 0.05 {
        words.push_str(&format!(
            " In {:.0} of 100 beliefs the kite has come down.",
            100.0 * fallen
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
    typical: &Particle,
    wind: WindOnward,
    at: Millis,
) -> Option<(RigView, RigView)> {
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
    let winds = Gusts::none().path(at, &air, wind, horizon_s);
    let course = Course {
        profile: ahead.profile.clone(),
        speed_mps: ahead.speed_mps,
        ways: &[],
        winds: &winds,
        lines,
        moves: &[],
        structures: &[],
        sea: None,
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
