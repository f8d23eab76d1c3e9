//! The plan for the lines: the fewest corrections that keep the bait skipping.
//!
//! What the coming heading needs comes from the settled rig (`needs.rs`). A few starts and
//! amounts are then simulated as the crew's hands carry them out, in portions where there is time
//! (`portions.rs`), and the best is kept. For a following turn, a correction of its own is tried in
//! addition to that one and instead of it. A plan with which the kite sinks in more futures is worth
//! less by as much. In the end portions are left out as long as the bait skips nearly as much without
//! them.

use super::needs::{self, best_change};
use super::portions::{carried_out, done_s, last_portions};
use crate::decode::Line;
use crate::forecast::futures::{
    Ahead, Move, Trace, Weighted, skipping, skipping_of, worth, worth_of,
};
use crate::forecast::hands::Hands;
use crate::forecast::settings::ForecastSettings;
use crate::forecast::shape::PlanStep;

/// Futures a plan is searched with, and judged with.
const SEARCH: usize = 8;
const JUDGE: usize = 32;
/// Futures of a candidate that are run side by side before it may be given up.
const TOGETHER: usize = 4;
/// Least gain in skipping share that is worth a correction.
const WORTH: f64 = 0.04;
/// Hysteresis: a new plan replaces the shown one only when it is better by this.
const STICK: f64 = 0.05;
/// Cost of a later start, in skipping share per second: of two nearly equal plans the earlier wins.
const LATE_PER_S: f64 = 0.001;
/// Cost of moving line, in skipping share per metre.
const EFFORT_PER_M: f64 = 0.0005;
/// A plan that makes the bait skip for less than this share falls short.
const ENOUGH_SKIPPING: f64 = 0.7;
/// Skipping share that fewer portions may cost.
const FEWER: f64 = 0.02;
/// Gain in skipping share from which more line than the most portions make is moved in one go.
const ONE_GO_WORTH: f64 = 0.1;
/// A turn leaves no time for portions that are done later than so long after the helm is back: the
/// bait needs so long to follow (own judgement).
const LAG_S: f64 = 10.0;
/// Starts tried for a following turn: each further search costs a seventh of a forecast.
const LATER_STARTS: usize = 2;
/// Portions of main line tried where the coming heading has no trim.
const BLIND: [f64; 4] = [-6.0, -3.0, 3.0, 6.0];

/// A plan judged.
#[derive(Debug, Clone)]
pub struct Planned {
    pub moves: Vec<Move>,
    pub skipping_without: f64,
    pub skipping_with: f64,
    /// Futures with the plan; `None` when there is nothing to do.
    pub futures: Option<Vec<Weighted>>,
    pub shortfall: Option<String>,
}

/// Whether a plan is searched for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Search {
    /// The shown one is only judged anew.
    No,
    /// The shown one is kept while it is nearly as good as any other, so that the order to the hands
    /// does not flicker.
    Steady,
    /// There is news, of a turn or from the crew: the best one counts.
    Anew,
}

/// Finds and judges a plan. `carried` is the last shown plan, shifted by the elapsed time.
pub fn plan(
    ahead: &Ahead<'_>,
    without_all: &[Weighted],
    carried: Option<Vec<Move>>,
    search: Search,
) -> Planned {
    let settings = ahead.settings;
    let hands = &settings.hands;
    let few = ahead.sample(SEARCH);
    let judges = ahead.sample(JUDGE);
    let mut shortfall = None;
    let mut best: Option<(Vec<Move>, f64)> = None;
    let score = |moves: &[Move], least: f64| {
        let effort: f64 = moves.iter().map(|m| EFFORT_PER_M * m.by_m.abs()).sum();
        let late = moves.first().map_or(0.0, |m| LATE_PER_S * m.start_s);
        let needed = least + effort + late;
        worth_above(ahead, &few, moves, needed).map(|worth| worth - effort - late)
    };
    let none = worth_of(alone(without_all, &few), settings);
    if let Some(carried) = carried.filter(|moves| !moves.is_empty())
        && let Some(value) = score(&carried, f64::NEG_INFINITY)
    {
        let stick = if search == Search::Anew { 0.0 } else { STICK };
        best = Some((carried, value + stick));
    }
    if search != Search::No || best.is_none() {
        let keep = |best: &mut Option<(Vec<Move>, f64)>, moves: Vec<Move>, least: f64| {
            let least = best.as_ref().map_or(least, |(_, value)| least.max(*value));
            if let Some(value) = score(&moves, least).filter(|value| *value > least) {
                *best = Some((moves, value));
            }
        };
        let (kite, needs, why) = needs::needs(ahead, &few, 0);
        shortfall = why;
        let amounts = match best_change(&needs, 0.0) {
            None if needs.is_empty() => BLIND.map(|portions| portions * hands.portion_m).to_vec(),
            found => found.into_iter().collect(),
        };
        for by_m in amounts {
            let tried = candidates(ahead, 0, &[], kite, by_m);
            let lists: Vec<Vec<Move>> = tried.iter().map(|one| one.moves(hands)).collect();
            for (moves, one) in lists.iter().zip(&tried) {
                let beside = best
                    .as_ref()
                    .filter(|_| !one.in_portions && tried[0].in_portions);
                let least = beside.map_or(f64::NEG_INFINITY, |(_, value)| value + ONE_GO_WORTH);
                keep(&mut best, moves.clone(), least);
            }
            if let Some((moves, value)) = best.clone()
                && let Some(found) = lists.iter().position(|list| *list == moves)
                && !needs.is_empty()
            {
                for scale in [0.65, 1.35] {
                    keep(
                        &mut best,
                        tried[found].scaled(scale).moves(hands),
                        value + 0.01,
                    );
                }
            }
        }
        for turn in 1..ahead.profile.turns.len() {
            let (kite, needs, why) = needs::needs(ahead, &few, turn);
            shortfall = shortfall.or(why);
            let found = best.as_ref().map(|(moves, _)| moves.clone());
            for before in [Vec::new()].into_iter().chain(found) {
                let (kite_done, main_done) =
                    (sum_m(&before, Line::Kite), sum_m(&before, Line::Main));
                if let Some(by_m) = best_change(&needs, main_done) {
                    let tried = candidates(ahead, turn, &before, kite - kite_done, by_m);
                    for one in tried.into_iter().take(LATER_STARTS) {
                        keep(&mut best, one.moves(hands), f64::NEG_INFINITY);
                    }
                }
            }
        }
        if let Some((moves, value)) = best.take() {
            let fewer = (1..last_portions(&moves)).rev().find_map(|left_out| {
                let fewer = &moves[..moves.len() - left_out];
                let kept = score(fewer, value - FEWER)?;
                (kept >= value - FEWER).then(|| (fewer.to_vec(), kept))
            });
            best = Some(fewer.unwrap_or((moves, value)));
        }
    }
    let worth_without = worth_of(alone(without_all, &judges), settings);
    let moves = best
        .filter(|(_, value)| *value > none + WORTH)
        .map_or_else(Vec::new, |(moves, _)| moves);
    // The hysteresis may hold what more futures see as no help.
    let futures = (!moves.is_empty())
        .then(|| ahead.some(&judges, &moves))
        .filter(|futures| worth(futures, settings) > worth_without);
    let Some(futures) = futures else {
        let all = skipping(without_all, settings);
        return Planned {
            moves: Vec::new(),
            skipping_without: all,
            skipping_with: all,
            futures: None,
            shortfall: shortfall.or_else(|| {
                (all < ENOUGH_SKIPPING)
                    .then(|| "no correction that hands can make helps much".to_owned())
            }),
        };
    };
    let skipping_without = skipping_of(alone(without_all, &judges), settings);
    let skipping_with = skipping(&futures, settings);
    if skipping_with >= ENOUGH_SKIPPING {
        // What has no trim on paper skips in the futures.
        shortfall = None;
    } else if shortfall.is_none() {
        let words = if ahead.profile.turns.is_empty() {
            "moving line alone is not enough: change heading or speed"
        } else if moves.iter().any(|step| step.by_m < 0.0) {
            "winding alone is not enough: turn slower or less"
        } else {
            "letting line out alone is not enough: turn slower or less"
        };
        shortfall = Some(words.to_owned());
    }
    Planned {
        moves,
        skipping_without,
        skipping_with,
        futures: Some(futures),
        shortfall,
    }
}

/// A few of the traces without any moves, with their weights.
fn alone<'a>(
    all: &'a [Weighted],
    few: &'a [(usize, f64)],
) -> impl Iterator<Item = (f64, &'a Trace)> {
    few.iter()
        .filter_map(|(i, weight)| Some((*weight, &all.get(*i)?.trace)))
}

/// What these moves are worth, or `None` as soon as that cannot be above `least` even if the bait
/// skips all the time in the futures not run yet.
fn worth_above(ahead: &Ahead<'_>, few: &[(usize, f64)], moves: &[Move], least: f64) -> Option<f64> {
    let mut run: Vec<Weighted> = Vec::with_capacity(few.len());
    let mut rest = few;
    while let Some((some, others)) = rest.split_at_checked(rest.len().min(TOGETHER)) {
        if some.is_empty() {
            break;
        }
        run.extend(ahead.some(some, moves));
        rest = others;
        let done: f64 = run.iter().map(|future| future.weight).sum();
        let left: f64 = rest.iter().map(|(_, weight)| weight).sum();
        let most = (worth(&run, ahead.settings) * done + left) / (done + left);
        // A hair's breadth for rounding.
        if left > 0.0 && most + 1e-9 < least {
            return None;
        }
    }
    Some(worth(&run, ahead.settings))
}

/// Total line that these moves give.
fn sum_m(moves: &[Move], line: Line) -> f64 {
    let of_line = moves.iter().filter(|step| step.line == line);
    of_line.map(|step| step.by_m).sum()
}

/// Corrections for one turn, after others.
#[derive(Debug)]
struct Candidate {
    before: Vec<Move>,
    kite_m: f64,
    main_m: f64,
    start_s: f64,
    in_portions: bool,
}

impl Candidate {
    fn moves(&self, hands: &Hands) -> Vec<Move> {
        let mut moves = self.before.clone();
        let mut start_s = self.start_s;
        for (line, by_m) in [(Line::Kite, self.kite_m), (Line::Main, self.main_m)] {
            if by_m == 0.0 {
                continue;
            }
            let portions = if self.in_portions {
                hands.portions(by_m)
            } else {
                (1, by_m)
            };
            moves.extend(carried_out(hands, line, portions, start_s));
            start_s = done_s(&moves).unwrap_or(start_s);
        }
        moves
    }

    /// The same with another amount of main line.
    fn scaled(&self, scale: f64) -> Self {
        Self {
            before: self.before.clone(),
            main_m: (self.main_m * scale).round(),
            ..*self
        }
    }
}

/// What is worth trying for one turn, after `before`, within the reaction time and pace of hands:
/// in portions; in one go where the turn leaves no time for them, and where they do not make all.
fn candidates(
    ahead: &Ahead<'_>,
    turn: usize,
    before: &[Move],
    kite_m: f64,
    main_m: f64,
) -> Vec<Candidate> {
    let settings = ahead.settings;
    let hands = &settings.hands;
    let made = ahead.profile.turns.get(turn);
    let turn_s = made.map_or(0.0, |turn| turn.command.start_s);
    let helm_done_s = ahead.profile.helm_done_s(turn);
    let free_s = done_s(before).unwrap_or(hands.reaction_s);
    let at = |start_s: f64, in_portions: bool| Candidate {
        before: before.to_vec(),
        kite_m,
        main_m,
        start_s,
        in_portions,
    };
    let mut found = Vec::new();
    for in_portions in [true, false] {
        let over_s = done_s(&at(0.0, in_portions).moves(hands)).unwrap_or(0.0);
        let mut starts: Vec<f64> = Vec::new();
        for wanted in [
            turn_s - 0.7 * over_s,
            turn_s - 0.2 * over_s,
            turn_s + 0.3 * (helm_done_s - turn_s),
        ] {
            let start = wanted.max(free_s).min(settings.horizon_s);
            let in_time = made.is_none() || start + over_s <= helm_done_s + LAG_S;
            if (!in_portions || in_time) && starts.iter().all(|s| (s - start).abs() > 2.0) {
                starts.push(start);
            }
        }
        found.extend(starts.into_iter().map(|start| at(start, in_portions)));
        if !found.is_empty() && !hands.is_too_much(main_m) {
            break;
        }
    }
    found
}

/// Moves as people read them.
pub fn steps(moves: &[Move], settings: &ForecastSettings) -> Vec<PlanStep> {
    moves
        .iter()
        .map(|step| PlanStep {
            line: step.line,
            by_m: step.by_m,
            start_in_s: step.start_s,
            over_s: step.over_s,
            pace_m_per_s: settings.hands.pace_m_per_s(step.line, step.by_m),
            cranks: settings.hands.cranks(step.line, step.by_m),
            in_one_go: settings.hands.is_one_go(step.by_m),
        })
        .collect()
}
