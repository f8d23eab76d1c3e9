//! Marks that the network tells of: waypoints (WPL, RMB, BWC), targets (TTM, TLL), a person in the
//! water (MOB).
//!
//! - At most [`MOST_HEARD`]: the one heard longest ago makes room, the destination and a person in
//!   the water last. A plotter that sends a hundred waypoints leaves the last ones.
//! - A target that is lost, or not heard for [`TARGET_LAPSES_S`], goes; a waypoint stays.
//! - A waypoint of which the same name is heard elsewhere has moved, and counts as marked anew.

use super::mark::{
    LAST_OF_CREW, LAST_OF_NETWORK, Mark, MarkDrift, MarkSource, names_person, shown_name,
    sigma_heard_m,
};
use crate::decode::{Observation, Target, TargetBearing, TargetPlace};
use crate::geodesy::{Offset, Position};
use crate::time::Millis;
use crate::units::{in_metres, in_metres_per_second, in_radians};

/// Most marks of the network.
pub const MOST_HEARD: usize = 32;
/// A target that is not heard for so long is gone.
pub const TARGET_LAPSES_S: f64 = 600.0;
/// The navigator repeats its destination every few seconds; after so long there is none.
const DESTINATION_LAPSES_S: f64 = 60.0;
/// A waypoint that is heard further away than this from where it was has moved.
const MOVED_M: f64 = 5.0;

/// What makes two tellings one mark.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Key {
    Waypoint(String),
    Target(u32),
    PersonInWater,
}

#[derive(Debug, Clone)]
struct Heard {
    key: Key,
    last: Millis,
    mark: Mark,
}

/// Where the boat is and which way it points, as far as that is known.
#[derive(Debug, Clone, Copy, Default)]
pub struct Here {
    /// Position.
    pub position: Option<Position>,
    /// True heading.
    pub heading_rad: Option<f64>,
}

/// Follows what the network tells.
#[derive(Debug, Clone, Default)]
pub struct HeardMarks {
    heard: Vec<Heard>,
    destination: Option<(String, Millis)>,
    last_number: u32,
}

impl HeardMarks {
    /// Whether an observation can be of a mark.
    #[must_use]
    pub fn is_of_mark(observation: &Observation) -> bool {
        matches!(
            observation,
            Observation::Waypoint { .. }
                | Observation::LegToWaypoint(_)
                | Observation::BearingToWaypoint(_)
                | Observation::Target(_)
                | Observation::PersonInWater(_)
        )
    }

    /// Takes in one observation.
    pub fn observe(&mut self, at: Millis, here: Here, observation: &Observation) {
        match observation {
            Observation::Waypoint { name, position } => {
                self.waypoint(at, name, Position::from(*position));
            }
            Observation::LegToWaypoint(leg) => {
                let place = leg.destination_position.map(Position::from);
                self.destination(at, leg.destination.as_deref(), place);
            }
            Observation::BearingToWaypoint(to) => {
                self.destination(at, to.name.as_deref(), to.position.map(Position::from));
            }
            Observation::Target(target) => self.target(at, here, target),
            Observation::PersonInWater(position) => {
                let position = Position::from(*position);
                let source = MarkSource::PersonInWater;
                self.place(at, Key::PersonInWater, Some("MOB"), source, position, None);
            }
            _ => {}
        }
    }

    /// The marks at this moment, the nearest in number first.
    #[must_use]
    pub fn now(&self, at: Millis) -> Vec<Mark> {
        let destination = self.destination_now(at);
        let living = self.heard.iter().filter(|heard| !heard.lapsed(at));
        living
            .map(|heard| {
                let mut mark = heard.mark.clone();
                let leads_here =
                    matches!(&heard.key, Key::Waypoint(name) if Some(name.as_str()) == destination);
                if leads_here && mark.source == MarkSource::Waypoint {
                    mark.source = MarkSource::Destination;
                }
                mark
            })
            .collect()
    }

    fn destination_now(&self, at: Millis) -> Option<&str> {
        self.destination
            .as_ref()
            .filter(|(_, heard)| at.seconds_since(*heard) <= DESTINATION_LAPSES_S)
            .map(|(name, _)| name.as_str())
    }

    fn destination(&mut self, at: Millis, name: Option<&str>, place: Option<Position>) {
        let Some(name) = name else {
            return;
        };
        self.destination = Some((name.to_owned(), at));
        if let Some(place) = place {
            self.waypoint(at, name, place);
        }
    }

    fn waypoint(&mut self, at: Millis, name: &str, position: Position) {
        let source = if names_person(name) {
            MarkSource::PersonInWater
        } else {
            MarkSource::Waypoint
        };
        let key = Key::Waypoint(name.to_owned());
        self.place(at, key, Some(name), source, position, None);
    }

    fn target(&mut self, at: Millis, here: Here, target: &Target) {
        let key = Key::Target(target.number);
        let Some(place) = target.place else {
            self.heard.retain(|heard| heard.key != key);
            return;
        };
        let position = match place {
            TargetPlace::At(position) => Some(Position::from(position)),
            TargetPlace::FromHere { distance, bearing } => {
                let bearing_rad = match bearing {
                    TargetBearing::True(angle) => Some(in_radians(angle)),
                    TargetBearing::OffBow(angle) => {
                        here.heading_rad.map(|heading| heading + in_radians(angle))
                    }
                };
                bearing_rad.zip(here.position).and_then(|(bearing, boat)| {
                    boat.moved(Offset::polar(bearing, in_metres(distance))).ok()
                })
            }
        };
        let Some(position) = position else {
            return;
        };
        let range_m = here
            .position
            .and_then(|boat| boat.way_to(position).ok())
            .map_or(0.0, Offset::range_m);
        let name = target.name.as_deref();
        self.place(
            at,
            key.clone(),
            name,
            MarkSource::Target,
            position,
            Some(range_m),
        );
        if let Some(heard) = self.heard.iter_mut().find(|heard| heard.key == key) {
            // TLL tells no motion: what TTM told stands.
            if let Some((course, speed)) = target.motion {
                heard.mark.drift = Some(MarkDrift {
                    set_rad: in_radians(course),
                    drift_mps: in_metres_per_second(speed),
                });
            }
        }
    }

    fn place(
        &mut self,
        at: Millis,
        key: Key,
        name: Option<&str>,
        source: MarkSource,
        position: Position,
        followed_at_m: Option<f64>,
    ) {
        let Ok(position) = position.usable() else {
            return;
        };
        let sigma0_m = sigma_heard_m(source, followed_at_m.unwrap_or_default());
        if let Some(heard) = self.heard.iter_mut().find(|heard| heard.key == key) {
            if heard.lapsed(at) {
                heard.mark.at = at;
                heard.mark.drift = None;
            }
            heard.last = at;
            let mark = &mut heard.mark;
            if let Some(name) = name.and_then(shown_name) {
                mark.name = Some(name);
            }
            let stays = |was: Position| {
                was.way_to(position)
                    .is_ok_and(|way| way.range_m() <= MOVED_M)
            };
            if followed_at_m.is_some() || !mark.position.is_some_and(stays) {
                if followed_at_m.is_none() {
                    mark.at = at;
                }
                mark.as_of = at;
                mark.position = Some(position);
                mark.sigma0_m = sigma0_m;
            }
            return;
        }
        self.make_room(at);
        let number = self.next_number();
        let mark = Mark {
            number,
            name: name.and_then(shown_name),
            source,
            at,
            as_of: at,
            position: Some(position),
            drift: None,
            sigma0_m,
        };
        self.heard.push(Heard {
            key,
            last: at,
            mark,
        });
    }

    fn make_room(&mut self, at: Millis) {
        self.heard.retain(|heard| !heard.lapsed(at));
        if self.heard.len() < MOST_HEARD {
            return;
        }
        let destination = self.destination_now(at).map(str::to_owned);
        let wanted = |heard: &Heard| {
            let leads_here =
                matches!(&heard.key, Key::Waypoint(name) if Some(name) == destination.as_ref());
            let person = heard.mark.source == MarkSource::PersonInWater;
            (u8::from(leads_here) + 2 * u8::from(person), heard.last)
        };
        let least = (0..self.heard.len()).min_by_key(|i| wanted(&self.heard[*i]));
        if let Some(least) = least {
            self.heard.remove(least);
        }
    }

    /// The next number that no other has.
    fn next_number(&mut self) -> u32 {
        loop {
            self.last_number = if (LAST_OF_CREW + 1..LAST_OF_NETWORK).contains(&self.last_number) {
                self.last_number + 1
            } else {
                LAST_OF_CREW + 1
            };
            let taken = |heard: &Heard| heard.mark.number == self.last_number;
            if !self.heard.iter().any(taken) {
                return self.last_number;
            }
        }
    }
}

impl Heard {
    fn lapsed(&self, at: Millis) -> bool {
        matches!(self.key, Key::Target(_)) && at.seconds_since(self.last) > TARGET_LAPSES_S
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decode::{Decoder, GeoPosition};
    use crate::units::degrees;

    fn s(t: f64) -> Millis {
        Millis(0).plus_seconds(t)
    }

    fn here() -> Here {
        Here {
            position: Some(Position {
                latitude_deg: 45.0,
                longitude_deg: 12.0,
            }),
            heading_rad: Some(90_f64.to_radians()),
        }
    }

    fn hear(marks: &mut HeardMarks, at_s: f64, sentence: &str) {
        for observation in Decoder::new().decode(sentence).unwrap().observations {
            assert!(HeardMarks::is_of_mark(&observation));
            marks.observe(s(at_s), here(), &observation);
        }
    }

    fn way(mark: &Mark, at_s: f64) -> (f64, f64) {
        let way = mark
            .from_boat(s(at_s), here().position.unwrap())
            .unwrap()
            .way;
        (way.bearing_rad().to_degrees(), way.range_m())
    }

    #[test]
    fn a_target_is_placed_from_the_own_ship_and_moves() {
        let mut marks = HeardMarks::default();
        // Half a mile, 45 degrees off the bow of a boat that heads east; no true course.
        hear(
            &mut marks,
            0.0,
            "$RATTM,07,0.50,45.0,R,2.0,10.0,R,0.1,0.5,N,BIRDS,T",
        );
        let mark = marks.now(s(0.0))[0].clone();
        let (bearing, range) = way(&mark, 0.0);
        assert!((bearing - 135.0).abs() < 1e-6 && (range - 926.0).abs() < 1e-3);
        assert_eq!((mark.name.as_deref(), mark.drift), (Some("BIRDS"), None));
        assert_eq!((mark.number, mark.source), (1000, MarkSource::Target));
        // The same target, now by true bearing and in kilometres, moving north at 3.6 km/h.
        hear(&mut marks, 10.0, "$RATTM,07,1.0,90.0,T,3.6,0.0,T,,,K,,T");
        let mark = marks.now(s(10.0))[0].clone();
        let (bearing, range) = way(&mark, 110.0);
        assert!((range - (1e6_f64 + 1e4).sqrt()).abs() < 0.1, "{range}");
        assert!((bearing - (90.0 - (0.1_f64).atan().to_degrees())).abs() < 1e-3);
        assert_eq!((mark.at, mark.as_of), (s(0.0), s(10.0)));
        assert!((mark.sigma0_m - 30.0_f64.hypot(12.0)).abs() < 1e-6);
        hear(&mut marks, 20.0, "$RATTM,07,1.0,90.0,T,,,,,,K,,L");
        assert!(marks.now(s(20.0)).is_empty(), "lost");
    }

    #[test]
    fn a_target_that_nobody_speaks_of_lapses() {
        let mut marks = HeardMarks::default();
        hear(&mut marks, 0.0, "$RATLL,03,4500.500,N,01200.000,E,FISH,,T,");
        assert_eq!(marks.now(s(TARGET_LAPSES_S)).len(), 1);
        assert!(marks.now(s(TARGET_LAPSES_S + 0.1)).is_empty());
    }

    #[test]
    fn where_the_navigator_leads_is_the_destination_while_it_says_so() {
        let mut marks = HeardMarks::default();
        hear(&mut marks, 0.0, "$GPWPL,4501.000,N,01200.000,E,REEF");
        hear(&mut marks, 0.0, "$GPWPL,4502.000,N,01200.000,E,HOME");
        let rmb = "$GPRMB,A,0.00,R,,REEF,4501.000,N,01200.000,E,001.0,000.0,5.0,V,A";
        hear(&mut marks, 5.0, rmb);
        let sources = |marks: &HeardMarks, t| -> Vec<MarkSource> {
            marks.now(s(t)).iter().map(|mark| mark.source).collect()
        };
        assert_eq!(
            sources(&marks, 6.0),
            [MarkSource::Destination, MarkSource::Waypoint]
        );
        assert_eq!(sources(&marks, 66.0), [MarkSource::Waypoint; 2]);
    }

    #[test]
    fn a_person_in_the_water_is_no_place_to_fish() {
        let mut marks = HeardMarks::default();
        hear(&mut marks, 0.0, "$GPWPL,4501.000,N,01200.000,E,MOB 1");
        let mob = "$AIMOB,12345,A,101500.00,1,270526,101500.00,4500.100,N,01200.000,E,,,,";
        hear(&mut marks, 0.0, mob);
        let now = marks.now(s(0.0));
        assert_eq!(now.len(), 2);
        assert!(now.iter().all(|mark| !mark.is_to_fish()));
    }

    #[test]
    fn the_last_heard_stay_and_the_destination_and_a_person_before_them() {
        let mut marks = HeardMarks::default();
        let tell = |marks: &mut HeardMarks, t: f64, name: &str, latitude: f64| {
            let position = GeoPosition {
                latitude: degrees(latitude),
                longitude: degrees(12.0),
            };
            let name = name.to_owned();
            marks.observe(s(t), here(), &Observation::Waypoint { name, position });
        };
        tell(&mut marks, 0.0, "MOB", 45.0);
        tell(&mut marks, 0.0, "REEF", 45.0);
        let rmb = "$GPRMB,A,0.00,R,,REEF,4500.000,N,01200.000,E,001.0,000.0,5.0,V,A";
        hear(&mut marks, 0.0, rmb);
        for i in 0..5000 {
            tell(&mut marks, 0.001 * f64::from(i), &format!("W{i}"), 44.0);
        }
        let now = marks.now(s(5.0));
        assert_eq!(now.len(), MOST_HEARD);
        let names: Vec<_> = now.iter().filter_map(|mark| mark.name.as_deref()).collect();
        assert!(names.contains(&"MOB") && names.contains(&"REEF") && names.contains(&"W4999"));
        let mut numbers: Vec<u32> = now.iter().map(|mark| mark.number).collect();
        numbers.sort_unstable();
        numbers.dedup();
        assert_eq!(numbers.len(), MOST_HEARD, "no number twice");
        assert!(numbers.iter().all(|n| (1000..=LAST_OF_NETWORK).contains(n)));
        // Heard elsewhere it has moved; at a pole it is not believed.
        tell(&mut marks, 100.0, "REEF", 45.1);
        tell(&mut marks, 101.0, "REEF", 89.5);
        let reef = marks
            .now(s(101.0))
            .into_iter()
            .find(|m| m.name.as_deref() == Some("REEF"));
        let reef = reef.unwrap();
        assert_eq!(
            (reef.at, reef.position.unwrap().latitude_deg),
            (s(100.0), 45.1)
        );
    }
}
