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

/// A told turn that begins within this time may be the one that the bow begins.
const ABOUT_NOW_S: f64 = 10.0;

/// A turn of which hardly more than this can be left is over.
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
        self.yaw.follow(vessel, &self.foretold(at), &settings);
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
        let turning = self.yaw.turning.map(|turn| turn.turned_rad.signum());
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

    /// Sides to which a turn is told for about now, + 1 is starboard.
    fn foretold(&self, at: Millis) -> Vec<f64> {
        let Some((then, told)) = &self.told else {
            return Vec::new();
        };
        let about_now = |intent: &&Intent| {
            let starts = then.plus_seconds(intent.starts_in_s);
            intent.source != TurnSource::UnderWay && starts.seconds_since(at) < ABOUT_NOW_S
        };
        let sides = told.iter().filter(about_now);
        sides.map(|intent| intent.by_rad.signum()).collect()
    }

    fn under_way(&self, at: Millis) -> Option<Intent> {
        let turning = self
            .yaw
            .turning
            .filter(|_| !self.crew.steadies(&self.yaw))?;
        let left = self.yaw.left_rad(&turning, &self.settings);
        let (median, most) = (left[left.len() / 2], left[left.len() - 3]);
        if most < LEAST_LEFT_RAD {
            return None;
        }
        let why = if turning.ending {
            "seen under way, steadying"
        } else {
            "seen under way; how far it goes nobody has said"
        };
        Some(Intent {
            source: TurnSource::UnderWay,
            starts_in_s: turning.begun.seconds_since(at),
            by_rad: median.copysign(turning.turned_rad),
            rate_rad_s: self.yaw.commanded_rate_rad_s(at, &self.settings),
            doubt: TurnDoubt {
                chance: 1.0,
                start_sd_s: 0.0,
                extent: Extent::Open(left),
                rate_sd_share: 0.25,
            },
            why: why.to_owned(),
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
