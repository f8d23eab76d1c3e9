//! The greatest turn rate at which the bait probably keeps skipping.
//!
//! Judged as the plan is: a few of the same futures, with their gusts, from the rig as it is now,
//! with the lines that are out, and with hands that begin their reaction time after the helm goes
//! over. For each side the turn is run at increasing rates, once with the line that the new heading
//! needs and once without hands. A rate is good when the bait flies or drags for longer than a hop
//! in no more than [`ALLOWED`] of the futures.
//!
//! A bait that is out of the band, or soon will be on the present course, must skip first: no rate
//! is given then.

use rayon::prelude::*;

use super::needs::line_for;
use crate::decode::Line;
use crate::forecast::futures::{Ahead, Move};
use crate::forecast::shape::{TurnAhead, TurnLimit};
use crate::forecast::trouble::Chance;
use crate::turn::{HeadingProfile, LikelyTurn, TurnCommand};

/// Rates tried.
const RATES_DEG_S: [f64; 8] = [0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0];
/// Change of heading assumed when no turn is known.
const USUAL_DEG: f64 = 45.0;
/// How long the rig is watched after the helm is back amidships.
const AFTER_S: f64 = 35.0;
/// Futures that judge.
const JUDGES: usize = 6;
/// Chance of trouble up to which a rate is good.
const ALLOWED: f64 = 0.25;
/// The bait is out of the band from this share of the futures on, and a plan fails from this chance
/// on.
const LIKELY: f64 = 0.5;

/// Said while no rate can be given.
const SKIP_FIRST: &str = "get the bait skipping before you turn";
/// Said of a turn whose plan fails.
const PLAN_FAILS: &str = "even with hands on the reel this turn probably brings the bait up or under: \
     turn slower or less";

/// Limits to both sides.
pub fn limit(ahead: &Ahead<'_>, turn_deg: Option<f64>) -> TurnLimit {
    let _span = tracing::trace_span!("limits").entered();
    let for_deg = turn_deg.map_or(USUAL_DEG, f64::abs).clamp(10.0, 150.0);
    let found = TurnLimit {
        port_deg_s: None,
        starboard_deg_s: None,
        port_without_hands_deg_s: None,
        starboard_without_hands_deg_s: None,
        tried_to_deg_s: RATES_DEG_S[RATES_DEG_S.len() - 1],
        allowed_chance: ALLOWED,
        skips: true,
        for_deg,
        why: String::new(),
    };
    let judges = ahead.sample(JUDGES);
    if judges.is_empty() || !stays(ahead, &judges, None, &[]) {
        return skip_first(found);
    }
    let (port, starboard) = rayon::join(
        || fastest(ahead, &judges, -for_deg),
        || fastest(ahead, &judges, for_deg),
    );
    let mut why: Vec<String> = Vec::new();
    for (side, found, sign) in [("port", &port, -1.0), ("starboard", &starboard, 1.0)] {
        match found {
            Side::Upto { .. } => {}
            Side::Never => {
                let step = for_deg / 3.0;
                match fastest(ahead, &judges, sign * step) {
                    Side::Upto { .. } => why.push(format!(
                        "to {side} turn in steps of {step:.0}° and trim between them"
                    )),
                    Side::Never | Side::NoTrim => why.push(format!(
                        "to {side} no rate was found that keeps the bait skipping through {for_deg:.0}°"
                    )),
                }
            }
            Side::NoTrim => why.push(format!(
                "{for_deg:.0}° to {side} cannot be fished with this kite line"
            )),
        }
    }
    TurnLimit {
        port_deg_s: port.with_hands(),
        starboard_deg_s: starboard.with_hands(),
        port_without_hands_deg_s: port.without_hands(),
        starboard_without_hands_deg_s: starboard.without_hands(),
        why: why.join("; "),
        ..found
    }
}

/// The limits as they hold beside these chances: none while the bait does not skip, none to the
/// side of a turn whose plan fails.
pub fn beside(mut limit: TurnLimit, turn: Option<&TurnAhead>, chances: &[Chance]) -> TurnLimit {
    let bait = || {
        let all = chances.iter();
        all.filter(|chance| chance.kind.is_of_bait())
    };
    let soon = |chance: &&Chance| {
        // Before any turn can have caused it.
        let by_s = turn.map_or(AFTER_S, |turn| turn.starts_in_s.min(AFTER_S));
        chance.onset_s.is_some_and(|onset| onset.p50 <= by_s) && chance.chance >= LIKELY
    };
    if bait().any(|chance| chance.so_now >= LIKELY) || bait().any(|chance| soon(&chance)) {
        return skip_first(limit);
    }
    let fails = bait().any(|chance| chance.chance_with_plan.unwrap_or(chance.chance) >= LIKELY);
    if let Some(turn) = turn.filter(|_| fails) {
        let (with, without) = if turn.by_deg < 0.0 {
            (&mut limit.port_deg_s, &mut limit.port_without_hands_deg_s)
        } else {
            (
                &mut limit.starboard_deg_s,
                &mut limit.starboard_without_hands_deg_s,
            )
        };
        if with.is_some_and(|rate| rate >= turn.rate_deg_s) {
            *with = None;
            *without = None;
            PLAN_FAILS.clone_into(&mut limit.why);
        }
    }
    limit
}

fn skip_first(limit: TurnLimit) -> TurnLimit {
    TurnLimit {
        port_deg_s: None,
        starboard_deg_s: None,
        port_without_hands_deg_s: None,
        starboard_without_hands_deg_s: None,
        skips: false,
        why: SKIP_FIRST.to_owned(),
        ..limit
    }
}

enum Side {
    /// Rates with and without hands.
    Upto {
        with: f64,
        without: Option<f64>,
    },
    Never,
    NoTrim,
}

impl Side {
    fn with_hands(&self) -> Option<f64> {
        match self {
            Self::Upto { with, .. } => Some(*with),
            Self::Never | Self::NoTrim => None,
        }
    }

    fn without_hands(&self) -> Option<f64> {
        match self {
            Self::Upto { without, .. } => *without,
            Self::Never | Self::NoTrim => None,
        }
    }
}

/// The fastest good rates.
fn fastest(ahead: &Ahead<'_>, judges: &[(usize, f64)], by_deg: f64) -> Side {
    let heading_rad = ahead.profile.heading_rad + by_deg.to_radians();
    let Some(by_m) = line_for(ahead, judges, heading_rad) else {
        return Side::NoTrim;
    };
    let with = highest(RATES_DEG_S.len(), |rate| {
        stays(
            ahead,
            judges,
            Some((by_deg, rate)),
            &hands(ahead, by_m, by_deg, rate),
        )
    });
    let without = highest(with, |rate| stays(ahead, judges, Some((by_deg, rate)), &[]));
    let rate = |count: usize| count.checked_sub(1).map(|last| RATES_DEG_S[last]);
    rate(with).map_or(Side::Never, |with| Side::Upto {
        with,
        without: rate(without),
    })
}

/// How many of the first `most` rates are good, by bisection: a rate above a bad one is assumed to
/// be bad too.
fn highest(most: usize, good: impl Fn(f64) -> bool) -> usize {
    let (mut low, mut high) = (0, most);
    while low < high {
        let middle = (low + high) / 2;
        if good(RATES_DEG_S[middle]) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    low
}

/// Line moves no faster than hands and no faster than the turn: too early is as bad as too late.
fn hands(ahead: &Ahead<'_>, by_m: f64, by_deg: f64, rate_deg_s: f64) -> Vec<Move> {
    if by_m == 0.0 {
        return Vec::new();
    }
    let hands = &ahead.settings.hands;
    let over_s = hands
        .over_s(Line::Main, by_m)
        .max(0.8 * by_deg.abs() / rate_deg_s)
        .max(1.0);
    vec![Move {
        line: Line::Main,
        by_m,
        start_s: hands.reaction_s,
        over_s,
    }]
}

/// Whether trouble is rare enough through a turn of (degrees, degrees a second), or straight on.
fn stays(
    ahead: &Ahead<'_>,
    judges: &[(usize, f64)],
    turn: Option<(f64, f64)>,
    moves: &[Move],
) -> bool {
    let profile = HeadingProfile {
        yaw_rate_rad_s: 0.0,
        turns: turn
            .map(|(by_deg, rate_deg_s)| {
                LikelyTurn::sure(TurnCommand {
                    start_s: 0.0,
                    by_rad: by_deg.to_radians(),
                    rate_rad_s: rate_deg_s.to_radians(),
                })
            })
            .into_iter()
            .collect(),
        ..ahead.profile
    };
    let until_s = (profile.helm_done_s(0) + AFTER_S).min(ahead.settings.horizon_s);
    let troubled: f64 = judges
        .par_iter()
        .map(|(i, weight)| {
            let run = ahead.elsewhere(*i, &profile, moves, until_s);
            let trouble = run.is_none_or(|trace| {
                trace.airborne_at_s(ahead.settings).is_some()
                    || trace.dragging_at_s(ahead.settings).is_some()
            });
            if trouble { *weight } else { 0.0 }
        })
        .collect::<Vec<_>>()
        .into_iter()
        .sum();
    troubled <= ALLOWED
}
