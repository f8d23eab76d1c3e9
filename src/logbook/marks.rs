//! Marks in the logbook: every change of one, with the mark as it was after it. Pure.
//!
//! - The crew's marks come from what the crew says, so that they are on the disk with it; those of the
//!   network from the pictures.
//! - **Thinning**: a mark of the network is kept anew when it is 50 m from where its last row leads, a
//!   minute after that row at the earliest; all of them together make at most 500 rows an hour.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::decode::{CrewInput, MarkChange};
use crate::geodesy::Position;
use crate::time::Millis;
use crate::vessel::{Mark, MarkSource};

/// A mark of the network that is so far from where it was expected has moved.
const MOVED_M: f64 = 50.0;
/// Its moves are kept no more often than this.
const MOVES_APART_S: f64 = 60.0;
/// Most rows of the network's marks ...
const MOST_HEARD: u32 = 500;
/// ... in this time.
const HEARD_OVER_S: f64 = 3600.0;

/// What happened to a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum MarkEvent {
    /// It was marked, or first heard.
    Made,
    /// It is there again: from before a restart, or its removal was taken back.
    Restored,
    /// It was heard elsewhere.
    Moved,
    /// It got another name, or none.
    Named,
    /// Its drift was told, or is no longer known.
    Drifts,
    /// The crew removed it.
    Removed,
    /// That it was marked was taken back.
    TakenBack,
    /// It is not heard any more, or made room for another.
    Gone,
}

/// A change of a mark, with the mark as it was after it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct MarkRow {
    /// When.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
    /// Number of the mark while it is kept: up to 999 the crew's, above it the network's.
    pub number: u32,
    /// What happened.
    pub event: MarkEvent,
    /// When it was marked.
    #[schema(value_type = String, format = DateTime)]
    pub marked_at: Millis,
    /// Who told of it, and how.
    pub source: MarkSource,
    /// Its name.
    pub name: Option<String>,
    /// Since when it was where the position says.
    #[schema(value_type = String, format = DateTime)]
    pub as_of: Millis,
    /// Where it was then; `null` where the boat's position was not known.
    pub latitude_deg: Option<f64>,
    /// Where it was then.
    pub longitude_deg: Option<f64>,
    /// Where to it drifts over the ground; `null` when that is not known.
    pub set_deg_true: Option<f64>,
    /// How fast.
    pub drift_mps: Option<f64>,
    /// Uncertainty of that position then, one standard deviation.
    pub sigma_m: f64,
}

impl MarkRow {
    pub(super) fn new(at: Millis, event: MarkEvent, mark: &Mark) -> Self {
        Self {
            at,
            number: mark.number,
            event,
            marked_at: mark.at,
            source: mark.source,
            name: mark.name.clone(),
            as_of: mark.as_of,
            latitude_deg: mark.position.map(|place| place.latitude_deg),
            longitude_deg: mark.position.map(|place| place.longitude_deg),
            set_deg_true: mark.drift.map(|drift| drift.set_rad.to_degrees()),
            drift_mps: mark.drift.map(|drift| drift.drift_mps),
            sigma_m: mark.sigma0_m,
        }
    }
}

/// A mark from when it was first there until it went.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LoggedMark {
    /// Since when it is there, in this session.
    #[schema(value_type = String, format = DateTime)]
    pub from: Millis,
    /// Until when; `null`: to the end of the session.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub to: Option<Millis>,
    /// The mark as it was after its last change.
    pub last: MarkRow,
}

/// Whether something that the crew says can change a mark.
pub(super) fn is_of_mark(input: &CrewInput) -> bool {
    match input {
        CrewInput::Mark(_) | CrewInput::OfMark { .. } | CrewInput::Undo { .. } => true,
        CrewInput::Before { input, .. } => is_of_mark(input),
        _ => false,
    }
}

/// What an input has changed of the crew's marks.
pub(super) fn changes(
    at: Millis,
    input: &CrewInput,
    before: &[Mark],
    after: &[Mark],
) -> Vec<MarkRow> {
    let same = |mark: &Mark, other: &Mark| (mark.number, mark.at) == (other.number, other.at);
    let gone = before
        .iter()
        .filter(|was| !after.iter().any(|mark| same(was, mark)));
    let event = match input {
        CrewInput::OfMark {
            change: MarkChange::Removed,
            ..
        } => MarkEvent::Removed,
        CrewInput::Undo { .. } => MarkEvent::TakenBack,
        _ => MarkEvent::Gone,
    };
    let mut rows: Vec<MarkRow> = gone.map(|mark| MarkRow::new(at, event, mark)).collect();
    for mark in after {
        let Some(was) = before.iter().find(|was| same(was, mark)) else {
            let event = match input {
                CrewInput::Mark(_) => MarkEvent::Made,
                _ => MarkEvent::Restored,
            };
            rows.push(MarkRow::new(at, event, mark));
            continue;
        };
        if was.name != mark.name {
            rows.push(MarkRow::new(at, MarkEvent::Named, mark));
        }
        if (was.drift, was.as_of) != (mark.drift, mark.as_of) {
            rows.push(MarkRow::new(at, MarkEvent::Drifts, mark));
        }
    }
    rows
}

/// Follows the marks of the network.
#[derive(Debug, Default)]
pub(super) struct HeardSide {
    /// Each as it was kept last, and when.
    kept: BTreeMap<u32, (Mark, Millis)>,
    counted_from: Option<Millis>,
    count: u32,
}

impl HeardSide {
    /// The rows of one picture, which shows all marks.
    pub fn take(&mut self, at: Millis, marks: &[Mark]) -> Vec<MarkRow> {
        if self
            .counted_from
            .is_none_or(|from| at.seconds_since(from) >= HEARD_OVER_S)
        {
            self.counted_from = Some(at);
            self.count = 0;
        }
        let mut rows = Vec::new();
        let heard = || marks.iter().filter(|mark| !mark.is_of_crew());
        let room =
            |rows: &[MarkRow], count: u32| (count as usize + rows.len()) < MOST_HEARD as usize;
        self.kept.retain(|number, (mark, _)| {
            let still = heard().any(|now| now.number == *number);
            // One that is not told of any more for want of room is still taken for there.
            if !still && room(&rows, self.count) {
                rows.push(MarkRow::new(at, MarkEvent::Gone, mark));
                return false;
            }
            true
        });
        for mark in heard() {
            let Some(event) = self.event(at, mark) else {
                continue;
            };
            if room(&rows, self.count) {
                rows.push(MarkRow::new(at, event, mark));
                self.kept.insert(mark.number, (mark.clone(), at));
            }
        }
        self.count += rows.len() as u32;
        rows
    }

    /// What there is to tell of one.
    fn event(&self, at: Millis, mark: &Mark) -> Option<MarkEvent> {
        let Some((was, kept_at)) = self.kept.get(&mark.number) else {
            return Some(MarkEvent::Made);
        };
        if at.seconds_since(*kept_at) < MOVES_APART_S {
            return None;
        }
        let apart = |one: Position, other: Position| {
            one.way_to(other).map_or(f64::INFINITY, |way| way.range_m())
        };
        let moved = match (was.position_at(at), mark.position_at(at)) {
            (Some(expected), Some(now)) => apart(expected, now) > MOVED_M,
            (expected, now) => expected.is_some() != now.is_some(),
        };
        if moved {
            Some(MarkEvent::Moved)
        } else if was.name != mark.name {
            Some(MarkEvent::Named)
        } else {
            None
        }
    }
}

/// The marks that changes make, and the changes, both in order of time, from a moment on. What was
/// taken back is left out. `rows` are all changes of a session before the end that is asked for.
pub(super) fn lives(rows: Vec<MarkRow>, from: Millis) -> (Vec<LoggedMark>, Vec<MarkRow>) {
    let mut marks: Vec<(LoggedMark, Vec<MarkRow>)> = Vec::new();
    for row in rows {
        let known = marks
            .iter()
            .rposition(|(mark, _)| {
                (mark.last.number, mark.last.marked_at) == (row.number, row.marked_at)
            })
            // A mark of the network keeps its number when it is marked anew.
            .or_else(|| {
                marks.iter().rposition(|(mark, _)| {
                    mark.last.number == row.number
                        && mark.to.is_none()
                        && row.event == MarkEvent::Moved
                })
            });
        match (row.event, known) {
            (MarkEvent::TakenBack, Some(i)) => {
                marks.remove(i);
            }
            (MarkEvent::TakenBack, None) => {}
            (MarkEvent::Restored, Some(i)) => {
                let (mark, changes) = &mut marks[i];
                mark.to = None;
                changes.retain(|change| change.event != MarkEvent::Removed);
            }
            (_, Some(i)) => {
                let (mark, changes) = &mut marks[i];
                if matches!(row.event, MarkEvent::Removed | MarkEvent::Gone) {
                    mark.to = Some(row.at);
                }
                mark.last = row.clone();
                changes.push(row);
            }
            (_, None) => marks.push((
                LoggedMark {
                    from: row.at,
                    to: None,
                    last: row.clone(),
                },
                vec![row],
            )),
        }
    }
    marks.retain(|(mark, _)| mark.to.is_none_or(|to| to >= from));
    let mut changes: Vec<MarkRow> = marks.iter().flat_map(|(_, rows)| rows.clone()).collect();
    changes.retain(|row| row.at >= from);
    changes.sort_by_key(|row| (row.at, row.number));
    (marks.into_iter().map(|(mark, _)| mark).collect(), changes)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn s(t: f64) -> Millis {
        Millis(0).plus_seconds(t)
    }

    fn heard(number: u32, at_s: f64, longitude_deg: f64) -> Mark {
        Mark {
            number,
            name: Some("REEF".to_owned()),
            source: MarkSource::Waypoint,
            at: s(at_s),
            as_of: s(at_s),
            position: Some(Position {
                latitude_deg: 0.0,
                longitude_deg,
            }),
            drift: None,
            sigma0_m: 10.0,
        }
    }

    fn events(rows: &[MarkRow]) -> Vec<MarkEvent> {
        rows.iter().map(|row| row.event).collect()
    }

    #[test]
    fn a_mark_of_the_network_is_kept_when_it_has_moved() {
        let mut side = HeardSide::default();
        // At the equator 0.001 degrees are 111 m.
        assert_eq!(
            events(&side.take(s(0.0), &[heard(1000, 0.0, 10.0)])),
            [MarkEvent::Made]
        );
        assert_eq!(side.take(s(30.0), &[heard(1000, 30.0, 10.001)]), []);
        assert_eq!(side.take(s(61.0), &[heard(1000, 61.0, 10.0003)]), []);
        let moved = side.take(s(62.0), &[heard(1000, 62.0, 10.001)]);
        assert_eq!(events(&moved), [MarkEvent::Moved]);
        let gone = side.take(s(63.0), &[]);
        assert_eq!(events(&gone), [MarkEvent::Gone]);
        let all = [
            vec![MarkRow::new(
                s(0.0),
                MarkEvent::Made,
                &heard(1000, 0.0, 10.0),
            )],
            moved,
            gone,
        ]
        .concat();
        let (marks, changes) = lives(all.clone(), s(0.0));
        assert_eq!((marks.len(), changes.len()), (1, 3));
        assert_eq!(marks[0].to, Some(s(63.0)));
        assert_eq!(lives(all, s(100.0)), (vec![], vec![]));
    }

    #[test]
    fn a_talker_that_never_rests_fills_no_disk() {
        let mut side = HeardSide::default();
        let rows: usize = (0..3000)
            .map(|second| {
                let at = f64::from(second);
                // Every second another one.
                let mark = heard(1000 + second % 999, at, 10.0);
                side.take(s(at), &[mark]).len()
            })
            .sum();
        assert_eq!(rows, 500);
        assert!(side.kept.len() <= 500);
        let later = side.take(s(3600.0), &[heard(1000, 3600.0, 10.0)]);
        assert!(!later.is_empty());
    }

    #[test]
    fn what_was_taken_back_is_left_out() {
        let crew = |number: u32, name: Option<&str>| Mark {
            name: name.map(str::to_owned),
            ..heard(number, 0.0, 10.0)
        };
        let rows = |event, mark: &Mark| MarkRow::new(s(1.0), event, mark);
        let (one, two) = (crew(1, Some("birds")), crew(2, None));
        let (marks, changes) = lives(
            vec![
                rows(MarkEvent::Made, &one),
                rows(MarkEvent::Made, &two),
                rows(MarkEvent::Removed, &one),
                rows(MarkEvent::Restored, &one),
                rows(MarkEvent::TakenBack, &two),
            ],
            s(0.0),
        );
        assert_eq!(marks.len(), 1);
        assert_eq!((marks[0].last.number, marks[0].to), (1, None));
        assert_eq!(events(&changes), [MarkEvent::Made]);
    }
}
