//! Ranks what is known of a coming turn and makes one heading profile of it.

use super::TurnSettings;
use super::crew::{CrewWatch, near};
use super::intent::{Intent, TurnSource};
use super::pilot::{Bow, PilotWatch};
use super::profile::{Extent, HeadingProfile, TurnCommand, TurnDoubt};
use super::route::RouteWatch;
use super::yaw::YawWatch;
use crate::decode::Observation;
use crate::time::Millis;
use crate::vessel::{DeckNow, VesselNow};

/// Scale of the logarithm of turn sizes seen only under way: half of all turns lie within
/// 0.68 and 1.47 times the usual one. Invented, typical.
const SIZE_LOG_SCALE: f64 = 0.35;

/// What is left of a turn that is steadying and smaller than this needs no word.
const LEAST_LEFT_RAD: f64 = 0.1;

/// What is coming.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// The heading to reckon with; `None` when no heading is known.
    pub profile: Option<HeadingProfile>,
    /// The intent the profile was made from; `None` on a straight course.
    pub ahead: Option<Intent>,
    /// All intents, best first.
    pub intents: Vec<Intent>,
    /// Whether the bow is turning now (not merely yawing).
    pub turning: bool,
}

/// Watches everything that tells of a turn.
#[derive(Debug, Clone, Default)]
pub struct TurnWatch {
    settings: TurnSettings,
    crew: CrewWatch,
    pilot: PilotWatch,
    route: RouteWatch,
    yaw: YawWatch,
}

impl TurnWatch {
    /// Knows nothing yet.
    #[must_use]
    pub fn new(settings: TurnSettings) -> Self {
        Self {
            settings,
            ..Self::default()
        }
    }

    /// As fishing starts anew: nothing is known of what comes, but how this boat turns stays.
    #[must_use]
    pub fn next_session(&self, settings: TurnSettings) -> Self {
        Self {
            settings,
            yaw: self.yaw.habits(),
            ..Self::default()
        }
    }

    /// Takes in one observation of route, autopilot or steering; others are ignored.
    pub fn observe(&mut self, at: Millis, observation: &Observation) {
        self.pilot.observe(at, observation);
        self.route.observe(at, observation);
    }

    /// What is coming, as of `at`. To be called about once a second, in order of time: it also
    /// follows the bow.
    pub fn outlook(&mut self, at: Millis, vessel: &VesselNow, deck: &DeckNow) -> Outlook {
        let settings = self.settings;
        self.yaw.follow(vessel, &settings);
        let Some(heading) = vessel.heading_true_rad.as_ref().map(|r| r.value) else {
            return Outlook {
                profile: None,
                ahead: None,
                intents: Vec::new(),
                turning: false,
            };
        };
        let variation = vessel.variation_rad.as_ref().map(|r| r.value);
        let course = vessel.course_true_rad.as_ref().map_or(heading, |r| r.value);
        let over_ground = vessel.speed_ground_mps.as_ref().map(|r| r.value);
        let water = vessel.speed_water_mps.as_ref().map(|r| r.value);
        self.crew.follow(at, deck.intended_turn, &self.yaw);
        self.pilot.follow(at, heading, variation);
        self.route.follow(at, course, &settings);

        let turning = self.yaw.turning.is_some();
        let usual_rate = self.yaw.usual_rate_rad_s(&settings);
        let bow = Bow {
            heading_rad: heading,
            variation_rad: variation,
            speed_mps: water,
            turning,
            usual_rate_rad_s: usual_rate,
        };
        let mut intents: Vec<Intent> = [
            self.crew.intent(at, &self.yaw, &settings),
            self.pilot.intent(at, &bow, &settings),
            self.route
                .intent(at, course, over_ground, turning, usual_rate, &settings),
            self.under_way(at),
        ]
        .into_iter()
        .flatten()
        .collect();
        self.put_first_what_is_happening(&mut intents);

        let ahead = intents.first().cloned();
        let profile = HeadingProfile {
            heading_rad: heading,
            yaw_rate_rad_s: if turning { self.yaw.rate_rad_s } else { 0.0 },
            yaw_time_constant_s: self.yaw.time_constant_s(&settings),
            turn: ahead.as_ref().map(|intent| TurnCommand {
                start_s: intent.starts_in_s.max(0.0),
                by_rad: intent.by_rad,
                rate_rad_s: intent.rate_rad_s,
            }),
            doubt: ahead.as_ref().map(|intent| intent.doubt),
        };
        Outlook {
            profile: Some(profile),
            ahead,
            intents,
            turning,
        }
    }

    /// Nomoto's T in use.
    #[must_use]
    pub fn yaw_time_constant_s(&self) -> f64 {
        self.yaw.time_constant_s(&self.settings)
    }

    fn under_way(&self, at: Millis) -> Option<Intent> {
        let turning = self
            .yaw
            .turning
            .filter(|_| !self.crew.steadies(&self.yaw))?;
        let so_far = turning.turned_rad.abs();
        let still = self.yaw.rate_rad_s.abs() * self.yaw.time_constant_s(&self.settings);
        let starts_in_s = turning.begun.seconds_since(at);
        if turning.ending {
            if still < LEAST_LEFT_RAD {
                return None;
            }
            return Some(Intent {
                source: TurnSource::UnderWay,
                starts_in_s,
                by_rad: still.copysign(turning.turned_rad),
                rate_rad_s: self.yaw.rate_rad_s.abs().max(0.01),
                doubt: TurnDoubt {
                    chance: 1.0,
                    start_sd_s: 0.0,
                    extent: Extent::Said {
                        sd_rad: (0.5 * still).max(0.05),
                    },
                    rate_sd_share: 0.2,
                },
                why: "seen under way, steadying".to_owned(),
            });
        }
        let usual = self.yaw.usual_turn_rad(&self.settings);
        let extent = Extent::Open {
            turned_rad: so_far,
            median_rad: usual,
            log_scale: SIZE_LOG_SCALE,
        };
        let doubt = TurnDoubt {
            chance: 1.0,
            start_sd_s: 0.0,
            extent,
            rate_sd_share: 0.25,
        };
        let whole = median_given(so_far + still, usual);
        Some(Intent {
            source: TurnSource::UnderWay,
            starts_in_s,
            by_rad: (whole - so_far).copysign(turning.turned_rad),
            rate_rad_s: self.yaw.commanded_rate_rad_s(at, &self.settings),
            doubt,
            why: "seen under way; how far it goes nobody has said".to_owned(),
        })
    }

    /// Crew, autopilot, route, under way: in that order, unless the bow already turns and the
    /// better-known turn is not this one (it is still to come, or goes the other way).
    fn put_first_what_is_happening(&self, intents: &mut [Intent]) {
        let (Some(first), Some(last)) = (intents.first(), intents.last()) else {
            return;
        };
        if last.source != TurnSource::UnderWay || intents.len() < 2 || self.crew.owns(&self.yaw) {
            return;
        }
        let way = last.by_rad;
        let same_turn = first.by_rad * way > 0.0
            && (first.starts_in_s <= 5.0
                || near(first.by_rad, last.by_rad, 0.3) && first.starts_in_s < 20.0);
        if !same_turn {
            intents.rotate_right(1);
        }
    }
}

/// Median of the whole turn given that it goes at least so far.
fn median_given(at_least_rad: f64, usual_rad: f64) -> f64 {
    let x = (at_least_rad / usual_rad).max(1e-6);
    let below = 1.0 / (1.0 + (-x.ln() / SIZE_LOG_SCALE).exp());
    let u = below + 0.5 * (1.0 - below);
    usual_rad * super::profile::log_logistic_quantile(u.min(1.0 - 1e-9), SIZE_LOG_SCALE)
}
