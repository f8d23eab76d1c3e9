//! Trouble with the bait: foreseen, or tapped by the crew with or without a forecast.

use super::foresight::Foresight;
use super::scene::Scene;
use super::shape::{Action, Kind, Priority};
use super::threat::Threat;
use super::words;
use crate::forecast::{Chance, Trouble};
use crate::time::Millis;

/// Of two bait troubles the less likely one is raised too from this chance on,
const BOTH_FROM: f64 = 0.65;
/// if their onsets are so far apart.
const APART_S: f64 = 5.0;

/// The troubles of the bait as of one moment.
pub(super) fn bait(scene: &Scene<'_>, foresight: Option<&Foresight<'_>>) -> Vec<Threat> {
    let mut found: Vec<Threat> = [Trouble::BaitAirborne, Trouble::BaitDragging]
        .into_iter()
        .filter_map(|trouble| one(scene, foresight, trouble))
        .collect();
    // One situation, one advisory: of two bait troubles the likelier is raised, the other only when
    // it is also very likely, at another time.
    if let [airborne, dragging] = found.as_slice() {
        let onset = |threat: &Threat| threat.onset_at.unwrap_or(scene.at);
        let apart = onset(airborne).seconds_since(onset(dragging)).abs() >= APART_S;
        let is_enough = |chance: f64| apart && chance >= BOTH_FROM;
        let (a, d) = (
            airborne.chance.unwrap_or(1.0),
            dragging.chance.unwrap_or(1.0),
        );
        let drop_dragging =
            dragging.seen_at.is_none() && (airborne.seen_at.is_some() || a >= d) && !is_enough(d);
        let drop_airborne =
            airborne.seen_at.is_none() && (dragging.seen_at.is_some() || d > a) && !is_enough(a);
        if drop_dragging {
            found.pop();
        } else if drop_airborne {
            found.remove(0);
        }
    }
    found
}

fn one(scene: &Scene<'_>, foresight: Option<&Foresight<'_>>, trouble: Trouble) -> Option<Threat> {
    let seen_at = scene.seen_at(trouble);
    let Some((foresight, chance)) =
        foresight.and_then(|foresight| Some((foresight, foresight.chance(trouble)?)))
    else {
        return seen_at.map(|seen_at| seen_without_forecast(trouble, seen_at));
    };
    let chance = if scene.denies(trouble.into()) {
        to_begin(chance)
    } else {
        *chance
    };
    if seen_at.is_none() && !foresight.is_likely(trouble, &chance) {
        return None;
    }
    let mut threat = foresight.threat(trouble, &chance)?;
    if seen_at.is_some() {
        threat.seen_at = seen_at;
        words::by_eye(trouble, &mut threat.actions);
        threat.onset_at = None;
        threat.priority = Priority::Alarm;
        threat.cause = words::seen_cause(&threat.cause);
    }
    Some(threat)
}

/// The chance given that it is not so now, as the crew sees: futures in which it is so already are
/// excluded.
fn to_begin(chance: &Chance) -> Chance {
    Chance {
        chance: chance.begins(1.0).unwrap_or(0.0),
        so_now: 0.0,
        onset_s: chance.later_s,
        ..*chance
    }
}

/// The crew sees it while there is no forecast.
fn seen_without_forecast(trouble: Trouble, seen_at: Millis) -> Threat {
    Threat {
        chance_basis: "seen by the crew; no forecast".to_owned(),
        cause: "seen by the crew".to_owned(),
        actions: vec![words::bare_action(trouble), Action::see(words::HANDS)],
        without_action: "it stays so".to_owned(),
        seen_at: Some(seen_at),
        ..Threat::fact(Kind::from(trouble), Priority::Alarm)
    }
}
