//! Routes: RTE, which spreads one list of names over several sentences.
//!
//! | kind | fields |
//! |---|---|
//! | RTE | how many sentences; which one, from 1; `c` complete or `w` working; route name; waypoint names... |
//!
//! Parts must arrive in order. A part of the same route (talker, scope, name) that is not the next
//! one discards the unfinished list; part 1 begins a new one. Memory is bounded: a few unfinished
//! routes with a limited number of names each. Source: E. S. Raymond, *NMEA Revealed*, 2025.

use super::fields::Fields;
use super::observation::{Route, RouteScope};
use super::outcome::DecodeReject;
use super::talker::Talker;

const MAX_UNFINISHED: usize = 4;
const MAX_PARTS: u32 = 99;
const MAX_NAMES: usize = 1000;

/// What one part of a route led to.
#[derive(Debug)]
pub(super) enum RoutePart {
    /// The last part: the whole route.
    Whole(Route),
    /// Other parts are missing.
    Unfinished,
    /// A route without waypoints.
    Empty,
}

/// The unfinished routes of one feed.
#[derive(Debug, Default)]
pub(super) struct RouteAssembly {
    unfinished: Vec<Unfinished>,
}

#[derive(Debug)]
struct Unfinished {
    talker: Talker,
    total: u32,
    received: u32,
    route: Route,
}

impl RouteAssembly {
    pub(super) fn take(&mut self, fields: &Fields<'_>) -> Result<RoutePart, DecodeReject> {
        let count = |index, field| match fields.integer(index, field, MAX_PARTS)? {
            Some(value) if value >= 1 => Ok(value),
            _ => Err(DecodeReject::OutOfRange {
                kind: fields.kind,
                field,
                found: fields.text(index).to_owned(),
                allowed: "1 to 99",
            }),
        };
        let total = count(0, "number of sentences")?;
        let number = count(1, "sentence number")?;
        if number > total {
            return Err(DecodeReject::Inconsistent {
                kind: fields.kind,
                fields: "number of sentences and sentence number",
            });
        }
        let scope = match fields.letter(2, "scope", "cw")? {
            Some('c') => RouteScope::Complete,
            Some(_) => RouteScope::Working,
            None => return Err(fields.malformed("scope", fields.text(2))),
        };
        let id = fields.name(3, "route name")?;
        let mut names = Vec::new();
        for index in 4..fields.count() {
            names.extend(fields.name(index, "waypoint name")?);
        }

        let known = self
            .unfinished
            .iter()
            .position(|u| u.talker == fields.talker && u.route.id == id && u.route.scope == scope)
            .map(|at| self.unfinished.remove(at));
        let mut current = match known {
            Some(known) if known.total == total && known.received + 1 == number => known,
            _ if number == 1 => Unfinished {
                talker: fields.talker,
                total,
                received: 0,
                route: Route {
                    id,
                    scope,
                    waypoints: Vec::new(),
                },
            },
            _ => return Ok(RoutePart::Unfinished),
        };
        current.received = number;
        current.route.waypoints.extend(names);
        if current.route.waypoints.len() > MAX_NAMES {
            return Err(DecodeReject::OutOfRange {
                kind: fields.kind,
                field: "waypoint names",
                found: current.route.waypoints.len().to_string(),
                allowed: "up to 1000 names in a route",
            });
        }
        if number < total {
            if self.unfinished.len() == MAX_UNFINISHED {
                self.unfinished.remove(0);
            }
            self.unfinished.push(current);
            return Ok(RoutePart::Unfinished);
        }
        if current.route.waypoints.is_empty() {
            return Ok(RoutePart::Empty);
        }
        Ok(RoutePart::Whole(current.route))
    }
}

#[cfg(test)]
mod tests {
    use super::super::cut::Cut;
    use super::*;

    fn part(assembly: &mut RouteAssembly, data: &str) -> RoutePart {
        let talker = Talker::new("GP").unwrap();
        let sentence = format!("$GPRTE,{data}");
        let cut = Cut::new(&sentence).unwrap();
        let fields = Fields::new(talker, "RTE", cut, (4, usize::MAX)).unwrap();
        assembly.take(&fields).unwrap()
    }

    #[test]
    fn parts_out_of_order_give_no_route() {
        let mut assembly = RouteAssembly::default();
        assert!(matches!(
            part(&mut assembly, "3,1,c,R,A,B"),
            RoutePart::Unfinished
        ));
        assert!(matches!(
            part(&mut assembly, "3,3,c,R,E"),
            RoutePart::Unfinished
        ));
        assert!(matches!(
            part(&mut assembly, "3,2,c,R,C"),
            RoutePart::Unfinished
        ));
        assert!(assembly.unfinished.is_empty());
    }

    #[test]
    fn two_routes_may_alternate() {
        let mut assembly = RouteAssembly::default();
        part(&mut assembly, "2,1,c,R,A,B");
        part(&mut assembly, "2,1,w,R,B");
        let RoutePart::Whole(complete) = part(&mut assembly, "2,2,c,R,C") else {
            panic!("not whole");
        };
        assert_eq!(complete.waypoints, ["A", "B", "C"]);
        let RoutePart::Whole(working) = part(&mut assembly, "2,2,w,R,C") else {
            panic!("not whole");
        };
        assert_eq!(working.waypoints, ["B", "C"]);
        assert!(assembly.unfinished.is_empty());
    }

    #[test]
    fn memory_stays_bounded() {
        let mut assembly = RouteAssembly::default();
        for route in 0..1000 {
            part(&mut assembly, &format!("99,1,c,{route},A"));
        }
        assert_eq!(assembly.unfinished.len(), MAX_UNFINISHED);
    }
}
