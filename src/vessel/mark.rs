//! A mark: a place to fish, told by the crew or by the network, and how uncertain it has become.
//!
//! # The rule of its uncertainty
//!
//! One standard deviation, the same in all directions: `sqrt(sigma0^2 + (u t)^2)`, `t` the age of the
//! position. The program cannot know how well an eye estimates or how fast fish move: except where a
//! source is named these numbers are invented, of the size that common practice suggests.
//!
//! | how it is known | sigma0, m | u, m/s |
//! |---|---|---|
//! | the boat was there | 10: receiver, and the thumb that taps late | 0.3: fish and birds move |
//! | seen by eye | 10, and with it 0.2 of the distance: 7 degrees across, 25 % along | 0.3 |
//! | a target of another instrument | 30, and with it 0.012 of the distance (radar: 30 m, 1 degree; IMO MSC.192(79), MEMORY) | 0.3 since it was last heard |
//! | entered; a waypoint | 10 | 0: a place on the chart |
//! | a person in the water | 30 | 0.3 |
//!
//! With a set and drift from the crew, `u` is half as large.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::decode::{MarkHow, SetAndDrift};
use crate::geodesy::{Offset, Position};
use crate::time::Millis;
use crate::units::{in_metres, in_metres_per_second, in_radians};

/// Greatest number that the crew's marks get; those of the network begin after it.
pub const LAST_OF_CREW: u32 = 999;
/// Greatest number of a mark of the network.
pub(super) const LAST_OF_NETWORK: u32 = 1999;
/// Longest name, in characters.
pub const MARK_NAME_MAX: usize = 20;

const SIGMA_M: f64 = 10.0;
const BY_EYE: f64 = 0.2;
const TARGET_SIGMA_M: f64 = 30.0;
const TARGET: f64 = 0.012;
const MOVES_MPS: f64 = 0.3;
const TOLD_DRIFT: f64 = 0.5;

/// Who told of it, and how.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum MarkSource {
    /// The crew: the boat was there.
    Here,
    /// The crew: seen by eye, by bearing and distance.
    ByEye,
    /// The crew: its position was entered.
    Typed,
    /// A waypoint of the network (WPL, RMB, BWC).
    Waypoint,
    /// The waypoint to which the navigator leads now.
    Destination,
    /// What another instrument follows (TTM, TLL).
    Target,
    /// A person in the water (MOB, or a place of that name). No place to fish.
    PersonInWater,
}

/// How a mark moves over the ground.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MarkDrift {
    /// Where to, clockwise from true north.
    pub set_rad: f64,
    /// How fast.
    pub drift_mps: f64,
}

/// A place to fish.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Mark {
    /// Its number while it is kept: up to [`LAST_OF_CREW`] the crew's, above it the network's.
    pub number: u32,
    /// Its name.
    pub name: Option<String>,
    /// Who told of it, and how.
    pub source: MarkSource,
    /// When it was marked.
    pub at: Millis,
    /// Since when it is where `position` says.
    pub as_of: Millis,
    /// Where it was then; `None` when the boat's position was not known.
    pub position: Option<Position>,
    /// How it moves since then; `None` when that is not known.
    pub drift: Option<MarkDrift>,
    /// Uncertainty of the position at that moment, one standard deviation.
    pub sigma0_m: f64,
}

/// A mark as seen from the boat at one moment.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MarkFromBoat {
    /// The way to it, from the boat.
    pub way: Offset,
    /// How uncertain its place is by now, one standard deviation.
    pub sigma_m: f64,
}

impl Mark {
    /// Whether one can want to pass it with the bait.
    #[must_use]
    pub fn is_to_fish(&self) -> bool {
        self.source != MarkSource::PersonInWater
    }

    /// Whether the crew has made it.
    #[must_use]
    pub fn is_of_crew(&self) -> bool {
        self.number <= LAST_OF_CREW
    }

    /// Seconds since its position held.
    #[must_use]
    pub fn age_s(&self, at: Millis) -> f64 {
        at.seconds_since(self.as_of).max(0.0)
    }

    /// Where it should be now.
    #[must_use]
    pub fn position_at(&self, at: Millis) -> Option<Position> {
        let position = self.position?;
        let Some(drift) = self.drift else {
            return Some(position);
        };
        let way = Offset::polar(drift.set_rad, drift.drift_mps * self.age_s(at));
        position.moved(way).ok()
    }

    /// How uncertain that is, one standard deviation.
    #[must_use]
    pub fn sigma_m(&self, at: Millis) -> f64 {
        let moves_mps = match self.source {
            MarkSource::Typed | MarkSource::Waypoint | MarkSource::Destination
                if self.drift.is_none() =>
            {
                0.0
            }
            _ if self.is_of_crew() && self.drift.is_some() => TOLD_DRIFT * MOVES_MPS,
            _ => MOVES_MPS,
        };
        self.sigma0_m.hypot(moves_mps * self.age_s(at))
    }

    /// As seen from a boat at this place. `None` when its position is not known, or near a pole.
    #[must_use]
    pub fn from_boat(&self, at: Millis, boat: Position) -> Option<MarkFromBoat> {
        Some(MarkFromBoat {
            way: boat.way_to(self.position_at(at)?).ok()?,
            sigma_m: self.sigma_m(at),
        })
    }

    /// Distance by eye that makes its position as uncertain as it was at first.
    #[must_use]
    pub fn range_by_eye_m(&self) -> f64 {
        let by_eye_m = (self.sigma0_m.powi(2) - SIGMA_M.powi(2)).max(0.0).sqrt() / BY_EYE;
        by_eye_m.clamp(1.0, 20_000.0)
    }

    /// The same mark with another drift from now on.
    pub(super) fn drifts(&mut self, at: Millis, way: Option<SetAndDrift>) {
        self.sigma0_m = self.sigma_m(at);
        self.position = self.position_at(at);
        self.as_of = self.as_of.max(at);
        self.drift = way.map(|way| MarkDrift {
            set_rad: in_radians(way.set),
            drift_mps: in_metres_per_second(way.drift),
        });
    }
}

/// Whether a mark of this name is of a person in the water: plotters call it MOB, the card of the
/// pages overboard.
pub(super) fn names_person(name: &str) -> bool {
    let name = name.trim().to_ascii_lowercase();
    name.starts_with("mob") || name.starts_with("overboard")
}

/// Source and first uncertainty of what the crew marks.
pub(super) fn known_how(how: MarkHow, name: Option<&str>) -> (MarkSource, f64) {
    match how {
        _ if name.is_some_and(names_person) => (MarkSource::PersonInWater, TARGET_SIGMA_M),
        MarkHow::Here => (MarkSource::Here, SIGMA_M),
        MarkHow::ByEye { range } => (MarkSource::ByEye, SIGMA_M.hypot(BY_EYE * in_metres(range))),
        MarkHow::Typed => (MarkSource::Typed, SIGMA_M),
    }
}

/// First uncertainty of what the network tells, at this distance when it was heard.
pub(super) fn sigma_heard_m(source: MarkSource, range_m: f64) -> f64 {
    match source {
        MarkSource::Target => TARGET_SIGMA_M.hypot(TARGET * range_m),
        MarkSource::PersonInWater => TARGET_SIGMA_M,
        _ => SIGMA_M,
    }
}

/// A name of somebody else's choosing, made fit to be shown: printable, without blanks around it, cut.
pub(super) fn shown_name(name: &str) -> Option<String> {
    let kept: String = name
        .trim()
        .chars()
        .map(|c| {
            if c.is_alphanumeric() || c.is_ascii_graphic() || c == ' ' {
                c
            } else {
                '_'
            }
        })
        .take(MARK_NAME_MAX)
        .collect();
    (!kept.is_empty()).then_some(kept)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{degrees, metres, metres_per_second};

    fn s(t: f64) -> Millis {
        Millis(0).plus_seconds(t)
    }

    fn by_eye(range_m: f64) -> Mark {
        let (source, sigma0_m) = known_how(
            MarkHow::ByEye {
                range: metres(range_m),
            },
            None,
        );
        Mark {
            number: 1,
            name: None,
            source,
            at: s(0.0),
            as_of: s(0.0),
            position: Some(Position {
                latitude_deg: 45.0,
                longitude_deg: 12.0,
            }),
            drift: None,
            sigma0_m,
        }
    }

    #[test]
    fn what_was_seen_further_away_and_longer_ago_is_less_certain() {
        let near = by_eye(50.0).sigma_m(s(0.0));
        let far = by_eye(500.0).sigma_m(s(0.0));
        // Own arithmetic: sqrt(10^2 + 10^2), sqrt(10^2 + 100^2).
        assert!((near - 14.142).abs() < 0.001 && (far - 100.499).abs() < 0.001);
        let old = by_eye(50.0).sigma_m(s(600.0));
        assert!((old - (200.0_f64 + 180.0 * 180.0).sqrt()).abs() < 1e-9);
        let mut place = by_eye(50.0);
        place.source = MarkSource::Typed;
        assert!(
            (place.sigma_m(s(600.0)) - near).abs() < 1e-12,
            "a place stays"
        );
    }

    #[test]
    fn a_mark_drifts_from_where_it_was_when_that_was_told() {
        let mut mark = by_eye(50.0);
        let boat = mark.position.unwrap();
        let east = |mps| {
            Some(SetAndDrift {
                set: degrees(90.0),
                drift: metres_per_second(mps),
            })
        };
        mark.drifts(s(100.0), east(0.5));
        let seen = mark.from_boat(s(300.0), boat).unwrap();
        assert!((seen.way.east_m - 100.0).abs() < 0.01 && seen.way.north_m.abs() < 0.01);
        let before = mark.sigma_m(s(300.0));
        mark.drifts(s(300.0), None);
        assert!((mark.sigma_m(s(300.0)) - before).abs() < 1e-9, "no jump");
        let stays = mark.from_boat(s(900.0), boat).unwrap();
        assert!((stays.way.east_m - 100.0).abs() < 0.01);
        assert!(stays.sigma_m > before);
    }

    #[test]
    fn names_are_made_fit_to_be_shown() {
        assert_eq!(shown_name("  birds\u{7}  "), Some("birds_".to_owned()));
        assert_eq!(shown_name(" "), None);
        assert_eq!(shown_name(&"x".repeat(50)).unwrap().len(), MARK_NAME_MAX);
    }
}
