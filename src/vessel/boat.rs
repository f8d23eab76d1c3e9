//! Takes observations in and keeps the last value of every source.

use chrono::{NaiveDate, Timelike};

use super::corrections::Corrections;
use super::heard_marks::Here;
use super::hull_motion::HullRecord;
use super::now::Grade;
use super::samples::{
    Course, LogSample, WindSample, WorkedOutSample, WorkedOutWind, true_heading_rad,
};
use super::sender::Sender;
use super::settings::VesselSettings;
use super::source::{Ages, Channel};
use super::statistics::WindRecord;
use super::turn_rate::TurnRate;
use super::unusable::{Unusable, UnusableSaid};
use super::variation::{ModelVariation, is_model_year, model_variation};
use crate::decode::{HeadingObservation, Observation};
use crate::doubt::{Doubts, Instrument, REPEATS};
use crate::geodesy::Position;
use crate::time::Millis;
use crate::units::{in_metres, in_metres_per_second, in_radians, in_radians_per_second};

/// Follows the boat's instruments.
#[derive(Debug, Clone)]
pub struct Vessel {
    pub(super) settings: VesselSettings,
    pub(super) wind: Channel<WindSample>,
    pub(super) worked_out_wind: Channel<WorkedOutSample>,
    pub(super) heading: Channel<HeadingObservation>,
    pub(super) log: Channel<LogSample>,
    pub(super) speed_ground: Channel<f64>,
    pub(super) course: Channel<Course>,
    pub(super) position: Channel<Position>,
    pub(super) rate_of_turn: Channel<f64>,
    pub(super) rudder: Channel<f64>,
    pub(super) variation: Channel<f64>,
    /// Seconds of the day as receivers send them.
    pub(super) clock: Channel<f64>,
    pub(super) doubts: Doubts,
    /// Names of the sources that the crew does not want.
    pub(super) ignored: Vec<String>,
    /// Feed, address and talker of every sender, in the order in which they were heard.
    senders: Vec<(String, Option<String>, String)>,
    pub(super) headings: TurnRate,
    pub(super) wind_record: WindRecord,
    pub(super) hull: HullRecord,
    pub(super) model: Option<Model>,
    /// The last wind without angle or speed, in words: what it has and what it lacks.
    pub(super) half_wind: Option<(Millis, String)>,
    /// Sentences that came and said nothing.
    pub(super) unusable: UnusableSaid,
    /// What the crew corrects, and since when it is as it is.
    pub(super) corrections: Corrections,
    pub(super) corrected_since: Option<Millis>,
    date: Option<NaiveDate>,
    latest: Option<Millis>,
}

/// The magnetic model's answer and what it was asked.
#[derive(Debug, Clone, Copy)]
pub(super) struct Model {
    pub place: Position,
    day: NaiveDate,
    /// Whether the place is that of the settings.
    pub from_settings: bool,
    pub answer: Option<ModelVariation>,
}

/// The arrival clock may be set back by this much without our forgetting everything.
const CLOCK_SLACK_S: f64 = 1.0;

/// More senders than any boat has.
const MOST_SENDERS: usize = 64;

/// A move smaller than this in latitude and in longitude, degrees, changes the variation too little
/// to ask the model again.
const MODEL_STEP_DEG: f64 = 0.05;

impl Vessel {
    /// Knows nothing yet.
    #[must_use]
    pub fn new(settings: VesselSettings) -> Self {
        let stale = settings.stale;
        let ages = |stale_s: f64, lost_s: f64| Ages {
            stale_s,
            lost_s: lost_s.max(stale_s),
            settle_s: settings.settle_s,
        };
        let lost_s = settings.lost_s;
        let order = &settings.order;
        Self {
            wind: Channel::new(&order.wind, ages(stale.wind_s, lost_s)),
            worked_out_wind: Channel::new(&order.wind, ages(stale.wind_s, lost_s)),
            heading: Channel::new(&order.heading, ages(stale.heading_s, lost_s)),
            log: Channel::new(&order.speed_water, ages(stale.speed_s, lost_s)),
            speed_ground: Channel::new(&order.speed_ground, ages(stale.speed_s, lost_s)),
            course: Channel::new(&order.speed_ground, ages(stale.speed_s, lost_s)),
            position: Channel::new(&order.position, ages(stale.position_s, lost_s)),
            // What the helm does this moment is never held over.
            rate_of_turn: Channel::new(&order.rate_of_turn, ages(stale.rate_of_turn_s, 0.0)),
            rudder: Channel::new(&order.rudder, ages(stale.rudder_s, 0.0)),
            variation: Channel::new(&order.variation, ages(stale.variation_s, lost_s)),
            clock: Channel::new(&order.position, ages(stale.position_s, lost_s)),
            doubts: Doubts::default(),
            ignored: Vec::new(),
            senders: Vec::new(),
            headings: TurnRate::default(),
            wind_record: WindRecord::new(settings.wind_window_s),
            hull: HullRecord::default(),
            model: None,
            half_wind: None,
            unusable: UnusableSaid::default(),
            corrections: Corrections::default(),
            corrected_since: None,
            date: None,
            latest: None,
            settings,
        }
    }

    /// Takes in one observation with the moment it arrived and who sent it. Moments must not run
    /// back: when the clock is set back, everything known is forgotten rather than left to look
    /// fresh for hours.
    pub fn observe(&mut self, at: Millis, sender: Sender<'_>, observation: &Observation) {
        self.follow_clock(at);
        let corrected = self.corrections.corrected(sender.talker, observation);
        match corrected.as_ref().unwrap_or(observation) {
            Observation::ApparentWind { angle, speed } => {
                let speed_mps = speed.map(in_metres_per_second);
                self.hear_apparent_wind(at, sender, angle.map(in_radians), speed_mps);
            }
            Observation::TheoreticalWind { angle, speed } => {
                let wind =
                    WorkedOutWind::from_bow(angle.map(in_radians), speed.map(in_metres_per_second));
                self.hear_worked_out_wind(at, sender, wind);
            }
            Observation::WindDirection {
                direction_true,
                direction_magnetic,
                speed,
            } => {
                let wind = WorkedOutWind::from_north(
                    direction_true.map(in_radians),
                    direction_magnetic.map(in_radians),
                    speed.map(in_metres_per_second),
                );
                self.hear_worked_out_wind(at, sender, wind);
            }
            Observation::Heading(heading) => self.hear_heading(at, sender, *heading),
            Observation::Variation(east) => self.hear_variation(at, sender, in_radians(*east)),
            Observation::WaterSpeed {
                longitudinal,
                transverse,
            } => {
                let ahead_mps = in_metres_per_second(*longitudinal);
                self.hear_log(at, sender, ahead_mps, transverse.map(in_metres_per_second));
            }
            Observation::CourseOverGround {
                true_north,
                magnetic,
            } => {
                let (true_rad, magnetic_rad) =
                    (true_north.map(in_radians), magnetic.map(in_radians));
                self.hear_course(at, sender, Course::from_north(true_rad, magnetic_rad));
            }
            Observation::SpeedOverGround(speed) => {
                self.hear_speed_ground(at, sender, 0, in_metres_per_second(*speed));
            }
            Observation::GroundSpeedAxes {
                longitudinal,
                transverse,
            } => {
                let ahead_mps = in_metres_per_second(*longitudinal);
                let across_mps = transverse.map_or(0.0, in_metres_per_second);
                self.hear_speed_ground(at, sender, 1, ahead_mps.hypot(across_mps));
            }
            Observation::Position(place) => {
                self.hear_position(at, sender, Position::from(*place));
            }
            Observation::RateOfTurn(rate) => {
                self.hear_rate_of_turn(at, sender, in_radians_per_second(*rate));
            }
            Observation::Rudder(angle) => {
                self.rudder.hear(at, sender, 0, 0, |_| in_radians(*angle));
            }
            Observation::HullMotion { heave, pitch, roll } => {
                self.hull.hear(
                    at,
                    heave.map(in_metres),
                    pitch.map(in_radians),
                    roll.map(in_radians),
                );
            }
            Observation::Utc { date, time } => {
                self.hear_date(*date);
                self.hear_clock(at, sender, f64::from(time.num_seconds_from_midnight()));
            }
            // These belong to other rooms.
            Observation::HeadingToSteer { .. }
            | Observation::SteeringControl(_)
            | Observation::Autopilot(_)
            | Observation::LegToWaypoint(_)
            | Observation::BearingToWaypoint(_)
            | Observation::LegBearing(_)
            | Observation::CrossTrack(_)
            | Observation::Waypoint { .. }
            | Observation::Target(_)
            | Observation::PersonInWater(_)
            | Observation::Route(_)
            | Observation::Depth { .. }
            | Observation::WaterTemperature(_)
            | Observation::Crew { .. } => {}
        }
        self.refresh_model(at);
    }

    /// What is heard from now on is corrected like this.
    pub fn correct(&mut self, at: Millis, corrections: Corrections) {
        if self.corrections != corrections {
            self.corrections = corrections;
            self.corrected_since = Some(at);
            self.doubts.forget_habits();
        }
    }

    /// A sentence that came and said nothing that can be used. It keeps no value alive, but is
    /// mentioned when the quantity is missing.
    pub fn unusable(&mut self, at: Millis, feed: &str, address: &str, why: Unusable) {
        self.follow_clock(at);
        self.unusable.note(at, feed, address, why);
    }

    /// Where the boat is and which way it points: cheap, for what is told relative to it.
    #[must_use]
    pub fn here(&self, at: Millis) -> Here {
        Here {
            position: self.position.pick(at).map(|place| place.value),
            heading_rad: self.believed_heading(at).map(|(_, heading)| heading.value),
        }
    }

    fn follow_clock(&mut self, at: Millis) {
        if self
            .latest
            .is_some_and(|latest| latest.seconds_since(at) > CLOCK_SLACK_S)
        {
            *self = Self {
                ignored: std::mem::take(&mut self.ignored),
                corrections: self.corrections,
                ..Self::new(self.settings.clone())
            };
        }
        self.latest = Some(self.latest.map_or(at, |latest| latest.max(at)));
        // A source that the crew ignores may have come back.
        if self.doubts.follow(at) || !self.ignored.is_empty() {
            self.distrust();
        }
    }

    fn hear_apparent_wind(
        &mut self,
        at: Millis,
        sender: Sender<'_>,
        angle_rad: Option<f64>,
        speed_mps: Option<f64>,
    ) {
        let (Some(angle_rad), Some(speed_mps)) = (angle_rad, speed_mps) else {
            let (has, lacks) = if angle_rad.is_some() {
                ("angle", "speed")
            } else {
                ("speed", "angle")
            };
            let name = format!("{} {}{}", sender.feed, sender.talker, sender.kind);
            self.half_wind = Some((at, format!("{name} gives wind {has} but no {lacks}")));
            return;
        };
        let under_way = self.under_way(at);
        let from = self.number_of(sender);
        let frozen_after_s = self.settings.wind_frozen_s;
        let id = self
            .wind
            .hear(at, sender, 0, wind_preference(sender.kind), |last| {
                WindSample::next(last, at, (angle_rad, speed_mps), under_way, frozen_after_s)
            });
        self.doubts
            .hear(at, Instrument::Wind, (id, from), (angle_rad, speed_mps));
        self.follow_wind(at);
    }

    /// Half a worked-out wind (`None`) helps nobody.
    fn hear_worked_out_wind(
        &mut self,
        at: Millis,
        sender: Sender<'_>,
        wind: Option<WorkedOutWind>,
    ) {
        let Some(wind) = wind else {
            return;
        };
        self.worked_out_wind
            .hear(at, sender, 0, wind_preference(sender.kind), |last| {
                WorkedOutSample::next(last, at, wind)
            });
        self.follow_wind(at);
    }

    /// Whether log or speed over ground say that the boat has way on.
    fn under_way(&self, at: Millis) -> bool {
        let way_on_mps = self.settings.way_on_mps;
        let by_log = self
            .log
            .pick(at)
            .is_some_and(|log| log.value.ahead_mps.abs() >= way_on_mps);
        by_log
            || self
                .speed_ground
                .pick(at)
                .is_some_and(|ground| ground.value >= way_on_mps)
    }

    fn hear_heading(&mut self, at: Millis, sender: Sender<'_>, heading: HeadingObservation) {
        // Two compasses can share one address, one with variation in its sentences and one
        // without: they are two sources.
        let (variant, reference) = match heading {
            HeadingObservation::True { .. } => (0, 0),
            HeadingObservation::Magnetic { .. } => (1, 2),
            HeadingObservation::Compass {
                variation: Some(_), ..
            } => (2, 1),
            HeadingObservation::Compass {
                variation: None, ..
            } => (3, 3),
        };
        // A log repeats the heading of a compass, often rounded.
        let second_hand = if sender.kind == "VHW" { 10 } else { 0 };
        let from = match second_hand {
            0 => self.number_of(sender),
            _ => REPEATS,
        };
        let id = self
            .heading
            .hear(at, sender, variant, reference + second_hand, |_| heading);
        let true_rad = true_heading_rad(heading, self.variation_rad(at));
        self.doubts
            .hear(at, Instrument::Heading, (id, from), (true_rad, 0.0));
        self.follow_heading(at);
    }

    fn hear_course(&mut self, at: Millis, sender: Sender<'_>, course: Option<Course>) {
        if let Some(course) = course {
            let from = self.number_of(sender);
            let id = self.course.hear(at, sender, 0, 0, |_| course);
            let true_rad = match course {
                Course::True(true_rad) => true_rad,
                Course::Magnetic(magnetic_rad) => magnetic_rad + self.variation_rad(at),
            };
            self.doubts
                .hear(at, Instrument::Course, (id, from), (true_rad, 0.0));
            self.follow_heading(at);
        }
    }

    fn hear_log(
        &mut self,
        at: Millis,
        sender: Sender<'_>,
        ahead_mps: f64,
        starboard_mps: Option<f64>,
    ) {
        let from = self.number_of(sender);
        let id = self.log.hear(at, sender, 0, 0, |last| {
            LogSample::next(last, at, ahead_mps, starboard_mps)
        });
        self.doubts
            .hear(at, Instrument::Log, (id, from), (0.0, ahead_mps));
    }

    fn hear_position(&mut self, at: Millis, sender: Sender<'_>, place: Position) {
        let from = self.number_of(sender);
        let id = self.position.hear(at, sender, 0, 0, |_| place);
        let said = (
            place.latitude_deg.to_radians(),
            place.longitude_deg.to_radians(),
        );
        self.doubts.hear(at, Instrument::Position, (id, from), said);
    }

    fn hear_rate_of_turn(&mut self, at: Millis, sender: Sender<'_>, rate_rad_s: f64) {
        let from = self.number_of(sender);
        let id = self.rate_of_turn.hear(at, sender, 0, 0, |_| rate_rad_s);
        self.doubts
            .hear(at, Instrument::RateOfTurn, (id, from), (0.0, rate_rad_s));
    }

    fn hear_clock(&mut self, at: Millis, sender: Sender<'_>, of_day_s: f64) {
        let from = self.number_of(sender);
        let id = self.clock.hear(at, sender, 0, 0, |_| of_day_s);
        self.doubts
            .hear(at, Instrument::Clock, (id, from), (0.0, of_day_s));
    }

    fn hear_speed_ground(
        &mut self,
        at: Millis,
        sender: Sender<'_>,
        preference: u8,
        speed_mps: f64,
    ) {
        let from = self.number_of(sender);
        let id = self
            .speed_ground
            .hear(at, sender, 0, preference, |_| speed_mps);
        self.doubts
            .hear(at, Instrument::GroundSpeed, (id, from), (0.0, speed_mps));
    }

    fn hear_variation(&mut self, at: Millis, sender: Sender<'_>, east_rad: f64) {
        let from = self.number_of(sender);
        let id = self.variation.hear(at, sender, 0, 0, |_| east_rad);
        let by_model = self.model.and_then(|model| model.answer);
        let model_rad = by_model.map_or(f64::NAN, |answer| answer.east_rad);
        self.doubts
            .hear(at, Instrument::Variation, (id, from), (east_rad, model_rad));
    }

    /// Number of a sender for the doubts: one instrument, or one network behind one talker.
    fn number_of(&mut self, sender: Sender<'_>) -> u32 {
        let own = |(feed, origin, talker): &(String, Option<String>, String)| {
            feed == sender.feed && origin.as_deref() == sender.origin && talker == sender.talker
        };
        let place = self.senders.iter().position(own).or_else(|| {
            let room = self.senders.len() < MOST_SENDERS;
            room.then(|| {
                self.senders.push((
                    sender.feed.to_owned(),
                    sender.origin.map(str::to_owned),
                    sender.talker.to_owned(),
                ));
                self.senders.len() - 1
            })
        });
        // Beyond the bound all are taken to repeat others.
        place.map_or(REPEATS, |place| place as u32 + REPEATS + 1)
    }

    fn hear_date(&mut self, date: Option<NaiveDate>) {
        if let Some(day) = date.filter(|day| is_model_year(*day)) {
            self.date = Some(day);
        }
    }

    /// Adds the heading to the run it belongs to, if it came from the believed source just now.
    fn follow_heading(&mut self, at: Millis) {
        if let Some((source, heading)) = self.believed_heading(at)
            && heading.at == at
        {
            self.headings.push(at, source, heading.value);
        }
    }

    /// Adds the true wind to the record, if it came from the believed source just now.
    fn follow_wind(&mut self, at: Millis) {
        let heading = self.believed_heading(at).map(|(_, heading)| heading);
        let motion = heading.as_ref().and_then(|h| self.motion(at, h));
        let Some((arrived, apparent)) = self.believed_wind(at, heading.as_ref(), motion.as_ref())
        else {
            return;
        };
        if arrived == at
            && let Some(wind) =
                self.work_out_true_wind(Some(&apparent), heading.as_ref(), motion.as_ref())
            && wind.grade > Grade::Doubted
        {
            self.wind_record.push(at, wind.value);
        }
    }

    /// Asks the magnetic model anew when place or day have changed enough.
    fn refresh_model(&mut self, at: Millis) {
        let heard = self.position.pick(at).map(|source| source.value);
        let Some(place) = heard.or(self.settings.position) else {
            return;
        };
        // The day as the network says it, else as the arrival clock does.
        let Some(day) = self.date.or_else(|| Some(at.to_utc()?.date_naive())) else {
            return;
        };
        let same = self.model.is_some_and(|model| {
            model.day == day
                && model.from_settings == heard.is_none()
                && (model.place.latitude_deg - place.latitude_deg).abs() < MODEL_STEP_DEG
                && (model.place.longitude_deg - place.longitude_deg).abs() < MODEL_STEP_DEG
        });
        if !same {
            self.model = Some(Model {
                place,
                day,
                from_settings: heard.is_none(),
                answer: model_variation(place, day),
            });
        }
    }
}

/// Among sentences that carry the same wind: the finer one first.
fn wind_preference(kind: &str) -> u8 {
    match kind {
        "MWV" => 0,
        "VWR" | "VWT" => 1,
        _ => 2,
    }
}
