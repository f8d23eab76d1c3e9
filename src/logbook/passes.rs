//! Passes in the logbook: what was offered, what the crew made of it, and what came of it. Pure.
//!
//! A pass begins with the first picture that shows a plan for it, and is one row, written again
//! whenever it comes further. What came of it is **by the model**: nobody has seen the bait there. It
//! is taken from a minute before an accepted pass is due until the picture no longer shows it: the
//! least distance of the bait from where the mark should be then, along straight lines between
//! pictures, and the share of the 20 s before that in which the bait skipped.

use std::collections::VecDeque;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::look::Look;
use super::place::Place;
use crate::decode::BaitState;
use crate::geodesy::Position;
use crate::pass::{PassNow, PassState, SKIPS_FOR_S, SURPRISES_S};
use crate::time::Millis;

/// A pass that no picture has shown for so long is none any more.
const UNSEEN_S: f64 = 10.0;
/// Pictures further apart leave a gap.
const LONGEST_GAP_S: f64 = 10.0;

/// How a pass ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PassEnd {
    /// Its time came.
    Passed,
    /// The crew declined it.
    Declined,
    /// The crew ended it, or announced a turn of its own.
    Ended,
    /// It was planned no more: another mark, a bite, no mark.
    Dropped,
}

/// A pass from offered to ended.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct PassRow {
    /// Number of the mark.
    pub mark: u32,
    /// Which pass over this mark: 1, and 2 after the first.
    pub number: u32,
    /// When it was first offered.
    #[schema(value_type = String, format = DateTime)]
    pub offered_at: Millis,
    /// The chance that was told, 0 to 1: when it was accepted, or last.
    pub chance: f64,
    /// The same for what was seen there.
    pub chance_of_marked: f64,
    /// How near the bait was then foreseen to come.
    pub closest_foreseen_m: f64,
    /// When the crew accepted it.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub accepted_at: Option<Millis>,
    /// When it ended; `null`: not before the session.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub ended_at: Option<Millis>,
    /// How it ended.
    pub ended: Option<PassEnd>,
    /// How near the bait came, by the model; `null` where the pass did not get so far.
    pub closest_m: Option<f64>,
    /// When.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub closest_at: Option<Millis>,
    /// Share of the 20 s before in which it skipped, by the model, 0 to 1.
    pub skipping_share: Option<f64>,
}

impl PassRow {
    fn end(&mut self, at: Millis, how: PassEnd) {
        self.ended_at = Some(at);
        self.ended = Some(how);
    }
}

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
        self.note(look, shown);
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
