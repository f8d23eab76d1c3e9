//! Brings the members to the moment and lets them hear the crew.

use super::ready::Ready;
use super::{Forecaster, Tick};
use crate::decode::BaitState;
use crate::forecast::ensemble::{Ensemble, Heard, Report};
use crate::forecast::member::{Counted, Now, Stretch};
use crate::time::Millis;
use crate::turn::wrap_rad;
use crate::vessel::DeckNow;

/// A gap longer than this and the rig is settled anew.
const GAP_S: f64 = 6.0;
/// Ticks closer than this are one.
const LEAST_TICK_S: f64 = 0.4;
/// Line that members follow the count with: it is told after it was done.
const FOLLOW_M_PER_S: f64 = 4.0;

impl Forecaster {
    /// Brings the members to the moment and lets them hear the crew. True when something was
    /// heard.
    pub(super) fn follow(&mut self, at: Millis, deck: &DeckNow, ready: &Ready) -> bool {
        let Some(base) = self.base.clone() else {
            return false;
        };
        let settings = self.settings;
        let mut news = false;
        let before = self.counted;
        let counted = match before {
            Some(old) if !self.count_told => Counted {
                kite_m: ready.kite_m,
                main_m: ready.main_m,
                ..old
            },
            _ => Counted {
                kite_m: ready.kite_m,
                main_m: ready.main_m,
                kite_told_m: ready.kite_m,
                main_told_m: ready.main_m,
            },
        };
        self.counted = Some(counted);
        let told = std::mem::take(&mut self.count_told);
        let mut ensemble = self.ensemble.take().unwrap_or_else(|| self.first_members());
        let air = self.air.clone();
        let now = Now {
            base: &base,
            doubt: &settings.doubt,
            air: &air,
            heading_rad: ready.profile.heading_rad,
            speed_mps: ready.speed_mps,
            sensor_height_m: self.sensor_height_m,
            counted,
            pace_m_per_s: FOLLOW_M_PER_S,
        };
        match before {
            Some(old) if told => {
                ensemble.recounted(at, old, counted, &now);
                news = true;
            }
            Some(old) if old.main_m != counted.main_m || old.kite_m != counted.kite_m => {
                ensemble.corrected(counted.main_m - old.main_m, &settings.doubt);
                news = true;
            }
            Some(_) => {}
            None => {
                // The rig went out afresh: nothing hangs yet, errors of the old count are gone.
                for member in &mut ensemble.members {
                    member.state = None;
                    member.belief.main_extra_m = 0.0;
                }
                ensemble.typical.state = None;
                ensemble.typical.belief.main_extra_m = 0.0;
                news = true;
            }
        }
        let elapsed = self.last.map(|last| at.seconds_since(last.at));
        if elapsed.is_none_or(|s| !(0.0..LEAST_TICK_S).contains(&s)) {
            let stretch = self.last.zip(elapsed).and_then(|(last, over_s)| {
                (0.0..=GAP_S).contains(&over_s).then(|| {
                    let step = wrap_rad(now.heading_rad - last.heading_rad);
                    Stretch {
                        over_s,
                        heading_rad: (now.heading_rad - step, now.heading_rad),
                        speed_mps: (last.speed_mps, now.speed_mps),
                    }
                })
            });
            ensemble.follow(&now, stretch);
            self.last = Some(Tick {
                at,
                heading_rad: now.heading_rad,
                speed_mps: now.speed_mps,
            });
        }
        if before.is_none() {
            ensemble.weigh(at, Report::Trimmed, &now);
            ensemble.find_typical(&now);
        }
        let (heard, lessons) = self.hear(at, deck, &mut ensemble, &now);
        news |= heard;
        if lessons != 0 {
            self.changes.taught = self.changes.taught.saturating_add(1);
            self.lessons = self.lessons.saturating_add_signed(lessons);
            self.taught_at = (self.lessons > 0).then_some(at);
        }
        ensemble.renew(at, &now);
        self.ensemble = Some(ensemble);
        news
    }

    /// New reports of the crew: whether there were any, and how many more have taught than before
    /// (fewer when one was taken back).
    fn hear(
        &mut self,
        at: Millis,
        deck: &DeckNow,
        ensemble: &mut Ensemble,
        now: &Now<'_>,
    ) -> (bool, i64) {
        let heard = &mut self.heard;
        let (mut news, mut lessons) = (false, 0);
        match (deck.bait, heard.bait_at) {
            (Some(seen), last) if last.is_none_or(|last| seen.at > last) => {
                heard.bait_at = Some(seen.at);
                let result = ensemble.weigh(at, Report::Bait(seen.state), now);
                heard.contradicted_at = None;
                if let Heard::Contradicts { expected } = result {
                    heard.contradicted_at = Some(at);
                    ensemble.rescue(seen.state, expected, now);
                }
                if seen.state == BaitState::Skipping {
                    heard.anchored_at = Some(seen.at);
                }
                news = true;
                lessons += 1;
            }
            (seen, Some(last)) if seen.is_none_or(|seen| seen.at < last) => {
                if ensemble.take_back(at) {
                    lessons -= 1;
                }
                heard.bait_at = seen.map(|seen| seen.at);
                heard.anchored_at = seen
                    .filter(|seen| seen.state == BaitState::Skipping)
                    .map(|seen| seen.at);
                heard.contradicted_at = None;
                news = true;
            }
            _ => {}
        }
        let fresh = |seen: Option<(f64, Millis)>, last: &mut Option<Millis>| {
            seen.filter(|(_, when)| last.is_none_or(|last| *when > last))
                .map(|(angle, when)| {
                    *last = Some(when);
                    angle
                })
        };
        if let Some(angle) = fresh(deck.elevation_rad, &mut heard.elevation_at) {
            ensemble.weigh(at, Report::Elevation(angle), now);
            news = true;
            lessons += 1;
        }
        if let Some(angle) = fresh(deck.bearing_rad, &mut heard.bearing_at) {
            ensemble.weigh(at, Report::Bearing(angle), now);
            news = true;
            lessons += 1;
        }
        if news {
            ensemble.find_typical(now);
        }
        (news, lessons)
    }
}
