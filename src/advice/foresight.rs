//! From the chance of a trouble to a threat: whether it is likely enough, how pressing it is, what
//! causes it and what to do.

use super::danger;
use super::scene::Scene;
use super::settings::AdviceSettings;
use super::shape::{Action, Kind, Priority};
use super::threat::{Alive, AliveByKind, Behind, Mover, Threat};
use super::words;
use crate::decode::Line;
use crate::forecast::{Chance, Forecast, LinePlan, Trouble, TurnAhead, TurnSource};

/// A turn that begins so soon after an onset still counts as the cause of an advisory that it has
/// caused so far.
const TURN_CLOSE_S: f64 = 6.0;

/// The wind is known once it was watched for so long. Own judgement.
const WIND_WATCHED_S: f64 = 60.0;

/// From this chance on an imminent trouble of bait or kite is an alarm, and line in the water or a
/// band about to let go is told. Own judgement.
const LIKELY: f64 = 0.6;
/// What presses goes on pressing down to this share of the chance that raises (hysteresis).
const STILL_PRESSING: f64 = 0.5;

/// A forecast with everything that its troubles are judged by.
#[derive(Debug, Clone, Copy)]
pub(super) struct Foresight<'a> {
    pub scene: &'a Scene<'a>,
    pub forecast: &'a Forecast,
    pub settings: &'a AdviceSettings,
    pub alive: &'a AliveByKind,
}

impl<'a> Foresight<'a> {
    /// `None` without a forecast.
    pub fn new(
        scene: &'a Scene<'a>,
        settings: &'a AdviceSettings,
        alive: &'a AliveByKind,
    ) -> Option<Self> {
        Some(Self {
            scene,
            forecast: scene.forecast.ok()?,
            settings,
            alive,
        })
    }

    /// What the forecast says of this trouble; `None` where it lacks the data.
    pub fn chance(&self, trouble: Trouble) -> Option<&'a Chance> {
        self.forecast.chances.iter().find(|c| c.kind == trouble)
    }

    /// The threat of this trouble if it is likely enough.
    pub fn likely(&self, trouble: Trouble) -> Option<Threat> {
        let chance = self.chance(trouble)?;
        self.is_likely(trouble, chance)
            .then(|| self.threat(trouble, chance))?
    }

    /// Whether this chance is enough to raise the trouble, or to keep what is raised.
    pub fn is_likely(&self, trouble: Trouble, chance: &Chance) -> bool {
        if self.alive_of(trouble).is_some() {
            return chance.chance >= to_keep(trouble, self.settings);
        }
        let early_s = chance.onset_s.map(|onset| onset.p10);
        let turn = self.turn(trouble, chance);
        let told_of = if turn.is_none() && trouble.is_of_bait_or_kite() && self.wind_is_new() {
            chance.so_now
        } else {
            chance.chance
        };
        told_of >= to_raise(trouble, turn, early_s, self.settings)
    }

    /// Whether the wind was watched for too short a time to know how restless it is: what gusts may
    /// bring is then a guess, and only what is so already counts.
    fn wind_is_new(&self) -> bool {
        let statistics = self.scene.vessel.wind_statistics.as_ref();
        statistics.is_none_or(|wind| wind.window_s < WIND_WATCHED_S)
    }

    /// The threat of a trouble with this chance; `None` where the forecast cannot say what is in
    /// danger.
    pub fn threat(&self, trouble: Trouble, chance: &Chance) -> Option<Threat> {
        let forecast = self.forecast;
        let is_now = chance.onset_s.is_some_and(|onset| onset.p50 <= 1.0);
        let onset_at = chance
            .onset_s
            .filter(|_| !is_now)
            .map(|onset| forecast.made_at.plus_seconds(onset.p50));
        let early_at = chance
            .onset_s
            .map(|onset| forecast.made_at.plus_seconds(onset.p10));
        let turn = self.turn(trouble, chance);
        let (mover, cause) = self.cause(trouble, turn);
        let mut threat = Threat {
            kind: trouble.into(),
            priority: self.priority(trouble, chance, turn.is_some()),
            onset_at,
            early_at,
            so_now: chance.so_now,
            chance: Some(chance.chance),
            chance_with_plan: chance.chance_with_plan.filter(|_| {
                let plan = forecast.plan.as_ref();
                plan.is_some_and(|plan| !plan.steps.is_empty() && is_met_by(trouble, plan))
            }),
            sure: chance.chance
                >= to_raise(trouble, turn, chance.onset_s.map(|s| s.p10), self.settings),
            chance_basis: format!("{} {}", forecast.basis, forecast.crew.note),
            cause,
            turn_at: turn
                .map(|turn| forecast.made_at.plus_seconds(turn.starts_in_s))
                .filter(|starts_at| *starts_at > self.scene.at),
            mover,
            actions: actions(trouble, self.scene, forecast, turn),
            without_action: words::without_action(trouble, forecast)?,
            behind: turn.map(Behind::from),
            seen_at: None,
            topic: String::new(),
        };
        match trouble {
            Trouble::BaitAirborne
            | Trouble::BaitDragging
            | Trouble::KiteSinking
            | Trouble::OffCorner
            | Trouble::LineInWater => {}
            Trouble::LineOverload => danger::overload(&mut threat, forecast, turn.as_ref())?,
            Trouble::FalseRelease => danger::release(&mut threat, forecast)?,
            Trouble::LineFoul => danger::foul(&mut threat, self.scene, forecast, turn.as_ref())?,
        }
        Some(threat)
    }

    /// How pressing a trouble is.
    fn priority(&self, trouble: Trouble, chance: &Chance, in_turn: bool) -> Priority {
        let settings = self.settings;
        let onset_s = chance.onset_s.map_or(0.0, |onset| onset.p50);
        let countdown_s = (onset_s - self.age_s()).max(0.0);
        let alarm_from = match trouble {
            Trouble::BaitAirborne | Trouble::BaitDragging | Trouble::KiteSinking => LIKELY,
            // People are in danger: an alarm at any chance.
            Trouble::LineOverload | Trouble::LineFoul => 0.0,
            Trouble::FalseRelease | Trouble::LineInWater => return Priority::Warning,
            Trouble::OffCorner => return Priority::Caution,
        };
        if countdown_s <= settings.alarm_within_s && chance.chance >= alarm_from {
            Priority::Alarm
        } else if countdown_s > settings.caution_beyond_s
            || trouble.is_of_bait_or_kite() && !in_turn && !self.presses(trouble, chance)
        {
            Priority::Caution
        } else {
            Priority::Warning
        }
    }

    /// Whether a trouble that no turn brings is likely to come so soon that hands are needed now.
    fn presses(&self, trouble: Trouble, chance: &Chance) -> bool {
        let pressed = self
            .alive_of(trouble)
            .is_some_and(|alive| alive.priority > Priority::Caution);
        let share = if pressed { STILL_PRESSING } else { 1.0 };
        let within_s = self.age_s() + self.settings.pressing_s;
        let soon = chance.chance * chance.onset_share(within_s, self.forecast.horizon_s);
        soon >= share * self.settings.alertness.press_chance()
    }

    /// Age of the forecast.
    fn age_s(&self) -> f64 {
        self.scene.at.seconds_since(self.forecast.made_at)
    }

    fn alive_of(&self, trouble: Trouble) -> Option<&Alive> {
        self.alive.get(&Kind::from(trouble))
    }

    /// The turn that can cause a trouble: an onset before the turn begins has another cause. For a
    /// living advisory the turn stays the cause while the two are close.
    fn turn(&self, trouble: Trouble, chance: &Chance) -> Option<TurnAhead> {
        let caused = self
            .alive_of(trouble)
            .is_some_and(|alive| alive.mover == Mover::Turn);
        let close_s = if caused { TURN_CLOSE_S } else { 0.0 };
        self.forecast.turn_behind(chance, close_s)
    }

    fn cause(&self, trouble: Trouble, turn: Option<TurnAhead>) -> (Mover, String) {
        let scene = self.scene;
        if let Some(turn) = turn {
            let starts_at = self.forecast.made_at.plus_seconds(turn.starts_in_s);
            let in_s = starts_at.seconds_since(scene.at);
            return (Mover::Turn, words::turn_cause(trouble, &turn, in_s));
        }
        if self.alive_of(trouble).is_some_and(|alive| {
            matches!(alive.mover, Mover::Turn | Mover::After)
                && alive.behind.is_some_and(|behind| behind.made(scene.vessel))
        }) {
            return (Mover::After, words::after_cause(trouble));
        }
        let shift_deg = scene
            .vessel
            .wind_statistics
            .map(|wind| wind.shift_rad.to_degrees())
            .filter(|shift| shift.abs() >= self.settings.wind_shift_deg);
        match shift_deg {
            Some(shift) => (
                Mover::Shift,
                words::shift_cause(words::does(trouble), shift),
            ),
            None => (Mover::Air, words::air_cause(trouble)),
        }
    }
}

/// Chance from which a trouble is raised. A kite near the border of the bite zone crosses it with
/// every gust, so that is raised only when it is nearly certain.
fn to_raise(
    trouble: Trouble,
    turn: Option<TurnAhead>,
    early_s: Option<f64>,
    settings: &AdviceSettings,
) -> f64 {
    match trouble {
        Trouble::BaitAirborne | Trouble::BaitDragging | Trouble::KiteSinking => {
            match turn.map(|turn| turn.source) {
                // Hands need not begin yet, and the extent of the turn will soon be known.
                Some(TurnSource::UnderWay)
                    if early_s.is_some_and(|s| s > settings.least_lead_s) =>
                {
                    settings.raise_chance_under_way_far
                }
                Some(TurnSource::UnderWay) => settings.raise_chance_under_way,
                Some(TurnSource::Crew | TurnSource::Autopilot | TurnSource::Route) => {
                    settings.raise_chance_planned
                }
                None => settings.alertness.raise_chance(),
            }
        }
        Trouble::LineInWater | Trouble::FalseRelease => LIKELY,
        Trouble::OffCorner => 0.5 * (1.0 + settings.alertness.press_chance()),
        Trouble::LineOverload | Trouble::LineFoul => settings.danger_chance,
    }
}

/// Chance below which a raised trouble ends (hysteresis).
fn to_keep(trouble: Trouble, settings: &AdviceSettings) -> f64 {
    match trouble {
        Trouble::BaitAirborne
        | Trouble::BaitDragging
        | Trouble::KiteSinking
        | Trouble::LineInWater
        | Trouble::FalseRelease => settings.clear_chance,
        Trouble::OffCorner => settings.alertness.press_chance(),
        Trouble::LineOverload | Trouble::LineFoul => 0.6 * settings.danger_chance,
    }
}

/// Whether the line plan is an answer to this trouble.
fn is_met_by(trouble: Trouble, plan: &LinePlan) -> bool {
    match trouble {
        // Line moves do not bring the kite back into the zone.
        Trouble::OffCorner => false,
        Trouble::BaitAirborne
        | Trouble::BaitDragging
        | Trouble::KiteSinking
        | Trouble::LineInWater
        | Trouble::LineOverload
        | Trouble::FalseRelease
        | Trouble::LineFoul => !is_worsened_by(trouble, plan),
    }
}

/// Whether a plan of a single correction makes this trouble worse, because it is meant for a later
/// one.
fn is_worsened_by(trouble: Trouble, plan: &LinePlan) -> bool {
    let mut corrections = plan.corrections();
    let (Some([step, ..]), None) = (corrections.next(), corrections.next()) else {
        return false;
    };
    step.line == Line::Main
        && trouble
            .main_line_way()
            .is_some_and(|brings| brings * step.by_m > 0.0)
}

/// What to do, in order: move line, turn slower, what neither achieves.
fn actions(
    trouble: Trouble,
    scene: &Scene<'_>,
    forecast: &Forecast,
    turn: Option<TurnAhead>,
) -> Vec<Action> {
    let mut actions = Vec::new();
    let mut moves_line = false;
    let mut out = scene.deck.lines;
    if let Some(plan) = &forecast.plan
        && is_met_by(trouble, plan)
    {
        for portions in plan.corrections() {
            let step = &portions[0];
            moves_line = true;
            let line_m = match step.line {
                Line::Kite => &mut out.kite_m,
                Line::Main => &mut out.main_m,
            };
            actions.push(Action::MoveLine {
                line: step.line,
                by_m: step.by_m,
                to_m: line_m.map(|m| (m + step.by_m).max(0.0)),
                start_at: forecast.made_at.plus_seconds(step.start_in_s),
                over_s: step.over_s,
                pace_m_per_s: step.pace_m_per_s,
                cranks: step.cranks,
                portions: portions.len(),
                in_one_go: step.in_one_go,
                changed: None,
            });
            let all_m = step.by_m * portions.len() as f64;
            *line_m = line_m.map(|m| (m + all_m).max(0.0));
        }
    }
    // The limits are worked out for the first turn.
    let first = turn.filter(|turn| forecast.turn.as_ref() == Some(turn));
    if let (Some(turn), Some(limit)) = (first, &forecast.turn_limit) {
        let side = if turn.by_deg > 0.0 {
            limit.starboard_deg_s
        } else {
            limit.port_deg_s
        };
        match side {
            Some(rate) if rate < 0.9 * turn.rate_deg_s => {
                actions.push(Action::LimitTurn { rate_deg_s: rate });
            }
            None => actions.push(Action::see(words::turn_in_steps(limit))),
            Some(_) => {}
        }
    }
    if let Some(shortfall) = forecast.plan.as_ref().and_then(|p| p.shortfall.as_ref()) {
        actions.push(Action::see(shortfall));
    }
    if trouble.is_of_bait() && !moves_line {
        actions.push(Action::see(words::WATCH));
    } else if actions.is_empty() {
        actions.push(words::bare_action(trouble));
    }
    if moves_line {
        actions.push(Action::see(words::HANDS));
    }
    actions
}
