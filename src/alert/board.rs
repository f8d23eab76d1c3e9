//! The alerts as they stand, with the counters that displays know them by.

use super::command::{Command, Wish};
use super::entry::{Entry, Key, Shown};
use super::numbers::{number_of, text_number};
use super::sentence::arc;
use crate::advice::{Action, Advisory, AlertState, Priority};
use crate::decode::Line;
use crate::time::Millis;

/// How long an alert that is over is kept, so that every line out has told it.
const OVER_FOR_S: f64 = 60.0;
/// After this revision comes 1 again.
const LAST_REVISION: u8 = 99;
/// Highest instance.
const LAST_INSTANCE: u32 = 999_999;
const METRES_PER_FOOT: f64 = 0.3048;

/// What becomes of a command.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    /// These advisories are acknowledged: id and priority.
    Acknowledge(Vec<(String, Priority)>),
    /// All sound stops for 30 s.
    Silence,
    /// Alerts are sent again.
    Again,
    /// It is refused with this sentence.
    Refused(String),
    /// It is not for us, or has no way of being refused.
    Nothing,
}

/// The alerts as they stand.
#[derive(Debug, Default)]
pub struct Board {
    in_feet: bool,
    shown: Shown,
}

impl Board {
    /// With lengths in feet or metres, as the crew thinks of them.
    #[must_use]
    pub fn new(in_feet: bool) -> Self {
        Self {
            in_feet,
            shown: Shown::new(),
        }
    }

    /// The alerts.
    #[must_use]
    pub fn shown(&self) -> &Shown {
        &self.shown
    }

    /// Takes the advisories that live at a moment; whether anything has changed.
    pub fn see(&mut self, now: Millis, living: &[Advisory]) -> bool {
        let before = self.shown.clone();
        for entry in self.shown.values_mut() {
            let lives = living.iter().any(|advisory| advisory.id == entry.advisory);
            if !lives && entry.state != AlertState::Normal {
                entry.state = AlertState::Normal;
                changed(entry, now);
            }
        }
        for advisory in living {
            let (key, fresh) = self.entry(advisory, now);
            match self.shown.get_mut(&key) {
                Some(entry) if entry.advisory == advisory.id => {
                    let is_same = entry.priority == fresh.priority
                        && entry.state == fresh.state
                        && entry.order == fresh.order;
                    if !is_same {
                        (entry.priority, entry.state) = (fresh.priority, fresh.state);
                        entry.order = fresh.order;
                        changed(entry, now);
                    }
                }
                _ => {
                    self.shown.insert(key, fresh);
                }
            }
        }
        self.shown.retain(|_, entry| {
            entry.state != AlertState::Normal || now.seconds_since(entry.changed_at) < OVER_FOR_S
        });
        self.shown != before
    }

    fn entry(&self, advisory: &Advisory, now: Millis) -> (Key, Entry) {
        let (number, title) = number_of(advisory.kind);
        // "bait-airborne-3": the third of its kind.
        let counted = advisory.id.rsplit('-').next();
        let instance = counted.and_then(|digits| digits.parse().ok()).unwrap_or(1);
        let key = Key {
            number,
            instance: u32::clamp(instance, 1, LAST_INSTANCE),
        };
        let entry = Entry {
            advisory: advisory.id.clone(),
            priority: advisory.priority,
            state: advisory.state,
            title,
            order: advisory
                .actions
                .first()
                .and_then(|action| self.order(action))
                .unwrap_or_default(),
            revision: 1,
            asked: 0,
            changed_at: now,
        };
        (key, entry)
    }

    /// An order for a line or the helm, in our own words; what is said otherwise may hold names of the
    /// settings, and is on the pages.
    fn order(&self, action: &Action) -> Option<String> {
        let (line, metres) = action
            .asks()
            .map_or((None, 0.0), |(line, metres)| (Some(line), metres));
        let verb = if metres > 0.0 { "LET OUT" } else { "WIND IN" };
        let line = match line {
            Some(Line::Main) => "MAIN LINE",
            Some(Line::Kite) => "KITE LINE",
            None => "",
        };
        match action {
            Action::MoveLine { portions, .. } => {
                let by = self.length(metres);
                let more = if *portions > 1 { ", LOOK, MORE" } else { "" };
                Some(format!("{verb} {by} {line}{more}"))
            }
            Action::StepLine { .. } => Some(format!("{verb} {line} BIT BY BIT")),
            Action::LimitTurn { rate_deg_s } => {
                Some(format!("TURN SLOWER: {rate_deg_s:.1} deg/s AT MOST"))
            }
            Action::See { .. } => None,
        }
    }

    /// As the pages have it: no finer than hands can measure.
    fn length(&self, metres: f64) -> String {
        if self.in_feet {
            return format!("{:.0} ft", metres.abs() / METRES_PER_FOOT);
        }
        let step = if metres.abs() < 10.0 { 0.5 } else { 1.0 };
        format!("{} m", (metres.abs() / step).round() * step)
    }

    /// What a command of a display asks for.
    pub fn take(&mut self, now: Millis, command: &Command) -> Verdict {
        match *command {
            Command::Older { text } => {
                let of_kind = |key: &Key| text_number(key.number) == text;
                let found = self.shown.iter().filter(|(key, _)| of_kind(key));
                let wanting: Vec<_> = found
                    .filter(|(_, entry)| wants_acknowledging(entry))
                    .map(|(_, entry)| (entry.advisory.clone(), entry.priority))
                    .collect();
                if wanting.is_empty() {
                    Verdict::Nothing
                } else {
                    Verdict::Acknowledge(wanting)
                }
            }
            Command::Alert {
                number,
                instance,
                wish,
            } => self
                .grant(number, instance, wish)
                .unwrap_or_else(|| Verdict::Refused(arc(now, number, instance, wish.letter()))),
        }
    }

    fn grant(&mut self, number: u32, instance: Option<u32>, wish: Wish) -> Option<Verdict> {
        // 0 and nothing stand for all instances.
        let all = instance.is_none_or(|instance| instance == 0);
        let matches = |key: &Key| key.number == number && (all || instance == Some(key.instance));
        match wish {
            Wish::Acknowledge if all => None,
            Wish::Acknowledge => {
                let (_, entry) = self.shown.iter().find(|(key, _)| matches(key))?;
                wants_acknowledging(entry)
                    .then(|| Verdict::Acknowledge(vec![(entry.advisory.clone(), entry.priority)]))
            }
            Wish::Silence => self
                .shown
                .iter()
                .any(|(key, entry)| matches(key) && entry.state == AlertState::ActiveUnacknowledged)
                .then_some(Verdict::Silence),
            Wish::Again => {
                let mut found = false;
                for (_, entry) in self.shown.iter_mut().filter(|(key, _)| matches(key)) {
                    entry.asked = entry.asked.wrapping_add(1);
                    found = true;
                }
                found.then_some(Verdict::Again)
            }
            Wish::TakeOver => None,
        }
    }
}

fn changed(entry: &mut Entry, now: Millis) {
    entry.changed_at = now;
    entry.revision = if entry.revision >= LAST_REVISION {
        1
    } else {
        entry.revision + 1
    };
}

fn wants_acknowledging(entry: &Entry) -> bool {
    let unseen = matches!(
        entry.state,
        AlertState::ActiveUnacknowledged
            | AlertState::ActiveSilenced
            | AlertState::RectifiedUnacknowledged
    );
    unseen && entry.priority != Priority::Caution
}
