//! The board: one living advisory a kind, from raised to ended.

use std::collections::BTreeMap;

use super::settings::AdviceSettings;
use super::shape::{Action, Advisory, AlertState, Kind, Outcome, Priority};
use super::threat::{Alive, Behind, Mover, Scene, Threat, denied, threats};
use super::words;
use crate::forecast::{Forecast, NoForecast, TurnSource};
use crate::time::Millis;
use crate::vessel::{DeckNow, VesselNow};

/// An action is another one when its amount changes by this share, or 2 m.
const ACTION_STEP_SHARE: f64 = 0.2;
const ACTION_STEP_M: f64 = 2.0;
/// ... or when its start moves by this.
const ACTION_STEP_S: f64 = 3.0;
/// A turn rate changes an action when it changes by this share.
const RATE_STEP_SHARE: f64 = 0.25;
/// Chance that counts as "it is so" when the onset is now.
const SO_NOW: f64 = 0.5;
/// A foreseen moment that has passed is held for so long.
const OVERDUE_S: f64 = 10.0;
/// ... and one nearer than this is not put off lightly.
const NEAR_S: f64 = 8.0;
/// How long the members must say so before it counts as happened.
const HAPPENED_S: f64 = 3.0;

/// Turns forecasts into advisories.
#[derive(Debug, Clone)]
pub struct AdviceBoard {
    settings: AdviceSettings,
    slots: BTreeMap<Kind, Slot>,
    raised: BTreeMap<Kind, u32>,
    started: Option<Millis>,
    quiet_until: Option<Millis>,
    last_forecast: Option<Millis>,
}

#[derive(Debug, Clone, Default)]
struct Slot {
    /// Since when the threat is there, unraised.
    there_since: Option<Millis>,
    living: Option<Living>,
}

#[derive(Debug, Clone)]
struct Living {
    shown: Advisory,
    mover: Mover,
    topic: String,
    behind: Option<Behind>,
    gone_since: Option<Millis>,
    now_since: Option<Millis>,
    happened: bool,
    /// Seen by the crew in this life.
    seen: bool,
    silent_until: Option<Millis>,
    over_since: Option<Millis>,
}

impl AdviceBoard {
    /// An empty board.
    #[must_use]
    pub fn new(settings: AdviceSettings) -> Self {
        Self {
            settings,
            slots: BTreeMap::new(),
            raised: BTreeMap::new(),
            started: None,
            quiet_until: None,
            last_forecast: None,
        }
    }

    /// Takes in the moment; gives the revisions that a reader would notice.
    pub fn update(
        &mut self,
        at: Millis,
        vessel: &VesselNow,
        deck: &DeckNow,
        forecast: Result<&Forecast, &NoForecast>,
    ) -> Vec<Advisory> {
        let started = *self.started.get_or_insert(at);
        if forecast.is_ok() {
            self.last_forecast = Some(at);
        }
        let scene = Scene {
            at,
            vessel,
            deck,
            forecast,
            settled_in: at.seconds_since(started) >= self.settings.start_grace_s,
        };
        let found = threats(&scene, &self.settings, |kind| {
            self.slots
                .get(&kind)
                .and_then(|slot| slot.living.as_ref())
                .filter(|living| living.over_since.is_none())
                .map(|living| Alive {
                    mover: living.mover,
                    behind: living.behind,
                })
        });
        let mut out = Vec::new();
        for threat in &found {
            self.meet(at, threat, denied(&scene, threat.kind), &mut out);
        }
        let absent: Vec<Kind> = self
            .slots
            .keys()
            .copied()
            .filter(|kind| found.iter().all(|threat| threat.kind != *kind))
            .collect();
        for kind in absent {
            self.miss(&scene, kind, &mut out);
        }
        self.wake(at, &mut out);
        self.slots
            .retain(|_, slot| slot.living.is_some() || slot.there_since.is_some());
        out
    }

    /// Somebody has seen it. Gives the revision, or nothing when there is no such advisory or
    /// nothing changes.
    pub fn acknowledge(&mut self, at: Millis, id: &str) -> Option<Advisory> {
        let slot = self
            .slots
            .values_mut()
            .find(|slot| slot.living.as_ref().is_some_and(|l| l.shown.id == id))?;
        let living = slot.living.as_mut()?;
        let next = match living.shown.state {
            AlertState::ActiveUnacknowledged | AlertState::ActiveSilenced => {
                AlertState::ActiveAcknowledged
            }
            AlertState::RectifiedUnacknowledged => AlertState::Normal,
            AlertState::ActiveAcknowledged | AlertState::Normal => return None,
        };
        living.silent_until = None;
        let revision = living.revise(at, next);
        if next == AlertState::Normal {
            slot.living = None;
        }
        Some(revision)
    }

    /// Quiet for so many minutes from now; 0 ends it. Alarms sound again after 30 s at most.
    pub fn silence(&mut self, at: Millis, minutes: f64) -> Vec<Advisory> {
        let minutes = if minutes.is_finite() {
            minutes.clamp(0.0, 24.0 * 60.0)
        } else {
            0.0
        };
        let mut out = Vec::new();
        self.quiet_until = (minutes > 0.0).then(|| at.plus_seconds(60.0 * minutes));
        for living in self.slots.values_mut().filter_map(|s| s.living.as_mut()) {
            match (self.quiet_until, living.shown.state) {
                (Some(until), AlertState::ActiveUnacknowledged) => {
                    living.silent_until =
                        Some(quiet_end(at, until, living.shown.priority, &self.settings));
                    out.push(living.revise(at, AlertState::ActiveSilenced));
                }
                (None, AlertState::ActiveSilenced) => {
                    living.silent_until = None;
                    out.push(living.revise(at, AlertState::ActiveUnacknowledged));
                }
                _ => {}
            }
        }
        out
    }

    /// Until when sounds are silenced, as of `at`.
    #[must_use]
    pub fn quiet_until(&self, at: Millis) -> Option<Millis> {
        self.quiet_until.filter(|until| *until > at)
    }

    /// All that is not over, and what is over but unacknowledged: most pressing first.
    #[must_use]
    pub fn living(&self) -> Vec<Advisory> {
        let mut list: Vec<Advisory> = self
            .slots
            .values()
            .filter_map(|slot| slot.living.as_ref())
            .map(|living| living.shown.clone())
            .collect();
        list.sort_by_key(|a| {
            (
                a.outcome.is_some(),
                std::cmp::Reverse(a.priority),
                a.onset_at,
                a.kind,
            )
        });
        list
    }

    /// The threat is there.
    fn meet(&mut self, at: Millis, threat: &Threat, denied: bool, out: &mut Vec<Advisory>) {
        let settings = self.settings;
        let slot = self.slots.entry(threat.kind).or_default();
        match &mut slot.living {
            Some(living) => {
                if denied {
                    living.denied();
                }
                let seen = living.note(at, threat);
                if let Some(revision) = living.follow(at, threat, seen, &settings) {
                    out.push(revision);
                }
            }
            None => {
                let since = *slot.there_since.get_or_insert(at);
                let known =
                    threat.seen || threat.mover != Mover::Air && threat.mover != Mover::Shift;
                let dwell = if known { 0.0 } else { settings.raise_dwell_s };
                if at.seconds_since(since) < dwell {
                    return;
                }
                slot.there_since = None;
                let number = self.raised.entry(threat.kind).or_insert(0);
                *number += 1;
                let mut living = Living::raise(at, threat, *number);
                if let Some(until) = self.quiet_until.filter(|until| *until > at)
                    && threat.priority < Priority::Alarm
                {
                    living.silent_until = Some(until);
                    living.shown.state = AlertState::ActiveSilenced;
                }
                living.note(at, threat);
                out.push(living.shown.clone());
                slot.living = Some(living);
            }
        }
    }

    /// The threat is not there.
    fn miss(&mut self, scene: &Scene<'_>, kind: Kind, out: &mut Vec<Advisory>) {
        let at = scene.at;
        let settings = self.settings;
        let no_forecast_s = self
            .last_forecast
            .map_or(f64::INFINITY, |last| at.seconds_since(last));
        let Some(slot) = self.slots.get_mut(&kind) else {
            return;
        };
        slot.there_since = None;
        let Some(living) = slot.living.as_mut() else {
            return;
        };
        if let Some(over) = living.over_since {
            if at.seconds_since(over) >= settings.rectified_keep_s {
                out.push(living.revise(at, AlertState::Normal));
                slot.living = None;
            }
            return;
        }
        let gone = at.seconds_since(*living.gone_since.get_or_insert(at));
        let denied = denied(scene, kind);
        if denied {
            living.denied();
        }
        let outcome = match kind {
            Kind::DataLost | Kind::RigUnset => Some(Outcome::Restored),
            _ if living.withdrawn(scene) => Some(Outcome::Withdrawn),
            _ if scene.forecast.is_err() => {
                (no_forecast_s >= settings.lost_after_s).then_some(if living.happened {
                    Outcome::Happened
                } else {
                    Outcome::Lost
                })
            }
            _ if gone >= settings.clear_dwell_s || denied => Some(if living.happened {
                Outcome::Happened
            } else {
                Outcome::Averted
            }),
            _ => None,
        };
        let Some(outcome) = outcome else { return };
        living.shown.outcome = Some(outcome);
        let acknowledged = living.shown.state == AlertState::ActiveAcknowledged;
        if acknowledged || living.shown.priority == Priority::Caution {
            out.push(living.revise(at, AlertState::Normal));
            slot.living = None;
        } else {
            living.over_since = Some(at);
            living.silent_until = None;
            out.push(living.revise(at, AlertState::RectifiedUnacknowledged));
        }
    }

    /// Ends silences whose time is up.
    fn wake(&mut self, at: Millis, out: &mut Vec<Advisory>) {
        if self.quiet_until.is_some_and(|until| until <= at) {
            self.quiet_until = None;
        }
        for living in self.slots.values_mut().filter_map(|s| s.living.as_mut()) {
            if living.shown.state == AlertState::ActiveSilenced
                && living.silent_until.is_none_or(|until| until <= at)
            {
                living.silent_until = None;
                out.push(living.revise(at, AlertState::ActiveUnacknowledged));
            }
        }
    }
}

/// When a silence asked for now ends for one advisory.
fn quiet_end(at: Millis, until: Millis, priority: Priority, settings: &AdviceSettings) -> Millis {
    if priority == Priority::Alarm {
        until.min(at.plus_seconds(settings.alarm_silence_s))
    } else {
        until
    }
}

impl Living {
    fn raise(at: Millis, threat: &Threat, number: u32) -> Self {
        let mut shown = Advisory {
            id: format!("{}-{number}", words::slug(threat.kind)),
            revision: 1,
            at,
            kind: threat.kind,
            priority: threat.priority,
            state: AlertState::ActiveUnacknowledged,
            raised_at: at,
            onset_at: None,
            countdown_s: 0.0,
            chance: None,
            chance_basis: String::new(),
            title: String::new(),
            cause: String::new(),
            actions: Vec::new(),
            without_action: String::new(),
            outcome: None,
        };
        fill(&mut shown, at, threat);
        Self {
            shown,
            mover: threat.mover,
            topic: threat.topic.clone(),
            behind: threat.behind,
            gone_since: None,
            now_since: None,
            happened: false,
            seen: false,
            silent_until: None,
            over_since: None,
        }
    }

    /// The crew sees that it is not so: what came by the model's word only has not come.
    fn denied(&mut self) {
        self.happened &= self.seen;
        self.now_since = None;
    }

    /// Remembers whether it has come; true when that is new.
    fn note(&mut self, at: Millis, threat: &Threat) -> bool {
        self.seen |= threat.seen;
        let so = threat.seen || threat.so_now >= SO_NOW;
        if !so {
            self.now_since = None;
            return false;
        }
        let since = *self.now_since.get_or_insert(at);
        let happened = threat.seen || at.seconds_since(since) >= HAPPENED_S;
        let new = happened && !self.happened;
        self.happened |= happened;
        new
    }

    /// The threat with the onset told before, while the members still allow for it: the median of
    /// those in which it is yet to come grows later by itself.
    fn steady(&self, at: Millis, threat: &Threat) -> Threat {
        let mut steady = threat.clone();
        if let (Some(told), Some(new), Some(early)) =
            (self.shown.onset_at, threat.onset_at, threat.early_at)
            && new > told
            && at.seconds_since(told) < OVERDUE_S
        {
            // Near or overdue one member in ten is enough, further off it takes a good quarter.
            let share = if told.seconds_since(at) < NEAR_S {
                0.0
            } else {
                0.4
            };
            let bound = early.plus_seconds(share * new.seconds_since(early));
            if bound <= told.max(at) {
                steady.onset_at = Some(told);
            }
        }
        steady
    }

    /// Follows the threat; gives a revision when a reader would notice the difference.
    fn follow(
        &mut self,
        at: Millis,
        threat: &Threat,
        come_true: bool,
        settings: &AdviceSettings,
    ) -> Option<Advisory> {
        self.gone_since = None;
        let threat = &self.steady(at, threat);
        let mut state = self.shown.state;
        let back = self.over_since.take().is_some();
        if back {
            state = AlertState::ActiveUnacknowledged;
            self.shown.outcome = None;
            self.happened = come_true;
            self.seen = threat.seen;
        }
        // Up at once; down only when the onset has moved well away.
        let mut priority = threat.priority.max(self.shown.priority);
        if onset_step_s(self.shown.onset_at, threat.onset_at, at) > 15.0 {
            priority = threat.priority;
        }
        if priority > self.shown.priority && priority == Priority::Alarm {
            state = AlertState::ActiveUnacknowledged;
        }
        let noticed = back
            || come_true
            || priority != self.shown.priority
            || state != self.shown.state
            || threat.mover != self.mover
            || onset_moved(&self.shown, threat, at, settings)
            || chance_moved(&self.shown, threat, settings)
            || actions_changed(&self.shown.actions, &threat.actions, at)
            || threat.topic != self.topic;
        if threat.behind.is_some() {
            self.behind = threat.behind;
        }
        if !noticed {
            return None;
        }
        self.mover = threat.mover;
        self.topic.clone_from(&threat.topic);
        self.shown.priority = priority;
        fill(&mut self.shown, at, threat);
        Some(self.revise(at, state))
    }

    /// Whether the turn behind it was called off: it is no longer foreseen and the bow is not
    /// where it would have led.
    fn withdrawn(&self, scene: &Scene<'_>) -> bool {
        let Some(behind) = self.behind else {
            return false;
        };
        // A turn seen under way that stops short was not called off: its trouble did not come.
        if self.happened || behind.source == TurnSource::UnderWay {
            return false;
        }
        let still = match scene.forecast {
            Ok(forecast) => forecast.turn.is_some_and(|turn| {
                turn.source == behind.source || behind.leads_to(turn.to_heading_deg_true)
            }),
            Err(_) => behind.source != TurnSource::Crew || scene.deck.intended_turn.is_some(),
        };
        let there = behind.made(scene.vessel);
        !still && !there
    }

    fn revise(&mut self, at: Millis, state: AlertState) -> Advisory {
        self.shown.revision = self.shown.revision.saturating_add(1);
        self.shown.state = state;
        self.shown.at = at;
        self.shown.countdown_s = countdown_s(self.shown.onset_at, at);
        self.shown.clone()
    }
}

fn countdown_s(onset_at: Option<Millis>, at: Millis) -> f64 {
    onset_at.map_or(0.0, |onset| onset.seconds_since(at).max(0.0))
}

fn fill(shown: &mut Advisory, at: Millis, threat: &Threat) {
    shown.onset_at = threat.onset_at;
    shown.countdown_s = countdown_s(threat.onset_at, at);
    shown.chance = threat.chance;
    shown.chance_basis.clone_from(&threat.chance_basis);
    shown.title = words::title(threat.kind, threat.onset_at.is_none(), threat.seen).to_owned();
    shown.cause.clone_from(&threat.cause);
    shown.actions.clone_from(&threat.actions);
    shown.without_action.clone_from(&threat.without_action);
}

/// How much later the onset now is, seconds; what is so now counts as onset now.
fn onset_step_s(old: Option<Millis>, new: Option<Millis>, at: Millis) -> f64 {
    new.unwrap_or(at).seconds_since(old.unwrap_or(at))
}

fn onset_moved(shown: &Advisory, threat: &Threat, at: Millis, settings: &AdviceSettings) -> bool {
    // Of what may not come at all, the moment is no news.
    if threat
        .chance
        .is_some_and(|chance| chance < settings.raise_chance_planned)
    {
        return false;
    }
    match (shown.onset_at, threat.onset_at) {
        (None, None) => false,
        // Its own countdown has run out: that is no news unless the step is large.
        (Some(old), None) => old.seconds_since(at) > settings.onset_step_s || old <= at,
        (None, Some(new)) => new.seconds_since(at) > 2.0 * settings.onset_step_s,
        // The further away, the less a small step matters to a reader.
        (Some(old), Some(new)) => {
            let step = settings.onset_step_s.max(0.1 * countdown_s(Some(old), at))
                * slack(threat.priority);
            new.seconds_since(old).abs() > step
        }
    }
}

fn chance_moved(shown: &Advisory, threat: &Threat, settings: &AdviceSettings) -> bool {
    match (shown.chance, threat.chance) {
        (Some(old), Some(new)) => (old - new).abs() > settings.chance_step * slack(threat.priority),
        (None, None) => false,
        _ => true,
    }
}

/// A caution may drift further than a warning before it is told again.
fn slack(priority: Priority) -> f64 {
    if priority == Priority::Caution {
        3.0
    } else {
        1.0
    }
}

fn actions_changed(old: &[Action], new: &[Action], at: Millis) -> bool {
    old.len() != new.len() || old.iter().zip(new).any(|(o, n)| action_changed(o, n, at))
}

fn action_changed(old: &Action, new: &Action, at: Millis) -> bool {
    match (old, new) {
        (
            Action::MoveLine {
                line: line0,
                by_m: by0,
                start_at: start0,
                ..
            },
            Action::MoveLine {
                line: line1,
                by_m: by1,
                start_at: start1,
                ..
            },
        ) => {
            let due = *start0 <= at && *start1 <= at.plus_seconds(ACTION_STEP_S);
            let step = ACTION_STEP_M.max(ACTION_STEP_SHARE * by0.abs());
            line0 != line1
                || (by0 - by1).abs() > step
                || by0 * by1 <= 0.0
                || !due && start1.seconds_since(*start0).abs() > ACTION_STEP_S
        }
        (Action::LimitTurn { rate_deg_s: rate0 }, Action::LimitTurn { rate_deg_s: rate1 }) => {
            (rate0 - rate1).abs() > RATE_STEP_SHARE * rate0.abs()
        }
        // Words vary with their numbers; a change of numbers alone is no news.
        (Action::See { .. }, Action::See { .. }) => false,
        _ => true,
    }
}
