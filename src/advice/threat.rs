//! All threats as of one moment, derived from forecast, vessel and deck; stateless.

use super::danger::dangers;
use super::facts::{
    computer_slow, data_lost, lines_unchecked, no_forecast, rig_unset, seen_without_forecast,
    wind_shift,
};
use super::settings::AdviceSettings;
use super::shape::{Action, Kind, Priority};
use super::words;
use crate::decode::{BaitState, Line};
use crate::forecast::{Chance, ChanceKind, Forecast, LinePlan, NoForecast, TurnAhead, TurnSource};
use crate::time::Millis;
use crate::vessel::{DeckNow, VesselNow};

/// How long a tap is taken as fact; afterwards the forecast counts, which has taken it into
/// account.
const TAP_HOLDS_S: f64 = 15.0;

/// Everything the threats are read from.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scene<'a> {
    pub at: Millis,
    pub vessel: &'a VesselNow,
    pub deck: &'a DeckNow,
    pub forecast: Result<&'a Forecast, &'a NoForecast>,
    /// Whether the start-up grace is over.
    pub settled_in: bool,
    /// Seconds without a forecast.
    pub blind_s: f64,
    /// Whether foreseen trouble lives.
    pub in_trouble: bool,
}

/// The turn behind a threat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Behind {
    pub source: TurnSource,
    pub to_heading_deg: f64,
}

/// A heading this close to the turn's final heading means that the turn was made, not called off.
const TURN_MADE_DEG: f64 = 20.0;

/// See [`turn_of`].
const TURN_CLOSE_S: f64 = 6.0;

impl Behind {
    /// Whether the bow is where the turn led. Without a heading this is unknown and taken as true.
    pub fn made(&self, vessel: &VesselNow) -> bool {
        vessel
            .heading_true_rad
            .as_ref()
            .is_none_or(|heading| self.leads_to(heading.value.to_degrees()))
    }

    /// Whether it leads to about this heading.
    pub fn leads_to(&self, heading_deg: f64) -> bool {
        crate::turn::wrap_rad((heading_deg - self.to_heading_deg).to_radians())
            .to_degrees()
            .abs()
            < TURN_MADE_DEG
    }
}

/// Coarse cause of a threat: a reader would notice when it changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mover {
    /// A turn to come or under way.
    Turn,
    /// The turn just made.
    After,
    Shift,
    Air,
    Fact,
}

/// One trouble foreseen or present.
#[derive(Debug, Clone)]
pub(super) struct Threat {
    pub kind: Kind,
    pub priority: Priority,
    /// `None`: it is so now.
    pub onset_at: Option<Millis>,
    /// 10th percentile of the onset; `None` without a band.
    pub early_at: Option<Millis>,
    /// Share of the futures in which it is so now.
    pub so_now: f64,
    pub chance: Option<f64>,
    pub chance_basis: String,
    pub cause: String,
    pub mover: Mover,
    pub actions: Vec<Action>,
    pub without_action: String,
    pub behind: Option<Behind>,
    /// When the crew reported seeing it.
    pub seen_at: Option<Millis>,
    /// For plain facts: the subject, because the text may contain an age that grows every second.
    pub topic: String,
}

impl Threat {
    /// A plain fact, without its texts.
    pub fn fact(kind: Kind, priority: Priority) -> Self {
        Self {
            kind,
            priority,
            onset_at: None,
            early_at: None,
            so_now: 0.0,
            chance: None,
            chance_basis: "a fact, not a forecast".to_owned(),
            cause: String::new(),
            mover: Mover::Fact,
            actions: Vec::new(),
            without_action: String::new(),
            behind: None,
            seen_at: None,
            topic: String::new(),
        }
    }
}

/// What the rules need to know about a living advisory.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Alive {
    pub mover: Mover,
    pub behind: Option<Behind>,
}

/// Threshold of the chance, with hysteresis: higher to raise than to keep. A kite near the border
/// of the bite zone crosses it with every gust, so that is raised only when it is nearly certain.
pub(super) fn needed(
    settings: &AdviceSettings,
    kind: Kind,
    living: bool,
    turn: Option<TurnAhead>,
    early_s: Option<f64>,
) -> f64 {
    match (kind, living) {
        (Kind::OffCorner, true) => settings.raise_chance,
        (Kind::OffCorner, false) => 0.5 * (1.0 + settings.raise_chance),
        (Kind::LineOverload | Kind::LineFoul, true) => 0.6 * settings.danger_chance,
        (Kind::LineOverload | Kind::LineFoul, false) => settings.danger_chance,
        (_, true) => settings.clear_chance,
        (Kind::BaitAirborne | Kind::BaitDragging | Kind::KiteSinking, false) => {
            match turn.map(|turn| turn.source) {
                // Hands need not begin yet, and the extent of the turn will soon be known.
                Some(TurnSource::UnderWay)
                    if early_s.is_some_and(|s| s > settings.least_lead_s) =>
                {
                    settings.raise_chance_under_way_far
                }
                Some(TurnSource::UnderWay) => settings.raise_chance_under_way,
                Some(_) => settings.raise_chance_planned,
                None => settings.raise_chance,
            }
        }
        (_, false) => settings.raise_chance,
    }
}

/// All threats of the moment. `living` gives the advisories that are alive.
pub(super) fn threats(
    scene: &Scene<'_>,
    settings: &AdviceSettings,
    living: impl Fn(Kind) -> Option<Alive>,
) -> Vec<Threat> {
    let mut found = Vec::new();
    found.extend(data_lost(scene, settings));
    found.extend(rig_unset(scene));
    found.extend(computer_slow(scene, settings));
    found.extend(no_forecast(scene, settings));
    found.extend(lines_unchecked(scene));
    found.extend(bait(scene, settings, &living));
    if let Ok(forecast) = scene.forecast {
        let threat = |kind: Kind, chance_kind: ChanceKind| {
            let alive = living(kind);
            let chance = chance_of(forecast, chance_kind)?;
            let turn = turn_of(forecast, chance, alive);
            (chance.chance >= needed(settings, kind, alive.is_some(), turn, early_s(chance)))
                .then(|| foreseen(scene, forecast, settings, kind, chance, alive))
        };
        found.extend(threat(Kind::KiteSinking, ChanceKind::KiteSinking));
        found.extend(threat(Kind::OffCorner, ChanceKind::OffCorner));
        // Dragging ends with line in the water, so that is raised separately only without it.
        if found.iter().all(|t| t.kind != Kind::BaitDragging) {
            found.extend(threat(Kind::LineInWater, ChanceKind::LineInWater));
        }
        found.extend(dangers(scene, forecast, settings, &living));
        let bait_told = found
            .iter()
            .any(|t| matches!(t.kind, Kind::BaitAirborne | Kind::BaitDragging));
        if !bait_told {
            found.extend(wind_shift(scene, forecast, settings, &living));
        }
    }
    found
}

/// The turn that can cause a trouble: an onset before the turn begins has another cause. For a
/// living advisory the turn stays the cause while the two are close.
pub(super) fn turn_of(
    forecast: &Forecast,
    chance: &Chance,
    alive: Option<Alive>,
) -> Option<TurnAhead> {
    let close_s = if alive.is_some_and(|alive| alive.mover == Mover::Turn) {
        TURN_CLOSE_S
    } else {
        0.0
    };
    forecast.turn_behind(chance, close_s)
}

pub(super) fn chance_of(forecast: &Forecast, kind: ChanceKind) -> Option<&Chance> {
    forecast.chances.iter().find(|c| c.kind == kind)
}

fn tapped(scene: &Scene<'_>, state: BaitState) -> bool {
    scene.deck.bait.is_some_and(|seen| {
        seen.state == state
            && scene.at.seconds_since(seen.at) <= TAP_HOLDS_S
            && scene.deck.lines_at.is_none_or(|moved| moved <= seen.at)
    })
}

/// Whether the crew has just reported that it is not so.
pub(super) fn denied(scene: &Scene<'_>, kind: Kind) -> bool {
    match kind {
        Kind::BaitAirborne => tapped_other(scene, BaitState::Airborne),
        Kind::BaitDragging => tapped_other(scene, BaitState::Dragging),
        _ => false,
    }
}

/// Whether the crew has just reported another bait state.
fn tapped_other(scene: &Scene<'_>, state: BaitState) -> bool {
    [
        BaitState::Airborne,
        BaitState::Skipping,
        BaitState::Dragging,
    ]
    .into_iter()
    .any(|other| other != state && tapped(scene, other))
}

/// The chance given that it is not so now, as the crew sees: futures in which it is so already are
/// excluded.
fn to_begin(chance: &Chance) -> Chance {
    Chance {
        chance: chance.begins(1.0).unwrap_or(0.0),
        so_now: 0.0,
        onset_s: chance.later_s,
        ..*chance
    }
}

fn bait(
    scene: &Scene<'_>,
    settings: &AdviceSettings,
    living: &impl Fn(Kind) -> Option<Alive>,
) -> Vec<Threat> {
    let mut found = Vec::new();
    for (kind, chance_kind, state) in [
        (
            Kind::BaitAirborne,
            ChanceKind::BaitAirborne,
            BaitState::Airborne,
        ),
        (
            Kind::BaitDragging,
            ChanceKind::BaitDragging,
            BaitState::Dragging,
        ),
    ] {
        let seen = tapped(scene, state);
        let seen_at = scene.deck.bait.map(|seen| seen.at).filter(|_| seen);
        let denied = denied(scene, kind);
        let chance = scene.forecast.ok().and_then(|forecast| {
            chance_of(forecast, chance_kind)
                .map(|chance| (forecast, if denied { to_begin(chance) } else { *chance }))
        });
        let alive = living(kind);
        let enough = |forecast: &Forecast, chance: &Chance| {
            let turn = turn_of(forecast, chance, alive);
            chance.chance >= needed(settings, kind, alive.is_some(), turn, early_s(chance))
        };
        match chance {
            Some((forecast, chance)) if seen || enough(forecast, &chance) => {
                let mut threat = foreseen(scene, forecast, settings, kind, &chance, alive);
                if seen {
                    threat.seen_at = seen_at;
                    threat.onset_at = None;
                    threat.priority = Priority::Alarm;
                    words::as_seen(&mut threat);
                }
                found.push(threat);
            }
            None if seen => found.push(Threat {
                seen_at,
                ..seen_without_forecast(kind)
            }),
            _ => {}
        }
    }
    // One situation, one advisory: of two bait troubles the likelier is raised, the other only when
    // it is also very likely.
    if let [airborne, dragging] = found.as_mut_slice() {
        let (a, d) = (
            airborne.chance.unwrap_or(1.0),
            dragging.chance.unwrap_or(1.0),
        );
        let drop_dragging =
            dragging.seen_at.is_none() && (airborne.seen_at.is_some() || a >= d) && d < 0.65;
        let drop_airborne =
            airborne.seen_at.is_none() && (dragging.seen_at.is_some() || d > a) && a < 0.65;
        if drop_dragging {
            found.pop();
        } else if drop_airborne {
            found.remove(0);
        }
    }
    found
}

/// 10th percentile of the onset, seconds after the forecast was made.
fn early_s(chance: &Chance) -> Option<f64> {
    chance.onset_s.map(|onset| onset.p10)
}

/// Whether the onset is now rather than later.
fn is_now(chance: &Chance) -> bool {
    chance.onset_s.is_some_and(|onset| onset.p50 <= 1.0)
}

pub(super) fn foreseen(
    scene: &Scene<'_>,
    forecast: &Forecast,
    settings: &AdviceSettings,
    kind: Kind,
    chance: &Chance,
    alive: Option<Alive>,
) -> Threat {
    let onset_at = chance
        .onset_s
        .filter(|_| !is_now(chance))
        .map(|onset| forecast.made_at.plus_seconds(onset.p50));
    let early_at = chance
        .onset_s
        .map(|onset| forecast.made_at.plus_seconds(onset.p10));
    let countdown_s = onset_at.map_or(0.0, |onset| onset.seconds_since(scene.at).max(0.0));
    let turn = turn_of(forecast, chance, alive);
    let (mover, cause) = cause(scene, forecast, turn, settings, kind, alive);
    Threat {
        kind,
        priority: priority(kind, countdown_s, chance.chance, settings),
        onset_at,
        early_at,
        so_now: chance.so_now,
        chance: Some(chance.chance),
        chance_basis: format!("{} {}", forecast.basis, forecast.crew.note),
        cause,
        mover,
        actions: actions(forecast, turn, kind),
        without_action: words::without_action(kind, forecast),
        behind: turn.map(behind),
        seen_at: None,
        topic: String::new(),
    }
}

pub(super) fn behind(turn: TurnAhead) -> Behind {
    Behind {
        source: turn.source,
        to_heading_deg: turn.to_heading_deg_true,
    }
}

pub(super) fn priority(
    kind: Kind,
    countdown_s: f64,
    chance: f64,
    settings: &AdviceSettings,
) -> Priority {
    match kind {
        Kind::BaitAirborne | Kind::BaitDragging | Kind::KiteSinking => {
            if countdown_s <= settings.alarm_within_s && chance >= settings.raise_chance {
                Priority::Alarm
            } else if countdown_s > settings.caution_beyond_s {
                Priority::Caution
            } else {
                Priority::Warning
            }
        }
        Kind::LineOverload | Kind::LineFoul => {
            if countdown_s <= settings.alarm_within_s {
                Priority::Alarm
            } else if countdown_s > settings.caution_beyond_s {
                Priority::Caution
            } else {
                Priority::Warning
            }
        }
        Kind::FalseRelease | Kind::LineInWater | Kind::DataLost | Kind::ComputerSlow => {
            Priority::Warning
        }
        Kind::OffCorner
        | Kind::WindShift
        | Kind::RigUnset
        | Kind::LinesUnchecked
        | Kind::NoForecast => Priority::Caution,
    }
}

/// Shift of the wind in degrees when it is large enough to report.
fn shift_deg(scene: &Scene<'_>, settings: &AdviceSettings) -> Option<f64> {
    scene
        .vessel
        .wind_statistics
        .map(|wind| wind.shift_rad.to_degrees())
        .filter(|shift| shift.abs() >= settings.wind_shift_deg)
}

fn cause(
    scene: &Scene<'_>,
    forecast: &Forecast,
    turn: Option<TurnAhead>,
    settings: &AdviceSettings,
    kind: Kind,
    alive: Option<Alive>,
) -> (Mover, String) {
    if let Some(turn) = turn {
        let starts_at = forecast.made_at.plus_seconds(turn.starts_in_s);
        let in_s = starts_at.seconds_since(scene.at);
        return (Mover::Turn, words::turn_cause(kind, &turn, in_s));
    }
    if alive.is_some_and(|alive| {
        matches!(alive.mover, Mover::Turn | Mover::After)
            && alive.behind.is_some_and(|behind| behind.made(scene.vessel))
    }) {
        return (Mover::After, words::after_cause(kind));
    }
    match shift_deg(scene, settings) {
        Some(shift) => (Mover::Shift, words::shift_cause(kind, shift)),
        None => (Mover::Air, words::air_cause(kind)),
    }
}

/// Whether a plan of a single correction makes this trouble worse, because it is meant for a later
/// one.
fn worsens(kind: Kind, plan: &LinePlan) -> bool {
    let [step] = plan.steps.as_slice() else {
        return false;
    };
    step.line == Line::Main
        && match kind {
            Kind::BaitDragging | Kind::LineInWater => step.by_m > 0.0,
            Kind::BaitAirborne => step.by_m < 0.0,
            _ => false,
        }
}

fn actions(forecast: &Forecast, turn: Option<TurnAhead>, kind: Kind) -> Vec<Action> {
    let mut actions = Vec::new();
    let mut moves_line = false;
    if kind != Kind::OffCorner
        && let Some(plan) = &forecast.plan
        && !worsens(kind, plan)
    {
        for step in &plan.steps {
            moves_line = true;
            actions.push(Action::MoveLine {
                line: step.line,
                by_m: step.by_m,
                start_at: forecast.made_at.plus_seconds(step.start_in_s),
                over_s: step.over_s,
                pace_m_per_s: step.pace_m_per_s,
                cranks: step.cranks,
            });
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
            None => actions.push(Action::See {
                what: words::turn_in_steps(limit),
            }),
            Some(_) => {}
        }
    }
    if let Some(shortfall) = forecast.plan.as_ref().and_then(|p| p.shortfall.as_ref()) {
        actions.push(Action::See {
            what: shortfall.clone(),
        });
    }
    if actions.is_empty() {
        actions.push(Action::See {
            what: words::bare_action(kind).to_owned(),
        });
    }
    if moves_line {
        actions.push(Action::See {
            what: words::HANDS.to_owned(),
        });
    }
    actions
}
