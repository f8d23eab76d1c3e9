//! What the forecast rests on of the crew's reports, in words.

use super::Forecaster;
use crate::forecast::shape::Crew;
use crate::time::Millis;
use crate::vessel::DeckNow;

/// A report keeps the line anchored for so long.
const ANCHOR_S: f64 = 20.0 * 60.0;

impl Forecaster {
    pub(super) fn crew(&self, at: Millis, deck: &DeckNow) -> Crew {
        let heard = &self.heard;
        let age_s = deck.bait.map(|seen| at.seconds_since(seen.at));
        let anchored = heard
            .anchored_at
            .is_some_and(|when| at.seconds_since(when) <= ANCHOR_S);
        let contradicted = heard
            .contradicted_at
            .is_some_and(|when| at.seconds_since(when) <= 120.0);
        let ago = |when: Millis| {
            let s = at.seconds_since(when).max(0.0);
            if s < 90.0 {
                format!("{s:.0} s ago")
            } else {
                format!("{:.0} min ago", s / 60.0)
            }
        };
        let mut note = if contradicted {
            "The last report contradicts nearly every member: widened, a second look would help."
                .to_owned()
        } else {
            match (heard.anchored_at, age_s) {
                (Some(when), _) if anchored => {
                    format!("Calibrated: the crew saw the bait skip {}.", ago(when))
                }
                (_, Some(_)) => "Calibrated in part: no skipping bait reported lately.".to_owned(),
                _ => "Assumed: nobody has said yet what the bait does, so this is wide.".to_owned(),
            }
        };
        let learnt_age_s = self
            .recalled
            .as_ref()
            .map(|learnt| at.seconds_since(learnt.learnt_at()));
        match (&self.recalled, &self.discarded) {
            (Some(learnt), _) => note.push_str(&format!(
                " Begun from what {} earlier reports have taught, the last {}.",
                learnt.reports(),
                long_ago(learnt_age_s)
            )),
            (None, Some(why)) => {
                note.push_str(&format!(" What was learnt earlier is discarded: {why}."));
            }
            (None, None) => {}
        }
        Crew {
            anchored,
            age_s,
            learnt_age_s,
            note,
        }
    }
}

/// An age as people say it.
pub(super) fn long_ago(age_s: Option<f64>) -> String {
    const HOUR_S: f64 = 3600.0;
    match age_s {
        Some(s) if (0.0..60.0).contains(&s) => "just now".to_owned(),
        Some(s) if (0.0..1.5 * HOUR_S).contains(&s) => format!("{:.0} min ago", s / 60.0),
        Some(s) if (0.0..48.0 * HOUR_S).contains(&s) => format!("{:.0} h ago", s / HOUR_S),
        Some(s) if s >= 0.0 => format!("{:.0} days ago", s / (24.0 * HOUR_S)),
        // A boat's clock may start anywhere.
        _ => "at a time that the clock here cannot tell".to_owned(),
    }
}
