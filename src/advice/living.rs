//! One living advisory: its state, and which changes a reader would notice.

use super::order::Orders;
use super::scene::Scene;
use super::settings::AdviceSettings;
use super::shape::{Action, Advisory, AlertState, Priority};
use super::threat::{Behind, Mover, Threat};
use super::words;
use crate::time::Millis;
use crate::turn::TurnSource;

/// A line move counts as changed when its length changes by more than this share of it, and by
/// more than `ACTION_STEP_M`,
const ACTION_STEP_SHARE: f64 = 0.2;
const ACTION_STEP_M: f64 = 2.0;
/// or when its start moves by more than this.
const ACTION_STEP_S: f64 = 3.0;
/// A limit counts as changed when its turn rate changes by more than this share.
const RATE_STEP_SHARE: f64 = 0.25;
/// It counts as so now from this share of the futures.
pub(super) const SO_NOW: f64 = 0.5;
/// How long a published onset that has passed may still be kept.
const OVERDUE_S: f64 = 10.0;
/// An onset nearer than this is postponed only when hardly any future still has it so early.
const NEAR_S: f64 = 8.0;
/// How long an unwatched advisory stays after its onset.
const UNWATCHED_KEEP_S: f64 = 180.0;
/// An advisory becomes less pressing when its trouble has been so for this long,
const EASE_S: f64 = 10.0;
/// or at once when its onset has moved this much later.
const POSTPONED_S: f64 = 15.0;
/// How long the forecast must hold that it is so before it counts as happened.
const HAPPENED_S: f64 = 3.0;

/// An advisory from raised to ended: what is shown, and what its next revision depends on.
#[derive(Debug, Clone)]
pub(super) struct Living {
    pub shown: Advisory,
    pub mover: Mover,
    pub topic: String,
    pub behind: Option<Behind>,
    /// Since when the threat has been absent.
    pub gone_since: Option<Millis>,
    /// Since when it has been so now.
    pub now_since: Option<Millis>,
    /// Since when its trouble has been less pressing than is shown.
    eased_since: Option<Millis>,
    /// Whether it has come true.
    pub happened: bool,
    /// When the crew last reported seeing it, since it was raised.
    pub seen_at: Option<Millis>,
    /// Whether it was raised on the crew's sighting alone.
    by_eye: bool,
    /// The crew has taken back the sighting on which it was raised.
    taken_back: bool,
    /// A withdrawn sighting still has to be published.
    tell: bool,
    /// The crew has answered its request since the last revision.
    pub answered: bool,
    pub silent_until: Option<Millis>,
    pub over_since: Option<Millis>,
    unwatched: Option<Unwatched>,
    pub orders: Orders,
}

/// What stands on an advisory that no forecast watches any more.
#[derive(Debug, Clone)]
struct Unwatched {
    since: Millis,
    /// Title and cause as they were before.
    title: String,
    cause: String,
    /// The crew has seen that it is not watched.
    seen: bool,
}

impl Living {
    pub fn raise(scene: &Scene<'_>, threat: &Threat, number: u32) -> Self {
        let at = scene.at;
        let mut orders = Orders::default();
        let threat = &orders.hold(scene, threat);
        let mut shown = Advisory {
            id: format!("{}-{number}", threat.kind),
            revision: 1,
            at,
            kind: threat.kind,
            priority: threat.priority,
            state: AlertState::ActiveUnacknowledged,
            raised_at: at,
            onset_at: None,
            countdown_s: 0.0,
            chance: None,
            chance_with_plan: None,
            chance_basis: String::new(),
            title: String::new(),
            cause: String::new(),
            turn_at: None,
            actions: Vec::new(),
            without_action: String::new(),
            unwatched_since: None,
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
            eased_since: None,
            happened: false,
            seen_at: threat.seen_at,
            by_eye: threat.seen_at.is_some(),
            taken_back: false,
            tell: false,
            answered: false,
            silent_until: None,
            over_since: None,
            unwatched: None,
            orders,
        }
    }

    /// The crew sees that it is not so: if only the model said that it had happened, it has not.
    pub fn denied(&mut self) {
        self.happened &= self.seen_at.is_some();
        self.now_since = None;
    }

    /// Records whether it has happened; true when that is new.
    pub fn note(&mut self, at: Millis, threat: &Threat) -> bool {
        let seen = threat.seen_at.is_some();
        self.seen_at = threat.seen_at.or(self.seen_at);
        let so = seen || threat.so_now >= SO_NOW;
        if !so {
            self.now_since = None;
            return false;
        }
        let since = *self.now_since.get_or_insert(at);
        let happened = seen || at.seconds_since(since) >= HAPPENED_S;
        let new = happened && !self.happened;
        self.happened |= happened;
        new
    }

    /// The threat with the onset published before, as long as the forecast allows it: the median
    /// over the futures in which it is still to come drifts later by itself.
    fn steady(&self, at: Millis, threat: &Threat) -> Threat {
        let mut steady = threat.clone();
        if let (Some(told), Some(new), Some(early)) =
            (self.shown.onset_at, threat.onset_at, threat.early_at)
            && new > told
            && at.seconds_since(told) < OVERDUE_S
        {
            // Near or overdue, one future in ten is enough; further off it takes a good quarter.
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

    /// Updates from the threat; returns a revision when a reader would notice the difference.
    pub fn follow(
        &mut self,
        scene: &Scene<'_>,
        threat: &Threat,
        come_true: bool,
        settings: &AdviceSettings,
    ) -> Option<Advisory> {
        let at = scene.at;
        self.gone_since = None;
        let threat = &self.steady(at, threat);
        let threat = &self.orders.hold(scene, threat);
        let mut state = self.shown.state;
        if self.answered {
            // Whoever answers has seen it.
            state = AlertState::ActiveAcknowledged;
        }
        let back = self.over_since.take().is_some();
        if back {
            state = AlertState::ActiveUnacknowledged;
            self.shown.outcome = None;
            self.happened = come_true;
            self.seen_at = threat.seen_at;
        }
        let priority = self.priority(at, threat);
        if priority > self.shown.priority && priority == Priority::Alarm {
            state = AlertState::ActiveUnacknowledged;
        }
        let answered = std::mem::take(&mut self.answered);
        let watched_again = self.watch_again();
        let noticed = answered
            || watched_again
            || std::mem::take(&mut self.tell)
            || back
            || come_true
            || priority != self.shown.priority
            || state != self.shown.state
            || threat.mover != self.mover
            || onset_moved(&self.shown, threat, at, settings)
            || chance_moved(&self.shown, threat, settings)
            || actions_changed(&self.shown.actions, &threat.actions, at)
            || threat.topic != self.topic;
        self.taken_back = false;
        self.by_eye &= threat.seen_at.is_some();
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

    /// Priority to show: it rises at once, and falls when the trouble has been less pressing for a
    /// while or its onset has moved well away.
    fn priority(&mut self, at: Millis, threat: &Threat) -> Priority {
        if threat.priority >= self.shown.priority {
            self.eased_since = None;
            return threat.priority;
        }
        let since = *self.eased_since.get_or_insert(at);
        let eased = at.seconds_since(since) >= EASE_S
            || onset_step_s(self.shown.onset_at, threat.onset_at, at) > POSTPONED_S;
        if eased {
            self.eased_since = None;
            threat.priority
        } else {
            self.shown.priority
        }
    }

    /// The crew has taken its sighting back: if only that report said that it had happened, it has
    /// not.
    pub fn unseen(&mut self, reported_at: Millis) {
        if self.seen_at == Some(reported_at) {
            self.seen_at = None;
            self.happened = false;
            self.now_since = None;
            self.taken_back = self.by_eye;
            self.tell = true;
        }
    }

    /// No forecast watches it since then; says so once.
    pub fn lose_sight(&mut self, at: Millis, since: Millis, why: &str) -> Option<Advisory> {
        if self.unwatched.is_some() {
            return None;
        }
        let shown = &mut self.shown;
        let title = words::unwatched_title(&shown.title);
        let cause = words::unwatched_cause(&shown.cause, why);
        self.unwatched = Some(Unwatched {
            since,
            title: std::mem::replace(&mut shown.title, title),
            cause: std::mem::replace(&mut shown.cause, cause),
            seen: false,
        });
        shown.unwatched_since = Some(since);
        Some(self.revise(at, self.shown.state))
    }

    /// A forecast, or the crew's own eyes, watch it again. Whether that is new.
    pub fn watch_again(&mut self) -> bool {
        let Some(before) = self.unwatched.take() else {
            return false;
        };
        self.shown.title = before.title;
        self.shown.cause = before.cause;
        self.shown.unwatched_since = None;
        true
    }

    /// The crew has seen it as it stands.
    pub fn acknowledged(&mut self) {
        if let Some(unwatched) = &mut self.unwatched {
            unwatched.seen = true;
        }
    }

    /// Whether it has stood unwatched for so long that it says nothing any more: its onset is past,
    /// and the crew has seen that nobody watches or minutes have gone by.
    pub fn out_of_date(&self, at: Millis) -> bool {
        self.unwatched.as_ref().is_some_and(|unwatched| {
            let onset = self.shown.onset_at.unwrap_or(unwatched.since);
            let keep_s = if unwatched.seen {
                0.0
            } else {
                UNWATCHED_KEEP_S
            };
            at.seconds_since(onset.max(unwatched.since)) >= keep_s
        })
    }

    /// Whether its basis is gone at once: a sighting taken back, a turn called off.
    pub fn void(&self, scene: &Scene<'_>) -> bool {
        self.taken_back || self.withdrawn(scene)
    }

    /// Whether the turn behind it was called off: it is no longer foreseen and the bow is not
    /// where it would have led.
    fn withdrawn(&self, scene: &Scene<'_>) -> bool {
        let Some(behind) = self.behind else {
            return false;
        };
        // A turn seen under way that stops short was not called off: its trouble was averted.
        if self.happened || behind.source == TurnSource::UnderWay {
            return false;
        }
        let still = match scene.forecast {
            Ok(forecast) => forecast.turns().any(|turn| {
                turn.source == behind.source && behind.source != TurnSource::Crew
                    || behind.leads_to(turn.to_heading_deg_true)
            }),
            Err(_) => behind.source != TurnSource::Crew || scene.deck.intended_turn.is_some(),
        };
        let there = behind.made(scene.vessel);
        !still && !there
    }

    pub fn revise(&mut self, at: Millis, state: AlertState) -> Advisory {
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
    shown.chance_with_plan = threat.chance_with_plan;
    shown.chance_basis.clone_from(&threat.chance_basis);
    shown.title = words::title(
        threat.kind,
        threat.onset_at.is_none(),
        threat.seen_at.is_some(),
        threat.sure,
    )
    .to_owned();
    shown.cause.clone_from(&threat.cause);
    shown.turn_at = threat.turn_at;
    shown.actions.clone_from(&threat.actions);
    shown.without_action.clone_from(&threat.without_action);
}

/// How much later the onset is now, seconds; what is so now counts as an onset now.
fn onset_step_s(old: Option<Millis>, new: Option<Millis>, at: Millis) -> f64 {
    new.unwrap_or(at).seconds_since(old.unwrap_or(at))
}

fn onset_moved(shown: &Advisory, threat: &Threat, at: Millis, settings: &AdviceSettings) -> bool {
    // A shift of the onset is no news while the trouble may not come at all.
    if threat
        .chance
        .is_some_and(|chance| chance < settings.raise_chance_planned)
    {
        return false;
    }
    match (shown.onset_at, threat.onset_at) {
        (None, None) => false,
        // The countdown has run out as published: no news unless the step is large.
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

/// A caution may drift further than a warning before it is published again.
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
                start_at: start0,
                ..
            },
            Action::MoveLine {
                line: line1,
                start_at: start1,
                ..
            },
        ) => {
            let (Some(by0), Some(by1)) = (old.in_all_m(), new.in_all_m()) else {
                return true;
            };
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
        (Action::StepLine { .. }, Action::StepLine { .. }) => old != new,
        // Texts contain numbers; a change of numbers alone is no news.
        (Action::See { what: old }, Action::See { what: new }) => {
            (old == words::DONE) != (new == words::DONE)
        }
        _ => true,
    }
}
