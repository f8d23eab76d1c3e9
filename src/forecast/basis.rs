//! In words: which of the crew's reports the forecast is based on.

use super::filter::Filter;
use super::learnt::{Learnt, LearntError};
use super::memory::KiteMemory;
use super::settings::Doubt;
use super::shape::Crew;
use crate::rig::RigParameters;
use crate::time::Millis;
use crate::vessel::DeckNow;

/// A report keeps the line anchored for so long.
const ANCHOR_S: f64 = 20.0 * 60.0;

/// What the crew's reports contribute.
pub(super) fn crew(
    at: Millis,
    deck: &DeckNow,
    heard: &Filter,
    memory: &KiteMemory,
    rig: Option<&RigParameters>,
    doubt: &Doubt,
) -> Crew {
    let age_s = deck.bait.map(|seen| at.seconds_since(seen.at));
    let anchored = heard
        .anchored_at
        .is_some_and(|when| at.seconds_since(when) <= ANCHOR_S);
    let contradicted = heard
        .contradicted_at
        .is_some_and(|when| at.seconds_since(when) <= 120.0);
    let mut note = if contradicted {
        "Your report disagrees with the model: look again.".to_owned()
    } else {
        match (heard.anchored_at, age_s) {
            (Some(_), _) if anchored => "Confirmed: you saw the bait skip lately.".to_owned(),
            (_, Some(_)) => "Confirmed in part: no skipping bait reported lately.".to_owned(),
            _ => "Assumed: nobody has said yet what the bait is doing, so it may be far off."
                .to_owned(),
        }
    };
    let recalled = memory.recalled().map(Learnt::told);
    let learnt_age_s = recalled.map(|told| at.seconds_since(told.at));
    let of_this_kite = rig.map(|rig| memory.earlier().of(rig, doubt));
    note.push_str(&match (recalled, of_this_kite) {
        (Some(told), _) => format!(
            " It starts from {} earlier reports about this kite, the last {}.",
            told.reports,
            long_ago(learnt_age_s)
        ),
        _ if memory.unread => " What was learned earlier could not be read, see the log.".to_owned(),
        (None, Some(Err(LearntError::OtherDoubt))) => {
            " What was learned about this kite is left aside: it was learned with other values in \
             [forecast.doubt]."
                .to_owned()
        }
        (None, _) if memory.earlier().kites() > 0 => {
            " Nothing was learned about this kite yet; what was learned about others is kept for them."
                .to_owned()
        }
        (None, _) => String::new(),
    });
    if deck.restored.is_some_and(|restored| restored.used) {
        note.push_str(" Line out is as told before a restart, and not checked since.");
    }
    Crew {
        anchored,
        age_s,
        learnt_age_s,
        note,
    }
}

/// An age as people say it.
fn long_ago(age_s: Option<f64>) -> String {
    const HOUR_S: f64 = 3600.0;
    match age_s {
        Some(s) if (0.0..60.0).contains(&s) => "just now".to_owned(),
        Some(s) if (0.0..1.5 * HOUR_S).contains(&s) => format!("{:.0} min ago", s / 60.0),
        Some(s) if (0.0..48.0 * HOUR_S).contains(&s) => format!("{:.0} h ago", s / HOUR_S),
        Some(s) if s >= 0.0 => format!("{:.0} days ago", s / (24.0 * HOUR_S)),
        // The boat's clock may be wrong at the start.
        _ => "at a time that the clock here cannot tell".to_owned(),
    }
}
