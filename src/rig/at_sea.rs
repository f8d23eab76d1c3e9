//! A timeline in a seaway.
//! In: a timeline, the boat's way through the waves. Out: a timeline. Knows no solver.

use super::air::{Current, Wind};
use super::conditions::{LineLengths, Timeline};
use super::hull::{BoatMotion, Hull, Ride};
use super::seaway::Seaway;

/// Start of a run in waves before time 0, s.
pub const SEA_BEFORE_S: f64 = 30.0;
/// How long the sea grows after the start, s.
const GROWING_S: f64 = 10.0;

/// A timeline whose boat rides a seaway.
#[derive(Debug)]
pub struct AtSea<T> {
    /// Boat, air and hands.
    pub timeline: T,
    /// Their way through the seaway.
    pub ride: Ride,
}

impl<T: Timeline> AtSea<T> {
    /// In a sea that grows from flat water, [`SEA_BEFORE_S`] before time 0 on. The rod tips ride
    /// rigidly at their flat-water height, or move with the hull.
    #[must_use]
    pub fn growing(timeline: T, sea: Seaway, rigid: bool, until_s: f64) -> Self {
        let sea = sea.growing(-SEA_BEFORE_S, GROWING_S - SEA_BEFORE_S);
        let ride = Ride::new(
            sea,
            Hull::default(),
            rigid,
            |t| timeline.boat(t),
            -SEA_BEFORE_S,
            until_s,
        );
        Self { timeline, ride }
    }
}

impl<T: Timeline> Timeline for AtSea<T> {
    fn boat(&self, t_s: f64) -> BoatMotion {
        self.timeline.boat(t_s)
    }
    fn wind(&self, t_s: f64) -> Wind {
        self.timeline.wind(t_s)
    }
    fn current(&self, t_s: f64) -> Current {
        self.timeline.current(t_s)
    }
    fn lines(&self, t_s: f64) -> LineLengths {
        self.timeline.lines(t_s)
    }
    fn ride(&self) -> Option<&Ride> {
        Some(&self.ride)
    }
}
