//! Orders for the lines as they are shown: hands follow an order only if it stands still.
//!
//! Every forecast plans anew, from the reaction time on, with another amount. Shown as it comes, a
//! countdown would never run out. So an order that is near keeps its start; once due it stays due,
//! with one amount, until the crew has answered or moved line, or no plan asks for it any more.
//! Another amount replaces it at most [`MOST_CHANGES`] times, and only when it has differed by much
//! for seconds: that is a revision, with the reason.

use super::scene::Scene;
use super::shape::{Action, Changed};
use super::threat::{Behind, Threat};
use super::words;
use crate::decode::Line;
use crate::time::Millis;

/// An order nearer than this is not put off any more.
const NEAR_S: f64 = 8.0;
/// A start that moves by no more than this is no other one.
const START_STEP_S: f64 = 3.0;
/// An amount is another one when it differs by more than this, and by this share.
const STEP_M: f64 = 2.0;
const STEP_SHARE: f64 = 0.25;
/// How long it must have differed.
const DIFFERS_S: f64 = 3.0;
/// How often the amount of an order that is due may change.
const MOST_CHANGES: u8 = 2;
/// An order that no plan asks for stays so long: the next search may bring it back.
const GONE_S: f64 = 3.0;
/// Asked for again within this time, it is the same order.
const SAME_S: f64 = 10.0;
/// Line that was moved needs so long to show at the bait.
const SETTLE_S: f64 = 10.0;
/// How long the crew is told that it has done what was asked.
const DONE_S: f64 = 60.0;

/// The orders of one advisory.
#[derive(Debug, Clone, Default)]
pub(super) struct Orders {
    standing: Vec<Standing>,
    done: Option<Done>,
    /// What the crew had said when the standing orders were given.
    said: Said,
}

/// An order as it is shown.
#[derive(Debug, Clone)]
struct Standing {
    action: Action,
    /// Which of the orders for this line and way it is.
    number: usize,
    asked_at: Millis,
    differs_since: Option<Millis>,
    changes: u8,
    report_at: Option<Millis>,
    behind: Option<Behind>,
}

/// The crew has carried out an order.
#[derive(Debug, Clone, Copy)]
struct Done {
    at: Millis,
    line: Line,
    let_out: bool,
    /// Until when the same is not asked for again.
    rest_until: Millis,
}

/// Line moved or turn told: either answers what was asked before.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Said {
    lines_at: Option<Millis>,
    turn_told_at: Option<Millis>,
}

/// Line, whether it is let out, all portions together, start of an order for a line.
fn order(action: &Action) -> Option<(Line, bool, f64, Millis)> {
    let all_m = action.in_all_m()?;
    match action {
        Action::MoveLine { line, start_at, .. } => Some((*line, all_m > 0.0, all_m, *start_at)),
        Action::StepLine { .. } | Action::LimitTurn { .. } | Action::See { .. } => None,
    }
}

impl Orders {
    /// The crew has answered what was asked of this line; `shown` is what it read.
    pub fn answered(&mut self, at: Millis, line: Line, done: bool, shown: &[Action]) {
        self.standing.clear();
        let asked = shown.iter().find_map(|action| match action {
            Action::MoveLine {
                line: of,
                by_m,
                over_s,
                portions,
                ..
            } if *of == line => {
                // With portions to come, the next plan leaves the time for a look.
                let settle_s = if *portions > 1 { 0.0 } else { SETTLE_S };
                Some((*by_m > 0.0, *over_s + settle_s))
            }
            _ => None,
        });
        self.done = asked.filter(|_| done).map(|(let_out, rest_s)| Done {
            at,
            line,
            let_out,
            rest_until: at.plus_seconds(rest_s),
        });
    }

    /// The crew has taken an answer back.
    pub fn taken_back(&mut self) {
        self.done = None;
    }

    /// The threat with the orders that are to be shown of what it asks for now.
    pub fn hold(&mut self, scene: &Scene<'_>, threat: &Threat) -> Threat {
        let actions = self.actions(scene, threat);
        let asks = actions.iter().any(|action| order(action).is_some());
        Threat {
            chance_with_plan: threat.chance_with_plan.filter(|_| asks),
            actions,
            ..threat.clone()
        }
    }

    fn actions(&mut self, scene: &Scene<'_>, threat: &Threat) -> Vec<Action> {
        let at = scene.at;
        let said = Said {
            lines_at: scene.deck.lines_at,
            turn_told_at: scene.deck.intended_turn.map(|turn| turn.told_at),
        };
        if self.said != said {
            self.said = said;
            self.standing.clear();
        }
        let mut actions = threat.actions.clone();
        self.rest(at, threat, &mut actions);
        let mut shown = Vec::with_capacity(actions.len());
        let mut numbers: Vec<(Line, bool)> = Vec::new();
        for action in actions {
            let Some((line, let_out, ..)) = order(&action) else {
                shown.push(action);
                continue;
            };
            let number = numbers
                .iter()
                .filter(|key| **key == (line, let_out))
                .count();
            numbers.push((line, let_out));
            shown.push(self.stand(scene, threat, number, action));
        }
        self.standing
            .retain(|standing| at.seconds_since(standing.asked_at) <= SAME_S);
        // One that the newest plan lacks, unless it asks for the opposite.
        let missed = self.standing.iter().find(|standing| {
            standing.number == 0
                && standing.asked_at < at
                && at.seconds_since(standing.asked_at) <= GONE_S
                && order(&standing.action).is_some_and(|(line, _, _, start_at)| {
                    start_at <= at && !numbers.iter().any(|(asked, _)| *asked == line)
                })
        });
        if let Some(missed) = missed {
            shown.retain(|action| !matches!(action, Action::See { what } if what == words::WATCH));
            shown.insert(0, missed.action.clone());
        }
        shown
    }

    /// Leaves out what was carried out just now, and says so.
    fn rest(&mut self, at: Millis, threat: &Threat, actions: &mut Vec<Action>) {
        let Some(done) = self
            .done
            .filter(|done| at.seconds_since(done.at) <= DONE_S)
            .filter(|done| threat.seen_at.is_none_or(|seen| seen <= done.at))
        else {
            self.done = None;
            return;
        };
        actions.retain(|action| {
            order(action).is_none_or(|(line, let_out, _, start_at)| {
                (line, let_out) != (done.line, done.let_out) || start_at >= done.rest_until
            })
        });
        if !actions.iter().any(|action| order(action).is_some()) {
            actions.retain(
                |action| !matches!(action, Action::See { what } if what == words::WATCH || what == words::HANDS),
            );
            actions.insert(0, Action::see(words::DONE));
        }
    }

    /// The order as it stands after this plan.
    fn stand(&mut self, scene: &Scene<'_>, threat: &Threat, number: usize, new: Action) -> Action {
        let at = scene.at;
        let key = |action: &Action| order(action).map(|(line, let_out, ..)| (line, let_out));
        let report_at = scene.deck.bait.map(|seen| seen.at);
        let Some(standing) = self
            .standing
            .iter_mut()
            .find(|standing| standing.number == number && key(&standing.action) == key(&new))
        else {
            self.standing.push(Standing {
                action: new.clone(),
                number,
                asked_at: at,
                differs_since: None,
                changes: 0,
                report_at,
                behind: threat.behind,
            });
            return new;
        };
        standing.asked_at = at;
        standing.follow(at, new, report_at, threat.behind);
        standing.action.clone()
    }
}

impl Standing {
    fn follow(
        &mut self,
        at: Millis,
        new: Action,
        report_at: Option<Millis>,
        behind: Option<Behind>,
    ) {
        let (Some((_, _, by_m, start_at)), Some((_, _, new_m, new_start_at))) =
            (order(&self.action), order(&new))
        else {
            return;
        };
        let due = start_at <= at;
        let put_off_s = new_start_at.seconds_since(start_at);
        let near = start_at.seconds_since(at) < NEAR_S;
        let start_at = if due || put_off_s.abs() <= START_STEP_S || near && put_off_s > 0.0 {
            start_at
        } else {
            new_start_at
        };
        if (new_m - by_m).abs() <= STEP_M.max(STEP_SHARE * by_m.abs()) {
            self.differs_since = None;
        } else {
            self.differs_since.get_or_insert(at);
        }
        let differs = self
            .differs_since
            .is_some_and(|since| at.seconds_since(since) >= DIFFERS_S);
        if differs && (!due || self.changes < MOST_CHANGES) {
            let why = if report_at != self.report_at {
                words::AFTER_REPORT
            } else if behind != self.behind {
                words::TURN_CHANGED
            } else {
                words::FORECAST_CHANGED
            };
            self.changes += u8::from(due);
            self.differs_since = None;
            self.report_at = report_at;
            self.behind = behind;
            self.action = new;
            self.set(
                start_at,
                Some(Changed {
                    from_m: by_m,
                    why: why.to_owned(),
                }),
            );
        } else {
            self.set(start_at, None);
        }
    }

    fn set(&mut self, at: Millis, change: Option<Changed>) {
        if let Action::MoveLine {
            start_at, changed, ..
        } = &mut self.action
        {
            *start_at = at;
            if change.is_some() {
                *changed = change;
            }
        }
    }
}
