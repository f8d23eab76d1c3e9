//! Heading and track control (HSC, HTC, HTD, APB): a *change* of the demanded heading is a turn.
//!
//! A mere difference between demand and heading is not a turn: leeway, a compass error or a pilot
//! on stand-by cause it permanently. Nor is a change that the boat contradicts: when it has not begun to
//! follow in time, or has turned the other way, the pilot is not steering and the change is dropped
//! until there is another one.

use std::collections::BTreeMap;

use super::TurnSettings;
use super::intent::{Intent, TurnSource};
use super::profile::{Extent, TurnDoubt};
use crate::angles::wrap_signed;
use crate::decode::{Direction, North, Observation, SteeringControl, SteeringMode, TurnMode};
use crate::time::Millis;
use crate::units::{in_metres, in_radians, in_radians_per_second};

/// Smaller changes are the pilot's own trimming.
const LEAST_CHANGE_RAD: f64 = 0.10;
/// A pilot that has not turned the boat this long after a new demand is not steering.
const ANSWER_S: f64 = 25.0;
/// The boat has begun to answer when it has come nearer to the demand by so much, and contradicts when
/// it has gone further off by so much (invented: more than a sea makes it yaw).
const ANSWERS_RAD: f64 = 0.09;
const AWAY_RAD: f64 = 0.26;
/// Chance of a demanded turn while the boat turns the other way.
const OTHER_WAY: f64 = 0.3;
/// A change is over after so long in any case, seconds.
const LONGEST_S: f64 = 90.0;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Who {
    /// HTD, HTC: state whether they steer.
    Control,
    /// HSC.
    Commanded,
    /// APB: sent whether or not anybody follows it.
    Navigator,
}

#[derive(Debug, Clone)]
struct Demand {
    heard: Millis,
    heading_rad: f64,
    north: North,
    changed: Option<Change>,
    /// How long the boat followed it before it changed.
    followed_s: f64,
    steers: Option<bool>,
    rate_rad_s: Option<f64>,
    radius_m: Option<f64>,
}

/// A new demand that the boat has not reached.
#[derive(Debug, Clone, Copy)]
pub(super) struct Change {
    at: Millis,
    /// How far off the boat was when it was first compared.
    off_rad: Option<f64>,
    answered: bool,
}

/// How the boat takes a change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Taken {
    /// Too early to tell, or on its way.
    Open,
    /// It has not begun to turn in time, or turns away.
    Contradicted,
}

impl Change {
    pub fn new(at: Millis) -> Self {
        Self {
            at,
            off_rad: None,
            answered: false,
        }
    }

    /// Compares the boat, now so far off, with the change; it must answer within `answer_s`.
    pub fn follow(&mut self, at: Millis, off_rad: f64, answer_s: f64) -> Taken {
        let first = *self.off_rad.get_or_insert(off_rad.abs());
        let nearer = first - off_rad.abs();
        self.answered |= nearer > ANSWERS_RAD;
        let late = !self.answered && at.seconds_since(self.at) > answer_s;
        if late || nearer < -AWAY_RAD {
            Taken::Contradicted
        } else {
            Taken::Open
        }
    }

    /// What is left of it to turn, as the side to which the boat turns shows it. `untouched` says how
    /// likely it is while she does not turn, and how uncertain its start; she must within `answer_s`.
    pub fn left(
        self,
        at: Millis,
        by_rad: f64,
        turning: Option<f64>,
        answer_s: f64,
        untouched: (f64, f64),
    ) -> Option<Left> {
        let since_s = at.seconds_since(self.at);
        if since_s > LONGEST_S {
            return None;
        }
        let (chance, start_sd_s) = untouched;
        let (starts_in_s, chance, start_sd_s) = match turning {
            Some(side) if side * by_rad > 0.0 => (-since_s, 1.0, 0.0),
            Some(_) => (0.0, OTHER_WAY * chance, start_sd_s),
            None if since_s > answer_s => return None,
            None => (0.0, chance, start_sd_s),
        };
        Some(Left {
            starts_in_s,
            chance,
            start_sd_s,
        })
    }
}

/// When a demanded turn begins, negative when it has, and how sure that is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Left {
    pub starts_in_s: f64,
    pub chance: f64,
    pub start_sd_s: f64,
}

/// What the boat does while a demand stands.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bow {
    pub heading_rad: f64,
    pub variation_rad: Option<f64>,
    pub speed_mps: Option<f64>,
    /// The side to which it turns, + 1 is starboard.
    pub turning: Option<f64>,
    pub usual_rate_rad_s: f64,
}

/// Watches the demands.
#[derive(Debug, Clone, Default)]
pub(super) struct PilotWatch {
    demands: BTreeMap<Who, Demand>,
    last_tick: Option<Millis>,
}

impl PilotWatch {
    /// Takes in one observation and says whether it was a demand; anything else is ignored.
    pub fn observe(&mut self, at: Millis, observation: &Observation) -> bool {
        match observation {
            Observation::HeadingToSteer {
                true_north,
                magnetic,
            } => {
                let demand = true_north
                    .map(|angle| (angle, North::True))
                    .or(magnetic.map(|angle| (angle, North::Magnetic)));
                if let Some((angle, north)) = demand {
                    self.demand(at, Who::Commanded, Direction { angle, north });
                }
            }
            Observation::SteeringControl(control) => self.control(at, control),
            Observation::Autopilot(demand) => {
                if let Some(direction) = demand.heading_to_steer {
                    self.demand(at, Who::Navigator, direction);
                }
            }
            _ => return false,
        }
        true
    }

    fn control(&mut self, at: Millis, control: &SteeringControl) {
        let Some(direction) = control.heading_to_steer.or(control.track) else {
            return;
        };
        self.demand(at, Who::Control, direction);
        if let Some(demand) = self.demands.get_mut(&Who::Control) {
            let by_hand = matches!(
                control.steering_mode,
                Some(SteeringMode::Manual | SteeringMode::RudderControl)
            ) || control.override_active == Some(true);
            demand.steers = control
                .steering_mode
                .map(|_| !by_hand)
                .or(control.override_active.map(|over| !over));
            demand.rate_rad_s = control
                .turn_rate
                .filter(|_| control.turn_mode != Some(TurnMode::Radius))
                .map(|rate| in_radians_per_second(rate).abs())
                .filter(|rate| *rate > 1e-3);
            demand.radius_m = control
                .turn_radius
                .map(|radius| in_metres(radius).abs())
                .filter(|radius| *radius > 1.0);
        }
    }

    fn demand(&mut self, at: Millis, who: Who, direction: Direction) {
        let heading_rad = in_radians(direction.angle);
        match self.demands.get_mut(&who) {
            Some(demand)
                if demand.north == direction.north && at.seconds_since(demand.heard) < 60.0 =>
            {
                if wrap_signed(heading_rad - demand.heading_rad).abs() > LEAST_CHANGE_RAD {
                    demand.changed = Some(Change::new(at));
                }
                demand.heading_rad = heading_rad;
                demand.heard = at;
            }
            _ => {
                self.demands.insert(
                    who,
                    Demand {
                        heard: at,
                        heading_rad,
                        north: direction.north,
                        changed: None,
                        followed_s: 0.0,
                        steers: None,
                        rate_rad_s: None,
                        radius_m: None,
                    },
                );
            }
        }
    }

    /// Tracks whether the boat follows the demand, so that an ignored demand can be told from a
    /// followed one.
    pub fn follow(&mut self, at: Millis, heading_true_rad: f64, variation_rad: Option<f64>) {
        let dt = self
            .last_tick
            .map_or(0.0, |last| at.seconds_since(last).clamp(0.0, 5.0));
        self.last_tick = Some(at);
        for demand in self.demands.values_mut() {
            let Some(wanted) = demand.true_rad(variation_rad) else {
                continue;
            };
            let off = wrap_signed(wanted - heading_true_rad).abs();
            let Some(change) = &mut demand.changed else {
                let step = if off < 0.26 { dt } else { -3.0 * dt };
                demand.followed_s = (demand.followed_s + step).clamp(0.0, 60.0);
                continue;
            };
            if off < 0.07 {
                demand.changed = None;
            } else if change.follow(at, off, ANSWER_S) == Taken::Contradicted {
                demand.changed = None;
                demand.followed_s = 0.0;
            }
        }
    }

    /// The turn the best demand asks for.
    pub fn intent(&self, at: Millis, bow: &Bow, settings: &TurnSettings) -> Option<Intent> {
        let Bow {
            heading_rad: heading_true_rad,
            variation_rad,
            speed_mps,
            turning,
            usual_rate_rad_s,
        } = *bow;
        self.demands.iter().find_map(|(who, demand)| {
            if at.seconds_since(demand.heard) > settings.stale_s || demand.steers == Some(false) {
                return None;
            }
            let change = demand.changed?;
            let by_rad = wrap_signed(demand.true_rad(variation_rad)? - heading_true_rad);
            if by_rad.abs() < LEAST_CHANGE_RAD {
                return None;
            }
            let chance = match who {
                Who::Control if demand.steers == Some(true) => 0.97,
                Who::Control | Who::Commanded if demand.followed_s > 10.0 => 0.95,
                Who::Control | Who::Commanded => 0.7,
                Who::Navigator if demand.followed_s > 20.0 => 0.8,
                Who::Navigator => return None,
            };
            let left = change.left(at, by_rad, turning, ANSWER_S, (chance, 1.5))?;
            let from_radius = demand
                .radius_m
                .zip(speed_mps)
                .map(|(radius, speed)| speed / radius)
                .filter(|rate| *rate > 1e-3);
            let rate_rad_s = demand
                .rate_rad_s
                .or(from_radius)
                .unwrap_or(usual_rate_rad_s);
            Some(Intent {
                source: TurnSource::Autopilot,
                starts_in_s: left.starts_in_s,
                by_rad,
                rate_rad_s,
                doubt: TurnDoubt {
                    chance: left.chance,
                    start_sd_s: left.start_sd_s,
                    extent: Extent::Said { sd_rad: 0.05 },
                    rate_sd_share: if demand.rate_rad_s.is_some() {
                        0.1
                    } else {
                        0.3
                    },
                },
                why: match who {
                    Who::Control | Who::Commanded => "the autopilot has a new heading".to_owned(),
                    Who::Navigator => "the navigator asks for a new heading".to_owned(),
                },
            })
        })
    }
}

impl Demand {
    fn true_rad(&self, variation_rad: Option<f64>) -> Option<f64> {
        match self.north {
            North::True => Some(self.heading_rad),
            North::Magnetic => variation_rad.map(|variation| self.heading_rad + variation),
        }
    }
}
