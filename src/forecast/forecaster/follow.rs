//! Propagates the members to the present and applies the crew's reports.

use super::ready::Ready;
use super::{Forecaster, Tick};
use crate::angles::wrap_signed;
use crate::decode::BaitState;
use crate::forecast::ensemble::{Ensemble, Heard};
use crate::forecast::member::{Counted, Now, Stretch};
use crate::forecast::report::{About, Report};
use crate::time::Millis;
use crate::vessel::DeckNow;

/// After a longer gap the rig is settled again.
const GAP_S: f64 = 6.0;
/// Ticks closer than this count as one.
const LEAST_TICK_S: f64 = 0.4;

impl Forecaster {
    /// Propagates the members to the present and applies the crew's reports. True when there was a
    /// report.
    pub(super) fn follow(&mut self, at: Millis, deck: &DeckNow, ready: &Ready) -> bool {
        let Some(base) = self.base.clone() else {
            return false;
        };
        let settings = self.settings;
        let air = self.air.clone();
        let mut ensemble = self.ensemble.take().unwrap_or_else(|| self.first_members());
        let mut now = Now {
            base: &base,
            doubt: &settings.doubt,
            air: &air,
            heading_rad: ready.profile.heading_rad,
            speed_mps: ready.speed_mps,
            sensor_height_m: self.sensor_height_m,
            counted: self.counted.unwrap_or_else(|| told_afresh(ready)),
        };
        let mut news = self.uncount(deck, &mut ensemble, &mut now);
        let before = self.counted;
        let told = std::mem::take(&mut self.count_told);
        let afresh = std::mem::take(&mut self.out_afresh);
        now.counted = match before {
            Some(old) if !told => Counted {
                kite_m: ready.kite_m,
                main_m: ready.main_m,
                ..old
            },
            _ => told_afresh(ready),
        };
        self.counted = Some(now.counted);
        let lines_at = deck.lines_at.unwrap_or(at);
        match before {
            Some(old) if told && !afresh => {
                ensemble.recounted(lines_at, old, now.counted, &now);
                news = true;
            }
            Some(old)
                if !told
                    && (old.main_m != now.counted.main_m || old.kite_m != now.counted.kite_m) =>
            {
                ensemble.corrected(lines_at, now.counted.main_m - old.main_m, &settings.doubt);
                news = true;
            }
            Some(_) if !told => {}
            _ => {
                ensemble.out_afresh(lines_at);
                news = true;
            }
        }
        if let Some(old) = before
            && deck.lines_at != self.heard.lines_at
        {
            self.count_before = Some((lines_at, old));
        }
        self.heard.lines_at = deck.lines_at;
        self.go_on(at, &mut ensemble, &now);
        if before.is_none() || afresh {
            ensemble.weigh(lines_at, Report::Trimmed, &now);
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

    /// Restores the earlier count of line when the crew took its count back.
    fn uncount(&mut self, deck: &DeckNow, ensemble: &mut Ensemble, now: &mut Now<'_>) -> bool {
        let undone = self
            .heard
            .lines_at
            .filter(|last| deck.lines_at.is_none_or(|is| is < *last));
        let (Some(undone), Some((told_at, old))) = (undone, self.count_before) else {
            return false;
        };
        now.counted = old;
        if told_at != undone || !ensemble.take_back(undone, About::Lines, now) {
            return false;
        }
        ensemble.find_typical(now);
        self.counted = Some(old);
        self.count_before = None;
        self.heard.lines_at = deck.lines_at;
        true
    }

    /// Propagates the members to the present.
    fn go_on(&mut self, at: Millis, ensemble: &mut Ensemble, now: &Now<'_>) {
        let elapsed = self.last.map(|last| at.seconds_since(last.at));
        if elapsed.is_some_and(|s| (0.0..LEAST_TICK_S).contains(&s)) {
            return;
        }
        let stretch = self.last.zip(elapsed).and_then(|(last, over_s)| {
            (0.0..=GAP_S).contains(&over_s).then(|| {
                let step = wrap_signed(now.heading_rad - last.heading_rad);
                Stretch {
                    over_s,
                    heading_rad: (now.heading_rad - step, now.heading_rad),
                    speed_mps: (last.speed_mps, now.speed_mps),
                }
            })
        });
        ensemble.follow(now, stretch);
        self.last = Some(Tick {
            at,
            heading_rad: now.heading_rad,
            speed_mps: now.speed_mps,
        });
    }

    /// Applies new reports and reports taken back. Returns whether there were any, and by how much
    /// the number of learnt reports changed (negative when one was taken back).
    fn hear(
        &mut self,
        at: Millis,
        deck: &DeckNow,
        ensemble: &mut Ensemble,
        now: &Now<'_>,
    ) -> (bool, i64) {
        let heard = &mut self.heard;
        let (mut news, mut lessons) = (false, 0);
        let seen = [
            (
                About::Bait,
                deck.bait.map(|seen| (Report::Bait(seen.state), seen.at)),
                &mut heard.bait_at,
            ),
            (
                About::Elevation,
                deck.elevation_rad
                    .map(|(is, when)| (Report::Elevation(is), when)),
                &mut heard.elevation_at,
            ),
            (
                About::Bearing,
                deck.bearing_rad
                    .map(|(is, when)| (Report::Bearing(is), when)),
                &mut heard.bearing_at,
            ),
            (
                About::Marker,
                deck.marker_in_water
                    .map(|(is, when)| (Report::Marker(is), when)),
                &mut heard.marker_at,
            ),
        ];
        for (about, seen, last) in seen {
            let told_at = seen.map(|(_, when)| when);
            if told_at == *last {
                continue;
            }
            let before = std::mem::replace(last, told_at);
            if let Some(undone) = before.filter(|last| told_at.is_none_or(|when| when < *last)) {
                if ensemble.take_back(undone, about, now) {
                    lessons -= 1;
                }
                heard.contradicted_at = None;
            } else if let Some((report, when)) = seen {
                lessons += 1;
                let result = ensemble.weigh(when, report, now);
                heard.contradicted_at = None;
                if let Heard::Contradicts { expected } = result {
                    heard.contradicted_at = Some(at);
                    ensemble.rescue(report, expected, now);
                }
            }
            if about == About::Bait {
                let skips = deck.bait.filter(|seen| seen.state == BaitState::Skipping);
                heard.anchored_at = match (skips, before) {
                    (Some(seen), _) => Some(seen.at),
                    // Taken back: the line is not anchored.
                    (None, Some(before)) if told_at.is_none_or(|when| when < before) => None,
                    (None, _) => heard.anchored_at,
                };
            }
            news = true;
        }
        if news {
            ensemble.find_typical(now);
        }
        (news, lessons)
    }
}

/// The line out according to the crew.
fn told_afresh(ready: &Ready) -> Counted {
    Counted {
        kite_m: ready.kite_m,
        main_m: ready.main_m,
        kite_told_m: ready.kite_m,
        main_told_m: ready.main_m,
    }
}
