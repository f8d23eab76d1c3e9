//! For each quantity, makes one believed value from the last values of its sources.

use super::boat::Vessel;
use super::corrections::CORRECTED;
use super::now::{ApparentWind, Grade, Reading, TrueWind, VesselNow};
use super::samples::{Course, STUCK_AFTER_S, WindFault, WindSample, WorkedOutWind};
use super::source::{Channel, Fitness, Source, Trust};
use super::wind::{Motion, apparent_wind, true_wind};
use crate::angles::wrap_positive;
use crate::decode::HeadingObservation;
use crate::doubt::Instrument;
use crate::time::Millis;

/// Source number of a course that stands in for the heading; no real source has it.
const STAND_IN: u32 = u32::MAX;

/// A log that reads exactly zero while the boat makes at least this speed over ground is stuck.
const STUCK_LOG_GROUND_MPS: f64 = 1.5;

/// While a wind sensor reads 0.0, a worked-out wind from which less apparent wind than this follows
/// is taken to come from that 0.0.
const WORKED_FROM_ZERO_MPS: f64 = 0.5;

impl<T> Reading<T> {
    /// Whether what was measured over the ground stands in for heading or log, which are not live.
    #[must_use]
    pub fn is_stand_in(&self) -> bool {
        [", course over ground ", ", speed over ground "]
            .iter()
            .any(|words| self.source.contains(words))
    }
}

impl Vessel {
    /// The boat at this moment.
    #[must_use]
    pub fn now(&self, at: Millis) -> VesselNow {
        let heading = self.believed_heading(at).map(|(_, heading)| heading);
        let motion = heading.as_ref().and_then(|h| self.motion(at, h));
        let apparent = self
            .believed_wind(at, heading.as_ref(), motion.as_ref())
            .map(|(_, apparent)| apparent);
        let true_wind =
            self.work_out_true_wind(apparent.as_ref(), heading.as_ref(), motion.as_ref());
        let speed_water = self.speed_water(at);
        let mut missing = Vec::new();
        if apparent.is_none() {
            missing.push(self.missing_wind(at));
        }
        if heading.is_none() {
            missing.push(self.missing_heading(at));
        }
        if speed_water.is_none() {
            missing.push(self.missing_speed(at));
        }
        self.name_ignored(at, &mut missing);
        VesselNow {
            at,
            sources: self.sources(at),
            rate_of_turn_rad_s: self.believed_rate_of_turn(at),
            speed_ground_mps: plain(&self.speed_ground, at),
            course_true_rad: self.course_true(at),
            position: plain(&self.position, at),
            rudder_rad: plain(&self.rudder, at),
            wind_statistics: self.wind_record.statistics(at),
            hull_motion: self.hull.now(at),
            variation_rad: self.believed_variation(at),
            heading_true_rad: heading,
            speed_water_mps: speed_water,
            apparent_wind: apparent,
            true_wind,
            doubts: self.doubted(at, &missing),
            missing,
        }
    }

    /// The same reading, saying so where what was sent is corrected.
    fn as_corrected<S, T>(
        &self,
        instrument: Instrument,
        source: &Source<S>,
        mut reading: Reading<T>,
    ) -> Reading<T> {
        let heard_since = self.corrected_since.is_none_or(|since| source.at >= since);
        if heard_since && self.corrections.touch(instrument, source.talker()) {
            reading.source.push_str(CORRECTED);
        }
        reading
    }

    /// Variation: from the network, else from the magnetic model, else from the settings.
    fn believed_variation(&self, at: Millis) -> Option<Reading<f64>> {
        let heard = plain(&self.variation, at);
        if let Some(heard) = heard.clone().filter(|heard| heard.grade > Grade::Doubted) {
            return Some(heard);
        }
        if let Some((model, answer)) = self
            .model
            .as_ref()
            .and_then(|model| Some((model, model.answer?)))
        {
            let place = self.position.pick(at).filter(|_| !model.from_settings);
            let mut source = String::from("World Magnetic Model at ");
            match place {
                Some(position) => source.push_str(&format!("the position of {}", position.name())),
                None if model.from_settings => source.push_str("the position of the settings"),
                None => source.push_str("the last position heard"),
            }
            if answer.beyond_model {
                source.push_str(", for the nearest day that it covers (2020 to 2029)");
            }
            return Some(Reading {
                value: answer.east_rad,
                at: place.map_or(at, |position| position.at),
                source,
                grade: Grade::Assumed,
            });
        }
        let set = self.settings.variation_rad.map(|value| Reading {
            value,
            at,
            source: String::from("variation of the settings"),
            grade: Grade::Assumed,
        });
        set.or(heard)
    }

    /// The same without words; 0 where none is known.
    pub(super) fn variation_rad(&self, at: Millis) -> f64 {
        let heard = self
            .variation
            .pick(at)
            .filter(|source| source.trust == Trust::Full)
            .map(|source| source.value);
        heard
            .or_else(|| Some(self.model?.answer?.east_rad))
            .or(self.settings.variation_rad)
            .unwrap_or(0.0)
    }

    /// Turns a magnetic direction true. Variation belongs to the place and hardly changes, so its
    /// age does not make the direction older; where it came from is said in words.
    fn made_true(&self, at: Millis, magnetic: Reading<f64>) -> Reading<f64> {
        let (east_rad, how, grade) = match self.believed_variation(at) {
            Some(v) => (
                v.value,
                format!("variation from {}", v.source),
                match v.grade {
                    Grade::Doubted => v.grade,
                    Grade::Assumed | Grade::Calibrated | Grade::Measured => magnetic.grade,
                },
            ),
            None => (
                0.0,
                String::from("variation unknown, taken as zero"),
                Grade::Assumed,
            ),
        };
        Reading {
            value: wrap_positive(magnetic.value + east_rad),
            at: magnetic.at,
            source: format!("{}, {how}", magnetic.source),
            grade,
        }
    }

    /// True heading and the number of its source.
    pub(super) fn believed_heading(&self, at: Millis) -> Option<(u32, Reading<f64>)> {
        let picked = self.heading.pick(at);
        let stale = |s: &Source<_>| self.heading.is_stale(s.at, at);
        // A course that lives is better than a heading that has gone stale or is in the wrong.
        if picked.is_none_or(|s| stale(s) || s.trust >= Trust::Aside)
            && let Some(course) = self.course_for_heading(at)
        {
            return Some((STAND_IN, course));
        }
        let source = picked?;
        let reading = |value_rad: f64| {
            let reading = reading(&self.heading, source, at, wrap_positive(value_rad));
            self.as_corrected(Instrument::Heading, source, reading)
        };
        let heading = match source.value {
            HeadingObservation::True { heading } => reading(crate::units::in_radians(heading)),
            HeadingObservation::Magnetic { heading } => {
                self.made_true(at, reading(crate::units::in_radians(heading)))
            }
            HeadingObservation::Compass {
                sensor,
                deviation,
                variation,
            } => {
                let sensor_rad = crate::units::in_radians(sensor);
                let mut magnetic =
                    reading(sensor_rad + deviation.map_or(0.0, crate::units::in_radians));
                if deviation.is_none() {
                    magnetic.source.push_str(", no deviation given");
                }
                match variation {
                    // The compass's own variation comes before any other's.
                    Some(east) => Reading {
                        value: wrap_positive(magnetic.value + crate::units::in_radians(east)),
                        ..magnetic
                    },
                    None => self.made_true(at, magnetic),
                }
            }
        };
        Some((source.id, heading))
    }

    /// The course over ground as heading: only while it lives and the boat has way on.
    fn course_for_heading(&self, at: Millis) -> Option<Reading<f64>> {
        let course = self
            .course_true(at)
            .filter(|c| !self.course.is_stale(c.at, at) && c.grade > Grade::Doubted)?;
        let speed = plain(&self.speed_ground, at)
            .filter(|s| s.value >= self.settings.way_on_mps)
            .filter(|s| !self.speed_ground.is_stale(s.at, at))?;
        Some(Reading {
            at: course.at.min(speed.at),
            source: format!("{}, course over ground instead of a heading", course.source),
            ..course
        })
    }

    pub(super) fn course_true(&self, at: Millis) -> Option<Reading<f64>> {
        let source = self.course.pick(at)?;
        Some(match source.value {
            Course::True(value) => reading(&self.course, source, at, value),
            Course::Magnetic(value) => self.made_true(at, reading(&self.course, source, at, value)),
        })
    }

    /// The rate of turn that is sent, else the one that the headings show.
    fn believed_rate_of_turn(&self, at: Millis) -> Option<Reading<f64>> {
        let sent = self.rate_of_turn.pick(at).map(|source| {
            let reading = reading(&self.rate_of_turn, source, at, source.value);
            self.as_corrected(Instrument::RateOfTurn, source, reading)
        });
        if sent
            .as_ref()
            .is_some_and(|sent| sent.grade > Grade::Doubted)
        {
            return sent;
        }
        self.rate_by_headings(at).or(sent)
    }

    fn rate_by_headings(&self, at: Millis) -> Option<Reading<f64>> {
        let (value, oldest, newest) = self.headings.rate()?;
        let (_, heading) = self.believed_heading(at)?;
        let fresh = !self.heading.is_stale(newest, at);
        fresh.then(|| Reading {
            value,
            at: oldest,
            source: format!("from headings of {}", heading.source),
            grade: heading.grade,
        })
    }

    /// The log's sample, unless it is stuck at zero under way, or in the wrong while there is a speed
    /// over ground.
    pub(super) fn live_log(&self, at: Millis) -> Option<&Source<super::samples::LogSample>> {
        self.log
            .pick(at)
            .filter(|log| !self.is_stuck(log, at) && !self.is_wrong(log, at))
    }

    fn is_wrong(&self, log: &Source<super::samples::LogSample>, at: Millis) -> bool {
        log.trust >= Trust::Aside && self.speed_ground.pick(at).is_some()
    }

    fn is_stuck(&self, log: &Source<super::samples::LogSample>, at: Millis) -> bool {
        let long_zero = log
            .value
            .zero_since
            .is_some_and(|since| at.seconds_since(since) >= STUCK_AFTER_S);
        long_zero
            && self
                .speed_ground
                .pick(at)
                .is_some_and(|ground| ground.value >= STUCK_LOG_GROUND_MPS)
    }

    /// Why the speed over ground stands in for the log.
    fn instead_of_log(&self, at: Millis) -> &'static str {
        let log = self.log.pick(at);
        if log.is_some_and(|log| self.is_stuck(log, at)) {
            "speed over ground because the log reads 0.0 under way"
        } else if log.is_some_and(|log| self.is_wrong(log, at)) {
            "speed over ground because the log is in doubt"
        } else {
            "speed over ground instead of a log"
        }
    }

    fn speed_water(&self, at: Millis) -> Option<Reading<f64>> {
        if let Some(log) = self.live_log(at) {
            let reading = reading(&self.log, log, at, log.value.ahead_mps);
            return Some(self.as_corrected(Instrument::Log, log, reading));
        }
        plain(&self.speed_ground, at).map(|ground| Reading {
            source: format!("{}, {}", ground.source, self.instead_of_log(at)),
            ..ground
        })
    }

    /// How the boat moves: through the water if there is a log, else over the ground.
    pub(super) fn motion(&self, at: Millis, heading: &Reading<f64>) -> Option<Reading<Motion>> {
        if let Some(log) = self.live_log(at) {
            let motion = Motion::from_axes(
                heading.value,
                log.value.ahead_mps,
                log.value.starboard_mps.unwrap_or(0.0),
            );
            return Some(Reading {
                at: log.at.min(heading.at),
                ..self.as_corrected(Instrument::Log, log, reading(&self.log, log, at, motion))
            });
        }
        let speed = plain(&self.speed_ground, at)?;
        let why = self.instead_of_log(at);
        let (toward_rad, at, source) = match self.course_true(at) {
            Some(course) => (
                course.value,
                course.at.min(speed.at),
                format!("{}, {why}, so over the ground", speed.source),
            ),
            None => (
                heading.value,
                heading.at.min(speed.at),
                format!("{}, {why}, along the heading", speed.source),
            ),
        };
        Some(Reading {
            value: Motion {
                toward_rad,
                speed_mps: speed.value,
            },
            at,
            source,
            grade: speed.grade,
        })
    }

    /// Apparent wind: measured, else worked back from a wind that an instrument has worked out.
    /// Also gives the moment at which the wind itself arrived.
    pub(super) fn believed_wind(
        &self,
        at: Millis,
        heading: Option<&Reading<f64>>,
        motion: Option<&Reading<Motion>>,
    ) -> Option<(Millis, Reading<ApparentWind>)> {
        let measured = self.wind.pick(at);
        let sound = |s: &&Source<_>| !self.wind.is_stale(s.at, at) && s.trust < Trust::Aside;
        if let Some(source) = measured.filter(sound) {
            return Some((source.at, self.measured_wind(source, at)));
        }
        let worked_back = || {
            let source = self
                .worked_out_wind
                .pick(at)
                .filter(|source| !self.is_from_useless(source, at))?;
            // Of two stale winds the one that the boat feels is held.
            if measured.is_some() && self.worked_out_wind.is_stale(source.at, at) {
                return None;
            }
            let (heading, motion) = (heading?, motion?);
            let wind = match source.value.wind {
                WorkedOutWind::Relative {
                    angle_rad,
                    speed_mps,
                } => TrueWind {
                    from_rad: wrap_positive(heading.value + angle_rad),
                    speed_mps,
                },
                WorkedOutWind::True {
                    from_rad,
                    speed_mps,
                } => TrueWind {
                    from_rad,
                    speed_mps,
                },
                WorkedOutWind::Magnetic {
                    from_rad,
                    speed_mps,
                } => TrueWind {
                    from_rad: wrap_positive(
                        from_rad + self.believed_variation(at).map_or(0.0, |v| v.value),
                    ),
                    speed_mps,
                },
            };
            let value = apparent_wind(wind, heading.value, motion.value);
            let zero = |(_, fault)| fault == WindFault::Zero;
            if value.speed_mps < WORKED_FROM_ZERO_MPS && self.faulty_wind(at).is_some_and(zero) {
                return None;
            }
            let mut back = reading(&self.worked_out_wind, source, at, value);
            back.source
                .push_str(", apparent wind worked back from its true wind");
            back.at = back.at.min(heading.at).min(motion.at);
            Some((source.at, back))
        };
        worked_back()
            .or_else(|| self.held_wind(at, measured?, heading?, motion?))
            .or_else(|| measured.map(|s| (s.at, self.measured_wind(s, at))))
    }

    /// The wind of before a sensor went wrong.
    fn held_wind(
        &self,
        at: Millis,
        source: &Source<WindSample>,
        heading: &Reading<f64>,
        motion: &Reading<Motion>,
    ) -> Option<(Millis, Reading<ApparentWind>)> {
        let wind = self.wind_before(source)?;
        let value = apparent_wind(wind, heading.value, motion.value);
        let mut held = reading(&self.wind, source, at, value);
        held.source
            .push_str(" is in doubt: the true wind of before is held");
        Some((source.at, held))
    }

    fn measured_wind(&self, source: &Source<WindSample>, at: Millis) -> Reading<ApparentWind> {
        let value = ApparentWind {
            angle_rad: wrap_positive(source.value.angle_rad),
            speed_mps: source.value.speed_mps,
        };
        let reading = reading(&self.wind, source, at, value);
        self.as_corrected(Instrument::Wind, source, reading)
    }

    /// True wind from the believed apparent wind, heading and motion.
    pub(super) fn work_out_true_wind(
        &self,
        apparent: Option<&Reading<ApparentWind>>,
        heading: Option<&Reading<f64>>,
        motion: Option<&Reading<Motion>>,
    ) -> Option<Reading<TrueWind>> {
        let (apparent, heading, motion) = (apparent?, heading?, motion?);
        Some(Reading {
            value: true_wind(apparent.value, heading.value, motion.value)?,
            at: apparent.at.min(heading.at).min(motion.at),
            source: format!(
                "wind {}; heading {}; motion {}",
                apparent.source, heading.source, motion.source
            ),
            grade: apparent.grade.min(heading.grade).min(motion.grade),
        })
    }
}

/// A reading of one source. It says so if it is stale and held only because there is no better one.
fn reading<S: Fitness, T>(
    channel: &Channel<S>,
    source: &Source<S>,
    now: Millis,
    value: T,
) -> Reading<T> {
    let mut name = source.name();
    if channel.is_stale(source.at, now) {
        name.push_str(", silent now");
    }
    Reading {
        value,
        at: source.at,
        source: name,
        grade: match source.trust {
            Trust::Full => Grade::Measured,
            Trust::Marked | Trust::Aside | Trust::Ignored => Grade::Doubted,
        },
    }
}

fn plain<T: Fitness + Copy>(channel: &Channel<T>, now: Millis) -> Option<Reading<T>> {
    channel
        .pick(now)
        .map(|source| reading(channel, source, now, source.value))
}
