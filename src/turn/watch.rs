//! Ranks the sources of coming turns and merges them into one heading profile.
//!
//! Of intents that describe the same turn the best source counts; turns at other times have their
//! own place in the profile.

use super::TurnSettings;
use super::crew::CrewWatch;
use super::intent::{Intent, TurnSource};
use super::merge::{merged, same_news};
use super::pilot::{Bow, PilotWatch};
use super::profile::{Extent, HeadingProfile, LikelyTurn, TurnCommand, TurnDoubt};
use super::route::RouteWatch;
use super::yaw::YawWatch;
use crate::decode::Observation;
use crate::time::Millis;
use crate::vessel::{DeckNow, VesselNow};

/// Log-logistic scale of the size of turns seen only under way: half of all turns are between 0.68
/// and 1.47 times the usual one. Invented, typical.
const SIZE_LOG_SCALE: f64 = 0.35;

/// A smaller rest of a turn that is steadying is ignored.
const LEAST_LEFT_RAD: f64 = 0.1;

/// What is coming.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// The expected heading; `None` when no heading is known.
    pub profile: Option<HeadingProfile>,
    /// The intents the profile was made from, in the order in which they begin, one for each of
    /// its turns.
    pub turns: Vec<Intent>,
    /// Whether the bow is turning now (not merely yawing).
    pub turning: bool,
}

impl Outlook {
    /// The turn that begins first; `None` on a straight course.
    #[must_use]
    pub fn ahead(&self) -> Option<&Intent> {
        self.turns.first()
    }
}

/// Watches everything that indicates a turn.
#[derive(Debug, Clone, Default)]
pub struct TurnWatch {
    settings: TurnSettings,
    crew: CrewWatch,
    pilot: PilotWatch,
    route: RouteWatch,
    yaw: YawWatch,
    seen: Option<Seen>,
    /// Moment and turns of the last outlook.
    told: Option<(Millis, Vec<Intent>)>,
    news: bool,
}

/// The vessel at the last outlook, as far as intents depend on it.
#[derive(Debug, Clone, Copy)]
struct Seen {
    heading_rad: f64,
    course_rad: f64,
    variation_rad: Option<f64>,
    water_mps: Option<f64>,
    ground_mps: Option<f64>,
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

    /// State for a new session: coming turns are forgotten, the boat's turning behaviour is kept.
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
        let pilot = self.pilot.observe(at, observation);
        let route = self.route.observe(at, observation);
        if !(pilot || route) {
            return;
        }
        if let (Some(seen), Some((then, told))) = (&self.seen, &self.told) {
            self.news = !same_news((*then, told), (at, &self.turns(at, seen)));
        }
    }

    /// Whether observations since the last outlook add, change or remove a turn, which is worth an
    /// outlook at once.
    #[must_use]
    pub fn has_news(&self) -> bool {
        self.news
    }

    /// What is coming, as of `at`. Call it about once a second, in order of time: it also tracks
    /// the heading.
    pub fn outlook(&mut self, at: Millis, vessel: &VesselNow, deck: &DeckNow) -> Outlook {
        let settings = self.settings;
        self.news = false;
        self.yaw.follow(vessel, &settings);
        let Some(heading) = vessel.heading_true_rad.as_ref().map(|r| r.value) else {
            (self.seen, self.told) = (None, None);
            return Outlook {
                profile: None,
                turns: Vec::new(),
                turning: false,
            };
        };
        let seen = Seen {
            heading_rad: heading,
            course_rad: vessel.course_true_rad.as_ref().map_or(heading, |r| r.value),
            variation_rad: vessel.variation_rad.as_ref().map(|r| r.value),
            water_mps: vessel.speed_water_mps.as_ref().map(|r| r.value),
            ground_mps: vessel.speed_ground_mps.as_ref().map(|r| r.value),
        };
        self.crew.follow(at, deck.intended_turn, &self.yaw);
        self.pilot.follow(at, heading, seen.variation_rad);
        self.route.follow(at, seen.course_rad, &settings);

        let turns = self.turns(at, &seen);
        let turning = self.yaw.turning.is_some();
        let profile = HeadingProfile {
            heading_rad: heading,
            yaw_rate_rad_s: if turning { self.yaw.rate_rad_s } else { 0.0 },
            yaw_time_constant_s: self.yaw.time_constant_s(&settings),
            turns: turns.iter().map(likely).collect(),
        };
        self.seen = Some(seen);
        self.told = Some((at, turns.clone()));
        Outlook {
            profile: Some(profile),
            turns,
            turning,
        }
    }

    /// Nomoto's T in use, at the present speed.
    #[must_use]
    pub fn yaw_time_constant_s(&self) -> f64 {
        self.yaw.time_constant_s(&self.settings)
    }

    /// Nomoto's K at the present speed, rate per radian of rudder; `None` until it is estimated.
    #[must_use]
    pub fn yaw_gain_per_s(&self) -> Option<f64> {
        self.yaw.gain_per_s()
    }

    /// The likely turns as of `at`, with the boat as last seen.
    fn turns(&self, at: Millis, seen: &Seen) -> Vec<Intent> {
        let settings = &self.settings;
        let turning = self.yaw.turning.is_some();
        let usual_rate = self.yaw.usual_rate_rad_s(settings);
        let bow = Bow {
            heading_rad: seen.heading_rad,
            variation_rad: seen.variation_rad,
            speed_mps: seen.water_mps,
            turning,
            usual_rate_rad_s: usual_rate,
        };
        let (course, ground) = (seen.course_rad, seen.ground_mps);
        let route = self
            .route
            .intent(at, course, ground, turning, usual_rate, settings);
        let told = [
            self.crew.intent(at, &self.yaw, settings),
            self.pilot.intent(at, &bow, settings),
            route,
        ];
        merged(told.into_iter().flatten().collect(), self.under_way(at))
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
}

fn likely(intent: &Intent) -> LikelyTurn {
    LikelyTurn {
        command: TurnCommand {
            start_s: intent.starts_in_s.max(0.0),
            by_rad: intent.by_rad,
            rate_rad_s: intent.rate_rad_s,
        },
        doubt: intent.doubt,
    }
}

/// Median of the whole turn given that it goes at least so far.
fn median_given(at_least_rad: f64, usual_rad: f64) -> f64 {
    let x = (at_least_rad / usual_rad).max(1e-6);
    let below = 1.0 / (1.0 + (-x.ln() / SIZE_LOG_SCALE).exp());
    let u = below + 0.5 * (1.0 - below);
    usual_rad * super::profile::log_logistic_quantile(u.min(1.0 - 1e-9), SIZE_LOG_SCALE)
}
