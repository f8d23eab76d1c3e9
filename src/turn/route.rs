//! The route (RMB, BWC, BOD, XTE, RTE, WPL): when the next waypoint is reached and how much the
//! course changes there.
//!
//! Only while the boat follows it: one that does not take up a new leg in time, turns away from it, has
//! left the waypoint astern or does not come nearer to it is not on the route.

use std::collections::{BTreeMap, BTreeSet};
use std::f64::consts::FRAC_PI_2;

use super::TurnSettings;
use super::intent::{Intent, TurnSource};
use super::pilot::{Change, Taken};
use super::profile::{Extent, TurnDoubt};
use crate::angles::wrap_signed;
use crate::decode::{GeoPosition, Observation};
use crate::geodesy::Position;
use crate::time::Millis;
use crate::units::{in_metres, in_metres_per_second, in_radians};

/// Turns further ahead are ignored.
const AHEAD_S: f64 = 300.0;
/// Course and leg further apart than this: the route is not being followed.
const OFF_LEG_RAD: f64 = 0.45;
/// Nor is it when the boat is further than this off the track.
const OFF_TRACK_M: f64 = 250.0;
/// Most waypoints remembered, more than any day's route has. Those heard longest ago are forgotten
/// first, those of the route last.
const MOST_WAYPOINTS: usize = 1000;
/// Time after the switch to the next leg within which the boat should be turning.
const SWITCH_S: f64 = 30.0;
/// A list of waypoints is of an old day when it has not been heard for so long (invented: networks
/// repeat it within minutes).
const ROUTE_LAPSES_S: f64 = 1800.0;
/// A slower approach is none, m/s.
const APPROACH_MPS: f64 = 0.3;
/// Smaller bends are ignored.
const LEAST_TURN_RAD: f64 = 0.12;

#[derive(Debug, Clone, Copy)]
struct Heard<T> {
    at: Millis,
    value: T,
}

impl<T: Copy> Heard<T> {
    fn fresh(slot: &Option<Self>, at: Millis, stale_s: f64) -> Option<T> {
        slot.as_ref()
            .filter(|heard| at.seconds_since(heard.at) <= stale_s)
            .map(|heard| heard.value)
    }
}

/// A waypoint that was heard of.
#[derive(Debug, Clone, Copy)]
struct Waypoint {
    position: GeoPosition,
    heard: Millis,
    on_route: bool,
}

/// Watches the route.
#[derive(Debug, Clone, Default)]
pub(super) struct RouteWatch {
    destination: Option<String>,
    destination_heard: Option<Millis>,
    switched: Option<Change>,
    range_m: Option<Heard<f64>>,
    closing_mps: Option<Heard<f64>>,
    bearing_rad: Option<Heard<f64>>,
    leg_rad: Option<Heard<f64>>,
    cross_track_m: Option<Heard<f64>>,
    waypoints: BTreeMap<String, Waypoint>,
    names: Vec<String>,
    names_heard: Option<Millis>,
    on_leg_s: f64,
    last_tick: Option<Millis>,
}

impl RouteWatch {
    /// Takes in one observation and says whether it was of the route; anything else is ignored.
    pub fn observe(&mut self, at: Millis, observation: &Observation) -> bool {
        match observation {
            Observation::LegToWaypoint(leg) => {
                self.head_for(at, leg.destination.as_deref());
                if let (Some(name), Some(position)) = (&leg.destination, leg.destination_position) {
                    self.place(at, name, position);
                }
                set(&mut self.range_m, at, leg.range.map(in_metres));
                set(
                    &mut self.closing_mps,
                    at,
                    leg.closing.map(in_metres_per_second),
                );
                set(&mut self.bearing_rad, at, leg.bearing_true.map(in_radians));
                set(&mut self.cross_track_m, at, leg.cross_track.map(in_metres));
            }
            Observation::BearingToWaypoint(to) => {
                self.head_for(at, to.name.as_deref());
                if let (Some(name), Some(position)) = (&to.name, to.position) {
                    self.place(at, name, position);
                }
                set(&mut self.range_m, at, to.distance.map(in_metres));
                set(&mut self.bearing_rad, at, to.bearing_true.map(in_radians));
            }
            Observation::LegBearing(leg) => {
                self.head_for(at, leg.destination.as_deref());
                set(&mut self.leg_rad, at, leg.bearing_true.map(in_radians));
            }
            Observation::CrossTrack(off) => {
                set(&mut self.cross_track_m, at, Some(in_metres(*off)));
            }
            Observation::Waypoint { name, position } => self.place(at, name, *position),
            Observation::Route(route) => {
                self.names_heard = Some(at);
                self.names.clone_from(&route.waypoints);
                let on_route: BTreeSet<&String> = self.names.iter().collect();
                for (name, waypoint) in &mut self.waypoints {
                    waypoint.on_route = on_route.contains(name);
                }
            }
            _ => return false,
        }
        true
    }

    fn place(&mut self, at: Millis, name: &str, position: GeoPosition) {
        if let Some(waypoint) = self.waypoints.get_mut(name) {
            (waypoint.position, waypoint.heard) = (position, at);
            return;
        }
        if self.waypoints.len() >= MOST_WAYPOINTS {
            let least_wanted = self
                .waypoints
                .iter()
                .min_by_key(|(_, waypoint)| (waypoint.on_route, waypoint.heard))
                .map(|(name, _)| name.clone());
            if let Some(name) = least_wanted {
                self.waypoints.remove(&name);
            }
        }
        let waypoint = Waypoint {
            position,
            heard: at,
            on_route: self.names.iter().any(|on_route| on_route == name),
        };
        self.waypoints.insert(name.to_owned(), waypoint);
    }

    fn head_for(&mut self, at: Millis, name: Option<&str>) {
        let Some(name) = name.filter(|name| !name.is_empty()) else {
            return;
        };
        if self.destination.as_deref() != Some(name) {
            if self.destination.is_some() && self.on_leg_s > 20.0 {
                self.switched = Some(Change::new(at));
            }
            self.destination = Some(name.to_owned());
            self.range_m = None;
            self.bearing_rad = None;
            self.leg_rad = None;
            self.cross_track_m = None;
        }
        self.destination_heard = Some(at);
    }

    /// Tracks for how long the boat has followed the leg.
    pub fn follow(&mut self, at: Millis, course_rad: f64, settings: &TurnSettings) {
        let dt = self
            .last_tick
            .map_or(0.0, |last| at.seconds_since(last).clamp(0.0, 5.0));
        self.last_tick = Some(at);
        let leg = self.leg_now(at, settings);
        if let (Some(leg), Some(change)) = (leg, &mut self.switched)
            && change.follow(at, wrap_signed(leg - course_rad), SWITCH_S) == Taken::Contradicted
        {
            self.switched = None;
            self.on_leg_s = 0.0;
        }
        let near = Heard::fresh(&self.cross_track_m, at, settings.stale_s)
            .is_none_or(|off| off.abs() < OFF_TRACK_M);
        match leg {
            Some(leg) if near && wrap_signed(leg - course_rad).abs() < OFF_LEG_RAD => {
                self.on_leg_s = (self.on_leg_s + dt).min(120.0);
                if wrap_signed(leg - course_rad).abs() < LEAST_TURN_RAD {
                    self.switched = None;
                }
            }
            _ if self.switched.is_some() => {}
            _ => self.on_leg_s = (self.on_leg_s - 2.0 * dt).max(0.0),
        }
    }

    fn leg_now(&self, at: Millis, settings: &TurnSettings) -> Option<f64> {
        Heard::fresh(&self.leg_rad, at, settings.stale_s)
            .or_else(|| Heard::fresh(&self.bearing_rad, at, settings.stale_s))
    }

    /// The turn the route asks for.
    pub fn intent(
        &self,
        at: Millis,
        course_rad: f64,
        speed_mps: Option<f64>,
        turning: Option<f64>,
        usual_rate_rad_s: f64,
        settings: &TurnSettings,
    ) -> Option<Intent> {
        let heard = self.destination_heard?;
        if at.seconds_since(heard) > settings.stale_s || self.on_leg_s < 15.0 {
            return None;
        }
        self.switched_leg(at, course_rad, turning, usual_rate_rad_s, settings)
            .or_else(|| self.next_leg(at, course_rad, speed_mps, usual_rate_rad_s, settings))
    }

    /// The network already points to the next waypoint, but the boat has not turned yet.
    fn switched_leg(
        &self,
        at: Millis,
        course_rad: f64,
        turning: Option<f64>,
        usual_rate_rad_s: f64,
        settings: &TurnSettings,
    ) -> Option<Intent> {
        let by_rad = wrap_signed(self.leg_now(at, settings)? - course_rad);
        let change = self.switched?;
        let left = change.left(at, by_rad, turning, SWITCH_S, (0.8, 4.0))?;
        (by_rad.abs() > LEAST_TURN_RAD).then(|| Intent {
            source: TurnSource::Route,
            starts_in_s: left.starts_in_s,
            by_rad,
            rate_rad_s: usual_rate_rad_s,
            doubt: TurnDoubt {
                chance: left.chance,
                start_sd_s: left.start_sd_s,
                extent: Extent::Said { sd_rad: 0.1 },
                rate_sd_share: 0.35,
            },
            why: format!(
                "the route now leads to {}",
                self.destination.as_deref().unwrap_or("the next waypoint")
            ),
        })
    }

    fn next_leg(
        &self,
        at: Millis,
        course_rad: f64,
        speed_mps: Option<f64>,
        usual_rate_rad_s: f64,
        settings: &TurnSettings,
    ) -> Option<Intent> {
        if at.seconds_since(self.names_heard?) > ROUTE_LAPSES_S {
            return None;
        }
        let bearing = Heard::fresh(&self.bearing_rad, at, settings.stale_s);
        if bearing.is_some_and(|bearing| wrap_signed(bearing - course_rad).abs() > FRAC_PI_2) {
            return None;
        }
        let name = self.destination.as_deref()?;
        let here = self.names.iter().position(|n| n == name)?;
        let next = self.names.get(here + 1)?;
        let (from, to) = (self.waypoints.get(name)?, self.waypoints.get(next)?);
        let range = self.range_m.as_ref()?;
        let closing = Heard::fresh(&self.closing_mps, at, settings.stale_s)
            .or(speed_mps)
            .filter(|closing| *closing > APPROACH_MPS)?;
        let age = at.seconds_since(range.at);
        if age > settings.stale_s {
            return None;
        }
        let starts_in_s = (range.value / closing - age).max(0.0);
        let leg = self.leg_now(at, settings)?;
        let course_rad = bearing_rad(from.position, to.position)?;
        let by_rad = wrap_signed(course_rad - leg);
        if starts_in_s > AHEAD_S || by_rad.abs() < LEAST_TURN_RAD {
            return None;
        }
        Some(Intent {
            source: TurnSource::Route,
            starts_in_s,
            by_rad,
            rate_rad_s: usual_rate_rad_s,
            doubt: TurnDoubt {
                chance: 0.75,
                start_sd_s: (0.15 * starts_in_s).max(5.0),
                extent: Extent::Said { sd_rad: 0.1 },
                rate_sd_share: 0.35,
            },
            why: format!("the route turns at {name}"),
        })
    }
}

fn set(slot: &mut Option<Heard<f64>>, at: Millis, value: Option<f64>) {
    if let Some(value) = value.filter(|value| value.is_finite()) {
        *slot = Some(Heard { at, value });
    }
}

/// Waypoints nearer to each other are one place.
const ONE_PLACE_M: f64 = 0.01;

/// Bearing from one waypoint to another. `None` when they are one place or near a pole.
fn bearing_rad(from: GeoPosition, to: GeoPosition) -> Option<f64> {
    let way = Position::from(from).way_to(to.into()).ok()?;
    (way.range_m() > ONE_PLACE_M).then(|| way.bearing_rad())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decode::{Route, RouteScope};
    use crate::units::degrees;

    #[test]
    fn invented_waypoints_do_not_crowd_the_route_out() {
        let mut watch = RouteWatch::default();
        let tell = |watch: &mut RouteWatch, s: f64, name: &str| {
            let position = GeoPosition {
                latitude: degrees(45.0),
                longitude: degrees(12.0),
            };
            let name = name.to_owned();
            watch.observe(
                Millis(0).plus_seconds(s),
                &Observation::Waypoint { name, position },
            );
        };
        tell(&mut watch, 0.0, "HOME");
        tell(&mut watch, 0.0, "REEF");
        let route = Route {
            id: None,
            scope: RouteScope::Complete,
            waypoints: vec!["HOME".to_owned(), "REEF".to_owned()],
        };
        watch.observe(Millis(0), &Observation::Route(route));
        for i in 0..60_000 {
            tell(&mut watch, 1.0 + f64::from(i) * 0.001, &format!("W{i}"));
        }
        assert_eq!(watch.waypoints.len(), MOST_WAYPOINTS);
        assert!(watch.waypoints.contains_key("HOME") && watch.waypoints.contains_key("REEF"));
        assert!(watch.waypoints.contains_key("W59999"), "the latest is kept");
    }
}
