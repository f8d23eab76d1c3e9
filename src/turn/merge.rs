//! Merges intents: which of them speak of the same turn, and what follows what.

use super::intent::Intent;
use super::profile::MOST_TURNS;
use crate::time::Millis;

/// A turn that is told twice is told for about the same moment: within this, if it is the same
/// way and about as far.
const SAME_MOMENT_S: f64 = 20.0;
/// About as far.
const AS_FAR_RAD: f64 = 0.3;
/// A turn that is to begin within this may be the one that the bow makes already.
const NOW_S: f64 = 5.0;
/// News: a turn begins at another time or leads elsewhere by more than this.
const NEWS: (f64, f64) = (3.0, 0.1);

/// Turns in the order in which they begin. `told` is what crew, heading control and route say,
/// best known first; `under_way` is the turn that the bow makes. Whoever speaks of that one tells
/// how far it goes; if nobody does, what the bow does comes before what is said.
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

/// Whether the turn `seen` under way is the intended one.
fn is_made(intent: &Intent, seen: &Intent) -> bool {
    same_way(intent, seen)
        && (intent.starts_in_s <= NOW_S
            || as_far(intent, seen) && intent.starts_in_s < SAME_MOMENT_S)
}

/// Whether two intents speak of one turn: they overlap in time, their starts taken as widely as
/// they are known, or they are alike and nearly at once. A turn that is to be made the other way
/// while one is under way is another.
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

/// When the helm is back.
fn ends_in_s(intent: &Intent) -> f64 {
    intent.starts_in_s.max(0.0) + intent.by_rad.abs() / intent.rate_rad_s.max(1e-3)
}

fn same_way(a: &Intent, b: &Intent) -> bool {
    a.by_rad * b.by_rad > 0.0
}

fn as_far(a: &Intent, b: &Intent) -> bool {
    (a.by_rad - b.by_rad).abs() < AS_FAR_RAD
}

/// Whether two lists of turns, each as of a moment, tell a listener the same.
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
