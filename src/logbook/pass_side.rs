//! Follows the passes of a session from picture to picture. Pure.
//!
//! A pass begins with the first picture that shows a plan for it, and is one row, written again
//! whenever it comes further. What came of it is **by the model**: nobody has seen the bait there. It
//! is taken from a minute before an accepted pass is due until the picture no longer shows it: the
//! least distance of the bait from where the mark should be then, along straight lines between
//! pictures, and the share of the 20 s before that in which the bait skipped.

use std::collections::VecDeque;

use super::look::Look;
use super::passes::{PassEnd, PassRow};
use super::place::Place;
use crate::decode::BaitState;
use crate::geodesy::Position;
use crate::pass::{PassNow, PassState, SKIPS_FOR_S, SURPRISES_S};
use crate::time::Millis;

/// A pass that no picture has shown for so long is none any more.
const UNSEEN_S: f64 = 10.0;
/// Pictures further apart leave a gap.
const LONGEST_GAP_S: f64 = 10.0;

/// Follows the passes of one session.
#[derive(Debug, Default)]
pub(super) struct PassSide {
    open: Option<Open>,
}

#[derive(Debug)]
struct Open {
    row: PassRow,
    seen_at: Millis,
    /// Whether it is so near that it is measured.
    is_near: bool,
    /// The bait from the mark, east and north, in the picture before.
    bait: Option<(Millis, [f64; 2])>,
    /// What the bait did lately.
    did: VecDeque<(Millis, Option<BaitState>)>,
}

impl PassSide {
    /// The rows of one picture.
    pub fn take(&mut self, look: &Look) -> Vec<PassRow> {
        let mut rows = Vec::new();
        let now = look.pass.as_ref();
        if let Some(open) = &mut self.open {
            let shown = now.filter(|now| now.mark == open.row.mark);
            if !open.goes_on(look, now, shown, &mut rows) {
                self.open = None;
            }
        }
        if self.open.is_none() {
            self.open = now.and_then(|now| Open::new(look.at, now));
            if let Some(open) = &mut self.open {
                open.comes_to(look.at, now.map(|now| now.state));
                rows.push(open.row);
            }
        }
        rows
    }

    /// The pass that is open when the session ends.
    pub fn finish(&mut self) -> Option<PassRow> {
        self.open.take().map(|open| open.row)
    }
}

impl Open {
    /// From the first picture that shows a plan.
    fn new(at: Millis, now: &PassNow) -> Option<Self> {
        let stands = matches!(
            now.state,
            PassState::Offered | PassState::Accepted | PassState::UnderWay
        );
        let (chance, chance_of_marked) = now.chance.zip(now.chance_of_marked)?;
        stands.then_some(Self {
            row: PassRow {
                mark: now.mark,
                number: now.number,
                offered_at: at,
                chance,
                chance_of_marked,
                closest_foreseen_m: now.bait_closest_m?,
                accepted_at: None,
                ended_at: None,
                ended: None,
                closest_m: None,
                closest_at: None,
                skipping_share: None,
            },
            seen_at: at,
            is_near: false,
            bait: None,
            did: VecDeque::new(),
        })
    }

    /// Takes a picture in; false when the pass is over. `shown` is the pass over its mark.
    fn goes_on(
        &mut self,
        look: &Look,
        now: Option<&PassNow>,
        shown: Option<&PassNow>,
        rows: &mut Vec<PassRow>,
    ) -> bool {
        let at = look.at;
        let Some(shown) = shown else {
            let is_over = now.is_some() || at.seconds_since(self.seen_at) > UNSEEN_S;
            if is_over {
                if self.row.ended.is_none() {
                    self.row.end(self.seen_at, PassEnd::Dropped);
                }
                rows.push(self.row);
            }
            return !is_over;
        };
        self.seen_at = at;
        match shown.state {
            PassState::Declined | PassState::Ended => {
                if self.row.ended.is_none() {
                    self.row.end(
                        at,
                        match shown.state {
                            PassState::Declined => PassEnd::Declined,
                            _ => PassEnd::Ended,
                        },
                    );
                }
                rows.push(self.row);
                return false;
            }
            // The next one over the same mark.
            _ if shown.number != self.row.number => {
                if self.row.ended.is_none() {
                    self.row.end(at, PassEnd::Dropped);
                }
                rows.push(self.row);
                return false;
            }
            _ if self.row.ended.is_some() && shown.state != PassState::Passed => {
                rows.push(self.row);
                return false;
            }
            PassState::Offered | PassState::Accepted | PassState::UnderWay | PassState::Passed => {}
        }
        self.note(look, shown);
        if let (PassState::Offered, None, Some((chance, of_marked)), Some(closest_m)) = (
            shown.state,
            self.row.accepted_at,
            shown.chance.zip(shown.chance_of_marked),
            shown.bait_closest_m,
        ) {
            self.row.chance = chance;
            self.row.chance_of_marked = of_marked;
            self.row.closest_foreseen_m = closest_m;
        }
        if self.comes_to(at, Some(shown.state)) {
            rows.push(self.row);
        }
        true
    }

    /// Whether it has come further.
    fn comes_to(&mut self, at: Millis, state: Option<PassState>) -> bool {
        match state {
            Some(PassState::Accepted | PassState::UnderWay) if self.row.accepted_at.is_none() => {
                self.row.accepted_at = Some(at);
                true
            }
            Some(PassState::Passed) if self.row.ended.is_none() => {
                self.row.end(at, PassEnd::Passed);
                true
            }
            _ => false,
        }
    }

    /// Measures how near the bait comes, and what it does.
    fn note(&mut self, look: &Look, shown: &PassNow) {
        self.did.push_back((look.at, look.state.bait));
        while self
            .did
            .front()
            .is_some_and(|(at, _)| look.at.seconds_since(*at) > SKIPS_FOR_S + LONGEST_GAP_S)
        {
            self.did.pop_front();
        }
        self.is_near = self.row.accepted_at.is_some()
            && (shown.state == PassState::Passed
                || shown.in_s.map_or(self.is_near, |in_s| in_s <= SURPRISES_S));
        let now = bait_from_mark(look, self.row.mark).map(|way| (look.at, way));
        let before = std::mem::replace(&mut self.bait, now);
        let (Some((at, now)), true) = (now, self.is_near) else {
            return;
        };
        let (from, then) = before
            .filter(|(then, _)| at.seconds_since(*then) <= LONGEST_GAP_S)
            .unwrap_or((at, now));
        let (share, nearest_m) = nearest(then, now);
        if self.row.closest_m.is_none_or(|least| nearest_m < least) {
            let when = from.plus_seconds(share * at.seconds_since(from));
            self.row.closest_m = Some(nearest_m);
            self.row.closest_at = Some(when);
            self.row.skipping_share = self.skipping_share(when);
        }
    }

    /// Share of the time before a moment in which the bait skipped; `None` where less than half of
    /// that time is known.
    fn skipping_share(&self, until: Millis) -> Option<f64> {
        let from = until.plus_seconds(-SKIPS_FOR_S);
        let (mut known_s, mut skipped_s) = (0.0, 0.0);
        for ((at, bait), (next, _)) in self.did.iter().zip(self.did.iter().skip(1)) {
            let (begin, end) = ((*at).max(from), (*next).min(until));
            let part_s = end.seconds_since(begin);
            if let (true, Some(bait)) = (part_s > 0.0, bait) {
                known_s += part_s;
                skipped_s += if *bait == BaitState::Skipping {
                    part_s
                } else {
                    0.0
                };
            }
        }
        (known_s >= 0.5 * SKIPS_FOR_S).then(|| skipped_s / known_s)
    }
}

/// The way from where the mark should be to the bait, by the model: east and north.
fn bait_from_mark(look: &Look, number: u32) -> Option<[f64; 2]> {
    let mark = look.marks.iter().find(|mark| mark.number == number)?;
    let bait = Place::of_bait(&look.state)?;
    let bait = Position {
        latitude_deg: bait.latitude_deg,
        longitude_deg: bait.longitude_deg,
    };
    let way = mark.position_at(look.at)?.way_to(bait).ok()?;
    Some([way.east_m, way.north_m])
}

/// Where on the straight way between two points the origin is nearest, as a share of it, and how near.
fn nearest(from: [f64; 2], to: [f64; 2]) -> (f64, f64) {
    let by = [to[0] - from[0], to[1] - from[1]];
    let length2 = by[0] * by[0] + by[1] * by[1];
    let share = if length2 > 0.0 {
        (-(from[0] * by[0] + from[1] * by[1]) / length2).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let x = from[0] + share * by[0];
    let y = from[1] + share * by[1];
    (share, x.hypot(y))
}

#[cfg(test)]
mod tests {
    use super::super::rows::{Doing, State};
    use super::*;
    use crate::vessel::{Mark, MarkSource};

    /// A second of latitude is 30.87 m on the sphere of `place` (own arithmetic: 6371008.8 m).
    const DEGREE_M: f64 = 111_195.08;

    fn s(t: f64) -> Millis {
        Millis(0).plus_seconds(t)
    }

    fn pass(state: PassState, in_s: f64) -> PassNow {
        PassNow {
            mark: 2,
            state,
            number: 1,
            legs: Vec::new(),
            hold_heading_deg: Some(0.0),
            speed_kn: None,
            bait_closest_m: Some(4.0),
            in_s: (state != PassState::Declined && state != PassState::Ended).then_some(in_s),
            chance: Some(0.7),
            chance_of_marked: Some(0.3),
            likely: true,
            because: "invented".to_owned(),
            lines: Vec::new(),
            refused: None,
        }
    }

    /// A boat that goes north along a meridian at 3 m/s, its bait 60 m astern; the mark lies 300 m
    /// north of where it begins, and 8 m to starboard of the bait's way.
    fn look(t: f64, bait: BaitState, pass: Option<PassNow>) -> Look {
        let at = s(t);
        let east = 8.0 / DEGREE_M;
        Look {
            at,
            state: State {
                at,
                latitude_deg: Some(3.0 * t / DEGREE_M),
                longitude_deg: Some(0.0),
                heading_deg_true: Some(0.0),
                rate_of_turn_deg_s: None,
                speed_water_mps: None,
                speed_ground_mps: None,
                course_deg_true: None,
                wind_at_sensor_mps: None,
                wind_from_deg_true: None,
                kite_line_m: None,
                main_line_m: None,
                doing: Doing::Fishing,
                bait: Some(bait),
                bait_told: None,
                kite_elevation_deg: None,
                kite_off_astern_deg: None,
                immersion: None,
                bait_astern_m: Some(60.0),
                bait_starboard_m: Some(0.0),
            },
            revisions: Vec::new(),
            missing: Vec::new(),
            chances: Vec::new(),
            marks: vec![Mark {
                number: 2,
                name: None,
                source: MarkSource::Typed,
                at: s(0.0),
                as_of: s(0.0),
                position: Some(Position {
                    latitude_deg: 300.0 / DEGREE_M,
                    longitude_deg: east,
                }),
                drift: None,
                sigma0_m: 10.0,
            }],
            pass,
            taught: None,
            settings: None,
        }
    }

    /// Plays a pass a picture every 2 s; `accepted_s` as the crew does it, until `until_s`.
    fn played(
        bait: impl Fn(f64) -> BaitState,
        accepted_s: f64,
        until_s: f64,
        after: impl Fn(f64) -> Option<PassNow>,
    ) -> Vec<PassRow> {
        let mut side = PassSide::default();
        let mut rows = Vec::new();
        for k in 0..100 {
            let t = 2.0 * f64::from(k);
            let state = match t {
                t if t < accepted_s => PassState::Offered,
                t if t < 40.0 => PassState::Accepted,
                _ => PassState::UnderWay,
            };
            let now = if t < until_s {
                Some(pass(state, (120.0 - t).max(0.0)))
            } else {
                after(t)
            };
            rows.extend(side.take(&look(t, bait(t), now)));
        }
        rows.extend(side.finish());
        rows
    }

    #[test]
    fn what_came_of_a_pass_is_measured_where_the_bait_comes_nearest() {
        // Flies until 110 s; the bait is abreast of the mark when 3 t - 60 = 300: at 120 s.
        let bait = |t: f64| match t {
            t if t < 110.0 => BaitState::Airborne,
            _ => BaitState::Skipping,
        };
        let passed = |t: f64| (t < 144.0).then(|| pass(PassState::Passed, 0.0));
        let rows = played(bait, 10.0, 124.0, passed);
        // Offered, accepted, passed, no longer shown.
        assert_eq!(rows.len(), 4, "{rows:#?}");
        let accepted: Vec<_> = rows.iter().map(|row| row.accepted_at).collect();
        assert_eq!(accepted[..2], [None, Some(s(10.0))]);
        let last = rows.last().unwrap();
        assert_eq!(
            (last.offered_at, last.ended, last.ended_at),
            (s(0.0), Some(PassEnd::Passed), Some(s(124.0)))
        );
        assert!((last.closest_m.unwrap() - 8.0).abs() < 0.1, "{last:?}");
        let late_s = last.closest_at.unwrap().seconds_since(s(120.0));
        assert!(late_s.abs() < 0.2, "{late_s}");
        // 10 of the 20 s before.
        let share = last.skipping_share.unwrap();
        assert!((share - 0.5).abs() < 0.02, "{share}");
    }

    #[test]
    fn a_pass_that_comes_to_nothing_says_so() {
        let skips = |_| BaitState::Skipping;
        let ends = |state| move |t: f64| (t < 60.0).then(|| pass(state, 0.0));
        for (accepted_s, state, end) in [
            (500.0, PassState::Declined, PassEnd::Declined),
            (10.0, PassState::Ended, PassEnd::Ended),
        ] {
            let rows = played(skips, accepted_s, 40.0, ends(state));
            let last = rows.last().unwrap();
            assert_eq!((last.ended, last.ended_at), (Some(end), Some(s(40.0))));
            assert_eq!((last.closest_m, last.skipping_share), (None, None));
            assert_eq!(last.accepted_at.is_some(), accepted_s < 40.0);
        }
        let rows = played(skips, 500.0, 40.0, |_| None);
        let last = rows.last().unwrap();
        assert_eq!(
            (last.ended, last.ended_at),
            (Some(PassEnd::Dropped), Some(s(38.0)))
        );
        // A picture or two without it end nothing.
        let rows = played(skips, 10.0, 40.0, |t| {
            (t > 46.0).then(|| pass(PassState::UnderWay, 120.0 - t))
        });
        assert!(rows.iter().all(|row| row.ended.is_none()), "{rows:#?}");
    }
}
