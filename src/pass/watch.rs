//! Follows a pass: which mark it is planned for, what the crew has said, and the plan that stands.
//! In: vessel, deck, marks, the turns ahead, forecast and forecaster at moments. Out: the pass as it
//! is now, and the turn that it announces. Time is an argument.

use super::judge::JUDGES;
use super::mend::{PassPlan, amend};
use super::now::{PassLeg, PassLine, PassNow, PassRefused, PassState};
use super::plan::plan;
use super::settings::{KiteSide, PassSettings};
use super::situation::{Boat, Bounds, Flat, Situation, Target};
use super::standing::{ANEW_S, Order, Refused, Standing};
use crate::angles::wrap_signed;
use crate::decode::PassWord;
use crate::forecast::{Forecast, Forecaster, NoForecast, SkipBand};
use crate::time::Millis;
use crate::turn::Outlook;
use crate::vessel::{DeckNow, IntendedTurn, Mark, VesselNow};

/// The plan is looked at again so often.
const AGAIN_S: f64 = 10.0;
/// Lead of an offer: it is read and accepted; and of an order: it is read.
const OFFER_LEAD_S: f64 = 15.0;
const ORDER_LEAD_S: f64 = 6.0;
/// Another plan replaces the standing one for so much chance, or for as good a chance so much sooner.
const CLEAR_GAIN: f64 = 0.12;
const SOONER_S: f64 = 60.0;
/// A pass is shown as passed, declined or ended for so long.
const SHOWN_S: f64 = 20.0;
/// A mark older than this is not offered unasked.
const UNASKED_S: f64 = 1800.0;
/// Wind and helm of the judges go on for so long.
const OVER_S: f64 = 120.0;
/// The bow is on the ordered heading within this.
const ON_RAD: f64 = 0.2;
const THERE_RAD: f64 = 0.09;
/// Rate of turn where the forecast gives no limit yet.
const USUAL_RATE_DEG_S: f64 = 2.0;

/// What the watch looks at.
#[derive(Debug, Clone, Copy)]
pub struct PassView<'a> {
    /// The moment.
    pub at: Millis,
    /// The boat.
    pub vessel: &'a VesselNow,
    /// What the crew has told.
    pub deck: &'a DeckNow,
    /// All marks.
    pub marks: &'a [Mark],
    /// The turns ahead.
    pub outlook: &'a Outlook,
    /// The forecast, or why there is none.
    pub forecast: Result<&'a Forecast, &'a NoForecast>,
    /// Where the rigs are drawn from.
    pub forecaster: &'a Forecaster,
    /// Of the water over the ground.
    pub current_mps: Flat,
    /// Whether there is time to plan; what stands is shown anyway.
    pub may_plan: bool,
    /// What the captain has closed.
    pub settings: &'a PassSettings,
}

/// The last pass whose time was over: over its mark, or ended where the boat did not follow the plan.
#[derive(Debug, Clone, Copy)]
struct Passed {
    mark: u32,
    number: u32,
    at: Millis,
    state: PassState,
}

/// Follows passes.
#[derive(Debug, Clone, Default)]
pub struct PassWatch {
    /// Mark and number of the pass.
    of: Option<(u32, u32)>,
    standing: Option<Standing>,
    refused: Option<Refused>,
    /// The pass whose first turn has begun: corrections do not undo that.
    begun: Option<(u32, u32)>,
    /// The last pass that was made: its mark, its number and when.
    passed: Option<Passed>,
}

impl PassWatch {
    /// The turn that an accepted pass announces; `None` when nothing is ordered.
    #[must_use]
    pub fn announces(&self, deck: &DeckNow) -> Option<IntendedTurn> {
        let standing = self.standing.as_ref().filter(|_| self.accepted(deck))?;
        let next = standing.legs.first()?;
        Some(IntendedTurn {
            told_at: standing.ordered_at,
            starts_at: next.at,
            by_rad: next.leg.by_rad,
            rate_rad_s: next.leg.rate_rad_s,
        })
    }

    /// Whether it was planned or carried on at this moment.
    #[must_use]
    pub fn planned(&self, at: Millis) -> bool {
        let standing = self.standing.as_ref().map(|standing| standing.looked_at);
        let refused = self.refused.as_ref().map(|refused| refused.looked_at);
        standing == Some(at) || refused == Some(at)
    }

    /// Whether the crew has accepted the pass that is planned now.
    fn accepted(&self, deck: &DeckNow) -> bool {
        let Some((mark, _)) = self.of else {
            return false;
        };
        let passed_at = self
            .passed
            .filter(|passed| passed.mark == mark)
            .map(|passed| passed.at);
        deck.pass.is_some_and(|told| {
            told.said == PassWord::Accept
                && told.mark == mark
                && passed_at.is_none_or(|at| told.at > at)
        })
    }

    /// The pass now. Expensive every [`AGAIN_S`] seconds while there is a mark to pass.
    pub fn look(&mut self, view: &PassView<'_>) -> Option<PassNow> {
        let Some(mark) = chosen(view) else {
            self.of = None;
            self.standing = None;
            self.refused = None;
            return said_no(view);
        };
        let number = match (self.of, self.passed) {
            (Some((of, number)), _) if of == mark.number => number,
            (_, Some(passed)) if passed.mark == mark.number => passed.number + 1,
            _ => 1,
        };
        if self.of != Some((mark.number, number)) {
            self.of = Some((mark.number, number));
            self.standing = None;
            self.refused = None;
        }
        let accepted = self.accepted(view.deck);
        if let Some(now) = self.has_passed(view, mark, number, accepted) {
            return Some(now);
        }
        self.make_turns(view, accepted);
        let (why, helps) = match self.plan(view, mark, accepted) {
            Ok(()) => return Some(self.shown(view, mark.number, number, accepted)),
            Err(said) => said,
        };
        Some(PassNow::refused(
            mark.number,
            number,
            PassRefused { why, helps },
        ))
    }

    /// An accepted pass whose time is over.
    fn has_passed(
        &mut self,
        view: &PassView<'_>,
        mark: &Mark,
        number: u32,
        accepted: bool,
    ) -> Option<PassNow> {
        let over = self.standing.as_ref().filter(|_| accepted);
        if let Some(state) = over.and_then(|standing| standing.over(view.at)) {
            self.passed = Some(Passed {
                mark: mark.number,
                number,
                at: view.at,
                state,
            });
            self.standing = None;
            self.of = None;
        }
        let passed = self.passed?;
        let shows = passed.mark == mark.number && view.at.seconds_since(passed.at) <= SHOWN_S;
        shows.then(|| PassNow::bare(mark.number, passed.number, passed.state))
    }

    /// Drops the turns that have been made.
    fn make_turns(&mut self, view: &PassView<'_>, accepted: bool) {
        let heading = view
            .outlook
            .profile
            .as_ref()
            .map(|profile| profile.heading_rad);
        let (Some(standing), Some(heading_rad), true) = (&mut self.standing, heading, accepted)
        else {
            return;
        };
        while let Some(order) = standing.legs.first() {
            let since_s = view.at.seconds_since(order.at);
            let over_s = order.leg.by_rad.abs() / order.leg.rate_rad_s.max(1e-3);
            let there = wrap_signed(heading_rad - order.to_rad).abs() < THERE_RAD;
            if !(since_s > 3.0 && there || since_s > over_s + 15.0) {
                break;
            }
            standing.held_rad = order.to_rad;
            standing.legs.remove(0);
        }
    }

    /// Brings the plan up to date.
    fn plan(
        &mut self,
        view: &PassView<'_>,
        mark: &Mark,
        accepted: bool,
    ) -> Result<(), (String, String)> {
        let at = view.at;
        let told_at = view.deck.pass.map(|told| told.at);
        let fresh = |looked: Millis| {
            at.seconds_since(looked) < AGAIN_S && told_at.is_none_or(|told| told <= looked)
        };
        if self.standing.as_ref().is_some_and(|s| fresh(s.looked_at)) {
            return Ok(());
        }
        if let Some(refused) = &self.refused
            && fresh(refused.looked_at)
        {
            return Err(refused.said());
        }
        if self
            .standing
            .as_ref()
            .is_some_and(|s| accepted && busy(s, view))
        {
            return Ok(());
        }
        let not_now = |why: &str, helps: String| (why.to_owned(), helps);
        if !view.may_plan {
            return match &self.standing {
                Some(_) => Ok(()),
                None => Err(not_now(
                    "the computer is too slow just now",
                    "wait a few seconds".to_owned(),
                )),
            };
        }
        let forecast = view.forecast.map_err(|none| {
            let helps = none.reasons.first().cloned().unwrap_or_default();
            not_now("there is no forecast just now", helps)
        })?;
        let rigs = view.forecaster.likely(at, JUDGES, OVER_S).ok_or_else(|| {
            not_now(
                "nothing is known of the rig yet",
                "wait a few seconds".to_owned(),
            )
        })?;
        let lead_s = if accepted { ORDER_LEAD_S } else { OFFER_LEAD_S };
        let held_rad = self.standing.as_ref().map(|s| s.held_rad);
        let others: Vec<Target> = (view.marks.iter())
            .filter(|other| other.number != mark.number)
            .filter_map(|other| target(view, other))
            .collect();
        let target = target(view, mark).ok_or_else(|| {
            not_now(
                "where the boat or the mark is, is not known",
                "check the position receiver".to_owned(),
            )
        })?;
        let boat = boat(view, held_rad.filter(|_| accepted)).ok_or_else(|| {
            not_now(
                "heading or speed is not known",
                "check compass and log".to_owned(),
            )
        })?;
        let structures = view.forecaster.structures();
        let set = view.forecaster.settings();
        let sit = Situation {
            target,
            boat,
            rigs: &rigs,
            bounds: Bounds {
                rate_rad_s: rates(view),
                structures: &structures,
                keeps_side: view.settings.kite_side == KiteSide::Stays,
                no_go: view.settings.no_go(),
                others: &others,
                keep_off_m: view.settings.keep_off_m,
            },
            hands: set.hands,
            skips: match &forecast.sea {
                Some(sea) => SkipBand::in_sea(sea, &rigs.typical.rig, set.dragging_immersion),
                None => SkipBand::flat(set.dragging_immersion),
            },
            lead_s,
        };
        self.decide(view, &sit, accepted);
        match &self.refused {
            Some(refused) => Err(refused.said()),
            None => Ok(()),
        }
    }

    /// Keeps, corrects or replaces the plan.
    fn decide(&mut self, view: &PassView<'_>, sit: &Situation<'_>, accepted: bool) {
        let at = view.at;
        let kept = self.standing.take().map(|standing| {
            let (course, about_s) = standing.remains(at, sit, accepted);
            (amend(sit, &course, about_s), standing)
        });
        let search = match &kept {
            None => true,
            Some((plan, _)) if accepted => !plan.judged.is_to_offer(),
            Some((plan, standing)) => {
                !plan.judged.is_to_offer() || at.seconds_since(standing.searched_at) >= ANEW_S
            }
        };
        let found = search.then(|| plan(sit));
        let searched_at = match &kept {
            Some((_, standing)) if !search => standing.searched_at,
            _ => at,
        };
        let better = |new: &PassPlan, old: &PassPlan| {
            new.judged.chance > old.judged.chance + CLEAR_GAIN
                || (new.judged.chance > old.judged.chance - 0.03
                    && new.judged.at_s < old.judged.at_s - SOONER_S)
        };
        let said = self.refused.take();
        let chosen = match (found, kept) {
            (Some(Ok(new)), Some((old, _))) if !better(&new, &old) => old,
            (Some(Ok(new)), _) => new,
            // What is accepted goes on while it can; its chance is told.
            (Some(Err(_)), Some((old, _))) if accepted || old.judged.is_to_offer() => old,
            (Some(Err(refusal)), _) => {
                self.refused = Some(Refused::next(said, at, refusal));
                return;
            }
            (None, Some((old, _))) => old,
            (None, None) => return,
        };
        self.standing = Some(Standing::new(at, searched_at, &sit.boat, chosen));
    }

    fn shown(&mut self, view: &PassView<'_>, mark: u32, number: u32, accepted: bool) -> PassNow {
        let Some(standing) = &self.standing else {
            return PassNow::bare(mark, number, PassState::Offered);
        };
        let first = standing.legs.first();
        let begun = first.is_none_or(|order| view.at >= order.at)
            || standing.legs.len() < standing.plan.course.legs.len();
        if accepted && begun {
            self.begun = self.of;
        }
        let begun = self.begun.is_some() && self.begun == self.of;
        let state = match (accepted, begun) {
            (false, _) => PassState::Offered,
            (true, false) => PassState::Accepted,
            (true, true) => PassState::UnderWay,
        };
        let legs = standing
            .legs
            .iter()
            .map(|order| PassLeg::new(&order.leg, order.at.seconds_since(view.at), order.to_rad));
        let lines = standing.lines.iter().filter_map(|(at, order)| {
            let in_s = at.seconds_since(view.at);
            (in_s + order.over_s > 0.0).then(|| PassLine::new(order, in_s))
        });
        let in_s = standing.passes_at.seconds_since(view.at).max(0.0);
        let (legs, lines) = (legs.collect(), lines.collect());
        PassNow::planned(mark, number, state, &standing.plan, legs, lines, in_s)
    }
}

/// Whether a turn or a line is so near, or under way, that nothing is changed now.
fn busy(standing: &Standing, view: &PassView<'_>) -> bool {
    let near = |from: Millis, over_s: f64| {
        let since_s = view.at.seconds_since(from);
        since_s > -ORDER_LEAD_S && since_s < over_s
    };
    let turn = |order: &Order| {
        near(
            order.at,
            order.leg.by_rad.abs() / order.leg.rate_rad_s + 15.0,
        )
    };
    view.outlook.turning
        || standing.legs.iter().any(turn)
        || standing
            .lines
            .iter()
            .any(|(from, order)| near(*from, order.over_s))
}

/// The mark that a pass is planned for: the one that the crew has named, else its newest.
fn chosen<'a>(view: &PassView<'a>) -> Option<&'a Mark> {
    let told = view.deck.pass;
    let newest = view
        .marks
        .iter()
        .filter(|mark| mark.is_of_crew() && mark.is_to_fish())
        .filter(|mark| view.at.seconds_since(mark.at) <= UNASKED_S)
        .max_by_key(|mark| (mark.at, mark.number));
    let newer = |than: Millis| newest.filter(|mark| mark.at > than);
    let of = |number: u32| view.marks.iter().find(|mark| mark.number == number);
    match told {
        None => newest,
        Some(told) => match told.said {
            PassWord::Accept => of(told.mark),
            PassWord::Ask => newer(told.at).or_else(|| of(told.mark)),
            PassWord::Decline | PassWord::End => newer(told.at),
        },
    }
    .filter(|_| view.deck.fishing && view.deck.strike.is_none() && view.deck.launch.is_none())
}

/// What was declined or ended is shown for a while.
fn said_no(view: &PassView<'_>) -> Option<PassNow> {
    let told = view.deck.pass?;
    let state = match told.said {
        PassWord::Decline => PassState::Declined,
        PassWord::End => PassState::Ended,
        PassWord::Ask | PassWord::Accept => return None,
    };
    (view.at.seconds_since(told.at) <= SHOWN_S).then(|| PassNow::bare(told.mark, 1, state))
}

fn target(view: &PassView<'_>, mark: &Mark) -> Option<Target> {
    let here = view.vessel.position.as_ref()?.value;
    let seen = mark.from_boat(view.at, here)?;
    let later_m = mark.sigma_m(view.at.plus_seconds(60.0));
    Some(Target {
        from_boat_m: [seen.way.east_m, seen.way.north_m],
        drift_mps: mark.drift.map_or([0.0; 2], |drift| {
            let (s, c) = drift.set_rad.sin_cos();
            [drift.drift_mps * s, drift.drift_mps * c]
        }),
        sigma_m: seen.sigma_m,
        sigma_grows_mps: ((later_m - seen.sigma_m) / 60.0).max(0.0),
    })
}

/// The boat now; on an ordered heading, that heading.
fn boat(view: &PassView<'_>, held_rad: Option<f64>) -> Option<Boat> {
    let profile = view.outlook.profile.as_ref()?;
    let v = view.vessel;
    let speed = v.speed_water_mps.as_ref().or(v.speed_ground_mps.as_ref())?;
    let on = held_rad.filter(|held| wrap_signed(held - profile.heading_rad).abs() < ON_RAD);
    Some(Boat {
        heading_rad: on.unwrap_or(profile.heading_rad),
        yaw_rate_rad_s: if on.is_some() {
            0.0
        } else {
            profile.yaw_rate_rad_s
        },
        yaw_time_constant_s: profile.yaw_time_constant_s,
        speed_mps: speed.value.clamp(0.3, 12.0),
        current_mps: view.current_mps,
    })
}

/// The turn limits with hands at the reel.
fn rates(view: &PassView<'_>) -> [Option<f64>; 2] {
    let limit = view
        .forecast
        .ok()
        .and_then(|forecast| forecast.turn_limit.as_ref());
    match limit {
        Some(limit) => {
            [limit.port_deg_s, limit.starboard_deg_s].map(|rate| rate.map(f64::to_radians))
        }
        None => [Some(USUAL_RATE_DEG_S.to_radians()); 2],
    }
}
