//! All sources at one second, and what follows from several of them.

use super::suspicion::Instrument;
use super::track::{REPEATS, Track};
use crate::angles::wrap_signed;

/// A source silent for longer is no witness.
const LIVE_S: i64 = 4;

/// Below this speed over ground the course says little of the heading, m/s (common practice, no
/// source).
pub(super) const WAY_MPS: f64 = 2.0;

/// All sources at one second.
pub(super) struct View<'a> {
    /// The last whole second.
    pub now: i64,
    pub tracks: &'a [Track],
    /// Those that are suspect already: they are no witnesses.
    pub suspect: &'a [(Instrument, u32)],
}

impl<'a> View<'a> {
    /// All live sources of an instrument.
    pub fn live(&self, of: Instrument) -> impl Iterator<Item = &'a Track> {
        let oldest = self.now - LIVE_S;
        self.tracks
            .iter()
            .filter(move |track| track.of == of && track.last_second() >= oldest)
    }

    /// A source that may speak for an instrument: the first heard of those that nobody suspects.
    pub fn witness(&self, of: Instrument) -> Option<&'a Track> {
        self.live(of)
            .find(|track| !self.suspect.contains(&(of, track.id)))
    }

    /// Other senders' sources of the same instrument, suspect or not; none that repeat others.
    pub fn others(&self, than: &Track) -> impl Iterator<Item = &'a Track> {
        let (of, sender) = (than.of, than.sender);
        self.live(of)
            .filter(move |track| track.sender != sender && track.sender != REPEATS)
    }

    /// The course over ground, where the boat had way on in every second from `from`.
    pub fn course_under_way(&self, from: i64) -> Option<&'a Track> {
        let speed = self.witness(Instrument::GroundSpeed)?;
        let (least, _) = speed.sizes(from, self.now)?;
        if least < WAY_MPS || !speed.covers(from, self.now) {
            return None;
        }
        self.witness(Instrument::Course)
    }

    /// How far the boat has turned since `from` by witnesses other than this compass: the rate of
    /// turn, the course over ground, another compass.
    pub fn turned_by_others(&self, compass: &Track, from: i64) -> [Option<f64>; 3] {
        let rate = self
            .witness(Instrument::RateOfTurn)
            .and_then(|rate| rate.integral(from, self.now));
        let course = self
            .course_under_way(from)
            .and_then(|course| course.turned(from, self.now));
        let other = self
            .others(compass)
            .find(|track| !self.suspect.contains(&(track.of, track.id)))
            .and_then(|other| other.turned(from, self.now));
        [rate, course, other]
    }

    /// Mean speed of the boat through the water; without a log over ground.
    pub fn speed(&self, from: i64, to: i64) -> Option<f64> {
        [Instrument::Log, Instrument::GroundSpeed]
            .into_iter()
            .find_map(|of| self.witness(of)?.mean_size(from, to))
    }

    /// How far the course over ground lies from this compass, on the mean from `from` to now; `None`
    /// without way on, or in a turn.
    pub fn off_course(&self, compass: &Track, from: i64) -> Option<f64> {
        const STEADY: f64 = 30.0 * std::f64::consts::PI / 180.0;
        let course = self.course_under_way(from)?;
        let turned = compass.turned(from, self.now)?;
        let swung = course.turned(from, self.now)?;
        if turned.abs() > STEADY || swung.abs() > STEADY {
            return None;
        }
        let heading = compass.mean_angle(from, self.now)?;
        Some(wrap_signed(heading - course.mean_angle(from, self.now)?))
    }
}
