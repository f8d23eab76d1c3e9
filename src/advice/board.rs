//! The board: at most one living advisory per kind, from raised to ended.

use std::collections::BTreeMap;

use super::living::{Living, SO_NOW};
use super::reversal::Reversals;
use super::scene::Scene;
use super::settings::AdviceSettings;
use super::shape::{Action, Advisory, AlertState, Kind, Outcome, Priority};
use super::threat::{Alive, AliveByKind, Mover, Threat};
use super::threats::threats;
use super::words;
use crate::decode::{CrewInput, Line, PlanAnswer};
use crate::forecast::{Forecast, NoForecast};
use crate::time::Millis;
use crate::vessel::{DeckNow, Report, VesselNow};

/// Turns forecasts into advisories.
#[derive(Debug, Clone)]
pub struct AdviceBoard {
    settings: AdviceSettings,
    slots: BTreeMap<Kind, Slot>,
    raised: BTreeMap<Kind, u32>,
    started: Option<Millis>,
    quiet_until: Option<Millis>,
    last_forecast: Option<Millis>,
    reversals: Reversals,
    /// Acknowledged before a restart.
    seen_before: Vec<SeenBefore>,
}

/// An acknowledgement from before a restart counts if it is no older than this.
pub const SEEN_LATELY_S: f64 = 600.0;
/// An advisory raised within this time of a restart is taken for the one that lived before it.
const RAISED_SOON_S: f64 = 60.0;

/// An advisory that was acknowledged before a restart. Numbers start again, so only its kind is
/// kept.
#[derive(Debug, Clone)]
struct SeenBefore {
    /// Its kind, as in the id.
    slug: String,
    /// Its priority, if it was recorded: raised with a higher one, it is news.
    priority: Option<Priority>,
    /// Raised after this, it is another one.
    until: Millis,
}

#[derive(Debug, Clone, Default)]
struct Slot {
    /// Since when the threat has been present without being raised (dwell).
    there_since: Option<Millis>,
    living: Option<Living>,
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
            reversals: Reversals::default(),
            seen_before: Vec::new(),
        }
    }

    /// Other settings from now on; what lives goes on.
    pub fn set(&mut self, settings: AdviceSettings) {
        self.settings = settings;
    }

    /// The crew has taken a report back; the next update tells what comes of it.
    pub fn retracted(&mut self, report: &Report) {
        for living in self.slots.values_mut().filter_map(|s| s.living.as_mut()) {
            match report.input {
                CrewInput::Bait(_) => living.unseen(report.at),
                CrewInput::Plan { .. } => living.orders.taken_back(),
                _ => {}
            }
        }
    }

    /// Updates with one moment; returns the revisions that a reader would notice.
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
            blind_s: at.seconds_since(self.last_forecast.unwrap_or(started)),
            in_trouble: self.slots.iter().any(|(kind, slot)| {
                let lives = |living: &Living| living.over_since.is_none();
                !kind.is_fact() && slot.living.as_ref().is_some_and(lives)
            }),
        };
        let mut found = threats(&scene, &self.settings, &self.alive(&scene));
        self.reversals.steady(&scene, &mut found);
        let mut out = Vec::new();
        for threat in &found {
            self.meet(&scene, threat, &mut out);
        }
        let absent: Vec<Kind> = self
            .slots
            .keys()
            .copied()
            .filter(|kind| found.iter().all(|threat| threat.kind != *kind))
            .collect();
        for kind in absent {
            self.miss(&scene, kind, &found, &mut out);
        }
        self.wake(at, &mut out);
        self.reversals.note(&scene, &self.living());
        self.slots
            .retain(|_, slot| slot.living.is_some() || slot.there_since.is_some());
        out
    }

    /// The living advisories. After a called-off turn or a sighting taken back, the rest must be
    /// raised on its own evidence.
    fn alive(&self, scene: &Scene<'_>) -> AliveByKind {
        self.slots
            .iter()
            .filter_map(|(kind, slot)| {
                let living = slot.living.as_ref()?;
                let alive = Alive {
                    priority: living.shown.priority,
                    mover: living.mover,
                    behind: living.behind,
                };
                (living.over_since.is_none() && !living.void(scene)).then_some((*kind, alive))
            })
            .collect()
    }

    /// Acknowledges an advisory. Returns the revision, or `None` when there is no such advisory or
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
        living.acknowledged();
        let revision = living.revise(at, next);
        if next == AlertState::Normal {
            slot.living = None;
        }
        Some(revision)
    }

    /// Records that an advisory was acknowledged before a restart, `age_s` ago. If it is raised
    /// again soon and is no more pressing, it counts as acknowledged.
    pub fn acknowledged_before(
        &mut self,
        at: Millis,
        age_s: f64,
        id: &str,
        priority: Option<Priority>,
    ) {
        let Some((slug, _)) = id.rsplit_once('-') else {
            return;
        };
        if (0.0..=SEEN_LATELY_S).contains(&age_s) {
            self.seen_before.retain(|seen| seen.slug != slug);
            self.seen_before.push(SeenBefore {
                slug: slug.to_owned(),
                priority,
                until: at.plus_seconds(RAISED_SOON_S),
            });
        }
    }

    /// Whether what is raised now was acknowledged before a restart; each record counts once.
    fn known_already(&mut self, at: Millis, kind: Kind, priority: Priority) -> bool {
        let slug = kind.to_string();
        let Some(index) = self.seen_before.iter().position(|seen| seen.slug == slug) else {
            return false;
        };
        let seen = self.seen_before.swap_remove(index);
        // If its priority was not recorded, an alarm must be heard again.
        let most = seen.priority.unwrap_or(Priority::Warning);
        at <= seen.until && priority <= most
    }

    /// The crew has answered what was asked of this line, and has seen it therefore. The next
    /// request for it is a new revision, which can be answered again.
    pub fn answered(&mut self, at: Millis, line: Line, answer: PlanAnswer) {
        for living in self.slots.values_mut().filter_map(|s| s.living.as_mut()) {
            if asks_for(&living.shown.actions, line).is_some() {
                living.answered = true;
                living.silent_until = None;
                let done = answer == PlanAnswer::Done;
                living
                    .orders
                    .answered(at, line, done, &living.shown.actions);
            }
        }
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

    /// All active advisories, and the rectified but unacknowledged ones: most pressing first.
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
                // People come before bait.
                !a.kind.endangers_people(),
                a.onset_at,
                a.kind,
            )
        });
        list
    }

    /// The threat is present: raises or updates its advisory.
    fn meet(&mut self, scene: &Scene<'_>, threat: &Threat, out: &mut Vec<Advisory>) {
        let at = scene.at;
        let settings = self.settings;
        let slot = self.slots.entry(threat.kind).or_default();
        match &mut slot.living {
            Some(living) => {
                if scene.denies(threat.kind) {
                    living.denied();
                }
                let seen = living.note(at, threat);
                if let Some(revision) = living.follow(scene, threat, seen, &settings) {
                    out.push(revision);
                }
            }
            None => {
                let since = *slot.there_since.get_or_insert(at);
                let known = threat.seen_at.is_some()
                    || threat.mover != Mover::Air && threat.mover != Mover::Shift;
                let near = threat.so_now < SO_NOW
                    && threat
                        .early_at
                        .is_some_and(|early| early.seconds_since(at) < settings.least_lead_s);
                let dwell = if known || near {
                    0.0
                } else {
                    settings.raise_dwell_s
                };
                if at.seconds_since(since) < dwell {
                    return;
                }
                let known_already = self.known_already(at, threat.kind, threat.priority);
                let number = self.raised.entry(threat.kind).or_insert(0);
                *number += 1;
                let mut living = Living::raise(scene, threat, *number);
                if known_already {
                    living.shown.state = AlertState::ActiveAcknowledged;
                } else if let Some(until) = self.quiet_until.filter(|until| *until > at)
                    && threat.priority < Priority::Alarm
                {
                    living.silent_until = Some(until);
                    living.shown.state = AlertState::ActiveSilenced;
                }
                living.note(at, threat);
                out.push(living.shown.clone());
                self.slots.insert(
                    threat.kind,
                    Slot {
                        there_since: None,
                        living: Some(living),
                    },
                );
            }
        }
    }

    /// The threat is absent: ends its advisory after the dwell.
    fn miss(&mut self, scene: &Scene<'_>, kind: Kind, found: &[Threat], out: &mut Vec<Advisory>) {
        let at = scene.at;
        let settings = self.settings;
        let last_forecast = self.last_forecast;
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
        if std::mem::take(&mut living.answered) {
            // The request is presumably carried out and must no longer be shown.
            living.shown.actions = vec![Action::see(words::DONE)];
            living.shown.chance_with_plan = None;
            out.push(living.revise(at, AlertState::ActiveAcknowledged));
        } else if contradicted(&living.shown.actions, found) {
            living.shown.actions = vec![Action::see(words::WATCH)];
            living.shown.chance_with_plan = None;
            out.push(living.revise(at, living.shown.state));
        }
        let denied = scene.denies(kind);
        if denied {
            living.denied();
        }
        let ended = |happened: bool, otherwise: Outcome| {
            if happened {
                Outcome::Happened
            } else {
                otherwise
            }
        };
        let outcome = match scene.forecast {
            Err(_) if kind == Kind::NoForecast => Some(Outcome::Lost),
            _ if kind.is_fact() => Some(Outcome::Restored),
            _ if living.void(scene) => Some(Outcome::Withdrawn),
            Err(none) if !denied => {
                living.gone_since = None;
                let since = last_forecast.max(living.seen_at).unwrap_or(at);
                // A line that a fish or a launch has taken over is not to be moved for the bait.
                if !none.is_intended() {
                    if at.seconds_since(since) < settings.lost_after_s {
                        return;
                    }
                    out.extend(living.lose_sight(at, since, &none.reasons.join("; ")));
                    if !living.out_of_date(at) {
                        return;
                    }
                }
                // Nobody has seen it go, so it is not over but ends here.
                living.shown.outcome = Some(ended(living.happened, Outcome::Lost));
                out.push(living.revise(at, AlertState::Normal));
                slot.living = None;
                return;
            }
            _ => {
                let gone = at.seconds_since(*living.gone_since.get_or_insert(at));
                (gone >= settings.clear_dwell_s || denied).then(|| {
                    living.watch_again();
                    ended(living.happened, Outcome::Averted)
                })
            }
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

/// What these ask of a line first: + let out, - wind in.
fn asks_for(actions: &[Action], of: Line) -> Option<f64> {
    actions.iter().find_map(|action| match action {
        Action::MoveLine { line, by_m, .. } if *line == of => Some(*by_m),
        _ => None,
    })
}

/// Whether what is foreseen now asks for the opposite.
fn contradicted(actions: &[Action], found: &[Threat]) -> bool {
    let way = |actions: &[Action], line: Line| {
        asks_for(actions, line).or_else(|| {
            let mut asked = actions.iter().filter_map(Action::asks);
            asked.find_map(|(of, by_m)| (of == line).then_some(by_m))
        })
    };
    [Line::Main, Line::Kite].into_iter().any(|line| {
        way(actions, line).is_some_and(|by_m| {
            found
                .iter()
                .filter_map(|threat| way(&threat.actions, line))
                .any(|other_m| by_m * other_m < 0.0)
        })
    })
}

/// When a silence asked for now ends for one advisory.
fn quiet_end(at: Millis, until: Millis, priority: Priority, settings: &AdviceSettings) -> Millis {
    if priority == Priority::Alarm {
        until.min(at.plus_seconds(settings.alarm_silence_s))
    } else {
        until
    }
}
