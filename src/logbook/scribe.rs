//! From what is heard and shown to rows. Pure: the same input gives the same rows, live and in a
//! replay, whichever of the two sides is ahead of the other.
//!
//! An entry of the crew comes here when it is stamped, a picture when it is made, which may be a
//! second later. What the rows of one depend on of the other is therefore told by their moments,
//! never by which came first: a bite is described by the last pictures not later than it, once a
//! picture later than it has come.

use std::collections::VecDeque;
use std::sync::Arc;

use super::boat_side::BoatSide;
use super::crew_side::CrewSide;
use super::in_force::LoggedSettings;
use super::look::Look;
use super::marks::HeardSide;
use super::pass_side::PassSide;
use super::rows::{Row, State};
use crate::geodesy::Position;
use crate::time::Millis;

/// The rig is described by a forecast no older than this.
const RIG_WITHIN_S: f64 = 60.0;

/// A mark whose place no picture has shown for so long has none.
const PLACED_WITHIN_S: f64 = 60.0;
/// Most places kept of marks that the crew's words do not place.
const MOST_PLACES: usize = 64;

/// What the logbook is told.
#[derive(Debug)]
pub enum Item {
    /// The program, or a part of a log, begins.
    Begins {
        /// First moment.
        at: Millis,
        /// Settings in force.
        settings: Option<Arc<LoggedSettings>>,
    },
    /// The crew spoke.
    Said {
        /// When.
        at: Millis,
        /// By which feed.
        feed: Arc<str>,
        /// The sentence.
        text: String,
    },
    /// A picture was made.
    Seen(Box<Look>),
}

/// Makes rows.
#[derive(Debug, Default)]
pub struct Scribe {
    session: Option<Session>,
}

#[derive(Debug)]
struct Session {
    /// Whether anything has come since it began.
    is_fresh: bool,
    crew: CrewSide,
    boat: BoatSide,
    heard: HeardSide,
    passes: PassSide,
    /// Bites that are not described yet.
    bites: Vec<Millis>,
    /// Marks whose place the crew's words do not tell: number, and since when they are there.
    unplaced: Vec<(u32, Millis)>,
    /// The places that were found of them.
    placed: VecDeque<(u32, Millis, Position)>,
    boat_seen: Option<State>,
    rig_seen: Option<State>,
}

impl Scribe {
    /// The rows of one item. Nothing is kept of what comes before the first session.
    pub fn take(&mut self, item: Item) -> Vec<Row> {
        let mut rows = Vec::new();
        match (item, &mut self.session) {
            // The recording of a daemon says once more that it began.
            (Item::Begins { .. }, Some(session)) if session.is_fresh => {}
            (Item::Begins { at, settings }, _) => {
                rows = self.finish();
                rows.push(Row::Session { begun_at: at });
                rows.extend(settings.map(|in_force| Row::Settings { from: at, in_force }));
                self.session = Some(Session::new());
            }
            (Item::Said { at, feed, text }, Some(session)) => {
                session.is_fresh = false;
                let bite = session.crew.take(at, &feed, &text, &mut rows);
                session.bites.extend(bite);
                session.want_places(&mut rows);
            }
            (Item::Seen(look), Some(session)) => {
                session.is_fresh = false;
                session.see(&look, &mut rows);
            }
            (Item::Said { .. } | Item::Seen(_), None) => {}
        }
        rows
    }

    /// What is still open when the session ends.
    pub fn finish(&mut self) -> Vec<Row> {
        let mut rows = Vec::new();
        if let Some(mut session) = self.session.take() {
            session.describe_bites(None, &mut rows);
            session.boat.flush(&mut rows);
            let pass = session.passes.finish();
            rows.extend(pass.map(|pass| Row::Pass(Box::new(pass))));
        }
        rows
    }
}

impl Session {
    fn new() -> Self {
        Self {
            is_fresh: true,
            crew: CrewSide::new(),
            boat: BoatSide::default(),
            heard: HeardSide::default(),
            passes: PassSide::default(),
            bites: Vec::new(),
            unplaced: Vec::new(),
            placed: VecDeque::new(),
            boat_seen: None,
            rig_seen: None,
        }
    }

    fn see(&mut self, look: &Look, rows: &mut Vec<Row>) {
        self.describe_bites(Some(look.at), rows);
        self.boat_seen = Some(look.state);
        if look.state.bait.is_some() {
            self.rig_seen = Some(look.state);
        }
        self.boat.take(look, rows);
        self.place_marks(look, rows);
        let heard = self.heard.take(look.at, &look.marks).into_iter();
        rows.extend(heard.map(|mark| Row::Mark(Box::new(mark))));
        let passes = self.passes.take(look).into_iter();
        rows.extend(passes.map(|pass| Row::Pass(Box::new(pass))));
    }

    /// Marks that the crew has made where the boat was: their places are in the pictures.
    fn want_places(&mut self, rows: &mut Vec<Row>) {
        let wanted: Vec<(u32, Millis)> = rows
            .iter()
            .filter_map(|row| match row {
                Row::Mark(mark) if mark.latitude_deg.is_none() => Some((mark.number, mark.as_of)),
                _ => None,
            })
            .collect();
        for (number, as_of) in wanted {
            let mut placed = self.placed.iter();
            match placed.find(|placed| (placed.0, placed.1) == (number, as_of)) {
                Some((.., place)) => rows.push(Row::MarkPlaced {
                    number,
                    as_of,
                    place: *place,
                }),
                None => self.unplaced.push((number, as_of)),
            }
        }
    }

    /// Finds the places that are wanted.
    fn place_marks(&mut self, look: &Look, rows: &mut Vec<Row>) {
        self.unplaced.retain(|(number, as_of)| {
            let seen = look
                .marks
                .iter()
                .find(|mark| (mark.number, mark.as_of) == (*number, *as_of));
            let Some(place) = seen.and_then(|mark| mark.position) else {
                return look.at.seconds_since(*as_of) <= PLACED_WITHIN_S;
            };
            rows.push(Row::MarkPlaced {
                number: *number,
                as_of: *as_of,
                place,
            });
            if self.placed.len() >= MOST_PLACES {
                self.placed.pop_front();
            }
            self.placed.push_back((*number, *as_of, place));
            false
        });
    }

    /// Describes the bites before a moment, or all.
    fn describe_bites(&mut self, before: Option<Millis>, rows: &mut Vec<Row>) {
        let (boat, rig) = (self.boat_seen, self.rig_seen);
        self.bites.retain(|bite_at| {
            if before.is_some_and(|before| *bite_at >= before) {
                return true;
            }
            let fresh = |state: &State| bite_at.seconds_since(state.at) <= RIG_WITHIN_S;
            rows.push(Row::BiteSeen {
                bite_at: *bite_at,
                boat: boat.filter(fresh).map(Box::new),
                rig: rig.filter(fresh).map(Box::new),
            });
            false
        });
    }
}
