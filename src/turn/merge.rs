//! Merges intents: which of them describe the same turn, and in which order turns follow.

use super::intent::Intent;
use super::profile::MOST_TURNS;
use crate::time::Millis;

/// Two sources describe one turn if their starts differ by less than this and direction and size
/// are about the same.
const SAME_MOMENT_S: f64 = 20.0;
/// Largest difference of "about the same" size.
const AS_FAR_RAD: f64 = 0.3;
/// A turn that is to begin within this time may be the one already under way.
const NOW_S: f64 = 5.0;
/// A turn is news when its start or its final heading differs by more than this.
const NEWS: (f64, f64) = (3.0, 0.1);

/// Turns in order of their start. `told` has the intents of crew, heading control and route, best
/// source first; `under_way` is the turn that the bow makes. If an intent describes that turn, the
/// intent gives its extent; if none does, the turn under way comes before all intents.
pub(super) fn merged(mut told: Vec<Intent>, under_way: Option<Intent>) -> Vec<Intent> {
    if let Some(seen) = under_way {
        let happening = match told.iter().position(|intent| is_made(intent, &seen)) {
            Some(place) => told.remove(place),
            None => seen,
        };
        told.insert(0, happening);
    }
    let mut turns: Vec<Intent> = Vec::new();
    for intent in told {
        if turns.len() < MOST_TURNS && !turns.iter().any(|better| one_turn(better, &intent)) {
            turns.push(intent);
        }
    }
    turns.sort_by(|a, b| a.starts_in_s.total_cmp(&b.starts_in_s));
    turns
}

/// Whether `seen`, the turn under way, is the intended one.
fn is_made(intent: &Intent, seen: &Intent) -> bool {
    same_way(intent, seen)
        && (intent.starts_in_s <= NOW_S
            || as_far(intent, seen) && intent.starts_in_s < SAME_MOMENT_S)
}

/// Whether two intents describe one turn: they overlap in time, with the uncertainty of their
/// starts included, or they are alike and nearly simultaneous. While a turn is under way, an intent
/// to turn the other way is another turn.
fn one_turn(a: &Intent, b: &Intent) -> bool {
    let (first, second) = if a.starts_in_s <= b.starts_in_s {
        (a, b)
    } else {
        (b, a)
    };
    if first.starts_in_s < 0.0 && second.starts_in_s > NOW_S && !same_way(first, second) {
        return false;
    }
    let gap_s = second.starts_in_s - first.starts_in_s;
    let alike = same_way(first, second) && as_far(first, second) && gap_s < SAME_MOMENT_S;
    let doubt_s = first.doubt.start_sd_s + second.doubt.start_sd_s;
    alike || second.starts_in_s < ends_in_s(first) + doubt_s
}

/// When the helm is back amidships.
fn ends_in_s(intent: &Intent) -> f64 {
    intent.starts_in_s.max(0.0) + intent.by_rad.abs() / intent.rate_rad_s.max(1e-3)
}

fn same_way(a: &Intent, b: &Intent) -> bool {
    a.by_rad * b.by_rad > 0.0
}

fn as_far(a: &Intent, b: &Intent) -> bool {
    (a.by_rad - b.by_rad).abs() < AS_FAR_RAD
}

/// Whether two lists of turns, each as of its moment, differ too little to be news.
pub(super) fn same_news(then: (Millis, &[Intent]), now: (Millis, &[Intent])) -> bool {
    then.1.len() == now.1.len()
        && then.1.iter().zip(now.1).all(|(a, b)| {
            let starts = |at: Millis, intent: &Intent| at.plus_seconds(intent.starts_in_s.max(0.0));
            let moved_s = starts(now.0, b).seconds_since(starts(then.0, a)).abs();
            let doubt_s = 2.0 * a.doubt.start_sd_s;
            a.source == b.source
                && moved_s < NEWS.0.max(doubt_s)
                && (a.by_rad - b.by_rad).abs() < NEWS.1
        })
}
