//! Compares the output of a replay with the labels of its day: events, advisories, chances.
//! In: advisories and forecasts as published, labels. Out: counts in [`Marks`], and each one
//! listed.

use super::details::Detail;
use super::labels::{Cause, Event, Labels, Rules, Turn};
use super::marks::{Class, Fate, Marks};
use super::taps::Said;
use crate::advice::Outcome;
use crate::decode::{BaitState, CrewInput};
use crate::forecast::{Chance, Trouble};
use crate::time::Millis;

/// One advisory from raised to over.
#[derive(Debug, Clone)]
pub(super) struct Spell {
    pub trouble: Trouble,
    pub raised: Millis,
    pub over: Option<(Millis, Outcome)>,
    /// Foreseen onset from each revision on; `None` for "so now".
    pub onsets: Vec<(Millis, Option<Millis>)>,
    /// Whether it was a warning or an alarm, from each revision on.
    pub pressing: Vec<(Millis, bool)>,
}

/// One forecast's chances.
#[derive(Debug, Clone)]
pub(super) struct Made {
    pub at: Millis,
    pub horizon_s: f64,
    pub chances: Vec<Chance>,
}

/// A spell in seconds after the first line.
pub(super) struct Told {
    trouble: Trouble,
    raised_s: f64,
    over: Option<(f64, Outcome)>,
    onsets: Vec<(f64, Option<f64>)>,
    pressing: Vec<(f64, bool)>,
}

impl Told {
    pub fn new(spell: &Spell, first: Millis) -> Self {
        Self {
            trouble: spell.trouble,
            raised_s: spell.raised.seconds_since(first),
            over: spell
                .over
                .map(|(at, outcome)| (at.seconds_since(first), outcome)),
            onsets: spell
                .onsets
                .iter()
                .map(|(at, onset)| {
                    (
                        at.seconds_since(first),
                        onset.map(|onset| onset.seconds_since(first)),
                    )
                })
                .collect(),
            pressing: spell
                .pressing
                .iter()
                .map(|(at, pressing)| (at.seconds_since(first), *pressing))
                .collect(),
        }
    }

    /// Whether it stands as a warning or an alarm at this moment.
    fn presses(&self, t_s: f64) -> bool {
        let last = self.pressing.iter().rfind(|(at_s, _)| *at_s <= t_s);
        t_s < self.over_s() && last.is_some_and(|(_, pressing)| *pressing)
    }

    fn over_s(&self) -> f64 {
        self.over.map_or(f64::INFINITY, |(t_s, _)| t_s)
    }

    fn foretold(&self, event: &Event) -> bool {
        self.trouble == event.trouble
            && event.cause != Cause::Before
            && self.raised_s < event.onset_s
            && event.onset_s <= self.over_s()
    }

    /// Onset that it foresaw in the last revision before `t_s`; for what is so now, the time of
    /// that revision.
    fn foreseen_s(&self, t_s: f64) -> f64 {
        self.onsets
            .iter()
            .rfind(|(at_s, _)| *at_s <= t_s)
            .or(self.onsets.first())
            .map_or(self.raised_s, |(at_s, onset_s)| onset_s.unwrap_or(*at_s))
    }
}

fn class(cause: Cause, labels: &Labels) -> Class {
    match cause {
        Cause::Turn(index) => class_of_turn(Some(index), labels),
        Cause::Hands | Cause::Air | Cause::Before => Class::NoTurn,
    }
}

fn class_of_turn(index: Option<usize>, labels: &Labels) -> Class {
    match index.and_then(|index| labels.turns.get(index)) {
        Some(turn) if turn.told_s.is_some() => Class::Planned,
        Some(_) => Class::UnderWay,
        None => Class::NoTurn,
    }
}

/// Judges every event: foretold or not, and how early.
pub(super) fn events(
    told: &[Told],
    labels: &Labels,
    marks: &mut Marks,
    tell: &mut impl FnMut(Detail),
) {
    // An advisory that foretold several events gives one lead.
    let mut led = vec![false; told.len()];
    let mut events: Vec<&Event> = labels.events.iter().collect();
    events.sort_by(|a, b| a.onset_s.total_cmp(&b.onset_s));
    for event in events {
        let mut detail = |class, detected, lead_s| {
            tell(Detail::Event {
                trouble: event.trouble,
                onset_s: event.onset_s,
                end_s: event.end_s,
                cause: event.cause,
                class,
                detected,
                lead_s,
            });
        };
        if matches!(event.cause, Cause::Hands | Cause::Before) {
            detail(None, told.iter().any(|t| t.foretold(event)), None);
            continue;
        }
        let known_s = match event.cause {
            Cause::Turn(index) => labels.turns.get(index).map(Turn::known_s),
            _ => None,
        };
        let by = told
            .iter()
            .enumerate()
            .filter(|(_, t)| t.foretold(event))
            .min_by(|(_, a), (_, b)| a.raised_s.total_cmp(&b.raised_s));
        let lead_s = by.and_then(|(index, advisory)| {
            let fresh = led.get_mut(index)?;
            let from_s = known_s.map_or(advisory.raised_s, |known| advisory.raised_s.max(known));
            (!std::mem::replace(fresh, true)).then_some(event.onset_s - from_s)
        });
        let class = class(event.cause, labels);
        detail(Some(class), by.is_some(), lead_s);
        marks.event(event.trouble, class, by.is_some(), lead_s);
    }
}

/// Interval at which the burden is looked at.
const LOOK_S: f64 = 1.0;

/// Seconds without trouble, and those of them in which a warning or an alarm stands.
pub(super) fn burden(told: &[Told], labels: &Labels, rules: &Rules) -> (f64, f64) {
    let (mut free_s, mut burdened_s) = (0.0, 0.0);
    for i in 0..(labels.ends_s / LOOK_S) as u64 {
        let t_s = i as f64 * LOOK_S;
        let trouble = |e: &Event| (e.onset_s - rules.trouble_near_s..e.end_s).contains(&t_s);
        if labels.events.iter().any(trouble) {
            continue;
        }
        free_s += LOOK_S;
        if told.iter().any(|advisory| advisory.presses(t_s)) {
            burdened_s += LOOK_S;
        }
    }
    (free_s, burdened_s)
}

/// Judges every advisory: its fate.
pub(super) fn advisories(
    told: &[Told],
    taps: &[Said],
    labels: &Labels,
    rules: &Rules,
    marks: &mut Marks,
    tell: &mut impl FnMut(Detail),
) {
    for advisory in told {
        let first = labels
            .events
            .iter()
            .filter(|event| advisory.foretold(event))
            .min_by(|a, b| a.onset_s.total_cmp(&b.onset_s));
        let class = match first {
            Some(event) => class(event.cause, labels),
            None => class_of_turn(labels.turn_at(advisory.raised_s), labels),
        };
        let fate = if first.is_some() {
            Fate::True
        } else {
            fate(advisory, taps, labels, rules)
        };
        tell(Detail::Advisory {
            trouble: advisory.trouble,
            raised_s: advisory.raised_s,
            over_s: advisory.over.map(|(t_s, _)| t_s),
            class,
            fate,
        });
        marks.advisory(advisory.trouble, class, fate);
    }
}

/// Fate of an advisory that foretold nothing.
fn fate(advisory: &Told, taps: &[Said], labels: &Labels, rules: &Rules) -> Fate {
    let tapped = |(at_s, input): &Said| {
        (0.0..=AT_ONCE_S).contains(&(advisory.raised_s - at_s))
            && match input {
                CrewInput::Bait(BaitState::Airborne) => advisory.trouble == Trouble::BaitAirborne,
                CrewInput::Bait(BaitState::Dragging) => advisory.trouble == Trouble::BaitDragging,
                _ => false,
            }
    };
    if taps.iter().any(tapped) {
        return Fate::Told;
    }
    if labels.on_at(advisory.trouble, advisory.raised_s).is_some() {
        return Fate::Late;
    }
    match advisory.over {
        Some((_, Outcome::Withdrawn)) => return Fate::Withdrawn,
        Some((_, Outcome::Lost)) => return Fate::Lost,
        _ => {}
    }
    let averted = labels.moves.iter().any(|m| {
        m.meets(advisory.trouble)
            && m.start_s >= advisory.raised_s
            && m.start_s <= advisory.over_s()
            && m.start_s <= advisory.foreseen_s(m.start_s) + rules.averted_grace_s
    });
    if averted {
        Fate::Averted
    } else if advisory.over.is_none() && advisory.foreseen_s(f64::INFINITY) > labels.ends_s {
        Fate::Open
    } else {
        Fate::False
    }
}

/// Judges the chances of one forecast, in all three sets.
pub(super) fn chances(
    made: &Made,
    first: Millis,
    labels: &Labels,
    rules: &Rules,
    marks: &mut Marks,
    tell: &mut impl FnMut(Detail),
) {
    let made_s = made.at.seconds_since(first);
    let horizon_end_s = made_s + made.horizon_s;
    let cut_s = intervention_s(made_s, labels);
    for chance in &made.chances {
        let trouble = chance.kind;
        let marks = marks.chances(trouble);
        if labels.on_at(trouble, made_s).is_some() {
            marks.on_already += 1;
            continue;
        }
        if horizon_end_s > labels.ends_s {
            marks.past_end += 1;
            continue;
        }
        let onset_s = labels
            .events
            .iter()
            .filter(|e| e.trouble == trouble && e.onset_s > made_s)
            .map(|e| e.onset_s)
            .fold(f64::INFINITY, f64::min);
        let came = onset_s <= horizon_end_s;
        marks.whole.add(chance.chance, came);
        if cut_s > horizon_end_s.min(onset_s) {
            marks.censored.add(begins(chance, 1.0), came);
        }
        let window_s = (cut_s - made_s).min(made.horizon_s);
        let until = (window_s >= rules.least_window_s.min(made.horizon_s)).then(|| {
            let share = chance.onset_share(window_s, made.horizon_s);
            (begins(chance, share), onset_s <= made_s + window_s)
        });
        if let Some((chance, came)) = until {
            marks.shortened.add(chance, came);
        }
        tell(Detail::Chance {
            trouble,
            made_s,
            chance: chance.chance,
            so_now: chance.so_now,
            onset_in_s: chance.onset_s.map(|onset| onset.p50),
            came,
            window_s: until.map(|_| window_s),
            until,
        });
    }
}

/// An advisory raised this soon after a tap was raised because of it.
const AT_ONCE_S: f64 = 1.0;

/// Chance that it begins; when all futures hold that it is on, the full chance counts.
fn begins(chance: &Chance, share: f64) -> f64 {
    chance.begins(share).unwrap_or(chance.chance)
}

/// The first moment after `made_s` at which a line moves or an unannounced turn begins; `made_s`
/// itself while a line is moving.
fn intervention_s(made_s: f64, labels: &Labels) -> f64 {
    let hands = labels
        .moves
        .iter()
        .filter(|m| m.end_s > made_s)
        .map(|m| m.start_s.max(made_s));
    let turns = labels
        .turns
        .iter()
        .filter(|turn| turn.start_s > made_s && turn.known_s() > made_s)
        .map(|turn| turn.start_s);
    hands.chain(turns).fold(f64::INFINITY, f64::min)
}

#[cfg(test)]
mod tests {
    use super::super::labels::LineMove;
    use super::*;
    use crate::decode::Line;

    #[test]
    fn what_is_on_already_does_not_count_as_beginning() {
        let chance = |chance: f64, so_now: f64| Chance {
            kind: Trouble::BaitAirborne,
            chance,
            so_now,
            later_s: None,
            onset_s: None,
            chance_with_plan: None,
        };
        // 60 of 100 at all, 50 of them now: of the other 50, 10 begin.
        assert!((begins(&chance(0.6, 0.5), 1.0) - 0.2).abs() < 1e-12);
        assert_eq!(begins(&chance(0.6, 0.0), 0.5), 0.3);
        // A cut before any later onset leaves nothing.
        assert_eq!(begins(&chance(0.6, 0.5), 0.5), 0.0);
        // All futures hold that it is on: the full chance counts.
        assert_eq!(begins(&chance(1.0, 1.0), 1.0), 1.0);
    }

    #[test]
    fn a_moving_line_intervenes_at_once() {
        let labels = Labels {
            turns: Vec::new(),
            moves: vec![LineMove {
                line: Line::Main,
                by_m: 5.0,
                start_s: 10.0,
                end_s: 20.0,
            }],
            events: Vec::new(),
            ends_s: 100.0,
            turn_time_s: None,
        };
        assert_eq!(intervention_s(4.0, &labels), 10.0);
        assert_eq!(intervention_s(15.0, &labels), 15.0);
        assert_eq!(intervention_s(20.0, &labels), f64::INFINITY);
    }
}
